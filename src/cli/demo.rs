//! `armload demo`

use super::Failure;
use super::moments::{Wanted, process};
use super::say::Talk;
use crate::demo;
use crate::report::{CAUTIONS, aside, summary};
use crate::sheet::TrialSheet;
use crate::trial::TrialError;
use serde_json::json;
use std::path::{Path, PathBuf};

/// Arguments of `armload demo`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  armload demo\n  armload demo --out try-it\n\nWrites two trial sheets with their marker files (two invented participants), processes both and says where the reports are.\nThe sheets are a good start for your own."
)]
pub struct Args {
    /// Folder for sheets, recordings and reports
    #[arg(long, value_name = "DIR", default_value = "reports/demo")]
    pub out: PathBuf,
    /// Skip the PNG pages
    #[arg(long)]
    pub no_plots: bool,
}

/// Runs the command.
pub fn run(args: &Args, talk: &Talk) -> Result<(), Failure> {
    let dir: &Path = &args.out;
    aside::make_folder(dir)?;
    for file in demo::files() {
        aside::write(&dir.join(file.name), |out| {
            out.write_all(file.text.as_bytes()).map_err(|e| e.to_string())
        })?;
    }
    let mut summaries = Vec::new();
    for name in demo::SHEETS {
        let path = dir.join(name);
        let sheet = TrialSheet::read(&path, &[]).map_err(TrialError::from)?;
        let out = dir.join(&sheet.trial.id);
        let report = process(
            &sheet,
            &out,
            &Wanted {
                plots: !args.no_plots,
                ..Wanted::default()
            },
        )?;
        talk.heading(&format!("{}  ({})", sheet.trial.id, path.display()));
        for line in summary::in_words(&sheet, &report.results, &report.findings) {
            talk.paragraph(&line);
        }
        for w in report.results.warnings.iter().filter(|w| !w.is_routine()) {
            talk.paragraph(&format!("note: {w}"));
        }
        talk.line(&format!(
            "  Reports: {}: {}\n",
            out.display(),
            report.files.join(", ")
        ));
        summaries.push(report.summary);
    }
    talk.line(&format!(
        "Next: armload moments {} --set filter.cutoff_hz=6 --details",
        dir.join(demo::SHEETS[0]).display()
    ));
    talk.fine_print(CAUTIONS);
    talk.json(&json!(summaries));
    Ok(())
}
