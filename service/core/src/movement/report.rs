//! Movement over the planned weeks as one value: who moved, how it went with each child, growth, and whether regrouping helps.
//!
//! In:  for each child the weeks with seat, target, state, time and fresh points by skill, and the verdict. Out: a [`Movement`], which
//! command and service only show (`published` has its JSON).
//! Growth: the median of slopes between the weeks that measured the skill, per week of seven days, and whether first and last differ by
//! more than their own error. By chance: of children whose target was not yet reached at its first check, how many reach the cut at the
//! last one, beside how many would if nobody had learnt. Regrouping: of the same children, those who changed groups against those who
//! stayed; never called an effect, and `enough` is false under ten on either side.
//! Keeps: `a_week_alone_has_no_moves_and_no_growth`, `numbers_of_groups_are_followed`, `the_published_shape`.
//! Not here: verdicts (`verdict`), chance (`chance`), which weeks there are (`sheaf-app`).

use super::chance::{Check, Spread, is_reliable_change};
use super::{Flow, Judged, Seats, TimeReceived, agreement_between, flows};
use crate::numeric::{Difference, Trend, difference_of_shares, theil_sen};
use crate::plan::SkillState;
use crate::roster::StudentId;
use crate::skills::SkillCode;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// Children on either side from which a difference may be told.
const ENOUGH: usize = 10;
/// Weeks that measured a skill from which its trend is told.
const TREND_WEEKS: usize = 3;

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
    /// Fresh points of this week by skill.
    pub checks: BTreeMap<SkillCode, Check>,
}

/// One child over all weeks.
#[derive(Debug, Clone, PartialEq)]
pub struct ChildWeeks {
    /// Id.
    pub student: StudentId,
    /// How it went with the skill last taught.
    pub judged: Judged,
    /// One entry a week; `None`: in no sheet and no list of that week.
    pub weeks: Vec<Option<ChildWeek>>,
}

/// Growth of one child in one skill.
#[derive(Debug, Clone, PartialEq)]
pub struct Growth {
    /// Skill.
    pub skill: SkillCode,
    /// Share of points at the first check.
    pub from: f64,
    /// Share at the last.
    pub to: f64,
    /// Whether they differ by more than their own error.
    pub is_reliable: bool,
    /// Slope a week with its 95 % interval; `None` under three weeks.
    pub trend: Option<Trend>,
}

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
    /// Met, beside chance.
    pub by_chance: ByChance,
    /// Who changed beside who stayed.
    pub regrouping: Regrouping,
}

/// Works movement out.
#[must_use]
pub fn movement(weeks: Vec<Date>, students: Vec<ChildWeeks>, cut: f64) -> Movement {
    let seats: Vec<Seats> = (0..weeks.len()).map(|w| seats_of(&students, w)).collect();
    let pairs = || weeks.iter().skip(1).zip(seats.windows(2));
    let growth = students.iter().map(|s| growth_of(s, &weeks)).collect();
    let seen = Seen::of(&students, cut);
    Movement {
        flows: pairs().map(|(week, pair)| (*week, flows(&pair[0], &pair[1]))).collect(),
        agreement: pairs().map(|(week, pair)| (*week, agreement_between(&pair[0], &pair[1]))).collect(),
        growth,
        by_chance: seen.by_chance(cut),
        regrouping: seen.regrouping(),
        weeks,
        students,
    }
}

fn seats_of(students: &[ChildWeeks], week: usize) -> Seats {
    let mut groups: BTreeMap<&str, Vec<StudentId>> = BTreeMap::new();
    for student in students {
        let group = student.weeks.get(week).and_then(Option::as_ref).and_then(|w| w.group.as_deref());
        if let Some(group) = group {
            groups.entry(group).or_default().push(student.student.clone());
        }
    }
    Seats::new(groups.iter().map(|(id, members)| (*id, members.as_slice())))
}

/// Checks of one skill with the days since the first week, in weeks.
fn checks_of(student: &ChildWeeks, weeks: &[Date], skill: &SkillCode) -> Vec<(f64, Check)> {
    let first = weeks.first().copied();
    let day = |week: &Date| first.map_or(0, |f| (*week - f).get_days());
    let known = weeks.iter().zip(&student.weeks).filter_map(|(week, known)| Some((day(week), known.as_ref()?)));
    known.filter_map(|(days, week)| Some((f64::from(days) / 7.0, *week.checks.get(skill)?))).collect()
}

