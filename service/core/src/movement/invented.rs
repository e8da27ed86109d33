//! Invented classes over some weeks with known truth: how often movement claims what is not so, and how often it finds what is.
//!
//! In:  an [`InventedClasses`] setting and a seed. Out: a [`ClaimRates`].
//! A class: children with a true share on one skill, drawn from a beta distribution; six groups; every week four fresh items a child, and
//! an eighth of the children change groups by lot. Without learning a share stays; with it, it goes up by the stated step a week, and by
//! the stated step more in weeks after a change of group.
//! Stated rates: "change something" of a child whose true share is at the cut or over it: at most 10 %, the upper tail of the shown 80 %
//! interval; "met" at the last check: as many as `by_chance` expects; a reliable change: 5 %; "more of those who changed" or "fewer": 5 %.
//! Keeps: `without_learning_claims_keep_to_their_rates`, `true_learning_is_found`. Not here: the rules (`verdict`, `regrouping`).

use super::facts::WeekFacts;
use super::{Check, ChildFacts, FreshAnswers, Movement, OfChanged, PeoplesWord, TimeReceived, Verdict, movement};
use crate::plan::SkillState;
use crate::profile::{ErrorCatalogue, Standing};
use crate::roster::{Student, StudentId};
use crate::skills::{SkillCode, SkillGraph};
use jiff::{Span, civil::Date};
use rand::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256Plus;
use statrs::distribution::{Beta, ContinuousCDF};
use std::collections::{BTreeMap, BTreeSet};

const N_GROUPS: usize = 6;
/// Of five, over which a sitting counts as met.
const CUT: f64 = 0.8;

/// What is invented.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InventedClasses {
    /// Classes.
    pub n_classes: usize,
    /// Children of a class.
    pub n_students: usize,
    /// Weeks.
    pub n_weeks: usize,
    /// Fresh items a child and week.
    pub n_items: usize,
    /// How much a true share rises a week.
    pub step: f64,
    /// How much more it rises in each week after a change of group.
    pub step_after_change: f64,
}

impl Default for InventedClasses {
    fn default() -> Self {
        InventedClasses { n_classes: 1000, n_students: 24, n_weeks: 5, n_items: 4, step: 0.0, step_after_change: 0.0 }
    }
}

/// How often something was claimed: times, of chances.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Rate {
    /// Times.
    pub n: f64,
    /// Chances.
    pub of: f64,
}

impl Rate {
    /// Times over chances; 0 without a chance.
    #[must_use]
    pub fn share(&self) -> f64 {
        if self.of > 0.0 { self.n / self.of } else { 0.0 }
    }

    /// Whether it is at most a stated rate, with three standard errors for chance.
    #[must_use]
    pub fn keeps_to(&self, stated: f64) -> bool {
        self.of > 0.0 && self.share() <= stated + 3.0 * (stated * (1.0 - stated) / self.of).sqrt()
    }

    fn add(&mut self, is_claimed: bool) {
        self.n += f64::from(u8::from(is_claimed));
        self.of += 1.0;
    }
}

/// How often what was claimed.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ClaimRates {
    /// "Change something", of children whose true share is at the cut or over it.
    pub stuck_and_is_not: Rate,
    /// "Change something", of children whose true share is under a half.
    pub stuck_and_is: Rate,
    /// Reached the cut at the last check, of those under it at the first.
    pub met_seen: Rate,
    /// The same, as expected by chance.
    pub met_expected: Rate,
    /// A change told as more than its error, of children checked twice.
    pub reliable: Rate,
    /// "More of those who changed" reach the cut, of classes with enough of both.
    pub more_of_changed: Rate,
    /// "Fewer of those who changed".
    pub fewer_of_changed: Rate,
}

/// Invents classes and counts what movement claims of them. The same settings and seed give the same rates.
#[must_use]
pub fn claim_rates(settings: &InventedClasses, seed: u64, graph: &SkillGraph) -> ClaimRates {
    let mut rng = Xoshiro256Plus::seed_from_u64(seed);
    let (Ok(shares), Some(skill)) = (Beta::new(2.0, 1.6), SkillCode::parse("4.NF.A.1")) else {
        return ClaimRates::default();
    };
    let mut rates = ClaimRates::default();
    for _ in 0..settings.n_classes {
        let truth = (0..settings.n_students).map(|_| shares.inverse_cdf(rng.gen_range(0.001..0.999))).collect();
        let class = Class { truth, settings, skill: skill.clone() };
        let (weeks, truth) = class.through_the_weeks(&mut rng);
        rates.count(&movement(&weeks, CUT, graph, &ErrorCatalogue::default()), &truth);
    }
    rates
}

impl ClaimRates {
    fn count(&mut self, m: &Movement, truth: &[f64]) {
        for (at, child) in m.students.iter().enumerate() {
            let is_stuck = child.judged.verdict == Verdict::ChangeSomething;
            match truth.get(at) {
                Some(share) if *share >= CUT => self.stuck_and_is_not.add(is_stuck),
                Some(share) if *share < 0.5 => self.stuck_and_is.add(is_stuck),
                _ => {}
            }
            if let Some(growth) = m.growth_in_target(at).filter(|g| g.n_checks > 1) {
                self.reliable.add(growth.is_reliable);
            }
        }
        let n = m.by_chance.n as f64;
        for (rate, share) in
            [(&mut self.met_seen, m.by_chance.observed), (&mut self.met_expected, m.by_chance.expected)]
        {
            rate.n += share * n;
            rate.of += n;
        }
        if m.regrouping.says() != OfChanged::TooFew {
            self.more_of_changed.add(m.regrouping.says() == OfChanged::More);
            self.fewer_of_changed.add(m.regrouping.says() == OfChanged::Fewer);
        }
    }
}

