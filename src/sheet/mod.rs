//! The trial sheet: one TOML file that says what was recorded, of whom, and how to treat it.
//!
//! Every key that is not known is an error with a suggestion; every value used, given or default, is recorded
//! with who said so.

mod include;
pub mod keys;
pub mod starter;
pub mod tree;

use crate::anatomy::landmarks;
use crate::anatomy::posture::Posture;
use crate::anatomy::tables::{self, Table};
use crate::ground::axes::{AxisMap, Lab, SignedAxis, Vector};
use crate::ground::names::{Segment, Sex, Side};
use crate::ground::place::{Fault, Place};
use crate::ground::{STANDARD_GRAVITY_M_S2, units};
use crate::kinetics::loads::{self, Load};
use crate::muscles::Flexor;
use crate::phases::PhaseSettings;
use keys::{Keys, Record, Setting};
use nalgebra::{Matrix3, Vector3};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Who set a value.
#[derive(Clone, Debug, PartialEq)]
pub enum SourceOfValue {
    /// The sheet.
    Sheet,
    /// The file that the sheet includes.
    Included(String),
    /// `--set` on the command line.
    CommandLine,
    /// Nobody: a default, and why it is that.
    Default(String),
}

/// Stands in a starter sheet for what only the user can say.
pub const UNSTATED: &str = "?";

/// What can be wrong with a sheet.
#[derive(Clone, Debug, Error)]
#[allow(missing_docs)] // fields are named by what they are; the message says it in words
pub enum SheetError {
    /// The file can't be read.
    #[error("{place}: can't read the trial sheet: {reason}")]
    Unreadable { place: Place, reason: String },
    /// An included file that can't be read.
    #[error("{place}: can't read the included file {file}: {reason}")]
    Include {
        /// Where the key stands.
        place: Place,
        /// The file.
        file: String,
        /// What the system says.
        reason: String,
    },
    /// Not TOML.
    #[error("{place}: not valid TOML: {message}")]
    Syntax { place: Place, message: String },
    /// A key nobody knows.
    #[error("{place}: unknown key '{key}'")]
    UnknownKey {
        place: Place,
        key: String,
        suggestion: Option<String>,
        known: Vec<String>,
    },
    /// Placeholders of a starter sheet that are still there.
    #[error("{place}: still to be stated (now \"?\"): {}", keys.join(", "))]
    Unstated { place: Place, keys: Vec<String> },
    /// A key that has to be there.
    #[error("{place}: the key '{key}' is missing; expected {expected}")]
    Missing {
        place: Place,
        key: String,
        expected: String,
        similar: Option<String>,
    },
    /// A value of the wrong kind.
    #[error("{place}: '{key}' is {found}; expected {expected}")]
    WrongKind {
        place: Place,
        key: String,
        found: String,
        expected: String,
    },
    /// A number out of its range.
    #[error("{place}: '{key}' is {found}; expected {expected}")]
    OutOfRange {
        place: Place,
        key: String,
        found: String,
        expected: String,
    },
    /// A name that is not one of the choices.
    #[error("{place}: '{key}' is \"{found}\"; expected one of: {}", choices.join(", "))]
    UnknownChoice {
        place: Place,
        key: String,
        found: String,
        choices: Vec<String>,
        suggestion: Option<String>,
    },
    /// Two keys that can't stand together.
    #[error("{place}: {what}")]
    Conflict {
        place: Place,
        what: String,
        hint: String,
    },
    /// A key that changes nothing in this trial.
    #[error("{place}: '{key}' has no effect in this trial: {why}")]
    NoEffect {
        place: Place,
        key: String,
        why: String,
        hint: String,
    },
}

impl Fault for SheetError {
    fn hint(&self) -> Option<String> {
        match self {
            SheetError::Unreadable { .. } => {
                Some("check the path; `armload demo` writes a complete example to start from".into())
            }
            SheetError::Include { .. } => Some("the path counts from the folder of the sheet".into()),
            SheetError::Syntax { .. } => {
                Some("text values stand in quotes, lists in [ ], tables start with [name]".into())
            }
            SheetError::UnknownKey {
                suggestion: Some(s), ..
            } => Some(format!("did you mean '{s}'?")),
            SheetError::UnknownKey { known, .. } => Some(format!("keys known here: {}", known.join(", "))),
            SheetError::Unstated { keys, .. } if keys.iter().any(|k| k == "markers.length_unit") => {
                Some(format!(
                    "replace each \"?\"; the unit of the coordinates is one of {}, or {} with a scale: a wrong one would pass unseen, so it is never guessed",
                    units::LENGTH_UNITS.join(", "),
                    units::PIXEL
                ))
            }
            SheetError::Unstated { .. } => {
                Some("replace each \"?\" in the sheet, or give the value with --set".into())
            }
            SheetError::Missing { similar: Some(s), .. } => Some(format!("did you mean it by '{s}'?")),
            // `armload statics` takes problems from flags, too
            SheetError::Missing { place, key, .. }
                if place.file.starts_with("--") && !place.file.starts_with("--set") =>
            {
                Some(format!(
                    "give it with its flag, or in a sheet: {}",
                    where_to_add(key)
                ))
            }
            SheetError::Missing { key, .. } => Some(where_to_add(key)),
            SheetError::UnknownChoice {
                suggestion: Some(s), ..
            } => Some(format!("did you mean \"{s}\"?")),
            SheetError::WrongKind {
                key, found, expected, ..
            } if expected == "a table" => Some(format!("write it as a table: {}", table_form(key, found))),
            SheetError::UnknownChoice { .. } => Some("write one of these names, letter by letter".into()),
            SheetError::WrongKind {
                key, found, expected, ..
            } if expected.contains("number") && hint_for_number(key, found).is_some() => {
                hint_for_number(key, found)
            }
            SheetError::WrongKind { key, expected, .. } if expected.starts_with("a list of tables") => {
                Some(format!("begin each one with a line [[{key}]], its keys below"))
            }
            SheetError::WrongKind { .. } => {
                Some("numbers stand without quotes, texts in quotes, lists in [ ]".into())
            }
            SheetError::OutOfRange { .. } => {
                Some("check the value, its sign and its unit (the end of a key's name says it)".into())
            }
            SheetError::Conflict { hint, .. } | SheetError::NoEffect { hint, .. } => Some(hint.clone()),
        }
    }
}

