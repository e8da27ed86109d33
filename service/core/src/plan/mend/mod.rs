//! The published plan repaired as a text: one day changes, and every other byte stays.
//!
//! In:  the JSON of a plan (`sheaf.plan/1`) and who is out, each `WHO@WHEN`. Out: [`Mended`]: the JSON with that day issued anew
//! and an entry in `repairs`, and what of the plan the rotation shows.
//! Keeps: 1. whatever is not a session of that day keeps its bytes (`all_but_the_day_keeps_its_bytes`);
//!        2. the text is that of the plan repaired and published (`the_published_plan_mended_is_the_plan_repaired`);
//!        3. a text that is no plan is an error, never a panic (`what_is_no_plan_is_refused`).
//! Not here: which sessions change (`rotation::repair`).

use super::lines::{entry, list};
use super::published::{PublishedRepair, PublishedSession, PublishedSetup};
use super::{Group, Plan, PlanRepair, Quality, StudentReport};
use crate::roster::StudentId;
use crate::rotation::repair::{Out, OutError};
use crate::rotation::{Member, Proof, Session};
use crate::skills::SkillCode;
use serde::Deserialize;
use serde_json::value::RawValue;
use thiserror::Error;

use super::published::KnownGroup;

/// A repaired plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Mended {
    /// Its published JSON.
    pub text: String,
    /// What the JSON says of groups, names and rotation; needs, tickets and figures are left out.
    pub plan: Plan,
}

/// Why a text could not be repaired. Each is a sentence without its stop.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum MendError {
    /// Not a published plan.
    #[error("this is not a plan as `sheaf plan --json` writes it ({0})")]
    NotAPlan(String),
    /// No timetable inside.
    #[error(
        "this plan carries no timetable, so nobody can be out: plan the week again with a setup that has [[block]] and [[staff]]"
    )]
    NoTimetable,
    /// A name it does not know.
    #[error("{0}")]
    Out(#[from] OutError),
}

#[derive(Deserialize)]
struct Given<'a> {
    schema: String,
    week: Option<String>,
    seed: u64,
    students: Vec<GivenStudent>,
    groups: Vec<GivenGroup>,
    #[serde(borrow)]
    rotation: &'a RawValue,
    #[serde(default)]
    rotation_notes: Vec<String>,
    #[serde(default)]
    setup: PublishedSetup,
    #[serde(borrow, default)]
    repairs: Option<&'a RawValue>,
}

#[derive(Deserialize)]
struct GivenStudent {
    id: String,
    #[serde(default)]
    name: String,
    #[serde(default)]
    homeroom: String,
}

#[derive(Deserialize)]
struct GivenGroup {
    id: String,
    name: String,
    members: Vec<String>,
    target_skill: String,
    #[serde(default)]
    error_pattern: Option<String>,
    #[serde(default)]
    need: f64,
}

/// Repairs a published plan.
///
/// # Errors
/// [`MendError`] where the text is no plan, carries no timetable, or a name is not in it.
pub fn mend(text: &str, without: &[String]) -> Result<Mended, MendError> {
    let given: Given<'_> = serde_json::from_str(text).map_err(|e| MendError::NotAPlan(e.to_string()))?;
    if given.schema != "sheaf.plan/1" {
        return Err(MendError::NotAPlan(format!("its schema is {}", given.schema)));
    }
    let (raw_rotation, raw_repairs) = (given.rotation, given.repairs);
    let entries: Vec<&RawValue> = parts(raw_rotation)?;
    let earlier: Vec<&RawValue> = raw_repairs.map_or(Ok(Vec::new()), parts)?;
    let before = plan_of(given, &entries, &earlier)?;
    if before.timetable.school.blocks.is_empty() {
        return Err(MendError::NoTimetable);
    }
    let outs: Vec<Out> = without.iter().map(|text| before.out(text)).collect::<Result<_, _>>()?;
    let plan = before.repaired(outs);
    let rotation = rotation_text(&before, &plan, &entries)?;
    let repairs = repairs_text(&plan, &earlier)?;
    let text = spliced(text, raw_rotation, raw_repairs, &rotation, &repairs);
    Ok(Mended { text, plan })
}

fn parts(list: &RawValue) -> Result<Vec<&RawValue>, MendError> {
    serde_json::from_str(list.get()).map_err(|e| MendError::NotAPlan(e.to_string()))
}

fn damaged(what: &str) -> MendError {
    MendError::NotAPlan(format!("{what} cannot be read"))
}

