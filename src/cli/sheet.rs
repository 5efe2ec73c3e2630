//! `armload sheet`

use super::Failure;
use super::say::Talk;
use crate::capture::bids::participant_suggestions;
use crate::capture::header::Layout;
use crate::capture::points::MarkerReading;
use crate::capture::{CaptureError, Recording};
use crate::ground::names::Side;
use crate::report::{WriteError, aside};
use crate::sheet::reference;
use crate::sheet::starter::{self, About};
use crate::smoothing::settings::DEFAULT_MAX_GAP_S;
use std::collections::BTreeMap;
use std::path::{Component, Path, PathBuf};

/// Arguments of `armload sheet`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  armload sheet curl_markers.csv > curl.toml\n  armload sheet curl_markers.csv --out curl.toml --side right\n  armload sheet --keys\n\nLandmarks are guessed from names and marked as guesses. Units and axes are left for you to state: a \"?\" in a sheet is refused."
)]
pub struct Args {
    /// Marker file
    #[arg(required_unless_present = "keys")]
    pub file: Option<PathBuf>,
    /// Print every key that a sheet may have: type, unit, default, meaning, example
    #[arg(long, conflicts_with_all = ["file", "out", "side"])]
    pub keys: bool,
    /// Sheet to write; an existing one is not overwritten [default: standard output]
    #[arg(long, value_name = "SHEET.toml")]
    pub out: Option<PathBuf>,
    /// Arm of the recording; may be repeated [default: guessed from the names]
    #[arg(long, value_name = "SIDE", value_parser = side)]
    pub side: Vec<Side>,
}

fn side(text: &str) -> Result<Side, String> {
    Side::ALL
        .into_iter()
        .find(|s| s.name() == text)
        .ok_or_else(|| "expected right or left".to_owned())
}

/// Rate with which a file without times is looked at: no time of it is printed.
const ANY_RATE_HZ: f64 = 1.0;

/// Runs the command.
pub fn run(args: &Args, talk: &Talk) -> Result<(), Failure> {
    match &args.file {
        Some(file) => write_starter(file, args, talk),
        None => {
            print_keys(talk);
            Ok(())
        }
    }
}

/// Prints every key: the text is the result, --quiet does not hold it back.
fn print_keys(talk: &Talk) {
    if talk.json {
        talk.json(&serde_json::json!({ "tables": reference::sections() }));
    } else {
        super::say::put(format_args!("{}", reference::text()));
    }
}

fn write_starter(file: &Path, args: &Args, talk: &Talk) -> Result<(), Failure> {
    if let Some(out) = &args.out
        && out.exists()
    {
        return Err(
            WriteError::new(out, "there is a file of this name already; it is left as it is")
                .with_hint("choose another name, or remove the file first")
                .into(),
        );
    }
    let mut warnings = Vec::new();
    let (recording, has_time) = look(file, &mut warnings)?;
    let mut sides: Vec<Side> = Vec::new();
    args.side.iter().for_each(|s| {
        if !sides.contains(s) {
            sides.push(*s)
        }
    });
    let id = trial_name(file);
    let named = match &args.out {
        Some(out) => relative(file, out),
        None => file.display().to_string(),
    };
    let about = About {
        file: &named,
        id: &id,
        has_time,
        sides: &sides,
        participant: &participant_suggestions(file),
    };
    let made = starter::write(&recording, &about);
    warnings.iter().for_each(|w| talk.warning(&w.to_string()));
    match &args.out {
        Some(out) => {
            aside::write(out, |f| {
                f.write_all(made.text.as_bytes()).map_err(|e| e.to_string())
            })?;
            talk.line(&format!(
                "Written to {}; state what is marked \"?\" and check every guess.",
                out.display()
            ));
        }
        // the sheet itself is the result: --quiet does not hold it back
        None if !talk.json => super::say::put(format_args!("{}", made.text)),
        None => {}
    }
    talk.json(&serde_json::json!({
        "file": file.display().to_string(),
        "points": made.points,
        "guesses": made.guesses.iter().map(|(from, to)| (from.clone(), to.clone().into())).collect::<serde_json::Map<_, _>>(),
        "sides": made.sides.iter().map(|s| s.name()).collect::<Vec<_>>(),
        "length_unit": recording.table.stated.length_unit.as_ref().map(|u| &u.0),
        "platforms": recording.table.stated.platforms,
        "channels": recording.table.stated.channels,
        "rate_hz": has_time.then_some(recording.time.rate_hz),
        "frames": recording.time.frames,
        "sheet": made.text,
    }));
    Ok(())
}

/// Reads the file without a sheet; also whether it has times.
pub(super) fn look(
    path: &Path,
    warnings: &mut Vec<crate::ground::warning::Warning>,
) -> Result<(Recording, bool), CaptureError> {
    if path.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")) {
        return Err(CaptureError::IsASheet {
            place: crate::ground::place::Place::file(path.display().to_string()),
        });
    }
    let rename = BTreeMap::new();
    let how = |rate_hz| MarkerReading {
        layout: Layout::default(),
        rename: &rename,
        sides: &[],
        rate_hz,
        max_gap_s: DEFAULT_MAX_GAP_S,
        claims: None,
    };
    match Recording::read(path, &how(None), warnings) {
        Err(CaptureError::NoTime { .. }) => {
            Ok((Recording::read(path, &how(Some(ANY_RATE_HZ)), warnings)?, false))
        }
        read => Ok((read?, true)),
    }
}

/// The file's name without its endings, as a name for the trial.
fn trial_name(file: &Path) -> String {
    let name = file
        .file_name()
        .map_or_else(|| "trial".into(), |n| n.to_string_lossy().into_owned());
    let stem = name.split('.').next().unwrap_or_default();
    let stem = ["_markers", "_motion"]
        .iter()
        .find_map(|end| stem.strip_suffix(end))
        .unwrap_or(stem);
    if stem.is_empty() {
        "trial".into()
    } else {
        stem.to_owned()
    }
}

/// Path of a file as seen from the folder of a sheet.
fn relative(file: &Path, sheet: &Path) -> String {
    let folder = match sheet.parent() {
        Some(p) if !p.as_os_str().is_empty() => p,
        _ => Path::new("."),
    };
    let (Ok(file_at), Ok(from)) = (file.canonicalize(), folder.canonicalize()) else {
        return file.display().to_string();
    };
    let common = file_at
        .components()
        .zip(from.components())
        .take_while(|(a, b)| a == b)
        .count();
    let up = from.components().count() - common;
    // files on another drive have nothing in common, and a file far away is better named in full
    if common <= 1 && up > 2 {
        return file_at.display().to_string();
    }
    let path: PathBuf = std::iter::repeat_n(Component::ParentDir, up)
        .chain(file_at.components().skip(common))
        .collect();
    path.display().to_string()
}