fn growth_of(student: &ChildWeeks, weeks: &[Date]) -> Vec<Growth> {
    let skills: BTreeSet<&SkillCode> = student.weeks.iter().flatten().flat_map(|w| w.checks.keys()).collect();
    let of_skill = |skill: &SkillCode| {
        let checks = checks_of(student, weeks, skill);
        let ((_, from), (_, to)) = (checks.first().copied()?, checks.last().copied()?);
        let points: Vec<(f64, f64)> = checks.iter().map(|(at, check)| (*at, check.share())).collect();
        let trend = theil_sen(&points).filter(|_| points.len() >= TREND_WEEKS);
        let is_reliable = checks.len() > 1 && is_reliable_change(from, to);
        Some(Growth { skill: skill.clone(), from: from.share(), to: to.share(), is_reliable, trend })
    };
    skills.into_iter().filter_map(of_skill).collect()
}

/// A child whose target was checked when it was first taught, and later.
struct Again {
    skill: SkillCode,
    first: Check,
    last: Check,
    has_moved: bool,
}

/// What the first and last checks of the first target say.
struct Seen {
    again: Vec<Again>,
    /// Spread of shares at the first checks of each skill.
    spreads: BTreeMap<SkillCode, Spread>,
    cut: f64,
}

impl Seen {
    fn of(students: &[ChildWeeks], cut: f64) -> Self {
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

    fn is_met(&self, child: &Again) -> bool {
        child.last.share() >= self.cut - 1e-9
    }

    fn by_chance(&self, cut: f64) -> ByChance {
        let n = self.again.len();
        if n == 0 {
            return ByChance::default();
        }
        let chance =
            |a: &Again| self.spreads.get(&a.skill).map_or(0.0, |s| s.reaches_again(a.first, cut, a.last.possible));
        ByChance {
            n,
            observed: self.again.iter().filter(|a| self.is_met(a)).count() as f64 / n as f64,
            expected: self.again.iter().map(chance).sum::<f64>() / n as f64,
        }
    }

    fn regrouping(&self) -> Regrouping {
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
    use crate::movement::{judge, movement_json};
    use serde_json::Value;

    fn weeks(n: i8) -> Vec<Date> {
        (0..n).map(|w| jiff::civil::date(2026, 2, 2 + 7 * w)).collect()
    }

    /// A child whose group and points of 5 are given for each week.
    fn child(id: &str, weeks: &[Option<(&str, f64)>]) -> ChildWeeks {
        let skill = SkillCode::parse("4.NF.A.1").unwrap();
        let week = |(group, points): &(&str, f64)| ChildWeek {
            group: Some((*group).to_owned()),
            target: Some(skill.clone()),
            checks: BTreeMap::from([(skill.clone(), Check { points: *points, possible: 5.0 })]),
            ..ChildWeek::default()
        };
        let weeks: Vec<Option<ChildWeek>> = weeks.iter().map(|w| w.as_ref().map(week)).collect();
        ChildWeeks { student: StudentId::parse(id).unwrap(), judged: judge(&[], 0.8), weeks }
    }

    #[test]
    fn a_week_alone_has_no_moves_and_no_growth() {
        let m = movement(weeks(1), vec![child("1", &[Some(("g1", 2.0))])], 0.8);
        assert_eq!((m.flows.len(), m.agreement.len(), m.by_chance.n), (0, 0, 0));
        let growth = &m.growth[0][0];
        assert_eq!((growth.from, growth.to, growth.is_reliable, growth.trend), (0.4, 0.4, false, None));
        assert_eq!(movement(Vec::new(), Vec::new(), 0.8).regrouping, Regrouping::default());
    }

    #[test]
    fn numbers_of_groups_are_followed() {
        let stays = |id: &str| child(id, &[Some(("g1", 1.0)), Some(("g1", 2.0)), Some(("g1", 4.0))]);
        let moves = |id: &str| child(id, &[Some(("g2", 1.0)), None, Some(("g1", 1.0))]);
        let mut students: Vec<ChildWeeks> = (0..10).map(|n| stays(&format!("s{n}"))).collect();
        students.extend((0..10).map(|n| moves(&format!("t{n}"))));
        let m = movement(weeks(3), students, 0.8);
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
    fn the_published_shape() {
        let m = movement(weeks(2), vec![child("1", &[Some(("g1", 2.0)), Some(("g2", 4.0))])], 0.8);
        let json: Value = serde_json::from_str(&movement_json(&m).unwrap()).unwrap();
        assert_eq!(
            (&json["schema"], &json["from"], &json["to"]),
            (&"sheaf.movement/1".into(), &"2026-02-02".into(), &"2026-02-09".into())
        );
        let student = &json["students"][0];
        assert_eq!((&student["weeks"][1]["group"], &student["weeks"][1]["minutes_planned"]), (&"g2".into(), &0.into()));
        assert_eq!((&student["skills"][0]["from"], &student["skills"][0]["trend"]), (&0.4.into(), &Value::Null));
        assert_eq!(json["flows"][0]["students"], 1);
        assert_eq!(json["regrouping"]["enough"], false);
        for key in ["weeks", "agreement", "by_chance"] {
            assert!(!json[key].is_null(), "{key}");
        }
    }
}
