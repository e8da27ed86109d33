//! Where a week stands, and which weeks there are: what a person sees first.
//!
//! In:  the store's week records. Out: a stage for each week, which decides the one next step a page offers.
//! Keeps: sheets that came after the plan are told (`sheets_that_come_late_leave_the_plan_behind`).

use super::{Week, Weeks};
use crate::error::AppError;
use sheaf_store::WeekRecord;

/// Where a week stands. The next step follows from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// No score sheets yet.
    Empty,
    /// Score sheets, no plan yet.
    ScoresIn,
    /// A plan, and score sheets that came after it.
    PlanBehind,
    /// A plan made from all the week's score sheets.
    Planned,
}

/// One week.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WeekOverview {
    /// The week.
    pub week: Week,
    /// Uploads that count.
    pub n_uploads: usize,
    /// Uploads that wait to be looked over.
    pub n_waiting: usize,
    /// Uploads that count and came after the plan, and such as the plan knows and that count no longer.
    pub n_uploads_since_plan: usize,
    /// Where it stands.
    pub stage: Stage,
}

impl Weeks {
    /// Every week with an upload, the latest first.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn weeks(&self) -> Result<Vec<WeekOverview>, AppError> {
        Ok(self.store.weeks()?.iter().map(overview_of).collect())
    }

    /// One week, with or without records.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn overview(&self, week: Week) -> Result<WeekOverview, AppError> {
        let found = self.weeks()?.into_iter().find(|o| o.week == week);
        Ok(found.unwrap_or(WeekOverview {
            week,
            n_uploads: 0,
            n_waiting: 0,
            n_uploads_since_plan: 0,
            stage: Stage::Empty,
        }))
    }
}

fn overview_of(record: &WeekRecord) -> WeekOverview {
    let stage = match (record.n_uploads, record.plan_revision, record.n_uploads_since_plan) {
        (0, _, _) => Stage::Empty,
        (_, None, _) => Stage::ScoresIn,
        (_, Some(_), 0) => Stage::Planned,
        (_, Some(_), _) => Stage::PlanBehind,
    };
    WeekOverview {
        week: Week::of(record.monday),
        n_uploads: record.n_uploads,
        n_waiting: record.n_waiting,
        n_uploads_since_plan: record.n_uploads_since_plan,
        stage,
    }
}
