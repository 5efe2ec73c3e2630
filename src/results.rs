//! The results of one trial: every quantity over time, and what was found in it.

pub mod muscles;

use crate::anatomy::arm::CentreNotes;
use crate::anatomy::body::ArmBody;
use crate::ground::form::keys::Setting;
use crate::ground::median;
use crate::ground::names::{Joint, Side};
use crate::ground::warning::Warning;
use crate::phases::Phases;
use crate::points::clusters::ClusterReport;
use crate::smoothing::choice::Choice;
use crate::smoothing::judge::JudgedBody;
use crate::smoothing::residual::ResidualAnalysis;
pub use crate::smoothing::scene::PointReport;
use crate::smoothing::settings::Method;
use crate::smoothing::{lowpass, spline};
use ndarray::Array2;
use schemars::JsonSchema;
use serde::Serialize;
use std::cmp::Ordering;
use std::ops::Range;

/// Unit a quantity is written in; inside everything is SI.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Inside rad.
    Degrees,
    /// Inside rad/s.
    DegreesPerSecond,
    /// N
    Newtons,
    /// N·m
    NewtonMetres,
    /// W
    Watts,
    /// m
    Metres,
    /// m/s
    MetresPerSecond,
    /// J
    Joules,
}

impl Unit {
    /// What the value inside is multiplied by on the way out.
    pub fn scale(self) -> f64 {
        match self {
            Unit::Degrees | Unit::DegreesPerSecond => 180.0 / std::f64::consts::PI,
            _ => 1.0,
        }
    }
    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Unit::Degrees => "°",
            Unit::DegreesPerSecond => "°/s",
            Unit::Newtons => "N",
            Unit::NewtonMetres => "N·m",
            Unit::Watts => "W",
            Unit::Metres => "m",
            Unit::MetresPerSecond => "m/s",
            Unit::Joules => "J",
        }
    }
}

/// A quantity of one arm.
pub struct Quantity {
    /// Name of its column without the side.
    pub name: &'static str,
    /// Unit.
    pub unit: Unit,
    /// Whether `moments.csv` carries it.
    pub written: bool,
    /// What has to be known of the arm for it.
    pub needs: Needs,
    /// What it means: of what, on whom, about what, resolved in what, positive sense.
    pub meaning: &'static str,
}

/// What has to be known of the arm in a frame for a quantity to have a value there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Needs {
    /// Where everything is: also given in stretches that are too short to smooth and differentiate.
    Posture,
    /// How everything moves, too.
    Motion,
}

/// What a line of [`quantities`] says beside name, unit and meaning; a quantity needs the motion unless it
/// says `Posture`.
macro_rules! needs {
    () => {
        Needs::Motion
    };
    ($needs:ident) => {
        Needs::$needs
    };
}

