//! Children who changed groups beside those who stayed, and who reached the cut beside how many would by chance.
//!
//! In:  the weeks of every child. Out: [`ByChance`] and [`Regrouping`], with one sentence each.
//! By chance: of children whose target was not yet reached at its first check, how many reach the cut at the last one, beside how many
//! would if nobody had learnt. Regrouping: of the same children, those who changed groups against those who stayed; never called an
//! effect, and too few under ten on either side; told as more or fewer only where interval and exact test agree.
//! Keeps: `too_few_is_said`, `a_difference_is_never_called_an_effect`, `interval_and_exact_test_must_agree`. Not here: the chance itself (`chance`).

use super::chance::{Check, Spread};
use super::report::{ChildWeek, ChildWeeks};
use crate::numeric::{Difference, difference_of_shares, fisher_exact};
use crate::skills::SkillCode;
use std::collections::{BTreeMap, BTreeSet};

/// Children on either side from which a difference may be told.
const ENOUGH: usize = 10;
/// Chance under which the exact test sees a difference, as the interval of 95 % does.
const SEEN: f64 = 0.05;

/// Met by what was seen, and by chance.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ByChance {
    /// Children who did not reach the cut at the first check of their target and were checked again.
    pub n: usize,
    /// Share of them who reach it at the last check.
    pub observed: f64,
    /// Share who would, if nobody had learnt anything.
    pub expected: f64,
}

/// Children who changed groups beside those who stayed.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Regrouping {
    /// Who changed at least once.
    pub n_moved: usize,
    /// Of these, who reach the cut at the last check.
    pub n_moved_met: usize,
    /// Who stayed.
    pub n_stayed: usize,
    /// Of these, who reach it.
    pub n_stayed_met: usize,
    /// Difference of the shares with its 95 % interval.
    pub difference: Option<Difference>,
    /// Whether there are enough to say anything.
    pub is_enough: bool,
}

/// What may be said of those who changed groups.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OfChanged {
    /// More of them reach the cut.
    More,
    /// Fewer.
    Fewer,
    /// No difference that can be told.
    NoDifference,
    /// Too few children.
    TooFew,
}

impl ByChance {
    /// One sentence with counts.
    #[must_use]
    pub fn sentence(&self) -> String {
        let n = self.n;
        if n == 0 {
            return "Nobody under the cut was checked twice on one target, so there is nothing to set beside chance."
                .to_owned();
        }
        let met = self.observed * n as f64;
        let by_chance = self.expected * n as f64;
        let few = if n < ENOUGH { " Too few to say more." } else { "" };
        let children = if n == 1 { "1 child".to_owned() } else { format!("{n} children") };
        format!(
            "Of {children} under the cut at the first check of their target, {met:.0} reach it at the last; {by_chance:.1} would if \
             nobody had learnt anything.{few}"
        )
    }
}

impl Regrouping {
    /// What may be said.
    #[must_use]
    pub fn says(&self) -> OfChanged {
        let Some(d) = self.difference.filter(|_| self.is_enough) else { return OfChanged::TooFew };
        let row = |met: usize, all: usize| [met as u64, all.saturating_sub(met) as u64];
        let chance = fisher_exact([row(self.n_moved_met, self.n_moved), row(self.n_stayed_met, self.n_stayed)]);
        match chance < SEEN {
            true if d.low > 0.0 => OfChanged::More,
            true if d.high < 0.0 => OfChanged::Fewer,
            _ => OfChanged::NoDifference,
        }
    }

    /// One sentence with counts, and what they allow to be said.
    #[must_use]
    pub fn sentence(&self) -> String {
        let counts = format!(
            "{} of {} who changed groups and {} of {} who stayed reach the cut",
            self.n_moved_met, self.n_moved, self.n_stayed_met, self.n_stayed
        );
        let says = match self.says() {
            OfChanged::TooFew => return format!("{counts}: too few to say."),
            OfChanged::More => "more of those who changed",
            OfChanged::Fewer => "fewer of those who changed",
            OfChanged::NoDifference => "no difference that can be told from chance",
        };
        let (low, high) = self.difference.map_or((0.0, 0.0), |d| (100.0 * d.low, 100.0 * d.high));
        format!(
            "{counts}: {says} (between {low:+.0} and {high:+.0} in a hundred). Who was moved was chosen, not drawn."
        )
    }
}

/// A child whose target was checked when it was first taught, and later.
struct Again {
    skill: SkillCode,
    first: Check,
    last: Check,
    has_moved: bool,
}

/// What the first and last checks of the first target say.
pub(super) struct Seen {
    again: Vec<Again>,
    /// Spread of shares at the first checks of each skill.
    spreads: BTreeMap<SkillCode, Spread>,
    cut: f64,
}

