//! What a sheet says of points made from others: `[calibration]`, `model.shoulder_centre`, `model.elbow_centre`.

use crate::ground::closest;
use crate::ground::form::FormError;
use crate::ground::form::keys::Keys;
use crate::ground::form::registry::Key;
use crate::ground::landmarks;
use crate::ground::names::{Segment, Side};
use crate::ground::place::Place;
use std::path::{Path, PathBuf};

/// Where the shoulder centre comes from.
#[derive(Clone, Debug, PartialEq)]
pub enum ShoulderMethod {
    /// A point of the file: SJC or GH.
    Given,
    /// Below the acromion along the trunk's long axis by a length, m.
    BelowAcromion {
        /// Length, m.
        drop_m: f64,
    },
    /// Below the acromion by a fraction of the distance between the acromia.
    BelowAcromionFraction {
        /// Fraction of the distance.
        drop_fraction: f64,
    },
    /// Regression from five landmarks of the shoulder blade.
    ScapulaRegression,
    /// Where upper arm and shoulder blade or trunk turn about each other.
    Functional(MotionTrial),
}

/// The recording in which two segments are moved against each other to find their joint.
#[derive(Clone, Debug, PartialEq)]
pub struct MotionTrial {
    /// The file, resolved against the sheet's folder; `None`: the trial itself.
    pub file: Option<PathBuf>,
    /// Where the method stands in the sheet.
    pub place: Place,
}

/// Where the elbow centre comes from.
#[derive(Clone, Debug, PartialEq)]
pub enum ElbowMethod {
    /// Points of the file: EJC, or the midpoint of EL and EM.
    Given,
    /// On the axis about which forearm and upper arm turn against each other.
    Functional {
        /// Where they do.
        motion: MotionTrial,
        /// Half the distance between the epicondyles, m; needed if only one of them is known.
        half_width_m: Option<f64>,
    },
    /// Beside the only epicondyle there is.
    HalfWidth {
        /// Half the distance between the epicondyles, m.
        half_width_m: f64,
    },
}

/// One calibrated cluster.
#[derive(Clone, Debug, PartialEq)]
pub struct Cluster {
    /// Side; `None` for the thorax.
    pub side: Option<Side>,
    /// Segment whose landmarks follow it.
    pub segment: Segment,
    /// Marker names.
    pub markers: Vec<String>,
    /// Where it stands.
    pub place: Place,
}

/// `[calibration]`
#[derive(Clone, Debug)]
pub struct CalibrationSettings {
    /// Static trial with all landmarks and the clusters; `None`: clusters are learnt from the trial itself.
    pub file: Option<PathBuf>,
    /// Where the key stands.
    pub file_place: Place,
    /// The clusters.
    pub clusters: Vec<Cluster>,
}

/// Keys of `[calibration]`.
pub const CALIBRATION_KEYS: &[Key] = &[
    Key {
        key: "calibration.file",
        kind: "text",
        unit: "",
        default: "none; clusters are learnt from the trial itself",
        meaning: "Marker file of a trial held still, with clusters and all landmarks, from the sheet's folder.",
        example: "\"static.csv\"",
    },
    Key {
        key: "calibration.clusters.*",
        kind: "list of three or more texts",
        unit: "",
        default: "none",
        meaning: "Markers that move with one segment, named thorax, scapula, upper_arm, forearm or hand; with two arms right.forearm. Landmarks that are hard to see are rebuilt from them.",
        example: "[\"fa1\", \"fa2\", \"fa3\"]",
    },
];

/// Names of the methods for the shoulder centre.
const SHOULDER_METHODS: [&str; 4] = ["given", "below-acromion", "scapula-regression", "functional"];

/// Names of the methods for the elbow centre.
const ELBOW_METHODS: [&str; 3] = ["given", "functional", "half-width"];

/// `shoulder_centre` as it is written, with the method that was found in its place if it is one.
pub fn shoulder_as_table(method: &str) -> String {
    match method {
        "below-acromion" => "shoulder_centre = { method = \"below-acromion\", drop_m = 0.04 }".into(),
        m if SHOULDER_METHODS.contains(&m) => format!("shoulder_centre = {{ method = \"{m}\" }}"),
        _ => "shoulder_centre = { method = \"given\" }".into(),
    }
}

