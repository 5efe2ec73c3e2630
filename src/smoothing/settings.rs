//! What a sheet says of smoothing: `[filter]`.

use crate::ground::form::FormError;
use crate::ground::form::keys::Keys;
use crate::ground::form::registry::Key;
use crate::ground::form::tree::Value;
use crate::ground::place::Place;

/// A cutoff as a sheet can state it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Cutoff {
    /// Of markers the least expected error, of recorded forces residual analysis.
    Auto,
    /// Residual analysis.
    Residual,
    /// Effective -3 dB point, Hz.
    Hz(f64),
    /// No smoothing.
    None,
}

impl Cutoff {
    /// Whether it is found in the recording.
    pub fn is_found(self) -> bool {
        matches!(self, Cutoff::Auto | Cutoff::Residual)
    }
}

impl std::fmt::Display for Cutoff {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Cutoff::Auto => f.write_str("\"auto\""),
            Cutoff::Residual => f.write_str("\"residual\""),
            Cutoff::Hz(hz) => write!(f, "{hz}"),
            Cutoff::None => f.write_str("\"none\""),
        }
    }
}

/// A cutoff of recorded forces as a sheet can state it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ForceCutoff {
    /// Nothing is said: each its own if that of the markers is automatic, else the markers'.
    Unstated,
    /// One for both, `"same"`; if it is automatic, the larger of what markers and forces ask for.
    Shared,
    /// Their own.
    Own(Cutoff),
}

/// How markers are smoothed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Zero-lag low-pass, one cutoff for all.
    Butterworth,
    /// A smoothing spline for each coordinate, as smooth as its own noise makes most likely.
    Spline,
    /// The same for poses of bodies that three markers or more show, and for the coordinates of all other points.
    Rigid,
    /// An arm as linked segments: curves of its joints, through all of its markers at once; the low-pass where the markers
    /// don't stand as such an arm would have them.
    Linked,
    /// Whichever of them (but linked) foretells markers best that it has not seen.
    Auto,
}

impl Method {
    /// As a sheet has it.
    pub fn word(self) -> &'static str {
        match self {
            Method::Butterworth => "butterworth",
            Method::Spline => "spline",
            Method::Rigid => "rigid",
            Method::Linked => "linked",
            Method::Auto => "auto",
        }
    }
}

/// `[filter]`
#[derive(Clone, Debug)]
pub struct FilterSettings {
    /// How markers are smoothed.
    pub method: Method,
    /// For markers.
    pub cutoff: Cutoff,
    /// Where it stands.
    pub cutoff_place: Place,
    /// For recorded forces.
    pub force_cutoff: ForceCutoff,
    /// Longest gap that is filled by a spline, s.
    pub max_gap_s: f64,
}

fn read_cutoff(keys: &Keys, key: &str, extra: Option<&str>) -> Result<Option<Cutoff>, FormError> {
    let Some(node) = keys.node(key) else {
        return Ok(None);
    };
    match &node.value {
        Value::Number(_) => Ok(keys.positive(key, 1e5, "Hz")?.map(Cutoff::Hz)),
        Value::Text(_) => {
            let t = keys.text(key)?.unwrap_or_default();
            match t.as_str() {
                "auto" => Ok(Some(Cutoff::Auto)),
                "residual" => Ok(Some(Cutoff::Residual)),
                "none" => Ok(Some(Cutoff::None)),
                t if Some(t) == extra => Ok(None),
                t if t.starts_with(|c: char| c.is_ascii_digit()) => Err(FormError::WrongKind {
                    place: node.place.clone(),
                    key: keys.path_of(key),
                    found: node.value.describe(),
                    expected: "\"auto\", \"residual\", \"none\" or a number in Hz".into(),
                }),
                t => {
                    let mut choices = vec!["auto", "residual", "none", "a number in Hz"];
                    choices.extend(extra);
                    Err(keys.unknown_choice(key, t, &choices))
                }
            }
        }
        other => Err(FormError::WrongKind {
            place: node.place.clone(),
            key: keys.path_of(key),
            found: other.describe(),
            expected: "\"auto\", \"residual\", \"none\" or a number in Hz".into(),
        }),
    }
}

/// Longest gap filled by a spline unless the sheet says otherwise, s.
pub const DEFAULT_MAX_GAP_S: f64 = 0.1;

