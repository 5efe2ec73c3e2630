//! What the pages of a trial share: who and what, phases behind the curves, axes of time.

use super::figure::{Axis, Band, Content, Page, Row};
use super::style::{GUTTER, MARGIN, PAGE_WIDTH, RIGHT_PAD, Tone, Y_LABELS, fixed};
use super::{CAUTIONS, WriteError, draw};
use crate::findings::ArmFindings;
use crate::phases::Phase;
use crate::results::{ArmResults, QUANTITIES, TrialResults};
use crate::sheet::{Cutoff, TrialSheet};
use crate::smoothing::runs;
use std::path::Path;

/// A trial as the pages see it.
#[derive(Clone, Copy)]
pub struct Trial<'a> {
    /// What was asked.
    pub sheet: &'a TrialSheet,
    /// What came out.
    pub results: &'a TrialResults,
    /// What it says.
    pub findings: &'a [ArmFindings],
}

/// The pages of a trial with their file names without ending.
pub fn all(trial: Trial<'_>) -> Vec<(&'static str, Page)> {
    vec![("loading", super::loading::page(trial)), ("motion", super::motion::page(trial)), ("quality", super::quality::page(trial))]
}

/// Draws all pages into a folder, two at a time where the machine can; returns the names of the files.
///
/// # Errors
/// A file that can't be written.
pub fn save(trial: Trial<'_>, dir: &Path, with_svg: bool) -> Result<Vec<String>, WriteError> {
    use rayon::prelude::*;
    let made: Vec<Result<Vec<String>, WriteError>> = all(trial)
        .into_par_iter()
        .map(|(name, page)| {
            let mut files = vec![format!("{name}.png")];
            draw::save_png(&page, &dir.join(&files[0]))?;
            if with_svg {
                files.push(format!("{name}.svg"));
                draw::save_svg(&page, &dir.join(&files[1]))?;
            }
            Ok(files)
        })
        .collect();
    made.into_iter().collect::<Result<Vec<_>, _>>().map(|f| f.concat())
}

impl<'a> Trial<'a> {
    /// Arms with what was found in them.
    pub fn arms(&self) -> impl Iterator<Item = (&'a ArmResults, &'a ArmFindings)> + use<'a> {
        self.results.arms.iter().zip(self.findings)
    }

    /// `right`, or `right and left`.
    pub fn sides(&self) -> String {
        self.results.arms.iter().map(|a| a.side.name()).collect::<Vec<_>>().join(" and ")
    }

    /// Who, with what, how treated: under the heading of every page.
    pub fn about(&self) -> Vec<String> {
        let person = &self.sheet.participant;
        let sex = person.sex.map_or(String::new(), |s| format!(", {}", s.name()));
        let mut lines = vec![format!(
            "{}  ·  participant {} kg{sex}  ·  table {}  ·  {} Hz  ·  {}",
            self.sheet.trial.id,
            fixed(person.body_mass_kg, 1),
            self.sheet.model.table.name,
            fixed(self.results.rate_hz, if self.results.rate_hz.fract() < 1e-6 { 0 } else { 2 }),
            self.cutoff()
        )];
        for arm in &self.results.arms {
            let words: Vec<&str> = arm.loads.iter().map(|(_, words)| words.as_str()).collect();
            let load = if words.is_empty() { "no load".to_owned() } else { words.join("; ") };
            lines.push(format!("{}: {load}", capital(arm.side.name())));
        }
        lines
    }

    /// How the markers were smoothed.
    fn cutoff(&self) -> String {
        match (self.results.smoothing.cutoff_hz, self.sheet.filter.cutoff) {
            (None, _) => "not smoothed".into(),
            (Some(hz), Cutoff::Auto) => format!("low-pass {} Hz, chosen by residual analysis", fixed(hz, 1)),
            (Some(hz), _) => format!("low-pass {} Hz", fixed(hz, 1)),
        }
    }

    /// An axis of time over the window.
    pub fn time_axis(&self) -> Axis {
        Axis::along("time, s", &self.results.time_s)
    }

    /// Lifts, lowers and holds of an arm as bands; none where they are too many to be told apart on a plot of some width.
    pub fn bands(&self, arm: &ArmResults, plot_px: f64) -> Vec<Band> {
        let time = &self.results.time_s;
        let (Some(start), Some(end)) = (time.first(), time.last()) else { return Vec::new() };
        let per_px = (end - start) / plot_px.max(1.0);
        let mut out = Vec::new();
        for (phase, tone, sign) in [(Phase::Lift, Tone::Lift, '↑'), (Phase::Lower, Tone::Lower, '↓'), (Phase::Hold, Tone::Hold, '=')] {
            for run in runs(time.len(), |f| arm.phases.of_frame.get(f) == Some(&phase)) {
                let half = 0.5 / self.results.rate_hz;
                let x = ((time[run.start] - half).max(*start), (time[run.end - 1] + half).min(*end));
                out.push(Band { x, tone, word: phase.name().to_owned(), sign });
            }
        }
        let shaded: f64 = out.iter().map(|b| b.x.1 - b.x.0).sum();
        let mean_px = shaded / out.len().max(1) as f64 / per_px.max(1e-12);
        if mean_px < NARROWEST_BAND {
            out.clear();
        }
        out.sort_by(|a, b| a.x.0.total_cmp(&b.x.0));
        out
    }
}

/// Bands whose mean width is under this can't be told apart, px.
const NARROWEST_BAND: f64 = 7.0;

/// Width of a plot with axes in a row of so many equal cells, px.
pub fn plot_width(cells: usize) -> f64 {
    let n = cells.max(1) as f64;
    (PAGE_WIDTH - 2.0 * MARGIN - GUTTER * (n - 1.0)) / n - Y_LABELS - RIGHT_PAD
}

/// The meaning of a quantity as the results state it, with a capital.
pub fn meaning(row: usize) -> String {
    capital(QUANTITIES[row].meaning)
}

/// With a capital letter at the start.
pub fn capital(text: &str) -> String {
    let mut c = text.chars();
    c.next().map_or(String::new(), |first| first.to_uppercase().chain(c).collect())
}

/// Foot of a page: what is shown, then the cautions.
pub fn foot(statements: impl IntoIterator<Item = String>) -> Vec<String> {
    statements.into_iter().chain([CAUTIONS.to_owned()]).collect()
}

/// Headings over the columns of two arms; nothing for one.
pub fn headings(trial: Trial<'_>) -> Option<Row> {
    let arms = &trial.results.arms;
    (arms.len() > 1).then(|| Row::of(arms.iter().map(|a| Content::Heading(format!("{} arm", capital(a.side.name()))))))
}

/// Values of a series in its unit of output.
pub fn scaled(arm: &ArmResults, row: usize) -> Vec<f64> {
    let scale = QUANTITIES[row].unit.scale();
    arm.series(row).iter().map(|v| v * scale).collect()
}
