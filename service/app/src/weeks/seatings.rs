//! Who sat where before: what a person looked at while somebody else changed the plan, and what planning again changed.
//!
//! In:  a week, or the tag of a plan that a page showed. Out: a [`SeatingThen`], or the [`Replanned`] difference of the plan that planning
//! made and the one before it. Ids only; who is called what stands in the plan.
//! Keeps: the seating that a tag names comes back (`what_was_looked_at_comes_back`); what planning again changed is told until the next
//! decision (`planning_again_says_what_it_changed_until_the_next_decision`). Not here: pages, names, deciding (`overrule`).

use super::overrule::{Decision, Decisions};
use super::plan_week::is_tag_of;
use super::{Week, Weeks};
use crate::error::AppError;
use serde::Deserialize;
use sheaf_store::{KeptSeating, Made};
use std::collections::BTreeMap;

/// A group as it was.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct GroupThen {
    /// `g1`, `g2`, …
    pub id: String,
    /// Its name.
    pub name: String,
    /// Code of its target skill.
    pub target: String,
    /// Ids of its members.
    pub members: Vec<String>,
}

/// The groups as they were, with what had been decided.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeatingThen {
    /// In order of number.
    pub groups: Vec<GroupThen>,
    /// What had been decided by then.
    pub decisions: Decisions,
}

/// A child who sits elsewhere than before; `None` where there is no seat.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeatChange {
    /// The child's id.
    pub student: String,
    /// Group before, by id.
    pub from: Option<String>,
    /// Group now, by id.
    pub to: Option<String>,
}

/// What planning again changed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Replanned {
    /// Children who sit elsewhere, in order of id.
    pub seats: Vec<SeatChange>,
    /// Groups with another target: id, target before, target now.
    pub targets: Vec<(String, String, String)>,
    /// Groups that were not there before, and such as are there no longer, by id.
    pub new_groups: Vec<String>,
    /// Gone.
    pub gone_groups: Vec<String>,
    /// Decisions of before that the new plan carries out; holds among them say so.
    pub kept: Vec<Decision>,
    /// Decisions of before that the new plan does not carry out.
    pub without_effect: Vec<Decision>,
}

impl SeatingThen {
    /// The group that a child sat in.
    #[must_use]
    pub fn group_of(&self, student: &str) -> Option<&GroupThen> {
        self.groups.iter().find(|g| g.members.iter().any(|m| m == student))
    }

    /// A group by its id.
    #[must_use]
    pub fn group(&self, id: &str) -> Option<&GroupThen> {
        self.groups.iter().find(|g| g.id == id)
    }

    fn read(kept: &KeptSeating) -> Result<Self, AppError> {
        let groups = serde_json::from_str(&kept.seats).map_err(AppError::our_fault)?;
        Ok(SeatingThen { groups, decisions: Decisions::from_json(&kept.overrules)? })
    }

    fn carries_out(&self, decision: &Decision) -> bool {
        match decision {
            Decision::Seat { student, to, .. } => self.group_of(student).is_some_and(|g| g.id == *to),
            Decision::Target { group, target_skill, .. } => {
                self.group(group).is_some_and(|g| g.target == *target_skill)
            }
            Decision::Item { group, .. } => self.group(group).is_some(),
        }
    }
}

impl Weeks {
    /// The seating of the plan with this tag, as long as it is kept.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn seating_looked_at(&self, week: Week, tag: &str) -> Result<Option<SeatingThen>, AppError> {
        let lines = self.store.seatings(week.monday())?;
        lines.iter().find(|line| is_tag_of(tag, week, line.revision)).map(SeatingThen::read).transpose()
    }

    /// The seating of the week's plan.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn seating_now(&self, week: Week) -> Result<Option<SeatingThen>, AppError> {
        self.store.seatings(week.monday())?.first().map(SeatingThen::read).transpose()
    }

    /// What planning again changed, until the next decision; `None` where the week was planned once, or decided on since.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn replanned(&self, week: Week) -> Result<Option<Replanned>, AppError> {
        let lines = self.store.seatings(week.monday())?;
        let mut since = lines.iter().skip_while(|line| line.made == Made::Repaired);
        match (since.next(), since.next()) {
            (Some(made), Some(before)) if made.made == Made::Planned => {
                Ok(Some(difference(&SeatingThen::read(before)?, &SeatingThen::read(made)?)))
            }
            _ => Ok(None),
        }
    }
}

fn seats(seating: &SeatingThen) -> BTreeMap<&str, &str> {
    seating.groups.iter().flat_map(|g| g.members.iter().map(|m| (m.as_str(), g.id.as_str()))).collect()
}

fn difference(before: &SeatingThen, now: &SeatingThen) -> Replanned {
    let (seats_before, seats_now) = (seats(before), seats(now));
    let everyone: std::collections::BTreeSet<&str> = seats_before.keys().chain(seats_now.keys()).copied().collect();
    let change = |student: &str| {
        let (from, to) = (seats_before.get(student), seats_now.get(student));
        let owned = |group: Option<&&str>| group.map(|g| (*g).to_owned());
        (from != to).then(|| SeatChange { student: student.to_owned(), from: owned(from), to: owned(to) })
    };
    let target = |g: &GroupThen| {
        let then = before.group(&g.id).filter(|then| then.target != g.target)?;
        Some((g.id.clone(), then.target.clone(), g.target.clone()))
    };
    let missing = |of: &SeatingThen, from: &SeatingThen| {
        of.groups.iter().filter(|g| from.group(&g.id).is_none()).map(|g| g.id.clone()).collect()
    };
    let last = last_words(&before.decisions.done);
    let (kept, without_effect) = last.into_iter().partition(|d| now.carries_out(d));
    Replanned {
        seats: everyone.into_iter().filter_map(change).collect(),
        targets: now.groups.iter().filter_map(target).collect(),
        new_groups: missing(now, before),
        gone_groups: missing(before, now),
        kept,
        without_effect,
    }
}

