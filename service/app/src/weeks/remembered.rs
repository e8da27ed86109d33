//! Plans made again lately, and a mark of all that a page is made of.
//!
//! In:  the records and what was forgotten of them. Out: a plan that is remembered, a mark that says whether anything changed.
//! Keeps: 1. a plan that was begun before something was forgotten is not remembered after (`what_was_begun_before_is_not_remembered_after`)
//!        2. what another program changes lets go of all plans (`another_program_lets_go_of_all_plans`)
//!        3. a new plan of a week lets go of the plans of later weeks, which look back on it (`a_new_plan_lets_go_of_later_weeks`)
//! Not here: making a plan again (`plan_week`).

use super::{Week, WeekPlan, Weeks};
use crate::error::AppError;
use sheaf_store::Mark;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Plans remembered at a time; a term's worth of looking back.
const N_REMEMBERED: usize = 12;

/// Between two equal marks neither the records nor the setup in force nor the plans remembered changed, so whatever is made of them alone is
/// the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RecordsMark {
    records: Mark,
    round: u64,
}

/// The plans, the latest last.
#[derive(Debug, Default)]
pub(super) struct Remembered(Mutex<Plans>);

#[derive(Debug, Default)]
struct Plans {
    plans: Vec<Arc<WeekPlan>>,
    /// Counts how often plans were forgotten.
    round: u64,
    /// Until which change by another program the plans hold.
    others: Option<i64>,
}

impl Plans {
    fn forget(&mut self, stays: impl Fn(&WeekPlan) -> bool) {
        self.plans.retain(|plan| stays(plan));
        self.round += 1;
    }
}

impl Remembered {
    fn lock(&self) -> MutexGuard<'_, Plans> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Since when a plan that is being made looks at the records.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Round(u64);

impl Weeks {
    /// A mark of the records as they are, unless somebody is changing them.
    #[must_use]
    pub fn mark_at_once(&self) -> Option<RecordsMark> {
        // A setup is kept and put in force in one go, as long as it is held.
        let _in_force = self.setup.try_read().ok()?;
        let records = self.store.mark_at_once()?;
        let round = self.remembered.0.try_lock().ok()?.round;
        Some(RecordsMark { records, round })
    }

    /// Lets go of plans made again lately.
    pub(super) fn forget_remembered(&self) {
        self.remembered.lock().forget(|_| false);
    }

    /// Lets go of plans of this week and those after it, which alone look back on it.
    pub(super) fn forget_from(&self, week: Week) {
        self.remembered.lock().forget(|plan| plan.week < week);
    }

    /// What [`Weeks::remember`] wants to know; asked before the records are looked at.
    ///
    /// # Errors
    /// [`AppError`] of kind unavailable where the records do not answer.
    pub(super) fn round(&self) -> Result<Round, AppError> {
        let others = self.store.others()?;
        let mut plans = self.remembered.lock();
        if plans.others.replace(others).is_some_and(|known| known != others) {
            plans.forget(|_| false);
        }
        Ok(Round(plans.round))
    }

    /// The plan that bears this tag, if it is remembered.
    pub(super) fn recall(&self, tag: &str) -> Option<Arc<WeekPlan>> {
        self.remembered.lock().plans.iter().find(|plan| plan.tag == tag).cloned()
    }

    /// Remembers a plan that takes the place of another, as [`Weeks::remember`] does. Plans of later weeks look back on it, so they are let go,
    /// and those that are being made are not remembered.
    pub(super) fn remember_new(&self, begun: Round, plan: WeekPlan) -> Arc<WeekPlan> {
        let mut remembered = self.remembered.lock();
        let is_in_time = remembered.round == begun.0;
        remembered.forget(|other| other.week < plan.week);
        let now = Round(remembered.round);
        drop(remembered);
        if is_in_time { self.remember(now, plan) } else { Arc::new(plan) }
    }

    /// Remembers a plan, unless something was forgotten since it was begun.
    pub(super) fn remember(&self, begun: Round, plan: WeekPlan) -> Arc<WeekPlan> {
        let plan = Arc::new(plan);
        let mut remembered = self.remembered.lock();
        if remembered.round == begun.0 {
            remembered.plans.retain(|p| p.week != plan.week);
            remembered.plans.push(Arc::clone(&plan));
            if remembered.plans.len() > N_REMEMBERED {
                remembered.plans.remove(0);
            }
        }
        plan
    }
}

#[cfg(test)]
mod tests {
    use super::super::small_quiz::{QUIZ, file, week, weeks};
    use super::super::{Keeping, SchoolSetup};
    use super::*;
    use std::path::Path;

    fn weeks_in(path: &Path) -> Weeks {
        Weeks::open(path, SchoolSetup::builtin().unwrap()).unwrap()
    }

    fn planned(weeks: &Weeks) -> Arc<WeekPlan> {
        weeks.take_in(week(), vec![file("quiz.csv", QUIZ)], None, Keeping::Keep).unwrap();
        weeks.plan_week(week(), None).unwrap()
    }

    #[test]
    fn what_was_begun_before_is_not_remembered_after() {
        let weeks = weeks();
        let plan = planned(&weeks);
        let begun = weeks.round().unwrap();
        weeks.forget_remembered();
        weeks.remember(begun, plan.as_ref().clone());
        assert!(weeks.recall(&plan.tag).is_none());
        weeks.remember(weeks.round().unwrap(), plan.as_ref().clone());
        assert!(weeks.recall(&plan.tag).is_some());
    }

    #[test]
    fn a_new_plan_lets_go_of_later_weeks() {
        let weeks = weeks();
        let first = planned(&weeks);
        let (before, after) = (Week::parse("2026-01-05").unwrap(), Week::parse("2026-12-07").unwrap());
        for (week, tag) in [(before, "before"), (after, "after")] {
            let other = WeekPlan { week, tag: tag.to_owned(), ..first.as_ref().clone() };
            weeks.remember(weeks.round().unwrap(), other);
        }
        let begun = weeks.round().unwrap();
        let second = weeks.plan_week(week(), Some(9)).unwrap();
        assert!(weeks.recall("before").is_some() && weeks.recall("after").is_none());
        assert!(weeks.recall(&first.tag).is_none() && weeks.recall(&second.tag).is_some());
        weeks.remember(begun, WeekPlan { week: after, tag: "after".to_owned(), ..first.as_ref().clone() });
        assert!(weeks.recall("after").is_none(), "it was begun before");
    }

    #[test]
    fn another_program_lets_go_of_all_plans() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("weeks.db");
        let weeks = weeks_in(&path);
        let plan = planned(&weeks);
        weeks.round().unwrap();
        assert!(weeks.recall(&plan.tag).is_some());
        let before = weeks.mark_at_once().unwrap();
        assert_eq!(weeks.mark_at_once(), Some(before));
        weeks_in(&path).keep_setup(&weeks.setup_tag(), "[groups]\nmax_size = 5\n").unwrap();
        assert_ne!(weeks.mark_at_once(), Some(before));
        weeks.round().unwrap();
        assert!(weeks.recall(&plan.tag).is_none());
    }
}