macro_rules! quantities {
    ($($id:ident = $name:literal, $unit:ident, $written:literal, $($needs:ident,)? $meaning:literal;)*) => {
        #[allow(non_camel_case_types, clippy::upper_case_acronyms)]
        enum Index { $($id,)* }
        $(#[doc = $meaning] pub const $id: usize = Index::$id as usize;)*
        /// Every quantity, in the order of the rows of [`ArmResults::data`].
        pub static QUANTITIES: &[Quantity] = &[$(Quantity { name: $name, unit: Unit::$unit, written: $written, needs: needs!($($needs)?), meaning: $meaning },)*];
    };
}

quantities! {
    ELBOW_FLEXION = "elbow.flexion_deg", Degrees, true, Posture, "elbow flexion: Cardan Z-X-Y of forearm in upper arm, first angle, flexion +; with joint centres only the angle between the long axes";
    ELBOW_CARRYING = "elbow.carrying_deg", Degrees, true, Posture, "carrying angle: Cardan Z-X-Y, second angle about the floating axis, valgus -";
    ELBOW_PRONATION = "elbow.pronation_deg", Degrees, true, Posture, "pronation: Cardan Z-X-Y, third angle about the forearm's Y, pronation +";
    SHOULDER_PLANE = "shoulder.plane_of_elevation_deg", Degrees, true, Posture, "plane of elevation: Euler Y-X-Y of upper arm in trunk, first angle; empty within 10° of elevation 0° or 180°";
    SHOULDER_ELEVATION = "shoulder.elevation_deg", Degrees, true, Posture, "elevation: Euler Y-X-Y, second angle, negative for a raised arm";
    SHOULDER_AXIAL = "shoulder.axial_rotation_deg", Degrees, true, Posture, "axial rotation: Euler Y-X-Y, third angle, internal +; empty within 10° of elevation 0° or 180°";
    WRIST_FORCE_X = "wrist.force_x_n", Newtons, true, "net force on the hand by the forearm, world X (forward)";
    WRIST_FORCE_Y = "wrist.force_y_n", Newtons, true, "net force on the hand by the forearm, world Y (up)";
    WRIST_FORCE_Z = "wrist.force_z_n", Newtons, true, "net force on the hand by the forearm, world Z (right)";
    WRIST_MOMENT_X = "wrist.moment_x_n_m", NewtonMetres, true, "net moment on the hand by the forearm about the wrist centre, world X";
    WRIST_MOMENT_Y = "wrist.moment_y_n_m", NewtonMetres, true, "net moment on the hand by the forearm about the wrist centre, world Y";
    WRIST_MOMENT_Z = "wrist.moment_z_n_m", NewtonMetres, true, "net moment on the hand by the forearm about the wrist centre, world Z";
    ELBOW_FORCE_X = "elbow.force_x_n", Newtons, true, "net force on the forearm by the upper arm, world X (forward)";
    ELBOW_FORCE_Y = "elbow.force_y_n", Newtons, true, "net force on the forearm by the upper arm, world Y (up)";
    ELBOW_FORCE_Z = "elbow.force_z_n", Newtons, true, "net force on the forearm by the upper arm, world Z (right)";
    ELBOW_MOMENT_X = "elbow.moment_x_n_m", NewtonMetres, true, "net moment on the forearm by the upper arm about the elbow centre, world X";
    ELBOW_MOMENT_Y = "elbow.moment_y_n_m", NewtonMetres, true, "net moment on the forearm by the upper arm about the elbow centre, world Y";
    ELBOW_MOMENT_Z = "elbow.moment_z_n_m", NewtonMetres, true, "net moment on the forearm by the upper arm about the elbow centre, world Z";
    SHOULDER_FORCE_X = "shoulder.force_x_n", Newtons, true, "net force on the upper arm by the trunk, world X (forward)";
    SHOULDER_FORCE_Y = "shoulder.force_y_n", Newtons, true, "net force on the upper arm by the trunk, world Y (up)";
    SHOULDER_FORCE_Z = "shoulder.force_z_n", Newtons, true, "net force on the upper arm by the trunk, world Z (right)";
    SHOULDER_MOMENT_X = "shoulder.moment_x_n_m", NewtonMetres, true, "net moment on the upper arm by the trunk about the shoulder centre, world X";
    SHOULDER_MOMENT_Y = "shoulder.moment_y_n_m", NewtonMetres, true, "net moment on the upper arm by the trunk about the shoulder centre, world Y";
    SHOULDER_MOMENT_Z = "shoulder.moment_z_n_m", NewtonMetres, true, "net moment on the upper arm by the trunk about the shoulder centre, world Z";
    ELBOW_FLEXION_MOMENT = "elbow.flexion_moment_n_m", NewtonMetres, true, "component of the elbow moment along the upper arm's Z (dot product), flexion +";
    ELBOW_CARRYING_MOMENT = "elbow.carrying_moment_n_m", NewtonMetres, true, "component of the elbow moment along the floating axis Yf x Zu (dot product)";
    ELBOW_PRONATION_MOMENT = "elbow.pronation_moment_n_m", NewtonMetres, true, "component of the elbow moment along the forearm's Y (dot product), pronation +";
    SHOULDER_ABDUCTION_MOMENT = "shoulder.abduction_moment_n_m", NewtonMetres, true, "minus the component of the shoulder moment along the trunk's X: + raises the arm sideways";
    SHOULDER_HORIZONTAL_MOMENT = "shoulder.horizontal_moment_n_m", NewtonMetres, true, "component of the shoulder moment along the trunk's Y: + swings a raised arm forwards";
    SHOULDER_FLEXION_MOMENT = "shoulder.flexion_moment_n_m", NewtonMetres, true, "component of the shoulder moment along the trunk's Z: + raises the arm forwards";
    SHOULDER_AXIAL_MOMENT = "shoulder.axial_moment_n_m", NewtonMetres, true, "component of the shoulder moment along the upper arm's Y, internal +";
    SHOULDER_ELEVATION_MOMENT = "shoulder.elevation_moment_n_m", NewtonMetres, true, "component of the shoulder moment about the floating axis of the elevation angle (at right angles to the trunk's Y and the upper arm's Y): + raises the arm in the plane it is in; empty within 10° of elevation 0° or 180°";
    ELBOW_STATIC_FLEXION_MOMENT = "elbow.static_flexion_moment_n_m", NewtonMetres, true, Posture, "static part of elbow.flexion_moment: same posture and recorded forces, no motion";
    SHOULDER_STATIC_FLEXION_MOMENT = "shoulder.static_flexion_moment_n_m", NewtonMetres, true, Posture, "static part of shoulder.flexion_moment";
    WRIST_STATIC_MOMENT_X = "wrist.static_moment_x_n_m", NewtonMetres, true, Posture, "static part of wrist.moment_x";
    WRIST_STATIC_MOMENT_Y = "wrist.static_moment_y_n_m", NewtonMetres, true, Posture, "static part of wrist.moment_y";
    WRIST_STATIC_MOMENT_Z = "wrist.static_moment_z_n_m", NewtonMetres, true, Posture, "static part of wrist.moment_z";
    ELBOW_STATIC_MOMENT_X = "elbow.static_moment_x_n_m", NewtonMetres, true, Posture, "static part of elbow.moment_x";
    ELBOW_STATIC_MOMENT_Y = "elbow.static_moment_y_n_m", NewtonMetres, true, Posture, "static part of elbow.moment_y";
    ELBOW_STATIC_MOMENT_Z = "elbow.static_moment_z_n_m", NewtonMetres, true, Posture, "static part of elbow.moment_z";
    SHOULDER_STATIC_MOMENT_X = "shoulder.static_moment_x_n_m", NewtonMetres, true, Posture, "static part of shoulder.moment_x";
    SHOULDER_STATIC_MOMENT_Y = "shoulder.static_moment_y_n_m", NewtonMetres, true, Posture, "static part of shoulder.moment_y";
    SHOULDER_STATIC_MOMENT_Z = "shoulder.static_moment_z_n_m", NewtonMetres, true, Posture, "static part of shoulder.moment_z";
    WRIST_POWER = "wrist.power_w", Watts, true, "wrist moment times (hand minus forearm angular velocity): + generates";
    ELBOW_POWER = "elbow.power_w", Watts, true, "elbow moment times (forearm minus upper-arm angular velocity): + generates";
    SHOULDER_POWER = "shoulder.power_w", Watts, true, "shoulder moment times (upper-arm minus trunk angular velocity): + generates";
    WRIST_FLEXION = "wrist.flexion_deg", Degrees, true, Posture, "wrist flexion: Cardan Z-X-Y of hand in forearm, first angle, palmar +";
    WRIST_DEVIATION = "wrist.deviation_deg", Degrees, true, Posture, "wrist deviation: Cardan Z-X-Y, second angle, ulnar +";
    FLEXOR_FORCE = "flexor_force_n", Newtons, true, "force of the equivalent elbow flexor that carries elbow.flexion_moment, of several the sum of those that flex (estimate); 0 where the net moment extends";
    FLEXOR_MOMENT_ARM = "flexor_moment_arm_m", Metres, true, Posture, "moment arm of the equivalent flexor; of several the moment that they give together over the sum of their forces";
    FLEXION_VELOCITY = "elbow.flexion_velocity_deg_s", DegreesPerSecond, false, "rate of elbow flexion";
    TURNING = "forearm.turning_deg_s", DegreesPerSecond, false, "angular velocity of the forearm in the world along the upper arm's Z";
    REST_TURNING = "rest.turning_deg_s", DegreesPerSecond, false, "angular speed in the world of upper arm or forearm, the larger one, by slopes over a short window";
    REST_SPEED = "rest.speed_m_s", MetresPerSecond, false, "speed in the world of elbow centre or grip, the larger one, by slopes over a short window";
    LOAD_TRAVEL = "load.travel_m", Metres, false, "way of the load against the force that it puts on the hand at rest; its zero means nothing";
    LOAD_TRAVEL_SPEED = "load.travel_speed_m_s", MetresPerSecond, false, "rate of load.travel, by slopes over a short window";
    RECORDED_FORCE = "load.recorded_force_n", Newtons, false, "size of the sum of the recorded forces on the hand";
    ELBOW_TURNED_FLEXION_MOMENT = "elbow.turned_flexion_moment_n_m", NewtonMetres, false, "elbow.flexion_moment if the arm has a carrying angle of 10° that nobody measured; only where the flexion axis comes from joint centres";
    ELBOW_STATIC_LOAD = "elbow.static_load_n_m", NewtonMetres, false, Posture, "share of the loads in elbow.static_flexion_moment";
    SHOULDER_STATIC_LOAD = "shoulder.static_load_n_m", NewtonMetres, false, Posture, "share of the loads in shoulder.static_flexion_moment";
    SHOULDER_STATIC_ABDUCTION = "shoulder.static_abduction_moment_n_m", NewtonMetres, false, Posture, "static part of shoulder.abduction_moment";
    SHOULDER_STATIC_HORIZONTAL = "shoulder.static_horizontal_moment_n_m", NewtonMetres, false, Posture, "static part of shoulder.horizontal_moment";
    SHOULDER_STATIC_AXIAL = "shoulder.static_axial_moment_n_m", NewtonMetres, false, Posture, "static part of shoulder.axial_moment";
    SHOULDER_STATIC_ELEVATION = "shoulder.static_elevation_moment_n_m", NewtonMetres, false, Posture, "static part of shoulder.elevation_moment";
    ENERGY_RATE = "system.energy_rate_w", Watts, false, "rate of kinetic and potential energy of forearm, hand and load";
    POWER_IN = "system.power_in_w", Watts, false, "power that elbow, wrist and other external forces put into forearm, hand and load";
}

/// Row of a joint's vector quantity: the first of three.
pub fn first_row(joint: Joint, of: VectorOf) -> usize {
    match (joint, of) {
        (Joint::Wrist, VectorOf::Force) => WRIST_FORCE_X,
        (Joint::Wrist, VectorOf::Moment) => WRIST_MOMENT_X,
        (Joint::Wrist, VectorOf::StaticMoment) => WRIST_STATIC_MOMENT_X,
        (Joint::Elbow, VectorOf::Force) => ELBOW_FORCE_X,
        (Joint::Elbow, VectorOf::Moment) => ELBOW_MOMENT_X,
        (Joint::Elbow, VectorOf::StaticMoment) => ELBOW_STATIC_MOMENT_X,
        (Joint::Shoulder, VectorOf::Force) => SHOULDER_FORCE_X,
        (Joint::Shoulder, VectorOf::Moment) => SHOULDER_MOMENT_X,
        (Joint::Shoulder, VectorOf::StaticMoment) => SHOULDER_STATIC_MOMENT_X,
    }
}

/// Vector quantities a joint has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum VectorOf {
    /// Net force.
    Force,
    /// Net moment.
    Moment,
    /// Its static part.
    StaticMoment,
}