/// Where a missing key goes, as a person would write it.
fn where_to_add(key: &str) -> String {
    let parts: Vec<&str> = key.split('.').collect();
    match parts.as_slice() {
        [table] => format!("add a table [{table}] to the sheet"),
        [list, number, key] if number.chars().all(|c| c.is_ascii_digit()) => {
            let which = number
                .parse::<usize>()
                .map_or(String::new(), |n| format!(" number {}", n + 1));
            format!("add a line `{key} = ...` under [[{list}]]{which}")
        }
        [table, key] => format!("add a line `{key} = ...` under [{table}]"),
        [list, number, inner, key] if number.chars().all(|c| c.is_ascii_digit()) => {
            let which = number
                .parse::<usize>()
                .map_or(String::new(), |n| format!(" number {}", n + 1));
            format!("add `{key} = ...` to `{inner} = {{ ... }}` under [[{list}]]{which}")
        }
        [table @ .., inner, key] => format!(
            "add `{key} = ...` to `{inner} = {{ ... }}` under [{}]",
            table.join(".")
        ),
        [] => "add it to the sheet".into(),
    }
}

/// A key that is a table, written out; with the method that was found in its place, if it is one.
fn table_form(key: &str, found: &str) -> String {
    let name = key.rsplit('.').next().unwrap_or(key);
    let method = found.split('"').nth(1).unwrap_or_default();
    match name {
        "shoulder_centre" => match method {
            "below-acromion" => "shoulder_centre = { method = \"below-acromion\", drop_m = 0.04 }".into(),
            m if SHOULDER_METHODS.contains(&m) => format!("shoulder_centre = {{ method = \"{m}\" }}"),
            _ => "shoulder_centre = { method = \"given\" }".into(),
        },
        "elbow_centre" => match method {
            "half-width" => "elbow_centre = { method = \"half-width\", half_width_m = 0.034 }".into(),
            m if ELBOW_METHODS.contains(&m) => format!("elbow_centre = {{ method = \"{m}\" }}"),
            _ => "elbow_centre = { method = \"given\" }".into(),
        },
        number if number.chars().all(|c| c.is_ascii_digit()) => {
            format!(
                "[[{}]], its keys below",
                key.strip_suffix(number).unwrap_or(key).trim_end_matches('.')
            )
        }
        "scale" => "scale = { length_px = 412.0, length_m = 0.50 }".into(),
        "radii_of_gyration_fraction" => {
            "radii_of_gyration_fraction = { x = 0.28, y = 0.12, z = 0.27 }".into()
        }
        _ => format!("[{key}], or {name} = {{ ... }}"),
    }
}

/// What to write in place of a number given as text, such as `the text "66 kg"`; `None` if it does not begin
/// with a number.
fn hint_for_number(key: &str, found: &str) -> Option<String> {
    let text = found.split('"').nth(1)?.trim();
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || "+-.".contains(c)))
        .unwrap_or(text.len());
    let (number, rest) = (text[..end].parse::<f64>().ok()?, text[end..].trim());
    let unit = key.rsplit(['_', '.']).next().unwrap_or(key);
    if rest
        .strip_prefix(',')
        .is_some_and(|r| r.starts_with(|c: char| c.is_ascii_digit()))
    {
        return Some(format!(
            "a decimal point, not a comma, and no quotes: write {}",
            text.replacen(',', ".", 1)
        ));
    }
    if rest.is_empty() || rest.eq_ignore_ascii_case(unit) {
        return Some(format!(
            "write {number}: without quotes; the unit is in the key's name"
        ));
    }
    Some(
        "write a number without quotes and without a unit: the unit is in the key's name, so convert to that"
            .into(),
    )
}

/// `[trial]`
#[derive(Clone, Debug)]
pub struct TrialKeys {
    /// Name of the trial; also the default output folder.
    pub id: String,
    /// Arms to compute.
    pub sides: Vec<Side>,
    /// Start of the window of results, s.
    pub from_s: Option<f64>,
    /// End of the window of results, s.
    pub to_s: Option<f64>,
}

/// `[participant]`
#[derive(Clone, Debug)]
pub struct Participant {
    /// Column of the table; needed by tables that have one for each sex.
    pub sex: Option<Sex>,
    /// Body mass, kg.
    pub body_mass_kg: f64,
    /// Stature, m.
    pub stature_m: Option<f64>,
    /// Name of the person, where trials of several are compared.
    pub id: Option<String>,
    /// How the person is placed.
    pub posture: Option<Posture>,
    /// Where that stands in the sheet.
    pub posture_place: Place,
    /// Where these stand.
    pub places: ParticipantPlaces,
}

/// Where a participant's values stand in the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct ParticipantPlaces {
    /// Sex.
    pub sex: Place,
    /// Body mass.
    pub body_mass: Place,
    /// Stature.
    pub stature: Place,
}

/// How the hand enters the model.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HandModel {
    /// Its own segment: a wrist joint exists.
    Segment,
    /// One rigid body with the forearm.
    Lumped,
}

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

