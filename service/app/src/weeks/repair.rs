//! One day of a kept week's plan again, while a member of staff, a room or a student is out; and back.
//!
//! In:  the week, who is out (each `WHO@WHEN`), a reason. Out: the plan under a new revision.
//! The published plan is repaired as a text, so that nothing but the day changes, whatever the program is by now; who was out is
//! kept with the plan's recipe, and holds when the week is planned again.
//! Keeps: 1. a repaired plan is made again the same (`a_repaired_plan_is_made_again_the_same`);
//!        2. taking the last repair back gives the plan before it (`a_repair_can_be_taken_back`).
//! Not here: which sessions change (`sheaf-core`).

use super::plan_week::{published_json, tag_of};
use super::{Remade, Week, Weeks};
use crate::error::{AppError, ErrorKind};
use serde::{Deserialize, Serialize};
use sheaf_core::plan::Plan;
use sheaf_core::plan::mend::mend;
use sheaf_store::{About, Change, Store};
use std::time::Instant;

/// A repair as it is kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeptRepair {
    /// Who was out, and when.
    pub without: Vec<String>,
    /// What the person who asked for it wrote; may be empty.
    pub reason: String,
}

impl Weeks {
    /// Issues the days of those who are out anew. Gives the published plan and its tag.
    ///
    /// # Errors
    /// [`AppError`] of kind not found (no plan), input (nobody named, or a name the plan does not know), conflict (another plan
    /// came meanwhile), or of the records; the plan stays as it was then.
    pub fn repair(&self, week: Week, without: &[String], reason: &str) -> Result<(String, String), AppError> {
        let started = Instant::now();
        if without.is_empty() {
            let what = "Say who is out and when, for example \"Teacher B@mon-1\" or \"Lab@Tue\".";
            return Err(AppError::new(ErrorKind::Input, "nobody-out", what));
        }
        let kept = self.kept(week)?;
        let mended = mend(&kept.published, without)?;
        let mut repairs = repairs_from_json(&kept.repairs)?;
        let named = mended.plan.repairs.last().map(|r| r.without.iter().map(ToString::to_string).collect());
        repairs.push(KeptRepair { without: named.unwrap_or_default(), reason: reason.trim().to_owned() });
        let n_changes = mended.plan.repairs.last().map_or(0, |r| r.changes.len());
        let answer = keep_repaired(&self.store, week, kept.revision, mended.text, &repairs)?;
        tracing::info!(job = "repair", n_changes, duration_ms = started.elapsed().as_millis() as u64);
        Ok(answer)
    }

    /// Takes the last repair of the week's plan back.
    ///
    /// # Errors
    /// [`AppError`] of kind not found where there is none; of kind conflict where the plan cannot be made again as it was.
    pub fn take_repair_back(&self, week: Week) -> Result<(String, String), AppError> {
        let kept = self.kept(week)?;
        let mut repairs = repairs_from_json(&kept.repairs)?;
        if repairs.pop().is_none() {
            return Err(AppError::new(ErrorKind::NotFound, "no-repair", "This plan has no repair to take back."));
        }
        let current = self.plan(week)?;
        if current.remade == Remade::Differs {
            let what = "This plan cannot be made again as it was handed out, so the repair stays; plan the week again.";
            return Err(AppError::new(ErrorKind::Conflict, "sheets-changed", what));
        }
        let plan = applied(self.unrepaired(week, &kept)?, &repairs_to_json(&repairs)?)?;
        let store = self.store.telling(Change::RepairTakenBack, About::week(week.monday()));
        keep_repaired(&store, week, kept.revision, published_json(&plan)?, &repairs)
    }

    /// Who was out of the week's plan, in order, with the reasons.
    ///
    /// # Errors
    /// [`AppError`] of kind not found where the week has no plan, or of the records.
    pub fn repairs(&self, week: Week) -> Result<Vec<KeptRepair>, AppError> {
        repairs_from_json(&self.kept(week)?.repairs)
    }
}

fn keep_repaired(
    store: &Store,
    week: Week,
    of: i64,
    published: String,
    repairs: &[KeptRepair],
) -> Result<(String, String), AppError> {
    let revision = store.keep_repaired(week.monday(), of, &published, &repairs_to_json(repairs)?)?;
    Ok((published, tag_of(week, revision)))
}

fn repairs_from_json(json: &str) -> Result<Vec<KeptRepair>, AppError> {
    serde_json::from_str(json).map_err(AppError::our_fault)
}