/// Of each child and each target the last decision alone.
fn last_words(done: &[Decision]) -> Vec<Decision> {
    let mut last: Vec<Decision> = Vec::new();
    for decision in done {
        let is_about_the_same = |d: &Decision| match (d, decision) {
            (Decision::Seat { student: a, .. }, Decision::Seat { student: b, .. })
            | (Decision::Target { group: a, .. }, Decision::Target { group: b, .. }) => a == b,
            _ => false,
        };
        last.retain(|d| !is_about_the_same(d));
        last.push(decision.clone());
    }
    last
}

#[cfg(test)]
mod tests {
    use super::super::small_quiz::{QUIZ, file, week};
    use super::super::{Keeping, SchoolSetup};
    use super::*;

    fn planned() -> (Weeks, String) {
        let setup = SchoolSetup::parse("school.toml", "[groups]\nmin_size = 2\nmax_size = 4\n").unwrap();
        let weeks = Weeks::in_memory(setup).unwrap();
        weeks.take_in(week(), vec![file("quiz.csv", QUIZ)], None, Keeping::Keep).unwrap();
        let tag = weeks.plan_week(week(), None).unwrap().tag.clone();
        (weeks, tag)
    }

    /// A child of the first group, to sit in the second.
    fn a_move(weeks: &Weeks) -> Decision {
        let now = weeks.seating_now(week()).unwrap().unwrap();
        let (student, to) = (now.groups[0].members[0].clone(), now.groups[1].id.clone());
        Decision::Seat { student, to, reason: "asked for it".to_owned(), hold: true }
    }

    #[test]
    fn what_was_looked_at_comes_back() {
        let (weeks, tag) = planned();
        let first = weeks.seating_now(week()).unwrap().unwrap();
        let decision = a_move(&weeks);
        let Decision::Seat { student, to, .. } = &decision else { panic!("{decision:?}") };
        weeks.overrule(week(), &tag, decision.clone()).unwrap();
        assert_eq!(weeks.seating_looked_at(week(), &tag).unwrap(), Some(first.clone()));
        let now = weeks.seating_now(week()).unwrap().unwrap();
        assert_eq!(now.group_of(student).map(|g| &g.id), Some(to));
        assert_ne!(first.group_of(student).map(|g| &g.id), Some(to));
        assert_eq!((first.decisions.done.len(), now.decisions.done), (0, vec![decision.clone()]));
        assert_eq!(weeks.seating_looked_at(week(), "\"2026-02-02.77\"").unwrap(), None);
    }

    #[test]
    fn planning_again_says_what_it_changed_until_the_next_decision() {
        let (weeks, tag) = planned();
        assert_eq!(weeks.replanned(week()).unwrap(), None, "planned once");
        let decision = a_move(&weeks);
        let (_, tag) = weeks.overrule(week(), &tag, decision.clone()).unwrap();
        assert_eq!(weeks.replanned(week()).unwrap(), None, "decided, not planned");
        weeks.plan_week(week(), None).unwrap();
        let same = weeks.replanned(week()).unwrap().unwrap();
        assert_eq!(same, Replanned { kept: vec![decision], ..Replanned::default() });
        assert_ne!(weeks.published_plan(week()).unwrap().1, tag);
        // A corrected answer sheet of more children changes seats.
        let more = "0007,Gus Gorse,5P,A,B,C,A,B,A\n0008,Hal Hazel,5P,B,A,A,D,A,B\n";
        let second = format!("{QUIZ}{more}").replace("Q1,Q2", "W1,W2");
        weeks.take_in(week(), vec![file("second.csv", &second)], None, Keeping::Keep).unwrap();
        let tag = weeks.plan_week(week(), None).unwrap().tag.clone();
        let changed = weeks.replanned(week()).unwrap().unwrap();
        let came: Vec<&str> = changed.seats.iter().filter(|s| s.from.is_none()).map(|s| s.student.as_str()).collect();
        assert_eq!(came, ["0007", "0008"], "{changed:?}");
        assert_eq!(changed.kept.len() + changed.without_effect.len(), 1);
        weeks.undo(week(), &tag).unwrap();
        assert_eq!(weeks.replanned(week()).unwrap(), None, "decided since");
    }

    #[test]
    fn the_last_word_on_a_child_counts() {
        let seat = |student: &str, to: &str| Decision::Seat {
            student: student.to_owned(),
            to: to.to_owned(),
            reason: String::new(),
            hold: false,
        };
        let last = last_words(&[seat("1", "g1"), seat("2", "g1"), seat("1", "g2")]);
        assert_eq!(last, [seat("2", "g1"), seat("1", "g2")]);
    }
}
