//! `motion.png`: how the arm moved, with the net moments on it at a few instants.

use super::figure::*;
use super::loading::{drawn, thinner};
use super::pages::{self, Trial, capital, plot_width, scaled};
use super::style::{
    Ink, LEAST_ANGLES_DEG, LEAST_PLACES_M, LEAST_VELOCITIES_DEG_S, MARGIN, PAGE_WIDTH, PLOT_HEIGHT, Size,
    Stroke, fixed, short,
};
use crate::anatomy::posture::Posture;
use crate::findings::ArmFindings;
use crate::ground::names::Joint;
use crate::phases::Order;
use crate::results::{self as q, ArmResults, Positions, VectorOf, first_row, flag};
use std::f64::consts::FRAC_PI_2;
use std::ops::Range;

/// Builds the page.
pub fn page(trial: Trial<'_>) -> Page {
    let mut rows = Vec::new();
    let each =
        |panel: &dyn Fn(&ArmResults) -> Panel| Row::of(trial.results.arms.iter().map(|a| panel(a).into()));
    let scale = Scale::of(trial);
    rows.extend(
        trial
            .arms()
            .map(|(arm, found)| Row::of([sticks(trial, arm, found, &scale).into()])),
    );
    rows.extend(pages::headings(trial));
    rows.push(each(&|arm| elbow_angles(trial, arm)));
    rows.push(each(&|arm| shoulder_angles(trial, arm)));
    rows.push(each(&|arm| velocity(trial, arm)));
    if let [arm] = &trial.results.arms[..] {
        let wrist = if arm.has_wrist {
            wrist_angles(trial, arm).into()
        } else {
            Content::Empty
        };
        rows.push(Row::of([path(trial, arm).into(), wrist]));
    } else {
        rows.push(each(&|arm| path(trial, arm)));
    }
    Page {
        title: format!("Motion of the {} arm{}", trial.sides(), if trial.results.arms.len() > 1 { "s" } else { "" }),
        subtitle: trial.about(),
        alarms: trial.alarms(),
        rows,
        foot: pages::foot([
            "Arcs at the joints: net moment on the segment beyond the joint by the one before it, about the joint centre, its component about the \
             world's Z (out of the page, to the participant's right): counter-clockwise is positive and raises the arm forwards. Where the arm leaves \
             the plane of view these differ from the flexion moments of the other pages. Instants: of the repetition with the \
             largest elbow moment, whose lift and lower start and end within 2 % of their range from the turning points; spread \
             evenly if there is none with moments."
                .to_owned(),
            pages::STRIPS.to_owned(),
            format!(
                "Elbow: {}; {}. Shoulder: {}; {} (drawn the other way up here: + for a raised arm); {}.",
                q::QUANTITIES[q::ELBOW_FLEXION].meaning,
                q::QUANTITIES[q::ELBOW_CARRYING].meaning,
                q::QUANTITIES[q::SHOULDER_PLANE].meaning,
                q::QUANTITIES[q::SHOULDER_ELEVATION].meaning,
                q::QUANTITIES[q::SHOULDER_AXIAL].meaning
            ),
        ]),
    }
}

/// Radius of the arcs, px.
const ARC_PX: f64 = 40.0;
/// Smallest sweep of an arc that is drawn, in quarter turns: a smaller one would be an arrowhead on the
/// segment.
const LEAST_QUARTERS: f64 = 0.4;
/// Under this speed an elbow rests and has no fastest frame to speak of, °/s.
const SLOWEST_PEAK_DEG_S: f64 = 1.0;
/// A path shorter than this is a place, m.
const SHORTEST_PATH_M: f64 = 0.005;
/// Largest sweep of an arc in quarter turns.
const MOST_QUARTERS: f64 = 3.2;
/// Room for the bar of scale, px.
const BAR_PX: f64 = 36.0;
/// Instants drawn.
const INSTANTS: usize = 5;
/// Lines of words under a figure.
const CAPTION_LINES: f64 = 4.0;

