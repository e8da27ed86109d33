//! Movement over the planned weeks as one value: who moved, how it went with each child, growth, and whether regrouping helps.
//!
//! In:  the facts of each week, the first first. Out: a [`Movement`] of every child who ever had a seat, which command, API, page and
//! workbook only show (`published` has its JSON).
//! Keeps: `a_week_alone_has_no_moves_and_no_growth`, `numbers_of_groups_are_followed`, `the_published_shape`,
//! `the_skill_last_taught_is_judged`, `weeks_without_a_plan_are_named`.
//! Not here: verdicts (`verdict`), growth (`growth`), chance (`regrouping`), which weeks there are (`sheaf-app`).

use super::facts::{ChildFacts, WeekFacts};
use super::fairness::{CoreProblem, PartOfSchool, core_problems, parts_of_school};
use super::growth::{Growth, growth_of};
use super::next_step::next_step;
use super::regrouping::{ByChance, Regrouping, Seen};
use super::seats::{Way, agreement_of, flows_of};
use super::state_changes::{StateChanges, state_changes};
use super::{Check, Flow, Judged, PeoplesWord, SkillWeek, TimeReceived, Verdict, judge};
use crate::plan::SkillState;
use crate::profile::ErrorCatalogue;
use crate::roster::{Student, StudentId};
use crate::skills::{SkillCode, SkillGraph};
use jiff::civil::Date;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// One child in one week.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ChildWeek {
    /// Id of the group; `None`: no seat.
    pub group: Option<String>,
    /// What the group was taught.
    pub target: Option<SkillCode>,
    /// State of the target in the week's plan.
    pub state: Option<SkillState>,
    /// Time planned and received.
    pub time: TimeReceived,
    /// What people decided.
    pub decided: PeoplesWord,
    /// Fresh points of this week by skill.
    pub checks: BTreeMap<SkillCode, Check>,
}

/// One child over all weeks.
#[derive(Debug, Clone, PartialEq)]
pub struct ChildWeeks {
    /// Who, as last entered.
    pub student: Student,
    /// The skill last taught.
    pub skill: SkillCode,
    /// How it went with it.
    pub judged: Judged,
    /// What to try next, in one sentence; empty where nothing needs to change.
    pub next: String,
    /// One entry a week; `None`: in no sheet and no list of that week.
    pub weeks: Vec<Option<ChildWeek>>,
}

impl ChildWeeks {
    fn group_in(&self, week: usize) -> Option<&str> {
        self.weeks.get(week)?.as_ref()?.group.as_deref()
    }

    /// Group of the last week in which the child had a seat.
    #[must_use]
    pub fn last_group(&self) -> Option<&str> {
        self.weeks.iter().rev().flatten().find_map(|w| w.group.as_deref())
    }
}

/// Movement over the weeks.
#[derive(Debug, Clone, PartialEq)]
pub struct Movement {
    /// Planned weeks, by their Mondays, the first first.
    pub weeks: Vec<Date>,
    /// Children, in order of id.
    pub students: Vec<ChildWeeks>,
    /// Growth of each child, in the same order.
    pub growth: Vec<Vec<Growth>>,
    /// Moves into each week but the first.
    pub flows: Vec<(Date, Vec<Flow>)>,
    /// How alike the grouping is to the week before; `None` where fewer than two children sat in both.
    pub agreement: Vec<(Date, Option<f64>)>,
    /// What turned to met and back since the week before.
    pub state_changes: Vec<(Date, StateChanges)>,
    /// Met, beside chance.
    pub by_chance: ByChance,
    /// Who changed beside who stayed.
    pub regrouping: Regrouping,
    /// Time and length of stay by part of the school.
    pub parts: Vec<PartOfSchool>,
    /// Skills for the class lesson, of the last week.
    pub core_problems: Vec<CoreProblem>,
}

impl Movement {
    /// How many children have a verdict.
    #[must_use]
    pub fn n_with(&self, verdict: Verdict) -> usize {
        self.students.iter().filter(|s| s.judged.verdict == verdict).count()
    }

    /// Weeks between the first and the last that have no plan, one sentence; `None` where there are none.
    #[must_use]
    pub fn gaps(&self) -> Option<String> {
        let (first, last) = (self.weeks.first()?, self.weeks.last()?);
        let between = first.series(jiff::Span::new().days(7)).take_while(|week| week < last);
        let missing: Vec<String> =
            between.filter(|week| !self.weeks.contains(week)).map(|week| week.to_string()).collect();
        let weeks = if missing.len() == 1 { "the week" } else { "the weeks" };
        (!missing.is_empty()).then(|| {
            format!(
                "No plan for {weeks} of {}: nothing is put in between, and weeks in a row leave them out.",
                missing.join(", ")
            )
        })
    }

