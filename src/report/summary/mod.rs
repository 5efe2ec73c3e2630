//! `summary.json`: the types are its schema ([`schema`]), and the same in plain words.

pub mod words;

pub use words::in_words;

use super::{CAUTIONS, tables};
use crate::anatomy::body::Rigid;
use crate::findings::ArmFindings;
use crate::ground::form::{SourceOfValue, keys};
use crate::ground::names::Side;
use crate::ground::warning::{Span, Warning};
use crate::points::clusters::ClusterReport;
use crate::points::fits::FunctionalFit;
use crate::results::ElbowSeenTwice;
use crate::results::{
    self, ArmResults, ArmSensitivity, Audit, PointReport, QUANTITIES, SignalSmoothing, TrialResults, flag,
};
use crate::sheet::TrialSheet;
use crate::smoothing::judge::JudgedBody;
use crate::smoothing::residual;
use crate::smoothing::settings::Method;
use schemars::{JsonSchema, Schema, transform::RecursiveTransform};
use serde::Serialize;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What every output means, stated once (Derrick et al. 2020, J Biomech 99:109533, asks for this statement).
pub const STATEMENT: &str = "Joint forces and moments are net internal loads: they act on the distal segment by the proximal one, moments about the joint centre. \
World axes: X forward, Y up, Z to the right (Wu & Cavanagh 1995). Components along joint axes are dot products.";

