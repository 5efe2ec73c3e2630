//! `[uncertainty]`: how far off what is not known for sure may be.

use crate::ground::form::FormError;
use crate::ground::form::keys::Keys;
use crate::ground::form::registry::Key;

/// Draws unless the sheet or the command line says otherwise.
pub const DEFAULT_DRAWS: u64 = 100;
/// Most draws that can be asked for.
pub const MOST_DRAWS: usize = 100_000;

/// Standard deviations of what a trial hangs on, and how often chance is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct UncertaintySettings {
    /// How often noise and skin are drawn; `None`: no band is asked for.
    pub draws: Option<usize>,
    /// What chance begins with.
    pub seed: u64,
    /// White noise of a coordinate, m; `None`: as measured in the recording, point by point.
    pub marker_noise_m: Option<f64>,
    /// Skin over bone, of a coordinate, m.
    pub skin_m: f64,
    /// Elbow centre along each axis of the upper arm, mm.
    pub elbow_centre_mm: f64,
    /// Shoulder centre along each axis of the trunk, mm.
    pub shoulder_centre_mm: f64,
    /// Mass of each segment, %.
    pub segment_mass_percent: f64,
    /// Mass centre of each segment, % of its length.
    pub mass_centre_percent: f64,
    /// Radii of gyration of each segment, %.
    pub gyration_percent: f64,
    /// Mass, force or tension of the loads, %.
    pub load_percent: f64,
    /// Place of the loads along each axis of the hand, mm.
    pub load_place_mm: f64,
    /// Clock of recorded forces, ms.
    pub force_delay_ms: f64,
    /// Plumb line about each horizontal axis, °.
    pub tilt_deg: f64,
    /// Moment arms of the muscles, all alike, %.
    pub moment_arm_percent: f64,
    /// Cross-section of each muscle that shares, %.
    pub cross_section_percent: f64,
}

impl Default for UncertaintySettings {
    fn default() -> Self {
        Self {
            draws: None,
            seed: 1,
            marker_noise_m: None,
            skin_m: 0.0015,
            elbow_centre_mm: 10.0,
            shoulder_centre_mm: 15.0,
            segment_mass_percent: 10.0,
            mass_centre_percent: 5.0,
            gyration_percent: 5.0,
            load_percent: 2.0,
            load_place_mm: 10.0,
            force_delay_ms: 5.0,
            tilt_deg: 0.5,
            moment_arm_percent: 10.0,
            cross_section_percent: 20.0,
        }
    }
}

const fn size(key: &'static str, unit: &'static str, default: &'static str, meaning: &'static str) -> Key {
    Key {
        key,
        kind: "number",
        unit,
        default,
        meaning,
        example: "0.0",
    }
}

/// Keys of `[uncertainty]`.
pub const KEYS: &[Key] = &[
    Key {
        key: "uncertainty.draws",
        kind: "whole number",
        unit: "",
        default: "100",
        meaning: "How often noise and skin are drawn. --uncertainty N states it for one run; without it and without this table there are no bands. 95 % bands, intervals and a ranking of what they come from. All sizes below are standard deviations.",
        example: "400",
    },
    Key {
        key: "uncertainty.seed",
        kind: "whole number",
        unit: "",
        default: "1",
        meaning: "What chance begins with: the same seed, the same bands.",
        example: "2",
    },
    size(
        "uncertainty.marker_noise_mm",
        "mm",
        "\"as measured\"",
        "White noise of a coordinate.",
    ),
    size(
        "uncertainty.skin_mm",
        "mm",
        "1.5",
        "Skin moving over bone, of a coordinate: slow, falling with the square of the frequency from 0.5 Hz on; the landmarks of a cluster move together. 0 for markers on bone (two clusters see one elbow 1.3-5.2 mm apart after fitting; our measurement, eight recordings).",
    ),
    size(
        "uncertainty.elbow_centre_mm",
        "mm",
        "10.0",
        "Place of the elbow centre along each axis of the upper arm (skin over the epicondyles moves by 5-20 mm; from memory).",
    ),
    size(
        "uncertainty.shoulder_centre_mm",
        "mm",
        "15.0",
        "Place of the shoulder centre along each axis of the trunk (functional in patients 15-21 mm; abstracts).",
    ),
    size(
        "uncertainty.segment_mass_percent",
        "%",
        "10.0",
        "Mass of each segment (segment parameters ±5-20 %; from memory).",
    ),
    size(
        "uncertainty.mass_centre_percent",
        "% of length",
        "5.0",
        "Place of each segment's mass centre (from memory, as masses).",
    ),
    size(
        "uncertainty.gyration_percent",
        "%",
        "5.0",
        "Radii of gyration of each segment (from memory, as masses).",
    ),
    size(
        "uncertainty.load_percent",
        "%",
        "2.0",
        "Mass of the loads, gain of recorded forces (common practice, no source).",
    ),
    size(
        "uncertainty.load_place_mm",
        "mm",
        "10.0",
        "Where the loads act, along each axis of the hand (common practice, no source).",
    ),
    size(
        "uncertainty.force_delay_ms",
        "ms",
        "5.0",
        "Clock of recorded forces (common practice, no source).",
    ),
    size(
        "uncertainty.tilt_deg",
        "°",
        "0.5",
        "The lab's plumb line, about each horizontal axis (common practice, no source).",
    ),
    size(
        "uncertainty.moment_arm_percent",
        "%",
        "10.0",
        "Moment arms of the muscles, all alike: people's bones differ as a whole (the triceps' spreads by 6-7 % in vivo, Sugisaki et al. 2010, abstract; more for curves of one copy: our choice).",
    ),
    size(
        "uncertainty.cross_section_percent",
        "%",
        "20.0",
        "Cross-section of each muscle that shares, each on its own (from memory).",
    ),
];

