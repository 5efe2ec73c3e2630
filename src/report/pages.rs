//! What the pages of a trial share: who and what, phases behind the curves, axes of time.

use super::figure::{Axis, Band, Content, Page, Row, is_thinned};
use super::style::{GUTTER, MARGIN, PAGE_WIDTH, RIGHT_PAD, Tone, Y_LABELS, fixed};
use super::{CAUTIONS, WriteError, draw};
use crate::findings::ArmFindings;
use crate::ground::runs;
use crate::phases::Phase;
use crate::results::{ArmResults, QUANTITIES, TrialResults};
use crate::sheet::TrialSheet;
use crate::smoothing::settings::Method;
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
    let mut out = vec![
        ("loading", super::loading::page(trial)),
        ("muscles", super::muscles::page(trial)),
        ("motion", super::motion::page(trial)),
        ("quality", super::quality::page(trial)),
    ];
    if let Some(u) = &trial.results.uncertainty {
        out.push(("certainty", super::bands::page(trial, u)));
    }
    if !trial.results.sensitivity.is_empty() {
        out.push(("sensitivity", super::sensitivity::page(trial)));
    }
    out
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
    made.into_iter()
        .collect::<Result<Vec<_>, _>>()
        .map(|f| f.concat())
}

impl<'a> Trial<'a> {
    /// Arms with what was found in them.
    pub fn arms(&self) -> impl Iterator<Item = (&'a ArmResults, &'a ArmFindings)> + use<'a> {
        self.results.arms.iter().zip(self.findings)
    }

    /// `right`, or `right and left`.
    pub fn sides(&self) -> String {
        self.results
            .arms
            .iter()
            .map(|a| a.side.name())
            .collect::<Vec<_>>()
            .join(" and ")
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
            fixed(
                self.results.rate_hz,
                if self.results.rate_hz.fract() < 1e-6 { 0 } else { 2 }
            ),
            self.cutoff()
        )];
        for arm in &self.results.arms {
            let words: Vec<&str> = arm.loads.iter().map(|(_, words)| words.as_str()).collect();
            let load = if words.is_empty() {
                "no load".to_owned()
            } else {
                words.join("; ")
            };
            let centres: String = arm.centres.made.iter().map(|m| format!("  ·  {m}")).collect();
            lines.push(format!("{}: {load}{centres}", capital(arm.side.name())));
        }
        if is_thinned(self.results.time_s.len()) {
            lines.push("Long recording: a curve over time shows the lowest and the highest value in each column of pixels.".into());
        }
        lines
    }

    /// Grave warnings, one line each: over the plots of every page.
    pub fn alarms(&self) -> Vec<String> {
        let grave = || self.results.warnings.iter().filter(|w| w.is_grave());
        let mut lines: Vec<String> = grave().take(MOST_ALARMS).map(|w| w.to_string()).collect();
        if grave().count() > MOST_ALARMS {
            lines.push(format!(
                "and {} more like these: see summary.json",
                grave().count() - MOST_ALARMS
            ));
        }
        lines
    }

    /// How the markers were smoothed.
    fn cutoff(&self) -> String {
        if let Some((median, largest)) = self.results.smoothing.half_power_hz() {
            let of = match self.results.smoothing.method {
                Method::Rigid => "splines of poses and points",
                Method::Linked => "curves of the linked arm",
                _ => "splines",
            };
            return format!(
                "{of}, half power at {} Hz in the median, {} Hz at most",
                fixed(median, 1),
                fixed(largest, 1)
            );
        }
        match (self.results.smoothing.cutoff_hz, self.sheet.filter.cutoff) {
            (None, _) => "not smoothed".into(),
            (Some(hz), cutoff) if cutoff.is_found() => format!(
                "low-pass {} Hz, {}",
                fixed(hz, 1),
                self.results.smoothing.chosen()
            ),
            (Some(hz), _) => format!("low-pass {} Hz", fixed(hz, 1)),
        }
    }

    /// An axis of time over the window.
    pub fn time_axis(&self) -> Axis {
        Axis::along("time, s", &self.results.time_s)
    }

    /// Lifts, lowers and holds of an arm as bands on a plot of some width. A few slivers are shaded; of many
    /// only those wide enough for a sign are, the others could not be told apart.
    pub fn bands(&self, arm: &ArmResults, plot_px: f64) -> Vec<Band> {
        let time = &self.results.time_s;
        let (Some(start), Some(end)) = (time.first(), time.last()) else {
            return Vec::new();
        };
        let px_per_s = plot_px / (end - start).max(1e-12);
        let mut out = Vec::new();
        for (phase, tone, sign) in [
            (Phase::Lift, Tone::Lift, '↑'),
            (Phase::Lower, Tone::Lower, '↓'),
            (Phase::Hold, Tone::Hold, '='),
        ] {
            for run in runs(time.len(), |f| arm.phases.of_frame.get(f) == Some(&phase)) {
                let half = 0.5 / self.results.rate_hz;
                let x = (
                    (time[run.start] - half).max(*start),
                    (time[run.end - 1] + half).min(*end),
                );
                out.push(Band {
                    x,
                    tone,
                    word: phase.name().to_owned(),
                    sign,
                });
            }
        }
        let px = |b: &Band| (b.x.1 - b.x.0) * px_per_s;
        out.retain(|b| px(b) >= FAINTEST_BAND);
        let is_sliver = |b: &Band| px(b) < NARROWEST_BAND;
        if out.iter().filter(|b| is_sliver(b)).count() > MOST_SLIVERS {
            out.retain(|b| !is_sliver(b));
        }
        out.sort_by(|a, b| a.x.0.total_cmp(&b.x.0));
        out
    }
}

