//! `armload moments`

use super::Failure;
use super::say::Talk;
use crate::explain;
use crate::findings::{self, ArmFindings};
use crate::kinetics::loads;
use crate::report::{self, CAUTIONS, WriteError, aside, bids, pages, summary, tables};
use crate::results::TrialResults;
use crate::sheet::TrialSheet;
use crate::trial::{self, TrialError};
use crate::uncertainty::{bands, sensitivity};
use polars::prelude::{DataFrame, PolarsResult};
use std::path::{Path, PathBuf};

/// Examples, and the names that a sheet may use.
fn help_text() -> String {
    let kinds: Vec<&str> = loads::kinds().collect();
    format!(
        "Examples:\n  armload moments curl.toml\n  armload moments curl.toml --out results --set filter.cutoff_hz=6\n  armload moments curl.toml --details --parquet --no-plots\n  armload moments curl.toml --uncertainty 200\n  armload moments curl.toml --sensitivity\n  armload moments curl.toml --explain 1.25\n  armload moments curl.toml --bids derivatives/armload\n\nThe folder gets moments.csv and muscles.csv (one row a frame each), repetitions.csv, summary.json and PNG pages.\n\nKinds of [[load]]: {}; any may have from_s and to_s. The file of a recorded-force may be a C3D file, with platform = 1 or channels = [\"Fx\", \"Fy\", \"Fz\"].\n\nEvery key of a sheet: armload sheet --keys\n\nMethods of model.shoulder_centre: given, below-acromion, scapula-regression, functional; of model.elbow_centre: given, half-width, functional.",
        kinds.join(", ")
    )
}

/// Arguments of `armload moments`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = help_text()
)]
pub struct Args {
    /// Trial sheet (TOML)
    pub sheet: PathBuf,
    /// Folder for the results [default: reports/{trial id}]
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Override a key of the sheet by its dotted path; may be repeated
    #[arg(long, value_name = "KEY=VALUE")]
    pub set: Vec<String>,
    /// Skip the PNG pages
    #[arg(long)]
    pub no_plots: bool,
    /// Also write the pages as SVG, for papers
    #[arg(long, conflicts_with = "no_plots")]
    pub svg: bool,
    /// Also write details.csv: moments and static parts in segment axes, each contributor's static share
    #[arg(long)]
    pub details: bool,
    /// Also write sensitivity.csv and a page: what the peaks change by per mm of a joint centre, per % of a mass, per Hz
    /// of the cutoff ...
    #[arg(long)]
    pub sensitivity: bool,
    /// 95 % bands and intervals by N draws of noise and skin, with what they come from; sizes: uncertainty in the sheet
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(2..=100_000))]
    pub uncertainty: Option<u64>,
    /// Also write moments.parquet and muscles.parquet
    #[arg(long)]
    pub parquet: bool,
    /// Also write the results into a BIDS derivative data set in this folder (made if there is none)
    #[arg(long, value_name = "DIR")]
    pub bids: Option<PathBuf>,
    /// Print the sum at one time (s) term by term, from segment masses to joint moments; writes no file
    #[arg(long, value_name = "TIME", allow_negative_numbers = true, conflicts_with_all = ["out", "no_plots", "svg", "details", "sensitivity", "uncertainty", "parquet", "bids"])]
    pub explain: Option<f64>,
}

/// Runs the command.
pub fn run(args: &Args, talk: &Talk) -> Result<(), Failure> {
    let mut sets = args.set.clone();
    sets.extend(args.uncertainty.map(|n| format!("uncertainty.draws={n}")));
    let sheet = TrialSheet::read(&args.sheet, &sets).map_err(TrialError::from)?;
    if let Some(time_s) = args.explain {
        return explain_frame(&sheet, time_s, talk);
    }
    let dir = args
        .out
        .clone()
        .unwrap_or_else(|| Path::new("reports").join(&sheet.trial.id));
    // what names the files may be missing: said before anything is computed
    let names = args.bids.as_ref().map(|_| bids::Names::of(&sheet)).transpose()?;
    if let (Some(set), Some(names)) = (&args.bids, &names) {
        bids::check(&sheet, names, set, &dir)?;
    }
    let wanted = Wanted {
        details: args.details,
        sensitivity: args.sensitivity,
        parquet: args.parquet,
        plots: !args.no_plots,
        svg: args.svg,
    };
    let working = talk.working(&format!("computing {}", sheet.trial.id));
    let report = process(&sheet, &dir, &wanted)?;
    let of_bids = match (&args.bids, names) {
        (Some(set), Some(names)) => Some(bids::write(&sheet, &report.results, &names, set)?),
        _ => None,
    };
    drop(working);
    for w in report.results.warnings.iter().filter(|w| !w.is_routine()) {
        talk.warning(&w.to_string());
    }
    talk.heading(&sheet.trial.id);
    for line in summary::in_words(&sheet, &report.results, &report.findings) {
        talk.paragraph(&line);
    }
    if let Some(u) = &report.results.uncertainty {
        for line in report::bands::lines(u) {
            talk.line(&line);
        }
        talk.paragraph(report::bands::WHAT);
    }
    for line in report::sensitivity::lines(&report.results.sensitivity) {
        talk.line(&line);
    }
    talk.line(&format!(
        "\nWritten to {}: {}",
        dir.display(),
        report.files.join(", ")
    ));
    if let Some(motion) = of_bids {
        talk.line(&format!("BIDS derivative: {}", motion.display()));
    }
    talk.fine_print(CAUTIONS);
    talk.json(&report.summary);
    Ok(())
}

