//! `/groups/{date}`: who sits with whom and why, who waits; and the button that plans.
//!
//! In:  the week's plan. Out: a view with badges, needs as points and signs, reasons as the plan words them.
//! Signs are filled, half, open or a tick, so that a copier keeps them. Nothing is computed anew.

use super::decide::{sentence, sentences};
use super::hatch::{Badge, badge};
use super::{Frame, Here, PageAnswer, html, html_with, render, see_other, text};
use crate::problem::status_of;
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::knowledge::Knowledge;
use sheaf_app::weeks::{Decisions, Remade, Stage, Week, WeekPlan};
use sheaf_core::plan::{Group, Plan, SkillReport, SkillState, StudentReport, UnplacedKind};
use std::sync::Arc;

/// Wrong ideas shown of one student.
const N_IDEAS: usize = 2;

/// One skill in a student's strip of needs.
struct Need {
    skill: String,
    skill_name: String,
    /// `3/4`: points got of points possible.
    counts: String,
    /// A sign that a copier keeps.
    sign: &'static str,
    class: &'static str,
    words: &'static str,
    is_target: bool,
}

struct Member {
    id: String,
    name: String,
    homeroom: String,
    supports: String,
    needs: Vec<Need>,
    ideas: Vec<String>,
    why: String,
}

struct GroupView {
    id: String,
    badge: Badge,
    name: String,
    is_intensive: bool,
    target: String,
    target_name: String,
    idea: Option<String>,
    need_words: String,
    notes: Vec<String>,
    members: Vec<Member>,
}

struct Waiting {
    id: String,
    name: String,
    homeroom: String,
    reason: String,
}

struct PlanView {
    groups: Vec<GroupView>,
    waiting: Vec<Waiting>,
    no_need: Vec<Waiting>,
    no_scores: Vec<Waiting>,
    /// Seated students whose group teaches a skill they lack.
    need_met: String,
    n_groups: String,
    n_seated: String,
    findings: Vec<String>,
    /// Tag of the plan that is shown.
    tag: String,
    /// Id and name of every group, to choose from.
    choices: Vec<(String, String)>,
    /// Skills measured this week, to choose from.
    skills: Vec<(String, String)>,
    /// What a person decided, as sentences, and what could be done again.
    decided: Vec<String>,
    undone: Option<String>,
    is_behind: bool,
    is_other: bool,
    /// Whether the school's setup changed since.
    is_setup_changed: bool,
}

#[derive(Template)]
#[template(path = "groups.html")]
struct GroupsPage {
    frame: Frame,
    plan: Option<PlanView>,
    has_sheets: bool,
    error: Option<String>,
}

/// The page.
pub(crate) async fn show(service: Service, path: web::Path<String>) -> PageAnswer {
    Ok(html(run(&service, move |s| page(s, Week::parse(&path)?, None)).await?))
}

/// Plans the week; on to its groups, or here again with the reason.
pub(crate) async fn plan(service: Service, path: web::Path<String>) -> PageAnswer {
    plan_now(&service, Week::parse(&path)?).await
}

/// Plans a week; on to its groups, or to its page with the reason.
pub(super) async fn plan_now(service: &Service, week: Week) -> PageAnswer {
    match run(service, move |s| s.weeks.plan_week(week, None)).await {
        Ok(_) => Ok(see_other(format!("/groups/{week}"))),
        Err(e) if matches!(e.kind, ErrorKind::NoPlan | ErrorKind::Conflict | ErrorKind::Input) => {
            let status = status_of(e.kind);
            Ok(html_with(status, run(service, move |s| page(s, week, Some(&e))).await?))
        }
        Err(e) => Err(e.into()),
    }
}

/// Students who need a seat and have none.
pub(super) fn n_waiting(plan: &Plan) -> usize {
    plan.unplaced.iter().filter(|u| u.kind == UnplacedKind::Waits).count()
}

/// The week's plan, or `None` where it has none yet.
pub(super) fn plan_of(service: &Service, week: Week) -> Result<Option<Arc<WeekPlan>>, AppError> {
    match service.weeks.plan(week) {
        Ok(plan) => Ok(Some(plan)),
        Err(e) if e.code == "no-plan" => Ok(None),
        Err(e) => Err(e),
    }
}

fn page(service: &Service, week: Week, error: Option<&AppError>) -> Result<String, AppError> {
    let overview = service.weeks.overview(week)?;
    let knowledge = service.weeks.knowledge();
    let plan = plan_of(service, week)?;
    let decisions = if plan.is_some() { service.weeks.decisions(week)? } else { Decisions::default() };
    let is_setup_changed = plan.is_some() && !service.weeks.is_planned_with_this_setup(week)?;
    let plan = plan.map(|p| PlanView {
        is_behind: overview.stage == Stage::PlanBehind,
        is_other: p.remade == Remade::Differs,
        is_setup_changed,
        tag: p.tag.clone(),
        decided: sentences(&p, &decisions, knowledge),
        undone: decisions.undone.last().map(|d| sentence(&p.plan, d, knowledge)),
        ..plan_view(&p.plan, knowledge)
    });
    render(&GroupsPage {
        frame: Frame::new(service, Here::Groups, "Groups", Some(week))?,
        plan,
        has_sheets: overview.n_uploads > 0,
        error: error.map(|e| text::as_sentence(&e.message)),
    })
}

