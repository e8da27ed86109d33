//! Movement over the weeks that are kept: the one computation behind command, API, page and workbook.
//!
//! In:  the records, a first and a last week. Out: a [`Movement`] of every child who ever had a seat.
//! Keeps: `movement_of_quillmere_is_one_value` (acceptance). Not here: the figures (`sheaf_core::movement`).

use super::{Week, Weeks};
use crate::error::{AppError, ErrorKind};
use sheaf_core::movement::{LookBack, Movement, movement};
use std::time::Instant;

impl Weeks {
    /// What a week's workbook looks back on, where there is a planned week before it.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn look_back(&self, week: Week) -> Result<Option<LookBack>, AppError> {
        let movement = self.movement(None, Some(week))?;
        if movement.weeks.len() < 2 {
            return Ok(None);
        }
        Ok(Some(LookBack { movement, memo: self.memo(week)? }))
    }

    /// Movement from one week to another, both included; left out: all planned weeks.
    ///
    /// # Errors
    /// [`AppError`] of kind input where the first week lies after the last, not found where no week is planned, or of the records.
    pub fn movement(&self, first: Option<Week>, last: Option<Week>) -> Result<Movement, AppError> {
        let started = Instant::now();
        if first.zip(last).is_some_and(|(first, last)| first > last) {
            let what = "The first week lies after the last; give the earlier one first.";
            return Err(AppError::new(ErrorKind::Input, "weeks-out-of-order", what));
        }
        let facts = self.facts(first, last)?;
        if facts.is_empty() {
            let what = "No week of that time is planned; plan one first.";
            return Err(AppError::new(ErrorKind::NotFound, "no-plan", what));
        }
        let movement =
            movement(&facts, self.setup().school.mastery.cut, &self.knowledge.graph, &self.knowledge.catalogue);
        tracing::info!(
            job = "movement",
            n_weeks = facts.len(),
            n_students = movement.students.len(),
            duration_ms = started.elapsed().as_millis() as u64
        );
        Ok(movement)
    }
}
