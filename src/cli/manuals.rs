//! `armload completions` and `armload man`: made from the definitions of the commands.

use super::say::{Talk, put};
use super::{Cli, Failure};
use crate::report::{WriteError, aside};
use clap::CommandFactory;
use std::path::{Path, PathBuf};

/// Arguments of `armload completions`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  armload completions bash > ~/.local/share/bash-completion/completions/armload\n  armload completions zsh > ~/.zfunc/_armload\n  armload completions fish > ~/.config/fish/completions/armload.fish"
)]
pub struct CompletionArgs {
    /// The shell
    pub shell: clap_complete::Shell,
}

/// Arguments of `armload man`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  armload man --out ~/.local/share/man/man1\n  man armload-moments")]
pub struct ManArgs {
    /// Folder for the pages, one for each command
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
}

/// Prints the completions of a shell: they are the result, --quiet does not hold them back.
pub fn completions(args: &CompletionArgs) -> Result<(), Failure> {
    let mut text = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "armload", &mut text);
    put(format_args!("{}", String::from_utf8_lossy(&text)));
    Ok(())
}

/// Writes the manual pages.
pub fn man(args: &ManArgs, talk: &Talk) -> Result<(), Failure> {
    let out = &args.out;
    std::fs::create_dir_all(out).map_err(|e| WriteError::new(out, e.to_string()))?;
    let mut whole = Cli::command();
    whole.build();
    let mut pages = vec![("armload".to_owned(), whole.clone())];
    for command in whole.get_subcommands().filter(|c| c.get_name() != "help") {
        pages.push((format!("armload-{}", command.get_name()), command.clone()));
    }
    for (name, command) in &pages {
        write_page(&out.join(format!("{name}.1")), command.clone())?;
    }
    talk.line(&format!(
        "Written to {}: {} manual pages.",
        out.display(),
        pages.len()
    ));
    Ok(())
}

fn write_page(path: &Path, command: clap::Command) -> Result<(), WriteError> {
    let mut page = Vec::new();
    let rendered = clap_mangen::Man::new(command).render(&mut page);
    rendered.map_err(|e| WriteError::new(path, e.to_string()))?;
    aside::write(path, |f| f.write_all(&page).map_err(|e| e.to_string()))
}
