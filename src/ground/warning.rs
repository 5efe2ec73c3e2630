//! Things worth knowing that do not stop the work. They appear in every report.

use super::names::{Segment, Side};
use super::scene::Scene;
use schemars::JsonSchema;
use serde::Serialize;
use std::fmt;
use std::ops::Range;
use thiserror::Error;

/// A frame and its time. Frames are counted from 0, the file's first; what stands for a pause is not counted.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Moment {
    /// s
    pub time_s: f64,
    /// Counted from 0.
    pub frame: usize,
}

impl Moment {
    /// A frame of a scene.
    pub fn at(scene: &Scene, frame: usize) -> Self {
        Self {
            time_s: scene.time(frame),
            frame: scene.pauses.row(frame),
        }
    }
}

/// From one time to another.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Span {
    /// s
    pub from_s: f64,
    /// s
    pub to_s: f64,
}

/// A number of things: `1 frame`, `2 frames`.
fn counted(n: usize, thing: &str) -> String {
    if n == 1 {
        format!("1 {thing}")
    } else {
        format!("{n} {thing}s")
    }
}

/// `is` of one, `are` of more.
fn is_or_are(n: usize) -> &'static str {
    if n == 1 { "is" } else { "are" }
}

/// Pauses in words.
pub fn pauses_in_words(pauses: &[Span]) -> String {
    let said: Vec<String> = pauses
        .iter()
        .take(MOST_STRETCHES)
        .map(|p| {
            format!(
                "from {:.3} to {:.3} s ({})",
                p.from_s,
                p.to_s,
                duration_in_words(p.to_s - p.from_s)
            )
        })
        .collect();
    match pauses.len().saturating_sub(MOST_STRETCHES) {
        0 => said.join(", "),
        more => format!("{} and {}", said.join(", "), counted(more, "more time")),
    }
}

/// A duration in words.
fn duration_in_words(s: f64) -> String {
    if s < 10.0 {
        format!("{s:.2} s long")
    } else if s < 600.0 {
        format!("{s:.1} s long")
    } else {
        format!("{:.0} min long", s / 60.0)
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.3} s (frame {})", self.time_s, self.frame)
    }
}

/// Frames in a row, both ends among them.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Stretch {
    /// The first of them.
    pub from: Moment,
    /// The last of them.
    pub to: Moment,
}

impl Stretch {
    /// Frames of a scene; at least one.
    pub fn of(scene: &Scene, frames: &Range<usize>) -> Self {
        Self {
            from: Moment::at(scene, frames.start),
            to: Moment::at(scene, frames.end.saturating_sub(1)),
        }
    }
}

impl fmt::Display for Stretch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (from, to) = (self.from, self.to);
        if from.frame == to.frame {
            return write!(f, "at {from}");
        }
        write!(
            f,
            "from {:.3} to {:.3} s (frames {}-{})",
            from.time_s, to.time_s, from.frame, to.frame
        )
    }
}

/// Stretches said one by one; of more, how many there are.
const MOST_STRETCHES: usize = 3;

/// Stretches in words.
fn stretches_in_words(stretches: &[Stretch]) -> String {
    let said: Vec<String> = stretches
        .iter()
        .take(MOST_STRETCHES)
        .map(ToString::to_string)
        .collect();
    match stretches.len().saturating_sub(MOST_STRETCHES) {
        0 => said.join(", "),
        1 => format!("{} and in 1 more stretch", said.join(", ")),
        more => format!("{} and in {more} more stretches", said.join(", ")),
    }
}

/// Moments in words.
fn moments_in_words(moments: &[Moment]) -> String {
    let said: Vec<String> = moments
        .iter()
        .take(MOST_STRETCHES)
        .map(ToString::to_string)
        .collect();
    match moments.len().saturating_sub(MOST_STRETCHES) {
        0 => said.join(", "),
        more => format!("{} and {}", said.join(", "), counted(more, "more time")),
    }
}

/// Names with a number of frames each, in words.
fn frames_in_words(missing: &[(String, usize)]) -> String {
    missing
        .iter()
        .map(|(name, frames)| format!("{name} ({})", counted(*frames, "frame")))
        .collect::<Vec<_>>()
        .join(", ")
}

/// Columns said one by one; of more, how many there are.
const MOST_COLUMNS: usize = 4;

/// Names of columns in words.
fn columns_in_words(columns: &[String]) -> String {
    let said = columns
        .iter()
        .take(MOST_COLUMNS)
        .cloned()
        .collect::<Vec<_>>()
        .join(", ");
    match columns.len().saturating_sub(MOST_COLUMNS) {
        0 => said,
        more => format!("{said} and {}", counted(more, "more column")),
    }
}

