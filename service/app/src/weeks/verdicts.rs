//! How it goes with every child and the skill last taught, from the weeks that are kept.
//!
//! In:  plans, fresh answers and attendance of the planned weeks. Out: a [`ChildVerdict`] for every child who ever had a seat.
//! Keeps: a week counts by its own answers; those before it are in the state that its plan told. Not here: the rules
//! (`sheaf_core::movement::judge`).

use super::{Stage, Week, Weeks};
use crate::error::AppError;
use sheaf_core::movement::{Judged, SkillWeek, TimeReceived, judge};
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
        let is_planned = |s: Stage| matches!(s, Stage::Planned | Stage::PlanBehind);
        let mut weeks: Vec<Week> =
            self.weeks()?.iter().filter(|o| is_planned(o.stage) && o.week <= last).map(|o| o.week).collect();
        weeks.sort();
        let looks = weeks.into_iter().map(|week| self.look_at(week)).collect::<Result<Vec<_>, _>>()?;
        let students: BTreeSet<&StudentId> = looks.iter().flat_map(|l| l.target_of.keys()).collect();
        let cut = self.setup.school.mastery.cut;
        let verdict = |student: &StudentId| {
            let skill = looks.iter().rev().find_map(|l| l.target_of.get(student))?.clone();
            let weeks: Vec<Option<SkillWeek>> = looks.iter().map(|l| l.skill_week(student, &skill)).collect();
            Some(ChildVerdict { student: student.clone(), judged: judge(&weeks, cut), skill })
        };
        Ok(students.into_iter().filter_map(verdict).collect())
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
        let time = self.time_received(week)?.into_iter().collect();
        Ok(WeekLook { plan, table, shares, patterns, guessed, skills, target_of, time })
    }
}

fn targets(plan: &Plan) -> BTreeMap<StudentId, SkillCode> {
    let seats = plan.groups.iter().flat_map(|g| g.members.iter().map(move |&m| (m, &g.target_skill)));
    seats.filter_map(|(m, skill)| Some((plan.students.get(m)?.id.clone(), skill.clone()))).collect()
}

/// What one week says.
struct WeekLook {
    plan: Arc<super::WeekPlan>,
    table: ResponseTable,
    shares: ShareTable,
    patterns: PatternTable,
    guessed: Vec<bool>,
    skills: SkillMap,
    target_of: BTreeMap<StudentId, SkillCode>,
    time: BTreeMap<StudentId, TimeReceived>,
}

impl WeekLook {
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