/// Narrowest band that is seen as one, px.
const FAINTEST_BAND: f64 = 5.0;
/// Narrowest band with room for the sign of its phase, px.
const NARROWEST_BAND: f64 = 26.0;
/// Narrower bands on a plot, above which none of them is shaded.
const MOST_SLIVERS: usize = 12;
/// Grave warnings over the plots; the summary has them all.
const MOST_ALARMS: usize = 6;
/// What the strips and shades mean, for the foot.
pub const STRIPS: &str =
    "Strips: ↑ lift, ↓ lower, = hold; white: none of these, too short to be shaded, or not known.";

/// `known in 10 of 1601 frames`
pub fn known_in(trial: Trial<'_>, series: &[f64]) -> String {
    format!(
        "known in {} of {} frames",
        series.iter().filter(|v| v.is_finite()).count(),
        trial.results.rows()
    )
}

/// Whether a series has a value anywhere.
pub fn is_known(series: &[f64]) -> bool {
    series.iter().any(|v| v.is_finite())
}

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
    c.next()
        .map_or(String::new(), |first| first.to_uppercase().chain(c).collect())
}

/// Foot of a page: what is shown, then the cautions.
pub fn foot(statements: impl IntoIterator<Item = String>) -> Vec<String> {
    statements.into_iter().chain([CAUTIONS.to_owned()]).collect()
}

/// Headings over the columns of two arms; nothing for one.
pub fn headings(trial: Trial<'_>) -> Option<Row> {
    let arms = &trial.results.arms;
    (arms.len() > 1).then(|| {
        Row::of(
            arms.iter()
                .map(|a| Content::Heading(format!("{} arm", capital(a.side.name())))),
        )
    })
}