struct Class<'a> {
    truth: Vec<f64>,
    settings: &'a InventedClasses,
    skill: SkillCode,
}

impl Class<'_> {
    /// Facts of each week, and the true shares at the end.
    fn through_the_weeks(mut self, rng: &mut Xoshiro256Plus) -> (Vec<WeekFacts>, Vec<f64>) {
        let n = self.settings.n_students;
        let mut groups: Vec<usize> = (0..n).map(|at| at % N_GROUPS).collect();
        let mut has_changed = vec![false; n];
        let mut standings = vec![Standing::default(); n];
        let mut weeks = Vec::new();
        for week in 0..self.settings.n_weeks {
            if week > 0 {
                for at in 0..n {
                    if rng.gen_range(0..8) == 0 {
                        groups[at] = (groups[at] + rng.gen_range(1..N_GROUPS)) % N_GROUPS;
                        has_changed[at] = true;
                    }
                    let after_change = if has_changed[at] { self.settings.step_after_change } else { 0.0 };
                    self.truth[at] = (self.truth[at] + self.settings.step + after_change).min(0.98);
                }
            }
            let child = |at: usize| self.child(at, groups[at], &mut standings[at], rng);
            weeks.push(week_of(week, (0..n).filter_map(child).collect()));
        }
        (weeks, self.truth)
    }

    fn child(&self, at: usize, group: usize, standing: &mut Standing, rng: &mut Xoshiro256Plus) -> Option<ChildFacts> {
        let n_items = self.settings.n_items;
        let n_right = (0..n_items).filter(|_| rng.r#gen::<f64>() < self.truth[at]).count();
        let check = Check { points: n_right as f64, possible: n_items as f64 };
        standing.sit(check.share() >= CUT - 1e-9, 2);
        let state = match standing {
            s if s.is_confirmed => SkillState::Confirmed,
            s if s.is_lost => SkillState::Lost,
            s if s.n_met > 0 => SkillState::MetOnce,
            _ => SkillState::NotYet,
        };
        Some(ChildFacts {
            // Ids stand in the order of the children.
            student: Student { grade: "4".to_owned(), ..Student::unnamed(StudentId::parse(&format!("{at:04}"))?) },
            group: Some(format!("g{}", group + 1)),
            target: Some(self.skill.clone()),
            states: BTreeMap::from([(self.skill.clone(), state)]),
            // Whoever has not met it is taken to lack it: the verdict gets no help from the plan.
            lacked: if state == SkillState::NotYet { BTreeSet::from([self.skill.clone()]) } else { BTreeSet::new() },
            fresh: BTreeMap::from([(self.skill.clone(), FreshAnswers { n_items, check, ideas: Vec::new() })]),
            looks_guessed: false,
            time: TimeReceived { n_sessions: 3, n_there: 3, minutes_planned: 90, minutes_received: 90 },
            decided: PeoplesWord::default(),
        })
    }
}

fn week_of(week: usize, children: Vec<ChildFacts>) -> WeekFacts {
    let days = Span::new().days(7 * i64::try_from(week).unwrap_or(0));
    WeekFacts { week: Date::constant(2026, 2, 2).saturating_add(days), children }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rates(n_classes: usize, step: f64, step_after_change: f64) -> ClaimRates {
        let settings = InventedClasses { n_classes, step, step_after_change, ..InventedClasses::default() };
        claim_rates(&settings, 5, &SkillGraph::builtin().unwrap())
    }

    #[test]
    fn without_learning_claims_keep_to_their_rates() {
        let rates = rates(1000, 0.0, 0.0);
        assert!(rates.stuck_and_is_not.keeps_to(0.10), "{:?}", rates.stuck_and_is_not);
        assert!(rates.met_seen.keeps_to(rates.met_expected.share()), "{:?} {:?}", rates.met_seen, rates.met_expected);
        assert!(rates.reliable.keeps_to(0.05), "{:?}", rates.reliable);
        assert!(rates.more_of_changed.keeps_to(0.025), "{:?}", rates.more_of_changed);
        assert!(rates.fewer_of_changed.keeps_to(0.025), "{:?}", rates.fewer_of_changed);
    }

    #[test]
    fn short_quizzes_claim_no_more() {
        let settings = InventedClasses { n_classes: 300, n_items: 2, ..InventedClasses::default() };
        let rates = claim_rates(&settings, 5, &SkillGraph::builtin().unwrap());
        assert!(rates.stuck_and_is_not.keeps_to(0.10), "{:?}", rates.stuck_and_is_not);
        assert!(rates.reliable.keeps_to(0.05), "{:?}", rates.reliable);
        assert!(rates.stuck_and_is.share() > 0.3, "{:?}", rates.stuck_and_is);
    }

    #[test]
    fn true_learning_is_found() {
        let (without, with) = (rates(60, 0.0, 0.0), rates(60, 0.10, 0.0));
        assert!(with.met_seen.share() > with.met_expected.share() + 0.2, "{with:?}");
        assert!(with.reliable.share() > without.reliable.share(), "{with:?}");
        let after_change = rates(60, 0.0, 0.25);
        assert!(after_change.more_of_changed.share() > 0.1, "{after_change:?}");
        assert!(without.stuck_and_is.share() > 0.3, "{without:?}");
    }

    #[test]
    fn the_same_seed_gives_the_same_rates() {
        assert_eq!(rates(3, 0.0, 0.0), rates(3, 0.0, 0.0));
    }
}
