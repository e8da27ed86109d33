//! The API for scripts: JSON under `/api/v1`, the same jobs as the pages, errors as RFC 9457 problems.
//!
//! A handler reads the request, runs one job and turns what it gave into JSON; it decides nothing else. Its attribute says what it takes and
//! gives, and `described` makes the description of them.
//! Not here: status numbers of errors (`problem`), tokens and origins (`guard`).

pub(crate) mod about;
pub(crate) mod attendance;
mod decision;
pub(crate) mod described;
pub(crate) mod movement;
pub(crate) mod score_sheets;
pub(crate) mod students;
pub(crate) mod text_files;
pub(crate) mod weeks;

use crate::problem::{ApiError, parameter_not_known};
use actix_web::HttpResponse;
use actix_web::error::{InternalError, QueryPayloadError};
use actix_web::web::QueryConfig;

/// What a call gives.
pub(crate) type ApiAnswer = Result<HttpResponse, ApiError>;

/// A parameter that a call does not take is refused: a mistyped `dry_run` must not keep what was only to be looked at.
pub(crate) fn parameters() -> QueryConfig {
    QueryConfig::default().error_handler(|error, _| {
        let why = match &error {
            QueryPayloadError::Deserialize(why) => why.to_string(),
            other => other.to_string(),
        };
        InternalError::from_response(error, parameter_not_known(&why)).into()
    })
}