/// Values of one segment that replace the table's.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SegmentOverride {
    /// kg
    pub mass_kg: Option<f64>,
    /// From the proximal joint, fraction of the length.
    pub com_fraction: Option<f64>,
    /// About the mass centre, fractions of the length, in inertia axes.
    pub radii: Option<Vector3<f64>>,
    /// Full tensor about the mass centre in inertia axes, kg·m².
    pub inertia_kg_m2: Option<Matrix3<f64>>,
}

/// `[model]`
#[derive(Clone, Debug)]
pub struct ModelKeys {
    /// Table of segment inertia.
    pub table: &'static Table,
    /// Hand as stated; `None` lets the markers decide.
    pub hand: Option<HandModel>,
    /// Shoulder centre; `None` means: a given point if there is one.
    pub shoulder: Option<ShoulderMethod>,
    /// Elbow centre.
    pub elbow: ElbowMethod,
    /// m/s²
    pub gravity_m_s2: f64,
    /// Replacements of table values.
    pub overrides: BTreeMap<(Side, Segment), SegmentOverride>,
}

impl ModelKeys {
    /// The recordings that functional methods name, each once.
    pub fn motion_files(&self) -> Vec<&Path> {
        let shoulder = match &self.shoulder {
            Some(ShoulderMethod::Functional(m)) => m.file.as_deref(),
            _ => None,
        };
        let elbow = match &self.elbow {
            ElbowMethod::Functional { motion, .. } => motion.file.as_deref(),
            _ => None,
        };
        let mut out: Vec<&Path> = shoulder.into_iter().chain(elbow).collect();
        out.dedup();
        out
    }
}

/// `[markers]`
#[derive(Clone, Debug)]
pub struct MarkerKeys {
    /// File, resolved against the sheet's folder.
    pub file: PathBuf,
    /// Where the key stands.
    pub file_place: Place,
    /// Metres per unit of the file; of a pixel by the sheet's scale.
    pub metres_per_unit: f64,
    /// Name of the unit.
    pub length_unit: String,
    /// Where the unit, or the scale of pixels, stands in the sheet.
    pub length_unit_place: Place,
    /// Lab to world.
    pub axes: AxisMap,
    /// Where the axes stand in the sheet.
    pub axes_place: Place,
    /// Sampling rate for files without a time column, Hz.
    pub rate_hz: Option<f64>,
    /// File's name -> (our name, where that stands).
    pub rename: BTreeMap<String, (String, Place)>,
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
pub struct CalibrationKeys {
    /// Static trial with all landmarks and the clusters; `None`: clusters are learnt from the trial itself.
    pub file: Option<PathBuf>,
    /// Where the key stands.
    pub file_place: Place,
    /// The clusters.
    pub clusters: Vec<Cluster>,
}

/// A cutoff as a sheet can state it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Cutoff {
    /// Residual analysis.
    Auto,
    /// Effective -3 dB point, Hz.
    Hz(f64),
    /// No smoothing.
    None,
}

/// `[filter]`
#[derive(Clone, Debug)]
pub struct FilterKeys {
    /// For markers.
    pub cutoff: Cutoff,
    /// Where it stands.
    pub cutoff_place: Place,
    /// For recorded forces; `None` = the same as for the markers.
    pub force_cutoff: Option<Cutoff>,
    /// Longest gap that is filled by a spline, s.
    pub max_gap_s: f64,
}

/// `[agreement]`
#[derive(Clone, Debug)]
pub struct AgreementKeys {
    /// A hand-worked problem (a sheet of `armload statics`), resolved against the sheet's folder, and where
    /// the key stands.
    pub problem: Option<(PathBuf, Place)>,
    /// The arm the problem is about; `None`: every arm of the trial.
    pub side: Option<Side>,
    /// The problem stands for holds whose forearm angle is its own within this, rad.
    pub posture: f64,
}

/// How far a hold's forearm angle may be from the problem's unless the sheet says otherwise, °: what a
/// goniometer and a good eye reach.
const POSTURE_DEG: f64 = 10.0;

fn read_agreement(keys: Option<Keys>, dir: &Path, trial: &TrialKeys) -> Result<AgreementKeys, SheetError> {
    let Some(keys) = keys else {
        return Ok(AgreementKeys {
            problem: None,
            side: None,
            posture: POSTURE_DEG.to_radians(),
        });
    };
    let problem = keys.text("problem")?;
    if problem.as_ref().is_some_and(|p| p.trim().is_empty()) {
        return Err(keys.out_of_range(
            "problem",
            "an empty text",
            "the file of a problem for `armload statics`, relative to this sheet",
        ));
    }
    let problem = problem.map(|p| (dir.join(p), keys.place_of("problem")));
    let side = keys.choice("side", &[("right", Side::Right), ("left", Side::Left)])?;
    if let Some(s) = side.filter(|s| !trial.sides.contains(s)) {
        return Err(SheetError::Conflict {
            place: keys.place_of("side"),
            what: format!("agreement.side is \"{s}\", but trial.sides does not list it"),
            hint: "name an arm of the trial, or leave the key out for every arm".into(),
        });
    }
    let given = keys.positive("posture_deg", 90.0, "°")?;
    let posture = keys.or(
        "posture_deg",
        given,
        POSTURE_DEG,
        "about what a posture is set to by eye",
    );
    keys.finish()?;
    Ok(AgreementKeys {
        problem,
        side,
        posture: posture.to_radians(),
    })
}