/// One scale of arcs for all arms, so that they can be compared.
struct Scale {
    /// Moment of a quarter turn, N·m.
    quarter_n_m: f64,
}

impl Scale {
    fn of(trial: Trial<'_>) -> Self {
        let rows = [Joint::Elbow, Joint::Shoulder].map(|j| first_row(j, VectorOf::Moment) + 2);
        let values = trial
            .results
            .arms
            .iter()
            .flat_map(|a| rows.map(|r| a.series(r)))
            .flatten()
            .map(|m| m.abs());
        let largest = extent(values).map_or(1.0, |e| e.1).max(1e-9);
        let rough = largest / MOST_QUARTERS;
        let power = 10_f64.powf(rough.log10().floor());
        let quarter_n_m = [1.0, 2.0, 5.0, 10.0]
            .map(|m| m * power)
            .into_iter()
            .find(|m| *m >= rough)
            .unwrap_or(10.0 * power);
        Self { quarter_n_m }
    }
    /// Moment of so many quarter turns, without digits that say nothing.
    fn words(&self, quarters: f64) -> String {
        let moment = quarters * self.quarter_n_m;
        every(moment, (moment, moment))
            .first()
            .map_or_else(|| short(moment), |t| t.text.clone())
    }
    /// Sweep of the arc of a moment; none if it is too small for one.
    fn sweep(&self, moment: f64) -> Option<f64> {
        let quarters = moment / self.quarter_n_m;
        (quarters.abs() >= LEAST_QUARTERS).then_some(quarters * FRAC_PI_2)
    }
}

/// A frame worth drawing, and which it is; the words are empty where the phase says it.
type Instant = (usize, &'static str);

/// Frames worth drawing: start and end of a repetition's lift and lower, the peak; spread evenly if there is
/// no repetition.
fn instants(arm: &ArmResults, found: &ArmFindings, count: usize) -> Vec<Instant> {
    let Some(positions) = &arm.positions else {
        return Vec::new();
    };
    let frames = positions.xyz.ncols();
    let stands = |f: usize| (0..Positions::KNUCKLES).all(|p| positions.at(p, f)[0].is_finite());
    let loaded = |f: usize| stands(f) && arm.data[(q::ELBOW_MOMENT_X, f)].is_finite();
    // postures without moments only if no frame has any
    let any_loaded = (0..frames).any(loaded);
    let known = |f: usize| if any_loaded { loaded(f) } else { stands(f) };
    let peak = found.elbow_peak.as_ref().map(|p| p.frame);
    let of_peak = arm
        .phases
        .complete()
        .find(|r| peak.is_some_and(|p| r.frames().contains(&p)));
    let mut wanted: Vec<Instant> = match of_peak.or(arm.phases.complete().next()) {
        Some(r) => {
            let middle = |range: &Range<usize>, at_peak, within| match peak {
                Some(p) if range.contains(&p) => (p, at_peak),
                _ => (range.start + range.len() / 2, within),
            };
            let (lift, lower) = (&r.lift.moving, &r.lower.moving);
            let mut all = [
                (lift.start, "start of lift"),
                middle(lift, "lift, peak", "in the lift"),
                (lift.end - 1, "end of lift"),
                middle(lower, "lower, peak", "in the lower"),
                (lower.end - 1, "end of lower"),
            ];
            if r.order == Order::LowerLift {
                all = [(lower.start, "start of lower"), all[3], all[4], all[1], all[2]];
            }
            all.into_iter().take(count).collect()
        }
        None => Vec::new(),
    };
    wanted.retain(|(f, _)| *f < frames && known(*f));
    if wanted.len() < 2 {
        let all: Vec<usize> = (0..frames).filter(|f| known(*f)).collect();
        wanted = (0..count)
            .filter_map(|k| {
                all.get(k * all.len().saturating_sub(1) / (count - 1).max(1))
                    .map(|f| (*f, ""))
            })
            .collect();
    }
    wanted.sort_by_key(|w| w.0);
    wanted.dedup_by_key(|w| w.0);
    wanted
}

/// A length to compare with, its end at a place.
fn length_bar(at: (f64, f64)) -> [Shape; 2] {
    let bar = Shape::Line {
        points: vec![at, (at.0 + 0.2, at.1)],
        ink: Ink::Quiet,
        stroke: Stroke {
            width: 4.0,
            dash: None,
        },
    };
    let words = Shape::Text {
        at,
        offset_px: (0.0, -28.0),
        text: "20 cm".into(),
        size: Size::Small,
        bold: false,
        ink: Ink::Quiet,
        anchor: Anchor::Start,
    };
    [bar, words]
}

/// Where a point is from the shoulder: forward to the right, up; m.
fn from_shoulder(positions: &Positions, point: usize, f: usize) -> (f64, f64) {
    let (s, p) = (positions.at(Positions::SHOULDER, f), positions.at(point, f));
    (p[0] - s[0], p[1] - s[1])
}

/// The arm at some instants, one figure beside the other.
struct Figures<'a> {
    arm: &'a ArmResults,
    positions: &'a Positions,
    frames: &'a [usize],
    /// The last point of the chain from the shoulder.
    last: usize,
    load: Option<usize>,
    scale: &'a Scale,
    /// Middle of what all figures cover, m from the shoulder.
    beside: f64,
    /// Where words begin: height, m, and way down, px.
    words_at: (f64, f64),
}

