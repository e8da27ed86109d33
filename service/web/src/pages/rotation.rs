//! `/rotation/{date}`: the week as a grid, times down and days across.
//!
//! In:  the plan's sessions. Out: for each time and day its meetings, with who is missed in them; for each group its
//! sum; a form that says who is out, and what was changed since. Under `?names=initials` children are called by their initials.
//! Without a timetable the page says what is missing. Nothing is decided here.

use super::groups::plan_of;
use super::hatch::{Badge, badge};
use super::naming::{NamesAsked, Naming};
use super::{Frame, Here, PageAnswer, html, html_with, render, see_other, text};
use crate::problem::status_of;
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{KeptRepair, Week};
use sheaf_core::plan::Plan;
use sheaf_core::roster::{Day, Minutes, School};
use sheaf_core::rotation::Session;
use sheaf_core::rotation::explain::explain;
use std::collections::BTreeSet;

struct Meeting {
    badge: Badge,
    /// The adult who leads; at a practice station its name, and who holds it.
    who: String,
    room: Option<String>,
    skill: String,
    /// Members who are not expected then; empty where all are.
    missing: String,
    /// What a repair changed; empty where nothing.
    change: String,
    /// Why here and now, and what else was possible.
    why: String,
    /// The adult who may be out, where one is there.
    out: Option<OutHere>,
}

/// What is sent when the adult of a meeting is out.
struct OutHere {
    adult: String,
    /// As it is sent, and as it is said.
    day: (&'static str, &'static str),
    block: String,
}

/// What was changed because somebody was out.
struct RepairView {
    without: String,
    reason: String,
    changes: Vec<String>,
    doubt: Option<&'static str>,
}

/// Names to choose from, with what is sent for each.
struct OutChoices {
    staff: Vec<String>,
    rooms: Vec<String>,
    /// Id and name.
    children: Vec<(String, String)>,
    /// Id and when it is.
    blocks: Vec<(String, String)>,
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
    repairs: Vec<RepairView>,
    choices: OutChoices,
}

#[derive(Template)]
#[template(path = "rotation.html")]
struct RotationPage {
    frame: Frame,
    days: Vec<&'static str>,
    day_codes: Vec<(&'static str, &'static str)>,
    plan: Option<RotationView>,
    error: Option<String>,
    /// What links carry under initials; empty by full names.
    query: &'static str,
}

/// Who is out, and when.
#[derive(Debug, Deserialize)]
pub(crate) struct OutForm {
    who: String,
    when: String,
    #[serde(default)]
    reason: String,
}

/// The page.
pub(crate) async fn show(service: Service, path: web::Path<String>, asked: web::Query<NamesAsked>) -> PageAnswer {
    Ok(html(run(&service, move |s| page(s, Week::parse(&path)?, None, &asked)).await?))
}

/// Issues a day anew while somebody is out; back to the page, at what changed.
pub(crate) async fn repair(service: Service, path: web::Path<String>, form: web::Form<OutForm>) -> PageAnswer {
    let week = Week::parse(&path)?;
    let form = form.into_inner();
    let without = [format!("{}@{}", form.who, form.when)];
    let done = run(&service, move |s| s.weeks.repair(week, &without, &form.reason)).await;
    after(&service, week, done.map(|_| ())).await
}

/// Takes the last repair back.
pub(crate) async fn take_back(service: Service, path: web::Path<String>) -> PageAnswer {
    let week = Week::parse(&path)?;
    let done = run(&service, move |s| s.weeks.take_repair_back(week)).await;
    after(&service, week, done.map(|_| ())).await
}

/// The page again, with the reason where a person can do something about it.
async fn after(service: &Service, week: Week, done: Result<(), AppError>) -> PageAnswer {
    match done {
        Ok(()) => Ok(see_other(format!("/rotation/{week}#changes"))),
        Err(e) if matches!(e.kind, ErrorKind::Input | ErrorKind::Conflict | ErrorKind::NotFound) => {
            let status = status_of(e.kind);
            let shown = move |s: &Service| page(s, week, Some(&e), &NamesAsked::default());
            Ok(html_with(status, run(service, shown).await?))
        }
        Err(e) => Err(e.into()),
    }
}

fn page(service: &Service, week: Week, error: Option<&AppError>, asked: &NamesAsked) -> Result<String, AppError> {
    let plan = plan_of(service, week)?;
    let kept = if plan.is_some() { service.weeks.repairs(week)? } else { Vec::new() };
    let naming = plan.as_ref().map(|p| Naming::of(&p.plan, asked));
    let query = naming.as_ref().map_or("", Naming::query);
    render(&RotationPage {
        frame: Frame::new(service, Here::Rotation, "Rotation", Some(week))?.keeping(query),
        days: Day::ALL.iter().map(|d| d.long()).collect(),
        day_codes: Day::ALL.iter().map(|d| (d.short(), d.long())).collect(),
        plan: plan.zip(naming).map(|(p, naming)| view(&p.plan, &kept, &naming)),
        error: error.map(|e| text::as_sentence(&e.message)),
        query,
    })
}