fn repairs_to_json(repairs: &[KeptRepair]) -> Result<String, AppError> {
    serde_json::to_string(repairs).map_err(AppError::our_fault)
}

/// The plan with these repairs, one after the other. What a repair names and the plan does not know is passed over.
pub(super) fn applied(plan: Plan, repairs: &str) -> Result<Plan, AppError> {
    let mut plan = plan;
    for repair in repairs_from_json(repairs)? {
        let outs: Vec<_> = repair.without.iter().filter_map(|text| plan.out(text).ok()).collect();
        if !outs.is_empty() {
            plan = plan.repaired(outs);
        }
    }
    Ok(plan)
}

/// Of these repairs what a new plan still knows.
pub(super) fn still_known(plan: &Plan, repairs: &str) -> Result<String, AppError> {
    let mut repairs = repairs_from_json(repairs)?;
    repairs.iter_mut().for_each(|r| r.without.retain(|text| plan.out(text).is_ok()));
    repairs.retain(|r| !r.without.is_empty());
    repairs_to_json(&repairs)
}

#[cfg(test)]
mod tests {
    use super::super::small_quiz::{QUIZ, file, week};
    use super::*;
    use crate::weeks::{Keeping, SchoolSetup};

    const SETUP: &str = r#"
[groups]
sessions = 2
[[block]]
id = "mon-1"
day = "Mon"
start = "09:00"
end = "09:30"
[[block]]
id = "tue-1"
day = "Tue"
start = "09:00"
end = "09:30"
[[staff]]
name = "A"
[[staff]]
name = "B"
[[staff]]
name = "C"
blocks = ["mon-1"]
"#;

    fn planned() -> Weeks {
        let weeks = Weeks::in_memory(SchoolSetup::parse("school.toml", SETUP).unwrap()).unwrap();
        weeks.take_in(week(), vec![file("quiz.csv", QUIZ)], None, Keeping::Keep).unwrap();
        weeks.plan_week(week(), None).unwrap();
        weeks
    }

    fn without(text: &str) -> Vec<String> {
        vec![text.to_owned()]
    }

    fn repaired(weeks: &Weeks) -> (String, String) {
        weeks.repair(week(), &without("a@monday"), " ill ").unwrap()
    }

    #[test]
    fn a_repaired_plan_is_made_again_the_same() {
        let weeks = planned();
        let (published, tag) = repaired(&weeks);
        let kept = KeptRepair { without: without("A@Mon"), reason: "ill".to_owned() };
        assert_eq!(weeks.repairs(week()).unwrap(), [kept]);
        let plan = weeks.plan(week()).unwrap();
        assert_eq!((plan.remade, &plan.tag, &plan.published), (Remade::Same, &tag, &published));
        assert!(plan.plan.rotation.iter().all(|s| s.block != "mon-1" || s.staff.as_deref() != Some("A")));
    }

    #[test]
    fn who_is_out_stays_out_when_the_week_is_planned_again() {
        let weeks = planned();
        repaired(&weeks);
        let again = weeks.plan_week(week(), Some(5)).unwrap();
        assert!(again.plan.rotation.iter().all(|s| s.block != "mon-1" || s.staff.as_deref() != Some("A")));
        assert_eq!(weeks.repairs(week()).unwrap().len(), 1);
    }

    #[test]
    fn a_repair_can_be_taken_back() {
        let weeks = planned();
        let before = weeks.published_plan(week()).unwrap();
        repaired(&weeks);
        let (published, tag) = weeks.take_repair_back(week()).unwrap();
        assert_eq!(published, before.0);
        assert_ne!(tag, before.1, "a tag is never used twice");
        assert_eq!(weeks.take_repair_back(week()).unwrap_err().code, "no-repair");
    }

    #[test]
    fn an_unknown_name_changes_nothing() {
        let weeks = planned();
        let before = weeks.published_plan(week()).unwrap();
        let error = weeks.repair(week(), &without("D@Mon"), "").unwrap_err();
        assert_eq!((error.kind, error.code), (ErrorKind::Input, "out-not-known"));
        assert!(error.message.contains("staff A, B, C"), "{}", error.message);
        assert_eq!(weeks.repair(week(), &[], "").unwrap_err().code, "nobody-out");
        assert_eq!(weeks.published_plan(week()).unwrap(), before);
    }
}