/// Additional columns of `details.csv`: a name without side, a unit, values in SI.
pub type DetailColumn = (String, Vec<f64>);

/// Results of one arm.
pub struct ArmResults {
    /// Which arm.
    pub side: Side,
    /// Segments used.
    pub body: ArmBody,
    /// Whether the hand is its own segment (wrist columns exist).
    pub has_wrist: bool,
    /// How the joint centres were found.
    pub centres: CentreNotes,
    /// Loads, one line each: label and words.
    pub loads: Vec<(String, String)>,
    /// Quantities over time, SI; missing is NaN. Shape: one row for each of [`QUANTITIES`], one column a
    /// frame.
    pub data: Array2<f64>,
    /// Phases.
    pub phases: Phases,
    /// Quality flags of every frame, see [`flag`].
    pub flags: Vec<flag::Flags>,
    /// Moments in segment axes and static shares, if asked for.
    pub details: Vec<DetailColumn>,
    /// Where joints and loads stood, if asked for.
    pub positions: Option<Positions>,
    /// What muscles do over time.
    pub muscles: muscles::MuscleSeries,
    /// Energy audit.
    pub audit: Option<Audit>,
    /// Standard deviation of the upper arm's, forearm's and hand's length over the trial, m.
    pub length_sd_m: [f64; 3],
    /// Flexion from which on joint centres alone tell the flexion axis, rad; `None` where something else
    /// does.
    pub axis_trusted_from: Option<f64>,
}

