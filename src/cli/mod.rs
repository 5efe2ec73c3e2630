//! The command line: clap types, one file a command. No physics here.

pub mod agreement;
pub mod demo;
pub mod inspect;
pub mod manuals;
pub mod moments;
pub mod say;
pub mod sheet;
pub mod statics;
pub mod tables;

use crate::ground::place::Fault;
use crate::report::{CAUTIONS, WriteError};
use clap::{ColorChoice, Parser, Subcommand};
use std::process::ExitCode;

/// Exit status when the input is at fault.
pub const EXIT_INPUT: u8 = 1;
/// Exit status when a result could not be written.
pub const EXIT_WRITE: u8 = 4;

/// Elbow and shoulder net moments from recorded arm movement.
#[derive(Debug, Parser)]
#[command(name = "armload", version, propagate_version = true, arg_required_else_help = true, after_help = CAUTIONS, max_term_width = 100, color = ColorChoice::Auto)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// Say nothing but errors
    #[arg(long, short, global = true)]
    pub quiet: bool,
    /// Print a machine-readable summary on standard output
    #[arg(long, global = true)]
    pub json: bool,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Write a complete example (sheets, recordings), process it, say where the reports are
    Demo(demo::Args),
    /// One trial: markers and loads in, joint moments, tables and pictures out
    Moments(moments::Args),
    /// Looks at a recording: points, gaps, noise, lengths, and whether moments can be had from it
    Inspect(inspect::Args),
    /// Free-body problems: solved, explained step by step, drawn; problem sheets with answers
    Statics(Box<statics::Args>),
    /// Static estimates against recordings: holds found, differences, limits of agreement
    Agreement(agreement::Args),
    /// Looks at a marker file and writes a starter trial sheet for it
    Sheet(sheet::Args),
    /// Anthropometric tables and muscle curves with their sources; what they make of a person
    Tables(tables::Args),
    /// Prints completions for a shell
    Completions(manuals::CompletionArgs),
    /// Writes manual pages
    Man(manuals::ManArgs),
}

/// Why a command failed.
pub enum Failure {
    /// The input is at fault.
    Input(Box<dyn Fault>),
    /// A result could not be written.
    Write(WriteError),
}

impl<E: Fault + 'static> From<E> for Failure {
    fn from(e: E) -> Self {
        Failure::Input(Box::new(e))
    }
}

impl From<WriteError> for Failure {
    fn from(e: WriteError) -> Self {
        Failure::Write(e)
    }
}

/// Parses the command line and runs the command.
pub fn run() -> ExitCode {
    let cli = Cli::parse();
    let talk = say::Talk {
        quiet: cli.quiet || cli.json,
        json: cli.json,
    };
    let result = match &cli.command {
        Command::Demo(args) => demo::run(args, &talk),
        Command::Moments(args) => moments::run(args, &talk),
        Command::Inspect(args) => inspect::run(args, &talk),
        Command::Statics(args) => statics::run(args, &talk),
        Command::Agreement(args) => agreement::run(args, &talk),
        Command::Sheet(args) => sheet::run(args, &talk),
        Command::Tables(args) => tables::run(args, &talk),
        Command::Completions(args) => manuals::completions(args),
        Command::Man(args) => manuals::man(args, &talk),
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(Failure::Input(e)) => {
            say::error(&e.to_string(), e.hint().as_deref());
            ExitCode::from(EXIT_INPUT)
        }
        Err(Failure::Write(e)) => {
            say::error(
                &e.to_string(),
                Some(
                    e.hint.unwrap_or(
                        "check the folder and the free space; nothing half-written is left behind",
                    ),
                ),
            );
            ExitCode::from(EXIT_WRITE)
        }
    }
}
