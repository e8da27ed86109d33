//! How it goes with every child and the skill last taught, from the weeks that are kept.
//!
//! In:  plans, fresh answers and attendance of the planned weeks. Out: a [`ChildVerdict`] for every child who ever had a seat.
//! Keeps: a week counts by its own answers; those before it are in the state that its plan told. Not here: the rules
//! (`sheaf_core::movement::judge`).

use super::{SchoolSetup, Stage, Week, Weeks};
use crate::error::AppError;
use sheaf_core::movement::{Check, ChildWeek, Judged, SkillWeek, TimeReceived, judge};
use sheaf_core::plan::Plan;
use sheaf_core::profile::{PatternTable, ShareTable, SkillMap, Timing, answers_look_guessed, count_patterns};
use sheaf_core::roster::StudentId;
use sheaf_core::scores::ResponseTable;
use sheaf_core::skills::SkillCode;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// One child's verdict.
#[derive(Debug, Clone, PartialEq)]
pub struct ChildVerdict {
    /// Id.
    pub student: StudentId,
    /// The skill that the child's group was taught last.
    pub skill: SkillCode,
    /// How it went.
    pub judged: Judged,
}

impl Weeks {
    /// How it goes with every child who had a seat, up to and with a week.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn verdicts(&self, last: Week) -> Result<Vec<ChildVerdict>, AppError> {
        let looks = self.looks(None, Some(last))?;
        let students: BTreeSet<&StudentId> = looks.iter().flat_map(|l| l.target_of.keys()).collect();
        Ok(students.into_iter().filter_map(|student| self.verdict(&looks, student)).collect())
    }

    /// One child's verdict from looks at the weeks; `None` where the child never had a seat.
    pub(super) fn verdict(&self, looks: &[WeekLook], student: &StudentId) -> Option<ChildVerdict> {
        let skill = looks.iter().rev().find_map(|l| l.target_of.get(student))?.clone();
        let weeks: Vec<Option<SkillWeek>> = looks.iter().map(|l| l.skill_week(student, &skill)).collect();
        Some(ChildVerdict { student: student.clone(), judged: judge(&weeks, self.setup.school.mastery.cut), skill })
    }

    /// A look at each planned week from `first` to `last`, the first first.
    pub(super) fn looks(&self, first: Option<Week>, last: Option<Week>) -> Result<Vec<WeekLook>, AppError> {
        let is_planned = |s: Stage| matches!(s, Stage::Planned | Stage::PlanBehind);
        let is_within = |w: Week| first.is_none_or(|f| f <= w) && last.is_none_or(|l| w <= l);
        let mut weeks: Vec<Week> =
            self.weeks()?.iter().filter(|o| is_planned(o.stage) && is_within(o.week)).map(|o| o.week).collect();
        weeks.sort();
        weeks.into_iter().map(|week| self.look_at(week)).collect()
    }

    fn look_at(&self, week: Week) -> Result<WeekLook, AppError> {
        let plan = self.plan(week)?;
        let mut uploads = self.store.uploads_of(week.monday())?;
        uploads.retain(|u| u.standing.counts());
        let table = self.read_together(&uploads)?.table;
        let shares = ShareTable::new(&table, self.setup.school.mastery.omitted);
        let timing = Timing::new(table.assessments(), None, self.setup.school.mastery.half_life_weeks as f64);
        let patterns = count_patterns(&table, &timing);
        let guessed = answers_look_guessed(&table, &shares, &timing, &patterns);
        let skills = SkillMap::new(&table, &self.knowledge.graph);
        let target_of = targets(&plan.plan);
        let setup = SchoolSetup::parse("the setup kept with the plan", &self.kept(week)?.setup)?;
        let time = self.time_received_by(week, &setup.school.blocks)?.into_iter().collect();
        Ok(WeekLook { plan, table, shares, patterns, guessed, skills, target_of, time })
    }
}

fn targets(plan: &Plan) -> BTreeMap<StudentId, SkillCode> {
    let seats = plan.groups.iter().flat_map(|g| g.members.iter().map(move |&m| (m, &g.target_skill)));
    seats.filter_map(|(m, skill)| Some((plan.students.get(m)?.id.clone(), skill.clone()))).collect()
}

/// What one week says.
pub(super) struct WeekLook {
    pub(super) plan: Arc<super::WeekPlan>,
    table: ResponseTable,
    shares: ShareTable,
    patterns: PatternTable,
    guessed: Vec<bool>,
    skills: SkillMap,
    pub(super) target_of: BTreeMap<StudentId, SkillCode>,
    time: BTreeMap<StudentId, TimeReceived>,
}

impl WeekLook {
    /// The child's week as movement tells it; `None` where the child is in no sheet and no list of the week.
    pub(super) fn child_week(&self, student: &StudentId) -> Option<ChildWeek> {
        let plan = &self.plan.plan;
        let report = plan.students.iter().find(|s| s.id == *student)?;
        let target = self.target_of.get(student).cloned();
        let state = target.as_ref().and_then(|skill| self.skill_week(student, skill)).and_then(|week| week.state);
        let checks = self.skills.skills.iter().enumerate().filter_map(|(k, skill)| {
            let mut week = SkillWeek::default();
            self.add_answers(&mut week, self.table.student_index(student)?, k);
            let check = Check { points: week.points, possible: week.points_possible };
            (week.n_items > 0).then(|| (skill.code.clone(), check))
        });
        Some(ChildWeek {
            group: report.group.and_then(|at| plan.groups.get(at)).map(|g| g.id.clone()),
            state,
            time: self.time.get(student).copied().unwrap_or_default(),
            checks: checks.collect(),
            target,
        })
    }

    fn skill_week(&self, student: &StudentId, skill: &SkillCode) -> Option<SkillWeek> {
        let report = self.plan.plan.students.iter().find(|s| s.id == *student)?;
        let place = self.plan.plan.skills.iter().position(|s| s.code == *skill);
        let standing = report.profile.iter().find(|r| Some(r.skill) == place);
        let mut week = SkillWeek {
            is_target: self.target_of.get(student) == Some(skill),
            time: self.time.get(student).copied().unwrap_or_default(),
            state: standing.map(|r| r.state),
            ..SkillWeek::default()
        };
        let asked = self.skills.skills.iter().position(|s| s.code == *skill);
        if let (Some(row), Some(k)) = (self.table.student_index(student), asked) {
            self.add_answers(&mut week, row, k);
        }
        Some(week)
    }

    fn add_answers(&self, week: &mut SkillWeek, row: usize, k: usize) {
        let items = self.skills.items_of.get(k).map_or(&[][..], Vec::as_slice);
        for &item in items {
            let points = self.table.items().get(item).map_or(1.0, |i| i.points);
            if let Some(share) = self.shares.share(&self.table, row, item) {
                week.n_items += 1;
                week.points += share * points;
                week.points_possible += points;
            }
        }
        week.looks_guessed = self.guessed.get(row).copied().unwrap_or(false);
        let is_of_skill = |code: usize| {
            self.patterns.items_of.get(code).is_some_and(|offering| offering.iter().any(|i| items.contains(i)))
        };
        let counts = self.patterns.counts.get(row).into_iter().flatten();
        let ideas = counts.filter(|c| c.seen > 0.0 && is_of_skill(c.code));
        week.ideas = ideas.filter_map(|c| Some((self.patterns.codes.get(c.code)?.clone(), c.seen))).collect();
    }
}
