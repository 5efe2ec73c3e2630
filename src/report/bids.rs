//! Results as a derivative data set in the manner of Motion-BIDS.
//!
//! ```text
//! dataset_description.json, README.md                                  what made it, and what it is
//! sub-P03/motion/sub-P03_task-curl_tracksys-markers_motion.tsv         the numbers of moments.csv, no header, n/a for missing
//! ..._channels.tsv, ..._channels.json, ..._motion.json                 what each column is, the axes, the rate
//! ```
//!
//! # Source
//! Brain Imaging Data Structure, motion recordings and derivatives (1.9 and later; from memory); a written
//! set was checked by hand with the standard's own validator (3.0.2: no error). That has no type for forces
//! and moments: they are MISC channels. Nor does it know the entity `desc` in the name of a motion recording,
//! so the name is the source's: what tells them apart is the data set.

use super::{WriteError, aside, summary, tables};
use crate::capture::bids;
use crate::ground::form::FormError;
use crate::ground::names::{Joint, Side};
use crate::results::{QUANTITIES, TrialResults, Unit};
use crate::sheet::TrialSheet;
use polars::prelude::*;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Version of the standard that brought motion recordings.
const BIDS_VERSION: &str = "1.9.0";
/// Entities of a motion recording, in the order of a name.
const ENTITIES: [&str; 6] = ["sub", "ses", "task", "tracksys", "acq", "run"];
/// Label of a tracking system that nobody names.
const ANY_SYSTEM: &str = "markers";
/// Our name in the data set.
const GENERATOR: &str = "armload";

/// What the files of one trial are called.
pub struct Names {
    entities: Vec<(&'static str, String)>,
    task_name: String,
}

/// Letters and digits of a text: all that a label may hold.
fn label(text: &str) -> String {
    text.chars().filter(char::is_ascii_alphanumeric).collect()
}

impl Names {
    /// From the name of the marker file if it is one of a BIDS data set, else from `participant.id` and
    /// `trial.id`.
    ///
    /// # Errors
    /// No name for the participant; a name without a letter or digit.
    pub fn of(sheet: &TrialSheet) -> Result<Self, FormError> {
        let of_file = bids::labels(&sheet.markers.file).unwrap_or_default();
        let place = crate::ground::place::Place::file(sheet.path.display().to_string());
        let mut entities = Vec::new();
        for key in ENTITIES {
            let stated = of_file.iter().find(|e| e.0 == key).map(|e| e.1.as_str());
            let text = match (key, stated) {
                (_, Some(found)) => found,
                ("sub", None) => sheet
                    .participant
                    .id
                    .as_deref()
                    .ok_or_else(|| FormError::Missing {
                        place: place.clone(),
                        key: "participant.id".into(),
                        expected: "a name for the person: a BIDS data set is sorted by it".into(),
                        similar: None,
                    })?,
                ("task", None) => &sheet.trial.id,
                ("tracksys", None) => ANY_SYSTEM,
                _ => continue,
            };
            let label = label(text);
            if label.is_empty() {
                return Err(FormError::Conflict {
                    place: place.clone(),
                    what: format!(
                        "\"{text}\" gives no BIDS label for '{key}': it has no letter (A-Z) or digit"
                    ),
                    hint: "participant.id and trial.id name the files: use letters and digits".into(),
                });
            }
            entities.push((key, label));
        }
        let task_name = of_file
            .iter()
            .find(|e| e.0 == "task")
            .map_or(&sheet.trial.id, |e| &e.1)
            .clone();
        Ok(Self { entities, task_name })
    }

    fn folder(&self) -> PathBuf {
        self.entities
            .iter()
            .filter(|e| ["sub", "ses"].contains(&e.0))
            .map(|(k, l)| format!("{k}-{l}"))
            .chain(["motion".into()])
            .collect()
    }

    fn stem(&self) -> String {
        let parts: Vec<String> = self.entities.iter().map(|(k, l)| format!("{k}-{l}")).collect();
        parts.join("_")
    }
}

/// One column of the recording.
struct Channel {
    name: String,
    component: &'static str,
    kind: &'static str,
    tracked_point: String,
    units: &'static str,
    reference_frame: &'static str,
    description: String,
}

/// What must be in a cell and may not be empty there.
const NONE: &str = "n/a";

impl Channel {
    fn time() -> Self {
        Self {
            name: "time_s".into(),
            component: NONE,
            kind: "LATENCY",
            tracked_point: NONE.into(),
            units: "s",
            reference_frame: NONE,
            description: "time of the frame on the clock of the recording".into(),
        }
    }

