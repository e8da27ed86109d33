//! The published JSON of a plan, `sheaf.plan/1`: field names and order that other programs may rely on.
//!
//! In:  a [`Plan`]. Out: JSON, a line for each student, group and session. Borrows from the plan, and turns students and tickets
//! into their published form one at a time, so that a large plan is not held twice.
//! Keeps: 1. the field names and their order (`the_plan_has_the_published_shape`)
//!        2. the same plan gives the same bytes (`the_same_plan_gives_the_same_bytes`)
//!        3. figures that are undefined are `null`, never 0 and never NaN (`undefined_figures_are_null`)
//! The homerooms, `setup`, `rotation_notes` and the students of a session are what a repair needs beside the rest (`setup`).
//! Not here: what the figures mean ([`super`]), reading it back ([`super::mend`]).

mod setup;

pub(crate) use setup::KnownGroup;
pub use setup::{PublishedChange, PublishedRepair, PublishedSession, PublishedSetup};

use super::lines::write_lines;
use super::{Group, Plan, StudentReport};
use crate::finding::Finding;
use crate::tickets::Ticket;
use crate::tickets::published::PublishedItem;
use serde::Serialize;
use serde::ser::Serializer;
use std::io::Write;

/// One sheet read.
#[derive(Debug, Serialize)]
pub struct PublishedInput<'a> {
    file: &'a str,
    sha256: &'a str,
    sheet: &'a str,
    students: usize,
    items: usize,
}

/// The sheets read, in order.
#[must_use]
pub fn inputs(inputs: &[super::InputSummary]) -> Vec<PublishedInput<'_>> {
    inputs
        .iter()
        .map(|i| PublishedInput {
            file: &i.file,
            sha256: &i.sha256,
            sheet: &i.sheet,
            students: i.n_students,
            items: i.n_items,
        })
        .collect()
}

#[derive(Serialize)]
struct PublishedPlan<'a> {
    schema: &'static str,
    week: Option<String>,
    seed: u64,
    input: Vec<PublishedInput<'a>>,
    findings: &'a [Finding],
    items: Vec<PublishedItemReport<'a>>,
    #[serde(serialize_with = "students")]
    students: &'a Plan,
    unplaced: Vec<PublishedUnplaced<'a>>,
    groups: Vec<PublishedGroup<'a>>,
    rotation: Vec<PublishedSession>,
    #[serde(serialize_with = "tickets")]
    tickets: &'a [Ticket],
    quality: PublishedQuality,
    rotation_notes: &'a [String],
    setup: PublishedSetup,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    repairs: Vec<PublishedRepair>,
}

#[derive(Serialize)]
struct PublishedItemReport<'a> {
    item: &'a str,
    skills: Vec<&'a str>,
    taken: usize,
    difficulty: Option<f64>,
    discrimination: Option<f64>,
    flag: Option<&'a str>,
    options: Vec<PublishedOption<'a>>,
}

#[derive(Serialize)]
struct PublishedOption<'a> {
    option: &'a str,
    chosen: usize,
    share: f64,
    discrimination: Option<f64>,
    flag: Option<&'a str>,
}

#[derive(Serialize)]
struct PublishedStudent<'a> {
    id: &'a str,
    name: &'a str,
    homeroom: &'a str,
    group: Option<&'a str>,
    profile: Vec<PublishedSkill<'a>>,
    error_patterns: Vec<PublishedPattern<'a>>,
    why: &'a str,
    second_choice: Option<&'a str>,
    fit: f64,
}

#[derive(Serialize)]
struct PublishedSkill<'a> {
    skill: &'a str,
    mastery: f64,
    share_low: f64,
    share_high: f64,
    evidence: usize,
    state: &'static str,
}

#[derive(Serialize)]
struct PublishedPattern<'a> {
    code: &'a str,
    seen: f64,
    chances: usize,
}

#[derive(Serialize)]
struct PublishedUnplaced<'a> {
    id: &'a str,
    kind: &'static str,
    reason: &'a str,
}

#[derive(Serialize)]
struct PublishedGroup<'a> {
    id: &'a str,
    name: &'a str,
    members: Vec<&'a str>,
    target_skill: &'a str,
    error_pattern: Option<&'a str>,
    need: f64,
    notes: &'a [String],
}

#[derive(Serialize)]
struct PublishedTicket<'a> {
    group: &'a str,
    form: &'a str,
    form_code: &'a str,
    items: Vec<PublishedItem>,
}