/// A trial sheet, read and checked.
pub struct TrialSheet {
    /// Path as given.
    pub path: PathBuf,
    /// `[trial]`
    pub trial: TrialKeys,
    /// `[participant]`
    pub participant: Participant,
    /// `[model]`
    pub model: ModelKeys,
    /// `[markers]`
    pub markers: MarkerKeys,
    /// `[calibration]`
    pub calibration: Option<CalibrationKeys>,
    /// `[filter]`
    pub filter: FilterKeys,
    /// `[[load]]`
    pub loads: Vec<Load>,
    /// `[muscles]`
    pub flexor: Flexor,
    /// `[phases]`
    pub phases: PhaseSettings,
    /// `[agreement]`
    pub agreement: AgreementKeys,
    /// Every setting read, with who set it. What the recording adds or leaves without effect is in
    /// [`crate::results::TrialResults::settings`].
    pub settings: Vec<Setting>,
    /// Every key that was asked for and is no table, given or not.
    pub asked: Vec<String>,
}

/// Largest body mass that is taken for one, kg.
const BODY_MASS_LIMIT_KG: f64 = 400.0;

impl TrialSheet {
    /// Calibrated clusters; none without `[calibration]`.
    pub fn clusters(&self) -> &[Cluster] {
        self.calibration.as_ref().map_or(&[], |c| &c.clusters)
    }

    /// Reads a sheet and applies `--set` assignments.
    pub fn read(path: &Path, sets: &[String]) -> Result<Self, SheetError> {
        let recorded = ["csv", "tsv", "gz", "c3d", "parquet"];
        if path
            .extension()
            .and_then(|e| e.to_str())
            .is_some_and(|e| recorded.contains(&e.to_ascii_lowercase().as_str()))
        {
            return Err(SheetError::Conflict {
                place: Place::file(path.display().to_string()),
                what: "this looks like a recording; expected a trial sheet (TOML)".into(),
                hint: format!("`armload sheet {}` writes a starter sheet for it", path.display()),
            });
        }
        let text = read_text(path).map_err(|reason| SheetError::Unreadable {
            place: Place::file(path.display().to_string()),
            reason,
        })?;
        Self::from_text(&text, path, sets)
    }

    /// Reads a sheet from text; `path` gives the folder for relative files and the name for messages.
    pub fn from_text(text: &str, path: &Path, sets: &[String]) -> Result<Self, SheetError> {
        let mut tree = tree::parse(text, &Place::file(path.display().to_string()))?;
        let dir = include::folder_of(path);
        // which file is included has to be known before anything else is set
        for s in sets
            .iter()
            .filter(|s| s.split('=').next().is_some_and(|key| key.trim() == include::KEY))
        {
            tree::set(&mut tree, s)?;
        }
        let included = include::merge(&mut tree, &dir)?;
        for s in sets {
            tree::set(&mut tree, s)?;
        }
        refuse_placeholders(&tree)?;
        let record = Record::default();
        let root = Keys::root(tree, record.clone())?;
        root.text(include::KEY)?;
        let trial = read_trial(required(&root, "trial")?)?;
        let participant_keys = required(&root, "participant")?;
        let participant = read_participant(participant_keys)?;
        let model = read_model(root.table_or_empty("model")?, &trial, &dir)?;
        if model.table.by_sex && participant.sex.is_none() {
            return Err(SheetError::Missing {
                place: root.place_of("participant"),
                key: "participant.sex".into(),
                expected: format!(
                    "\"female\" or \"male\": the table {} has a column for each",
                    model.table.name
                ),
                similar: None,
            });
        }
        let markers = read_markers(required(&root, "markers")?, &dir, &trial)?;
        let calibration = root
            .table("calibration")?
            .map(|k| read_calibration(k, &dir, &trial))
            .transpose()?;
        let filter = read_filter(root.table_or_empty("filter")?)?;
        let mut all = Vec::new();
        for (number, keys) in root.tables("load")?.into_iter().enumerate() {
            all.extend(loads::read(keys, number, &trial, &markers, &dir)?);
        }
        loads::check_bars(&all, &trial.sides)?;
        loads::number_labels(&mut all);
        let flexor = Flexor::read(root.table_or_empty("muscles")?)?;
        let phases = PhaseSettings::read(root.table_or_empty("phases")?)?;
        let agreement = read_agreement(root.table("agreement")?, &dir, &trial)?;
        root.finish()?;
        let log = record.take();
        let asked = log.asked.difference(&log.tables).cloned().collect();
        let mut settings = log.settings;
        if let Some((file, taken)) = included {
            let is_taken = |key: &str| {
                taken.iter().any(|t| {
                    key.strip_prefix(t.as_str())
                        .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
                })
            };
            for s in settings
                .iter_mut()
                .filter(|s| s.source == SourceOfValue::Sheet && is_taken(&s.key))
            {
                s.source = SourceOfValue::Included(file.clone());
            }
        }
        Ok(Self {
            path: path.to_owned(),
            trial,
            participant,
            model,
            markers,
            calibration,
            filter,
            loads: all,
            flexor,
            phases,
            agreement,
            settings,
            asked,
        })
    }

    /// Settings at a dotted path or below it that somebody gave.
    pub fn given<'a>(&'a self, path: &'a str) -> impl Iterator<Item = &'a Setting> {
        let below = move |key: &str| {
            key.strip_prefix(path)
                .is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
        };
        self.settings
            .iter()
            .filter(move |s| !matches!(s.source, SourceOfValue::Default(_)) && below(&s.key))
    }
}

/// Text of a TOML file, or what keeps it from being read.
fn read_text(path: &Path) -> Result<String, String> {
    let text = String::from_utf8(std::fs::read(path).map_err(|e| e.to_string())?)
        .map_err(|e| format!("not UTF-8 text: {e}"))?;
    Ok(text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text))
}

