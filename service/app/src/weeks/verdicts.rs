//! What each planned week says of its children, and how it goes with every child and the skill last taught.
//!
//! In:  plans, fresh answers and attendance of the planned weeks. Out: [`WeekFacts`] of a week; a [`ChildVerdict`] for every child who
//! ever had a seat.
//! Keeps: a week counts by its own answers; those before it are in the state that its plan told. Not here: the rules
//! (`sheaf_core::movement`).

use super::plan_week::tag_of;
use super::{SchoolSetup, Stage, Week, Weeks};
use crate::error::AppError;
use sheaf_core::movement::{Check, ChildFacts, FreshAnswers, Judged, WeekFacts, judge_child};
use sheaf_core::plan::{Plan, StudentReport};
use sheaf_core::profile::{PatternTable, ShareTable, SkillMap, Timing, answers_look_guessed, count_patterns};
use sheaf_core::roster::{Student, StudentId};
use sheaf_core::scores::ResponseTable;
use sheaf_core::skills::SkillCode;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, PoisonError};

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
        let facts = self.facts(None, Some(last))?;
        let students: BTreeSet<&StudentId> =
            facts.iter().flat_map(|f| f.children.iter()).map(|c| &c.student.id).collect();
        let verdict = |student: &StudentId| {
            let (skill, judged) = judge_child(&facts, student, self.setup.school.mastery.cut)?;
            Some(ChildVerdict { student: student.clone(), skill, judged })
        };
        Ok(students.into_iter().filter_map(verdict).collect())
    }

    /// Facts of each planned week from `first` to `last`, the first first.
    pub(super) fn facts(&self, first: Option<Week>, last: Option<Week>) -> Result<Vec<WeekFacts>, AppError> {
        let is_planned = |s: Stage| matches!(s, Stage::Planned | Stage::PlanBehind);
        let is_within = |w: Week| first.is_none_or(|f| f <= w) && last.is_none_or(|l| w <= l);
        let mut weeks: Vec<Week> =
            self.weeks()?.iter().filter(|o| is_planned(o.stage) && is_within(o.week)).map(|o| o.week).collect();
        weeks.sort();
        weeks.into_iter().map(|week| self.facts_of(week)).collect()
    }

    fn facts_of(&self, week: Week) -> Result<WeekFacts, AppError> {
        let kept = self.kept(week)?;
        let setup = SchoolSetup::parse("the setup kept with the plan", &kept.setup)?;
        let time = self.time_received_by(week, &setup.school.blocks)?.into_iter().collect();
        Ok(WeekFacts { week: week.monday(), children: self.children_of(week, kept.revision)?, time })
    }

    /// Children of a week, remembered until sheets, students or the plan change: then plans made again are let go of, too.
    fn children_of(&self, week: Week, revision: i64) -> Result<Arc<Vec<ChildFacts>>, AppError> {
        let tag = tag_of(week, revision);
        let lock = || self.children_remembered.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, children)) = lock().get(&week).filter(|(known, _)| *known == tag) {
            return Ok(Arc::clone(children));
        }
        let children = Arc::new(self.children_read(week)?);
        lock().insert(week, (tag, Arc::clone(&children)));
        Ok(children)
    }

    fn children_read(&self, week: Week) -> Result<Vec<ChildFacts>, AppError> {
        let plan = self.plan(week)?;
        let mut uploads = self.store.uploads_of(week.monday())?;
        uploads.retain(|u| u.standing.counts());
        let table = self.read_together(&uploads)?.table;
        let answers = Answers::new(self, table);
        let mut children: Vec<ChildFacts> =
            plan.plan.students.iter().map(|s| child_facts(&plan.plan, s, &answers)).collect();
        children.sort_by(|a, b| a.student.id.cmp(&b.student.id));
        Ok(children)
    }
}

fn child_facts(plan: &Plan, student: &StudentReport, answers: &Answers) -> ChildFacts {
    let group = student.group.and_then(|at| plan.groups.get(at));
    let reports = || student.profile.iter().filter_map(|r| Some((plan.skills.get(r.skill)?.code.clone(), r)));
    let row = answers.table.student_index(&student.id);
    ChildFacts {
        student: Student {
            id: student.id.clone(),
            name: student.name.clone(),
            grade: student.grade.clone(),
            homeroom: student.homeroom.clone(),
            supports: student.supports.clone(),
        },
        group: group.map(|g| g.id.clone()),
        target: group.map(|g| g.target_skill.clone()),
        states: reports().map(|(code, r)| (code, r.state)).collect(),
        lacked: reports().filter(|(_, r)| r.is_lacked()).map(|(code, _)| code).collect(),
        fresh: row.map(|row| answers.fresh(row)).unwrap_or_default(),
        looks_guessed: row.and_then(|row| answers.guessed.get(row).copied()).unwrap_or(false),
    }
}

/// The answers of one week alone.
struct Answers {
    table: ResponseTable,
    shares: ShareTable,
    patterns: PatternTable,
    guessed: Vec<bool>,
    skills: SkillMap,
}

impl Answers {
    fn new(weeks: &Weeks, table: ResponseTable) -> Self {
        let mastery = &weeks.setup.school.mastery;
        let shares = ShareTable::new(&table, mastery.omitted);
        let timing = Timing::new(table.assessments(), None, mastery.half_life_weeks as f64);
        let patterns = count_patterns(&table, &timing);
        let guessed = answers_look_guessed(&table, &shares, &timing, &patterns);
        let skills = SkillMap::new(&table, &weeks.knowledge.graph);
        Answers { table, shares, patterns, guessed, skills }
    }

    /// A child's answers by skill.
    fn fresh(&self, row: usize) -> BTreeMap<SkillCode, FreshAnswers> {
        let of_skill = |(k, skill): (usize, SkillCode)| {
            let items = self.skills.items_of.get(k).map_or(&[][..], Vec::as_slice);
            let fresh = self.of_items(row, items);
            (fresh.n_items > 0).then_some((skill, fresh))
        };
        self.skills.skills.iter().map(|s| s.code.clone()).enumerate().filter_map(of_skill).collect()
    }

    fn of_items(&self, row: usize, items: &[usize]) -> FreshAnswers {
        let (mut n_items, mut check) = (0, Check::default());
        for &item in items {
            let points = self.table.items().get(item).map_or(1.0, |i| i.points);
            if let Some(share) = self.shares.share(&self.table, row, item) {
                n_items += 1;
                check.points += share * points;
                check.possible += points;
            }
        }
        let is_of_skill = |code: usize| {
            self.patterns.items_of.get(code).is_some_and(|offering| offering.iter().any(|i| items.contains(i)))
        };
        let counts = self.patterns.counts.get(row).into_iter().flatten();
        let seen = counts.filter(|c| c.seen > 0.0 && is_of_skill(c.code));
        let ideas = seen.filter_map(|c| Some((self.patterns.codes.get(c.code)?.clone(), c.seen))).collect();
        FreshAnswers { n_items, check, ideas }
    }
}
