//! `/score-sheets`: the form to hand score sheets in, and the week's list of them.
//!
//! A form that fails comes back with what was typed and the reason beside its field
//! (acceptance test `a_form_that_fails_comes_back_with_the_reason_and_what_was_typed`); what a person cannot mend is a
//! page of its own.

use super::{Frame, Here, PageAnswer, html, html_with, render, see_other, text};
use crate::problem::status_of;
use crate::service::{Service, run};
use crate::upload_form::{UploadForm, read_form};
use crate::works::{Followed, WorkKind, follow};
use actix_multipart::Multipart;
use actix_web::web;
use askama::Template;
use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{Keeping, Standing, Taken, UploadSummary, Week};

/// `?week=DATE`.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    week: Option<String>,
}

struct Row {
    address: String,
    files: String,
    state: &'static str,
    is_waiting: bool,
}

#[derive(Template)]
#[template(path = "score_sheets.html")]
struct SheetsPage {
    frame: Frame,
    /// What stands in the week field: as typed where it could not be read.
    typed_week: String,
    uploads: Vec<Row>,
    n_counted: usize,
    week_error: Option<String>,
    file_error: Option<String>,
}

/// The form and the list.
pub(crate) async fn list(service: Service, asked: web::Query<Asked>) -> PageAnswer {
    let asked = asked.into_inner().week.filter(|w| !w.is_empty());
    let body = run(&service, move |s| {
        let week = asked.as_deref().map_or_else(|| s.home_week(), Week::parse)?;
        page(s, &week.to_string(), None)
    });
    Ok(html(body.await?))
}

/// Takes the form in; on to the look-over, back to the form with the reason, or where it takes long to the page that shows how far it is.
pub(crate) async fn upload(service: Service, parts: Multipart) -> PageAnswer {
    let form = match read_form(parts).await {
        Ok(form) => form,
        Err(error) => return again(&service, String::new(), error).await,
    };
    let typed = form.week.clone().unwrap_or_default();
    let week = match Week::parse(&typed) {
        Ok(week) => week,
        Err(error) => return again(&service, typed, error).await,
    };
    match follow(&service, WorkKind::TakeIn, week, move |s| take_in(s, week, form)).await? {
        Followed::Over(Ok(address)) => Ok(see_other(address)),
        Followed::Over(Err(error)) => again(&service, typed, error).await,
        Followed::Under(work) => Ok(see_other(format!("/progress/{}", work.id))),
    }
}

/// Takes the sheets in and gives where they are looked over.
fn take_in(service: &Service, week: Week, form: UploadForm) -> Result<String, AppError> {
    match service.weeks.take_in(week, form.scores, form.items, Keeping::Wait)?.taken {
        Taken::New(id) => Ok(format!("/score-sheets/{id}")),
        Taken::AlreadyHere(id) => Ok(format!("/score-sheets/{id}?already-here")),
        Taken::LookedAt => Err(AppError::our_fault("an upload was read but not kept")),
    }
}

/// The form again, with what was typed and what is wrong. What the person cannot mend is a page of its own.
async fn again(service: &Service, typed: String, error: AppError) -> PageAnswer {
    if !matches!(error.kind, ErrorKind::Input | ErrorKind::TooLarge) {
        return Err(error.into());
    }
    let status = status_of(error.kind);
    Ok(html_with(status, run(service, move |s| page(s, &typed, Some(&error))).await?))
}

fn page(service: &Service, typed: &str, error: Option<&AppError>) -> Result<String, AppError> {
    let week = Week::parse(typed).or_else(|_| service.home_week())?;
    let is_week_error = error.is_some_and(|e| e.code == "week-not-a-date");
    let words = error.map(|e| text::as_sentence(&e.message));
    let (week_error, file_error) = if is_week_error { (words, None) } else { (None, words) };
    let uploads = service.weeks.uploads(week)?;
    render(&SheetsPage {
        frame: Frame::new(service, Here::Sheets, "Score sheets", Some(week))?,
        typed_week: if typed.is_empty() { week.to_string() } else { typed.to_owned() },
        n_counted: uploads.iter().filter(|u| u.standing.counts()).count(),
        uploads: uploads.iter().map(row).collect(),
        week_error,
        file_error,
    })
}

fn row(upload: &UploadSummary) -> Row {
    let state = match upload.standing {
        Standing::Waiting => "does not count yet.",
        Standing::Counted => "counts.",
        Standing::ReplacedBy(_) => "was replaced.",
    };
    Row {
        address: format!("/score-sheets/{}", upload.id),
        files: upload.file_names.join(", "),
        state,
        is_waiting: upload.standing == Standing::Waiting,
    }
}