/// Refuses a sheet with placeholders, naming all of them and the place of the first.
fn refuse_placeholders(tree: &tree::Node) -> Result<(), SheetError> {
    let mut found: Vec<(Place, String)> = Vec::new();
    collect_placeholders(tree, "", &mut found);
    found.sort_by_key(|(place, _)| (place.line, place.column));
    match found.first() {
        Some((place, _)) => Err(SheetError::Unstated {
            place: place.clone(),
            keys: found.into_iter().map(|f| f.1).collect(),
        }),
        None => Ok(()),
    }
}

fn collect_placeholders(node: &tree::Node, path: &str, found: &mut Vec<(Place, String)>) {
    let join = |key: &str| {
        if path.is_empty() {
            key.to_owned()
        } else {
            format!("{path}.{key}")
        }
    };
    match &node.value {
        tree::Value::Text(t) if t == UNSTATED => found.push((node.place.clone(), path.to_owned())),
        tree::Value::Table(table) => table
            .iter()
            .for_each(|(key, (_, n))| collect_placeholders(n, &join(key), found)),
        // a list of texts holds names of points, which may be called anything
        tree::Value::List(items) => {
            for (i, n) in items
                .iter()
                .enumerate()
                .filter(|(_, n)| matches!(n.value, tree::Value::Table(_)))
            {
                collect_placeholders(n, &join(&i.to_string()), found);
            }
        }
        _ => {}
    }
}

fn required(root: &Keys, name: &str) -> Result<Keys, SheetError> {
    root.table(name)?
        .ok_or_else(|| root.missing(name, &format!("a table [{name}]")))
}

fn read_trial(keys: Keys) -> Result<TrialKeys, SheetError> {
    let id = keys.required_text("id", "a name for the trial, like \"P03-curl-2\"")?;
    if id.trim().is_empty() || id.contains(['/', '\\', '\0']) || id == "." || id == ".." {
        return Err(keys.out_of_range(
            "id",
            format!("\"{id}\""),
            "a name that can be a folder: not empty, no slashes",
        ));
    }
    let names = keys
        .texts("sides")?
        .ok_or_else(|| keys.missing("sides", "the arms to compute: [\"right\"], [\"left\"] or both"))?;
    let mut sides = Vec::new();
    for name in &names {
        let side = Side::ALL
            .into_iter()
            .find(|s| s.name() == name)
            .ok_or_else(|| keys.unknown_choice("sides", name, &["right", "left"]))?;
        if sides.contains(&side) {
            return Err(keys.out_of_range("sides", format!("{names:?}"), "each side once"));
        }
        sides.push(side);
    }
    if sides.is_empty() {
        return Err(keys.out_of_range("sides", "an empty list", "[\"right\"], [\"left\"] or both"));
    }
    let (from_s, to_s) = (keys.number("from_s")?, keys.number("to_s")?);
    if let (Some(a), Some(b)) = (from_s, to_s)
        && b <= a
    {
        return Err(keys.out_of_range("to_s", b, &format!("a time after from_s = {a} s")));
    }
    keys.finish()?;
    Ok(TrialKeys {
        id,
        sides,
        from_s,
        to_s,
    })
}

fn read_participant(keys: Keys) -> Result<Participant, SheetError> {
    let sex = keys.choice("sex", &[("female", Sex::Female), ("male", Sex::Male)])?;
    let body_mass_kg = keys
        .number_within("body_mass_kg", 1.0, BODY_MASS_LIMIT_KG, "kg")?
        .ok_or_else(|| keys.missing("body_mass_kg", "the participant's mass in kg"))?;
    let stature_m = keys.number_within("stature_m", 0.4, 2.8, "m")?;
    let id = keys.text("id")?.map(|t| t.trim().to_owned());
    if id.as_deref() == Some("") {
        return Err(keys.out_of_range("id", "an empty text", "a name for the person, like \"P03\""));
    }
    let (posture, posture_place) = (read_posture(&keys)?, keys.place_of("posture"));
    let places = ParticipantPlaces {
        sex: keys.place_of("sex"),
        body_mass: keys.place_of("body_mass_kg"),
        stature: keys.place_of("stature_m"),
    };
    keys.finish()?;
    Ok(Participant {
        sex,
        body_mass_kg,
        stature_m,
        id,
        posture,
        posture_place,
        places,
    })
}

/// A name, or the trunk's long axis.
fn read_posture(keys: &Keys) -> Result<Option<Posture>, SheetError> {
    const KEY: &str = "posture";
    let Some(node) = keys.node(KEY) else {
        keys.note_default(
            KEY,
            serde_json::Value::Null,
            "the trunk is where its landmarks are; without them it is taken as upright",
        );
        return Ok(None);
    };
    match &node.value {
        tree::Value::Text(_) => keys.choice(KEY, &Posture::NAMED),
        tree::Value::List(_) => {
            let Some(v) = keys.vector(KEY)? else { return Ok(None) };
            if v.norm() < 1e-12 {
                let expected = "the trunk's long axis in lab axes, from the pelvis to the head: its length does not matter, but it has to have one";
                return Err(keys.out_of_range(KEY, "a vector of no length", expected));
            }
            Ok(Some(Posture::Along(Vector::from_components(v))))
        }
        other => Err(SheetError::WrongKind {
            place: node.place.clone(),
            key: keys.path_of(KEY),
            found: other.describe(),
            expected: "\"standing\", \"seated\", \"supine\", \"prone\", \"leaning\", or the trunk's long axis as a vector [x, y, z] in lab axes, from the pelvis to the head"
                .into(),
        }),
    }
}

/// What `forward` means, in every posture.
pub const FORWARD: &str = "the way the participant faces; for one who lies, the way they would face on sitting or standing up: on the back where the feet point, on the belly where the head points";