/// Also what `armload moments --json` prints. Missing numbers are null. Names are only ever added.
#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
#[schemars(title = "summary.json of armload moments")]
pub struct Summary<'a> {
    /// Version of the program.
    armload: &'static str,
    /// trial.id of the sheet.
    trial: &'a str,
    /// What joint forces and moments mean, and in which axes.
    statement: &'static str,
    /// What the numbers are not for.
    cautions: &'static str,
    /// The findings as sentences, for a coach.
    in_words: Vec<String>,
    /// The marker file and the frames in use.
    recording: RecordingUsed,
    /// As the sheet states it.
    participant: Person,
    /// The table of segment inertia with its source and status.
    anthropometry: TableUsed,
    /// m/s²
    gravity_m_s2: f64,
    /// Filter, effective cutoff in Hz, and how an automatic one was chosen.
    smoothing: Smoothing<'a>,
    /// Each point in use: gaps filled and left.
    points: Vec<Point<'a>>,
    /// Each calibrated cluster: registration residuals and landmarks rebuilt.
    clusters: Vec<Cluster<'a>>,
    /// Findings of each arm. Units stand at the end of each name; peaks and holds are about the flexion axis, flexion
    /// +, unless they say otherwise.
    arms: Vec<Arm<'a>>,
    /// What peaks change by if something is a little different, if asked for: one an arm.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    sensitivity: &'a [ArmSensitivity],
    /// How sure figures are, if asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    uncertainty: Option<Uncertain<'a>>,
    /// What is worth knowing; kind is stable, text is for people; further keys by kind.
    warnings: Vec<Told<'a>>,
    /// Every value used, with where it came from.
    settings: Vec<Setting<'a>>,
    /// Unit and meaning of each column of moments.csv and muscles.csv, by its name without the side; `*` stands for a
    /// muscle.
    quantities: BTreeMap<&'static str, Quantity>,
    /// Meaning of each word in the column quality.
    quality_flags: BTreeMap<&'static str, &'static str>,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct RecordingUsed {
    file: String,
    rate_hz: f64,
    frames: usize,
    /// Stretches in which nothing was recorded.
    pauses: Vec<Span>,
    from_s: Option<f64>,
    to_s: Option<f64>,
    /// How far a time of the file is from the even grid, at most.
    largest_time_jitter_s: f64,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Person {
    sex: Option<&'static str>,
    body_mass_kg: f64,
    stature_m: Option<f64>,
    /// standing, seated, supine, prone, leaning, or the trunk's long axis in lab axes.
    posture: Option<String>,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct TableUsed {
    table: &'static str,
    source: &'static str,
    status: &'static str,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Smoothing<'a> {
    /// butterworth, spline, rigid, linked or none.
    method: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    what: Option<&'static str>,
    /// Effective -3 dB point; of splines the one of the low-pass that would err least by the same noise and movement.
    #[serde(skip_serializing_if = "Option::is_none")]
    cutoff_hz: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    residual_analysis: Option<MarkerAnalysis<'a>>,
    /// What cutoffs are expected to err by, if that chose.
    #[serde(skip_serializing_if = "Option::is_none")]
    expected_error: Option<ExpectedError>,
    /// Ways of smoothing, judged by cluster markers that they have not seen.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    judged: &'a [JudgedBody],
    /// Elbow centres as the clusters on both sides see them.
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    elbows: &'a [ElbowSeenTwice],
    /// What splines found of each coordinate.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    splines: Vec<SplineCurve<'a>>,
    /// Arms that were smoothed as linked segments.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    linked: Vec<LinkedArm>,
    /// Recorded series of loads.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    of_load_files: Vec<LoadFile<'a>>,
}

/// An arm that was smoothed as linked segments.
#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct LinkedArm {
    side: Side,
    /// What markers stand off the linked arm by, over their white noise.
    noise_times: f64,
    /// How that goes with the frame before: about 0 for noise, 1 for skin.
    lag_1: f64,
    /// The elbow that the linked arm turns about, from the elbow centre of the sheet; axes of the upper arm (forwards, towards
    /// the shoulder, outwards).
    elbow_off_mm: [f64; 3],
    /// The wrist that the hand turns about, from the wrist centre of the sheet; axes of the forearm.
    wrist_off_mm: [f64; 3],
    /// Largest elbow flexion moment if it were about that elbow.
    #[serde(skip_serializing_if = "Option::is_none")]
    elbow_peak_about_fitted_n_m: Option<f64>,
}

/// The choice of the cutoff by the least expected error of the accelerations from the elbow on.
#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct ExpectedError {
    /// Where it is least, before bounds.
    asked_hz: f64,
    bounds_hz: [f64; 2],
    tried: Vec<TriedCutoff>,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct TriedCutoff {
    cutoff_hz: f64,
    /// Acceleration of the movement that it takes away, RMS.
    taken_m_s2: f64,
    /// Acceleration of the noise that it leaves, RMS.
    left_m_s2: f64,
}

/// Intervals of figures.
#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Uncertain<'a> {
    /// How often noise and skin were drawn.
    draws: usize,
    /// What chance began with.
    seed: u64,
    figures: Vec<UncertainFigure<'a>>,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct UncertainFigure<'a> {
    side: Side,
    /// elbow_peak, shoulder_peak, muscle_force_peak (all muscles of the elbow together), contact_force_peak, muscle_peak,
    /// hold, repetition_peak or repetition_work (that of its lift, generated).
    figure: &'static str,
    /// Number of the hold or repetition, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    number: Option<usize>,
    /// Of a muscle: its name.
    #[serde(skip_serializing_if = "Option::is_none")]
    muscle: Option<&'a str>,
    /// N·m, N or J.
    unit: &'static str,
    value: f64,
    /// Half of the 95 % interval.
    half_95: f64,
    /// Share of each source in its square.
    shares: BTreeMap<&'static str, f64>,
}

/// One figure with its interval.
fn uncertain_figure<'a>(arm: &'a results::ArmBands, f: &results::Figure) -> UncertainFigure<'a> {
    let (figure, number, unit) = f.of.named();
    let muscle = match f.of {
        results::FigureOf::Muscle(i) => arm.muscles.get(i).map(String::as_str),
        _ => None,
    };
    UncertainFigure {
        side: arm.side,
        figure,
        number: number.filter(|_| muscle.is_none()),
        muscle,
        unit,
        value: f.value,
        half_95: f.half,
        shares: results::GROUPS
            .into_iter()
            .zip(f.shares.iter().copied())
            .collect(),
    }
}

fn uncertain(u: &results::Uncertainty) -> Uncertain<'_> {
    let figures = u
        .arms
        .iter()
        .flat_map(|arm| arm.figures.iter().map(move |f| uncertain_figure(arm, f)));
    Uncertain {
        draws: u.draws,
        seed: u.seed,
        figures: figures.collect(),
    }
}