fn plan_view(plan: &Plan, knowledge: &Knowledge) -> PlanView {
    let of_kind = |kind| plan.unplaced.iter().filter(move |u| u.kind == kind).filter_map(|u| waiting(plan, u));
    let n_seated = plan.students.iter().filter(|s| s.group.is_some()).count();
    PlanView {
        groups: plan.groups.iter().map(|g| group_view(plan, g, knowledge)).collect(),
        waiting: of_kind(UnplacedKind::Waits).collect(),
        no_need: of_kind(UnplacedKind::NoNeed).collect(),
        no_scores: of_kind(UnplacedKind::NoScores).collect(),
        need_met: format!("{:.0} of {n_seated}", plan.quality.need_met * n_seated as f64),
        n_groups: text::count(plan.groups.len(), "group"),
        n_seated: text::count(n_seated, "student"),
        findings: plan
            .findings
            .iter()
            .filter(|f| f.file.is_empty())
            .map(|f| format!("{} {}", text::as_sentence(&f.message), text::as_sentence(&f.action)).trim().to_owned())
            .collect(),
        tag: String::new(),
        choices: plan.groups.iter().map(|g| (g.id.clone(), g.name.clone())).collect(),
        skills: plan.skills.iter().map(|s| (s.code.to_string(), s.name.clone())).collect(),
        decided: Vec::new(),
        undone: None,
        is_behind: false,
        is_other: false,
        is_setup_changed: false,
    }
}

fn waiting(plan: &Plan, unplaced: &sheaf_core::plan::Unplaced) -> Option<Waiting> {
    let student = plan.students.get(unplaced.student)?;
    Some(Waiting {
        id: student.id.to_string(),
        name: student.name.clone(),
        homeroom: student.homeroom.clone(),
        reason: text::as_sentence(&unplaced.reason),
    })
}

fn group_view(plan: &Plan, group: &Group, knowledge: &Knowledge) -> GroupView {
    let members: Vec<&StudentReport> = group.members.iter().filter_map(|&m| plan.students.get(m)).collect();
    let n_lacking = (group.need * members.len() as f64).round() as usize;
    GroupView {
        id: group.id.clone(),
        badge: badge(&group.id),
        name: group.name.clone(),
        is_intensive: group.is_intensive,
        target: group.target_skill.to_string(),
        target_name: knowledge.graph.name(&group.target_skill).to_owned(),
        idea: group.error_pattern.as_deref().map(|code| knowledge.catalogue.idea(code).to_owned()),
        need_words: format!("{n_lacking} of {} lack it", members.len()),
        notes: group.notes.iter().map(|n| text::as_sentence(n)).collect(),
        members: members.into_iter().map(|m| member(plan, group, m, knowledge)).collect(),
    }
}

fn member(plan: &Plan, group: &Group, student: &StudentReport, knowledge: &Knowledge) -> Member {
    let ideas = student.patterns.iter().filter(|p| p.seen > 0.0).take(N_IDEAS);
    Member {
        id: student.id.to_string(),
        name: student.name.clone(),
        homeroom: student.homeroom.clone(),
        supports: student.supports.join(", "),
        needs: student.profile.iter().filter_map(|s| need(plan, group, s)).collect(),
        ideas: ideas
            .map(|p| format!("{} ({} of {})", knowledge.catalogue.idea(&p.code), text::points(p.seen), p.chances))
            .collect(),
        why: text::as_sentence(&student.why),
    }
}

fn need(plan: &Plan, group: &Group, report: &SkillReport) -> Option<Need> {
    let skill = plan.skills.get(report.skill)?;
    let (sign, class, words) = signs(report.state);
    Some(Need {
        skill: skill.code.to_string(),
        skill_name: skill.name.clone(),
        counts: format!("{}/{}", text::points(report.points), text::points(report.points_possible)),
        sign,
        class,
        words,
        is_target: skill.code == group.target_skill,
    })
}

/// Sign, class and words of a state. Filled: a need. Half: near the cut. Open: too few items to say. Tick: holds.
fn signs(state: SkillState) -> (&'static str, &'static str, &'static str) {
    match state {
        SkillState::NotEnough => ("○", "need-unsure", "too few items to say"),
        SkillState::Lost => ("●", "need-not", "met before, now not"),
        SkillState::Confirmed => ("✓", "need-holds", "holds, confirmed"),
        SkillState::MetOnce => ("✓", "need-holds", "met once"),
        SkillState::Close => ("◐", "need-close", "near the cut"),
        SkillState::NotYet => ("●", "need-not", "not yet"),
    }
}
