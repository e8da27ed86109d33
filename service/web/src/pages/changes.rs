//! `/school/changes`: who changed what, the latest first, so many a page.
//!
//! In:  `?before=NUMBER`. Out: a table in words: when by the clock of the machine, who, what, about what. A child is a link for those who may open
//! it, else "one child"; a forgotten one is said to be.
//! Keeps: every kind of change has words of its own (`every_change_has_words`). Not here: whether the list was tampered with (`sheaf verify`).

use super::{Frame, Here, PageAnswer, html, render, text};
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde::Deserialize;
use sheaf_app::error::AppError;
use sheaf_app::weeks::{Actor, Change, ListedChange};

/// Entries a page.
const A_PAGE: usize = 200;

/// `?before=NUMBER`.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    before: Option<i64>,
}

struct ChangeRow {
    sequence: i64,
    at: String,
    who: String,
    what: &'static str,
    about: String,
    /// The child's page and id, for those who may open it.
    child: Option<(String, String)>,
}

#[derive(Template)]
#[template(path = "changes.html")]
struct ChangesPage {
    frame: Frame,
    rows: Vec<ChangeRow>,
    older: Option<i64>,
    is_first: bool,
}

/// The page.
pub(crate) async fn show(service: Service, asked: web::Query<Asked>) -> PageAnswer {
    let before = asked.before;
    Ok(html(run(&service, move |s| page(s, before)).await?))
}

fn page(service: &Service, before: Option<i64>) -> Result<String, AppError> {
    let frame = Frame::new(service, Here::School, "Who changed what", None)?;
    let mut changes = service.weeks.changes(before, A_PAGE + 1)?;
    let has_more = changes.len() > A_PAGE;
    changes.truncate(A_PAGE);
    let older = changes.last().filter(|_| has_more).map(|c| c.sequence);
    let zone = TimeZone::system();
    let rows = changes.iter().map(|c| row(&frame, &zone, c)).collect();
    render(&ChangesPage { frame, rows, older, is_first: before.is_none() })
}

fn row(frame: &Frame, zone: &TimeZone, change: &ListedChange) -> ChangeRow {
    let child =
        change.student.as_ref().map(|id| (format!("/students/{id}"), id.clone())).filter(|(at, _)| frame.opens(at));
    ChangeRow {
        sequence: change.sequence,
        at: when(zone, &change.at),
        who: who(&change.who).to_owned(),
        what: Change::ALL.iter().find(|c| c.code() == change.what).map_or("something else", |c| words(*c)),
        about: about(change, child.is_some()),
        child,
    }
}

fn when(zone: &TimeZone, at: &str) -> String {
    let time =
        at.parse::<Timestamp>().map(|t| t.to_zoned_datetime(zone.clone()).strftime("%a %-d %b %Y, %H:%M").to_string());
    time.unwrap_or_else(|_| at.to_owned())
}

fn who(word: &str) -> &str {
    let [at_machine, script, command, program] = Actor::WORDS;
    match word {
        _ if word == at_machine => "the person at the machine",
        _ if word == script => "a script",
        _ if word == command => "the command line",
        _ if word == program => "Sheaf by itself",
        name => name,
    }
}

/// What it is about, the child only where it is no link.
fn about(change: &ListedChange, is_child_linked: bool) -> String {
    let child = match (change.is_about_a_child, &change.student) {
        (true, None) => Some("a child that was forgotten since".to_owned()),
        (true, Some(_)) if !is_child_linked => Some("one child".to_owned()),
        _ => None,
    };
    let parts = [
        child,
        change.group.as_ref().map(|id| format!("group {}", id.strip_prefix('g').unwrap_or(id))),
        change.upload.map(|id| format!("upload {id}")),
        change.account.as_ref().filter(|name| **name != change.who).map(|name| format!("account {name}")),
        change.week.map(|week| {
            let words = text::week_words(week);
            let mut letters = words.chars();
            letters.next().map_or(String::new(), |first| format!("{}{}", first.to_lowercase(), letters.as_str()))
        }),
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

fn words(change: Change) -> &'static str {
    match change {
        Change::SheetHandedIn => "Score sheets handed in, to be looked over",
        Change::SheetTakenIn => "Score sheets taken in",
        Change::SheetCorrected => "Reading of a score sheet corrected",
        Change::SheetCounted => "Score sheets confirmed",
        Change::SheetTakenBack => "Score sheets taken back",
        Change::OriginalsRemoved => "Old originals removed",
        Change::YearRemoved => "Weeks of a past school year removed",
        Change::StudentsListed => "List of students taken in",
        Change::SameChildAnswered => "Same child or not: answered",
        Change::StudentForgotten => "A student forgotten",
        Change::AttendanceNoted => "Attendance noted",
        Change::PlanMade => "Week planned",
        Change::DayRepaired => "Day planned anew while somebody is out",
        Change::RepairTakenBack => "Repair of a day taken back",
        Change::DecisionMade => "Suggestion overruled",
        Change::SeatMoved => "Child moved to another group",
        Change::TargetChanged => "Target of a group changed",
        Change::ItemSwapped => "Ticket item swapped",
        Change::DecisionUndone => "Decision undone",
        Change::DecisionRedone => "Decision made again",
        Change::ResultsTyped => "Ticket results typed",
        Change::SetupKept => "The school’s setup changed",
        Change::MemoDecided => "Team’s decision kept",
        Change::AccountAdded => "Account added",
        Change::AccountRemoved => "Account removed",
        Change::PassphraseChanged => "Passphrase changed",
        Change::SignedIn => "Signed in",
        Change::SignedOut => "Signed out",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_change_has_words() {
        let told: BTreeSet<&str> = Change::ALL.iter().map(|c| words(*c)).collect();
        assert_eq!(told.len(), Change::ALL.len());
    }

    #[test]
    fn a_time_is_told_by_the_clock_of_the_machine() {
        let zone = TimeZone::fixed(jiff::tz::offset(-5));
        assert_eq!(when(&zone, "2026-02-03T02:05:00Z"), "Mon 2 Feb 2026, 21:05");
        assert_eq!(when(&zone, "someday"), "someday");
    }
}