/// Frame with the largest value by size among those known.
pub fn largest(series: &[f64], frames: impl Iterator<Item = usize>) -> Option<usize> {
    frames
        .filter(|f| series[*f].is_finite())
        .max_by(|a, b| series[*a].abs().total_cmp(&series[*b].abs()))
}

impl ArmResults {
    /// Frame of a range with the largest value by size, away from frames that are less to be trusted (ends of a stretch,
    /// where smoothing knows less; exchanged labels); there only if there is nothing else.
    pub fn largest_trusted(&self, series: &[f64], frames: Range<usize>) -> Option<usize> {
        let trusted = frames.clone().filter(|f| self.flags[*f] & flag::DOUBTED == 0);
        largest(series, trusted).or_else(|| largest(series, frames))
    }

    /// One quantity over time, SI.
    pub fn series(&self, row: usize) -> &[f64] {
        self.data
            .row(row)
            .to_slice()
            .expect("a row of results lies in one piece")
    }

    /// Whether a quantity is written for this arm.
    pub fn writes(&self, row: usize) -> bool {
        QUANTITIES[row].written && (self.has_wrist || !QUANTITIES[row].name.starts_with("wrist."))
    }
}

/// Where the joints and loads of an arm stood.
///
/// # Frames and units
/// World axes (X forward, Y up, Z right), m; missing is NaN.
///
/// # Shape
/// Three rows (x, y, z) a point: shoulder, elbow, wrist, knuckles (missing without hand markers), the
/// direction of the flexion axis (not a point: a unit vector, flexion + about it), then each load's point of
/// action; one column a frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Positions {
    /// Coordinates.
    pub xyz: Array2<f64>,
}

