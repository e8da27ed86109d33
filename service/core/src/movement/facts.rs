//! What one planned week says of each child: seat, target, states, fresh answers by skill, time, and what a person decided. What movement
//! is made from.
//!
//! In:  facts of a week, by child in order of id. Out: the child's week as movement shows it, and as a verdict needs it.
//! Keeps: `a_child_of_no_list_has_no_week`; a skill without a fresh answer has no check (`no_answer_is_no_check`).
//! Not here: where facts come from (`sheaf-app`), what follows from them (`report`, `verdict`).

use super::report::ChildWeek;
use super::{Check, PeoplesWord, SkillWeek, TimeReceived};
use crate::plan::SkillState;
use crate::roster::{Student, StudentId};
use crate::skills::SkillCode;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// Fresh answers of one child on one skill in one week.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FreshAnswers {
    /// Scored items.
    pub n_items: usize,
    /// Points got on them, and possible.
    pub check: Check,
    /// Wrong ideas seen, with how often.
    pub ideas: Vec<(String, f64)>,
}

/// One child in one week.
#[derive(Debug, Clone, PartialEq)]
pub struct ChildFacts {
    /// Who, as the sheets and the list say.
    pub student: Student,
    /// Id of the group; `None`: no seat.
    pub group: Option<String>,
    /// What the group was taught.
    pub target: Option<SkillCode>,
    /// States in the week's plan.
    pub states: BTreeMap<SkillCode, SkillState>,
    /// Skills that the plan says the child lacks.
    pub lacked: BTreeSet<SkillCode>,
    /// Fresh answers by skill, each of at least one item.
    pub fresh: BTreeMap<SkillCode, FreshAnswers>,
    /// Whether the week's answers look guessed.
    pub looks_guessed: bool,
    /// Time planned and received; nothing where nothing was noted.
    pub time: TimeReceived,
    /// What people decided.
    pub decided: PeoplesWord,
}

/// One week.
#[derive(Debug, Clone, PartialEq)]
pub struct WeekFacts {
    /// Its Monday.
    pub week: Date,
    /// Every child of the week's sheets and list, in order of id.
    pub children: Vec<ChildFacts>,
}

impl WeekFacts {
    /// The child; `None`: in no sheet and no list of this week.
    #[must_use]
    pub fn child(&self, student: &StudentId) -> Option<&ChildFacts> {
        self.children.binary_search_by(|c| c.student.id.cmp(student)).ok().and_then(|at| self.children.get(at))
    }
}

impl ChildFacts {
    pub(super) fn child_week(&self) -> ChildWeek {
        ChildWeek {
            group: self.group.clone(),
            target: self.target.clone(),
            state: self.target.as_ref().and_then(|skill| self.states.get(skill).copied()),
            time: self.time,
            decided: self.decided.clone(),
            checks: self.fresh.iter().map(|(skill, fresh)| (skill.clone(), fresh.check)).collect(),
        }
    }

    pub(super) fn skill_week(&self, skill: &SkillCode) -> SkillWeek {
        let fresh = self.fresh.get(skill);
        let check = fresh.map_or_else(Check::default, |f| f.check);
        SkillWeek {
            is_target: self.target.as_ref() == Some(skill),
            time: self.time,
            n_items: fresh.map_or(0, |f| f.n_items),
            points: check.points,
            points_possible: check.possible,
            state: self.states.get(skill).copied(),
            is_lacked: self.lacked.contains(skill),
            ideas: fresh.map(|f| f.ideas.clone()).unwrap_or_default(),
            looks_guessed: self.looks_guessed,
        }
    }
}

#[cfg(test)]
pub(super) mod made_up {
    use super::*;

    /// A child with points of `possible` on one skill, which is the target where there is a group.
    pub fn child(id: &str, group: Option<&str>, skill: &str, points: f64, possible: f64) -> ChildFacts {
        let skill = SkillCode::parse(skill).unwrap();
        let fresh = FreshAnswers { n_items: possible as usize, check: Check { points, possible }, ideas: Vec::new() };
        ChildFacts {
            student: Student {
                grade: "4".into(),
                homeroom: "4A".into(),
                ..Student::unnamed(StudentId::parse(id).unwrap())
            },
            group: group.map(str::to_owned),
            target: group.map(|_| skill.clone()),
            states: BTreeMap::from([(skill.clone(), SkillState::NotYet)]),
            lacked: BTreeSet::from([skill.clone()]),
            fresh: if possible > 0.0 { BTreeMap::from([(skill, fresh)]) } else { BTreeMap::new() },
            looks_guessed: false,
            time: TimeReceived { n_sessions: 3, n_there: 3, minutes_planned: 90, minutes_received: 90 },
            decided: PeoplesWord::default(),
        }
    }

    /// Week `n` from 0; everybody was at three sessions of 30 minutes.
    pub fn week(n: i32, mut children: Vec<ChildFacts>) -> WeekFacts {
        children.sort_by(|a, b| a.student.id.cmp(&b.student.id));
        let week = jiff::civil::date(2026, 2, 2).saturating_add(jiff::Span::new().days(7 * i64::from(n)));
        WeekFacts { week, children }
    }
}

#[cfg(test)]
mod tests {
    use super::made_up::{child, week};
    use super::*;

    fn id(text: &str) -> StudentId {
        StudentId::parse(text).unwrap()
    }

    #[test]
    fn a_child_of_no_list_has_no_week() {
        let facts = week(0, vec![child("2", Some("g1"), "4.NF.A.1", 1.0, 4.0), child("1", None, "4.NF.A.1", 1.0, 4.0)]);
        assert_eq!(facts.child(&id("3")), None);
        assert_eq!(facts.child(&id("1")).unwrap().child_week().group, None);
        assert_eq!(facts.child(&id("2")).unwrap().child_week().group.as_deref(), Some("g1"));
    }

    #[test]
    fn no_answer_is_no_check() {
        let facts = week(0, vec![child("2", Some("g1"), "4.NF.A.1", 0.0, 0.0)]);
        let child = facts.child(&id("2")).unwrap();
        assert!(child.child_week().checks.is_empty());
        let skill_week = child.skill_week(&SkillCode::parse("4.NF.A.1").unwrap());
        assert!(skill_week.is_target && skill_week.n_items == 0);
    }
}
