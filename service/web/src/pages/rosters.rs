//! `/rotation/{date}/roster?by=adult|room|homeroom|child`: who is where when, a page of paper for each; and an adult's calendar file.
//!
//! In:  the plan's sessions. Out: a sheet for each adult, room, homeroom or child that has one, or for the one that `who` names.
//! A child's sheet says when, where and with whom, and nothing about skills. Nothing is decided here.

use super::groups::plan_of;
use super::hatch::{Badge, badge};
use super::{Frame, Here, PageAnswer, html, render};
use crate::service::{Service, run};
use actix_web::http::header::CONTENT_DISPOSITION;
use actix_web::{HttpResponse, web};
use askama::Template;
use serde::Deserialize;
use sheaf_app::calendar::calendar as calendar_text;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::Week;
use sheaf_core::plan::{Plan, StudentReport};
use sheaf_core::rotation::Session;
use std::collections::BTreeSet;

/// `?by=adult` and `&who=I1`.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    #[serde(default)]
    by: String,
    who: Option<String>,
}

/// `?adult=I1`.
#[derive(Debug, Deserialize)]
pub(crate) struct OfAdult {
    adult: String,
}

/// Whose sheets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum By {
    Adult,
    Room,
    Homeroom,
    Child,
}

const WAYS: [(By, &str, &str); 4] = [
    (By::Adult, "adult", "Adults"),
    (By::Room, "room", "Rooms"),
    (By::Homeroom, "homeroom", "Homerooms"),
    (By::Child, "child", "Children"),
];

struct Row {
    day: &'static str,
    /// Whether this row opens its day.
    opens_day: bool,
    start: String,
    end: String,
    badge: Badge,
    who: String,
    place: String,
    target: String,
    children: Vec<String>,
    change: String,
}

struct Sheet {
    title: String,
    /// Sent back as `who`.
    name: String,
    rows: Vec<Row>,
    /// `adult=...`, for the calendar file.
    has_calendar: bool,
}

#[derive(Template)]
#[template(path = "roster.html")]
struct RosterPage {
    frame: Frame,
    ways: Vec<(&'static str, &'static str, bool)>,
    by: &'static str,
    sheets: Vec<Sheet>,
    is_one: bool,
    has_plan: bool,
}

/// The page.
pub(crate) async fn show(service: Service, path: web::Path<String>, asked: web::Query<Asked>) -> PageAnswer {
    Ok(html(run(&service, move |s| page(s, Week::parse(&path)?, &asked)).await?))
}

/// An adult's sessions as a calendar file.
pub(crate) async fn calendar(service: Service, path: web::Path<String>, of: web::Query<OfAdult>) -> PageAnswer {
    let week = Week::parse(&path)?;
    let text = run(&service, move |s| {
        let plan = s.weeks.plan(week)?;
        let is_known = plan.plan.timetable.school.staff.iter().any(|a| a.name == of.adult);
        let missing = || AppError::new(ErrorKind::NotFound, "no-such-adult", "This plan has no adult of that name.");
        is_known.then(|| calendar_text(&plan.plan, week.monday(), &of.adult)).ok_or_else(missing)
    })
    .await?;
    Ok(HttpResponse::Ok()
        .content_type("text/calendar; charset=utf-8")
        .insert_header((CONTENT_DISPOSITION, format!("attachment; filename=\"rotation-{week}.ics\"")))
        .body(text))
}

fn page(service: &Service, week: Week, asked: &Asked) -> Result<String, AppError> {
    let (by, word, title) = WAYS.into_iter().find(|(_, word, _)| *word == asked.by).unwrap_or(WAYS[0]);
    let plan = plan_of(service, week)?;
    let mut sheets = plan.as_ref().map_or(Vec::new(), |p| sheets(&p.plan, by));
    if let Some(who) = &asked.who {
        sheets.retain(|s| s.name == *who);
    }
    render(&RosterPage {
        frame: Frame::new(service, Here::Rotation, &format!("Rosters: {title}"), Some(week))?,
        ways: WAYS.map(|(way, word, title)| (word, title, way == by)).to_vec(),
        by: word,
        sheets,
        is_one: asked.who.is_some(),
        has_plan: plan.is_some(),
    })
}