impl Seen {
    pub(super) fn of(students: &[ChildWeeks], cut: f64) -> Self {
        let mut firsts: BTreeMap<SkillCode, Vec<Check>> = BTreeMap::new();
        for student in students {
            let mut seen = BTreeSet::new();
            for (skill, check) in student.weeks.iter().flatten().flat_map(|w| &w.checks) {
                if seen.insert(skill) {
                    firsts.entry(skill.clone()).or_default().push(*check);
                }
            }
        }
        let spreads = firsts.iter().map(|(skill, checks)| (skill.clone(), Spread::of(checks))).collect();
        let again = students.iter().filter_map(again).filter(|a| a.first.share() < cut - 1e-9).collect();
        Seen { again, spreads, cut }
    }

    /// How shares of this skill are spread, as first seen.
    pub(super) fn spread(&self, skill: &SkillCode) -> Option<&Spread> {
        self.spreads.get(skill)
    }

    fn is_met(&self, child: &Again) -> bool {
        child.last.share() >= self.cut - 1e-9
    }

    pub(super) fn by_chance(&self) -> ByChance {
        let n = self.again.len();
        if n == 0 {
            return ByChance::default();
        }
        let chance =
            |a: &Again| self.spreads.get(&a.skill).map_or(0.0, |s| s.reaches_again(a.first, self.cut, a.last.possible));
        ByChance {
            n,
            observed: self.again.iter().filter(|a| self.is_met(a)).count() as f64 / n as f64,
            expected: self.again.iter().map(chance).sum::<f64>() / n as f64,
        }
    }

    pub(super) fn regrouping(&self) -> Regrouping {
        let count = |moved: bool, met: bool| {
            self.again.iter().filter(|a| a.has_moved == moved && (!met || self.is_met(a))).count()
        };
        let (n_moved, n_moved_met) = (count(true, false), count(true, true));
        let (n_stayed, n_stayed_met) = (count(false, false), count(false, true));
        Regrouping {
            n_moved,
            n_moved_met,
            n_stayed,
            n_stayed_met,
            difference: difference_of_shares(n_moved_met, n_moved, n_stayed_met, n_stayed),
            is_enough: n_moved >= ENOUGH && n_stayed >= ENOUGH,
        }
    }
}

/// The first target that was checked in the week it was set, and checked again in a later one.
fn again(student: &ChildWeeks) -> Option<Again> {
    let known: Vec<&ChildWeek> = student.weeks.iter().flatten().collect();
    let (at, skill, first) = known.iter().enumerate().find_map(|(at, week)| {
        let skill = week.target.as_ref()?;
        Some((at, skill.clone(), *week.checks.get(skill)?))
    })?;
    let last = known[at + 1..].iter().rev().find_map(|week| week.checks.get(&skill).copied())?;
    let groups: Vec<&str> = known[at..].iter().filter_map(|week| week.group.as_deref()).collect();
    let has_moved = groups.windows(2).any(|pair| pair[0] != pair[1]);
    Some(Again { skill, first, last, has_moved })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn too_few_is_said() {
        let few = Regrouping { n_moved: 2, n_moved_met: 1, n_stayed: 30, n_stayed_met: 3, ..Regrouping::default() };
        assert_eq!(few.sentence(), "1 of 2 who changed groups and 3 of 30 who stayed reach the cut: too few to say.");
        assert!(ByChance { n: 9, observed: 1.0, expected: 0.5 }.sentence().ends_with("Too few to say more."));
        assert!(ByChance::default().sentence().starts_with("Nobody"));
    }

    fn of(moved_met: usize, n_moved: usize, stayed_met: usize, n_stayed: usize) -> Regrouping {
        Regrouping {
            n_moved,
            n_moved_met: moved_met,
            n_stayed,
            n_stayed_met: stayed_met,
            difference: difference_of_shares(moved_met, n_moved, stayed_met, n_stayed),
            is_enough: true,
        }
    }

    #[test]
    fn a_difference_is_never_called_an_effect() {
        for (moved_met, stayed_met, says) in
            [(30, 3, "more of those"), (3, 3, "no difference"), (0, 20, "fewer of those")]
        {
            let sentence = of(moved_met, 30, stayed_met, 30).sentence();
            assert!(sentence.contains(says) && !sentence.contains("effect"), "{sentence}");
        }
    }

    #[test]
    fn interval_and_exact_test_must_agree() {
        // The interval alone would say more: it begins at a hair over zero.
        let near = of(6, 12, 2, 18);
        assert!(near.difference.unwrap().low > 0.0, "{near:?}");
        assert_eq!(near.says(), OfChanged::More);
        let split: Vec<Regrouping> = (0..=12)
            .flat_map(|moved| (0..=18).map(move |stayed| of(moved, 12, stayed, 18)))
            .filter(|r| {
                r.difference.is_some_and(|d| d.low > 0.0 || d.high < 0.0) && r.says() == OfChanged::NoDifference
            })
            .collect();
        assert!(!split.is_empty(), "the exact test holds nothing back");
    }
}
