//! Pages: one file a page, each turns what a job gave into a view and renders its template.
//!
//! Keeps: every text from a sheet is escaped by the template; forms work without script; a form that fails comes back
//! with what was typed and the reason beside it.
//! Not here: HTML (`templates/`), looks (`static/sheaf.css`), numbers.

pub(crate) mod attendance;
pub(crate) mod changes;
pub(crate) mod child;
pub(crate) mod decide;
mod findings;
mod flow_picture;
mod frame;
pub(crate) mod group;
mod group_view;
pub(crate) mod groups;
mod hatch;
pub(crate) mod home;
pub(crate) mod look_over;
mod maths;
pub(crate) mod memo;
pub(crate) mod movement;
mod naming;
mod needs;
pub(crate) mod people;
pub(crate) mod people_me;
mod replanned;
pub(crate) mod results;
mod results_view;
pub(crate) mod rosters;
pub(crate) mod rotation;
pub(crate) mod school;
pub(crate) mod score_sheets;
pub(crate) mod scripts;
pub(crate) mod setup;
mod setup_view;
pub(crate) mod sign_in;
pub(crate) mod students;
pub(crate) mod swap;
mod text;
pub(crate) mod ticket_keys;
pub(crate) mod tickets;
mod versions;
pub(crate) mod work;
pub(crate) mod year_end;

pub(crate) use frame::{Frame, Here, error_page, role_words};

use crate::problem::PageError;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header::LOCATION;
use askama::Template;
use sheaf_app::error::AppError;

/// What a page gives.
pub(crate) type PageAnswer = Result<HttpResponse, PageError>;

/// Renders in the job's thread.
pub(crate) fn render(template: &impl Template) -> Result<String, AppError> {
    template.render().map_err(AppError::our_fault)
}

/// A page.
pub(crate) fn html(body: String) -> HttpResponse {
    html_with(StatusCode::OK, body)
}

/// A page with a status of its own.
pub(crate) fn html_with(status: StatusCode, body: String) -> HttpResponse {
    HttpResponse::build(status).content_type("text/html; charset=utf-8").body(body)
}

/// After a form: on to a page, so that a reload does not send the form again.
pub(crate) fn see_other(address: String) -> HttpResponse {
    HttpResponse::SeeOther().insert_header((LOCATION, address)).finish()
}