fn read_model(keys: Keys, trial: &TrialKeys, dir: &Path) -> Result<ModelKeys, SheetError> {
    let default_table = tables::DEFAULT;
    let name = keys.text("anthropometry")?;
    let name = keys.or(
        "anthropometry",
        name,
        default_table.name.to_owned(),
        "the table with most of what is needed: both sexes, all segments",
    );
    let table =
        tables::find(&name).ok_or_else(|| keys.unknown_choice("anthropometry", &name, &tables::names()))?;
    let hand = keys.choice(
        "hand",
        &[("segment", HandModel::Segment), ("lumped", HandModel::Lumped)],
    )?;
    if hand == Some(HandModel::Segment) && !table.hand_can_be_segment() {
        return Err(SheetError::Conflict {
            place: keys.place_of("hand"),
            what: format!(
                "model.hand = \"segment\" can't be used with the table {}: its hand row ends at a knuckle that has no landmark here",
                table.name
            ),
            hint: "use hand = \"lumped\", or the table deleva-1996".into(),
        });
    }
    let shoulder = keys
        .table("shoulder_centre")?
        .map(|k| read_shoulder(k, dir))
        .transpose()?;
    if shoulder.is_none() {
        keys.note_default(
            "shoulder_centre.method",
            "given",
            "the point SJC or GH of the recording",
        );
    }
    let elbow = keys
        .table("elbow_centre")?
        .map(|k| read_elbow(k, dir))
        .transpose()?;
    if elbow.is_none() {
        keys.note_default(
            "elbow_centre.method",
            "given",
            "the point EJC of the recording, or the midpoint of EL and EM",
        );
    }
    let elbow = elbow.unwrap_or(ElbowMethod::Given);
    let given = keys.number_within("gravity_m_s2", 0.0, 30.0, "m/s²")?;
    let gravity_m_s2 = keys.or("gravity_m_s2", given, STANDARD_GRAVITY_M_S2, "standard gravity");
    let mut overrides = BTreeMap::new();
    if let Some(all) = keys.table("override")? {
        for side_name in all.names() {
            let Some(side) = Side::ALL.into_iter().find(|s| s.name() == side_name) else {
                return Err(all.unknown_choice(&side_name, &side_name, &["right", "left"]));
            };
            if !trial.sides.contains(&side) {
                return Err(SheetError::Conflict {
                    place: all.place_of(&side_name),
                    what: format!("an override for the {side} arm, but trial.sides does not list it"),
                    hint: format!("add \"{side}\" to trial.sides or remove [model.override.{side}]"),
                });
            }
            let Some(of_side) = all.table(&side_name)? else {
                continue;
            };
            for segment in [Segment::UpperArm, Segment::Forearm, Segment::Hand] {
                if let Some(k) = of_side.table(segment.name())? {
                    overrides.insert((side, segment), read_override(k)?);
                }
            }
            of_side.finish()?;
        }
        all.finish()?;
    }
    keys.finish()?;
    Ok(ModelKeys {
        table,
        hand,
        shoulder,
        elbow,
        gravity_m_s2,
        overrides,
    })
}

/// Names of the methods for the shoulder centre.
const SHOULDER_METHODS: [&str; 4] = ["given", "below-acromion", "scapula-regression", "functional"];
/// Names of the methods for the elbow centre.
const ELBOW_METHODS: [&str; 3] = ["given", "functional", "half-width"];

