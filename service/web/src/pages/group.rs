//! `/groups/{date}/{group}`: everything about one group, on one sheet of paper.
//!
//! In:  the week's plan, the id of a group, whether initials alone are asked for. Out: target and what comes before it, the shared wrong
//! idea and what it looks like in work, members with strips and reasons, when it meets and practises, tickets, results of the tickets of
//! the week before, decisions. Nothing is computed here.
//! Keeps: a group that the plan does not have is a page with the way back (`a_group_has_a_page_of_its_own`, acceptance).
//! Not here: the groups together (`groups`), moving a child (`decide`).

use super::decide::sentence;
use super::group_view::{GroupView, group_view};
use super::groups::plan_of;
use super::naming::{NamesAsked, Naming};
use super::needs::{Look, legend};
use super::rotation::{missing, who};
use super::{Frame, Here, PageAnswer, html, html_with, render, text};
use crate::problem::status_of;
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::knowledge::Knowledge;
use sheaf_app::weeks::{Decision, TicketResult, Week, WeekPlan};
use sheaf_core::plan::{Group, Plan};
use sheaf_core::rotation::Session;

/// One time that the group meets or practises.
struct MeetingRow {
    day: &'static str,
    time: String,
    who: String,
    room: String,
    missing: String,
    change: String,
}

/// One ticket.
struct TicketLink {
    form: String,
    form_code: String,
}

/// A member's results on a ticket of the week before.
struct ResultRow {
    label: String,
    form_code: String,
    skills: String,
    points: String,
}

struct OneGroup {
    view: GroupView,
    /// What comes before the target, code and name.
    before: Vec<String>,
    look_for: String,
    led: Vec<MeetingRow>,
    practice: Vec<MeetingRow>,
    tickets: Vec<TicketLink>,
    /// The week that the results are of; empty where none is planned before.
    results_of: String,
    results: Vec<ResultRow>,
    decided: Vec<String>,
    legend: Vec<Look>,
    is_initials: bool,
}

#[derive(Template)]
#[template(path = "group.html")]
struct GroupPage {
    frame: Frame,
    group: Option<OneGroup>,
    /// Groups that the plan has, id and name; empty where there is no plan.
    others: Vec<(String, String)>,
    query: &'static str,
}

/// The page.
pub(crate) async fn show(
    service: Service,
    path: web::Path<(String, String)>,
    asked: web::Query<NamesAsked>,
) -> PageAnswer {
    let (date, id) = path.into_inner();
    let week = Week::parse(&date)?;
    let (body, is_there) = run(&service, move |s| page(s, week, &id, &asked)).await?;
    Ok(if is_there { html(body) } else { html_with(status_of(ErrorKind::NotFound), body) })
}

/// The page, and whether there is such a group.
fn page(service: &Service, week: Week, id: &str, asked: &NamesAsked) -> Result<(String, bool), AppError> {
    let plan = plan_of(service, week)?;
    let naming = plan.as_ref().map(|p| Naming::of(&p.plan, asked));
    let query = naming.as_ref().map_or("", Naming::query);
    let found = plan.as_ref().zip(naming.as_ref()).and_then(|(plan, naming)| {
        let group = plan.plan.groups.iter().find(|g| g.id == id)?;
        Some(one_group(service, (week, plan), group, naming))
    });
    let group = found.transpose()?;
    let is_there = group.is_some();
    let title = group.as_ref().map_or("Group", |g| g.view.name.as_str()).to_owned();
    let others =
        plan.as_ref().map_or_else(Vec::new, |p| p.plan.groups.iter().map(|g| (g.id.clone(), g.name.clone())).collect());
    let frame = Frame::new(service, Here::Groups, &title, Some(week))?.keeping(query);
    Ok((render(&GroupPage { frame, group, others, query })?, is_there))
}

fn one_group(
    service: &Service,
    (week, week_plan): (Week, &WeekPlan),
    group: &Group,
    naming: &Naming,
) -> Result<OneGroup, AppError> {
    let (plan, knowledge) = (&week_plan.plan, service.weeks.knowledge());
    let decisions = service.weeks.decisions(week)?;
    let results = service.weeks.last_ticket_results(week)?;
    let is_about = |d: &&Decision| match d {
        Decision::Seat { to, .. } => *to == group.id,
        Decision::Target { group: g, .. } | Decision::Item { group: g, .. } => *g == group.id,
    };
    let school = &plan.timetable.school;
    let (led, practice): (Vec<&Session>, Vec<&Session>) =
        plan.rotation.iter().filter(|s| s.group == group.id).partition(|s| s.is_led(school));
    let rows = |list: Vec<&Session>| list.into_iter().map(|s| meeting(plan, naming, s)).collect();
    let look_for = group.error_pattern.as_deref().and_then(|code| knowledge.catalogue.get(code));
    let of_ticket =
        |t: &sheaf_core::tickets::Ticket| TicketLink { form: t.form.clone(), form_code: t.form_code.clone() };
    Ok(OneGroup {
        view: group_view(plan, group, knowledge, naming),
        before: before(group, knowledge),
        look_for: look_for.map(|p| p.look_for.clone()).unwrap_or_default(),
        led: rows(led),
        practice: rows(practice),
        tickets: plan.tickets.iter().filter(|t| t.group == group.id).map(of_ticket).collect(),
        results_of: results.as_ref().map(|(before, _)| text::week_words(*before)).unwrap_or_default(),
        results: results.map_or_else(Vec::new, |(_, list)| result_rows(plan, group, naming, &list)),
        decided: decisions.done.iter().filter(is_about).map(|d| sentence(plan, d, knowledge, naming)).collect(),
        legend: legend(),
        is_initials: naming.is_initials,
    })
}

/// Direct prerequisites of the target.
fn before(group: &Group, knowledge: &Knowledge) -> Vec<String> {
    let skill = knowledge.graph.get(&group.target_skill);
    let words = |code: &sheaf_core::skills::SkillCode| {
        let name = knowledge.graph.name(code);
        if name == code.as_str() { code.to_string() } else { format!("{code} ({name})") }
    };
    skill.map_or_else(Vec::new, |s| s.prerequisites.iter().map(words).collect())
}

fn meeting(plan: &Plan, naming: &Naming, session: &Session) -> MeetingRow {
    MeetingRow {
        day: session.time.day.long(),
        time: format!("{}–{}", session.time.start, session.time.end),
        who: who(session, &plan.timetable.school),
        room: session.room.clone().unwrap_or_default(),
        missing: missing(plan, naming, session),
        change: naming.sentence(&plan.change_of(session).unwrap_or_default()),
    }
}

fn result_rows(plan: &Plan, group: &Group, naming: &Naming, results: &[TicketResult]) -> Vec<ResultRow> {
    let members = group.members.iter().filter_map(|&m| plan.students.get(m));
    let of = |r: &TicketResult| ResultRow {
        label: naming.label(r.student.as_str()).to_owned(),
        form_code: r.form_code.clone(),
        skills: r.skills.join(", "),
        points: format!("{} of {}", text::points(r.points), text::points(r.points_possible)),
    };
    members.flat_map(|m| results.iter().filter(|r| r.student == m.id).map(of)).collect()
}