    /// Growth of a child in the skill last taught, where it was checked.
    #[must_use]
    pub fn growth_in_target(&self, at: usize) -> Option<&Growth> {
        let skill = &self.students.get(at)?.skill;
        self.growth.get(at)?.iter().find(|g| g.skill == *skill)
    }
}

/// A child's weeks; `None`: in no sheet and no list of that week.
type Followed<'a> = Vec<Option<&'a ChildFacts>>;

/// Works movement out. A share of points of `cut` or more counts as reached.
#[must_use]
pub fn movement(facts: &[WeekFacts], cut: f64, graph: &SkillGraph, catalogue: &ErrorCatalogue) -> Movement {
    let weeks: Vec<Date> = facts.iter().map(|f| f.week).collect();
    let students: Vec<ChildWeeks> =
        followed(facts).par_iter().filter_map(|child| child_weeks(child, cut, graph, catalogue)).collect();
    let ways: Vec<(Date, Vec<Way<'_>>)> = (1..weeks.len()).map(|at| (weeks[at], ways_into(&students, at))).collect();
    let seen = Seen::of(&students, cut);
    Movement {
        flows: ways.iter().map(|(week, ways)| (*week, flows_of(ways))).collect(),
        agreement: ways.iter().map(|(week, ways)| (*week, agreement_of(ways))).collect(),
        state_changes: facts.par_windows(2).map(|pair| (pair[1].week, state_changes(&pair[0], &pair[1]))).collect(),
        growth: students.par_iter().map(|s| growth_of(s, &weeks, cut, |skill| seen.spread(skill))).collect(),
        by_chance: seen.by_chance(),
        regrouping: seen.regrouping(),
        parts: parts_of_school(&students),
        core_problems: facts.last().map(core_problems).unwrap_or_default(),
        weeks,
        students,
    }
}

/// Children who ever had a seat, in order of id.
fn followed(facts: &[WeekFacts]) -> Vec<Followed<'_>> {
    let mut children: BTreeMap<&StudentId, Followed<'_>> = BTreeMap::new();
    for (at, week) in facts.iter().enumerate() {
        for child in &week.children {
            children.entry(&child.student.id).or_insert_with(|| vec![None; facts.len()])[at] = Some(child);
        }
    }
    children.into_values().filter(|weeks| weeks.iter().flatten().any(|c| c.group.is_some())).collect()
}

/// How it went with the skill last taught; `None` where the child never had a seat.
fn child_weeks(child: &Followed<'_>, cut: f64, graph: &SkillGraph, catalogue: &ErrorCatalogue) -> Option<ChildWeeks> {
    let skill = child.iter().rev().flatten().find_map(|c| c.target.clone())?;
    let weeks: Vec<Option<SkillWeek>> = child.iter().map(|c| c.map(|c| c.skill_week(&skill))).collect();
    let judged = judge(&weeks, cut, catalogue);
    let last = child.iter().rev().flatten().next()?;
    let next = next_step(last, &skill, &judged, graph, catalogue);
    let weeks = child.iter().map(|c| c.map(ChildFacts::child_week)).collect();
    Some(ChildWeeks { student: last.student.clone(), skill, judged, next, weeks })
}

/// Where each child with a seat in this week or the one before was and is.
fn ways_into(students: &[ChildWeeks], week: usize) -> Vec<Way<'_>> {
    let ways = students.iter().map(|s| (s.group_in(week - 1), s.group_in(week)));
    ways.filter(|way| *way != (None, None)).collect()
}

#[cfg(test)]
mod tests {
    use super::super::facts::made_up::{child, week};
    use super::*;
    use crate::movement::movement_json;
    use crate::numeric::Trend;
    use serde_json::Value;

    const SKILL: &str = "4.NF.A.1";

    fn of_weeks(weeks: &[WeekFacts]) -> Movement {
        movement(weeks, 0.8, &SkillGraph::builtin().unwrap(), &ErrorCatalogue::default())
    }

