//! `armload agreement`

use super::say::Talk;
use super::{CAUTIONS, Failure};
use crate::agreement;
use crate::report::agreement::{csv, json, markdown, page, paragraph, verdict};
use crate::report::{aside, draw};
use std::path::{Path, PathBuf};

/// Arguments of `armload agreement`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  armload agreement curl.toml\n  armload agreement P*/holds-*.toml --out reports/agreement\n  armload agreement curl.toml --set agreement.problem=hold.toml --no-plots\n  armload agreement curl.toml --uncertainty 100\n\n\
The folder gets agreement.csv (long form for a program of statistics: one row for every hold, lift or recording and estimate), agreement.json, \
agreement.md (a paragraph for a thesis, tables by participant and by elbow angle) and agreement.png.\n\n\
Three static estimates of the elbow moment are held against the recording: the hand-worked problem that a trial sheet names ([agreement] problem = \"hold.toml\", \
a sheet of `armload statics`; for holds whose forearm is within posture_deg, 10°, of its own), the closed form at the recorded joint centres, and the static part of the dynamic pass. \
A difference is estimate minus recorded. One hold is one observation; trials with the same [participant] id are repeated measures of one person (without an id: the same folder, sex, mass and stature). \
A movement counts once: sheets that name the same recording of an arm are refused.\n\n\
Closed form, static part and recording use the same load masses, segment table and joint centres, so errors of these cancel: what is compared is what motion and posture add.\n\n\
With --uncertainty or [uncertainty] in a sheet it is told in how many holds an estimate and the recording differ by more than both are uncertain.\n\n\
Limits of agreement are given from 15 holds on, of one participant or of at least 5; the spread that is found has no say in it."
)]
pub struct Args {
    /// Trial sheets (TOML)
    #[arg(required = true, value_name = "SHEET.toml")]
    pub sheets: Vec<PathBuf>,
    /// Folder for the results [default: reports/{trial id}, or reports/agreement for several sheets]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Override a key of every sheet by its dotted path; may be repeated
    #[arg(long, value_name = "KEY=VALUE")]
    pub set: Vec<String>,
    /// 95 % intervals of holds and estimates by N draws of noise and skin, for every trial; sizes: uncertainty in the sheets
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(2..=100_000))]
    pub uncertainty: Option<u64>,
    /// Skip the PNG page
    #[arg(long)]
    pub no_plots: bool,
}

/// Runs the command.
pub fn run(args: &Args, talk: &Talk) -> Result<(), Failure> {
    let mut sets = args.set.clone();
    sets.extend(args.uncertainty.map(|n| format!("uncertainty.draws={n}")));
    let found = agreement::run(&args.sheets, &sets)?;
    let name = if args.sheets.len() == 1 {
        found.arms.first().map(|a| a.trial.clone())
    } else {
        None
    };
    let dir = args
        .out
        .clone()
        .unwrap_or_else(|| Path::new("reports").join(name.as_deref().unwrap_or("agreement")));
    aside::make_folder(&dir)?;
    let summary = json(&found);
    aside::write(&dir.join("agreement.csv"), |out| {
        out.write_all(csv(&found).as_bytes()).map_err(|e| e.to_string())
    })?;
    aside::write(&dir.join("agreement.json"), |out| {
        writeln!(out, "{summary:#}").map_err(|e| e.to_string())
    })?;
    aside::write(&dir.join("agreement.md"), |out| {
        out.write_all(markdown(&found).as_bytes())
            .map_err(|e| e.to_string())
    })?;
    let mut files = "agreement.csv, agreement.json, agreement.md".to_owned();
    if !args.no_plots {
        draw::save_png(&page(&found), &dir.join("agreement.png"))?;
        files += ", agreement.png";
    }
    for w in &found.warnings {
        talk.warning(w);
    }
    talk.heading("Static estimates against the recording: elbow flexion moment");
    for line in verdict(&found) {
        talk.paragraph(&line);
    }
    talk.heading("For a thesis");
    talk.paragraph(&paragraph(&found));
    talk.line(&format!("\nWritten to {}: {files}", dir.display()));
    talk.fine_print(CAUTIONS);
    talk.json(&summary);
    Ok(())
}
