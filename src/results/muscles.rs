//! What muscles do over time, and what the elbow bears.

use crate::muscles::{Muscles, Row};
use ndarray::{Array2, s};
use std::ops::Range;

/// Muscles of one arm over time.
#[derive(Clone, Debug)]
pub struct MuscleSeries {
    /// The model.
    pub of: Muscles,
    /// Rows as [`Muscles::row`] has them, SI; one column a frame; missing is NaN.
    pub rows: Array2<f64>,
    /// Weight of the whole body, N.
    pub body_weight_n: f64,
    /// Whether everything that the hand holds hangs: then the elbow is a lever of a class.
    pub all_hang: bool,
}

/// How many N/m² make 1 N/cm².
pub const N_PER_CM2: f64 = 1e4;

impl MuscleSeries {
    /// The frames of a window.
    pub fn windowed(mut self, window: Range<usize>) -> Self {
        self.rows = self.rows.slice(s![.., window]).to_owned();
        self
    }

    /// One row over time, SI.
    pub fn series(&self, row: Row) -> &[f64] {
        let row = self.rows.row(self.of.row(row));
        row.to_slice().expect("a row of results lies in one piece")
    }

    fn at(&self, row: Row, f: usize) -> f64 {
        self.rows[(self.of.row(row), f)]
    }

    /// Number of muscles.
    pub fn count(&self) -> usize {
        self.of.list.len()
    }

    /// Number of frames.
    pub fn frames(&self) -> usize {
        self.rows.ncols()
    }

    /// Force of all muscles added up in a frame, N.
    pub fn force(&self, f: usize) -> f64 {
        (0..self.count()).map(|i| self.at(Row::Force(i), f)).sum()
    }

    /// Stress of a muscle in a frame, N/cm².
    pub fn stress_n_cm2(&self, i: usize, f: usize) -> f64 {
        self.at(Row::Force(i), f) / self.of.list[i].area / N_PER_CM2
    }

    /// What a muscle gives of the net moment in a frame, N·m.
    pub fn moment(&self, i: usize, f: usize) -> f64 {
        self.at(Row::Force(i), f) * self.at(Row::Arm(i), f)
    }

    /// Part of the net flexion moment that a muscle gives in a frame, %.
    pub fn share_percent(&self, i: usize, f: usize) -> f64 {
        let all: f64 = (0..self.count()).map(|i| self.moment(i, f)).sum();
        100.0 * self.moment(i, f) / all
    }

    /// Contact force on the forearm in its own axes in a frame, N.
    pub fn contact_forearm(&self, f: usize) -> [f64; 3] {
        [0, 1, 2].map(|k| self.at(Row::ContactForearm(k), f))
    }

    /// The same in the upper arm's axes, N.
    pub fn contact_humerus(&self, f: usize) -> [f64; 3] {
        [0, 1, 2].map(|k| self.at(Row::ContactHumerus(k), f))
    }

    /// Size of the contact force in a frame, N.
    pub fn contact(&self, f: usize) -> f64 {
        self.contact_forearm(f).iter().map(|x| x * x).sum::<f64>().sqrt()
    }

    /// Compression along the forearm in a frame, N: + presses the joint together, - pulls it apart.
    ///
    /// # Equation
    /// -C · Y_F: the upper arm pushes the forearm away from the elbow.
    pub fn compression(&self, f: usize) -> f64 {
        -self.at(Row::ContactForearm(1), f)
    }

    /// Shear across the forearm in a frame, N: size of what is square to its long axis.
    pub fn shear(&self, f: usize) -> f64 {
        let [x, _, z] = self.contact_forearm(f);
        x.hypot(z)
    }

    /// Moment arm of all muscles at work together: the moment that they give over the sum of their forces, m; missing
    /// where none has to pull.
    pub fn effort_arm(&self, f: usize) -> f64 {
        let moment: f64 = (0..self.count()).map(|i| self.moment(i, f)).sum();
        let arm = moment.abs() / self.force(f);
        if arm > 0.0 { arm } else { f64::NAN }
    }

    /// Lever of everything that the forearm holds at rest, m; + where flexors hold it.
    pub fn load_arm(&self, f: usize) -> f64 {
        self.at(Row::LoadArm, f)
    }

    /// Size of everything that the forearm holds at rest, its own weight and the hand's among it, N.
    pub fn held(&self, f: usize) -> f64 {
        self.at(Row::Held, f)
    }

    /// The elbow as a lever in a frame: class (1, 2, 3) and mechanical advantage (effort arm over load arm); `None` where
    /// motion asks for the other side than the load at rest, or nothing is held.
    pub fn lever(&self, f: usize) -> Option<(Option<u8>, f64)> {
        let (effort, load) = (self.effort_arm(f), self.load_arm(f));
        let moment: f64 = (0..self.count()).map(|i| self.moment(i, f)).sum();
        if !(effort.is_finite() && load.is_finite() && moment * load > 0.0) {
            return None;
        }
        let class = match moment > 0.0 {
            false => 1,
            true if load < effort => 2,
            true => 3,
        };
        Some((self.all_hang.then_some(class), effort / load.abs()))
    }

    /// A value of every frame.
    pub fn over_time(&self, of: impl Fn(usize) -> f64) -> Vec<f64> {
        (0..self.frames()).map(of).collect()
    }
}