impl Figures<'_> {
    fn line(points: Vec<(f64, f64)>, ink: Ink, width: f64, dash: Option<(f64, f64)>) -> Shape {
        let stroke = Stroke { width, dash };
        Shape::Line { points, ink, stroke }
    }

    /// Load, segments and joints at an instant.
    fn draw(&self, f: usize, middle: f64, shapes: &mut Vec<Shape>) {
        let at = |point: usize, f: usize| {
            let p = from_shoulder(self.positions, point, f);
            (p.0 + middle - self.beside, p.1)
        };
        if let Some(load) = self.load {
            let around = self.frames[0]..self.frames[self.frames.len() - 1] + 1;
            let step = around.len().div_ceil(300).max(1);
            let path = around.step_by(step).map(|f| at(load, f)).collect();
            shapes.push(Self::line(path, Ink::Faint, 3.0, None));
        }
        let chain: Vec<(f64, f64)> = (0..=self.last).map(|p| at(p, f)).collect();
        if let (Some(load), Positions::WRIST) = (self.load, self.last) {
            // the hand was not seen: where the load acts is known from the model
            let reach = vec![chain[Positions::WRIST], at(load, f)];
            shapes.push(Self::line(reach, Ink::Quiet, 5.0, Some((8.0, 6.0))));
        }
        shapes.push(Self::line(chain.clone(), Ink::Text, 9.0, None));
        if let Some(load) = self.load {
            shapes.push(Shape::Disc {
                centre: at(load, f),
                radius_px: 17.0,
                ink: Ink::Second,
                filled: true,
            });
        }
        for point in [Positions::SHOULDER, Positions::ELBOW, Positions::WRIST] {
            shapes.push(Shape::Disc {
                centre: chain[point],
                radius_px: 9.0,
                ink: Ink::Text,
                filled: false,
            });
        }
        for (_, point, ink, moment) in self.moments(f) {
            let Some(sweep) = self.scale.sweep(moment) else {
                continue;
            };
            // from the segment it acts on, the way it would turn it
            let (a, b) = (chain[point], chain[point + 1]);
            shapes.push(Shape::Arc {
                centre: a,
                radius_px: ARC_PX,
                from: (b.1 - a.1).atan2(b.0 - a.0),
                sweep,
                ink,
                stroke: Stroke {
                    width: 5.0,
                    dash: None,
                },
                head: true,
            });
        }
    }

    /// Moments about the axis across the picture at an instant, N·m.
    fn moments(&self, f: usize) -> [(Joint, usize, Ink, f64); 2] {
        [
            (Joint::Elbow, Positions::ELBOW, Ink::Strong),
            (Joint::Shoulder, Positions::SHOULDER, Ink::Third),
        ]
        .map(|(joint, point, ink)| {
            let moment = self.arm.data[(first_row(joint, VectorOf::Moment) + 2, f)];
            (joint, point, ink, moment)
        })
    }

    /// Words under a figure.
    fn caption(&self, f: usize, (time_s, word): (f64, &str), middle: f64, shapes: &mut Vec<Shape>) {
        let flexion = self.arm.data[(q::ELBOW_FLEXION, f)].to_degrees();
        let comma = if word.is_empty() { "" } else { ", " };
        let mut lines = vec![
            (format!("{} s", fixed(time_s, 2)), true, Ink::Text),
            (
                format!("flexion {}°{comma}{word}", fixed(flexion, 0)),
                false,
                Ink::Text,
            ),
        ];
        for (joint, _, ink, moment) in self.moments(f) {
            lines.push((format!("{} {} N·m", joint.name(), short(moment)), false, ink));
        }
        let (y, below) = self.words_at;
        for (i, (text, bold, ink)) in lines.into_iter().enumerate() {
            shapes.push(Shape::Text {
                at: (middle, y),
                offset_px: (0.0, -(below + Size::Tick.leading() * (i as f64 + 0.8))),
                text,
                size: Size::Tick,
                bold,
                ink,
                anchor: Anchor::Middle,
            });
        }
    }
}

