//! What each planned week says of its children: made from plan, answers and attendance once, kept, and read for every look back.
//!
//! In:  the plan as it was handed out, the week's own answers, attendance by the timetable it was planned with, what people decided.
//! Out: [`WeekFacts`], each child under the id that it has now, with what the list of students adds to what the sheets say.
//! Keeps: facts that are missing, damaged or of another way of counting are made again (`facts_are_made_again_where_they_are_missing`),
//! and come to the same (`facts_read_are_facts_made`); a week counts by its own answers, those before it are in the state that its plan
//! told. Not here: their text (`kept_facts`), what follows from them (`sheaf_core::movement`).

use super::kept_facts::{BASIS, Codes, from_text, to_text};
use super::overrule::{Decision, Decisions};
use super::{SchoolSetup, Stage, Week, Weeks};
use crate::error::AppError;
use crate::student_list::fill;
use rayon::prelude::*;
use serde::Deserialize;
use sheaf_core::movement::{Check, ChildFacts, FreshAnswers, GivenSeat, PeoplesWord, Stay, TimeReceived, WeekFacts};
use sheaf_core::plan::SkillState;
use sheaf_core::profile::{PatternTable, ShareTable, SkillMap, Timing, answers_look_guessed, count_patterns};
use sheaf_core::roster::{MasterySettings, Student, StudentId};
use sheaf_core::scores::ResponseTable;
use sheaf_core::skills::{SkillCode, SkillGraph};
use sheaf_store::FactsOfChildren;
use std::collections::BTreeMap;

/// What facts need of a published plan.
#[derive(Deserialize)]
struct Published {
    students: Vec<PublishedStudent>,
    groups: Vec<PublishedGroup>,
}

#[derive(Deserialize)]
struct PublishedStudent {
    id: String,
    group: Option<String>,
    profile: Vec<PublishedSkill>,
}

#[derive(Deserialize)]
struct PublishedSkill {
    skill: String,
    mastery: f64,
    state: String,
}

#[derive(Deserialize)]
struct PublishedGroup {
    id: String,
    target_skill: String,
}

impl Weeks {
    /// Facts of each planned week from `first` to `last`, the first first.
    pub(super) fn facts(&self, first: Option<Week>, last: Option<Week>) -> Result<Vec<WeekFacts>, AppError> {
        let is_planned = |s: Stage| matches!(s, Stage::Planned | Stage::PlanBehind);
        let is_within = |w: Week| first.is_none_or(|f| f <= w) && last.is_none_or(|l| w <= l);
        let mut weeks: Vec<Week> =
            self.weeks()?.iter().filter(|o| is_planned(o.stage) && is_within(o.week)).map(|o| o.week).collect();
        weeks.sort();
        let (Some(from), Some(to)) = (weeks.first(), weeks.last()) else { return Ok(Vec::new()) };
        let kept = self.store.facts(from.monday(), to.monday(), BASIS)?;
        let listed: BTreeMap<StudentId, Student> =
            self.store.students()?.into_iter().map(|s| (s.id.clone(), s)).collect();
        // Reading the texts is most of the work of a look back over a year.
        let read: Vec<Option<Vec<ChildFacts>>> =
            weeks.par_iter().map(|week| kept.get(&week.monday()).and_then(children_of)).collect();
        let facts_of = |(week, read): (Week, Option<Vec<ChildFacts>>)| {
            let mut children = read.map_or_else(|| self.make_facts(week), Ok)?;
            children.iter_mut().for_each(|child| fill_from(&listed, &mut child.student));
            Ok(WeekFacts { week: week.monday(), children })
        };
        weeks.into_iter().zip(read).map(facts_of).collect()
    }

    /// Works a week's facts out and keeps them.
    fn make_facts(&self, week: Week) -> Result<Vec<ChildFacts>, AppError> {
        let changes = self.store.changes_of(week.monday())?;
        let children = self.facts_made(week)?;
        let texts: FactsOfChildren =
            children.iter().map(|c| Ok((c.student.id.to_string(), to_text(c)?))).collect::<Result<_, AppError>>()?;
        self.store.keep_facts(week.monday(), changes, BASIS, &texts)?;
        Ok(children)
    }