/// Prints one frame's sum.
fn explain_frame(sheet: &TrialSheet, time_s: f64, talk: &Talk) -> Result<(), Failure> {
    let prepared = trial::prepare(sheet)?;
    let explanation = explain::frame(&prepared, time_s)?;
    for w in prepared.warnings() {
        talk.warning(&w.to_string());
    }
    talk.lines(&report::explain::lines(&explanation));
    talk.line("");
    talk.fine_print(CAUTIONS);
    talk.json(&serde_json::json!({
        "armload": env!("CARGO_PKG_VERSION"),
        "statement": summary::STATEMENT,
        "cautions": CAUTIONS,
        "explanation": explanation,
    }));
    Ok(())
}

/// Which results are wanted beside the usual ones.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wanted {
    /// `details.csv`
    pub details: bool,
    /// `sensitivity.csv`
    pub sensitivity: bool,
    /// `moments.parquet`
    pub parquet: bool,
    /// PNG pages
    pub plots: bool,
    /// The same pages as SVG
    pub svg: bool,
}

/// A processed trial and what was written of it.
pub struct Report {
    /// Results.
    pub results: TrialResults,
    /// Findings.
    pub findings: Vec<ArmFindings>,
    /// What went into `summary.json`.
    pub summary: serde_json::Value,
    /// Names of the files written.
    pub files: Vec<String>,
}

/// Runs a trial and writes its results.
pub fn process(sheet: &TrialSheet, dir: &Path, wanted: &Wanted) -> Result<Report, Failure> {
    let prepared = trial::prepare(sheet)?;
    let mut results = prepared.compute(trial::Extras {
        details: wanted.details,
        positions: wanted.plots,
        other_cutoffs: true,
    });
    if wanted.sensitivity {
        results.sensitivity = sensitivity::of_trial(&prepared, &results.arms);
    }
    let uncertain = &sheet.uncertainty;
    results.uncertainty = uncertain
        .draws
        .map(|draws| bands::of_trial(&prepared, &results.arms, uncertain, draws, bands::figures));
    drop(prepared);
    let findings = findings::find(&results, sheet.participant.body_mass_kg);
    aside::make_folder(dir)?;
    let mut files = Vec::new();
    let mut path_of = |name: &str| {
        files.push(name.to_owned());
        dir.join(name)
    };
    let table = |made: PolarsResult<DataFrame>, path: &Path| made.map_err(|e| WriteError::new(path, e));
    let path = path_of("moments.csv");
    let mut moments = table(tables::moments(&results), &path)?;
    tables::write_csv(&mut moments, &path)?;
    if wanted.parquet {
        tables::write_parquet(&mut moments, &path_of("moments.parquet"))?;
    }
    drop(moments);
    let path = path_of("muscles.csv");
    let mut muscles = table(tables::muscles(&results), &path)?;
    tables::write_csv(&mut muscles, &path)?;
    if wanted.parquet {
        tables::write_parquet(&mut muscles, &path_of("muscles.parquet"))?;
    }
    drop(muscles);
    if wanted.details {
        let path = path_of("details.csv");
        tables::write_csv(&mut table(tables::details(&results), &path)?, &path)?;
    }
    let path = path_of("repetitions.csv");
    tables::write_csv(&mut table(tables::repetitions(&findings), &path)?, &path)?;
    if wanted.sensitivity {
        let path = path_of("sensitivity.csv");
        tables::write_csv(
            &mut table(tables::sensitivity(&results.sensitivity), &path)?,
            &path,
        )?;
    }
    let summary = summary::json(sheet, &results, &findings);
    aside::write(&path_of("summary.json"), |out| {
        writeln!(out, "{summary:#}").map_err(|e| e.to_string())
    })?;
    if wanted.plots {
        let trial = pages::Trial {
            sheet,
            results: &results,
            findings: &findings,
        };
        files.extend(pages::save(trial, dir, wanted.svg)?);
    }
    Ok(Report {
        results,
        findings,
        summary,
        files,
    })
}
