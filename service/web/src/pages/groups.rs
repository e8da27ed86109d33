//! `/groups/{date}`: who sits with whom and why, who waits; what planning again changed; and the button that plans.
//!
//! In:  the week's plan, whether initials alone are asked for. Out: a view with badges, strips of needs, reasons as the plan words them.
//! Nothing is computed anew. Keeps: under initials no name and no id of a child is on the page (`under_initials_no_page_names_a_child`,
//! acceptance). Not here: one group (`group_view`), moving a child (`decide`), dragging (`static/sheaf.js`, comfort only).

use super::decide::{sentence, sentences};
use super::group_view::{GroupView, group_view};
use super::naming::{NamesAsked, Naming};
use super::needs::{Look, legend};
use super::replanned::{ReplannedView, view as replanned_view};
use super::{Frame, Here, PageAnswer, html, html_with, render, see_other, text};
use crate::problem::status_of;
use crate::service::{Service, run};
use crate::works::{Followed, WorkKind, follow};
use actix_web::web;
use askama::Template;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::knowledge::Knowledge;
use sheaf_app::weeks::{Decisions, Remade, Stage, Week, WeekPlan};
use sheaf_core::plan::{Plan, Unplaced, UnplacedKind};
use std::sync::Arc;

struct Waiting {
    id: String,
    label: String,
    id_beside: String,
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
    replanned: Option<ReplannedView>,
    legend: Vec<Look>,
    is_behind: bool,
    is_other: bool,
    /// Whether the school's setup changed since.
    is_setup_changed: bool,
    /// Whether initials alone are shown, and what links carry then.
    is_initials: bool,
    query: &'static str,
}

/// What was refused, over the groups as they are.
pub(super) struct Refused<'a> {
    /// `No new plan.`
    pub(super) lead: &'static str,
    pub(super) error: &'a AppError,
}

#[derive(Template)]
#[template(path = "groups.html")]
struct GroupsPage {
    frame: Frame,
    plan: Option<PlanView>,
    has_sheets: bool,
    /// What was refused, and why.
    error: Option<(&'static str, String)>,
}

/// The page.
pub(crate) async fn show(service: Service, path: web::Path<String>, asked: web::Query<NamesAsked>) -> PageAnswer {
    Ok(html(run(&service, move |s| page(s, Week::parse(&path)?, None, &asked)).await?))
}

/// Plans the week; on to its groups, or here again with the reason.
pub(crate) async fn plan(service: Service, path: web::Path<String>) -> PageAnswer {
    plan_now(&service, Week::parse(&path)?).await
}

/// Plans a week; on to its groups, to its page with the reason, or where it takes long to the page that shows how far it is.
pub(super) async fn plan_now(service: &Service, week: Week) -> PageAnswer {
    let job = move |s: &Service| {
        s.weeks.plan_week(week, None)?;
        Ok(format!("/groups/{week}#replanned"))
    };
    let over = match follow(service, WorkKind::Plan, week, job).await? {
        Followed::Over(over) => over,
        Followed::Under(work) => return Ok(see_other(format!("/progress/{}", work.id))),
    };
    match over {
        Ok(address) => Ok(see_other(address)),
        Err(e) if matches!(e.kind, ErrorKind::NoPlan | ErrorKind::Conflict | ErrorKind::Input) => {
            let status = status_of(e.kind);
            let shown = move |s: &Service| {
                page(s, week, Some(&Refused { lead: "No new plan.", error: &e }), &NamesAsked::default())
            };
            Ok(html_with(status, run(service, shown).await?))
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

/// The page, with what was refused over it.
pub(super) fn page(
    service: &Service,
    week: Week,
    refused: Option<&Refused<'_>>,
    asked: &NamesAsked,
) -> Result<String, AppError> {
    let overview = service.weeks.overview(week)?;
    let plan = match plan_of(service, week)? {
        Some(plan) => Some(plan_page(service, week, &plan, overview.stage, asked)?),
        None => None,
    };
    let query = plan.as_ref().map_or("", |p| p.query);
    render(&GroupsPage {
        frame: Frame::new(service, Here::Groups, "Groups", Some(week))?.keeping(query),
        plan,
        has_sheets: overview.n_uploads > 0,
        error: refused.map(|r| (r.lead, text::as_sentence(&r.error.message))),
    })
}

fn plan_page(
    service: &Service,
    week: Week,
    plan: &WeekPlan,
    stage: Stage,
    asked: &NamesAsked,
) -> Result<PlanView, AppError> {
    let (knowledge, naming) = (service.weeks.knowledge(), Naming::of(&plan.plan, asked));
    let decisions: Decisions = service.weeks.decisions(week)?;
    let replanned = service.weeks.replanned(week)?;
    Ok(PlanView {
        is_behind: stage == Stage::PlanBehind,
        is_other: plan.remade == Remade::Differs,
        is_setup_changed: !service.weeks.is_planned_with_this_setup(week)?,
        tag: plan.tag.clone(),
        decided: sentences(plan, &decisions, (knowledge, &naming)),
        undone: decisions.undone.last().map(|d| sentence(&plan.plan, d, knowledge, &naming)),
        replanned: replanned.map(|r| replanned_view(&plan.plan, &r, (knowledge, &naming))),
        ..plan_view(&plan.plan, knowledge, &naming)
    })
}

fn plan_view(plan: &Plan, knowledge: &Knowledge, naming: &Naming) -> PlanView {
    let of_kind = |kind| plan.unplaced.iter().filter(move |u| u.kind == kind).filter_map(|u| waiting(plan, u, naming));
    let n_seated = plan.students.iter().filter(|s| s.group.is_some()).count();
    PlanView {
        groups: plan.groups.iter().map(|g| group_view(plan, g, knowledge, naming)).collect(),
        waiting: of_kind(UnplacedKind::Waits).collect(),
        no_need: of_kind(UnplacedKind::NoNeed).collect(),
        no_scores: of_kind(UnplacedKind::NoScores).collect(),
        need_met: format!("{:.0} of {n_seated}", plan.quality.need_met * n_seated as f64),
        n_groups: text::count(plan.groups.len(), "group"),
        n_seated: text::count(n_seated, "student"),
        findings: if naming.is_initials { Vec::new() } else { findings(plan) },
        tag: String::new(),
        choices: plan.groups.iter().map(|g| (g.id.clone(), g.name.clone())).collect(),
        skills: plan.skills.iter().map(|s| (s.code.to_string(), s.name.clone())).collect(),
        decided: Vec::new(),
        undone: None,
        replanned: None,
        legend: legend(),
        is_behind: false,
        is_other: false,
        is_setup_changed: false,
        is_initials: naming.is_initials,
        query: naming.query(),
    }
}

/// What was noticed of no sheet, but of the week as a whole.
fn findings(plan: &Plan) -> Vec<String> {
    let of_week = plan.findings.iter().filter(|f| f.file.is_empty());
    of_week
        .map(|f| format!("{} {}", text::as_sentence(&f.message), text::as_sentence(&f.action)).trim().to_owned())
        .collect()
}

fn waiting(plan: &Plan, unplaced: &Unplaced, naming: &Naming) -> Option<Waiting> {
    let student = plan.students.get(unplaced.student)?;
    let id = student.id.as_str();
    Some(Waiting {
        id: id.to_owned(),
        label: naming.label(id).to_owned(),
        id_beside: naming.id_beside(id),
        homeroom: student.homeroom.clone(),
        reason: text::as_sentence(&naming.sentence(&unplaced.reason)),
    })
}
