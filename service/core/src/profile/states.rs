//! Counts of a student on a skill over the checks of the last weeks, and the state they give.
//!
//! A check with at least [`ENOUGH_ITEMS`] items of the skill is a sitting: met where the share of points reaches the cut, else under it.
//! Sittings are walked in order of time. Met on as many as the setup asks: `confirmed`. Two sittings in a row under the cut take back
//! what was met before; where it was confirmed it is `lost` until it is confirmed again.
//! Rules (first that holds): under three scored items `not-enough`; `lost`; `confirmed`; met on a sitting or over all of them
//! `met-once`; the 80 % interval spans the cut `close`; else `not-yet`.
//! Keeps: `three_of_three_is_met_once`, `two_items_are_not_enough`, `confirmed_is_lost_after_two_sittings_under_the_cut`.
//! Source of the words and the cut: common practice, no source (the cut is a setting).

use super::{ShareTable, SkillMap, Timing};
use crate::plan::SkillState;
use crate::roster::MasterySettings;
use crate::scores::ResponseTable;
use std::collections::BTreeMap;

/// Scored items below which nothing is said of a skill.
pub const ENOUGH_ITEMS: usize = 3;
/// Sittings in a row under the cut that take back what was met.
const UNDER_IN_A_ROW: usize = 2;

/// Counts of one student on one skill.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SkillCount {
    /// Scored items that need the skill, of checks that still count.
    pub n_items: usize,
    /// Points got on them.
    pub points: f64,
    /// Points possible on them.
    pub points_possible: f64,
    /// Points got, older ones by their weight.
    pub faded_points: f64,
    /// Points possible, older ones by their weight.
    pub faded_possible: f64,
    /// What the sittings came to.
    pub standing: Standing,
}

/// What sittings came to, one after the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Standing {
    /// Sittings met since the skill was last lost or taken back.
    pub n_met: usize,
    /// Sittings under the cut since the last that was met.
    n_under: usize,
    /// Whether it was met often enough, and not lost since.
    pub is_confirmed: bool,
    /// Whether it was confirmed once and is not any more.
    pub is_lost: bool,
}

impl Standing {
    /// Takes one more sitting.
    pub(crate) fn sit(&mut self, has_met: bool, confirm: usize) {
        if has_met {
            self.n_met += 1;
            self.n_under = 0;
            if self.n_met >= confirm.max(1) {
                (self.is_confirmed, self.is_lost) = (true, false);
            }
            return;
        }
        self.n_under += 1;
        if self.n_under >= UNDER_IN_A_ROW {
            self.is_lost |= self.is_confirmed;
            (self.is_confirmed, self.n_met) = (false, 0);
        }
    }
}

impl SkillCount {
    /// Counts of a student on every skill, in order of skill.
    #[must_use]
    pub fn of_student(
        student: usize,
        table: &ResponseTable,
        skills: &SkillMap,
        shares: &ShareTable,
        timing: &Timing,
        mastery: &MasterySettings,
    ) -> Vec<SkillCount> {
        let mut counts = vec![SkillCount::default(); skills.n_skills()];
        // By skill, then by place in time.
        let mut sittings: BTreeMap<(usize, usize), (usize, f64, f64)> = BTreeMap::new();
        for (j, item) in table.items().iter().enumerate() {
            let Some(share) = shares.share(table, student, j) else { continue };
            let (got, weight) = (share * item.points, timing.weight(item.assessment));
            let place = timing.places.get(item.assessment).copied().unwrap_or(0);
            for &k in &skills.of_item[j] {
                if timing.counts(item.assessment) {
                    counts[k].add(got, item.points, weight);
                }
                let sitting = sittings.entry((k, place)).or_default();
                *sitting = (sitting.0 + 1, sitting.1 + got, sitting.2 + item.points);
            }
        }
        for ((k, _), (n_items, got, possible)) in sittings {
            if n_items >= ENOUGH_ITEMS {
                counts[k].standing.sit(is_met(got, possible, mastery.cut), mastery.confirm);
            }
        }
        counts
    }

    fn add(&mut self, got: f64, possible: f64, weight: f64) {
        self.n_items += 1;
        self.points += got;
        self.points_possible += possible;
        self.faded_points += weight * got;
        self.faded_possible += weight * possible;
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
    } else if count.standing.is_lost {
        SkillState::Lost
    } else if count.standing.is_confirmed {
        SkillState::Confirmed
    } else if count.standing.n_met > 0 || is_met(count.faded_points, count.faded_possible, mastery.cut) {
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

    fn check(n_items: usize, points: f64, sittings: &[bool], expect: SkillState) {
        let mastery = School::default().mastery;
        let mut count = SkillCount::default();
        (0..n_items).for_each(|i| count.add(f64::from(u8::from((i as f64) < points)), 1.0, 1.0));
        sittings.iter().for_each(|met| count.standing.sit(*met, mastery.confirm));
        let interval = jeffreys_interval(points, n_items as f64, 0.8);
        assert_eq!(skill_state(&count, interval.low, interval.high, &mastery), expect, "{sittings:?}");
    }

    #[test]
    fn two_items_are_not_enough() {
        check(2, 2.0, &[], SkillState::NotEnough);
    }

    #[test]
    fn three_of_three_is_met_once() {
        check(3, 3.0, &[true], SkillState::MetOnce);
        check(5, 4.0, &[true], SkillState::MetOnce);
        check(4, 4.0, &[], SkillState::MetOnce);
    }

    #[test]
    fn met_on_two_checks_is_confirmed() {
        check(10, 9.0, &[true, true], SkillState::Confirmed);
        check(15, 11.0, &[true, false, true], SkillState::Confirmed);
        check(15, 12.0, &[true, true, false], SkillState::Confirmed);
    }

    #[test]
    fn confirmed_is_lost_after_two_sittings_under_the_cut() {
        check(20, 12.0, &[true, true, false, false], SkillState::Lost);
        check(25, 16.0, &[true, true, false, false, true], SkillState::Lost);
        check(30, 20.0, &[true, true, false, false, true, true], SkillState::Confirmed);
    }

    #[test]
    fn what_was_met_once_goes_after_two_sittings_under_the_cut() {
        check(15, 6.0, &[true, false], SkillState::MetOnce);
        check(15, 6.0, &[true, false, false], SkillState::NotYet);
    }

    #[test]
    fn an_interval_over_the_cut_is_close_and_one_under_it_not_yet() {
        check(5, 3.0, &[false], SkillState::Close);
        check(5, 1.0, &[false], SkillState::NotYet);
    }
}
