//! The trial sheet: one TOML file that says what was recorded, of whom, and how to treat it.
//!
//! Every key that is not known is an error with a suggestion; every value used, given or default, is recorded
//! with who said so.

mod include;
mod of_trial;
pub mod reference;
pub mod starter;
pub mod uncertainty;

use crate::anatomy::settings::{ModelSettings, Participant};
use crate::capture::settings::MarkerSettings;
use crate::ground::form::keys::{self, Keys, Record, Setting};
use crate::ground::form::{FormError, SourceOfValue, tree};
use crate::ground::place::Place;
use crate::ground::units;
use crate::kinetics::loads::{self, Load};
use crate::muscles::Muscles;
use crate::phases::PhaseSettings;
use crate::points::settings::{CalibrationSettings, Cluster};
use crate::smoothing::settings::FilterSettings;
pub use of_trial::{AgreementSettings, TrialSettings};
use std::path::{Path, PathBuf};
pub use uncertainty::UncertaintySettings;

/// Stands in a starter sheet for what only the user can say.
pub const UNSTATED: &str = "?";

/// A trial sheet, read and checked.
pub struct TrialSheet {
    /// Path as given.
    pub path: PathBuf,
    /// `[trial]`
    pub trial: TrialSettings,
    /// `[participant]`
    pub participant: Participant,
    /// `[model]`
    pub model: ModelSettings,
    /// `[markers]`
    pub markers: MarkerSettings,
    /// `[calibration]`
    pub calibration: Option<CalibrationSettings>,
    /// `[filter]`
    pub filter: FilterSettings,
    /// `[[load]]`
    pub loads: Vec<Load>,
    /// `[muscles]`
    pub muscles: Muscles,
    /// `[phases]`
    pub phases: PhaseSettings,
    /// `[agreement]`
    pub agreement: AgreementSettings,
    /// `[uncertainty]`
    pub uncertainty: UncertaintySettings,
    /// Every setting read, with who set it. What the recording adds or leaves without effect is in
    /// [`crate::results::TrialResults::settings`].
    pub settings: Vec<Setting>,
    /// Every key that was asked for and is no table, given or not.
    pub asked: Vec<String>,
}

impl TrialSheet {
    /// Calibrated clusters; none without `[calibration]`.
    pub fn clusters(&self) -> &[Cluster] {
        self.calibration.as_ref().map_or(&[], |c| &c.clusters)
    }

    /// Reads a sheet and applies `--set` assignments.
    pub fn read(path: &Path, sets: &[String]) -> Result<Self, FormError> {
        let recorded = ["csv", "tsv", "gz", "c3d", "parquet"];
        if path
            .extension()
            .and_then(|e| e.to_str())
            .is_some_and(|e| recorded.contains(&e.to_ascii_lowercase().as_str()))
        {
            return Err(FormError::Conflict {
                place: Place::file(path.display().to_string()),
                what: "this looks like a recording; expected a trial sheet (TOML)".into(),
                hint: format!("`armload sheet {}` writes a starter sheet for it", path.display()),
            });
        }
        let text = read_text(path).map_err(|reason| FormError::Unreadable {
            place: Place::file(path.display().to_string()),
            reason,
        })?;
        Self::from_text(&text, path, sets)
    }

    /// Reads a sheet from text; `path` gives the folder for relative files and the name for messages.
    pub fn from_text(text: &str, path: &Path, sets: &[String]) -> Result<Self, FormError> {
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
        let trial = TrialSettings::read(required(&root, "trial")?)?;
        let participant = Participant::read(required(&root, "participant")?)?;
        let model = ModelSettings::read(root.table_or_empty("model")?, &trial.sides, &dir)?;
        if model.table.by_sex && participant.sex.is_none() {
            return Err(FormError::Missing {
                place: root.place_of("participant"),
                key: "participant.sex".into(),
                expected: format!(
                    "\"female\" or \"male\": the table {} has a column for each",
                    model.table.name
                ),
                similar: None,
            });
        }
        let markers = MarkerSettings::read(required(&root, "markers")?, &dir, &trial.sides)?;
        let calibration = root
            .table("calibration")?
            .map(|k| CalibrationSettings::read(k, &dir, &trial.sides))
            .transpose()?;
        let filter = FilterSettings::read(root.table_or_empty("filter")?)?;
        let mut all = Vec::new();
        for (number, keys) in root.tables("load")?.into_iter().enumerate() {
            all.extend(loads::read(keys, number, &trial.sides, &markers, &dir)?);
        }
        loads::check_bars(&all, &trial.sides)?;
        loads::number_labels(&mut all);
        let muscles = Muscles::read(root.table_or_empty("muscles")?, &dir)?;
        let phases = PhaseSettings::read(root.table_or_empty("phases")?)?;
        let agreement = AgreementSettings::read(root.table("agreement")?, &dir, &trial.sides)?;
        let uncertainty = UncertaintySettings::read(root.table("uncertainty")?)?;
        root.finish()?;
        let (asked, settings) = recorded(record.take(), included);
        Ok(Self {
            path: path.to_owned(),
            trial,
            participant,
            model,
            markers,
            calibration,
            filter,
            loads: all,
            muscles,
            phases,
            agreement,
            uncertainty,
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

/// Keys that were asked for, and every setting with who said so; `included` is the included file with what was taken from
/// it.
fn recorded(log: keys::Log, included: Option<(String, Vec<String>)>) -> (Vec<String>, Vec<Setting>) {
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
    (asked, settings)
}

/// Text of a TOML file, or what keeps it from being read.
fn read_text(path: &Path) -> Result<String, String> {
    let text = String::from_utf8(std::fs::read(path).map_err(|e| e.to_string())?)
        .map_err(|e| format!("not UTF-8 text: {e}"))?;
    Ok(text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text))
}

/// Refuses a sheet with placeholders, naming all of them and the place of the first.
fn refuse_placeholders(tree: &tree::Node) -> Result<(), FormError> {
    let mut found: Vec<(Place, String)> = Vec::new();
    collect_placeholders(tree, "", &mut found);
    found.sort_by_key(|(place, _)| (place.line, place.column));
    match found.first() {
        Some((place, _)) => {
            let place = place.clone();
            let keys: Vec<String> = found.into_iter().map(|f| f.1).collect();
            let hint = if keys.iter().any(|k| k == "markers.length_unit") {
                format!(
                    "replace each \"?\"; the unit of the coordinates is one of {}, or {} with a scale: a wrong one would pass unseen, so it is never guessed",
                    units::LENGTH_UNITS.join(", "),
                    units::PIXEL
                )
            } else {
                "replace each \"?\" in the sheet, or give the value with --set".into()
            };
            Err(FormError::Unstated { place, keys, hint })
        }
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

fn required(root: &Keys, name: &str) -> Result<Keys, FormError> {
    root.table(name)?
        .ok_or_else(|| root.missing(name, &format!("a table [{name}]")))
}
