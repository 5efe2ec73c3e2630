//! What is not known for sure, and how far it is usually off.

use crate::ground::names::Joint;
use crate::sheet::UncertaintySettings;
use crate::trial::Prepared;
use crate::trial::varied::Variation;
use nalgebra::Vector3;

/// Something that a result hangs on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Source {
    /// Where a joint centre is: along this axis of the upper arm (elbow) or the trunk (shoulder).
    Centre(Joint, usize),
    /// Mass of a segment: upper arm, forearm, hand.
    Mass(usize),
    /// How far a segment's mass centre is from its proximal joint.
    MassCentre(usize),
    /// Radii of gyration of a segment.
    Gyration(usize),
    /// Mass of the loads, or gain of what recorded them.
    LoadGain,
    /// Where the loads act, along this axis of the hand.
    LoadPlace(usize),
    /// Clock of recorded forces.
    LoadDelay,
    /// The lab's plumb line: about the world's X (sideways), about Z (forwards).
    Tilt(usize),
    /// How hard markers are smoothed.
    Cutoff,
    /// Moment arms of all muscles.
    MomentArms,
    /// Cross-section of a muscle that shares.
    CrossSection(usize),
}

/// How far a source is usually off, in its unit, and who says so.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Usual {
    /// In the source's unit.
    pub size: f64,
    /// Source and status.
    pub from: &'static str,
}

const SEGMENTS: [&str; 3] = ["upper arm", "forearm", "hand"];
const OWN: &str = "common practice, no source";

impl Source {
    /// What it is.
    pub fn words(self) -> String {
        match self {
            Source::Centre(joint, axis) => {
                let along = match joint {
                    Joint::Shoulder => "upwards",
                    _ => "towards the shoulder",
                };
                format!(
                    "{} centre {}",
                    joint.name(),
                    ["forwards", along, "outwards"][axis]
                )
            }
            Source::Mass(i) => format!("mass of the {}", SEGMENTS[i]),
            Source::MassCentre(i) => format!("mass centre of the {}", SEGMENTS[i]),
            Source::Gyration(i) => format!("radii of gyration of the {}", SEGMENTS[i]),
            Source::LoadGain => "mass or force of the load".into(),
            Source::LoadPlace(axis) => format!(
                "place of the load, {}",
                ["towards the palm", "towards the elbow", "towards the thumb"][axis]
            ),
            Source::LoadDelay => "clock of the recorded force".into(),
            Source::Tilt(0) => "plumb line, sideways".into(),
            Source::Tilt(_) => "plumb line, forwards".into(),
            Source::Cutoff => "cutoff of the markers".into(),
            Source::MomentArms => "moment arms of the muscles".into(),
            Source::CrossSection(_) => "cross-section of a muscle".into(),
        }
    }