/// Residual analysis: it chose the cutoff, or stands beside what did.
#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct MarkerAnalysis<'a> {
    /// What it asks for, before bounds.
    asked_hz: f64,
    quantile: f64,
    bounds_hz: [f64; 2],
    coordinates: Vec<MarkerCurve<'a>>,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct MarkerCurve<'a> {
    name: &'a str,
    noise_mm: f64,
    cutoff_hz: f64,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct SplineCurve<'a> {
    name: &'a str,
    noise_mm: f64,
    /// Frequency of which the curve keeps half the power.
    half_power_hz: f64,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct LoadFile<'a> {
    load: &'a str,
    file: &'a str,
    rate_hz: f64,
    cutoff_hz: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    residual_analysis: Option<SeriesAnalysis<'a>>,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct SeriesAnalysis<'a> {
    /// What it asks for, before bounds.
    asked_hz: f64,
    series: Vec<SeriesCurve<'a>>,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct SeriesCurve<'a> {
    name: &'a str,
    /// In the unit of the series.
    noise: f64,
    cutoff_hz: f64,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Point<'a> {
    name: &'a str,
    filled_gaps: usize,
    filled_frames: usize,
    gaps_left: usize,
    missing_frames: usize,
    frames_too_short_to_smooth: usize,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Cluster<'a> {
    name: &'a str,
    registered_frames: usize,
    frames_with_too_few_markers: usize,
    residual_rms_mm: f64,
    residual_max_mm: f64,
    markers_rebuilt: Vec<Rebuilt<'a>>,
    /// Landmarks that got their places from it.
    rebuilt: Vec<Rebuilt<'a>>,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Rebuilt<'a> {
    point: &'a str,
    frames: usize,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Arm<'a> {
    #[serde(flatten)]
    found: &'a ArmFindings,
    /// How the joint centre was found.
    shoulder_centre: &'a str,
    /// How the joint centre was found.
    elbow_centre: &'a str,
    /// How the joint centre was found.
    wrist_centre: &'a str,
    functional_fits: &'a [FunctionalFit],
    segments: Vec<&'a Rigid>,
    loads: Vec<Load<'a>>,
    /// Whose force and moment arm are given.
    flexor: String,
    energy_audit: Option<EnergyAudit>,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Load<'a> {
    label: &'a str,
    /// The load in words.
    is: &'a str,
    /// Mass whose weight is on this hand; null for what is no weight.
    mass_on_hand_kg: Option<f64>,
    /// Mass of the whole thing: of a bar in both hands more than what is on this one.
    mass_in_all_kg: Option<f64>,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct EnergyAudit {
    rms_w: f64,
    peak_power_w: f64,
    rms_relative_to_peak: f64,
    meaning: &'static str,
}

/// A warning as it is told.
#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Told<'a> {
    #[serde(flatten)]
    warning: &'a Warning,
    /// For people.
    text: String,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Setting<'a> {
    key: &'a str,
    /// As TOML has it; a default that means 'nothing' is null.
    value: &'a Value,
    /// sheet, included file, command line or default.
    source: &'static str,
    /// Of an included file: its path.
    #[serde(skip_serializing_if = "Option::is_none")]
    file: Option<&'a str>,
    /// Of a default: why it is that.
    #[serde(skip_serializing_if = "Option::is_none")]
    why: Option<&'a str>,
}

#[derive(Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Quantity {
    unit: &'static str,
    meaning: &'static str,
}

/// JSON Schema (draft 2020-12) of `summary.json`: closed at every level; any number may be null, where it is not
/// known.
pub fn schema() -> Schema {
    let mut schema = schemars::generate::SchemaSettings::draft2020_12()
        .for_serialize()
        .with_transform(RecursiveTransform(missing_is_null))
        .into_generator()
        .into_root_schema_for::<Summary<'static>>();
    schema.remove("$comment");
    schema
}

/// A number that is not known is null.
fn missing_is_null(schema: &mut Schema) {
    if schema.get("type") == Some(&json!("number")) {
        schema.insert("type".to_owned(), json!(["number", "null"]));
    }
}

/// A number for JSON: six decimals or nine significant digits, missing is null.
fn number(x: f64) -> Value {
    if !x.is_finite() {
        return Value::Null;
    }
    // + 0.0 turns -0 into 0
    let rounded = (x * 1e6).round() / 1e6 + 0.0;
    let nine: f64 = format!("{x:.8e}").parse().unwrap_or(x);
    json!(if (rounded - x).abs() <= (nine - x).abs() {
        rounded
    } else {
        nine
    })
}

/// Rounds every number of a tree.
pub(super) fn tidy(value: Value) -> Value {
    match value {
        Value::Number(n) if n.is_f64() => number(n.as_f64().unwrap_or(f64::NAN)),
        Value::Array(a) => a.into_iter().map(tidy).collect(),
        Value::Object(o) => Value::Object(o.into_iter().map(|(k, v)| (k, tidy(v))).collect()),
        other => other,
    }
}

/// The whole summary as `summary.json` has it.
pub fn json(sheet: &TrialSheet, results: &TrialResults, findings: &[ArmFindings]) -> Value {
    let value = serde_json::to_value(summary(sheet, results, findings));
    tidy(value.expect("a summary has text keys and numbers only, so serde_json can write it"))
}

/// The whole summary.
pub fn summary<'a>(
    sheet: &'a TrialSheet,
    results: &'a TrialResults,
    findings: &'a [ArmFindings],
) -> Summary<'a> {
    let table = sheet.model.table;
    let person = &sheet.participant;
    Summary {
        armload: env!("CARGO_PKG_VERSION"),
        trial: &sheet.trial.id,
        statement: STATEMENT,
        cautions: CAUTIONS,
        in_words: in_words(sheet, results, findings),
        recording: RecordingUsed {
            file: sheet.markers.file.display().to_string(),
            rate_hz: results.rate_hz,
            frames: results.rows(),
            pauses: results
                .pauses
                .iter()
                .map(|&(from_s, to_s)| Span { from_s, to_s })
                .collect(),
            from_s: results.time_s.first().copied(),
            to_s: results.time_s.last().copied(),
            largest_time_jitter_s: results.jitter_s,
        },
        participant: Person {
            sex: person.sex.map(|s| s.name()),
            body_mass_kg: person.body_mass_kg,
            stature_m: person.stature_m,
            posture: person.posture.map(|p| p.name()),
        },
        anthropometry: TableUsed {
            table: table.name,
            source: table.source,
            status: table.status,
        },
        gravity_m_s2: sheet.model.gravity_m_s2,
        smoothing: smoothing(&results.smoothing),
        points: results.points.iter().map(point).collect(),
        clusters: results.clusters.iter().map(cluster).collect(),
        arms: results
            .arms
            .iter()
            .zip(findings)
            .map(|(arm, found)| self::arm(sheet, arm, found))
            .collect(),
        sensitivity: &results.sensitivity,
        uncertainty: results.uncertainty.as_ref().map(uncertain),
        warnings: results
            .warnings
            .iter()
            .map(|warning| Told {
                warning,
                text: warning.to_string(),
            })
            .collect(),
        settings: results.settings.iter().map(setting).collect(),
        quantities: quantities(results),
        quality_flags: flag::NAMES
            .iter()
            .map(|&(_, name, meaning)| (name, meaning))
            .collect(),
    }
}

