//! The whole week at once, with records: score sheets in, attendance, students, plan.
//!
//! Keeps: where no plan can be made, score sheets that came with this call are taken back
//! (`a_week_that_cannot_be_planned_is_left_as_it_was`); the list of students and the attendance stay, as they are true all the same. Not here: the same without records (`headless`).

use super::{GivenFile, Keeping, SchoolSetup, Taken, Week, WeekPlan, Weeks};
use crate::error::{AppError, ErrorKind};
use sheaf_core::finding::Finding;
use std::path::Path;
use std::sync::Arc;

/// Files of one week.
#[derive(Debug)]
pub struct WeekFiles {
    /// Score sheets.
    pub scores: Vec<GivenFile>,
    /// Item facts.
    pub items: Option<GivenFile>,
    /// The list of students; replaces the one that is kept.
    pub students: Option<GivenFile>,
    /// Who was there.
    pub attendance: Option<GivenFile>,
}

/// The plan, and what was noticed beside it.
#[derive(Debug)]
pub struct PlannedAtOnce {
    /// The plan of the week, of all its sheets.
    pub plan: Arc<WeekPlan>,
    /// On the list of students and the attendance.
    pub findings: Vec<Finding>,
}

impl Weeks {
    /// Opens records for these files. Where the records are new the files are read first, so that files that cannot be read
    /// leave nothing behind.
    ///
    /// # Errors
    /// [`AppError`] of kind input or too large where a file cannot be read; of kind unavailable where the records cannot be opened.
    pub fn open_for(path: &Path, setup: SchoolSetup, files: &WeekFiles) -> Result<Self, AppError> {
        if !path.exists() {
            let trial = Weeks::in_memory(setup.clone())?;
            trial.take_in(any_week(), files.scores.clone(), files.items.clone(), Keeping::LookOnly)?;
            files.students.as_ref().map(|f| trial.put_students(f)).transpose()?;
            files.attendance.as_ref().map(|f| trial.put_attendance(any_week(), f)).transpose()?;
        }
        Weeks::open(path, setup)
    }

    /// Takes a week's files in and makes its plan. `week` left out: the one date that the sheets carry.
    ///
    /// # Errors
    /// [`AppError`] as the single jobs; where no plan can be made the new score sheets are taken back.
    pub fn plan_at_once(&self, week: Option<Week>, files: WeekFiles, seed: u64) -> Result<PlannedAtOnce, AppError> {
        let week = match week {
            Some(week) => week,
            None => self.week_of(&files)?,
        };
        let taken = self.take_in(week, files.scores, files.items, Keeping::Keep)?.taken;
        self.finish(week, files.students.as_ref(), files.attendance.as_ref(), seed).inspect_err(|_| {
            if let Taken::New(id) = taken {
                // What stopped the plan is told; a sheet that stays is seen in the list.
                let _ = self.take_back(id);
            }
        })
    }

    fn finish(
        &self,
        week: Week,
        students: Option<&GivenFile>,
        attendance: Option<&GivenFile>,
        seed: u64,
    ) -> Result<PlannedAtOnce, AppError> {
        let mut findings = Vec::new();
        if let Some(file) = students {
            findings.extend(self.put_students(file)?);
        }
        if let Some(file) = attendance {
            findings.extend(self.put_attendance(week, file)?);
        }
        Ok(PlannedAtOnce { plan: self.plan_week(week, Some(seed))?, findings })
    }

    /// The week that the sheets say they are of.
    fn week_of(&self, files: &WeekFiles) -> Result<Week, AppError> {
        let look = self.take_in(any_week(), files.scores.clone(), files.items.clone(), Keeping::LookOnly)?;
        look.reading.week.map(Week::of).ok_or_else(|| {
            let message = "The sheets do not carry one date: name the week with --week to keep it.";
            AppError::new(ErrorKind::Input, "week-not-known", message)
        })
    }
}

/// Reading looks at no week; a job that only reads names this one.
fn any_week() -> Week {
    Week::of(jiff::civil::date(2000, 1, 3))
}
