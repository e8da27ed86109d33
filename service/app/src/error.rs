//! One error type for every job: a stable code, a kind, one sentence for a person.
//!
//! Only `sheaf-web` turns a kind into a status number, only `cli` into an exit code.

use sheaf_core::plan::PlanError;
use sheaf_sheets::read::ReadError;
use std::fmt::Display;
use thiserror::Error;

/// What kind of trouble it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ErrorKind {
    /// Input that cannot be read or understood.
    Input,
    /// Too large.
    TooLarge,
    /// No such week, upload, group or student.
    NotFound,
    /// What the job was based on changed meanwhile.
    Conflict,
    /// Decided on another version than the one that is there now.
    Stale,
    /// No group at all can be formed, or fixed limits clash.
    NoPlan,
    /// The store cannot be reached just now.
    Unavailable,
    /// A fault of ours.
    OurFault,
}

/// An error of a job.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{message}")]
pub struct AppError {
    /// What kind of trouble.
    pub kind: ErrorKind,
    /// Stable kebab-case code.
    pub code: &'static str,
    /// One sentence: what, where, what to do.
    pub message: String,
}

impl AppError {
    /// An error of a kind.
    pub fn new(kind: ErrorKind, code: &'static str, message: impl Into<String>) -> Self {
        AppError { kind, code, message: message.into() }
    }

    /// Somebody stopped the job.
    #[must_use]
    pub fn stopped() -> Self {
        AppError::new(ErrorKind::Conflict, "stopped", "Stopped, as somebody asked: nothing was kept or changed.")
    }

    /// A fault of ours.
    pub fn our_fault(cause: impl Display) -> Self {
        AppError::new(ErrorKind::OurFault, "our-fault", format!("Sheaf made a mistake: {cause}"))
    }
}

impl From<ReadError> for AppError {
    fn from(e: ReadError) -> Self {
        let kind = if e.code == "file-too-large" { ErrorKind::TooLarge } else { ErrorKind::Input };
        AppError::new(kind, e.code, e.message)
    }
}

impl From<PlanError> for AppError {
    fn from(e: PlanError) -> Self {
        let code = match &e {
            PlanError::NoGroup(_) => "no-group",
            PlanError::LimitsClash(_) => "limits-clash",
            PlanError::Stopped => return AppError::stopped(),
        };
        AppError::new(ErrorKind::NoPlan, code, e.to_string())
    }
}