/// Unit and meaning of each column, those of bands among them if there are any.
fn quantities(results: &TrialResults) -> BTreeMap<&'static str, Quantity> {
    let banded = tables::BANDED.iter().filter(|_| results.uncertainty.is_some());
    let of_bands = banded.map(|&(name, meaning)| {
        (
            name,
            Quantity {
                unit: "N·m", meaning
            },
        )
    });
    let banded_muscles = tables::BANDED_MUSCLES
        .iter()
        .filter(|_| results.uncertainty.is_some());
    let assumed = results.arms.iter().any(|a| a.muscles.of.cocontraction > 0.0);
    let of_muscles = tables::OF_MUSCLE
        .iter()
        .chain(&tables::OF_ELBOW)
        .chain(banded_muscles)
        .chain(tables::OF_COCONTRACTION.iter().filter(|_| assumed))
        .map(|&(name, meaning)| {
            (
                name,
                Quantity {
                    unit: unit_of(name),
                    meaning,
                },
            )
        });
    let written = QUANTITIES.iter().filter(|q| q.written);
    let of_all = written.map(|q| {
        let (unit, meaning) = (q.unit.words(), q.meaning);
        (q.name, Quantity { unit, meaning })
    });
    of_all.chain(of_bands).chain(of_muscles).collect()
}

