//! What a long job says while it runs, and where it may be stopped.
//!
//! In:  a [`Watcher`], set on a handle of the records (`Weeks::watched_by`); jobs that take long tell it each step.
//! Out: nothing; a job that is stopped ends with `AppError::stopped` before it keeps anything.
//! Keeps: a job that is stopped leaves the records as they were (`a_job_that_is_stopped_changes_nothing`).
//! Not here: who watches, and how it is shown (`sheaf-web`).

use crate::error::AppError;
use sheaf_core::plan::PlanStep;
use std::fmt::Debug;

/// A step of a long job. Each job tells some of them, in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    /// Sheets are read.
    Reading,
    /// What was read is compared with what is there.
    Comparing,
    /// What each student holds is worked out.
    Profiles,
    /// Groups are formed.
    Groups,
    /// Groups get their times, rooms and staff.
    Rotation,
    /// Exit tickets are drawn.
    Tickets,
    /// The outcome is written to the records; from here on nothing stops it.
    Keeping,
}

impl From<PlanStep> for Step {
    fn from(step: PlanStep) -> Self {
        match step {
            PlanStep::Profiles => Step::Profiles,
            PlanStep::Groups => Step::Groups,
            PlanStep::Rotation => Step::Rotation,
            PlanStep::Tickets => Step::Tickets,
        }
    }
}

/// Somebody who waits for a job.
pub trait Watcher: Debug + Send + Sync {
    /// A step begins. Gives whether the job is to go on.
    fn reached(&self, step: Step) -> bool;
    /// Whether the job is to stop; asked now and then inside long steps.
    fn is_stopped(&self) -> bool;
}

/// Goes on with a step unless somebody wants it stopped.
pub(crate) fn reach(watcher: Option<&dyn Watcher>, step: Step) -> Result<(), AppError> {
    if watcher.is_none_or(|w| w.reached(step)) { Ok(()) } else { Err(AppError::stopped()) }
}
