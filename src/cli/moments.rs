//! `armload moments`

use super::Failure;
use super::say::Talk;
use crate::report::{WriteError, aside, tables};
use crate::sheet::TrialSheet;
use crate::trial::{self, TrialError};
use std::path::{Path, PathBuf};

/// Arguments of `armload moments`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  armload moments curl.toml\n  armload moments curl.toml --out results --set filter.cutoff_hz=6\n  armload moments curl.toml --details --parquet --no-plots\n\nThe folder gets moments.csv (one row a frame), repetitions.csv, summary.json and PNG pages."
)]
pub struct Args {
    /// Trial sheet (TOML)
    pub sheet: PathBuf,
    /// Folder for the results [default: reports/<trial id>]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Override a key of the sheet by its dotted path; may be repeated
    #[arg(long, value_name = "KEY=VALUE")]
    pub set: Vec<String>,
    /// Skip the PNG pages
    #[arg(long)]
    pub no_plots: bool,
    /// Also write details.csv: moments in segment axes, each contributor's static share
    #[arg(long)]
    pub details: bool,
    /// Also write moments.parquet
    #[arg(long)]
    pub parquet: bool,
}

/// Runs the command.
pub fn run(args: &Args, talk: &Talk) -> Result<(), Failure> {
    let sheet = TrialSheet::read(&args.sheet, &args.set).map_err(TrialError::from)?;
    let results = trial::run(&sheet, args.details)?;
    let dir = args.out.clone().unwrap_or_else(|| Path::new("reports").join(&sheet.trial.id));
    aside::make_folder(&dir)?;
    let path = dir.join("moments.csv");
    let mut frame = tables::moments(&results).map_err(|e| WriteError::new(&path, e))?;
    tables::write_csv(&mut frame, &path)?;
    if args.parquet {
        tables::write_parquet(&mut frame, &dir.join("moments.parquet"))?;
    }
    if args.details {
        let path = dir.join("details.csv");
        let mut frame = tables::details(&results).map_err(|e| WriteError::new(&path, e))?;
        tables::write_csv(&mut frame, &path)?;
    }
    for w in &results.warnings {
        talk.warning(&w.to_string());
    }
    Ok(())
}