/// Unit of a column, which stands at the end of its name.
fn unit_of(name: &str) -> &'static str {
    [("_n_cm2", "N/cm²"), ("_percent", "%"), ("_m", "m"), ("_n", "N")]
        .iter()
        .find(|u| name.ends_with(u.0))
        .map_or("", |u| u.1)
}

fn setting(s: &keys::Setting) -> Setting<'_> {
    let (source, file, why) = match &s.source {
        SourceOfValue::Sheet => ("sheet", None, None),
        SourceOfValue::Included(file) => ("included file", Some(file.as_str()), None),
        SourceOfValue::CommandLine => ("command line", None, None),
        SourceOfValue::Default(why) => ("default", None, Some(why.as_str())),
    };
    Setting {
        key: &s.key,
        value: &s.value,
        source,
        file,
        why,
    }
}

const BY_LOW_PASS: &str =
    "zero-lag, second order forward and backward; the cutoff is the effective -3 dB point of both";
const BY_POSES: &str = "smoothing splines of the poses of clusters and segments, and of each coordinate of other points: quintic, fourth differences, noise and smoothness by restricted maximum likelihood; markers weighed by their own noise";
const BY_JOINTS: &str = "an arm as linked segments: curves of the shoulder's place and of the turns of upper arm, elbow and wrist (quintic, fourth differences of an intensity that changes in time), through all of its markers at once, each weighed by its own noise; a smoothing spline for each coordinate of other points";
const BY_SPLINES: &str = "a smoothing spline for each coordinate alone: quintic, fourth differences, noise and smoothness by restricted maximum likelihood";

fn smoothing(done: &results::Smoothing) -> Smoothing<'_> {
    let filtered = done.cutoff_hz.is_some();
    let analysis = done.analysis.as_ref().filter(|_| filtered);
    let (method, what) = match (&done.splines, filtered) {
        (Some(_), _) if done.method == Method::Rigid => (done.method.word(), Some(BY_POSES)),
        (Some(_), _) if done.method == Method::Linked => (done.method.word(), Some(BY_JOINTS)),
        (Some(_), _) => (done.method.word(), Some(BY_SPLINES)),
        (None, true) => ("butterworth", Some(BY_LOW_PASS)),
        (None, false) => ("none", None),
    };
    let splines = done.splines.iter().flatten();
    Smoothing {
        method,
        what,
        judged: &done.judged,
        elbows: &done.elbows,
        splines: splines
            .map(|s| SplineCurve {
                name: &s.name,
                noise_mm: s.noise_m * 1e3,
                half_power_hz: s.half_power_hz,
            })
            .collect(),
        linked: done
            .linked
            .iter()
            .map(|a| LinkedArm {
                side: a.side,
                noise_times: a.noise_times,
                lag_1: a.lag_1,
                elbow_off_mm: a.elbow_off_m.map(|m| m * 1e3),
                wrist_off_mm: a.wrist_off_m.map(|m| m * 1e3),
                elbow_peak_about_fitted_n_m: Some(a.elbow_peak_about_fitted_n_m).filter(|m| m.is_finite()),
            })
            .collect(),
        cutoff_hz: done.cutoff_hz,
        residual_analysis: analysis.map(|a| MarkerAnalysis {
            asked_hz: a.asked_hz,
            quantile: residual::QUANTILE,
            bounds_hz: [residual::BOUNDS_HZ.0, residual::BOUNDS_HZ.1],
            coordinates: a
                .curves
                .iter()
                .map(|c| MarkerCurve {
                    name: &c.name,
                    noise_mm: c.noise * 1e3,
                    cutoff_hz: c.cutoff_hz,
                })
                .collect(),
        }),
        expected_error: done.choice.as_ref().map(|c| ExpectedError {
            asked_hz: c.asked_hz,
            bounds_hz: [residual::BOUNDS_HZ.0, residual::BOUNDS_HZ.1],
            tried: c
                .tried
                .iter()
                .map(|t| TriedCutoff {
                    cutoff_hz: t.cutoff_hz,
                    taken_m_s2: t.taken_m_s2,
                    left_m_s2: t.left_m_s2,
                })
                .collect(),
        }),
        of_load_files: done.signals.iter().map(load_file).collect(),
    }
}

