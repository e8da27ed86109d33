//! `/`: where this week stands and the one next step.
//!
//! In:  the week's stage and, where there is one, its plan. Out: five steps, each done, next or later, and one button.
//! Not here: which week is shown unasked (`Service::home_week`).

use super::results::Counts;
use super::{Frame, Here, PageAnswer, html, render, text, year_end};
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use serde::Deserialize;
use sheaf_app::error::AppError;
use sheaf_app::weeks::{Stage, Week, WeekOverview};

/// `?week=DATE`.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    week: Option<String>,
}

/// A step of the week's way.
struct Step {
    name: &'static str,
    /// `done`, `next` or `later`: a class, and a word for those who hear the page.
    state: &'static str,
    words: String,
    address: String,
}

/// What to do now.
enum Next {
    Upload,
    LookOver,
    Plan,
    PlanAgain,
    HandOut,
}

struct OtherWeek {
    address: String,
    words: String,
    stage: &'static str,
}

#[derive(Template)]
#[template(path = "home.html")]
struct HomePage {
    frame: Frame,
    steps: Vec<Step>,
    next: Next,
    n_waiting: String,
    upcoming: String,
    others: Vec<OtherWeek>,
    /// Past school years that are still in the records, for those who may decide on them.
    past_years: Option<String>,
}

/// The page.
pub(crate) async fn show(service: Service, asked: web::Query<Asked>) -> PageAnswer {
    let asked = asked.into_inner().week.filter(|w| !w.is_empty());
    Ok(html(run(&service, move |s| page(s, asked.as_deref())).await?))
}

fn page(service: &Service, asked: Option<&str>) -> Result<String, AppError> {
    let week = asked.map_or_else(|| service.home_week(), Week::parse)?;
    let overview = service.weeks.overview(week)?;
    let others = service.weeks.weeks()?.iter().filter(|o| o.week != week).map(other_week).collect();
    let frame = Frame::new(service, Here::Week, "This week", Some(week))?;
    render(&HomePage {
        past_years: if frame.edits() { year_end::prompt(service)? } else { None },
        frame,
        steps: steps(service, &overview)?,
        next: if overview.n_waiting > 0 { Next::LookOver } else { next(overview.stage) },
        n_waiting: text::count(overview.n_waiting, "upload"),
        upcoming: week.next().to_string(),
        others,
    })
}

fn next(stage: Stage) -> Next {
    match stage {
        Stage::Empty => Next::Upload,
        Stage::ScoresIn => Next::Plan,
        Stage::PlanBehind => Next::PlanAgain,
        Stage::Planned => Next::HandOut,
    }
}

fn other_week(overview: &WeekOverview) -> OtherWeek {
    OtherWeek {
        address: format!("/?week={}", overview.week),
        words: text::week_words(overview.week),
        stage: match overview.stage {
            Stage::Empty => "no score sheets",
            Stage::ScoresIn => "score sheets in, no plan",
            Stage::PlanBehind => "plan older than its score sheets",
            Stage::Planned => "planned",
        },
    }
}

fn steps(service: &Service, overview: &WeekOverview) -> Result<Vec<Step>, AppError> {
    let week = overview.week;
    let has_sheets = overview.stage != Stage::Empty;
    let plan = match overview.stage {
        Stage::Planned | Stage::PlanBehind => Some(service.weeks.plan(week)?),
        Stage::Empty | Stage::ScoresIn => None,
    };
    let is_current = overview.stage == Stage::Planned;
    let groups = plan.as_ref().map_or_else(
        || "Made by the plan".to_owned(),
        |p| format!("{}, {} waiting", text::count(p.plan.groups.len(), "group"), super::groups::n_waiting(&p.plan)),
    );
    let rotation =
        plan.as_ref().map_or_else(|| "Made by the plan".to_owned(), |p| text::count(p.plan.rotation.len(), "meeting"));
    let hand_out = plan.as_ref().map_or_else(
        || "Tickets, keys and the staff workbook".to_owned(),
        |p| format!("{}, staff workbook", text::count(p.plan.tickets.len(), "ticket form")),
    );
    let results = match plan {
        Some(_) => Counts::of(&service.weeks.results_to_type(week)?.0),
        None => Counts::default(),
    };
    let has_results = results.n_in > 0;
    let first_open = if has_sheets { "next" } else { "later" };
    Ok(vec![
        Step {
            name: "Scores in",
            state: if has_sheets { "done" } else { "next" },
            words: if overview.n_waiting > 0 {
                format!("{}, {} to look over", text::count(overview.n_uploads, "upload"), overview.n_waiting)
            } else {
                text::count(overview.n_uploads, "upload")
            },
            address: format!("/score-sheets?week={week}"),
        },
        Step {
            name: "Groups",
            state: if is_current { "done" } else { first_open },
            words: groups,
            address: format!("/groups/{week}"),
        },
        Step {
            name: "Rotation",
            state: if is_current { "done" } else { "later" },
            words: rotation,
            address: format!("/rotation/{week}"),
        },
        Step {
            name: "Hand out",
            state: match (is_current, has_results) {
                (true, true) => "done",
                (true, false) => "next",
                (false, _) => "later",
            },
            words: hand_out,
            address: format!("/tickets/{week}"),
        },
        Step {
            name: "Results in",
            state: match (has_results, results.n_open) {
                (true, 0) => "done",
                (true, _) => "next",
                (false, _) => "later",
            },
            words: if has_results {
                format!("{} in, {} open", results.n_in, results.n_open)
            } else {
                "What the tickets say, for the next plan".to_owned()
            },
            address: format!("/results/{week}"),
        },
    ])
}
