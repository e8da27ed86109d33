//! Seats over time: what each student's group was taught, week by week, as the kept plans say.
//!
//! A seat counts as changed where the target skill changed: a group may keep its number and be taught another skill.
//! Not here: growth, sureness, chance (`sheaf_core::movement`).

use super::merged::NewestIds;
use super::{Stage, Week, Weeks};
use crate::error::AppError;
use sheaf_core::plan::Plan;
use std::collections::BTreeMap;

/// One student's seat in one week.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeatInWeek {
    /// Id of the group.
    pub group: String,
    /// Code of the skill that the group was taught.
    pub target_skill: String,
}

/// One student's seats.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StudentSeats {
    /// Id.
    pub id: String,
    /// What to call the student.
    pub shown: String,
    /// One entry a week of [`SeatsOverTime::weeks`]; `None`: no seat that week.
    pub seats: Vec<Option<SeatInWeek>>,
}

impl StudentSeats {
    /// Whether the target changed between this week and the one before, both with a seat; `None` for the first week.
    #[must_use]
    pub fn has_changed(&self, week_idx: usize) -> Option<bool> {
        let before = self.seats.get(week_idx.checked_sub(1)?)?.as_ref()?;
        let now = self.seats.get(week_idx)?.as_ref()?;
        Some(before.target_skill != now.target_skill)
    }
}

/// Seats of every student in every planned week.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeatsOverTime {
    /// Planned weeks, the first first.
    pub weeks: Vec<Week>,
    /// Students, in order of id.
    pub students: Vec<StudentSeats>,
}

impl Weeks {
    /// Seats over time, from the plans kept.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn look_back(&self) -> Result<SeatsOverTime, AppError> {
        let mut weeks: Vec<Week> = self
            .weeks()?
            .iter()
            .filter(|o| matches!(o.stage, Stage::Planned | Stage::PlanBehind))
            .map(|o| o.week)
            .collect();
        weeks.sort();
        let mut students: BTreeMap<String, StudentSeats> = BTreeMap::new();
        let newest = self.newest_ids()?;
        for (week_idx, &week) in weeks.iter().enumerate() {
            enter(&mut students, &self.plan(week)?.plan, &newest, week_idx, weeks.len());
        }
        Ok(SeatsOverTime { weeks, students: students.into_values().collect() })
    }
}

fn enter(
    students: &mut BTreeMap<String, StudentSeats>,
    plan: &Plan,
    newest: &NewestIds,
    week_idx: usize,
    n_weeks: usize,
) {
    for student in &plan.students {
        let id = newest.get(&student.id).unwrap_or(&student.id).to_string();
        let shown = if student.name.is_empty() { id.clone() } else { student.name.clone() };
        let entry = students.entry(id.clone()).or_insert_with(|| StudentSeats {
            id,
            shown: shown.clone(),
            seats: vec![None; n_weeks],
        });
        entry.shown = shown;
        let group = student.group.and_then(|idx| plan.groups.get(idx));
        if let (Some(seat), Some(group)) = (entry.seats.get_mut(week_idx), group) {
            *seat = Some(SeatInWeek { group: group.id.clone(), target_skill: group.target_skill.to_string() });
        }
    }
}