/// The arm at a few instants, side by side, seen from the participant's right.
fn sticks(trial: Trial<'_>, arm: &ArmResults, found: &ArmFindings, scale: &Scale) -> Panel {
    let width = PAGE_WIDTH - 2.0 * MARGIN;
    let instants = instants(arm, found, INSTANTS);
    let frames: Vec<usize> = instants.iter().map(|i| i.0).collect();
    let name = format!(
        "{} arm from the side, at a few instants",
        capital(arm.side.name())
    );
    let mut panel = Panel::drawing(name, (0.0, 1.0), (0.0, 0.5));
    panel.height = PLOT_HEIGHT;
    let Some(positions) = arm.positions.as_ref().filter(|_| !frames.is_empty()) else {
        panel.empty = Some("The joint centres are not known in any frame.".into());
        return panel;
    };
    let load = (positions.loads() > 0).then_some(Positions::LOADS);
    let last = if positions.at(Positions::KNUCKLES, frames[0])[0].is_finite() {
        Positions::KNUCKLES
    } else {
        Positions::WRIST
    };
    let points: Vec<usize> = (0..=last).chain(load).collect();
    let all: Vec<(f64, f64)> = frames
        .iter()
        .flat_map(|f| points.iter().map(|p| from_shoulder(positions, *p, *f)))
        .collect();
    let (x0, x1) = extent(all.iter().map(|p| p.0)).unwrap_or((0.0, 1.0));
    let (y0, y1) = extent(all.iter().map(|p| p.1)).unwrap_or((-1.0, 0.0));
    // room for arcs around, for words under a figure; a slot is at least as wide as its words
    let words_px = 250.0;
    let room = 2.6 * ARC_PX;
    let slot_px = width / frames.len() as f64;
    let per_m = ((slot_px - room - 20.0) / (x1 - x0).max(0.05)).min(430.0 / (y1 - y0).max(0.05));
    let caption = CAPTION_LINES * Size::Tick.leading() + 12.0;
    panel.height = (y1 - y0) * per_m + room + caption + BAR_PX;
    let slot = slot_px.max(words_px) / per_m;
    panel.x.range = (0.0, slot * frames.len() as f64);
    panel.y.range = (
        y0 - (0.5 * room + caption) / per_m,
        y1 + (0.5 * room + BAR_PX) / per_m,
    );
    panel.notes.push(format!(
        "To scale. A quarter of a turn of an arc is {} N·m; under {} N·m there is no arc.{}",
        scale.words(1.0),
        scale.words(LEAST_QUARTERS),
        if load.is_some() {
            " Disc: where the load acts; thin line: its path."
        } else {
            ""
        }
    ));
    let figures = Figures {
        arm,
        positions,
        frames: &frames,
        last,
        load,
        scale,
        beside: 0.5 * (x0 + x1),
        words_at: (y0, 0.5 * room + 4.0),
    };
    for (k, (f, which)) in instants.iter().enumerate() {
        let middle = slot * (k as f64 + 0.5);
        figures.draw(*f, middle, &mut panel.shapes);
        let word = if which.is_empty() {
            arm.phases.of_frame[*f].name()
        } else {
            which
        };
        figures.caption(*f, (trial.results.time_s[*f], word), middle, &mut panel.shapes);
    }
    panel.shapes.extend(length_bar((
        panel.x.range.0 + 0.02 * slot,
        panel.y.range.1 - 4.0 / per_m,
    )));
    panel
}