impl Positions {
    /// Shoulder centre.
    pub const SHOULDER: usize = 0;
    /// Elbow centre.
    pub const ELBOW: usize = 1;
    /// Wrist centre.
    pub const WRIST: usize = 2;
    /// Middle of the knuckles.
    pub const KNUCKLES: usize = 3;
    /// Direction of the flexion axis (the upper arm's Z; for a left arm mapped back as a moment is).
    pub const FLEXION_AXIS: usize = 4;
    /// The first load.
    pub const LOADS: usize = 5;

    /// Rows for a number of loads.
    pub fn rows(loads: usize) -> usize {
        3 * (Self::LOADS + loads)
    }
    /// Number of loads.
    pub fn loads(&self) -> usize {
        (self.xyz.nrows() / 3).saturating_sub(Self::LOADS)
    }
    /// Where a point stood in a frame.
    pub fn at(&self, point: usize, frame: usize) -> [f64; 3] {
        [0, 1, 2].map(|k| self.xyz[(3 * point + k, frame)])
    }
    /// Distance between two points over time, m.
    pub fn distance(&self, a: usize, b: usize) -> Vec<f64> {
        (0..self.xyz.ncols())
            .map(|f| {
                let (p, q) = (self.at(a, f), self.at(b, f));
                (0..3).map(|k| (p[k] - q[k]).powi(2)).sum::<f64>().sqrt()
            })
            .collect()
    }
}

/// Quality flags of a frame, as bits.
pub mod flag {
    /// Flags of a frame, one bit each.
    pub type Flags = u16;
    /// Every combination is below this.
    pub const COMBINATIONS: Flags = 512;
    /// Near an end of a stretch, where smoothing and differences know less.
    pub const EDGE: Flags = 1;
    /// A short gap in a point in use was filled by a spline.
    pub const FILLED: Flags = 2;
    /// A point in use is missing: what depends on it is empty.
    pub const GAP: Flags = 4;
    /// A landmark was rebuilt from its cluster in a gap of its own marker.
    pub const REBUILT: Flags = 8;
    /// The stretch is too short to smooth and differentiate: static parts only.
    pub const SHORT: Flags = 16;
    /// The flexion axis was carried over from frames in which the elbow is bent more.
    pub const CARRIED: Flags = 32;
    /// Plane of elevation and axial rotation are not separable here.
    pub const POLE: Flags = 64;
    /// A load is not known here.
    pub const NO_LOAD: Flags = 128;

    /// Two points have each other's names, or one has jumped, here or nearby.
    pub const LABELS: Flags = 256;
    /// Frames in which values are less to be trusted: a peak is taken there only if there is nothing else.
    pub const DOUBTED: Flags = EDGE | LABELS;

    /// Names in the order they are written.
    pub const NAMES: [(Flags, &str, &str); 9] = [
        (
            GAP,
            "gap",
            "a point in use is missing: what depends on it is empty",
        ),
        (
            NO_LOAD,
            "no-load-data",
            "a load is not known (its file or table does not reach here): what depends on it is empty",
        ),
        (
            LABELS,
            "labels",
            "two points have each other's names, or one has jumped, here or nearby: see the warnings",
        ),
        (
            SHORT,
            "short",
            "the stretch is too short to smooth and differentiate: static parts only",
        ),
        (
            FILLED,
            "filled",
            "a short gap in a point in use was filled by a spline",
        ),
        (
            REBUILT,
            "rebuilt",
            "a landmark's own marker was missing and rebuilt from its cluster",
        ),
        (
            EDGE,
            "edge",
            "near an end of a stretch, where smoothing and differences know less",
        ),
        (
            CARRIED,
            "carried",
            "the elbow is bent too little for joint centres alone to show the flexion axis: carried over from frames before and after in which it is bent more",
        ),
        (
            POLE,
            "pole",
            "elevation within 10° of 0° or 180°: plane of elevation and axial rotation are empty",
        ),
    ];

    /// As the column `quality` writes it: names joined by `;`.
    pub fn words(flags: Flags) -> String {
        NAMES
            .iter()
            .filter(|(bit, ..)| flags & bit != 0)
            .map(|n| n.1)
            .collect::<Vec<_>>()
            .join(";")
    }
}

/// Energy audit: does the work of the joints turn into energy of the arm?
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Audit {
    /// RMS of (rate of energy - power in), W.
    pub rms_w: f64,
    /// Largest power in, W.
    pub peak_power_w: f64,
}

impl Audit {
    /// RMS relative to peak power.
    pub fn relative(&self) -> f64 {
        if self.peak_power_w > 0.0 {
            self.rms_w / self.peak_power_w
        } else {
            0.0
        }
    }
}

/// What a smoothing spline found of one coordinate.
#[derive(Clone, Debug)]
pub struct SplineFound {
    /// The coordinate, `right.EL x`.
    pub name: String,
    /// White noise, standard deviation, m.
    pub noise_m: f64,
    /// Frequency that the curve halves in power, Hz.
    pub half_power_hz: f64,
}