    /// A column of one arm, by its name without the side.
    fn of(side: Side, quantity: &'static crate::results::Quantity) -> Self {
        let is = |axis: &str| {
            quantity.name.ends_with(&format!("_{axis}_n")) || quantity.name.ends_with(&format!("_{axis}_n_m"))
        };
        let component = ["x", "y", "z"].into_iter().find(|a| is(a)).unwrap_or(NONE);
        let of_joint = |j: &Joint| quantity.name.starts_with(&format!("{}.", j.name()));
        // the flexor is the elbow's
        let joint = [Joint::Wrist, Joint::Elbow, Joint::Shoulder]
            .into_iter()
            .find(of_joint)
            .unwrap_or(Joint::Elbow);
        Self {
            name: format!("{side}.{}", quantity.name),
            component,
            kind: if quantity.unit == Unit::Degrees {
                "JNTANG"
            } else {
                "MISC"
            },
            tracked_point: format!("{side}_{}", joint.name()),
            units: match quantity.unit {
                Unit::Degrees => "deg",
                Unit::DegreesPerSecond => "deg/s",
                Unit::Newtons => "N",
                Unit::NewtonMetres => "N*m",
                Unit::Watts => "W",
                Unit::Metres => "m",
                Unit::MetresPerSecond => "m/s",
                Unit::Joules => "J",
            },
            reference_frame: if component == NONE { NONE } else { "world" },
            description: quantity.meaning.into(),
        }
    }

