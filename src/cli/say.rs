//! What goes to the terminal: colour and progress only where they belong.

use crate::report::text::Line;
use anstyle::{AnsiColor, Style};
use std::io::{IsTerminal, Write};
use std::sync::mpsc;
use std::thread;
use std::time::Duration;

const RED: Style = AnsiColor::Red.on_default().bold();
const YELLOW: Style = AnsiColor::Yellow.on_default().bold();
const CYAN: Style = AnsiColor::Cyan.on_default();
const BOLD: Style = Style::new().bold();
const DIM: Style = Style::new().dimmed();

/// Widest line of running text, characters.
const WIDEST: usize = 100;

/// Text broken at spaces to the width of the terminal, each line indented.
fn wrapped(text: &str, indent: &str) -> String {
    let width = terminal_size::terminal_size().map_or(WIDEST, |(w, _)| (w.0 as usize).clamp(40, WIDEST));
    textwrap::fill(
        text,
        textwrap::Options::new(width)
            .initial_indent(indent)
            .subsequent_indent(indent),
    )
}

/// Writes to standard output. A reader that has gone (`| head`) is no reason to fail.
pub fn put(text: std::fmt::Arguments<'_>) {
    let _ = anstream::stdout().write_fmt(text);
}

/// Writes to standard error, likewise.
fn put_aside(text: std::fmt::Arguments<'_>) {
    let _ = anstream::stderr().write_fmt(text);
}

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
            put(format_args!("{text}\n"));
        }
    }

    /// A heading on standard output.
    pub fn heading(&self, text: &str) {
        if !self.quiet {
            put(format_args!("{BOLD}{text}{BOLD:#}\n"));
        }
    }

    /// A paragraph on standard output, wrapped to the terminal.
    pub fn paragraph(&self, text: &str) {
        self.line(&wrapped(text, "  "));
    }

    /// Small print on standard output.
    pub fn fine_print(&self, text: &str) {
        if !self.quiet {
            put(format_args!("{DIM}{}{DIM:#}\n", wrapped(text, "")));
        }
    }

    /// Prepared text on standard output.
    pub fn lines(&self, lines: &[Line]) {
        for line in lines {
            match line {
                Line::Heading(t) => self.heading(t),
                Line::Paragraph(t) => self.paragraph(t),
                Line::Row(t) => self.line(t),
                Line::Fine(t) => self.fine_print(t),
            }
        }
    }

    /// A warning on standard error.
    pub fn warning(&self, text: &str) {
        if !self.quiet {
            put_aside(format_args!("{YELLOW}warning:{YELLOW:#} {text}\n"));
        }
    }

    /// The machine-readable summary.
    pub fn json(&self, value: &serde_json::Value) {
        if self.json {
            put(format_args!("{value:#}\n"));
        }
    }
}

/// Work that goes on: after a second a spinner says so on standard error, if that is a terminal. It ends when
/// this is dropped.
pub struct Working {
    done: Option<mpsc::Sender<()>>,
    shown: Option<thread::JoinHandle<()>>,
}

/// How long work may take before anything is shown.
const PATIENCE: Duration = Duration::from_secs(1);
/// How often the spinner turns.
const TICK: Duration = Duration::from_millis(120);

impl Talk {
    /// Says what is being worked on, if it takes long.
    pub fn working(&self, what: &str) -> Working {
        if self.quiet || !std::io::stderr().is_terminal() {
            return Working {
                done: None,
                shown: None,
            };
        }
        let (done, wait) = mpsc::channel::<()>();
        let what = what.to_owned();
        let shown = thread::spawn(move || {
            if wait.recv_timeout(PATIENCE) != Err(mpsc::RecvTimeoutError::Timeout) {
                return;
            }
            let bar = indicatif::ProgressBar::new_spinner().with_message(what);
            bar.enable_steady_tick(TICK);
            let _ = wait.recv();
            bar.finish_and_clear();
        });
        Working {
            done: Some(done),
            shown: Some(shown),
        }
    }
}

impl Drop for Working {
    fn drop(&mut self) {
        drop(self.done.take());
        if let Some(thread) = self.shown.take() {
            let _ = thread.join();
        }
    }
}

/// An error with its hint.
pub fn error(text: &str, hint: Option<&str>) {
    put_aside(format_args!("{RED}error:{RED:#} {text}\n"));
    if let Some(hint) = hint {
        put_aside(format_args!("{CYAN}hint:{CYAN:#} {hint}\n"));
    }
}
