//! `/attendance/{date}`: who was there, by ticks: a table a group, a column a session, one form that works without script.
//!
//! In:  the sessions of the week's plan with what was noted. Out: the page; what was ticked is kept and the page shown again.
//! Keeps: a form without a session ticked comes back with its reason, and nothing is noted; what was noted already is ticked
//! (acceptance test `attendance_is_ticked_and_reaches_movement`). Not here: what a tick means (`sheaf-app`).

use super::hatch::{Badge, badge};
use super::{Frame, Here, PageAnswer, html, html_with, render, see_other, text};
use crate::problem::status_of;
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{GroupToTick, SessionToTick, Ticked, Week, was_there};
use sheaf_core::movement::Presence;
use sheaf_core::roster::StudentId;

/// `?kept=12&back=1`.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Asked {
    kept: Option<usize>,
    back: Option<usize>,
}

struct Column {
    /// Sent as `held`.
    value: String,
    heading: String,
    is_noted: bool,
}

struct TickBox {
    /// Sent as `there`.
    value: String,
    heading: String,
    is_ticked: bool,
    /// What a tick does not say.
    more: String,
}

struct Row {
    who: String,
    id: String,
    /// `None`: not expected then.
    boxes: Vec<Option<TickBox>>,
}

struct GroupTable {
    id: String,
    badge: Badge,
    columns: Vec<Column>,
    rows: Vec<Row>,
}

#[derive(Template)]
#[template(path = "attendance.html")]
struct AttendancePage {
    frame: Frame,
    tag: String,
    groups: Vec<GroupTable>,
    /// Whether the week has a plan.
    has_plan: bool,
    kept: Option<usize>,
    /// Sessions that were taken back.
    back: usize,
    error: Option<String>,
}

/// The page.
pub(crate) async fn show(service: Service, path: web::Path<String>, asked: web::Query<Asked>) -> PageAnswer {
    Ok(html(run(&service, move |s| page(s, Week::parse(&path)?, (asked.kept, asked.back), None)).await?))
}

/// Keeps what was ticked.
pub(crate) async fn keep(
    service: Service,
    path: web::Path<String>,
    form: web::Form<Vec<(String, String)>>,
) -> PageAnswer {
    let week = Week::parse(&path)?;
    let ticked = ticked_in(&form);
    match run(&service, move |s| s.weeks.tick(week, &ticked)).await {
        Ok(kept) => Ok(see_other(format!("/attendance/{week}?kept={}&back={}", kept.n_marks, kept.n_taken_back))),
        Err(e) if matches!(e.kind, ErrorKind::Input | ErrorKind::Stale) => {
            let status = status_of(e.kind);
            Ok(html_with(status, run(&service, move |s| page(s, week, (None, None), Some(&e))).await?))
        }
        Err(e) => Err(e.into()),
    }
}

/// `held=g1|0` and `there=g1|0|0417`; anything else says nothing.
fn ticked_in(form: &[(String, String)]) -> Ticked {
    let mut ticked = Ticked::default();
    for (name, value) in form {
        let mut parts = value.splitn(3, '|');
        let place = (parts.next(), parts.next().and_then(|n| n.parse().ok()), parts.next());
        match (name.as_str(), place) {
            ("tag", _) => ticked.tag.clone_from(value),
            ("held", (Some(group), Some(at), None)) => {
                ticked.held.insert((group.to_owned(), at));
            }
            ("noted", (Some(group), Some(at), None)) => {
                ticked.noted.insert((group.to_owned(), at));
            }
            ("there", (Some(group), Some(at), Some(student))) => {
                ticked.there.insert((group.to_owned(), at, student.to_owned()));
            }
            _ => {}
        }
    }
    ticked
}

fn page(
    service: &Service,
    week: Week,
    (kept, back): (Option<usize>, Option<usize>),
    error: Option<&AppError>,
) -> Result<String, AppError> {
    let found = match service.weeks.sessions_to_tick(week) {
        Err(e) if e.kind == ErrorKind::NotFound => None,
        found => Some(found?),
    };
    let has_plan = found.is_some();
    let (groups, tag) = found.unwrap_or_default();
    render(&AttendancePage {
        frame: Frame::new(service, Here::Rotation, "Attendance", Some(week))?,
        tag,
        groups: groups.iter().map(table).collect(),
        has_plan,
        kept,
        back: back.unwrap_or(0),
        error: error.map(|e| text::as_sentence(&e.message)),
    })
}

fn table(group: &GroupToTick) -> GroupTable {
    let columns = group.sessions.iter().enumerate().map(|(at, s)| Column {
        value: format!("{}|{at}", group.group),
        heading: s.session.label.clone(),
        is_noted: s.is_noted(),
    });
    let boxes = |id: &StudentId| {
        group.sessions.iter().enumerate().map(|(at, session)| a_box(&group.group, at, session, id)).collect()
    };
    GroupTable {
        id: group.group.clone(),
        badge: badge(&group.group),
        columns: columns.collect(),
        rows: group
            .members
            .iter()
            .map(|(id, name)| Row { who: name.clone(), id: id.to_string(), boxes: boxes(id) })
            .collect(),
    }
}

fn a_box(group: &str, at: usize, session: &SessionToTick, id: &StudentId) -> Option<TickBox> {
    let noted = session.expected.get(id)?;
    Some(TickBox {
        value: format!("{group}|{at}|{id}"),
        heading: session.session.label.clone(),
        // Before a session is noted most children will have been there.
        is_ticked: noted.map_or(!session.is_noted(), was_there),
        more: match noted {
            Some(Presence::Late) => "late".to_owned(),
            Some(Presence::Minutes(minutes)) => format!("{minutes} min"),
            _ => String::new(),
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_form_sends_is_read_and_the_rest_says_nothing() {
        let form = [
            ("tag", "\"2026-02-02.1\""),
            ("held", "g1|0"),
            ("held", "g1"),
            ("held", "g1|0|x"),
            ("noted", "g1|1"),
            ("there", "g1|0|04|17"),
            ("there", "g1|0"),
            ("there", "g1|x|0417"),
            ("other", "g1|0"),
        ];
        let form: Vec<(String, String)> = form.map(|(n, v)| (n.to_owned(), v.to_owned())).to_vec();
        let ticked = ticked_in(&form);
        assert_eq!(ticked.tag, "\"2026-02-02.1\"");
        assert_eq!(ticked.noted.into_iter().collect::<Vec<_>>(), [("g1".to_owned(), 1)]);
        assert_eq!(ticked.held.into_iter().collect::<Vec<_>>(), [("g1".to_owned(), 0)]);
        assert_eq!(ticked.there.into_iter().collect::<Vec<_>>(), [("g1".to_owned(), 0, "04|17".to_owned())]);
    }
}