    fn row(&self) -> String {
        [
            self.name.as_str(),
            self.component,
            self.kind,
            &self.tracked_point,
            self.units,
            self.reference_frame,
            &self.description,
        ]
        .join("\t")
    }
}

const DESCRIPTION: &str = "dataset_description.json";
/// What to do about a folder that is not ours.
const OWN_FOLDER: &str = "choose a new or empty folder, or a data set that armload made";

/// Looks whether the trial may be written into the data set at `dir`: before anything is computed.
///
/// # Errors
/// A file, a folder with something else in it, a data set that is not ours, one that holds another trial or
/// person under the same names, and the folder of the usual results (`out`) or one within the other.
pub fn check(sheet: &TrialSheet, names: &Names, dir: &Path, out: &Path) -> Result<(), WriteError> {
    let (set, usual) = (aside::resolved(dir), aside::resolved(out));
    if set.starts_with(&usual) || usual.starts_with(&set) {
        return Err(WriteError::new(
            dir,
            "the data set and the folder of the usual results are one, or one lies within the other",
        )
        .with_hint("give --bids a folder of its own"));
    }
    if let Some(file) = dir.ancestors().find(|p| p.is_file()) {
        return Err(WriteError::new(file, "it is a file, not a folder").with_hint(OWN_FOLDER));
    }
    let description = dir.join(DESCRIPTION);
    if description.exists() {
        let found: Value = std::fs::read(&description)
            .ok()
            .and_then(|b| serde_json::from_slice(&b).ok())
            .unwrap_or_default();
        let ours = found["DatasetType"] == "derivative"
            && found["GeneratedBy"]
                .as_array()
                .is_some_and(|g| g.iter().any(|g| g["Name"] == GENERATOR));
        if !ours {
            return Err(WriteError::new(
                &description,
                "there is a data set already that armload did not make; it is left as it is",
            )
            .with_hint(OWN_FOLDER));
        }
    } else if std::fs::read_dir(dir).is_ok_and(|mut entries| entries.next().is_some()) {
        return Err(WriteError::new(
            dir,
            "the folder holds other things already; they are left as they are",
        )
        .with_hint(OWN_FOLDER));
    }
    let about = dir
        .join(names.folder())
        .join(format!("{}_motion.json", names.stem()));
    if about.exists() {
        let found: Value = std::fs::read(&about)
            .ok()
            .and_then(|b| serde_json::from_slice(&b).ok())
            .unwrap_or_default();
        let (trial, person) = (&found["Armload"]["Trial"], &found["Armload"]["Participant"]);
        if *trial != json!(sheet.trial.id) || *person != json!(sheet.participant.id) {
            let held = format!(
                "it holds the trial {trial} of the participant {person}: names have to differ in their letters and digits"
            );
            return Err(WriteError::new(&about, held)
                .with_hint("change participant.id or trial.id, or choose another folder"));
        }
    }
    Ok(())
}

/// The data set's own description, written once.
fn describe(dir: &Path) -> Result<(), WriteError> {
    let path = dir.join(DESCRIPTION);
    if path.exists() {
        return Ok(());
    }
    let about = dir.join("README.md");
    if !about.exists() {
        aside::write(&about, |out| {
            writeln!(out, "{}", readme()).map_err(|e| e.to_string())
        })?;
    }
    put_json(
        &path,
        &json!({
            "Name": "Net joint moments of recorded arm movement",
            "BIDSVersion": BIDS_VERSION,
            "DatasetType": "derivative",
            "GeneratedBy": [{ "Name": GENERATOR, "Version": env!("CARGO_PKG_VERSION"), "Description": summary::STATEMENT }],
        }),
    )
}

/// What the data set is, for a person.
fn readme() -> String {
    let what = "Each `*_motion.tsv` holds joint angles (JNTANG) and net forces, moments and powers (MISC: the standard has no type of its own for them), \
                one row a frame, n/a where nothing is known. `*_channels.tsv` says what each column is.";
    format!(
        "# Net joint moments of recorded arm movement\n\nComputed by {GENERATOR} from marker trajectories and loads. {}\n\n{what}\n\n{}",
        summary::STATEMENT,
        super::CAUTIONS
    )
}

fn put_json(path: &Path, value: &Value) -> Result<(), WriteError> {
    aside::write(path, |out| writeln!(out, "{value:#}").map_err(|e| e.to_string()))
}

/// Writes the trial into the data set at `dir`, which is made if there is none; returns the path of the
/// recording in it.
///
/// The values are the columns of numbers of `moments.csv`; phases and quality flags are words and stay there.
///
/// # Errors
/// What can't be written. Whether it may be written there at all, [`check`] says.
pub fn write(
    sheet: &TrialSheet,
    results: &TrialResults,
    names: &Names,
    dir: &Path,
) -> Result<PathBuf, WriteError> {
    let (folder, stem) = (dir.join(names.folder()), names.stem());
    let file = |end: &str| folder.join(format!("{stem}_{end}"));
    aside::make_folder(dir)?;
    describe(dir)?;
    aside::make_folder(&folder)?;
    let about = file("motion.json");
    let mut channels = vec![Channel::time()];
    for arm in &results.arms {
        channels.extend(
            QUANTITIES
                .iter()
                .enumerate()
                .filter(|(row, _)| arm.writes(*row))
                .map(|(_, q)| Channel::of(arm.side, q)),
        );
    }
    let motion = file("motion.tsv");
    let columns: Vec<&str> = channels.iter().map(|c| c.name.as_str()).collect();
    let mut numbers = tables::moments(results)
        .and_then(|t| t.select(columns))
        .map_err(|e| WriteError::new(&motion, e))?;
    aside::write(&motion, |out| {
        let mut writer = CsvWriter::new(out)
            .include_header(false)
            .with_separator(b'\t')
            .with_null_value(NONE.into());
        writer.finish(&mut numbers).map_err(|e| e.to_string())
    })?;
    aside::write(&file("channels.tsv"), |out| {
        let header = "name\tcomponent\ttype\ttracked_point\tunits\treference_frame\tdescription".to_owned();
        let rows: Vec<String> = std::iter::once(header)
            .chain(channels.iter().map(Channel::row))
            .collect();
        writeln!(out, "{}", rows.join("\n")).map_err(|e| e.to_string())
    })?;
    let world = json!({ "Description": "X forward, Y up, Z to the right", "SpatialAxes": "ASR", "RotationRule": "right-hand" });
    put_json(
        &file("channels.json"),
        &json!({ "Description": "columns of the recording beside it", "reference_frame": { "Description": "axes that a component is resolved in", "Levels": { "world": world } } }),
    )?;
    let count = |kind: &str| channels.iter().filter(|c| c.kind == kind).count();
    let mut points: Vec<&str> = channels
        .iter()
        .map(|c| c.tracked_point.as_str())
        .filter(|p| *p != NONE)
        .collect();
    points.sort_unstable();
    points.dedup();
    put_json(
        &about,
        &json!({
            "TaskName": names.task_name,
            "SamplingFrequency": results.rate_hz,
            "SamplingFrequencyEffective": results.rate_hz,
            "TrackingSystemName": names.entities.iter().find(|e| e.0 == "tracksys").map(|e| &e.1),
            "TrackedPointsCount": points.len(),
            "MotionChannelCount": channels.len(),
            "JNTANGChannelCount": count("JNTANG"),
            "LATENCYChannelCount": count("LATENCY"),
            "MISCChannelCount": count("MISC"),
            "RecordingDuration": results.time_s.last().zip(results.time_s.first()).map_or(0.0, |(b, a)| b - a) + 1.0 / results.rate_hz,
            "MissingValues": NONE,
            "Description": summary::STATEMENT,
            "Armload": { "Trial": sheet.trial.id, "Participant": sheet.participant.id, "Version": env!("CARGO_PKG_VERSION"), "Cautions": super::CAUTIONS },
        }),
    )?;
    Ok(motion)
}