    /// Points of 5 in a group; `None`: not in the week.
    type Seat = Option<(&'static str, f64)>;

    fn weeks_of(children: &[(String, Vec<Seat>)]) -> Vec<WeekFacts> {
        let n_weeks = children.iter().map(|(_, seats)| seats.len()).max().unwrap_or(0);
        let of_week = |at: usize| {
            let here = children.iter().filter_map(|(id, seats)| Some((id, seats.get(at)?.as_ref()?)));
            here.map(|(id, (group, points))| child(id, Some(group), SKILL, *points, 5.0)).collect()
        };
        (0..n_weeks).map(|at| week(i32::try_from(at).unwrap(), of_week(at))).collect()
    }

    #[test]
    fn a_week_alone_has_no_moves_and_no_growth() {
        let m = of_weeks(&weeks_of(&[("1".into(), vec![Some(("g1", 2.0))])]));
        assert_eq!((m.flows.len(), m.agreement.len(), m.by_chance.n), (0, 0, 0));
        let growth = &m.growth[0][0];
        assert_eq!((growth.from, growth.to, growth.is_reliable, growth.trend), (0.4, 0.4, false, None));
        assert_eq!(of_weeks(&[]).regrouping, Regrouping::default());
    }

    #[test]
    fn weeks_without_a_plan_are_named() {
        let of = |weeks: &[i32]| of_weeks(&weeks.iter().map(|n| week(*n, Vec::new())).collect::<Vec<_>>()).gaps();
        assert_eq!(of(&[0, 1, 2]), None);
        assert_eq!(of(&[]), None);
        let one = of(&[0, 2]).unwrap();
        assert!(one.starts_with("No plan for the week of 2026-02-09: "), "{one}");
        assert!(of(&[0, 3, 4]).unwrap().contains("the weeks of 2026-02-09, 2026-02-16: "));
    }

    #[test]
    fn numbers_of_groups_are_followed() {
        let stays = |n: usize| (format!("s{n}"), vec![Some(("g1", 1.0)), Some(("g1", 2.0)), Some(("g1", 4.0))]);
        let moves = |n: usize| (format!("t{n}"), vec![Some(("g2", 1.0)), None, Some(("g1", 1.0))]);
        let children: Vec<_> = (0..10).map(stays).chain((0..10).map(moves)).collect();
        let m = of_weeks(&weeks_of(&children));
        let of_last: Vec<(Option<&str>, Option<&str>, usize)> =
            m.flows[1].1.iter().map(|f| (f.from.as_deref(), f.to.as_deref(), f.n_students)).collect();
        assert_eq!(of_last, [(None, Some("g1"), 10), (Some("g1"), Some("g1"), 10)]);
        let r = m.regrouping;
        assert_eq!((r.n_moved, r.n_moved_met, r.n_stayed, r.n_stayed_met, r.is_enough), (10, 0, 10, 10, true));
        assert_eq!(r.difference.unwrap().difference, -1.0);
        assert_eq!((m.by_chance.n, m.by_chance.observed), (20, 0.5));
        assert!(m.by_chance.expected < 0.25, "{:?}", m.by_chance);
        let Trend { slope, low, high, .. } = m.growth[0][0].trend.unwrap();
        assert!((slope - 0.3).abs() < 1e-9 && low <= slope && slope <= high);
        assert_eq!(m.growth[19][0].trend, None, "two weeks are no trend");
    }

    #[test]
    fn the_skill_last_taught_is_judged() {
        let first = week(0, vec![child("1", Some("g1"), "4.OA.A.3", 1.0, 5.0)]);
        let later = week(1, vec![child("1", Some("g2"), SKILL, 1.0, 5.0), child("2", None, SKILL, 5.0, 5.0)]);
        let m = of_weeks(&[first, later]);
        assert_eq!(m.students.len(), 1, "who never had a seat is not in it");
        assert_eq!((m.students[0].skill.as_str(), m.students[0].last_group()), (SKILL, Some("g2")));
        assert!(m.growth_in_target(0).is_some_and(|g| g.skill.as_str() == SKILL && g.n_checks == 1));
    }

    #[test]
    fn the_published_shape() {
        let m = of_weeks(&weeks_of(&[("1".into(), vec![Some(("g1", 2.0)), Some(("g2", 4.0))])]));
        let json: Value = serde_json::from_str(&movement_json(&m).unwrap()).unwrap();
        assert_eq!(
            (&json["schema"], &json["from"], &json["to"]),
            (&"sheaf.movement/1".into(), &"2026-02-02".into(), &"2026-02-09".into())
        );
        let student = &json["students"][0];
        assert_eq!(
            (&student["weeks"][1]["group"], &student["weeks"][1]["minutes_planned"]),
            (&"g2".into(), &90.into())
        );
        assert_eq!((&student["skills"][0]["from"], &student["skills"][0]["trend"]), (&0.4.into(), &Value::Null));
        assert_eq!(json["flows"][0]["students"], 1);
        assert_eq!(json["regrouping"]["enough"], false);
        for key in ["weeks", "agreement", "by_chance"] {
            assert!(!json[key].is_null(), "{key}");
        }
    }
}
