//! `/rotation/{date}`: the week as a grid, times down and days across.
//!
//! In:  the plan's sessions. Out: for each time and day its meetings, with who is missed in them; for each group its
//! sum.
//! Without a timetable the page says what is missing. Nothing is decided here.

use super::groups::plan_of;
use super::hatch::{Badge, badge};
use super::{Frame, Here, PageAnswer, html, render, text};
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use sheaf_app::error::AppError;
use sheaf_app::weeks::Week;
use sheaf_core::plan::Plan;
use sheaf_core::roster::{Day, Minutes};
use sheaf_core::rotation::Session;
use std::collections::BTreeSet;

struct Meeting {
    badge: Badge,
    station: String,
    staff: Option<String>,
    room: Option<String>,
    skill: String,
    /// Members who are not expected then; empty where all are.
    missing: String,
}

struct TimeRow {
    start: String,
    end: String,
    /// One entry a day, Monday to Friday.
    days: Vec<Vec<Meeting>>,
}

struct GroupSum {
    badge: Badge,
    n_led: usize,
    n_practice: usize,
    minutes: usize,
}

struct RotationView {
    rows: Vec<TimeRow>,
    sums: Vec<GroupSum>,
    notes: Vec<String>,
}

#[derive(Template)]
#[template(path = "rotation.html")]
struct RotationPage {
    frame: Frame,
    days: Vec<&'static str>,
    plan: Option<RotationView>,
}

/// The page.
pub(crate) async fn show(service: web::Data<Service>, path: web::Path<String>) -> PageAnswer {
    Ok(html(run(&service, move |s| page(s, Week::parse(&path)?)).await?))
}

fn page(service: &Service, week: Week) -> Result<String, AppError> {
    render(&RotationPage {
        frame: Frame::new(service, Here::Rotation, "Rotation", Some(week))?,
        days: Day::ALL.iter().map(|d| d.long()).collect(),
        plan: plan_of(service, week)?.map(|p| view(&p.plan)),
    })
}

fn view(plan: &Plan) -> RotationView {
    let times: BTreeSet<(Minutes, Minutes)> = plan.rotation.iter().map(|s| (s.time.start, s.time.end)).collect();
    RotationView {
        rows: times.into_iter().map(|time| time_row(plan, time)).collect(),
        sums: plan.groups.iter().map(|g| group_sum(plan, &g.id)).collect(),
        notes: plan.rotation_notes.iter().map(|n| text::as_sentence(n)).collect(),
    }
}

fn time_row(plan: &Plan, (start, end): (Minutes, Minutes)) -> TimeRow {
    let meetings_on = |day| {
        plan.rotation
            .iter()
            .filter(move |s| s.time.day == day && (s.time.start, s.time.end) == (start, end))
            .map(|s| meeting(plan, s))
            .collect()
    };
    TimeRow { start: start.to_string(), end: end.to_string(), days: Day::ALL.into_iter().map(meetings_on).collect() }
}

fn meeting(plan: &Plan, session: &Session) -> Meeting {
    let members = plan.groups.iter().find(|g| g.id == session.group).map_or(&[][..], |g| &g.members);
    let missing = members
        .iter()
        .filter_map(|&m| plan.students.get(m))
        .filter(|s| !session.expected.iter().any(|id| id == s.id.as_str()))
        .map(|s| if s.name.is_empty() { s.id.to_string() } else { s.name.clone() });
    Meeting {
        badge: badge(&session.group),
        station: session.station.clone(),
        staff: session.staff.clone(),
        room: session.room.clone(),
        skill: session.skill.clone(),
        missing: missing.collect::<Vec<_>>().join(", "),
    }
}

fn group_sum(plan: &Plan, group: &str) -> GroupSum {
    let sessions = || plan.rotation.iter().filter(|s| s.group == group);
    GroupSum {
        badge: badge(group),
        n_led: sessions().filter(|s| s.staff.is_some()).count(),
        n_practice: sessions().filter(|s| s.staff.is_none()).count(),
        minutes: sessions().filter(|s| s.staff.is_some()).map(|s| usize::from(s.time.length_minutes())).sum(),
    }
}