fn view(plan: &Plan, kept: &[KeptRepair], naming: &Naming) -> RotationView {
    let school = &plan.timetable.school;
    let times: BTreeSet<(Minutes, Minutes)> = plan.rotation.iter().map(|s| (s.time.start, s.time.end)).collect();
    RotationView {
        rows: times.into_iter().map(|time| time_row(plan, naming, time)).collect(),
        sums: plan.groups.iter().map(|g| group_sum(&plan.rotation, school, &g.id)).collect(),
        notes: plan.rotation_notes.iter().map(|n| text::as_sentence(&naming.sentence(n))).collect(),
        repairs: repairs(plan, kept, naming),
        choices: choices(plan),
    }
}

/// The latest first; the reason is kept beside the plan, not in it.
fn repairs(plan: &Plan, kept: &[KeptRepair], naming: &Naming) -> Vec<RepairView> {
    let one = |(idx, repair): (usize, &sheaf_core::plan::PlanRepair)| RepairView {
        without: repair.without.iter().map(|out| naming.sentence(&out.words())).collect::<Vec<_>>().join(", "),
        reason: kept.get(idx).map(|k| naming.typed(&k.reason).to_owned()).unwrap_or_default(),
        changes: repair.changes.iter().map(|c| naming.sentence(&c.words(plan.group_name(&c.before.group)))).collect(),
        doubt: repair.doubt(),
    };
    plan.repairs.iter().enumerate().rev().map(one).collect()
}

fn choices(plan: &Plan) -> OutChoices {
    let school = &plan.timetable.school;
    let seated = plan.groups.iter().flat_map(|g| &g.members).filter_map(|&m| plan.students.get(m));
    let mut children: Vec<(String, String)> = seated.map(|s| (s.id.to_string(), s.name.clone())).collect();
    children.sort_by(|a, b| (a.1.to_lowercase(), &a.0).cmp(&(b.1.to_lowercase(), &b.0)));
    let when =
        |b: &sheaf_core::roster::Block| format!("{} {}–{} ({})", b.time.day.short(), b.time.start, b.time.end, b.id);
    let blocks = Day::ALL.into_iter().flat_map(|day| school.blocks_on(day));
    OutChoices {
        staff: school.staff.iter().map(|s| s.name.clone()).collect(),
        rooms: school.rooms.iter().map(|r| r.name.clone()).collect(),
        children,
        blocks: blocks.map(|b| (b.id.clone(), when(b))).collect(),
    }
}

fn time_row(plan: &Plan, naming: &Naming, (start, end): (Minutes, Minutes)) -> TimeRow {
    let meetings_on = |day| {
        plan.rotation
            .iter()
            .filter(move |s| s.time.day == day && (s.time.start, s.time.end) == (start, end))
            .map(|s| meeting(plan, naming, s))
            .chain(lost(plan, day, (start, end)))
            .collect()
    };
    TimeRow { start: start.to_string(), end: end.to_string(), days: Day::ALL.into_iter().map(meetings_on).collect() }
}

/// Meetings that a repair took away stay in their cell, so that nobody waits for them.
fn lost(plan: &Plan, day: Day, (start, end): (Minutes, Minutes)) -> impl Iterator<Item = Meeting> + '_ {
    let gone = plan.repairs.iter().flat_map(|r| &r.changes).filter(|c| c.after.is_none()).map(|c| &c.before);
    let here = gone.filter(move |s| s.time.day == day && (s.time.start, s.time.end) == (start, end));
    here.map(|s| Meeting {
        badge: badge(&s.group),
        who: s.staff.clone().unwrap_or_else(|| s.station.clone()),
        room: None,
        skill: String::new(),
        missing: String::new(),
        change: "does not meet".to_owned(),
        why: String::new(),
        out: None,
    })
}

fn meeting(plan: &Plan, naming: &Naming, session: &Session) -> Meeting {
    let school = &plan.timetable.school;
    let day = session.time.day;
    let out =
        |adult: &String| OutHere { adult: adult.clone(), day: (day.short(), day.long()), block: session.block.clone() };
    Meeting {
        badge: badge(&session.group),
        who: who(session, school),
        room: session.room.clone(),
        skill: session.skill.clone(),
        missing: missing(plan, naming, session),
        change: naming.sentence(&plan.change_of(session).unwrap_or_default()),
        why: naming.sentence(&explain(school, &plan.timetable.groups, &plan.rotation, session)),
        out: session.staff.as_ref().map(out),
    }
}

/// Members who are not expected then.
pub(super) fn missing(plan: &Plan, naming: &Naming, session: &Session) -> String {
    let members = plan.groups.iter().find(|g| g.id == session.group).map_or(&[][..], |g| &g.members);
    let absent = members
        .iter()
        .filter_map(|&m| plan.students.get(m))
        .filter(|s| !session.expected.iter().any(|id| id == s.id.as_str()))
        .map(|s| naming.label(s.id.as_str()));
    absent.collect::<Vec<_>>().join(", ")
}

/// The adult who leads; at a practice station its name, and who holds it.
pub(super) fn who(session: &Session, school: &School) -> String {
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