impl SplineFound {
    /// As the spline has it.
    pub fn found(&self) -> spline::Found {
        spline::Found {
            noise: self.noise_m,
            f0_hz: self.half_power_hz / spline::HALF_POWER,
        }
    }
}

/// An elbow centre as the clusters of upper arm and forearm see it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ElbowSeenTwice {
    /// Which arm.
    pub side: Side,
    /// Distance between the two, root mean square over the frames, m.
    pub apart_m: f64,
    /// The same with the two points that fit together best over the trial; missing if the joint shows none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub apart_fitted_m: Option<f64>,
    /// Squared coherence of their accelerations by frequency, Hz; empty if the trial is too short.
    pub coherence: Vec<(f64, f64)>,
    /// Up to where it is above one half, Hz; missing if it is so everywhere or nowhere.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub agree_up_to_hz: Option<f64>,
}

/// How the markers were smoothed.
#[derive(Clone, Debug)]
pub struct Smoothing {
    /// How markers were smoothed.
    pub method: Method,
    /// How the sheet asks it to be done.
    pub asked: Method,
    /// Effective cutoff, Hz; `None` if not smoothed.
    pub cutoff_hz: Option<f64>,
    /// Residual analysis, if the cutoff is automatic: it chose, or stands beside.
    pub analysis: Option<ResidualAnalysis>,
    /// The choice by least expected error, if that chose.
    pub choice: Option<Choice>,
    /// Ways of smoothing judged by clusters of four markers or more.
    pub judged: Vec<JudgedBody>,
    /// Elbow centres that two clusters see.
    pub elbows: Vec<ElbowSeenTwice>,
    /// What splines found of each coordinate, if they smoothed: then the cutoff is that of the low-pass that would err
    /// least by the same noise and movement.
    pub splines: Option<Vec<SplineFound>>,
    /// What was found of arms that were smoothed as linked segments.
    pub linked: Vec<LinkedArmFound>,
    /// Series that loads brought along in files of their own.
    pub signals: Vec<SignalSmoothing>,
}

/// What was found of an arm that was smoothed as linked segments.
#[derive(Clone, Debug, PartialEq)]
pub struct LinkedArmFound {
    /// Which arm.
    pub side: Side,
    /// What markers stand off the linked arm by, over their white noise.
    pub noise_times: f64,
    /// How that goes with the frame before: about 0 for noise.
    pub lag_1: f64,
    /// Highest half-power frequency of each coordinate, Hz.
    pub half_power_hz: Vec<f64>,
    /// The elbow that the linked arm turns about, from the elbow centre of the sheet; axes of the upper arm, m.
    pub elbow_off_m: [f64; 3],
    /// The wrist that the hand turns about, from the wrist centre of the sheet; axes of the forearm, m.
    pub wrist_off_m: [f64; 3],
    /// Largest elbow flexion moment if its centre were the fitted one, N·m; missing until moments are computed.
    pub elbow_peak_about_fitted_n_m: f64,
}

impl Smoothing {
    /// Median and largest half-power frequency of the splines, Hz.
    pub fn half_power_hz(&self) -> Option<(f64, f64)> {
        let splines = self.splines.as_ref()?;
        let hz = || splines.iter().map(|s| s.half_power_hz);
        Some((median(hz())?, hz().fold(0.0, f64::max)))
    }

    /// Fewest frames of a stretch that was smoothed.
    pub fn fewest_frames(&self) -> usize {
        if self.splines.is_some() {
            spline::FEWEST_FRAMES
        } else if self.cutoff_hz.is_some() {
            lowpass::FEWEST_FRAMES
        } else {
            0
        }
    }

    /// What the curves smoothed, if curves did.
    pub fn curves(&self) -> &'static str {
        match self.method {
            Method::Rigid => {
                "splines of the poses of clusters and segments, and of each coordinate of other points"
            }
            Method::Linked => {
                "curves of the joints of the linked arm, and a spline for each coordinate of other points"
            }
            _ => "a spline for each coordinate",
        }
    }

    /// Whether the sheet leaves the way to left-out markers, and they have chosen it.
    pub fn is_followed(&self) -> bool {
        self.asked == Method::Auto && !self.judged.is_empty()
    }

    /// Who chose the cutoff, in words.
    pub fn chosen(&self) -> &'static str {
        let by_error = self.choice.as_ref().map(|c| (c.asked_hz, c.cutoff_hz));
        let by_residual = self.analysis.as_ref().map(|a| (a.asked_hz, a.cutoff_hz));
        let (Some((asked_hz, used_hz)), Some(hz)) = (by_error.or(by_residual), self.cutoff_hz) else {
            return "as stated";
        };
        match (self.choice.is_some(), hz == used_hz, asked_hz.total_cmp(&hz)) {
            (true, true, Ordering::Greater) => "the upper bound; the least error is expected beyond it",
            (true, true, Ordering::Less) => "the lower bound; the least error is expected below it",
            (true, true, Ordering::Equal) => "where accelerations are expected to err least",
            (true, false, _) => "raised to what a recorded force asks for",
            (false, true, Ordering::Greater) => "the upper bound; residual analysis asks for more",
            (false, true, Ordering::Less) => "the lower bound; residual analysis asks for less",
            (false, ..) => "chosen by residual analysis",
        }
    }
}

