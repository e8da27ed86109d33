//! The cycle memo: for each group of the last week one suggestion with its evidence. The team decides.
//!
//! In:  a [`Movement`]. Out: a [`GroupMemo`] a group, in order of number. Rules, the first that holds: half of the members or more were not
//! taught `more-time`; half or more have met `exit`; half or more are to change something `change-teaching`; some have met and others are
//! far `regroup`; else `keep`.
//! Keeps: `away_asks_for_time_before_anything_else`, `each_suggestion_has_its_case`, `evidence_is_counts`.
//! Source: the rules are common practice, no source. Not here: the decision that was taken (`sheaf-store`).

use super::{Movement, Verdict};
use crate::plan::group_number;
use crate::skills::SkillCode;
use std::collections::BTreeMap;

/// What may be done with a group.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum GroupStep {
    /// Go on.
    Keep,
    /// Seat the members anew.
    Regroup,
    /// Teach the same skill another way, or one step down.
    ChangeTeaching,
    /// Give the planned time first.
    MoreTime,
    /// The target is met: the next one, or out of the group.
    Exit,
}

impl GroupStep {
    /// All of them, in the order in which they are offered.
    pub const ALL: [GroupStep; 5] =
        [GroupStep::Keep, GroupStep::Regroup, GroupStep::ChangeTeaching, GroupStep::MoreTime, GroupStep::Exit];

    /// The word that is kept.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            GroupStep::Keep => "keep",
            GroupStep::Regroup => "regroup",
            GroupStep::ChangeTeaching => "change-teaching",
            GroupStep::MoreTime => "more-time",
            GroupStep::Exit => "exit",
        }
    }

    /// In words for a page.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            GroupStep::Keep => "Keep",
            GroupStep::Regroup => "Regroup",
            GroupStep::ChangeTeaching => "Change the teaching",
            GroupStep::MoreTime => "More time",
            GroupStep::Exit => "Next target, or exit",
        }
    }

    /// The step of a word.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|s| s.word() == word)
    }
}

/// What the team decided for a group.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TeamDecision {
    /// What is done.
    pub step: GroupStep,
    /// Why.
    pub reason: String,
    /// Who said so.
    pub name: String,
    /// The day, as ISO text.
    pub day: String,
}

/// The memo of one cycle.
#[derive(Debug, Clone, PartialEq)]
pub struct CycleMemo {
    /// Movement over its weeks.
    pub movement: Movement,
    /// Each group with what was decided, where something was.
    pub groups: Vec<(GroupMemo, Option<TeamDecision>)>,
}

/// What a week's workbook looks back on.
#[derive(Debug, Clone, PartialEq)]
pub struct LookBack {
    /// Movement over all weeks up to it.
    pub movement: Movement,
    /// The memo of the cycle that it ends.
    pub memo: CycleMemo,
}

/// One group of the last week.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupMemo {
    /// Id.
    pub group: String,
    /// What it was taught.
    pub skill: SkillCode,
    /// Members.
    pub n: usize,
    /// What is suggested.
    pub suggestion: GroupStep,
    /// Why, with counts.
    pub evidence: String,
}

#[derive(Default)]
struct Counted {
    n: usize,
    verdicts: BTreeMap<Verdict, usize>,
    skill: Option<SkillCode>,
    planned: u32,
    received: u32,
}

/// A suggestion for each group of the last week.
#[must_use]
pub fn cycle_memo(m: &Movement) -> Vec<GroupMemo> {
    let mut groups: BTreeMap<(usize, &str), Counted> = BTreeMap::new();
    for child in &m.students {
        let Some(last) = child.weeks.last().and_then(Option::as_ref) else { continue };
        let Some(group) = last.group.as_deref() else { continue };
        let number = group_number(group).unwrap_or(usize::MAX);
        let counted = groups.entry((number, group)).or_default();
        counted.n += 1;
        *counted.verdicts.entry(child.judged.verdict).or_default() += 1;
        counted.skill = last.target.clone();
        for week in child.weeks.iter().flatten().filter(|w| w.target == last.target) {
            counted.planned += week.time.minutes_planned;
            counted.received += week.time.minutes_received;
        }
    }
    groups.into_iter().filter_map(|((_, group), counted)| counted.memo(group)).collect()
}

