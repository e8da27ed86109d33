//! `/movement/memo/{date}`: the cycle memo on one page: per group what is suggested and why, and what the team decided.
//!
//! In:  a [`CycleMemo`]. Out: the page; a form a group. A decision that lacks its reason comes back with what was typed.
//! Keeps: parts of the school with under five children are not told, as the page leaves the team (`small_counts_are_left_out`, in
//! the core); what was
//! decided stands there again (acceptance test `the_memo_of_a_cycle_is_decided_and_shown_again`). Not here: the rules (`sheaf-core`).

use super::flow_picture::short_date;
use super::hatch::{Badge, badge};
use super::{Frame, Here, PageAnswer, html, html_with, render, see_other, text};
use crate::problem::status_of;
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{Decided, Week};
use sheaf_core::movement::{CycleMemo, FEWEST_TOLD, GroupMemo, GroupStep, PartKind, PartOfSchool, TeamDecision};
use sheaf_core::skills::SkillGraph;

struct GroupRow {
    id: String,
    badge: Badge,
    skill: String,
    skill_name: String,
    suggestion: &'static str,
    evidence: String,
    decision: Option<DecisionView>,
    /// Word, label, whether it is chosen in the form.
    choices: Vec<(&'static str, &'static str, bool)>,
    typed_reason: String,
    typed_name: String,
    error: Option<String>,
}

struct DecisionView {
    words: &'static str,
    reason: String,
    by: String,
}

pub(super) struct PartRow {
    pub(super) kind: &'static str,
    pub(super) name: String,
    pub(super) n: String,
    pub(super) minutes: String,
    pub(super) weeks: String,
}

#[derive(Template)]
#[template(path = "memo.html")]
struct MemoPage {
    frame: Frame,
    date: String,
    span: String,
    by_chance: String,
    regrouping: String,
    core_problems: Vec<String>,
    groups: Vec<GroupRow>,
    parts: Vec<PartRow>,
    fewest: usize,
}

/// What the form sends.
#[derive(Debug, Clone, Deserialize)]
pub(crate) struct DecisionForm {
    group: String,
    #[serde(default)]
    decision: String,
    #[serde(default)]
    reason: String,
    #[serde(default)]
    name: String,
}

/// The page.
pub(crate) async fn show(service: Service, path: web::Path<String>) -> PageAnswer {
    Ok(html(run(&service, move |s| page(s, Week::parse(&path)?, None)).await?))
}

/// Keeps a decision; the page again.
pub(crate) async fn decide(service: Service, path: web::Path<String>, form: web::Form<DecisionForm>) -> PageAnswer {
    let week = Week::parse(&path)?;
    let form = form.into_inner();
    let f = form.clone();
    let decided = Decided { group: f.group, decision: f.decision, reason: f.reason, name: f.name };
    match run(&service, move |s| s.weeks.decide(week, &decided)).await {
        Ok(()) => Ok(see_other(format!("/movement/memo/{week}"))),
        Err(e) if e.kind == ErrorKind::Input => {
            let status = status_of(e.kind);
            Ok(html_with(status, run(&service, move |s| page(s, week, Some((&form, &e)))).await?))
        }
        Err(e) => Err(e.into()),
    }
}

fn page(service: &Service, week: Week, refused: Option<(&DecisionForm, &AppError)>) -> Result<String, AppError> {
    let memo = service.weeks.memo(week)?;
    let graph = &service.weeks.knowledge().graph;
    let CycleMemo { movement, groups } = &memo;
    let ends = [movement.weeks.first(), movement.weeks.last()].into_iter().flatten().map(|w| short_date(*w));
    render(&MemoPage {
        frame: Frame::new(service, Here::Movement, "Cycle memo", Some(week))?,
        date: week.to_string(),
        span: ends.collect::<Vec<_>>().join(" to "),
        by_chance: movement.by_chance.sentence(),
        regrouping: movement.regrouping.sentence(),
        core_problems: movement.core_problems.iter().map(sheaf_core::movement::CoreProblem::sentence).collect(),
        groups: groups.iter().map(|(memo, decision)| group_row(memo, decision.as_ref(), graph, refused)).collect(),
        parts: movement.parts.iter().map(part_row).collect(),
        fewest: FEWEST_TOLD,
    })
}

fn group_row(
    memo: &GroupMemo,
    decision: Option<&TeamDecision>,
    graph: &SkillGraph,
    refused: Option<(&DecisionForm, &AppError)>,
) -> GroupRow {
    let typed = refused.filter(|(form, _)| form.group == memo.group);
    let chosen = typed.map(|(form, _)| form.decision.as_str()).or(decision.map(|d| d.step.word()));
    let of = |typed_as: fn(&DecisionForm) -> &String, kept_as: fn(&TeamDecision) -> &String| {
        typed.map(|(form, _)| typed_as(form)).or(decision.map(kept_as)).cloned().unwrap_or_default()
    };
    GroupRow {
        badge: badge(&memo.group),
        id: memo.group.clone(),
        skill: memo.skill.to_string(),
        skill_name: graph.name(&memo.skill).to_owned(),
        suggestion: memo.suggestion.words(),
        evidence: memo.evidence.clone(),
        decision: decision.map(|d| DecisionView {
            words: d.step.words(),
            reason: d.reason.clone(),
            by: format!("{}, {}", d.name, d.day),
        }),
        choices: GroupStep::ALL.iter().map(|s| (s.word(), s.words(), chosen == Some(s.word()))).collect(),
        typed_reason: of(|f| &f.reason, |d| &d.reason),
        typed_name: of(|f| &f.name, |d| &d.name),
        error: typed.map(|(_, e)| text::as_sentence(&e.message)),
    }
}

pub(super) fn part_row(part: &PartOfSchool) -> PartRow {
    let kind = match part.kind {
        PartKind::Homeroom => "Homeroom",
        PartKind::Support => "Support or language",
    };
    let not_told = || "not shown".to_owned();
    PartRow {
        kind,
        name: part.name.clone(),
        n: part.told.map_or_else(|| format!("under {FEWEST_TOLD}"), |t| t.n.to_string()),
        minutes: part.told.map_or_else(not_told, |t| {
            t.share_of_minutes.map_or("not noted".to_owned(), |share| format!("{:.0} %", 100.0 * share))
        }),
        weeks: part.told.map_or_else(not_told, |t| format!("{:.1}", t.weeks_on_target)),
    }
}