fn sheets(plan: &Plan, by: By) -> Vec<Sheet> {
    let school = &plan.timetable.school;
    match by {
        By::Adult => school.staff.iter().filter_map(|a| adult(plan, &a.name)).collect(),
        By::Room => school.rooms.iter().filter_map(|r| room(plan, &r.name)).collect(),
        By::Homeroom => {
            let names: BTreeSet<&str> = plan.students.iter().map(|s| s.homeroom.as_str()).collect();
            names.into_iter().filter(|n| !n.is_empty()).filter_map(|n| homeroom(plan, n)).collect()
        }
        By::Child => plan.students.iter().filter_map(|s| child(plan, s)).collect(),
    }
}

fn adult(plan: &Plan, name: &str) -> Option<Sheet> {
    let of = |s: &Session| s.staff.as_deref() == Some(name);
    // The teacher table needs no word; a practice station does.
    let place = |s: &Session| {
        let station = (!s.is_led(&plan.timetable.school)).then(|| s.station.clone());
        s.room.clone().into_iter().chain(station).collect::<Vec<_>>().join(", ")
    };
    let row = |s: &Session| Row { place: place(s), children: with_homerooms(plan, s), ..row(plan, s) };
    sheet(plan, name, of, row).map(|sheet| Sheet { has_calendar: true, ..sheet })
}

fn room(plan: &Plan, name: &str) -> Option<Sheet> {
    let row = |s: &Session| Row { place: s.station.clone(), children: names(plan, s), ..row(plan, s) };
    sheet(plan, name, |s| s.room.as_deref() == Some(name), row)
}

fn homeroom(plan: &Plan, name: &str) -> Option<Sheet> {
    let leaving = |s: &Session| -> Vec<String> {
        children(plan, s).filter(|c| c.homeroom == name).map(|c| c.shown_name().to_owned()).collect()
    };
    let row = |s: &Session| Row { children: leaving(s), ..row(plan, s) };
    sheet(plan, name, |s| !leaving(s).is_empty(), row)
}

fn child(plan: &Plan, student: &StudentReport) -> Option<Sheet> {
    let of = |s: &Session| s.expected.iter().any(|id| id == student.id.as_str());
    let sheet = sheet(plan, student.shown_name(), of, |s| Row { target: String::new(), ..row(plan, s) })?;
    Some(Sheet { name: student.id.to_string(), ..sheet })
}

fn sheet(plan: &Plan, name: &str, of: impl Fn(&Session) -> bool, row: impl Fn(&Session) -> Row) -> Option<Sheet> {
    let mut rows: Vec<Row> = plan.rotation.iter().filter(|s| of(s)).map(row).collect();
    let days: Vec<&str> = rows.iter().map(|r| r.day).collect();
    for (idx, row) in rows.iter_mut().enumerate() {
        row.opens_day = idx == 0 || days[idx - 1] != days[idx];
    }
    let sheet = Sheet { title: name.to_owned(), name: name.to_owned(), rows, has_calendar: false };
    (!sheet.rows.is_empty()).then_some(sheet)
}

fn row(plan: &Plan, s: &Session) -> Row {
    Row {
        day: s.time.day.long(),
        opens_day: false,
        start: s.time.start.to_string(),
        end: s.time.end.to_string(),
        badge: badge(&s.group),
        who: s.staff.clone().unwrap_or_else(|| s.station.clone()),
        place: s.room.clone().unwrap_or_default(),
        target: target(plan, s),
        children: Vec::new(),
        change: plan.change_of(s).unwrap_or_default(),
    }
}

fn target(plan: &Plan, s: &Session) -> String {
    let known = plan.skills.iter().find(|k| k.code.as_str() == s.skill && k.name != s.skill);
    known.map_or_else(|| s.skill.clone(), |k| format!("{}: {}", s.skill, k.name))
}

fn children<'p>(plan: &'p Plan, s: &'p Session) -> impl Iterator<Item = &'p StudentReport> {
    s.expected.iter().filter_map(|id| plan.students.iter().find(|r| r.id.as_str() == id))
}

fn names(plan: &Plan, s: &Session) -> Vec<String> {
    children(plan, s).map(|c| c.shown_name().to_owned()).collect()
}

/// `Ana (5P)`: where to send each back to.
fn with_homerooms(plan: &Plan, s: &Session) -> Vec<String> {
    let one = |c: &StudentReport| {
        if c.homeroom.is_empty() { c.shown_name().to_owned() } else { format!("{} ({})", c.shown_name(), c.homeroom) }
    };
    children(plan, s).map(one).collect()
}
