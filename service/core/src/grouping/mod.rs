//! Who sits with whom, and why.
//!
//! In:  profiles (n_students, n_skills), wrong ideas seen, the school's rules.
//! Out: [`Seating`]: groups with a target each, a reason for every student, who waits and for what.
//! Steps: 1. pools of students who may sit together, and how many groups each gets (`pools`);
//!        2. how useful each skill would be to each student as a target (`needs`);
//!        3. starts by k-means and exact assignment, then moves and swaps within sizes and pairs (`seating`);
//!           or, inside a cycle, few changes of last week's seats (`previous`);
//!        4. what a person decided against it (`overruled`);
//!        5. targets, names, notes and sentences (`reasons`).
//! Keeps: every student with scores sits in exactly one group or is listed with a reason; sizes, keep-apart and keep-together hold
//! (`properties` below); the order of rows does not matter, as students come sorted by id.
//! Not here: when groups meet (`rotation`), what became of earlier weeks (`movement`). Never by rank of total score.

mod aim;
mod bands;
mod needs;
mod overruled;
mod pools;
mod previous;
mod reasons;
mod seating;

#[cfg(test)]
mod properties;

pub use needs::Needs;
pub(crate) use overruled::overrule;
pub use overruled::{Decided, Overrule};
pub use pools::Pool;
pub use previous::{PreviousGroup, PreviousGroups};
pub use reasons::{Told, tell};
pub(crate) use seating::seat_by_gain;
pub use seating::{LimitsClash, SeatedGroup, Seating, SeatingInput, seat_students};