/// `elbow_centre` as it is written, with the method that was found in its place if it is one.
pub fn elbow_as_table(method: &str) -> String {
    match method {
        "half-width" => "elbow_centre = { method = \"half-width\", half_width_m = 0.034 }".into(),
        m if ELBOW_METHODS.contains(&m) => format!("elbow_centre = {{ method = \"{m}\" }}"),
        _ => "elbow_centre = { method = \"given\" }".into(),
    }
}

/// Reads `model.shoulder_centre`.
pub fn read_shoulder(keys: Keys, dir: &Path) -> Result<ShoulderMethod, FormError> {
    let choices = SHOULDER_METHODS;
    let name = keys.required_text(
        "method",
        &format!("how the shoulder centre is found: {}", choices.join(", ")),
    )?;
    let method = match name.as_str() {
        "given" => ShoulderMethod::Given,
        "scapula-regression" => ShoulderMethod::ScapulaRegression,
        "functional" => ShoulderMethod::Functional(read_motion(&keys, dir)?),
        "below-acromion" => match (keys.positive("drop_m", 0.3, "m")?, keys.positive("drop_fraction", 1.0, "")?) {
            (Some(drop_m), None) => ShoulderMethod::BelowAcromion { drop_m },
            (None, Some(drop_fraction)) => ShoulderMethod::BelowAcromionFraction { drop_fraction },
            (None, None) => return Err(keys.missing(
                "drop_m",
                "drop_m (a length in m) or drop_fraction (of the distance between the acromia; 0.17 after Rab et al. 2002, from memory)",
            )),
            (Some(_), Some(_)) => {
                return Err(FormError::Conflict {
                    place: keys.place_of("drop_fraction"),
                    what: "both drop_m and drop_fraction are given".into(),
                    hint: "keep one of them".into(),
                });
            }
        },
        other => return Err(keys.unknown_choice("method", other, &choices)),
    };
    keys.finish()?;
    Ok(method)
}

/// Largest half width of an elbow that is taken for one, m.
const HALF_WIDTH_LIMIT_M: f64 = 0.08;

/// Reads `model.elbow_centre`.
pub fn read_elbow(keys: Keys, dir: &Path) -> Result<ElbowMethod, FormError> {
    let choices = ELBOW_METHODS;
    let name = keys.required_text(
        "method",
        &format!("how the elbow centre is found: {}", choices.join(", ")),
    )?;
    let half_width = |keys: &Keys| keys.positive("half_width_m", HALF_WIDTH_LIMIT_M, "m");
    let method = match name.as_str() {
        "given" => ElbowMethod::Given,
        "functional" => ElbowMethod::Functional {
            motion: read_motion(&keys, dir)?,
            half_width_m: half_width(&keys)?,
        },
        "half-width" => ElbowMethod::HalfWidth {
            half_width_m: half_width(&keys)?.ok_or_else(|| {
                keys.missing(
                    "half_width_m",
                    "half the distance between the epicondyles in m, as measured on the person",
                )
            })?,
        },
        other => return Err(keys.unknown_choice("method", other, &choices)),
    };
    keys.finish()?;
    Ok(method)
}

/// The recording a functional method looks at.
fn read_motion(keys: &Keys, dir: &Path) -> Result<MotionTrial, FormError> {
    let file = keys.text("trial")?;
    if file.is_none() {
        keys.note_default(
            "trial",
            serde_json::Value::Null,
            "the motion of this trial itself",
        );
    }
    if file.as_ref().is_some_and(|f| f.trim().is_empty()) {
        return Err(keys.out_of_range(
            "trial",
            "an empty text",
            "a marker file, relative to the sheet; leave the key out for the trial itself",
        ));
    }
    Ok(MotionTrial {
        file: file.map(|f| dir.join(f)),
        place: keys.place_of("method"),
    })
}

