//! Taking attendance in, and what each student got of a week's time.
//!
//! Keeps: what is noted later is for the next plan and leaves the plan that was handed out as it is
//! (`attendance_stands_beside_the_reason_and_stays_as_it_was_planned`). Not here: reading the sheet (`sheaf-sheets`).

use super::{GivenFile, Week, Weeks};
use crate::apart;
use crate::attendance::{by_week, unknown_students};
use crate::error::AppError;
use sheaf_core::finding::Finding;
use sheaf_core::movement::{Attendance, TimeReceived};
use sheaf_core::roster::{Block, StudentId};
use sheaf_sheets::read::SourceFile;

impl Weeks {
    /// Adds an attendance sheet: sessions with a date to the week of their date, the others to `week`. A mark given again
    /// replaces the one before. Gives what was noticed.
    ///
    /// # Errors
    /// [`AppError`] where not one student with one session could be read (nothing is kept then), or of the records.
    pub fn put_attendance(&self, week: Week, file: &GivenFile) -> Result<Vec<Finding>, AppError> {
        let source = SourceFile { name: &file.name, bytes: &file.bytes };
        let (attendance, mut findings) = apart::reader().attendance(source, apart::limits_of(&self.setup().school))?;
        findings.extend(self.strangers(&attendance)?);
        let weeks = by_week(&attendance, Some(week));
        self.store.put_attendance(weeks.iter().map(|(week, part)| (week.monday(), part)))?;
        tracing::info!(
            job = "put_attendance",
            n_students = attendance.rows.len(),
            n_sessions = attendance.sessions.len(),
            n_findings = findings.len(),
        );
        Ok(findings)
    }

    /// Who was there in a week.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn attendance(&self, week: Week) -> Result<Attendance, AppError> {
        Ok(self.store.attendance(week.monday())?)
    }

    /// What each noted student got of the week's time, by the timetable in force.
    pub(super) fn time_received(&self, week: Week) -> Result<Vec<(StudentId, TimeReceived)>, AppError> {
        self.time_received_by(week, &self.setup().school.blocks)
    }

    /// The same by another timetable, such as the one that the week was planned with.
    pub(super) fn time_received_by(
        &self,
        week: Week,
        blocks: &[Block],
    ) -> Result<Vec<(StudentId, TimeReceived)>, AppError> {
        let newest = self.newest_ids()?;
        let mut attendance = self.attendance(week)?;
        for row in &mut attendance.rows {
            if let Some(id) = newest.get(&row.student) {
                row.student.clone_from(id);
            }
        }
        Ok(attendance.time_received(blocks))
    }

    /// Noted, but in no list: only worth saying where there is a list.
    fn strangers(&self, attendance: &Attendance) -> Result<Option<Finding>, AppError> {
        let listed = self.store.students()?;
        if listed.is_empty() {
            return Ok(None);
        }
        Ok(unknown_students(attendance, listed.iter().map(|s| &s.id)))
    }
}
