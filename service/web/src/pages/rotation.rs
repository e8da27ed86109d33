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
use sheaf_core::roster::{Day, Minutes, School};
use sheaf_core::rotation::Session;
use std::collections::BTreeSet;

struct Meeting {
    badge: Badge,
    /// The adult who leads; at a practice station its name, and who holds it.
    who: String,
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
        plan: plan_of(service, week)?.map(|p| view(&p.plan, &service.weeks.setup().school)),
    })
}

fn view(plan: &Plan, school: &School) -> RotationView {
    let times: BTreeSet<(Minutes, Minutes)> = plan.rotation.iter().map(|s| (s.time.start, s.time.end)).collect();
    RotationView {
        rows: times.into_iter().map(|time| time_row(plan, school, time)).collect(),
        sums: plan.groups.iter().map(|g| group_sum(&plan.rotation, school, &g.id)).collect(),
        notes: plan.rotation_notes.iter().map(|n| text::as_sentence(n)).collect(),
    }
}

fn time_row(plan: &Plan, school: &School, (start, end): (Minutes, Minutes)) -> TimeRow {
    let meetings_on = |day| {
        plan.rotation
            .iter()
            .filter(move |s| s.time.day == day && (s.time.start, s.time.end) == (start, end))
            .map(|s| meeting(plan, school, s))
            .collect()
    };
    TimeRow { start: start.to_string(), end: end.to_string(), days: Day::ALL.into_iter().map(meetings_on).collect() }
}

fn meeting(plan: &Plan, school: &School, session: &Session) -> Meeting {
    let members = plan.groups.iter().find(|g| g.id == session.group).map_or(&[][..], |g| &g.members);
    let missing = members
        .iter()
        .filter_map(|&m| plan.students.get(m))
        .filter(|s| !session.expected.iter().any(|id| id == s.id.as_str()))
        .map(|s| if s.name.is_empty() { s.id.to_string() } else { s.name.clone() });
    Meeting {
        badge: badge(&session.group),
        who: who(session, school),
        room: session.room.clone(),
        skill: session.skill.clone(),
        missing: missing.collect::<Vec<_>>().join(", "),
    }
}

fn who(session: &Session, school: &School) -> String {
    match (&session.staff, session.is_led(school)) {
        (Some(adult), true) => adult.clone(),
        (Some(assistant), false) => format!("{}, held by {assistant}", session.station),
        (None, _) => session.station.clone(),
    }
}

fn group_sum(sessions: &[Session], school: &School, group: &str) -> GroupSum {
    let (led, practice): (Vec<&Session>, Vec<&Session>) =
        sessions.iter().filter(|s| s.group == group).partition(|s| s.is_led(school));
    GroupSum {
        badge: badge(group),
        n_led: led.len(),
        n_practice: practice.len(),
        minutes: led.iter().map(|s| usize::from(s.time.length_minutes())).sum(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_core::roster::{Station, TimeSpan};

    fn session(station: &str, staff: &str) -> Session {
        Session {
            block: "mon-1".to_owned(),
            time: TimeSpan { day: Day::Mon, start: Minutes(540), end: Minutes(570) },
            group: "g1".to_owned(),
            station: station.to_owned(),
            staff: Some(staff.to_owned()),
            room: None,
            skill: String::new(),
            expected: Vec::new(),
        }
    }

    #[test]
    fn practice_that_an_assistant_holds_is_not_led() {
        let stations = vec![Station { name: "Practice table".to_owned(), staffed: false, capacity: 1 }];
        let school = School { stations, ..School::default() };
        let sessions = [session("Teacher table", "I1"), session("Practice table", "A1")];
        let sum = group_sum(&sessions, &school, "g1");
        assert_eq!((sum.n_led, sum.n_practice, sum.minutes), (1, 1, 30));
        assert_eq!(sessions.each_ref().map(|s| who(s, &school)), ["I1", "Practice table, held by A1"]);
    }
}