/// How a series from a load's file was smoothed.
#[derive(Clone, Debug)]
pub struct SignalSmoothing {
    /// The load, with its side.
    pub load: String,
    /// Its file.
    pub file: String,
    /// Its own rate, Hz.
    pub rate_hz: f64,
    /// Effective cutoff, Hz; `None` if not smoothed.
    pub cutoff_hz: Option<f64>,
    /// Residual analysis, if the cutoff was to be found.
    pub analysis: Option<ResidualAnalysis>,
}

/// Peaks with markers smoothed more and less.
#[derive(Clone, Debug, PartialEq)]
pub struct OtherCutoffs {
    /// The cutoffs, Hz: the lower one, the higher one; of splines the median of their half-power frequencies.
    pub cutoffs_hz: [f64; 2],
    /// Largest elbow flexion moment by size with either, N·m; one an arm.
    pub elbow_n_m: Vec<[f64; 2]>,
    /// Largest size of the shoulder moment with either, N·m; one an arm.
    pub shoulder_n_m: Vec<[f64; 2]>,
}

/// What uncertainty comes from.
pub const GROUPS: [&str; 8] = [
    "marker noise and smoothing",
    "skin movement",
    "elbow centre's place",
    "shoulder centre's place",
    "segments",
    "load",
    "plumb line",
    "moment arms and cross-sections",
];

/// Bands and intervals of a trial.
#[derive(Clone, Debug, PartialEq)]
pub struct Uncertainty {
    /// How often noise and skin were drawn.
    pub draws: usize,
    /// What chance began with.
    pub seed: u64,
    /// One an arm.
    pub arms: Vec<ArmBands>,
}

/// Bands and intervals of one arm; halves of 95 % intervals.
#[derive(Clone, Debug, PartialEq)]
pub struct ArmBands {
    /// Which arm.
    pub side: Side,
    /// Of the elbow flexion moment in every frame of the window, N·m.
    pub elbow_half_n_m: Vec<f64>,
    /// Of the size of the shoulder moment, N·m.
    pub shoulder_half_n_m: Vec<f64>,
    /// Of the force of all muscles of the elbow added up, N.
    pub muscle_force_half_n: Vec<f64>,
    /// Of the size of the contact force at the elbow, N.
    pub contact_half_n: Vec<f64>,
    /// Names of the muscles.
    pub muscles: Vec<String>,
    /// Of figures.
    pub figures: Vec<Figure>,
}

/// A figure that has an interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FigureOf {
    /// Largest elbow flexion moment by size, N·m.
    ElbowPeak,
    /// Largest size of the shoulder moment, N·m.
    ShoulderPeak,
    /// Largest force of all muscles of the elbow added up, N.
    MuscleForce,
    /// Largest contact force at the elbow, N.
    Contact,
    /// Largest force of a muscle, by its number from 0, N.
    Muscle(usize),
    /// Mean elbow flexion moment of a hold, by its number from 0, N·m.
    Hold(usize),
    /// Mean of its static part in a hold, N·m.
    HoldStatic(usize),
    /// Mean of the static part less the whole in a hold, N·m.
    HoldDifference(usize),
    /// Largest elbow flexion moment of a repetition, by its number from 0, N·m.
    RepetitionPeak(usize),
    /// Work that the elbow generates in the lift of a repetition, J.
    RepetitionWork(usize),
}

impl FigureOf {
    /// Its name, its number from 1, and its unit.
    pub fn named(self) -> (&'static str, Option<usize>, &'static str) {
        match self {
            FigureOf::ElbowPeak => ("elbow_peak", None, "N·m"),
            FigureOf::ShoulderPeak => ("shoulder_peak", None, "N·m"),
            FigureOf::MuscleForce => ("muscle_force_peak", None, "N"),
            FigureOf::Contact => ("contact_force_peak", None, "N"),
            FigureOf::Muscle(i) => ("muscle_peak", Some(i + 1), "N"),
            FigureOf::Hold(i) => ("hold", Some(i + 1), "N·m"),
            FigureOf::HoldStatic(i) => ("hold_static", Some(i + 1), "N·m"),
            FigureOf::HoldDifference(i) => ("hold_difference", Some(i + 1), "N·m"),
            FigureOf::RepetitionPeak(i) => ("repetition_peak", Some(i + 1), "N·m"),
            FigureOf::RepetitionWork(i) => ("repetition_work", Some(i + 1), "J"),
        }
    }
}