fn load_file(s: &SignalSmoothing) -> LoadFile<'_> {
    LoadFile {
        load: &s.load,
        file: &s.file,
        rate_hz: s.rate_hz,
        cutoff_hz: s.cutoff_hz,
        residual_analysis: s.analysis.as_ref().map(|a| SeriesAnalysis {
            asked_hz: a.asked_hz,
            series: a
                .curves
                .iter()
                .map(|c| SeriesCurve {
                    name: &c.name,
                    noise: c.noise,
                    cutoff_hz: c.cutoff_hz,
                })
                .collect(),
        }),
    }
}

fn point(p: &PointReport) -> Point<'_> {
    Point {
        name: &p.name,
        filled_gaps: p.gaps.filled.len(),
        filled_frames: p.gaps.filled.iter().map(|g| g.len()).sum(),
        gaps_left: p.gaps.left.len(),
        missing_frames: p.gaps.left.iter().map(|g| g.len()).sum(),
        frames_too_short_to_smooth: p.short_frames,
    }
}

fn cluster(c: &ClusterReport) -> Cluster<'_> {
    let (registered_frames, rms_m, max_m) = c.residual();
    Cluster {
        name: &c.name,
        registered_frames,
        frames_with_too_few_markers: c.frames - registered_frames,
        residual_rms_mm: rms_m * 1e3,
        residual_max_mm: max_m * 1e3,
        markers_rebuilt: rebuilt_points(&c.markers_rebuilt),
        rebuilt: rebuilt_points(&c.rebuilt),
    }
}

fn rebuilt_points(points: &[(String, usize)]) -> Vec<Rebuilt<'_>> {
    points
        .iter()
        .map(|(point, frames)| Rebuilt {
            point,
            frames: *frames,
        })
        .collect()
}

fn arm<'a>(sheet: &'a TrialSheet, arm: &'a ArmResults, found: &'a ArmFindings) -> Arm<'a> {
    let of_side = sheet.loads.iter().filter(|l| l.side == arm.side);
    let load = |(label, words): &'a (String, String)| {
        let kind = of_side
            .clone()
            .find(|l| l.label == *label)
            .and_then(|l| l.kind.as_ref());
        Load {
            label,
            is: words,
            mass_on_hand_kg: kind.and_then(|k| k.weight_kg()),
            mass_in_all_kg: kind.and_then(|k| k.bar().map(|b| b.mass_kg).or(k.weight_kg())),
        }
    };
    let body = &arm.body;
    let segments = [Some(&body.upper_arm), Some(&body.forearm), body.hand.as_ref()];
    Arm {
        found,
        shoulder_centre: &arm.centres.shoulder,
        elbow_centre: &arm.centres.elbow,
        wrist_centre: &arm.centres.wrist,
        functional_fits: &arm.centres.fits,
        segments: segments.into_iter().flatten().collect(),
        loads: arm.loads.iter().map(load).collect(),
        flexor: sheet.muscles.words(),
        energy_audit: arm.audit.as_ref().map(energy_audit),
    }
}

fn energy_audit(a: &Audit) -> EnergyAudit {
    EnergyAudit {
        rms_w: a.rms_w,
        peak_power_w: a.peak_power_w,
        rms_relative_to_peak: a.relative(),
        meaning: "rate of kinetic and potential energy of forearm, hand and load against the power put into them by elbow, wrist and other forces",
    }
}
