//! The API for scripts: JSON under `/api/v1`, the same jobs as the pages, errors as RFC 9457 problems.
//!
//! A handler reads the request, runs one job and turns what it gave into JSON; it decides nothing else.
//! Not here: status numbers of errors (`problem`), tokens and origins (`guard`).

pub(crate) mod about;
pub(crate) mod attendance;
pub(crate) mod movement;
pub(crate) mod score_sheets;
pub(crate) mod students;
pub(crate) mod text_files;
pub(crate) mod weeks;

use crate::problem::ApiError;
use actix_web::HttpResponse;

/// What a call gives.
pub(crate) type ApiAnswer = Result<HttpResponse, ApiError>;