    fn facts_made(&self, week: Week) -> Result<Vec<ChildFacts>, AppError> {
        let kept = self.kept(week)?;
        let setup = SchoolSetup::parse("the setup kept with the plan", &kept.setup)?;
        let published: Published = serde_json::from_str(&kept.published).map_err(AppError::our_fault)?;
        let mut uploads = self.store.uploads_of(week.monday())?;
        uploads.retain(|u| u.standing.counts());
        let table = self.read_together(&uploads)?.table;
        let answers = Answers::new(&setup.school.mastery, &self.knowledge.graph, table);
        let groups = published.groups.iter().filter_map(|g| Some((g.id.as_str(), SkillCode::parse(&g.target_skill)?)));
        let made = Making {
            groups: groups.collect(),
            decisions: Decisions::from_json(&kept.overrules)?.done,
            time: self.time_received_by(week, &setup.school.blocks)?.into_iter().collect(),
            answers: &answers,
        };
        let newest = self.newest_ids()?;
        let mut children: BTreeMap<StudentId, ChildFacts> = BTreeMap::new();
        for student in &published.students {
            let Some(own) = StudentId::parse(&student.id) else { continue };
            let id = newest.get(&own).unwrap_or(&own).clone();
            // A child who stood in the plan under two ids is where it had a seat.
            if children.get(&id).is_none_or(|known| known.group.is_none()) {
                children.insert(id.clone(), made.child(student, id));
            }
        }
        Ok(children.into_values().collect())
    }
}

/// `None` where one of them does not read back.
fn children_of(texts: &FactsOfChildren) -> Option<Vec<ChildFacts>> {
    let mut codes = Codes::default();
    texts.iter().map(|(id, text)| from_text(StudentId::parse(id)?, text, &mut codes)).collect()
}

fn fill_from(listed: &BTreeMap<StudentId, Student>, student: &mut Student) {
    if let Some(entry) = listed.get(&student.id) {
        fill(student, entry);
    }
}

/// One week's facts in the making.
struct Making<'a> {
    /// Groups with their targets.
    groups: BTreeMap<&'a str, SkillCode>,
    decisions: Vec<Decision>,
    time: BTreeMap<StudentId, TimeReceived>,
    answers: &'a Answers,
}