/// Series that are known somewhere.
fn known_series(trial: Trial<'_>, arm: &ArmResults, lines: &[(&str, usize, Ink, Stroke)]) -> Vec<Series> {
    lines
        .iter()
        .filter_map(|(name, row, ink, stroke)| {
            let values = scaled(arm, *row);
            values
                .iter()
                .any(|v| v.is_finite())
                .then(|| Series::over(*name, &trial.results.time_s, &values, *ink, *stroke))
        })
        .collect()
}

/// An axis that all arms share, with zero.
fn shared_axis(trial: Trial<'_>, label: &str, rows: &[usize], least: f64) -> Axis {
    Axis::around_at_least(
        label,
        trial
            .results
            .arms
            .iter()
            .flat_map(|a| rows.iter().flat_map(|r| scaled(a, *r))),
        true,
        least,
    )
}

fn over_time(
    trial: Trial<'_>,
    arm: &ArmResults,
    name: &str,
    y: Axis,
    lines: &[(&str, usize, Ink, Stroke)],
) -> Panel {
    let mut panel = Panel::new(name, trial.time_axis().quietly(), y);
    panel.height = 0.7 * PLOT_HEIGHT;
    panel.bands = trial.bands(arm, plot_width(trial.results.arms.len()));
    panel.series = known_series(trial, arm, lines);
    panel
}

fn elbow_angles(trial: Trial<'_>, arm: &ArmResults) -> Panel {
    let lines = [
        ("flexion", q::ELBOW_FLEXION, Ink::Strong, Stroke::STRONG),
        ("pronation", q::ELBOW_PRONATION, Ink::Third, Stroke::PLAIN),
        ("carrying angle", q::ELBOW_CARRYING, Ink::Second, Stroke::DASHED),
    ];
    let rows: Vec<usize> = lines.iter().map(|l| l.1).collect();
    let mut panel = over_time(
        trial,
        arm,
        "Elbow",
        shared_axis(trial, "angles, °", &rows, LEAST_ANGLES_DEG),
        &lines,
    );
    panel.empty = Some("The elbow angles are not known in any frame.".into());
    panel
}