/// As much of the plan as its rotation shows.
fn plan_of(given: Given<'_>, entries: &[&RawValue], earlier: &[&RawValue]) -> Result<Plan, MendError> {
    let student = |s: &GivenStudent| {
        let id = StudentId::parse(&s.id).ok_or_else(|| damaged("the id of a student"))?;
        Ok(student_of(id, s))
    };
    let students: Vec<StudentReport> = given.students.iter().map(student).collect::<Result<_, MendError>>()?;
    let places: std::collections::HashMap<&str, usize> =
        given.students.iter().enumerate().map(|(idx, s)| (s.id.as_str(), idx)).collect();
    let members =
        |g: &GivenGroup| -> Vec<usize> { g.members.iter().filter_map(|m| places.get(m.as_str()).copied()).collect() };
    let known = |g: &GivenGroup| KnownGroup {
        id: g.id.clone(),
        skill: g.target_skill.clone(),
        members: members(g)
            .into_iter()
            .map(|m| Member { id: students[m].id.clone(), homeroom: students[m].homeroom.clone() })
            .collect(),
    };
    let timetable = given.setup.timetable(given.groups.iter().map(known).collect());
    let timetable = timetable.ok_or_else(|| damaged("a time in its setup"))?;
    let group = |(idx, g): (usize, &GivenGroup)| -> Result<Group, MendError> {
        Ok(Group {
            id: g.id.clone(),
            name: g.name.clone(),
            members: members(g),
            target_skill: SkillCode::parse(&g.target_skill).ok_or_else(|| damaged("the target of a group"))?,
            error_pattern: g.error_pattern.clone(),
            need: g.need,
            is_intensive: timetable.groups[idx].is_intensive,
            notes: Vec::new(),
        })
    };
    let groups = given.groups.iter().enumerate().map(group).collect::<Result<_, _>>()?;
    Ok(Plan {
        week: given.week.and_then(|w| w.parse().ok()),
        seed: given.seed,
        inputs: Vec::new(),
        findings: Vec::new(),
        items: Vec::new(),
        skills: Vec::new(),
        students,
        unplaced: Vec::new(),
        groups,
        rotation: entries.iter().map(|e| session_of(e)).collect::<Result<_, _>>()?,
        rotation_notes: given.rotation_notes,
        repairs: earlier.iter().map(|r| repair_of(r, &timetable)).collect::<Result<_, _>>()?,
        timetable,
        tickets: Vec::new(),
        quality: Quality::default(),
    })
}

fn student_of(id: StudentId, given: &GivenStudent) -> StudentReport {
    StudentReport {
        id,
        name: given.name.clone(),
        grade: String::new(),
        homeroom: given.homeroom.clone(),
        supports: Vec::new(),
        group: None,
        profile: Vec::new(),
        patterns: Vec::new(),
        why: String::new(),
        second_choice: None,
        fit: 0.0,
    }
}

fn session_of(raw: &RawValue) -> Result<Session, MendError> {
    let given: PublishedSession = serde_json::from_str(raw.get()).map_err(|e| MendError::NotAPlan(e.to_string()))?;
    given.session().ok_or_else(|| damaged("the time of a session"))
}

fn repair_of(raw: &RawValue, timetable: &super::Timetable) -> Result<PlanRepair, MendError> {
    let given: PublishedRepair = serde_json::from_str(raw.get()).map_err(|e| MendError::NotAPlan(e.to_string()))?;
    let out = |text: &String| Out::parse(text, &timetable.school, &timetable.groups);
    let changes: Option<Vec<_>> = given.changes.into_iter().map(super::published::PublishedChange::change).collect();
    Ok(PlanRepair {
        without: given.without.iter().map(out).collect::<Result<_, _>>()?,
        changes: changes.ok_or_else(|| damaged("the time of a change"))?,
        proof: if given.is_best_found { Proof::BestFound } else { Proof::Optimal },
    })
}

/// Sessions that did not change keep their text.
fn rotation_text(before: &Plan, plan: &Plan, entries: &[&RawValue]) -> Result<String, MendError> {
    let text = |session: &Session| match before.rotation.iter().position(|s| s == session) {
        Some(at) => Ok(entries[at].get().to_owned()),
        None => entry(&PublishedSession::new(session, plan.change_of(session))),
    };
    let texts: Vec<String> =
        plan.rotation.iter().map(text).collect::<Result<_, _>>().map_err(|_| damaged("a session"))?;
    Ok(list(&texts))
}

fn repairs_text(plan: &Plan, earlier: &[&RawValue]) -> Result<String, MendError> {
    let mut texts: Vec<String> = earlier.iter().map(|r| r.get().to_owned()).collect();
    for repair in plan.repairs.iter().skip(earlier.len()) {
        texts.push(entry(&PublishedRepair::new(repair, plan)).map_err(|_| damaged("a change"))?);
    }
    Ok(list(&texts))
}

/// The text with its rotation and its repairs in place of the old ones.
fn spliced(text: &str, old: &RawValue, old_repairs: Option<&RawValue>, rotation: &str, repairs: &str) -> String {
    let span = |raw: &RawValue| {
        let start = raw.get().as_ptr() as usize - text.as_ptr() as usize;
        start..start + raw.get().len()
    };
    let end = text.trim_end().len().saturating_sub(1);
    let last = text.get(..end).map_or(end, |t| t.trim_end().len());
    let mut cuts = vec![(span(old), rotation.to_owned())];
    cuts.push(match old_repairs {
        Some(raw) => (span(raw), repairs.to_owned()),
        None => (last..last, format!(",\n  \"repairs\": {repairs}")),
    });
    cuts.sort_by_key(|(span, _)| std::cmp::Reverse(span.start));
    let mut spliced = text.to_owned();
    for (span, new) in cuts {
        spliced.replace_range(span, &new);
    }
    spliced
}

#[cfg(test)]
mod tests;