impl UncertaintySettings {
    /// Reads `[uncertainty]`.
    ///
    /// # Errors
    /// A size below zero or beyond all measure.
    pub fn read(keys: Option<Keys>) -> Result<Self, FormError> {
        let mut out = Self::default();
        let Some(keys) = keys else { return Ok(out) };
        let draws = keys.number_within("draws", 2.0, MOST_DRAWS as f64, "")?;
        let draws = keys.or(
            "draws",
            draws.map(|n| n.round() as u64),
            DEFAULT_DRAWS,
            "intervals to within 7 % of themselves (standard error of a standard deviation)",
        );
        out.draws = Some(draws as usize);
        let seed = keys.number_within("seed", 0.0, 1e15, "")?;
        out.seed = keys.or("seed", seed.map(|n| n.round() as u64), 1, "any number does");
        out.marker_noise_m = keys
            .number_within("marker_noise_mm", 0.0, 100.0, "mm")?
            .map(|x| 1e-3 * x);
        if out.marker_noise_m.is_none() {
            keys.note_default(
                "marker_noise_mm",
                "as measured",
                "fourth differences of each point in the recording",
            );
        }
        let skin_mm = keys.number_within("skin_mm", 0.0, 100.0, "mm")?;
        let skin_mm = keys.or("skin_mm", skin_mm, 1.5, "two clusters see one elbow centre 1.3-5.2 mm apart after fitting (our measurement, eight recordings)");
        out.skin_m = 1e-3 * skin_mm;
        const TABLES: &str = "segment parameters ±5-20 % (from memory)";
        const OWN: &str = "common practice, no source";
        const ARMS: &str = "the triceps' moment arm spreads by 6-7 % in vivo (Sugisaki et al. 2010 J Biomech 43:2844, abstract); no spread of the flexors' was read, and the curves are one copy: our choice";
        for (key, most, unit, why, place) in [
            (
                "elbow_centre_mm",
                200.0,
                "mm",
                "skin over the epicondyles moves by 5-20 mm (from memory)",
                &mut out.elbow_centre_mm,
            ),
            (
                "shoulder_centre_mm",
                200.0,
                "mm",
                "functional in patients 15-21 mm (abstracts)",
                &mut out.shoulder_centre_mm,
            ),
            (
                "segment_mass_percent",
                50.0,
                "%",
                TABLES,
                &mut out.segment_mass_percent,
            ),
            (
                "mass_centre_percent",
                50.0,
                "% of length",
                TABLES,
                &mut out.mass_centre_percent,
            ),
            ("gyration_percent", 50.0, "%", TABLES, &mut out.gyration_percent),
            ("load_percent", 50.0, "%", OWN, &mut out.load_percent),
            ("load_place_mm", 500.0, "mm", OWN, &mut out.load_place_mm),
            ("force_delay_ms", 1000.0, "ms", OWN, &mut out.force_delay_ms),
            ("tilt_deg", 30.0, "°", OWN, &mut out.tilt_deg),
            ("moment_arm_percent", 50.0, "%", ARMS, &mut out.moment_arm_percent),
            (
                "cross_section_percent",
                80.0,
                "%",
                "from memory",
                &mut out.cross_section_percent,
            ),
        ] {
            let given = keys.number_within(key, 0.0, most, unit)?;
            *place = keys.or(key, given, *place, why);
        }
        keys.finish()?;
        Ok(out)
    }
}