impl CalibrationSettings {
    /// Reads `[calibration]`.
    pub fn read(keys: Keys, dir: &Path, sides: &[Side]) -> Result<Self, FormError> {
        let file = keys.text("file")?.map(|f| dir.join(f));
        if file.is_none() {
            keys.note_default(
                "file",
                serde_json::Value::Null,
                "clusters are learnt from the trial itself",
            );
        }
        let file_place = keys.place_of("file");
        let mut clusters: Vec<Cluster> = Vec::new();
        if let Some(k) = keys.table("clusters")? {
            for name in k.names() {
                let cluster = Cluster::read(&k, &name, sides)?;
                if clusters
                    .iter()
                    .any(|c| (c.side, c.segment) == (cluster.side, cluster.segment))
                {
                    return Err(FormError::Conflict {
                        place: cluster.place,
                        what: format!("'{name}' is the second cluster of that segment; expected one"),
                        hint: "name all of its markers in one list".into(),
                    });
                }
                clusters.push(cluster);
            }
        }
        keys.finish()?;
        Ok(Self {
            file,
            file_place,
            clusters,
        })
    }
}

impl Cluster {
    /// Reads one line of `[calibration.clusters]`.
    fn read(keys: &Keys, name: &str, sides: &[Side]) -> Result<Self, FormError> {
        let place = keys.place_of(name);
        let (side, segment) = cluster_segment(keys, name, sides)?;
        let markers: Vec<String> = keys
            .texts(name)?
            .unwrap_or_default()
            .iter()
            .map(|m| landmarks::own_name(m, sides))
            .collect();
        if markers.len() < 3 {
            let count = markers.len();
            return Err(FormError::Conflict {
                place,
                what: format!(
                    "the cluster '{name}' has {count} marker{}; expected at least three, not on one line",
                    if count == 1 { "" } else { "s" }
                ),
                hint: "two markers leave a turn about their line open: name a third, or remove the cluster"
                    .into(),
            });
        }
        Ok(Self {
            side,
            segment,
            markers,
            place,
        })
    }
}

/// The segment that a cluster's name says: `thorax`, `right.upper_arm`, or without the side if there is one arm only.
fn cluster_segment(keys: &Keys, name: &str, sides: &[Side]) -> Result<(Option<Side>, Segment), FormError> {
    let place = keys.place_of(name);
    let (side, segment_name) = match (name.split_once('.'), sides) {
        (Some((s, rest)), _) => (Side::ALL.into_iter().find(|x| x.name() == s), rest),
        (None, [only]) => (Some(*only), name),
        (None, _) => (None, name),
    };
    let segment = Segment::ALL.into_iter().find(|s| s.name() == segment_name);
    match (side, segment) {
        (Some(side), Some(_)) if !sides.contains(&side) => Err(FormError::Conflict {
            place,
            what: format!("a cluster of the {side} arm, but trial.sides does not list it"),
            hint: format!("add \"{side}\" to trial.sides or remove the cluster"),
        }),
        (_, Some(Segment::Thorax)) => Ok((None, Segment::Thorax)),
        (Some(side), Some(segment)) => Ok((Some(side), segment)),
        _ => {
            let of_side = |s: &Side| {
                let s = *s;
                Segment::ALL
                    .iter()
                    .skip(1)
                    .map(move |g| format!("{s}.{}", g.name()))
            };
            let choices: Vec<String> = sides.iter().flat_map(of_side).chain(["thorax".into()]).collect();
            // a name without its side may be meant for any
            let bare = || choices.iter().map(|c| (c.rsplit('.').next().unwrap_or(c), c));
            let close = closest(name.rsplit('.').next().unwrap_or(name), bare().map(|b| b.0));
            let sided = close.and_then(|c| {
                bare()
                    .filter(|b| b.0 == c)
                    .max_by_key(|b| strsim::normalized_levenshtein(b.1, name).to_bits())
            });
            Err(FormError::UnknownChoice {
                place,
                key: keys.path_of(name),
                found: name.to_owned(),
                suggestion: sided.map(|b| b.1.clone()),
                choices,
            })
        }
    }
}
