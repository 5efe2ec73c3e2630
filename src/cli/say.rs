//! What goes to the terminal: colour and progress only where they belong.

use anstream::{eprintln, println};
use anstyle::{AnsiColor, Style};

const RED: Style = AnsiColor::Red.on_default().bold();
const YELLOW: Style = AnsiColor::Yellow.on_default().bold();
const CYAN: Style = AnsiColor::Cyan.on_default();
const BOLD: Style = Style::new().bold();

/// How much is said.
#[derive(Clone, Copy, Debug)]
pub struct Talk {
    /// Nothing but errors.
    pub quiet: bool,
    /// A summary as JSON on standard output.
    pub json: bool,
}

impl Talk {
    /// A line on standard output.
    pub fn line(&self, text: &str) {
        if !self.quiet {
            println!("{text}");
        }
    }

    /// A heading on standard output.
    pub fn heading(&self, text: &str) {
        if !self.quiet {
            println!("{BOLD}{text}{BOLD:#}");
        }
    }

    /// A warning on standard error.
    pub fn warning(&self, text: &str) {
        if !self.quiet {
            eprintln!("{YELLOW}warning:{YELLOW:#} {text}");
        }
    }

    /// The machine-readable summary.
    pub fn json(&self, value: &serde_json::Value) {
        if self.json {
            std::println!("{value:#}");
        }
    }
}

/// An error with its hint.
pub fn error(text: &str, hint: Option<&str>) {
    eprintln!("{RED}error:{RED:#} {text}");
    if let Some(hint) = hint {
        eprintln!("{CYAN}hint:{CYAN:#} {hint}");
    }
}