#[derive(Serialize)]
struct PublishedQuality {
    sse: f64,
    silhouette: Option<f64>,
    need_met: f64,
    reliability: Option<f64>,
    standard_error: Option<f64>,
}

/// Writes a plan as JSON, a line for each student, group and session.
///
/// # Errors
/// What the sink gives.
pub fn write_plan_json(plan: &Plan, sink: impl Write) -> std::io::Result<()> {
    write_lines(&published(plan), sink)
}

fn published(plan: &Plan) -> PublishedPlan<'_> {
    PublishedPlan {
        schema: "sheaf.plan/1",
        week: plan.week.map(|w| w.to_string()),
        seed: plan.seed,
        input: inputs(&plan.inputs),
        findings: &plan.findings,
        items: items(plan),
        students: plan,
        unplaced: plan
            .unplaced
            .iter()
            .map(|u| PublishedUnplaced {
                id: plan.students[u.student].id.as_str(),
                kind: u.kind.word(),
                reason: &u.reason,
            })
            .collect(),
        groups: plan.groups.iter().map(|g| group(plan, g)).collect(),
        rotation: plan.rotation.iter().map(|s| PublishedSession::new(s, plan.change_of(s))).collect(),
        tickets: &plan.tickets,
        quality: PublishedQuality {
            sse: plan.quality.sse,
            silhouette: plan.quality.silhouette,
            need_met: plan.quality.need_met,
            reliability: plan.quality.reliability,
            standard_error: plan.quality.standard_error,
        },
        rotation_notes: &plan.rotation_notes,
        setup: PublishedSetup::new(&plan.timetable),
        repairs: plan.repairs.iter().map(|r| PublishedRepair::new(r, plan)).collect(),
    }
}

fn items(plan: &Plan) -> Vec<PublishedItemReport<'_>> {
    plan.items
        .iter()
        .map(|i| PublishedItemReport {
            item: &i.label,
            skills: i.skills.iter().map(crate::skills::SkillCode::as_str).collect(),
            taken: i.n_taken,
            difficulty: i.difficulty,
            discrimination: i.discrimination,
            flag: i.flag.as_deref(),
            options: i.options.iter().map(option).collect(),
        })
        .collect()
}

fn option(o: &super::OptionReport) -> PublishedOption<'_> {
    PublishedOption {
        option: &o.label,
        chosen: o.n_chosen,
        share: o.share,
        discrimination: o.discrimination,
        flag: o.flag.as_deref(),
    }
}

/// Students are turned into their published form one at a time.
fn students<S: Serializer>(plan: &Plan, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(plan.students.iter().map(|report| student(plan, report)))
}

/// And so are tickets.
fn tickets<S: Serializer>(tickets: &[Ticket], serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(tickets.iter().map(|t| PublishedTicket {
        group: &t.group,
        form: &t.form,
        form_code: &t.form_code,
        items: t.items.iter().map(PublishedItem::from).collect(),
    }))
}

fn student<'a>(plan: &'a Plan, report: &'a StudentReport) -> PublishedStudent<'a> {
    let group_id = |g: Option<usize>| g.and_then(|g| plan.groups.get(g)).map(|g| g.id.as_str());
    PublishedStudent {
        id: report.id.as_str(),
        name: &report.name,
        homeroom: &report.homeroom,
        group: group_id(report.group),
        profile: report
            .profile
            .iter()
            .map(|r| PublishedSkill {
                skill: plan.skills[r.skill].code.as_str(),
                mastery: r.mastery,
                share_low: r.share_low,
                share_high: r.share_high,
                evidence: r.n_items,
                state: r.state.word(),
            })
            .collect(),
        error_patterns: report
            .patterns
            .iter()
            .map(|p| PublishedPattern { code: &p.code, seen: p.seen, chances: p.chances })
            .collect(),
        why: &report.why,
        second_choice: group_id(report.second_choice),
        fit: report.fit,
    }
}

fn group<'a>(plan: &'a Plan, g: &'a Group) -> PublishedGroup<'a> {
    PublishedGroup {
        id: &g.id,
        name: &g.name,
        members: g.members.iter().map(|&m| plan.students[m].id.as_str()).collect(),
        target_skill: g.target_skill.as_str(),
        error_pattern: g.error_pattern.as_deref(),
        need: g.need,
        notes: &g.notes,
    }
}

#[cfg(test)]
mod tests;
