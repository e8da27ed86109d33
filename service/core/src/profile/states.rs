//! Counts of a student on a skill, and the state they give.
//!
//! Rules (first that holds): under three scored items `not-enough`; the share of points at or over the cut on as many checks as
//! the setup asks `confirmed`, else over all of them `met-once`; the 80 % interval spans the cut `close`; else `not-yet`.
//! `lost` needs earlier weeks and is not given here. Keeps: `three_of_three_is_met_once`, `two_items_are_not_enough`.
//! Source of the words and the cut: common practice, no source (the cut is a setting).

use super::{ShareTable, SkillMap};
use crate::plan::SkillState;
use crate::roster::MasterySettings;
use crate::scores::ResponseTable;
use std::collections::BTreeMap;

/// Scored items below which nothing is said of a skill.
pub const ENOUGH_ITEMS: usize = 3;

/// Counts of one student on one skill.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SkillCount {
    /// Scored items that need the skill.
    pub n_items: usize,
    /// Points got.
    pub points: f64,
    /// Points possible.
    pub points_possible: f64,
    /// Checks with enough items on which the share reached the cut.
    pub n_checks_met: usize,
}

impl SkillCount {
    /// Counts of a student on every skill, in order of skill.
    #[must_use]
    pub fn of_student(
        student: usize,
        table: &ResponseTable,
        skills: &SkillMap,
        shares: &ShareTable,
        cut: f64,
    ) -> Vec<SkillCount> {
        let mut counts = vec![SkillCount::default(); skills.n_skills()];
        let mut by_check: BTreeMap<(usize, usize), (usize, f64, f64)> = BTreeMap::new();
        for (j, item) in table.items().iter().enumerate() {
            let Some(share) = shares.share(table, student, j) else { continue };
            for &k in &skills.of_item[j] {
                counts[k].n_items += 1;
                counts[k].points += share * item.points;
                counts[k].points_possible += item.points;
                let check = by_check.entry((k, item.assessment)).or_default();
                *check = (check.0 + 1, check.1 + share * item.points, check.2 + item.points);
            }
        }
        for ((k, _), (n_items, got, possible)) in by_check {
            if n_items >= ENOUGH_ITEMS && is_met(got, possible, cut) {
                counts[k].n_checks_met += 1;
            }
        }
        counts
    }
}

fn is_met(got: f64, possible: f64, cut: f64) -> bool {
    possible > 0.0 && got / possible >= cut - 1e-9
}

/// The state of a skill from its counts and interval; see the module header.
#[must_use]
pub fn skill_state(count: &SkillCount, share_low: f64, share_high: f64, mastery: &MasterySettings) -> SkillState {
    if count.n_items < ENOUGH_ITEMS {
        SkillState::NotEnough
    } else if count.n_checks_met >= mastery.confirm.max(1) {
        SkillState::Confirmed
    } else if is_met(count.points, count.points_possible, mastery.cut) {
        SkillState::MetOnce
    } else if share_low <= mastery.cut && mastery.cut <= share_high {
        SkillState::Close
    } else {
        SkillState::NotYet
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::jeffreys_interval;
    use crate::roster::School;

    fn check(n_items: usize, points: f64, n_checks_met: usize, expect: SkillState) {
        let count = SkillCount { n_items, points, points_possible: n_items as f64, n_checks_met };
        let interval = jeffreys_interval(points, n_items as f64, 0.8);
        assert_eq!(skill_state(&count, interval.low, interval.high, &School::default().mastery), expect);
    }

    #[test]
    fn two_items_are_not_enough() {
        check(2, 2.0, 0, SkillState::NotEnough);
    }

    #[test]
    fn three_of_three_is_met_once() {
        check(3, 3.0, 1, SkillState::MetOnce);
        check(5, 4.0, 1, SkillState::MetOnce);
    }

    #[test]
    fn met_on_two_checks_is_confirmed() {
        check(10, 9.0, 2, SkillState::Confirmed);
    }

    #[test]
    fn an_interval_over_the_cut_is_close_and_one_under_it_not_yet() {
        check(5, 3.0, 0, SkillState::Close);
        check(5, 1.0, 0, SkillState::NotYet);
    }
}