fn shoulder_angles(trial: Trial<'_>, arm: &ArmResults) -> Panel {
    let lines = [
        ("elevation", q::SHOULDER_ELEVATION, Ink::Strong, Stroke::STRONG),
        ("plane", q::SHOULDER_PLANE, Ink::Second, Stroke::DASHED),
        ("axial rotation", q::SHOULDER_AXIAL, Ink::Third, Stroke::PLAIN),
    ];
    let rows: Vec<usize> = lines.iter().map(|l| l.1).collect();
    // drawn as an arm is raised; the column keeps the sign of its convention
    let upwards = |a: &ArmResults, row: usize| -> Vec<f64> {
        let sign = if row == q::SHOULDER_ELEVATION { -1.0 } else { 1.0 };
        scaled(a, row).into_iter().map(|v| sign * v).collect()
    };
    let values = trial
        .results
        .arms
        .iter()
        .flat_map(|a| rows.iter().flat_map(move |r| upwards(a, *r)));
    let y = Axis::around_at_least(
        "elevation + raised (in moments.csv \u{2212}); angles, °",
        values,
        true,
        LEAST_ANGLES_DEG,
    );
    let mut panel = over_time(trial, arm, "Shoulder", y, &lines);
    for s in panel.series.iter_mut().filter(|s| s.name == lines[0].0) {
        s.points.iter_mut().for_each(|p| p.1 = -p.1);
    }
    panel.bands.iter_mut().for_each(|b| b.word.clear());
    let poles = arm.flags.iter().filter(|f| **f & flag::POLE != 0).count();
    if poles > 0 {
        let share = 100.0 * poles as f64 / arm.flags.len() as f64;
        panel.notes.push(format!(
            "Plane and axial rotation can't be told apart within 10° of an arm along the trunk: empty in {} % of frames.",
            short(share)
        ));
    }
    panel.empty =
        Some("The shoulder angles are not known: the recording shows no plane of elevation, or no frame of the upper arm.".into());
    panel
}

fn velocity(trial: Trial<'_>, arm: &ArmResults) -> Panel {
    let lines = [
        ("elbow flexion", q::FLEXION_VELOCITY, Ink::Strong, Stroke::STRONG),
        ("forearm in the world", q::TURNING, Ink::Second, Stroke::DASHED),
    ];
    let fastest = |arm: &ArmResults| {
        let values = scaled(arm, q::FLEXION_VELOCITY);
        let known = (0..values.len()).filter(|f| values[*f].is_finite());
        let fastest = known.max_by(|a, b| values[*a].abs().total_cmp(&values[*b].abs()))?;
        (values[fastest].abs() >= SLOWEST_PEAK_DEG_S)
            .then(|| (trial.results.time_s[fastest], values[fastest]))
    };
    let peaks = trial.results.arms.iter().filter_map(fastest).map(|p| p.1);
    let y = shared_axis(
        trial,
        "about the upper arm's Z, °/s",
        &[q::FLEXION_VELOCITY, q::TURNING],
        LEAST_VELOCITIES_DEG_S,
    );
    let mut panel = over_time(
        trial,
        arm,
        "Angular velocity",
        y.with_room(0.7 * PLOT_HEIGHT, peaks),
        &lines,
    );
    panel.x.quiet = false;
    panel.bands.iter_mut().for_each(|b| b.word.clear());
    panel.marks.extend(fastest(arm).map(|at| Mark {
        at,
        value: format!("{} °/s", short(at.1)),
        text: format!("at {} s", fixed(at.0, 2)),
        ink: Ink::Strong,
    }));
    panel.empty = Some("Velocities are not known in any frame.".into());
    panel
}

fn wrist_angles(trial: Trial<'_>, arm: &ArmResults) -> Panel {
    let lines = [
        ("palmar flexion", q::WRIST_FLEXION, Ink::Strong, Stroke::STRONG),
        ("ulnar deviation", q::WRIST_DEVIATION, Ink::Second, Stroke::DASHED),
    ];
    let y = shared_axis(
        trial,
        "angles, °",
        &[q::WRIST_FLEXION, q::WRIST_DEVIATION],
        LEAST_ANGLES_DEG,
    );
    let mut panel = Panel::new("Wrist", trial.time_axis(), y);
    panel.bands = trial.bands(arm, plot_width(2));
    panel.bands.iter_mut().for_each(|b| b.word.clear());
    panel.series = known_series(trial, arm, &lines);
    panel.height = PLOT_HEIGHT;
    panel.empty = Some("The wrist angles are not known in any frame.".into());
    panel
}

