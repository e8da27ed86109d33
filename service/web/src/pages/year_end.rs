//! `/school/year`: past school years that the records still hold, and taking one away by its name typed.
//!
//! The week's page asks when there is one (`prompt`); nothing goes by itself. Records that end with the program are not asked about.
//! A form that fails comes back with what was typed and the reason beside it (`a_past_year_is_asked_about_and_goes_by_its_name`, acceptance).
//! Not here: when a year is past (`sheaf_app`), originals that go by themselves.

use super::{Frame, Here, PageAnswer, html, html_with, render, text};
use crate::problem::status_of;
use crate::service::{Lasting, Service, run};
use actix_web::web;
use askama::Template;
use jiff::ZonedDateTime;
use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::PastYear;

/// Which year, and its name typed.
#[derive(Debug, Clone, Deserialize)]
pub(crate) struct ToRemove {
    year: String,
    #[serde(default)]
    typed: String,
}

struct YearView {
    name: String,
    n_weeks: String,
    typed: String,
    error: Option<String>,
}

#[derive(Template)]
#[template(path = "year_end.html")]
struct YearPage {
    frame: Frame,
    years: Vec<YearView>,
    /// What just went.
    gone: Option<String>,
    begins: String,
    keep_years: String,
}

/// The page.
pub(crate) async fn show(service: Service) -> PageAnswer {
    Ok(html(run(&service, |s| page(s, None, None)).await?))
}

/// Takes a year away; the page again, with what went or what is wrong.
pub(crate) async fn remove(service: Service, form: web::Form<ToRemove>) -> PageAnswer {
    let asked = form.into_inner();
    if asked.typed.trim() != asked.year {
        let body = run(&service, move |s| page(s, Some(&asked), None)).await?;
        return Ok(html_with(status_of(ErrorKind::Input), body));
    }
    let body = run(&service, move |s| {
        let n_weeks = s.weeks.remove_year(&asked.year, today())?;
        page(s, None, Some(format!("School year {}: {} removed.", asked.year, text::count(n_weeks, "week"))))
    });
    Ok(html(body.await?))
}

/// What the week's page asks, where the records hold a past year.
pub(super) fn prompt(service: &Service) -> Result<Option<String>, AppError> {
    if service.house.lasting != Lasting::InFile {
        return Ok(None);
    }
    let years = service.weeks.past_years(today())?;
    let names: Vec<String> = years.iter().map(|y| y.name.clone()).collect();
    Ok((!names.is_empty()).then(|| names.join(", ")))
}

fn today() -> jiff::civil::Date {
    ZonedDateTime::now().date()
}

fn page(service: &Service, failed: Option<&ToRemove>, gone: Option<String>) -> Result<String, AppError> {
    let records = service.weeks.setup().school.records.clone();
    let view = |year: PastYear| {
        let failed = failed.filter(|f| f.year == year.name);
        YearView {
            n_weeks: text::count(year.n_weeks, "week"),
            typed: failed.map_or_else(String::new, |f| f.typed.clone()),
            error: failed.map(|_| format!("That is not the year's name; type {} to remove it.", year.name)),
            name: year.name,
        }
    };
    render(&YearPage {
        frame: Frame::new(service, Here::School, "The year's end", None)?,
        years: service.weeks.past_years(today())?.into_iter().map(view).collect(),
        gone,
        begins: format!("{:02}-{:02}", records.year_begins.0, records.year_begins.1),
        keep_years: match records.keep_years {
            0 => "as soon as a year is over".to_owned(),
            n => format!("{} after a year is over", text::count(n, "year")),
        },
    })
}