    /// Unit that a change is told for.
    pub fn unit(self) -> &'static str {
        match self {
            Source::Centre(..) | Source::LoadPlace(_) => "mm",
            Source::Mass(_)
            | Source::Gyration(_)
            | Source::LoadGain
            | Source::MomentArms
            | Source::CrossSection(_) => "%",
            Source::MassCentre(_) => "% of length",
            Source::LoadDelay => "ms",
            Source::Tilt(_) => "°",
            Source::Cutoff => "Hz",
        }
    }

    /// How far it may be off by these settings, in its unit: a standard deviation. The cutoff has none of its own.
    pub fn size(self, of: &UncertaintySettings) -> f64 {
        match self {
            Source::Centre(Joint::Shoulder, _) => of.shoulder_centre_mm,
            Source::Centre(..) => of.elbow_centre_mm,
            Source::Mass(_) => of.segment_mass_percent,
            Source::MassCentre(_) => of.mass_centre_percent,
            Source::Gyration(_) => of.gyration_percent,
            Source::LoadGain => of.load_percent,
            Source::LoadPlace(_) => of.load_place_mm,
            Source::LoadDelay => of.force_delay_ms,
            Source::Tilt(_) => of.tilt_deg,
            Source::Cutoff => 0.0,
            Source::MomentArms => of.moment_arm_percent,
            Source::CrossSection(_) => of.cross_section_percent,
        }
    }

    /// How far it is usually off.
    pub fn usual(self, cutoff_hz: f64) -> Usual {
        let size = match self {
            Source::Cutoff => 0.3 * cutoff_hz,
            _ => self.size(&UncertaintySettings::default()),
        };
        let from = match self {
            Source::Centre(Joint::Shoulder, _) => {
                "regression 2-3 mm an axis, functional in patients 15-21 mm (abstracts)"
            }
            Source::Centre(..) => "skin over the epicondyles moves by 5-20 mm (from memory)",
            Source::Mass(_) | Source::MassCentre(_) | Source::Gyration(_) => {
                "segment parameters ±5-20 % (from memory)"
            }
            _ => OWN,
        };
        Usual { size, from }
    }

    /// The trial with this source off by `size` of its units, for every arm.
    pub fn off_by(self, size: f64, prepared: &Prepared<'_>, cutoff_hz: f64) -> Variation {
        let mut v = Variation::default();
        match self {
            Source::Centre(joint, axis) => {
                let mut by = Vector3::zeros();
                by[axis] = 1e-3 * size;
                let arms = 0..prepared.arms().count();
                v.moved = arms
                    .map(|i| prepared.centre_moved(i, joint, by))
                    .reduce(|a, b| a + b);
            }
            Source::Mass(i) => v.segments[i].mass += 0.01 * size,
            Source::MassCentre(i) => v.segments[i].com = 0.01 * size,
            Source::Gyration(i) => v.segments[i].radii += 0.01 * size,
            Source::LoadGain => v.loads.gain += 0.01 * size,
            Source::LoadPlace(axis) => v.loads.place_m[axis] = 1e-3 * size,
            Source::LoadDelay => v.loads.delay_s = 1e-3 * size,
            Source::Tilt(axis) => v.tilt[2 * axis] = size.to_radians(),
            Source::Cutoff => v.cutoff = 1.0 + size / cutoff_hz,
            Source::MomentArms => v.moment_arms += 0.01 * size,
            Source::CrossSection(i) => v.cross_section = Some((i, 1.0 + 0.01 * size)),
        }
        v
    }

    /// Everything that a trial can hang on.
    pub fn of(prepared: &Prepared<'_>) -> Vec<Source> {
        let (loads, recorded) = prepared.acts_on_hands();
        let hands = prepared.arms().any(|(_, body, _)| body.hand.is_some());
        let planar = prepared.arms().all(|(plan, ..)| plan.planar);
        let axes = if planar { 0..2 } else { 0..3 };
        let segments = if hands { 0..3 } else { 0..2 };
        let mut out = Vec::new();
        for joint in [Joint::Elbow, Joint::Shoulder] {
            out.extend(axes.clone().map(|a| Source::Centre(joint, a)));
        }
        out.extend(segments.clone().map(Source::Mass));
        out.extend(segments.clone().map(Source::MassCentre));
        out.extend(segments.map(Source::Gyration));
        if loads {
            out.push(Source::LoadGain);
            out.extend(axes.map(Source::LoadPlace));
        }
        out.extend(recorded.then_some(Source::LoadDelay));
        out.extend((0..2).filter(|a| !planar || *a == 1).map(Source::Tilt));
        out.extend(prepared.cutoff_hz().map(|_| Source::Cutoff));
        out
    }

    /// What forces of muscles and at the contact hang on beside all that moments do.
    pub fn of_muscles(prepared: &Prepared<'_>) -> Vec<Source> {
        let sharing = (0..prepared.sharing_muscles()).map(Source::CrossSection);
        [Source::MomentArms].into_iter().chain(sharing).collect()
    }
}