impl Making<'_> {
    fn child(&self, student: &PublishedStudent, id: StudentId) -> ChildFacts {
        let row = self.answers.table.student_index(&id);
        let in_sheets = row.and_then(|row| self.answers.table.students().get(row));
        let group = student.group.as_deref().filter(|g| self.groups.contains_key(g));
        let skills = || student.profile.iter().filter_map(|p| Some((SkillCode::parse(&p.skill)?, p)));
        ChildFacts {
            group: group.map(str::to_owned),
            target: group.and_then(|g| self.groups.get(g)).cloned(),
            states: skills().filter_map(|(code, p)| Some((code, SkillState::parse(&p.state)?))).collect(),
            lacked: skills().filter(|(_, p)| p.mastery < 0.5).map(|(code, _)| code).collect(),
            fresh: row.map(|row| self.answers.fresh(row)).unwrap_or_default(),
            looks_guessed: row.and_then(|row| self.answers.guessed.get(row).copied()).unwrap_or(false),
            time: self.time.get(&id).copied().unwrap_or_default(),
            decided: self.decided(&student.id, group),
            student: in_sheets.cloned().unwrap_or_else(|| Student::unnamed(id)),
        }
    }

    /// The last word on the child's seat, if the child sits there, and on what its group is taught.
    fn decided(&self, student: &str, group: Option<&str>) -> PeoplesWord {
        let mut word = PeoplesWord::default();
        for decision in &self.decisions {
            match decision {
                Decision::Seat { student: who, to, reason, hold } if who == student => {
                    let stay = if *hold { Stay::Held } else { Stay::ThisWeek };
                    word.seat = (group == Some(to)).then(|| GivenSeat { reason: reason.clone(), stay });
                }
                Decision::Target { group: of, reason, .. } if group == Some(of) => word.target = Some(reason.clone()),
                _ => {}
            }
        }
        word
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
    fn new(mastery: &MasterySettings, graph: &SkillGraph, table: ResponseTable) -> Self {
        let shares = ShareTable::new(&table, mastery.omitted);
        let timing = Timing::new(table.assessments(), None, mastery.half_life_weeks as f64);
        let patterns = count_patterns(&table, &timing);
        let guessed = answers_look_guessed(&table, &shares, &timing, &patterns);
        let skills = SkillMap::new(&table, graph);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::weeks::Keeping;
    use crate::weeks::small_quiz::{QUIZ, file, week, weeks};

    fn two_weeks() -> Weeks {
        let weeks = weeks();
        for (at, quiz) in [(week(), QUIZ.to_owned()), (week().next(), QUIZ.replace("Q1", "V1"))] {
            weeks.take_in(at, vec![file("q.csv", &quiz)], None, Keeping::Keep).unwrap();
            weeks.plan_week(at, None).unwrap();
        }
        weeks
    }

    fn is_kept(weeks: &Weeks, at: Week) -> bool {
        weeks.store.facts(at.monday(), at.monday(), BASIS).unwrap().contains_key(&at.monday())
    }

    #[test]
    fn facts_read_are_facts_made() {
        let weeks = two_weeks();
        let made = weeks.facts(None, None).unwrap();
        assert!(is_kept(&weeks, week()) && is_kept(&weeks, week().next()));
        assert_eq!(weeks.facts(None, None).unwrap(), made);
        let first = &made[0].children[0];
        assert_eq!((first.student.name.as_str(), first.student.homeroom.as_str()), ("Ada Ash", "5P"));
        assert!(made[0].children.iter().any(|c| c.group.is_some() && c.target.is_some() && !c.lacked.is_empty()));
        assert!(first.states.len() == 2 && first.fresh.values().all(|f| f.n_items == 3));
    }

    #[test]
    fn facts_are_made_again_where_they_are_missing() {
        let weeks = two_weeks();
        let made = weeks.facts(None, None).unwrap();
        let changes = weeks.store.changes_of(week().monday()).unwrap();
        for (basis, text) in [(BASIS, "{}"), ("another way", "[]")] {
            weeks.store.keep_facts(week().monday(), changes, basis, &[("0001".to_owned(), text.to_owned())]).unwrap();
            assert_eq!(weeks.facts(None, None).unwrap(), made);
            assert!(is_kept(&weeks, week()));
        }
        weeks.put_attendance(week(), &file("there.csv", "id,Mon 09:00\n0001,absent\n")).unwrap();
        assert!(!is_kept(&weeks, week()) && is_kept(&weeks, week().next()));
        let noted = weeks.facts(None, None).unwrap();
        assert_eq!((noted[0].children[0].time.n_sessions, noted[0].children[0].time.n_there), (1, 0));
        weeks.plan_week(week(), None).unwrap();
        assert_eq!(weeks.facts(None, None).unwrap(), noted, "planned again the same");
    }

    #[test]
    fn what_a_person_decided_stands_with_its_reason() {
        let weeks = two_weeks();
        let facts = weeks.facts(None, None).unwrap();
        let groups: Vec<&String> = facts[0].children.iter().filter_map(|c| c.group.as_ref()).collect();
        let child = facts[0].children.iter().find(|c| c.group.as_ref() == Some(groups[0])).unwrap();
        let to = groups.iter().find(|g| **g != groups[0]).unwrap();
        let tag = weeks.plan(week()).unwrap().tag.clone();
        let seat = Decision::Seat {
            student: child.student.id.to_string(),
            to: (*to).clone(),
            reason: "works well there".to_owned(),
            hold: true,
        };
        weeks.overrule(week(), &tag, seat).unwrap();
        let moved = weeks.facts(None, None).unwrap();
        let now = moved[0].child(&child.student.id).unwrap();
        assert_eq!(now.group.as_ref(), Some(*to));
        assert_eq!(now.decided.seat, Some(GivenSeat { reason: "works well there".to_owned(), stay: Stay::Held }));
        assert!(moved[0].children.iter().filter(|c| c.decided.seat.is_some()).count() == 1);
    }
}