/// Axes of equal scale around what is drawn; a path too short to see is marked as a rest.
fn fit_axes(panel: &mut Panel) {
    let drawn = || panel.series.iter().flat_map(|s| &s.points);
    let (x, y) = (extent(drawn().map(|p| p.0)), extent(drawn().map(|p| p.1)));
    if let (Some(x), Some(y)) = (x, y) {
        if (x.1 - x.0).max(y.1 - y.0) < SHORTEST_PATH_M {
            let middle = (0.5 * (x.0 + x.1), 0.5 * (y.0 + y.1));
            panel.marks.push(Mark {
                at: middle,
                value: String::new(),
                text: "rests here".into(),
                ink: Ink::Strong,
            });
        }
        let pad = (0.06 * (x.1 - x.0).max(y.1 - y.0)).max(0.5 * (LEAST_PLACES_M - (y.1 - y.0)));
        let width = plot_width(2);
        let (xr, yr) = equal_ranges(
            (x.0 - pad, x.1 + pad),
            (y.0 - pad, y.1 + pad),
            width / panel.height,
        );
        panel.x = Axis::with_ticks(std::mem::take(&mut panel.x.label), xr, 7);
        panel.y = Axis::new(std::mem::take(&mut panel.y.label), yr);
    }
}

/// Path of the load (of the wrist if there is none) in the plane of view, from the shoulder.
fn path(trial: Trial<'_>, arm: &ArmResults) -> Panel {
    let positions = arm.positions.as_ref();
    let loaded = positions.is_some_and(|p| p.loads() > 0);
    let name = if loaded {
        "Path of the load"
    } else {
        "Path of the wrist"
    };
    let along = match trial.sheet.participant.posture {
        Some(Posture::Supine) => "from the shoulder towards the feet, m",
        Some(Posture::Prone) => "from the shoulder towards the head, m",
        _ => "forward of the shoulder, m",
    };
    let mut panel = Panel::new(
        name,
        Axis::new(along, (0.0, 0.5)),
        Axis::new("above the shoulder, m", (-0.5, 0.0)),
    );
    panel.equal = true;
    panel.height = PLOT_HEIGHT;
    panel.empty = Some("The path is not known in any frame.".into());
    let Some(positions) = positions else { return panel };
    let point = if loaded {
        Positions::LOADS
    } else {
        Positions::WRIST
    };
    let at = |f: usize| {
        let (s, p) = (positions.at(Positions::SHOULDER, f), positions.at(point, f));
        (p[0] - s[0], p[1] - s[1])
    };
    let through = |frames: Range<usize>| {
        let step = frames.len().div_ceil(600).max(1);
        frames.step_by(step).map(at).collect::<Vec<_>>()
    };
    let repetitions: Vec<_> = arm.phases.complete().collect();
    for r in drawn(&repetitions) {
        panel.series.push(Series::through(
            "lift",
            through(r.lift.moving.clone()),
            Ink::Strong,
            thinner(Stroke::PLAIN, repetitions.len()),
        ));
        panel.series.push(Series::through(
            "lower",
            through(r.lower.moving.clone()),
            Ink::Second,
            thinner(Stroke::DASHED, repetitions.len()),
        ));
    }
    if repetitions.is_empty() {
        let frames = positions.xyz.ncols();
        let step = frames.div_ceil(4000).max(1);
        panel.series.push(Series::through(
            "all frames",
            (0..frames).step_by(step).map(at).collect(),
            Ink::Strong,
            Stroke::THIN,
        ));
    }
    fit_axes(&mut panel);
    panel
}

/// Widens two ranges to the shape of a plot, so that a metre is as long one way as the other and ticks fill
/// both axes.
fn equal_ranges(x: (f64, f64), y: (f64, f64), aspect: f64) -> ((f64, f64), (f64, f64)) {
    let (w, h) = (x.1 - x.0, y.1 - y.0);
    let (w2, h2) = if w / h > aspect {
        (w, w / aspect)
    } else {
        (h * aspect, h)
    };
    let (mx, my) = (0.5 * (x.0 + x.1), 0.5 * (y.0 + y.1));
    ((mx - 0.5 * w2, mx + 0.5 * w2), (my - 0.5 * h2, my + 0.5 * h2))
}