fn read_shoulder(keys: Keys, dir: &Path) -> Result<ShoulderMethod, SheetError> {
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
                return Err(SheetError::Conflict {
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

fn read_elbow(keys: Keys, dir: &Path) -> Result<ElbowMethod, SheetError> {
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
fn read_motion(keys: &Keys, dir: &Path) -> Result<MotionTrial, SheetError> {
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

fn read_override(keys: Keys) -> Result<SegmentOverride, SheetError> {
    let mass_kg = keys.number_within("mass_kg", 0.0, 50.0, "kg")?;
    let com_fraction = keys.number_within(
        "com_fraction",
        0.0,
        1.5,
        "(fraction of the length from the proximal joint)",
    )?;
    let radii = match keys.table("radii_of_gyration_fraction")? {
        None => None,
        Some(k) => {
            let mut r = Vector3::zeros();
            for (i, axis) in ["x", "y", "z"].into_iter().enumerate() {
                r[i] = k
                    .number_within(axis, 0.0, 2.0, "(fraction of the length)")?
                    .ok_or_else(|| k.missing(axis, "a radius of gyration for each of x, y, z"))?;
            }
            k.finish()?;
            Some(r)
        }
    };
    let inertia_kg_m2 = match keys.node("inertia_kg_m2") {
        None => None,
        Some(node) => {
            let wrong = |place: &Place| SheetError::WrongKind {
                place: place.clone(),
                key: keys.path_of("inertia_kg_m2"),
                found: node.value.describe(),
                expected: "three principal moments [ix, iy, iz] or a 3x3 matrix [[..], [..], [..]] in kg·m²"
                    .into(),
            };
            let rows = match &node.value {
                tree::Value::List(l) => l.iter().map(keys::number_list).collect::<Option<Vec<_>>>(),
                _ => None,
            };
            let m = match (keys::number_list(&node).as_deref(), rows.as_deref()) {
                (Some([x, y, z]), _) => Matrix3::from_diagonal(&Vector3::new(*x, *y, *z)),
                (_, Some(r)) if r.len() == 3 && r.iter().all(|r| r.len() == 3) => {
                    Matrix3::from_fn(|i, j| r[i][j])
                }
                _ => return Err(wrong(&node.place)),
            };
            Some(m)
        }
    };
    if radii.is_some() && inertia_kg_m2.is_some() {
        return Err(SheetError::Conflict {
            place: keys.place_of("inertia_kg_m2"),
            what: "both radii_of_gyration_fraction and inertia_kg_m2 are given for one segment".into(),
            hint: "keep one of them".into(),
        });
    }
    keys.finish()?;
    Ok(SegmentOverride {
        mass_kg,
        com_fraction,
        radii,
        inertia_kg_m2,
    })
}

/// Reads a direction: a signed axis or a vector.
fn read_direction(keys: &Keys, key: &str) -> Result<Vector<Lab>, SheetError> {
    let expected = "a signed lab axis like \"+z\", or a vector [x, y, z]";
    let Some(node) = keys.node(key) else {
        return Err(keys.missing(key, &format!("which lab axis points {key}: {expected}")));
    };
    match &node.value {
        tree::Value::Text(_) => {
            let t = keys.text(key)?.unwrap_or_default();
            SignedAxis::parse(&t)
                .map(SignedAxis::unit)
                .ok_or_else(|| keys.unknown_choice(key, &t, &["+x", "-x", "+y", "-y", "+z", "-z"]))
        }
        _ => Ok(Vector::from_components(keys.vector(key)?.unwrap_or_default())),
    }
}

/// Largest extent of a picture taken for one, px.
const PICTURE_LIMIT_PX: f64 = 1e5;
/// Longest thing of known length in a picture, m.
const SCALE_LIMIT_M: f64 = 100.0;

/// Metres in the unit, and where that is said: pixels by something of known length in the picture.
///
/// # Equation
/// metres per pixel = length_m / length_px
fn read_unit(keys: &Keys, unit: &str) -> Result<(f64, Place), SheetError> {
    let scale = keys.table("scale")?;
    match (units::metres_per(unit), scale) {
        (Some(metres), None) => Ok((metres, keys.place_of("length_unit"))),
        (Some(_), Some(_)) => Err(SheetError::Conflict {
            place: keys.place_of("scale"),
            what: format!("markers.scale is given, but markers.length_unit is \"{unit}\", which needs none"),
            hint: format!("remove the scale, or set length_unit = \"{}\" if the coordinates are pixels", units::PIXEL),
        }),
        (None, None) if unit == units::PIXEL => Err(SheetError::Conflict {
            place: keys.place_of("length_unit"),
            what: "markers.length_unit is \"px\", but there is no markers.scale; expected one: how long a pixel is, is never guessed"
                .into(),
            hint: "measure something of known length in the plane of the movement: scale = { length_px = 412.0, length_m = 0.50 }".into(),
        }),
        (None, Some(scale)) if unit == units::PIXEL => {
            let need = |key: &str, limit: f64, unit: &str, expected: &str| {
                scale.positive(key, limit, unit)?.ok_or_else(|| scale.missing(key, expected))
            };
            let length_px =
                need("length_px", PICTURE_LIMIT_PX, "px", "the length in the picture, in pixels, of something of known length")?;
            let length_m = need("length_m", SCALE_LIMIT_M, "m", "its length in m")?;
            let place = keys.place_of("scale");
            scale.finish()?;
            Ok((length_m / length_px, place))
        }
        (None, _) => {
            let choices: Vec<&str> = units::LENGTH_UNITS.into_iter().chain([units::PIXEL]).collect();
            Err(keys.unknown_choice("length_unit", unit, &choices))
        }
    }
}

fn read_markers(keys: Keys, dir: &Path, trial: &TrialKeys) -> Result<MarkerKeys, SheetError> {
    let file = dir.join(keys.required_text("file", "the marker file")?);
    let file_place = keys.place_of("file");
    let expected = format!(
        "the unit of the coordinates ({}, or {} with a scale): it is never guessed",
        units::LENGTH_UNITS.join(", "),
        units::PIXEL
    );
    let length_unit = keys.required_text("length_unit", &expected)?;
    let (metres_per_unit, length_unit_place) = read_unit(&keys, &length_unit)?;
    let (up, forward) = (read_direction(&keys, "up")?, read_direction(&keys, "forward")?);
    let axes_place = keys.place_of("forward");
    let axes = AxisMap::from_vectors(up, forward).ok_or_else(|| SheetError::Conflict {
        place: axes_place.clone(),
        what: "markers.up and markers.forward lie along the same line (or one of them is zero)".into(),
        hint: format!("`up` is the lab axis against gravity, `forward` {FORWARD}"),
    })?;
    let rate_hz = keys.positive("rate_hz", 1e5, "Hz")?;
    let mut rename = BTreeMap::new();
    if let Some(k) = keys.table("rename")? {
        for from in k.names() {
            let to = k.required_text(&from, "a landmark")?;
            let name = landmarks::canonical(&to, &trial.sides)
                .map_err(|e| e.at(k.place_of(&from), &k.path_of(&from)))?;
            rename.insert(from.clone(), (name, k.place_of(&from)));
        }
    }
    keys.finish()?;
    Ok(MarkerKeys {
        file,
        file_place,
        metres_per_unit,
        length_unit,
        length_unit_place,
        axes,
        axes_place,
        rate_hz,
        rename,
    })
}

fn read_calibration(keys: Keys, dir: &Path, trial: &TrialKeys) -> Result<CalibrationKeys, SheetError> {
    let file = keys.text("file")?.map(|f| dir.join(f));
    if file.is_none() {
        keys.note_default(
            "file",
            serde_json::Value::Null,
            "clusters are learnt from the trial itself",
        );
    }
    let file_place = keys.place_of("file");
    let mut clusters = Vec::new();
    if let Some(k) = keys.table("clusters")? {
        for name in k.names() {
            let place = k.place_of(&name);
            let (side, segment_name) = match name.split_once('.') {
                Some((s, rest)) => (Side::ALL.into_iter().find(|x| x.name() == s), rest),
                None => (
                    if trial.sides.len() == 1 {
                        Some(trial.sides[0])
                    } else {
                        None
                    },
                    name.as_str(),
                ),
            };
            let segment = Segment::ALL.into_iter().find(|s| s.name() == segment_name);
            if let (Some(side), Some(_)) = (side.filter(|s| !trial.sides.contains(s)), segment) {
                return Err(SheetError::Conflict {
                    place,
                    what: format!("a cluster of the {side} arm, but trial.sides does not list it"),
                    hint: format!("add \"{side}\" to trial.sides or remove the cluster"),
                });
            }
            let (side, segment) = match (side, segment) {
                (_, Some(Segment::Thorax)) => (None, Segment::Thorax),
                (Some(side), Some(segment)) => (Some(side), segment),
                _ => {
                    let choices: Vec<String> = trial
                        .sides
                        .iter()
                        .flat_map(|s| {
                            Segment::ALL
                                .iter()
                                .skip(1)
                                .map(move |g| format!("{s}.{}", g.name()))
                        })
                        .chain(["thorax".into()])
                        .collect();
                    // a name without its side may be meant for any
                    let bare = || choices.iter().map(|c| (c.rsplit('.').next().unwrap_or(c), c));
                    let close =
                        crate::ground::closest(name.rsplit('.').next().unwrap_or(&name), bare().map(|b| b.0));
                    let sided = close.and_then(|c| {
                        bare()
                            .filter(|b| b.0 == c)
                            .max_by_key(|b| strsim::normalized_levenshtein(b.1, &name).to_bits())
                    });
                    return Err(SheetError::UnknownChoice {
                        place,
                        key: k.path_of(&name),
                        found: name.clone(),
                        suggestion: sided.map(|b| b.1.clone()),
                        choices,
                    });
                }
            };
            let markers: Vec<String> = k
                .texts(&name)?
                .unwrap_or_default()
                .iter()
                .map(|m| landmarks::own_name(m, &trial.sides))
                .collect();
            if markers.len() < 3 {
                let (count, place) = (markers.len(), k.place_of(&name));
                return Err(SheetError::Conflict {
                    place,
                    what: format!(
                        "the cluster '{name}' has {count} marker{}; expected at least three, not on one line",
                        if count == 1 { "" } else { "s" }
                    ),
                    hint:
                        "two markers leave a turn about their line open: name a third, or remove the cluster"
                            .into(),
                });
            }
            if clusters
                .iter()
                .any(|c: &Cluster| (c.side, c.segment) == (side, segment))
            {
                return Err(SheetError::Conflict {
                    place,
                    what: format!("'{name}' is the second cluster of that segment; expected one"),
                    hint: "name all of its markers in one list".into(),
                });
            }
            clusters.push(Cluster {
                side,
                segment,
                markers,
                place,
            });
        }
    }
    keys.finish()?;
    Ok(CalibrationKeys {
        file,
        file_place,
        clusters,
    })
}

fn read_cutoff(keys: &Keys, key: &str, extra: Option<&str>) -> Result<Option<Cutoff>, SheetError> {
    let Some(node) = keys.node(key) else {
        return Ok(None);
    };
    match &node.value {
        tree::Value::Number(_) => Ok(keys.positive(key, 1e5, "Hz")?.map(Cutoff::Hz)),
        tree::Value::Text(_) => {
            let t = keys.text(key)?.unwrap_or_default();
            match t.as_str() {
                "auto" => Ok(Some(Cutoff::Auto)),
                "none" => Ok(Some(Cutoff::None)),
                t if Some(t) == extra => Ok(None),
                t if t.starts_with(|c: char| c.is_ascii_digit()) => Err(SheetError::WrongKind {
                    place: node.place.clone(),
                    key: keys.path_of(key),
                    found: node.value.describe(),
                    expected: "\"auto\", \"none\" or a number in Hz".into(),
                }),
                t => {
                    let mut choices = vec!["auto", "none", "a number in Hz"];
                    choices.extend(extra);
                    Err(keys.unknown_choice(key, t, &choices))
                }
            }
        }
        other => Err(SheetError::WrongKind {
            place: node.place.clone(),
            key: keys.path_of(key),
            found: other.describe(),
            expected: "\"auto\", \"none\" or a number in Hz".into(),
        }),
    }
}

/// Longest gap filled by a spline unless the sheet says otherwise, s.
pub const DEFAULT_MAX_GAP_S: f64 = 0.1;

fn read_filter(keys: Keys) -> Result<FilterKeys, SheetError> {
    keys.choice_or(
        "method",
        &[("butterworth", ())],
        ("butterworth", ()),
        "zero-lag low-pass of second order, forward and backward",
    )?;
    let cutoff = read_cutoff(&keys, "cutoff_hz", None)?;
    if cutoff.is_none() {
        keys.note_default(
            "cutoff_hz",
            "auto",
            "residual analysis (Winter, Biomechanics and Motor Control of Human Movement, 4th ed., ch. 3)",
        );
    }
    let cutoff_place = keys.place_of("cutoff_hz");
    let force_cutoff = read_cutoff(&keys, "force_cutoff_hz", Some("same"))?;
    if !keys.has("force_cutoff_hz") {
        keys.note_default(
            "force_cutoff_hz",
            "same",
            "one cutoff for markers and recorded forces (Bisseling & Hof 2006, J Biomech 39:2438)",
        );
    }
    let given = keys.number_within("max_gap_s", 0.0, 10.0, "s")?;
    let max_gap_s = keys.or(
        "max_gap_s",
        given,
        DEFAULT_MAX_GAP_S,
        "what a curve can be trusted to bridge in arm movement (common practice, no source)",
    );
    keys.finish()?;
    Ok(FilterKeys {
        cutoff: cutoff.unwrap_or(Cutoff::Auto),
        cutoff_place,
        force_cutoff,
        max_gap_s,
    })
}
