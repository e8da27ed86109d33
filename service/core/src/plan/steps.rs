//! The steps of making a plan, told as they are reached, so that somebody who waits sees where it is and may stop it.
//!
//! In:  a [`PlanWatch`] of the caller. Out: nothing; a step that is refused ends the job with `PlanError::Stopped`.
//! Keeps: watching changes nothing about the plan (`a_plan_that_is_watched_is_the_same_plan`).

use super::PlanError;

/// A step of making a plan, in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum PlanStep {
    /// What each student holds.
    Profiles,
    /// Who sits with whom.
    Groups,
    /// When and where each group meets.
    Rotation,
    /// An exit ticket for each group.
    Tickets,
}

/// Told before each step; `false` ends the job there.
pub type PlanWatch<'a> = &'a (dyn Fn(PlanStep) -> bool + Sync);

/// Goes on with a step unless that is refused.
pub(super) fn reach(watch: PlanWatch<'_>, step: PlanStep) -> Result<(), PlanError> {
    if watch(step) { Ok(()) } else { Err(PlanError::Stopped) }
}
