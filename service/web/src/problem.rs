//! The one place where an error gets a status number: JSON of RFC 9457 for the API, a page for people.
//!
//! In: an [`AppError`], or a bare status of the guard. Out: an answer with one sentence and the way on; never a trace.

use crate::api::described::shared::Finding;
use crate::pages::error_page;
use actix_web::body::BoxBody;
use actix_web::http::StatusCode;
use actix_web::http::header::ALLOW;
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use sheaf_app::error::{AppError, ErrorKind};
use std::fmt;
use utoipa::ToSchema;

/// Media type of a problem.
pub(crate) const PROBLEM_JSON: &str = "application/problem+json";

/// What went wrong (RFC 9457).
#[derive(Serialize, ToSchema)]
pub(crate) struct Problem {
    /// Always `about:blank`: the code says more.
    #[serde(rename = "type")]
    kind: &'static str,
    /// The status in words.
    title: &'static str,
    /// The status.
    #[schema(minimum = 400, maximum = 599)]
    status: u16,
    /// What went wrong, in a word that never changes its meaning.
    #[schema(example = "no-plan")]
    code: String,
    /// What went wrong and the way on, in a sentence for a person.
    detail: String,
    /// The same as a finding.
    #[schema(value_type = Vec<Finding>)]
    findings: [sheaf_core::finding::Finding; 1],
}

/// A failed call of the API.
#[derive(Debug)]
pub(crate) struct ApiError(pub(crate) AppError);

/// A failed page.
#[derive(Debug)]
pub(crate) struct PageError(pub(crate) AppError);

impl From<AppError> for ApiError {
    fn from(e: AppError) -> Self {
        ApiError(e)
    }
}

impl From<AppError> for PageError {
    fn from(e: AppError) -> Self {
        PageError(e)
    }
}

impl fmt::Display for ApiError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.0.code)
    }
}

impl fmt::Display for PageError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.0.code)
    }
}

impl ResponseError for ApiError {
    fn status_code(&self) -> StatusCode {
        status_of(self.0.kind)
    }

    fn error_response(&self) -> HttpResponse<BoxBody> {
        log(&self.0);
        problem_json(self.status_code(), self.0.code, &self.0.message)
    }
}

impl ResponseError for PageError {
    fn status_code(&self) -> StatusCode {
        status_of(self.0.kind)
    }

    fn error_response(&self) -> HttpResponse<BoxBody> {
        log(&self.0);
        error_page(self.status_code(), &self.0.message)
    }
}

/// The status of a kind of trouble.
pub(crate) fn status_of(kind: ErrorKind) -> StatusCode {
    match kind {
        ErrorKind::Input | ErrorKind::NoPlan => StatusCode::UNPROCESSABLE_ENTITY,
        ErrorKind::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
        ErrorKind::NotFound => StatusCode::NOT_FOUND,
        ErrorKind::Conflict => StatusCode::CONFLICT,
        ErrorKind::Stale => StatusCode::PRECONDITION_FAILED,
        ErrorKind::Unavailable => StatusCode::SERVICE_UNAVAILABLE,
        ErrorKind::OurFault => StatusCode::INTERNAL_SERVER_ERROR,
    }
}

/// An answer where no route fits: 404, or 405 with what the address takes.
pub(crate) fn no_route(path: &str, methods: &[&str]) -> HttpResponse<BoxBody> {
    if methods.is_empty() {
        return refusal(path, StatusCode::NOT_FOUND);
    }
    let mut answer = refusal(path, StatusCode::METHOD_NOT_ALLOWED);
    if let Ok(allowed) = methods.join(", ").parse() {
        answer.headers_mut().insert(ALLOW, allowed);
    }
    answer
}

/// Whether scripts call this address: what goes wrong there is told as JSON.
pub(crate) fn is_for_scripts(path: &str) -> bool {
    path.starts_with("/api/") || path == "/healthz"
}

/// An answer to a request that reached no handler: JSON where scripts call, else a page.
pub(crate) fn refusal(path: &str, status: StatusCode) -> HttpResponse<BoxBody> {
    let (code, message) = words_of(status);
    refused(path, status, code, message)
}

/// A parameter that a call does not take, or takes once.
pub(crate) fn parameter_not_known(why: &str) -> HttpResponse<BoxBody> {
    let message = format!("A parameter after the question mark was not understood, and nothing was done: {why}.");
    problem_json(StatusCode::BAD_REQUEST, "parameter-not-known", &message)
}

/// Somebody without a session, or whose session ended.
pub(crate) fn not_signed_in(path: &str) -> HttpResponse<BoxBody> {
    let message = "You are not signed in, or did nothing for so long that you were signed out. Nothing was changed; sign in and do it again.";
    refused(path, StatusCode::UNAUTHORIZED, "not-signed-in", message)
}

/// Somebody whose role may not.
pub(crate) fn role_may_not(path: &str) -> HttpResponse<BoxBody> {
    let message = "That is not for your role here, so nothing was shown or changed; an interventionist can do it or change your role.";
    refused(path, StatusCode::FORBIDDEN, "role-may-not", message)
}

fn refused(path: &str, status: StatusCode, code: &str, message: &str) -> HttpResponse<BoxBody> {
    if is_for_scripts(path) { problem_json(status, code, message) } else { error_page(status, message) }
}

fn words_of(status: StatusCode) -> (&'static str, &'static str) {
    match status {
        StatusCode::UNAUTHORIZED => (
            "not-let-in",
            "This browser has not been let in. Open the address that Sheaf printed when it started, with its key.",
        ),
        StatusCode::FORBIDDEN => (
            "other-origin",
            "This request did not come from a page of Sheaf, so nothing was done. Go back to Sheaf and try there.",
        ),
        StatusCode::NOT_FOUND => ("no-such-page", "There is no such page. The way back is in the bar above."),
        StatusCode::METHOD_NOT_ALLOWED => ("method-not-known", "This address does not take that kind of request."),
        StatusCode::REQUEST_TIMEOUT => {
            ("too-slow", "The request took too long to arrive. Nothing was kept; try again.")
        }
        StatusCode::PAYLOAD_TOO_LARGE => {
            ("file-too-large", "That is more than 50 MiB. Send fewer or smaller files at a time.")
        }
        StatusCode::TOO_MANY_REQUESTS => {
            ("too-many-requests", "Too many requests came from your machine at once. Wait a few seconds and go on.")
        }
        StatusCode::SERVICE_UNAVAILABLE => {
            ("records-busy", "The records cannot be read just now; nothing was changed, try again in a moment.")
        }
        StatusCode::MISDIRECTED_REQUEST => {
            ("wrong-host", "Sheaf answers only under the address that it printed when it started.")
        }
        _ => ("not-understood", "The request could not be understood. Go back and try again."),
    }
}

fn problem_json(status: StatusCode, code: &str, message: &str) -> HttpResponse<BoxBody> {
    let problem = Problem {
        kind: "about:blank",
        title: status.canonical_reason().unwrap_or("Error"),
        status: status.as_u16(),
        code: code.to_owned(),
        detail: message.to_owned(),
        findings: [sheaf_core::finding::Finding::error(code, message, "nothing was changed")],
    };
    HttpResponse::build(status).content_type(PROBLEM_JSON).body(serde_json::to_string(&problem).unwrap_or_default())
}

/// The code only: a message can name a file.
fn log(error: &AppError) {
    if error.kind == ErrorKind::OurFault {
        tracing::error!(code = error.code, "a job failed");
    } else {
        tracing::info!(code = error.code, "a job was refused");
    }
}