/// Keys of `[filter]`.
pub const KEYS: &[Key] = &[
    Key {
        key: "filter.method",
        kind: "\"butterworth\", \"spline\", \"rigid\", \"linked\" or \"auto\"",
        unit: "",
        default: "\"butterworth\"",
        meaning: "How markers are smoothed. butterworth: zero-lag low-pass of second order, run forward and backward, one cutoff for all. \
                  spline: each coordinate by a curve of its own, as smooth as its noise makes most likely; cutoff_hz then has no effect, and each recorded force has a cutoff of its own. \
                  rigid: the same for the poses of clusters and of segments with three landmarks or more of their own, by coordinates for other points. \
                  linked: an arm as linked segments, all of its markers at once; refused, with the low-pass in its place, where markers stand off such an arm by more than their noise (skin). \
                  auto: whichever of the first three foretells best the acceleration of cluster markers that it has not seen (armload inspect SHEET --smoothing); butterworth where no cluster has four.",
        example: "\"spline\"",
    },
    Key {
        key: "filter.cutoff_hz",
        kind: "\"auto\", \"residual\", \"none\" or a number",
        unit: "Hz",
        default: "\"auto\"",
        meaning: "Effective -3 dB point of the low-pass for markers: faster changes are taken for noise. auto: where the accelerations of elbow, forearm, hand and load are expected to err least. residual: by residual analysis of every coordinate, the 90th percentile.",
        example: "6.0",
    },
    Key {
        key: "filter.force_cutoff_hz",
        kind: "\"same\", \"auto\", \"residual\", \"none\" or a number",
        unit: "Hz",
        default: "\"auto\"; \"same\" where cutoff_hz is stated",
        meaning: "The same for recorded forces, automatic by residual analysis. \"same\": the markers' cutoff; where that is automatic, the larger of what markers and forces ask for, for both.",
        example: "\"none\"",
    },
    Key {
        key: "filter.max_gap_s",
        kind: "number",
        unit: "s",
        default: "0.1",
        meaning: "Longest gap that is filled by a curve; a longer one stays empty.",
        example: "0.05",
    },
];

/// Why a recorded force has a cutoff of its own.
const OWN_CUTOFF: &str = "residual analysis of each recorded force; one cutoff for both lets the markers' noise through (measured, docs/smoothing.md)";

fn read_force_cutoff(keys: &Keys) -> Result<ForceCutoff, FormError> {
    let own = read_cutoff(keys, "force_cutoff_hz", Some("same"))?;
    Ok(match own {
        Some(cutoff) => ForceCutoff::Own(cutoff),
        None if keys.has("force_cutoff_hz") => ForceCutoff::Shared,
        None => ForceCutoff::Unstated,
    })
}

fn read_max_gap(keys: &Keys) -> Result<f64, FormError> {
    let given = keys.number_within("max_gap_s", 0.0, 10.0, "s")?;
    Ok(keys.or(
        "max_gap_s",
        given,
        DEFAULT_MAX_GAP_S,
        "what a curve can be trusted to bridge in arm movement (common practice, no source)",
    ))
}

impl FilterSettings {
    /// Reads `[filter]`.
    pub fn read(keys: Keys) -> Result<Self, FormError> {
        let method = keys.choice_or(
            "method",
            &[
                ("butterworth", Method::Butterworth),
                ("spline", Method::Spline),
                ("rigid", Method::Rigid),
                ("linked", Method::Linked),
                ("auto", Method::Auto),
            ],
            ("butterworth", Method::Butterworth),
            "zero-lag low-pass of second order, forward and backward",
        )?;
        if matches!(method, Method::Spline | Method::Rigid | Method::Linked) {
            return Self::read_with_curves(keys, method);
        }
        let cutoff = read_cutoff(&keys, "cutoff_hz", None)?;
        if cutoff.is_none() {
            keys.note_default(
                "cutoff_hz",
                "auto",
                "least expected error of the accelerations from the elbow on (measured, docs/smoothing.md)",
            );
        }
        let cutoff_place = keys.place_of("cutoff_hz");
        let force_cutoff = read_force_cutoff(&keys)?;
        if force_cutoff == ForceCutoff::Unstated {
            let (default, why) = match cutoff {
                None | Some(Cutoff::Auto | Cutoff::Residual) => ("auto", OWN_CUTOFF),
                _ => (
                    "same",
                    "one cutoff for markers and recorded forces (Bisseling & Hof 2006, J Biomech 39:2438)",
                ),
            };
            keys.note_default("force_cutoff_hz", default, why);
        }
        let max_gap_s = read_max_gap(&keys)?;
        keys.finish()?;
        Ok(Self {
            method,
            cutoff: cutoff.unwrap_or(Cutoff::Auto),
            cutoff_place,
            force_cutoff,
            max_gap_s,
        })
    }

    /// A cutoff that recorded forces have for themselves; `None`: they share that of the markers.
    pub fn own_of_forces(&self) -> Option<Cutoff> {
        match (self.force_cutoff, self.method) {
            (ForceCutoff::Own(cutoff), _) => Some(cutoff),
            (_, Method::Spline | Method::Rigid | Method::Linked) => Some(Cutoff::Auto),
            (ForceCutoff::Shared, Method::Butterworth | Method::Auto) => None,
            (ForceCutoff::Unstated, Method::Butterworth | Method::Auto) => {
                self.cutoff.is_found().then_some(Cutoff::Auto)
            }
        }
    }

    /// The rest of `[filter]` with curves: no cutoff for markers, one of their own for recorded forces.
    fn read_with_curves(keys: Keys, method: Method) -> Result<Self, FormError> {
        let cutoff = read_cutoff(&keys, "cutoff_hz", None)?.unwrap_or(Cutoff::Auto);
        // "same" is how it is found: each force by its own record, as each coordinate by its own
        let force_cutoff = read_force_cutoff(&keys)?;
        if force_cutoff == ForceCutoff::Unstated {
            keys.note_default("force_cutoff_hz", "auto", OWN_CUTOFF);
        }
        let max_gap_s = read_max_gap(&keys)?;
        let cutoff_place = keys.place_of("cutoff_hz");
        keys.finish()?;
        Ok(Self {
            method,
            cutoff,
            cutoff_place,
            force_cutoff,
            max_gap_s,
        })
    }
}