impl Counted {
    fn n_with(&self, verdict: Verdict) -> usize {
        self.verdicts.get(&verdict).copied().unwrap_or(0)
    }

    fn suggestion(&self) -> GroupStep {
        let is_half = |verdict| 2 * self.n_with(verdict) >= self.n;
        if is_half(Verdict::NotYetTaught) {
            GroupStep::MoreTime
        } else if is_half(Verdict::Met) {
            GroupStep::Exit
        } else if is_half(Verdict::ChangeSomething) {
            GroupStep::ChangeTeaching
        } else if self.n_with(Verdict::Met) > 0 && self.n_with(Verdict::ChangeSomething) > 0 {
            GroupStep::Regroup
        } else {
            GroupStep::Keep
        }
    }

    fn memo(self, group: &str) -> Option<GroupMemo> {
        let told = [
            (Verdict::Met, "met"),
            (Verdict::Close, "close"),
            (Verdict::ChangeSomething, "to change something"),
            (Verdict::NotYetTaught, "not yet taught"),
            (Verdict::Lost, "lost"),
            (Verdict::NotEnough, "too little to say"),
        ];
        let counts = told.iter().filter(|(v, _)| self.n_with(*v) > 0);
        let counts: Vec<String> = counts.map(|(v, words)| format!("{} {words}", self.n_with(*v))).collect();
        let minutes = match self.planned {
            0 => "time not noted".to_owned(),
            planned => format!(
                "{} of {planned} child-minutes on this target given ({:.0} %)",
                self.received,
                100.0 * f64::from(self.received) / f64::from(planned)
            ),
        };
        let evidence = format!("Of {}: {}; {minutes}.", self.n, counts.join(", "));
        let suggestion = self.suggestion();
        Some(GroupMemo { group: group.to_owned(), n: self.n, suggestion, evidence, skill: self.skill? })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counted(verdicts: &[(Verdict, usize)]) -> Counted {
        let n = verdicts.iter().map(|v| v.1).sum();
        let skill = SkillCode::parse("4.NF.A.1");
        Counted { n, verdicts: verdicts.iter().copied().collect(), skill, planned: 900, received: 600 }
    }

    #[test]
    fn each_suggestion_has_its_case() {
        use Verdict::{ChangeSomething, Close, Met, NotEnough, NotYetTaught};
        for (verdicts, step) in [
            (&[(Met, 2), (Close, 2)][..], GroupStep::Exit),
            (&[(ChangeSomething, 2), (Close, 1), (Met, 1)], GroupStep::ChangeTeaching),
            (&[(Met, 1), (ChangeSomething, 1), (Close, 2)], GroupStep::Regroup),
            (&[(Close, 3), (Met, 1)], GroupStep::Keep),
            (&[(NotEnough, 4)], GroupStep::Keep),
            (&[(NotYetTaught, 2), (Met, 2)], GroupStep::MoreTime),
        ] {
            assert_eq!(counted(verdicts).suggestion(), step, "{verdicts:?}");
        }
    }

    #[test]
    fn away_asks_for_time_before_anything_else() {
        let away = counted(&[(Verdict::NotYetTaught, 3), (Verdict::ChangeSomething, 3)]);
        assert_eq!(away.suggestion(), GroupStep::MoreTime);
    }

    #[test]
    fn evidence_is_counts() {
        let memo = counted(&[(Verdict::Met, 1), (Verdict::Close, 3)]).memo("g2").unwrap();
        assert_eq!(memo.evidence, "Of 4: 1 met, 3 close; 600 of 900 child-minutes on this target given (67 %).");
        assert_eq!(GroupStep::parse(memo.suggestion.word()), Some(GroupStep::Keep));
        assert_eq!(GroupStep::parse("else"), None);
    }
}
