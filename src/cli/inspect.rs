//! `armload inspect`

use super::say::Talk;
use super::{Failure, sheet as starter_command};
use crate::capture::Recording;
use crate::capture::header::Layout;
use crate::capture::points::MarkerReading;
use crate::ground::warning::Warning;
use crate::inspect::{self, FileLook, Role};
use crate::report;
use crate::sheet::TrialSheet;
use crate::sheet::starter::{self, About};
use crate::trial::{self, TrialError};
use std::path::{Path, PathBuf};

/// Arguments of `armload inspect`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  armload inspect curl.toml\n  armload inspect curl_markers.csv\n  armload inspect curl.toml --smoothing\n\nPrints no moments and writes no file; it computes them to doubt what no person does. Exit status 1, with the same message, if `armload moments` would fail on the sheet."
)]
pub struct Args {
    /// Trial sheet (.toml) or marker file
    pub file: PathBuf,
    /// Override a key of the sheet by its dotted path; may be repeated
    #[arg(long, value_name = "KEY=VALUE")]
    pub set: Vec<String>,
    /// Judge ways of smoothing by cluster markers that they have not seen
    #[arg(long)]
    pub smoothing: bool,
}

/// Runs the command.
pub fn run(args: &Args, talk: &Talk) -> Result<(), Failure> {
    if args
        .file
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("toml"))
    {
        of_sheet(args, talk)
    } else {
        of_markers(&args.file, talk)
    }
}

fn of_sheet(args: &Args, talk: &Talk) -> Result<(), Failure> {
    let sheet = TrialSheet::read(&args.file, &args.set).map_err(TrialError::from)?;
    let prepared = trial::prepare(&sheet);
    let of_calibration = sheet.calibration.as_ref().and_then(|c| c.file.as_deref());
    let paths = [
        (Role::Trial, Some(sheet.markers.file.as_path())),
        (Role::Static, of_calibration),
    ];
    let listed = |p: &Path| p == sheet.markers.file || Some(p) == of_calibration;
    let motions = sheet
        .model
        .motion_files()
        .into_iter()
        .filter(|p| !listed(p))
        .map(|p| (Role::Motion, p));
    // a file that can't be read is what `prepare` fails with
    let files: Vec<FileLook> = paths
        .into_iter()
        .filter_map(|(r, p)| Some((r, p?)))
        .chain(motions)
        .filter_map(|(r, p)| look(p, r, &sheet))
        .collect();
    let (seen, outcome) = inspect::trial(&sheet, files, prepared);
    show(&seen, args.smoothing, talk);
    outcome.map_err(Failure::from)
}

fn look(path: &Path, role: Role, sheet: &TrialSheet) -> Option<FileLook> {
    let how = MarkerReading {
        layout: Layout::default(),
        rename: &sheet.markers.rename,
        sides: &sheet.trial.sides,
        rate_hz: sheet.markers.rate_hz,
        max_gap_s: sheet.filter.max_gap_s,
        claims: None,
    };
    let recording = Recording::read(path, &how, &mut Vec::new()).ok()?;
    Some(inspect::file(
        &recording,
        role,
        true,
        1e3 * sheet.markers.metres_per_unit,
        "mm",
    ))
}

fn of_markers(path: &Path, talk: &Talk) -> Result<(), Failure> {
    let mut warnings: Vec<Warning> = Vec::new();
    let (recording, has_time) = starter_command::look(path, &mut warnings)?;
    let file = path.display().to_string();
    let made = starter::write(
        &recording,
        &About {
            file: &file,
            id: "trial",
            has_time,
            sides: &[],
            participant: &[],
        },
    );
    let unit = recording
        .table
        .stated
        .length_unit
        .as_ref()
        .map_or("in its unit".to_owned(), |u| u.0.clone());
    let look = inspect::file(&recording, Role::Trial, has_time, 1.0, &unit);
    show(&inspect::bare(look, &made, &warnings), false, talk);
    Ok(())
}

fn show(seen: &inspect::Inspection, smoothing: bool, talk: &Talk) {
    talk.lines(&report::inspect::lines(seen));
    if let Some(look) = seen.trial.as_ref().filter(|_| smoothing) {
        talk.lines(&report::judged::lines(look));
    }
    talk.json(&serde_json::json!({ "armload": env!("CARGO_PKG_VERSION"), "inspection": seen }));
}
