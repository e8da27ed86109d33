//! The cycle memo: a suggestion for each group with its evidence, and what the team decided.
//!
//! In:  the last week of the memo. Out: a [`CycleMemo`] of the weeks of one cycle up to it.
//! Keeps: a decision needs a reason and a name (`a_decision_needs_a_reason_and_a_name`). Not here: the rules
//! (`sheaf_core::movement`).

use super::{Week, Weeks};
use crate::error::{AppError, ErrorKind};
use sheaf_core::movement::{CycleMemo, GroupMemo, GroupStep, TeamDecision, cycle_memo};
use sheaf_store::MemoDecision;

/// Longest reason and name, characters.
const LONGEST_REASON: usize = 500;
const LONGEST_NAME: usize = 100;
/// Weeks of a cycle that a memo looks back over at most.
const MOST_WEEKS_BACK: i32 = 52;

/// What a person decided.
#[derive(Debug, Clone)]
pub struct Decided {
    /// The group's id.
    pub group: String,
    /// The word of a [`GroupStep`].
    pub decision: String,
    /// Why.
    pub reason: String,
    /// Who.
    pub name: String,
}

impl Weeks {
    /// The memo of the cycle that ends with a week: as many weeks as the setup says.
    ///
    /// # Errors
    /// As [`Weeks::movement`]; of kind not found where the week has no plan.
    pub fn memo(&self, week: Week) -> Result<CycleMemo, AppError> {
        self.kept(week)?;
        let n_before = i32::try_from(self.setup().school.cycle.weeks.saturating_sub(1)).unwrap_or(0);
        let first = Week::of(week.monday().saturating_sub(jiff::Span::new().days(7 * n_before.min(MOST_WEEKS_BACK))));
        let movement = self.movement(Some(first), Some(week))?;
        let decisions = self.store.memo_decisions(week.monday())?;
        let decided = |memo: GroupMemo| {
            let decision = decisions.iter().find(|d| d.group == memo.group).and_then(in_core_words);
            (memo, decision)
        };
        Ok(CycleMemo { groups: cycle_memo(&movement).into_iter().map(decided).collect(), movement })
    }

    /// Keeps what the team decided for a group, in place of what was decided before.
    ///
    /// # Errors
    /// [`AppError`] of kind input where reason, name or decision is missing, of kind not found where the week has no such group.
    pub fn decide(&self, week: Week, decided: &Decided) -> Result<(), AppError> {
        let input = |code, what: &str| AppError::new(ErrorKind::Input, code, what);
        let (reason, name) = (decided.reason.trim(), decided.name.trim());
        if GroupStep::parse(&decided.decision).is_none() {
            return Err(input("answer-missing", "Choose what is done with the group."));
        }
        let fits = |text: &str, longest| (1..=longest).contains(&text.chars().count());
        if !fits(reason, LONGEST_REASON) || !fits(name, LONGEST_NAME) {
            let what =
                "Write a reason of up to 500 characters (\"professional judgement\" is one) and your name or initials.";
            return Err(input("reason-or-name-missing", what));
        }
        let is_there = self.plan(week)?.plan.groups.iter().any(|g| g.id == decided.group);
        if !is_there {
            let what = "That week has no such group; open the memo again.";
            return Err(AppError::new(ErrorKind::NotFound, "no-such-group", what));
        }
        let kept = MemoDecision {
            group: decided.group.clone(),
            decision: decided.decision.clone(),
            reason: reason.to_owned(),
            name: name.to_owned(),
            decided: String::new(),
        };
        Ok(self.store.keep_memo_decision(week.monday(), &kept)?)
    }
}

fn in_core_words(kept: &MemoDecision) -> Option<TeamDecision> {
    let MemoDecision { reason, name, decided, .. } = kept.clone();
    Some(TeamDecision { step: GroupStep::parse(&kept.decision)?, reason, name, day: decided })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::weeks::Keeping;
    use crate::weeks::small_quiz::{QUIZ, file, week, weeks};

    #[test]
    fn a_decision_needs_a_reason_and_a_name() {
        let weeks = weeks();
        assert_eq!(weeks.memo(week()).unwrap_err().code, "no-plan");
        weeks.take_in(week(), vec![file("q.csv", QUIZ)], None, Keeping::Keep).unwrap();
        weeks.plan_week(week(), None).unwrap();
        let group = weeks.memo(week()).unwrap().groups[0].0.group.clone();
        let say = |group: &str, decision: &str, reason: &str, name: &str| {
            let text = str::to_owned;
            let decided =
                Decided { group: text(group), decision: text(decision), reason: text(reason), name: text(name) };
            weeks.decide(week(), &decided)
        };
        for (group, decision, reason, name, code) in [
            (group.as_str(), "keep", " ", "T. T.", "reason-or-name-missing"),
            (&group, "keep", "why", "", "reason-or-name-missing"),
            (&group, "keep", &"x".repeat(501), "T. T.", "reason-or-name-missing"),
            (&group, "else", "why", "T. T.", "answer-missing"),
            ("g99", "keep", "why", "T. T.", "no-such-group"),
        ] {
            assert_eq!(say(group, decision, reason, name).unwrap_err().code, code);
        }
        say(&group, "regroup", " professional judgement ", "T. T.").unwrap();
        let memo = weeks.memo(week()).unwrap();
        let kept = memo.groups[0].1.as_ref().unwrap();
        assert_eq!((kept.step, kept.reason.as_str()), (GroupStep::Regroup, "professional judgement"));
        assert!(memo.groups[0].0.evidence.starts_with("Of "));
    }
}
