//! What can go wrong, for those who call the library.

use crate::agreement::AgreementError;
use crate::capture::CaptureError;
use crate::ground::form::FormError;
use crate::ground::place::{Fault, Place};
use crate::report::WriteError;
use crate::statics::StaticsError;
use crate::trial::TrialError;
use std::fmt;

/// What went wrong: one word wide, with the whole story in a box.
pub struct Error(Box<Source>);

/// Which part of the work an [`Error`] comes from.
#[derive(Debug)]
#[non_exhaustive]
pub enum Source {
    /// A trial: its sheet, its recordings, the arm, the loads.
    Trial(TrialError),
    /// A classroom problem.
    Statics(StaticsError),
    /// Estimates against recordings.
    Agreement(AgreementError),
    /// A folder of results that can't be read back.
    Stored(CaptureError),
    /// A result that could not be written.
    Write(WriteError),
}

impl Error {
    fn fault(&self) -> Option<&dyn Fault> {
        match &*self.0 {
            Source::Trial(e) => Some(e),
            Source::Statics(e) => Some(e),
            Source::Agreement(e) => Some(e),
            Source::Stored(e) => Some(e),
            Source::Write(_) => None,
        }
    }

    /// Whether what was given is at fault (exit status 1 of the program), not the place that results go to (4).
    pub fn is_input_fault(&self) -> bool {
        self.fault().is_some()
    }

    /// File, line and column at fault, as far as one place can be named.
    pub fn place(&self) -> Option<&Place> {
        self.fault()?.place()
    }

    /// What to do, as one sentence.
    pub fn hint(&self) -> Option<String> {
        match &*self.0 {
            Source::Write(e) => e.hint.map(str::to_owned),
            _ => self.fault()?.hint(),
        }
    }

    /// Which part of the work it comes from.
    pub fn part(&self) -> &Source {
        &self.0
    }

    fn inner(&self) -> &(dyn std::error::Error + 'static) {
        match &*self.0 {
            Source::Trial(e) => e,
            Source::Statics(e) => e,
            Source::Agreement(e) => e,
            Source::Stored(e) => e,
            Source::Write(e) => e,
        }
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self.inner(), f)
    }
}

impl fmt::Debug for Error {
    /// What `main` prints of a returned error: the message, and what to do.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self}")?;
        self.hint().map_or(Ok(()), |hint| write!(f, "\nhint: {hint}"))
    }
}

impl std::error::Error for Error {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        self.inner().source()
    }
}

impl From<TrialError> for Error {
    fn from(e: TrialError) -> Self {
        Self(Box::new(Source::Trial(e)))
    }
}

impl From<FormError> for Error {
    fn from(e: FormError) -> Self {
        TrialError::from(e).into()
    }
}

impl From<StaticsError> for Error {
    fn from(e: StaticsError) -> Self {
        Self(Box::new(Source::Statics(e)))
    }
}

impl From<AgreementError> for Error {
    fn from(e: AgreementError) -> Self {
        Self(Box::new(Source::Agreement(e)))
    }
}

impl From<CaptureError> for Error {
    fn from(e: CaptureError) -> Self {
        Self(Box::new(Source::Stored(e)))
    }
}

impl From<WriteError> for Error {
    fn from(e: WriteError) -> Self {
        Self(Box::new(Source::Write(e)))
    }
}