/// A figure with its interval.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Which.
    pub of: FigureOf,
    /// Its value.
    pub value: f64,
    /// Half of the 95 % interval.
    pub half: f64,
    /// Share of each of [`GROUPS`] in its square.
    pub shares: Vec<f64>,
}

impl ArmBands {
    /// The interval of a figure.
    pub fn figure(&self, of: FigureOf) -> Option<&Figure> {
        self.figures.iter().find(|f| f.of == of)
    }
}

/// Sensitivity of one arm.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ArmSensitivity {
    /// Which arm.
    pub side: Side,
    /// Size of the largest elbow flexion moment, N·m.
    pub elbow_peak_n_m: f64,
    /// Largest size of the shoulder moment, N·m.
    pub shoulder_peak_n_m: f64,
    /// One a source.
    pub sources: Vec<Change>,
}

/// What peaks change by with one source.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Change {
    /// What is different.
    pub source: String,
    /// Its unit.
    pub unit: &'static str,
    /// What the elbow's peak grows by for one unit more, N·m; half the difference of one unit more and one less.
    pub elbow_per_unit_n_m: f64,
    /// The same of the shoulder's peak, N·m.
    pub shoulder_per_unit_n_m: f64,
    /// How far the source is usually off, in its unit.
    pub usual: f64,
    /// Who says so.
    pub usual_from: &'static str,
    /// What the elbow's peak changes by with the source off by as much, less and more, N·m.
    pub elbow_if_usual_n_m: [f64; 2],
    /// The same of the shoulder's peak, N·m.
    pub shoulder_if_usual_n_m: [f64; 2],
}

/// Results of a trial.
pub struct TrialResults {
    /// Times of the frames in the window, s; a frame that stands for a pause lies between its neighbours.
    pub time_s: Vec<f64>,
    /// Those frames of the window that stand for a pause of the recording: no rows of the file, everything is
    /// missing there.
    pub separators: Vec<usize>,
    /// Last and first time around each pause of the recording, s.
    pub pauses: Vec<(f64, f64)>,
    /// Sampling rate, Hz.
    pub rate_hz: f64,
    /// Frames of the recording the window covers.
    pub window: Range<usize>,
    /// Arms in the order of the sheet; their series cover the whole recording.
    pub arms: Vec<ArmResults>,
    /// Peaks with markers smoothed more and less, if asked for and smoothed at all.
    pub other_cutoffs: Option<OtherCutoffs>,
    /// What peaks hang on, if asked for: one an arm.
    pub sensitivity: Vec<ArmSensitivity>,
    /// Bands and intervals, if they were asked for.
    pub uncertainty: Option<Uncertainty>,
    /// Points in use.
    pub points: Vec<PointReport>,
    /// Clusters.
    pub clusters: Vec<ClusterReport>,
    /// How markers were smoothed.
    pub smoothing: Smoothing,
    /// Largest deviation of a printed time from the grid, s.
    pub jitter_s: f64,
    /// Warnings.
    pub warnings: Vec<Warning>,
    /// Every value used, with who set it: the sheet's, and what the recording decided where the sheet is
    /// silent.
    pub settings: Vec<Setting>,
}

impl TrialResults {
    /// Whether a frame of the window is one of the recording, not one that stands for a pause.
    pub fn is_row(&self, frame: usize) -> bool {
        self.separators.binary_search(&frame).is_err()
    }

    /// Number of frames of the window: those that stand for a pause left out.
    pub fn rows(&self) -> usize {
        self.time_s.len() - self.separators.len()
    }

    /// A series over the window without what stands for pauses.
    pub fn of_rows<'a, T: Copy>(&self, series: &'a [T]) -> std::borrow::Cow<'a, [T]> {
        if self.separators.is_empty() {
            return std::borrow::Cow::Borrowed(series);
        }
        (0..series.len())
            .filter(|f| self.is_row(*f))
            .map(|f| series[f])
            .collect::<Vec<T>>()
            .into()
    }

    /// Time of a frame of the recording that need not be in the window, s.
    pub fn time_of(&self, frame: usize) -> f64 {
        let (first, last) = (self.window.start, self.window.end.saturating_sub(1));
        let at = |f: usize| self.time_s.get(f - first).copied().unwrap_or(f64::NAN);
        if frame < first {
            at(first) - (first - frame) as f64 / self.rate_hz
        } else if frame > last {
            at(last) + (frame - last) as f64 / self.rate_hz
        } else {
            at(frame)
        }
    }
}
