//! Free-body problems of the classroom.

use super::Error;
use crate::statics::problem::Problem;
use crate::statics::{render, worked};

/// A problem, as `armload statics` takes it: a sheet of its own kind.
pub struct StaticProblem(Problem);

/// Its answer.
#[derive(Clone, Debug, PartialEq)]
pub struct StaticAnswer {
    /// Net elbow moment that holds the loads, N·m; + flexes.
    pub elbow_moment_n_m: f64,
    /// Force of the muscle at work, N; `None` without a lever.
    pub muscle_force_n: Option<f64>,
    /// Force on the forearm at the elbow, N: forward and up; `None` without a muscle.
    pub joint_force_n: Option<[f64; 2]>,
    /// The solution step by step, in Markdown.
    pub worked: String,
}

impl StaticProblem {
    /// From a TOML text.
    ///
    /// # Errors
    /// What is missing or can't be, with its place.
    pub fn from_text(text: &str) -> Result<Self, Error> {
        Ok(Self(Problem::from_text(text, "problem.toml")?))
    }

    /// Solves it.
    ///
    /// # Errors
    /// No answer within reach.
    pub fn solve(&self) -> Result<StaticAnswer, Error> {
        let solution = self.0.solve()?;
        let setting = &solution.setting;
        Ok(StaticAnswer {
            elbow_moment_n_m: setting.elbow_moment(),
            muscle_force_n: setting.muscle_force(),
            joint_force_n: setting.joint_force_on_forearm(),
            worked: render::markdown(&worked::write(&self.0, &solution), 1),
        })
    }
}