/// A number at three or four digits, without an exponent where people would not write one.
fn digits(x: f64) -> String {
    match x.abs() {
        s if s >= 1000.0 => format!("{x:.0}"),
        s if s >= 100.0 => format!("{x:.1}"),
        s if s >= 0.01 || s == 0.0 => format!("{x:.3}")
            .trim_end_matches('0')
            .trim_end_matches('.')
            .to_owned(),
        _ => format!("{x:.2e}"),
    }
}

/// How much a warning weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// It says the same in every ordinary run: in the reports, not on the terminal.
    Routine,
    /// It tells what was done.
    Note,
    /// It puts the recording in doubt: the verdict of `inspect` says "look".
    Doubt,
    /// The results are hardly those of the recording meant: shown first everywhere.
    Grave,
}

/// The enum of warnings, each with everything that is to be known of it in one place: words, fields, `= weight`
/// (or `=> (fields) { weight }` where it depends), and `spoils (fields) { frames }` where the points are not what
/// their names say.
macro_rules! warnings {
    (
        $(#[$of_all:meta])*
        pub enum Warning {
            $(
                $(#[$of_one:meta])*
                $name:ident $({ $($fields:tt)* })?
                $(= $weight:ident)? $(=> ($($weighed:ident),*) $by:block)?
                $(, spoils ($($spoilt:ident),*) $frames:block)? ;
            )*
        }
    ) => {
        $(#[$of_all])*
        pub enum Warning {
            $( $(#[$of_one])* $name $({ $($fields)* })?, )*
        }

        impl Warning {
            /// How much it weighs.
            pub fn weight(&self) -> Weight {
                match self {
                    $( Warning::$name { $($($weighed,)*)? .. } => { $(Weight::$weight)? $($by)? } )*
                }
            }

            /// Frames of the recording in which the points are not what their names say, counted from 0.
            pub fn spoilt_frames(&self) -> Vec<Range<usize>> {
                match self {
                    $( $( Warning::$name { $($spoilt,)* .. } => $frames )? )*
                    _ => Vec::new(),
                }
            }
        }
    };
}

/// `1-4`, or `1, 3, 4` where others stand between.
fn lines_in_words(lines: &[usize]) -> String {
    match (lines.first(), lines.last()) {
        (Some(a), Some(b)) if lines.len() > 1 && b - a + 1 == lines.len() => format!("{a}-{b}"),
        _ => lines
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join(", "),
    }
}

/// Rows of stretches.
fn rows_of(stretches: &[Stretch]) -> Vec<Range<usize>> {
    stretches.iter().map(|s| s.from.frame..s.to.frame + 1).collect()
}

/// Rows at moments.
fn rows_at(moments: &[Moment]) -> Vec<Range<usize>> {
    moments.iter().map(|m| m.frame..m.frame + 1).collect()
}

/// Whether one of some columns is a moment; the one about the axis of elevation lacks in many a posture, as its
/// angles do.
fn lack_moments(columns: &[String]) -> bool {
    let is_moment = |c: &String| c.ends_with("_n_m") && !c.ends_with(".shoulder.elevation_moment_n_m");
    columns.iter().any(is_moment)
}

warnings! {
    /// A warning. Its text is the `Display`; its kind is the serialized tag.
    #[derive(Clone, Debug, PartialEq, Error, Serialize, JsonSchema)]
    #[serde(tag = "kind", rename_all = "kebab-case")]
    #[allow(missing_docs)] // fields are named by what they are; the message says it in words
    pub enum Warning {
        /// Several rows above the numbers.
        #[error(
            "{file}: the rows above the numbers (line{} {}) are read as: {what}",
            if lines.len() == 1 { "" } else { "s" },
            lines_in_words(lines)
        )]
        HeaderRows {
            file: String,
            lines: Vec<usize>,
            what: String,
        } = Note;
        /// Numbers with decimal commas.
        #[error("{file}: numbers are written with decimal commas, and read so")]
        DecimalCommas { file: String } = Note;
        /// Rows are missing between others.
        #[error("{file}: {} {} missing between the rows at {rate_hz} Hz; what is missing is treated as a gap", counted(*rows, "frame"), is_or_are(*rows))]
        RowsMissing { file: String, rows: usize, rate_hz: f64 } = Doubt;
        /// Time jumps by more than may be filled.
        #[error(
            "{file}: the recording pauses {}: the parts are smoothed and differentiated each alone, nothing is bridged and no row is added",
            pauses_in_words(pauses)
        )]
        RecordingPauses { file: String, pauses: Vec<Span> } = Doubt;
        /// Uneven sampling.
        #[error("{file}: times are uneven (up to {:.2} ms off a uniform grid); resampled by cubic spline at {rate_hz:.6} Hz", jitter_s * 1e3)]
        Resampled {
            file: String,
            jitter_s: f64,
            rate_hz: f64,
        } = Doubt;
        /// The sheet's rate is not the file's.
        #[error(
            "the sheet says markers.rate_hz = {stated_hz}, the time column says {found_hz:.4} Hz; the time column is used"
        )]
        RateDiffers { stated_hz: f64, found_hz: f64 } = Doubt;
        /// Columns that are neither time nor coordinates.
        #[error("{file}: ignored columns that are neither time nor coordinates: {}", columns.join(", "))]
        IgnoredColumns { file: String, columns: Vec<String> } = Note;
        /// A binary file that ends early.
        #[error("{file}: the file is cut off: {declared} frames are declared, {read} could be read")]
        FileCutOff {
            file: String,
            declared: i64,
            read: usize,
        } = Doubt;
        /// A binary file with more data than declared.
        #[error(
            "{file}: {declared} frames are declared, but there are data for {held}; only the declared ones are used"
        )]
        FileHoldsMore {
            file: String,
            declared: i64,
            held: usize,
        } = Note;
        /// A header that contradicts the parameters.
        #[error(
            "{file}: the header says {header} frames, the parameters say {parameters}, which fits the data; these are used"
        )]
        FramesDiffer {
            file: String,
            header: i64,
            parameters: i64,
        } = Note;
        /// Frames at the exact origin.
        #[error(
            "{file}: the point '{point}' stands at the exact origin in {} and elsewhere in others; there it counts as missing", counted(*frames, "frame")
        )]
        OriginIsMissing {
            file: String,
            point: String,
            frames: usize,
        } = Doubt;
        /// Points or channels without a name.
        #[error("{file}: {count} of the {what}s have no label; they are named by number")]
        Unlabelled {
            file: String,
            what: String,
            count: usize,
        } = Note;
        /// Channels marked as bad.
        #[error("{file}: channels with the status 'bad' are not used; points left out: {}", points.join(", "))]
        BadChannels {
            /// The description.
            file: String,
            /// The points.
            points: Vec<String>,
        } = Note;
        /// A moment unit that nobody states.
        #[error("{file}: force platform {platform} does not say the unit of its moments; {unit} is taken")]
        MomentUnitTaken {
            file: String,
            platform: usize,
            unit: String,
        } = Doubt;
        /// Channels of reals without an offset.
        #[error(
            "{file}: ANALOG:OFFSET says nothing of the channels {}; 0 is taken: check that they read 0 without a load",
            channels.join(", ")
        )]
        OffsetTaken { file: String, channels: Vec<String> } = Doubt;
        /// A baseline was taken off.
        #[error(
            "{file}: force platform {platform}: the mean of frames {from}-{to}, {force_n:.1} N, is subtracted as that of the empty plate (FORCE_PLATFORM:ZERO)"
        )]
        BaselineSubtracted {
            file: String,
            platform: usize,
            from: i64,
            to: i64,
            force_n: f64,
        } = Note;
        /// A baseline was taken off that is a load.
        #[error(
            "{file}: force platform {platform}: FORCE_PLATFORM:ZERO calls it empty in frames {from}-{to}, but it bears {force_n:.1} N there; this load is subtracted from all frames: if the platform was loaded then, set ZERO to 0, 0 in the file"
        )]
        BaselineLoaded {
            file: String,
            platform: usize,
            from: i64,
            to: i64,
            force_n: f64,
        } = Doubt;
        /// A baseline over frames without samples.
        #[error(
            "{file}: force platform {platform}: FORCE_PLATFORM:ZERO calls it empty in frames {from}-{to}, of which the file (frames {first}-{last}) has no samples; nothing is subtracted: check that it reads 0 without a load"
        )]
        BaselineMissing {
            file: String,
            platform: usize,
            from: i64,
            to: i64,
            first: i64,
            last: i64,
        } = Doubt;
        /// A platform whose surface lies on the far side of its transducers.
        #[error(
            "{file}: force platform {platform} has ORIGIN z = {z}; most plates have it negative (from the transducers to the surface, z down): check the sign"
        )]
        PlatformOriginBelow { file: String, platform: usize, z: f64 } = Doubt;
        /// A force platform whose numbers are taken for what acts on the body.
        #[error(
            "{file}: force_on = \"body\" takes what the force platform reports for what it does to the body; most report what the body does to the plate, which is \"instrument\": check the sign"
        )]
        PlatformOnBody { file: String } = Doubt;
        /// No thorax frame.
        #[error(
            "no full set of trunk landmarks (IJ, PX, C7, T8): the trunk is taken as upright and still, along the world axes; shoulder angles and shoulder components are relative to that"
        )]
        NoThorax = Note;
        /// No thorax frame, but a stated posture.
        #[error(
            "no full set of trunk landmarks (IJ, PX, C7, T8): the trunk is taken as still and {words}, as participant.posture says; shoulder angles and shoulder components are relative to that"
        )]
        TrunkFromPosture { posture: String, words: String } = Note;
        /// A trunk that leans nobody knows where.
        #[error(
            "participant.posture says that the trunk leans, and no full set of landmarks (IJ, PX, C7, T8) shows which way: it is taken as upright all the same, so shoulder angles, shoulder components{} are off by as much as it leans; write posture = [x, y, z], the trunk's long axis in lab axes from the pelvis to the head",
            if *centre { " and the shoulder centre below the acromion" } else { "" }
        )]
        TrunkUnknown { centre: bool } = Grave;
        /// The upper arm's axes come from joint centres alone.
        #[error(
            "{side}: no two epicondyles show the flexion axis, so it is the normal of the plane of upper arm and forearm; pronation and carrying angle can't be seen"
        )]
        CentresOnly { side: Side } = Note;
        /// Frames in which the flexion axis had to be carried over.
        #[error(
            "{side}: joint centres show the flexion axis only where the elbow is well bent, here from {below_deg:.0}° on; below, in {frames} of {of} frames (flagged `carried`), it is carried over from the frames before and after, as if the upper arm did not turn about its length in between"
        )]
        AxisCarried {
            side: Side,
            frames: usize,
            of: usize,
            below_deg: f64,
        } = Note;
        /// Two coordinates.
        #[error(
            "planar recording: everything out of the plane is unknown; forces and moments are those of the projection onto the plane"
        )]
        Planar = Note;
        /// Hand without markers.
        #[error(
            "{side}: no hand markers; the hand is straight and rigid with the forearm, {length_m:.3} m long (table's reference length scaled by stature)"
        )]
        StraightHand { side: Side, length_m: f64 } = Note;
        /// Hand model chosen by what is there.
        #[error("model.hand is not given: \"{chosen}\" is used, because {why}")]
        HandChosen { chosen: &'static str, why: &'static str } = Note;
        /// The hand's own endpoints differ from the table's.
        #[error(
            "{side}: the hand is measured from the wrist centre to {to}; the table's third metacarpal head is not exactly that point"
        )]
        HandEndpoint { side: Side, to: &'static str } = Routine;
        /// A table without a longitudinal radius.
        #[error("table {table}: one radius of gyration for X and Z, none for the long axis, which counts as 0")]
        OneRadius { table: &'static str } = Routine;
        /// Gaps that stay.
        #[error("{point}: {} missing in gaps longer than {limit_s} s or at the ends; what depends on the point is empty there", counted(*frames, "frame"))]
        GapsLeft {
            point: String,
            frames: usize,
            limit_s: f64,
        } = Doubt;
        /// Stretch too short to smooth or differentiate.
        #[error("{point}: {} in stretches too short to smooth and differentiate; only static parts are given there", counted(*frames, "frame"))]
        ShortStretches { point: String, frames: usize } = Doubt;
        /// Poor registration.
        #[error(
            "{cluster}: registration residual up to {max_mm:.1} mm, at {at}, where {marker} is farthest from its place (RMS of the trial {rms_mm:.1} mm): markers have moved against each other or are exchanged"
        )]
        PoorRegistration {
            cluster: String,
            max_mm: f64,
            rms_mm: f64,
            at: Moment,
            marker: String,
        } = Grave;
        /// The shape of a cluster is not what it was.
        #[error(
            "{cluster}: from about {at} on the markers stand otherwise: the registration residual was {before_mm:.1} mm before and is {after_mm:.1} mm after, {marker} being farthest from its place: has one been knocked?"
        )]
        ClusterChanges {
            cluster: String,
            at: Moment,
            before_mm: f64,
            after_mm: f64,
            marker: String,
        } = Grave;
        /// Too few markers of a cluster.
        #[error(
            "{cluster}: fewer than three of its markers are visible in {}, first at {first}; {} can't be rebuilt there (two markers leave a turn about their line open). Missing longest: {}",
            counted(*frames, "frame"),
            landmarks.join(", "),
            frames_in_words(missing)
        )]
        TooFewMarkers {
            cluster: String,
            frames: usize,
            first: Moment,
            landmarks: Vec<String>,
            missing: Vec<(String, usize)>,
        } = Doubt;
        /// Two markers of a cluster with each other's names.
        #[error(
            "{cluster}: {a} and {b} are exchanged {}: the registration residual is {residual_mm:.1} mm as named and {exchanged_mm:.1} mm with the two names exchanged; nothing was corrected",
            if *throughout { "throughout, in this recording or in the static trial".to_owned() } else { stretches_in_words(stretches) }
        )]
        ClusterLabelsExchanged {
            cluster: String,
            a: String,
            b: String,
            throughout: bool,
            stretches: Vec<Stretch>,
            residual_mm: f64,
            exchanged_mm: f64,
        } = Grave, spoils(stretches) { rows_of(stretches) };
        /// Two points with each other's names.
        #[error(
            "{a} and {b} are exchanged {}: both jump there, by up to {jump_mm:.0} mm, and with the names exchanged both move on evenly; nothing was corrected",
            stretches_in_words(stretches)
        )]
        LabelsExchanged {
            a: String,
            b: String,
            stretches: Vec<Stretch>,
            jump_mm: f64,
        } = Grave, spoils(stretches) { rows_of(stretches) };
        /// Two points that take each other's names and keep them.
        #[error(
            "{a} and {b} change places at {at}, by {jump_mm:.0} mm, and not back: they are exchanged either before or from then on; nothing was corrected"
        )]
        LabelsChangePlaces {
            a: String,
            b: String,
            at: Moment,
            jump_mm: f64,
        } = Grave, spoils(at) { rows_at(&[*at]) };
        /// A point that is suddenly elsewhere.
        #[error(
            "{point} jumps by {by_mm:.0} mm within one frame at {}; nothing was corrected",
            moments_in_words(at)
        )]
        PointJumps {
            point: String,
            by_mm: f64,
            at: Vec<Moment>,
        } = Grave, spoils(at) { rows_at(at) };
        /// Cutoff at a bound.
        #[error("automatic cutoff: {asked_hz:.2} Hz is asked for, bounded to {used_hz:.2} Hz")]
        CutoffBounded { asked_hz: f64, used_hz: f64 } = Note;
        /// A cutoff that nothing uses.
        #[error(
            "filter.cutoff_hz = {stated} is of the low-pass and has no effect: filter.method = \"{method}\" finds how smooth each coordinate is by itself"
        )]
        CutoffWithoutEffect { stated: String, method: &'static str } = Note;
        /// `auto` without a cluster of four markers.
        #[error(
            "filter.method = \"auto\": no cluster on an arm shows four markers for long enough, so there is nothing to judge ways of smoothing by; the low-pass is used"
        )]
        NothingToJudgeBy = Note;
        /// A low-pass that lets through what one of two clusters does not see.
        #[error(
            "{side}: the clusters of upper arm and forearm agree only up to {agree_hz:.1} Hz where the elbow centre is, and the markers are low-passed at {used_hz:.1} Hz: what is faster there is skin or noise"
        )]
        FasterThanJoint { side: Side, agree_hz: f64, used_hz: f64 } = Note;
        /// `rigid` without a body.
        #[error(
            "filter.method = \"rigid\": no cluster carries a landmark and no segment has three landmarks of its own; every point was smoothed by its coordinates"
        )]
        NothingRigid = Note;
        /// `linked` where an arm is none.
        #[error("filter.method = \"linked\" is refused, {side} arm: {why}; the low-pass is used")]
        NotLinked { side: Side, why: String } = Grave;
        /// Clean data: no noise within the bounds.
        #[error(
            "automatic cutoff: there is hardly any noise to take away; the upper bound of {used_hz:.2} Hz is used"
        )]
        HardlyAnyNoise { used_hz: f64 } = Routine;
        /// An automatic cutoff had too little to work on.
        #[error(
            "automatic cutoff: too few frames, too low a rate, or nothing that moves to find it by; {used_hz:.2} Hz is used"
        )]
        CutoffGuessed { used_hz: f64 } = Note;
        /// A segment whose length varies.
        #[error("{side} {}: length varies by {sd_mm:.1} mm SD about its median {length_mm:.0} mm; markers may have moved or been exchanged", segment.words())]
        LengthVaries {
            side: Side,
            segment: Segment,
            length_mm: f64,
            sd_mm: f64,
        } = Grave;
        /// Trial window outside of the recording.
        #[error("trial.from_s/to_s reach beyond the recording ({start_s:.3} to {end_s:.3} s)")]
        WindowBeyond { start_s: f64, end_s: f64 } = Doubt;
        /// Gravity against the trunk.
        #[error(
            "the trunk points {tilt_deg:.0}° away from `up`: is markers.up right? If the participant lies or leans, participant.posture says so"
        )]
        UpImplausible { tilt_deg: f64 } = Grave;
        /// The trunk faces away from `forward`.
        #[error(
            "the trunk faces {turn_deg:.0}° away from `forward`: is markers.forward right?{}",
            match *posture {
                "supine" => " Lying on the back, it is where the feet point",
                "prone" => " Lying on the belly, it is where the head points",
                _ => "",
            }
        )]
        FacesElsewhere { turn_deg: f64, posture: &'static str } = Grave;
        /// A stated posture that is not the recorded one.
        #[error(
            "participant.posture says {stated}, but the recorded trunk {found}: is the posture right, and are markers.up and markers.forward? The recorded trunk is used"
        )]
        PostureContradicted { stated: String, found: String } = Grave;
        /// A load that hardly anybody holds.
        #[error(
            "{side}: the loads on this hand weigh {mass_kg} kg, {percent:.0} % of the body mass: are the masses right?"
        )]
        LoadImplausible { side: Side, mass_kg: f64, percent: f64 } = Grave;
        /// An arm on the other side.
        #[error(
            "{side}: the shoulder lies {by_mm:.0} mm on the wrong side of {what}: are right and left exchanged, or is markers.forward wrong?"
        )]
        SideImplausible {
            side: Side,
            what: &'static str,
            by_mm: f64,
        } = Grave;
        /// A pair of landmarks the wrong way round.
        #[error("{side}: {what}: are {pair} exchanged?")]
        PairImplausible {
            side: Side,
            pair: &'static str,
            what: String,
        } = Grave;
        /// A planar arm that bends backwards.
        #[error(
            "{side}: the elbow bends backwards (median {flexion_deg:.0}°): are markers.up and markers.forward right? In most pictures y points down: up = \"-y\""
        )]
        PlaneImplausible { side: Side, flexion_deg: f64 } = Grave;
        /// A segment that hardly anybody has.
        #[error(
            "{side} {}: {length_mm:.0} mm long, {percent:+.0} % against the mean of the table's sample{}: are the points what their names say, and is the unit or scale right?",
            segment.words(), if *scaled { ", scaled by stature" } else { "" }
        )]
        LengthImplausible {
            side: Side,
            segment: Segment,
            length_mm: f64,
            percent: f64,
            scaled: bool,
        } = Grave;
        /// A load's file does not give a value for every frame.
        #[error(
            "{load}: {file} ({from_s:.3} to {to_s:.3} s, offset added) gives no value in {missing} of {frames} frames ({outside} outside of its time, {} in gaps); what depends on them is empty there",
            missing - outside
        )]
        LoadMissing {
            load: String,
            file: String,
            missing: usize,
            frames: usize,
            outside: usize,
            from_s: f64,
            to_s: f64,
        } = Doubt;
        /// Columns of a load's file that nobody reads.
        #[error("{file}: ignored columns: {}; known are {expected}", columns.join(", "))]
        LoadColumnsIgnored {
            file: String,
            columns: Vec<String>,
            expected: String,
        } = Note;
        /// The sheet's point wins over the file's.
        #[error("{file}: its columns px, py, pz are not used, because the sheet states `at` for this load")]
        LoadPointIgnored { file: String } = Note;
        /// A recorded point of application that is nowhere near the hand.
        #[error(
            "{load}: the point of application in {file} is never nearer than {nearest_m:.2} m to the hand: are its coordinates (px, py, pz in markers.length_unit; a platform's corners in the unit of its file) right, and in the markers' lab axes?"
        )]
        LoadFarFromHand {
            load: String,
            file: String,
            nearest_m: f64,
        } = Doubt;
        /// Low-pass ahead of the marker rate.
        #[error(
            "{file}: {rms:.3} (RMS) of {column} lies above half the marker rate of {markers_hz:.6} Hz and would fold into it; low-passed at {cutoff_hz:.2} Hz before it is read at the marker times"
        )]
        ForceFolds {
            file: String,
            column: &'static str,
            rms: f64,
            markers_hz: f64,
            cutoff_hz: f64,
        } = Note;
        /// Automatic cutoff of a recorded force alone, at a bound.
        #[error(
            "automatic cutoff of {file}: residual analysis asks for {asked_hz:.2} Hz, bounded to {used_hz:.2} Hz"
        )]
        ForceCutoffBounded {
            file: String,
            asked_hz: f64,
            used_hz: f64,
        } = Note;
        /// Residual analysis of a recorded force alone had too little to work on.
        #[error(
            "automatic cutoff of {file}: too few rows, or nothing that changes, for residual analysis; {used_hz:.2} Hz is used"
        )]
        ForceCutoffGuessed { file: String, used_hz: f64 } = Note;
        /// The recorded force decides the cutoff.
        #[error(
            "automatic cutoff: {file} asks for {force_hz:.2} Hz, the markers for {markers_hz:.2} Hz; {used_hz:.2} Hz is used for both"
        )]
        CutoffOfForce {
            file: String,
            force_hz: f64,
            markers_hz: f64,
            used_hz: f64,
        } = Note;
        /// The force fits the hand's motion better at another offset.
        #[error(
            "{load}: with time_offset_s = {suggested_s:.3} instead of {stated_s} the force in {file} would fit a mass of {mass_kg:.2} kg moving with the hand clearly better ({:.0} % of its variance explained, now {:.0} %); this is a suggestion, nothing was shifted",
            100.0 * fit,
            100.0 * fit_as_stated.max(0.0)
        )]
        OffsetSuggested {
            load: String,
            file: String,
            stated_s: f64,
            suggested_s: f64,
            mass_kg: f64,
            fit: f64,
            fit_as_stated: f64,
        } = Doubt;
        /// Tension below zero.
        #[error(
            "{load}: the tension in {file} is below zero in {} (down to {lowest_n:.1} N); a cable can't push: is its zero or sign right?",
            counted(*frames, "frame")
        )]
        CablePushes {
            load: String,
            file: String,
            frames: usize,
            lowest_n: f64,
        } = Doubt;
        /// A band longer or shorter than its table.
        #[error(
            "{load}: the band is {shortest_m:.3} to {longest_m:.3} m long in {frames} of {of} frames, outside of its table ({first_m} to {last_m} m); nothing is extrapolated, what depends on it is empty there"
        )]
        BandOffTable {
            load: String,
            frames: usize,
            of: usize,
            shortest_m: f64,
            longest_m: f64,
            first_m: f64,
            last_m: f64,
        } = Doubt;
        /// A load whose time lies elsewhere.
        #[error(
            "{load}: it acts {during}, but the frames in use run from {start_s:.3} to {end_s:.3} s: it acts in none of them"
        )]
        LoadNeverActs {
            load: String,
            during: String,
            start_s: f64,
            end_s: f64,
        } = Doubt;
        /// A load whose time reaches beyond the recording.
        #[error("{load}: it acts {during}, but the recording runs from {start_s:.3} to {end_s:.3} s")]
        LoadWindowBeyond {
            load: String,
            during: String,
            start_s: f64,
            end_s: f64,
        } = Note;
        /// A shoulder centre from the shoulder blade.
        #[error(
            "{side}: the shoulder centre is estimated from the shoulder blade's landmarks (Meskers et al. 1998); its coefficients come from one copy, the direction of Z and the pairing in the equation of y are not confirmed"
        )]
        ShoulderByRegression { side: Side } = Note;
        /// An elbow centre beside one marker.
        #[error(
            "{side}: the elbow centre is estimated {half_width_mm:.1} mm beside {marker}, in the direction normal to the plane of the arm; an error of that width or direction goes straight into the moments"
        )]
        ElbowByHalfWidth {
            side: Side,
            marker: String,
            half_width_mm: f64,
        } = Note;
        /// Frames in which the stated half width fits no elbow centre.
        #[error(
            "{side}: in {frames} of {of} frames no elbow centre fits: {marker} stands nearer than the stated half width of {half_width_mm:.1} mm to the line from shoulder to wrist; the direction from the centre to the marker is carried over from other frames there. A nearly straight arm with a carrying angle does that, a half width that is too large does it in more frames"
        )]
        HalfWidthUnsolved {
            side: Side,
            marker: String,
            half_width_mm: f64,
            frames: usize,
            of: usize,
        } = Note;
        /// A functional centre that is poorly known.
        #[error("{side}: the functional {joint} centre is doubtful: {what}")]
        CentreDoubtful {
            side: Side,
            joint: &'static str,
            what: String,
        } = Grave;
        /// Marker noise hides rest.
        #[error(
            "{side}: rest and movement can't be told apart: with this noise of the markers the speed of {what} errs by {error}, more than half of the {limit} under which an arm rests; no hold is named{}",
            if *what == "moving" { ", no lift and no lower" } else { "" }
        )]
        RestUnclear {
            side: Side,
            what: &'static str,
            error: String,
            limit: String,
        } = Note;
        /// One thing as the load of both arms.
        #[error(
            "the {right} of the right hand and the {left} of the left hand are the same thing ({what}) at the same time{}: a bar in both hands is one [[load]] with kind = \"shared-bar\" and no side; is it counted twice?",
            total_kg.map_or(String::new(), |kg| format!(", {} kg together", (kg * 1e4).round() / 1e4))
        )]
        OneThingOnBothArms {
            right: String,
            left: String,
            what: String,
            total_kg: Option<f64>,
        } = Grave;
        /// A key that changes nothing in this trial: of an included file, or known better by the recording.
        #[error("{file}: '{key}' has no effect in this trial: {why}")]
        KeyWithoutEffect { key: String, file: String, why: String } = Note;
        /// Columns without a value.
        #[error("{side}: no frame has a value of {}: {why}", columns_in_words(columns))]
        NoValues {
            side: Side,
            columns: Vec<String>,
            why: String,
        } => (columns) { if lack_moments(columns) { Weight::Doubt } else { Weight::Routine } };
        /// A rate at which no lift is seen well.
        #[error(
            "{file}: {rate_hz:.4} samples a second: movement is recorded at 20 and more; are its times, or markers.rate_hz, right?"
        )]
        SlowSampling { file: String, rate_hz: f64 } = Grave;
        /// A number that people, or the things in their hands, hardly ever have.
        #[error("{what} {} {}; usual: {usual} ({source_of_range}){}: {ask}", digits(*found), unit, if *never { ", and this is far beyond" } else { "" })]
        Unusual {
            /// The quantity, with whose it is and when; ends so that a number may follow.
            what: String,
            /// Its value.
            found: f64,
            /// Unit.
            unit: &'static str,
            /// The usual range in words.
            usual: String,
            /// Where the range comes from.
            #[serde(rename = "source")]
            source_of_range: &'static str,
            /// What may be wrong.
            ask: &'static str,
            /// Whether no person or thing has it, not only few.
            never: bool,
        } = Grave;
        /// A load that is not where the hand is.
        #[error(
            "{load}: its place ({at}) is {middle_m:.2} m from the hand's grip (median; from {least_m:.2} to {most_m:.2} m); what is held stays within {limit_m:.1} m of the grip, with a distance that varies by less than {steady_m:.2} m: is `at` right, and are its points of this hand, this take and these axes?"
        )]
        LoadOffHand {
            load: String,
            at: String,
            middle_m: f64,
            least_m: f64,
            most_m: f64,
            limit_m: f64,
            steady_m: f64,
        } = Grave;
        /// A line that ends where it begins.
        #[error(
            "{load}: its far end comes as near to the hand's grip as {nearest_m:.3} m, where the direction of its pull means nothing: is the far end a place in the room?"
        )]
        LineEndOnHand { load: String, nearest_m: f64 } = Grave;
        /// A load that stands twice.
        #[error(
            "{load} and {other} are the same: {words}: does the load stand twice in the sheet? Both are counted"
        )]
        LoadTwice {
            load: String,
            other: String,
            words: String,
        } = Grave;
        /// A load that hardly pulls.
        #[error(
            "{load}: it never acts with more than {largest_n:.3} N: is its unit right (N, kg), is it switched on, or is a band never taut?"
        )]
        LoadDoesNothing { load: String, largest_n: f64 } = Grave;
        /// Channels that never change.
        #[error("{file}: {} never changes in {rows} rows ({}): is the channel dead or stuck?", columns.join(", "), values.iter().map(|v| digits(*v)).collect::<Vec<_>>().join(", "))]
        ChannelDead {
            file: String,
            columns: Vec<String>,
            rows: usize,
            values: Vec<f64>,
        } = Grave;
        /// A force that would fit the movement if it were turned.
        #[error(
            "{load}: the force in {file} would fit a mass of {mass_kg:.2} kg moving with the hand {suggestion} ({:.0} % of its variance explained, now {:.0} %): check force_on, resolved_in and the axes of the file; nothing was turned",
            100.0 * fit,
            100.0 * fit_as_stated.max(0.0)
        )]
        ForceTurned {
            load: String,
            file: String,
            suggestion: String,
            mass_kg: f64,
            fit: f64,
            fit_as_stated: f64,
        } = Grave;
        /// Two landmarks that are in one place now and then.
        #[error(
            "{a} and {b} are in one place in {frames} frames, first at {first}: one of them carries the other's position there; nothing was corrected"
        )]
        PointsMeet {
            a: String,
            b: String,
            frames: usize,
            first: Moment,
        } = Grave;
        /// An arm as no shoulder allows it on the trunk as it is taken.
        #[error(
            "{side}: {what}, as no shoulder allows on a trunk that stands upright and faces `forward`: are markers.up and markers.forward right, or does the participant lie?"
        )]
        PostureImplausible { side: Side, what: &'static str } = Grave;
        /// A cutoff within the movement.
        #[error(
            "smoothing at {cutoff_hz} Hz takes {taken_mm:.1} mm (RMS) of movement away from {point}, beyond its noise of {noise_mm:.2} mm: accelerations come out too small; is filter.cutoff_hz too low?"
        )]
        SmoothingTakesMovement {
            cutoff_hz: f64,
            point: String,
            taken_mm: f64,
            noise_mm: f64,
        } = Grave;
        /// A cutoff that lets noise through.
        #[error(
            "marker noise of {noise_mm:.2} mm (median), {}, shakes accelerations by {acceleration_m_s2:.1} m/s² (RMS, each coordinate), beside gravity's 9.8: what is said of motion is noise; is filter.cutoff_hz too high?",
            cutoff_hz.map_or("not smoothed".to_owned(), |hz| format!("smoothed at {hz} Hz"))
        )]
        NoiseInAccelerations {
            noise_mm: f64,
            cutoff_hz: Option<f64>,
            acceleration_m_s2: f64,
        } = Grave;
        /// No load.
        #[error("{side}: no load is stated for this arm; only the arm itself is counted")]
        NoLoad { side: Side } = Note;
    }
}

impl Warning {
    /// Whether it is shown first everywhere.
    pub fn is_grave(&self) -> bool {
        self.weight() == Weight::Grave
    }

    /// Whether it turns the verdict on a recording.
    pub fn is_doubt(&self) -> bool {
        self.weight() >= Weight::Doubt
    }

    /// Whether it stands in the reports and not on the terminal.
    pub fn is_routine(&self) -> bool {
        self.weight() == Weight::Routine
    }
}