/// Values of a series in its unit of output.
pub fn scaled(arm: &ArmResults, row: usize) -> Vec<f64> {
    let scale = QUANTITIES[row].unit.scale();
    arm.series(row).iter().map(|v| v * scale).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::draw::{self, Placed, Rect};
    use crate::report::figure::{At, Content, Panel, Shape};
    use crate::results as q;
    use crate::trial::{self, Extras};
    use crate::{demo, findings};
    use std::path::PathBuf;

    /// A trial of the demonstration with its sheet changed by `--set`.
    struct Case {
        sheet: TrialSheet,
        results: TrialResults,
        findings: Vec<ArmFindings>,
    }

    impl Case {
        fn new(sheet: &str, sets: &[&str]) -> Self {
            static DIR: std::sync::OnceLock<tempfile::TempDir> = std::sync::OnceLock::new();
            let dir = DIR.get_or_init(|| {
                let dir = tempfile::tempdir().unwrap();
                for file in demo::files() {
                    std::fs::write(dir.path().join(file.name), file.text).unwrap();
                }
                dir
            });
            let path: PathBuf = dir.path().join(sheet);
            let sets: Vec<String> = sets.iter().map(|s| (*s).to_owned()).collect();
            let sheet = TrialSheet::read(&path, &sets).unwrap();
            let results = trial::run(
                &sheet,
                Extras {
                    details: false,
                    positions: true,
                    other_cutoffs: true,
                },
            )
            .unwrap();
            let findings = findings::find(&results, sheet.participant.body_mass_kg);
            Self {
                sheet,
                results,
                findings,
            }
        }
        fn one_arm() -> Self {
            Self::new(demo::SHEETS[0], &[])
        }
        fn two_arms() -> Self {
            Self::new(demo::SHEETS[1], &[])
        }
        fn trial(&self) -> Trial<'_> {
            Trial {
                sheet: &self.sheet,
                results: &self.results,
                findings: &self.findings,
            }
        }
        fn page(&self, name: &str) -> Page {
            all(self.trial()).into_iter().find(|p| p.0 == name).unwrap().1
        }
    }

    fn panel<'a>(page: &'a Page, name: &str) -> &'a Panel {
        page.panels()
            .find(|p| p.name == name)
            .unwrap_or_else(|| panic!("no panel {name}"))
    }

    fn series(panel: &Panel, name: &str) -> Vec<(f64, f64)> {
        panel
            .series
            .iter()
            .find(|s| s.name == name)
            .unwrap_or_else(|| panic!("no series {name}"))
            .points
            .clone()
    }

    /// Words in a drawing.
    fn captions(panel: &Panel) -> Vec<String> {
        let words = panel.shapes.iter().filter_map(|s| {
            if let Shape::Text { text, .. } = s {
                Some(text.clone())
            } else {
                None
            }
        });
        words.collect()
    }

    /// What may be wrong with where words stand: outside of the page, or on each other.
    fn misplaced(page: &Page) -> Vec<String> {
        let words: Vec<Placed> = draw::words_of(page).unwrap();
        let (w, h) = draw::size_of(page);
        let frame = Rect {
            x0: 0.0,
            y0: 0.0,
            x1: f64::from(w),
            y1: f64::from(h),
        };
        let mut out: Vec<String> = Vec::new();
        for (i, a) in words.iter().enumerate() {
            if a.at.x0 < frame.x0 || a.at.y0 < frame.y0 || a.at.x1 > frame.x1 || a.at.y1 > frame.y1 {
                out.push(format!("'{}' leaves the page", a.text));
            }
            out.extend(
                words[i + 1..]
                    .iter()
                    .filter(|b| a.at.overlaps(&b.at))
                    .map(|b| format!("'{}' on '{}'", a.text, b.text)),
            );
        }
        out
    }

    #[test]
    fn property_no_words_are_clipped_or_overlap() {
        let id = format!("trial.id=\"{}\"", "a very long name of a trial ".repeat(12));
        for (sheet, sets) in [
            (demo::SHEETS[0], vec![]),
            (demo::SHEETS[1], vec![]),
            (demo::SHEETS[1], vec![id.as_str(), "filter.cutoff_hz=6"]),
            (
                demo::SHEETS[1],
                vec![
                    "load.0.mass_kg=0.0001",
                    "load.1.mass_kg=450",
                    "filter.cutoff_hz=6",
                ],
            ),
            (
                demo::SHEETS[0],
                vec!["trial.from_s=1.0", "trial.to_s=2.0", "filter.cutoff_hz=\"none\""],
            ),
            (demo::SHEETS[0], vec!["trial.from_s=1.0", "trial.to_s=1.0001"]),
        ] {
            let case = Case::new(sheet, &sets);
            for (name, page) in all(case.trial()) {
                assert_eq!(misplaced(&page), Vec::<String>::new(), "{sheet} {sets:?} {name}");
                let (w, h) = draw::size_of(&page);
                // a load of 450 kg is doubted in many ways, each a line over the plots
                assert!(w >= 1600 && h > 1000 && h < 5500, "{w} x {h}");
            }
        }
    }

    #[test]
    fn cross_loading_draws_what_the_results_say() {
        let case = Case::one_arm();
        let page = case.page("loading");
        let arm = &case.results.arms[0];
        let elbow = panel(&page, "Elbow");
        assert!(elbow.y.label.ends_with("N·m"));
        let total: Vec<(f64, f64)> = case
            .results
            .time_s
            .iter()
            .copied()
            .zip(arm.series(q::ELBOW_FLEXION_MOMENT).iter().copied())
            .collect();
        assert_eq!(series(elbow, "total"), total);
        assert_eq!(elbow.fills[0].edges.len(), total.len());
        let peak = case.findings[0].elbow_peak.unwrap();
        assert_eq!(elbow.marks[0].at, (peak.time_s, peak.moment_n_m));
        assert!(elbow.marks[0].text.contains(&fixed(peak.elbow_flexion_deg, 0)));
        assert!(elbow.y.range.1 > peak.moment_n_m && elbow.y.range.0 <= 0.0);
        let words: Vec<&str> = elbow.bands.iter().map(|b| b.word.as_str()).collect();
        assert!(
            words.contains(&"lift") && words.contains(&"lower") && words.contains(&"hold"),
            "{words:?}"
        );
        // in a hold the dynamic part vanishes: what is filled there is thin beside the moment
        let hold = case.findings[0]
            .holds
            .iter()
            .find(|h| h.to_s - h.from_s > 1.0)
            .unwrap();
        let inside = elbow.fills[0]
            .edges
            .iter()
            .filter(|e| e.0 > hold.from_s + 0.2 && e.0 < hold.to_s - 0.2);
        assert!(inside.map(|e| (e.1 - e.2).abs()).fold(0.0, f64::max) < 0.05 * peak.moment_n_m);
        let repetitions = arm.phases.complete().count();
        assert!(repetitions >= 3, "{repetitions}");
        assert_eq!(
            panel(&page, "Over the range of motion").series.len(),
            2 * repetitions
        );
        assert_eq!(panel(&page, "Repetitions overlaid").series.len(), repetitions + 1);
        let table = page.tables().next().unwrap();
        assert_eq!(table.rows.len(), repetitions + 1);
        assert!(table.rows.iter().all(|r| r.len() == table.head.len()));
        assert!(
            page.foot
                .iter()
                .any(|f| f.contains("net moment on the forearm by the upper arm about the elbow centre"))
        );
        assert!(page.foot.iter().any(|f| f == CAUTIONS));
    }

    #[test]
    fn property_two_arms_share_axes_and_gaps_stay_open() {
        let case = Case::two_arms();
        for (name, page) in all(case.trial()) {
            for label in [
                "Elbow",
                "Shoulder",
                "Angular velocity",
                "Segment lengths",
                "Energy audit",
            ] {
                let both: Vec<&Panel> = page.panels().filter(|p| p.name == label).collect();
                if let [a, b] = both[..] {
                    assert_eq!((a.x.range, a.y.range), (b.x.range, b.y.range), "{name} {label}");
                }
            }
        }
        let page = case.page("loading");
        let missing = case.results.arms.iter().map(|a| {
            a.series(q::ELBOW_FLEXION_MOMENT)
                .iter()
                .filter(|m| m.is_nan())
                .count()
        });
        let missing: Vec<usize> = missing.collect();
        assert!(
            missing.iter().sum::<usize>() > 0,
            "the demonstration has a gap that stays"
        );
        for (panel, missing) in page.panels().filter(|p| p.name == "Elbow").zip(missing) {
            assert_eq!(
                series(panel, "total").iter().filter(|p| p.1.is_nan()).count(),
                missing
            );
        }
    }

    #[test]
    fn property_without_repetitions_the_page_says_so() {
        let case = Case::new(demo::SHEETS[0], &["phases.travel_m=3"]);
        let page = case.page("loading");
        assert!(panel(&page, "Repetitions overlaid").series.is_empty());
        assert!(
            panel(&page, "Repetitions overlaid")
                .empty
                .as_ref()
                .unwrap()
                .contains("3 m")
        );
        assert_eq!(page.tables().count(), 0);
        assert_eq!(
            panel(&page, "Over the range of motion").series[0].name,
            "all frames"
        );
    }

    #[test]
    fn regression_panels_of_a_trial_with_few_moments_agree() {
        // moments are wiped but for some frames: as with a recorded force that covers a tenth of a second
        for (known, with_moments) in [(600..610, true), (0..10, false), (0..0, false)] {
            let mut case = Case::one_arm();
            let arm = &mut case.results.arms[0];
            let frames = arm.data.ncols();
            for f in (0..frames).filter(|f| !known.contains(f)) {
                for row in [
                    q::ELBOW_FLEXION_MOMENT,
                    q::ELBOW_STATIC_FLEXION_MOMENT,
                    q::SHOULDER_FLEXION_MOMENT,
                    q::FLEXOR_FORCE,
                ] {
                    arm.data[(row, f)] = f64::NAN;
                }
            }
            for f in known.clone() {
                arm.data[(q::FLEXOR_FORCE, f)] = 0.0;
            }
            case.findings = findings::find(&case.results, 66.0);
            let page = case.page("loading");
            let says = format!("nown in {} of {frames} frames", known.len());
            let range = panel(&page, "Over the range of motion");
            let overlaid = panel(&page, "Repetitions overlaid");
            assert_eq!(
                panel(&page, "Elbow").notes.iter().any(|n| n.contains(&says)),
                !known.is_empty()
            );
            assert_eq!(page.tables().count(), 1, "the repetitions are there");
            let drawn = |p: &Panel| p.series.iter().any(|s| s.points.iter().any(|q| q.1.is_finite()));
            assert_eq!(drawn(range), !known.is_empty());
            assert_eq!(drawn(overlaid), with_moments);
            if !with_moments {
                let why = overlaid.empty.as_ref().unwrap();
                assert!(
                    why.contains(&says)
                        && why.contains("none with moments")
                        && !why.contains("No repetition was found"),
                    "{why}"
                );
            }
            // what the key names is drawn
            for p in [range, overlaid] {
                assert!(
                    p.series.iter().all(|s| s.points.iter().any(|q| q.1.is_finite())),
                    "{}",
                    p.name
                );
            }
            let muscles = case.page("muscles");
            let forces = panel(&muscles, "Muscle forces, stacked");
            assert!(forces.y.range.0 == 0.0 && forces.y.range.1 >= crate::report::style::LEAST_FORCES_N);
            assert_eq!(misplaced(&page), Vec::<String>::new());
            assert_eq!(misplaced(&muscles), Vec::<String>::new());
            assert_eq!(misplaced(&case.page("motion")), Vec::<String>::new());
        }
    }

    #[test]
    fn property_grave_warnings_stand_over_the_plots_and_nowhere_in_the_small_grey() {
        let case = Case::new(demo::SHEETS[0], &["markers.forward=\"-x\""]);
        let grave: Vec<String> = case
            .results
            .warnings
            .iter()
            .filter(|w| w.is_grave())
            .map(|w| w.to_string())
            .collect();
        assert!(!grave.is_empty());
        for (name, page) in all(case.trial()) {
            assert_eq!(page.alarms, grave, "{name}");
            assert!(page.subtitle.iter().all(|l| !grave.iter().any(|g| l.contains(g))));
            assert_eq!(misplaced(&page), Vec::<String>::new(), "{name}");
        }
    }

    #[test]
    fn property_of_many_slivers_only_wide_bands_are_shaded() {
        let mut case = Case::one_arm();
        let width = plot_width(1);
        let few = case.trial().bands(&case.results.arms[0], width);
        assert!(few.len() > 10);
        // lift and lower by turns of two frames, then a long hold
        let phases = &mut case.results.arms[0].phases.of_frame;
        let n = phases.len();
        for (f, phase) in phases.iter_mut().enumerate() {
            *phase = if f > n / 2 {
                Phase::Hold
            } else {
                [Phase::Lift, Phase::Lower][f / 2 % 2]
            };
        }
        let bands = case.trial().bands(&case.results.arms[0], width);
        assert_eq!(
            bands.iter().map(|b| b.word.as_str()).collect::<Vec<_>>(),
            ["hold"]
        );
        assert!(case.page("loading").foot.iter().any(|f| f.contains(STRIPS)));
        assert!(case.page("motion").foot.iter().any(|f| f.contains(STRIPS)));
    }

    #[test]
    fn property_axes_of_what_hardly_changes_keep_a_least_span() {
        use crate::report::style::{LEAST_ANGLES_DEG, LEAST_MOMENTS_N_M, LEAST_VELOCITIES_DEG_S};
        let mut case = Case::one_arm();
        case.results.arms[0].data.mapv_inplace(|v| 1e-5 * v);
        let span = |p: &Panel| p.y.range.1 - p.y.range.0;
        let motion = case.page("motion");
        assert!(
            span(panel(&motion, "Elbow")) >= LEAST_ANGLES_DEG
                && span(panel(&motion, "Shoulder")) >= LEAST_ANGLES_DEG
        );
        assert!(span(panel(&motion, "Angular velocity")) >= LEAST_VELOCITIES_DEG_S);
        assert!(panel(&motion, "Angular velocity").marks.is_empty());
        let loading = case.page("loading");
        for name in [
            "Elbow",
            "Shoulder",
            "Over the range of motion",
            "Repetitions overlaid",
        ] {
            assert!(span(panel(&loading, name)) >= LEAST_MOMENTS_N_M, "{name}");
        }
    }

    #[test]
    fn cross_quality_says_what_clusters_rebuilt() {
        use crate::points::clusters::ClusterReport;
        let mut case = Case::one_arm();
        case.results.clusters.push(ClusterReport {
            frames: 1601,
            name: "right.forearm".into(),
            residual_m: vec![1e-4; 1601],
            markers_rebuilt: vec![("right.fa1".into(), 12)],
            rebuilt: vec![
                ("right.RS".into(), 1601),
                ("right.US".into(), 1601),
                ("right.EL".into(), 7),
            ],
            carries: Vec::new(),
        });
        let page = case.page("quality");
        let notes = panel(&page, "Points in use, and when they were missing")
            .notes
            .join(" ");
        assert!(
            notes.contains(
                "Cluster right.forearm: rebuilt right.RS, right.US in all frames; right.EL in 7 of 1601 frames. Missing markers put back: \
                 right.fa1 in 12 of 1601 frames."
            ),
            "{notes}"
        );
        assert_eq!(misplaced(&page), Vec::<String>::new());
    }

    #[test]
    fn cross_motion_draws_sticks_of_the_segments_length_and_arcs_of_the_moments_size() {
        let case = Case::one_arm();
        let page = case.page("motion");
        let sticks = page.panels().find(|p| p.bare).unwrap();
        assert!(sticks.equal);
        let arms: Vec<&Vec<(f64, f64)>> = sticks
            .shapes
            .iter()
            .filter_map(|s| match s {
                Shape::Line { points, stroke, .. } if stroke.width == 9.0 => Some(points),
                _ => None,
            })
            .collect();
        assert_eq!(arms.len(), 5);
        let body = &case.results.arms[0].body;
        for chain in arms {
            let upper = (chain[0].0 - chain[1].0).hypot(chain[0].1 - chain[1].1);
            // seen from the side a segment is never longer than it is
            assert!(upper < 1.02 * body.upper_arm.length_m && upper > 0.5 * body.upper_arm.length_m);
        }
        let sweeps: Vec<f64> = sticks
            .shapes
            .iter()
            .filter_map(|s| {
                if let Shape::Arc { sweep, .. } = s {
                    Some(*sweep)
                } else {
                    None
                }
            })
            .collect();
        // every moment known in a caption has its arc, but for those that would be an arrowhead alone
        let note = sticks.notes[0]
            .split("under ")
            .nth(1)
            .and_then(|n| n.split(" N").next())
            .unwrap();
        let least: f64 = note.parse().unwrap();
        let moments: Vec<f64> = captions(sticks)
            .iter()
            .filter_map(|c| c.strip_suffix(" N·m")?.rsplit_once(' ')?.1.parse().ok())
            .collect();
        assert_eq!(moments.len(), 10);
        assert_eq!(sweeps.len(), moments.iter().filter(|m| m.abs() >= least).count());
        assert!(sweeps.len() < 10 && sweeps.iter().all(|s| s.abs() > 0.6));
        // an instant says which it is: phases change at the ends of a lift
        for which in [
            "start of lift",
            "lift, peak",
            "end of lift",
            "in the lower",
            "end of lower",
        ] {
            assert_eq!(
                captions(sticks).iter().filter(|c| c.ends_with(which)).count(),
                1,
                "{which}"
            );
        }
        // a full turn would read as nothing
        assert!(sweeps.iter().all(|s| s.abs() < 1.9 * std::f64::consts::PI));
    }

    #[test]
    fn cross_quality_draws_the_chosen_cutoff_and_every_gap() {
        let case = Case::two_arms();
        let page = case.page("quality");
        let analysis = case.results.smoothing.analysis.as_ref().unwrap();
        let residual = panel(&page, "Residual analysis");
        assert_eq!(residual.rules[0].at, At::X(analysis.cutoff_hz));
        let used_hz = case.results.smoothing.cutoff_hz.unwrap();
        assert_eq!(panel(&page, "Expected error").rules[0].at, At::X(used_hz));
        let line = series(residual, "fitted noise line");
        let at_zero = residual.marks[0].at.1;
        assert!(
            (line[0].1 - at_zero).abs() < 1e-12,
            "the line starts at the noise"
        );
        let gaps = panel(&page, "Points in use, and when they were missing");
        let expected: usize = case
            .results
            .points
            .iter()
            .map(|p| p.gaps.left.len() + p.gaps.filled.len())
            .sum();
        assert!(expected > 0);
        assert_eq!(gaps.shapes.len(), expected);
        assert_eq!(gaps.y.ticks.len(), case.results.points.len());
        let given = Case::new(demo::SHEETS[0], &["filter.cutoff_hz=6"]).page("quality");
        assert!(
            panel(&given, "Residual analysis")
                .empty
                .as_ref()
                .unwrap()
                .contains("6 Hz was given")
        );
    }

    #[test]
    fn property_axes_name_their_units() {
        let case = Case::two_arms();
        for (name, page) in all(case.trial()) {
            for p in page.panels().filter(|p| !p.bare && !p.y.label.is_empty()) {
                let unit = |label: &str| {
                    label
                        .rsplit_once(", ")
                        .map(|u| u.1.trim_end_matches(" of the repetition").to_owned())
                };
                for label in [&p.x.label, &p.y.label] {
                    let known = [
                        "N·m", "N", "s", "°", "°/s", "mm", "cm", "m", "W", "Hz", "%", "m/s²", "N/cm²",
                    ];
                    // a ratio of two lengths has none
                    if label == "effort arm / load arm" {
                        continue;
                    }
                    assert!(
                        unit(label).is_some_and(|u| known.contains(&u.as_str())),
                        "{name}: '{label}'"
                    );
                }
            }
        }
    }

    #[test]
    fn property_every_row_has_something() {
        let case = Case::two_arms();
        for (_, page) in all(case.trial()) {
            assert!(
                page.rows
                    .iter()
                    .all(|r| !r.cells.is_empty() && r.cells.iter().any(|c| c.content != Content::Empty))
            );
        }
    }
}
