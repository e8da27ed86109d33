//! Movement over the weeks that are kept: the one computation behind command, API, page and workbook.
//!
//! In:  the records, a first and a last week. Out: a [`Movement`] of every child who ever had a seat.
//! Keeps: `movement_of_quillmere_is_one_value` (acceptance). Not here: the figures (`sheaf_core::movement`).

use super::{Week, Weeks};
use crate::error::{AppError, ErrorKind};
use sheaf_core::movement::{ChildWeeks, Movement, movement};
use sheaf_core::roster::StudentId;
use std::collections::BTreeSet;
use std::time::Instant;

impl Weeks {
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
        let looks = self.looks(first, last)?;
        if looks.is_empty() {
            let what = "No week of that time is planned; plan one first.";
            return Err(AppError::new(ErrorKind::NotFound, "no-plan", what));
        }
        let seated: BTreeSet<&StudentId> = looks.iter().flat_map(|l| l.target_of.keys()).collect();
        let child = |student: &StudentId| {
            let judged = self.verdict(&looks, student)?.judged;
            let weeks = looks.iter().map(|look| look.child_week(student)).collect();
            Some(ChildWeeks { student: student.clone(), judged, weeks })
        };
        let students: Vec<ChildWeeks> = seated.into_iter().filter_map(child).collect();
        let weeks = looks.iter().map(|look| look.plan.week.monday()).collect();
        tracing::info!(
            job = "movement",
            n_weeks = looks.len(),
            n_students = students.len(),
            duration_ms = started.elapsed().as_millis() as u64
        );
        Ok(movement(weeks, students, self.setup.school.mastery.cut))
    }
}
