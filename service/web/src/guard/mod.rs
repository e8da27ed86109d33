//! The guard: looks at every request before any handler, static files too, and at every answer after.
//!
//! Order: Host, where the request comes from, size, token. Then the handler, under a time limit. Then the headers that
//! keep a browser safe, and one log line.
//! Keeps: 1. only the names of this machine and port are answered (`a_foreign_host_is_refused`)
//!        2. another origin, another port included, cannot act (`a_neighbour_port_cannot_post`)
//!        3. nothing but `/healthz` without the token (`without_the_token_there_is_nothing`)
//! Source: the Fetch metadata and synchroniser-free CSRF advice of the OWASP cheat sheets; RFC 9110 section 15.5.20 (421).

mod answer;
mod rules;

pub(crate) use rules::{MAX_BODY_BYTES, cookie_name};

use crate::problem;
use crate::service::Service;
use actix_web::body::{BodySize, BoxBody, MessageBody};
use actix_web::cookie::{Cookie, SameSite};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::error::InternalError;
use actix_web::http::StatusCode;
use actix_web::http::header::LOCATION;
use actix_web::middleware::Next;
use actix_web::{Error, HttpResponse, web};
use rules::{Verdict, judge};
use std::time::{Duration, Instant};

/// The whole of a request, body included, may take this long, seconds.
pub(crate) const BODY_SECONDS: u64 = 120;

/// The middleware.
pub(crate) async fn guard(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let started = Instant::now();
    let method = request.method().clone();
    let mut response = decide(request, next).await?;
    response = with_a_body(response);
    answer::make_safe(response.response_mut().headers_mut());
    tracing::info!(
        method = method.as_str(),
        // The pattern, not the path: a path can hold what a person typed.
        route = response.request().match_pattern().as_deref().unwrap_or("none"),
        status = response.status().as_u16(),
        duration_ms = started.elapsed().as_millis() as u64,
    );
    Ok(response)
}

async fn decide(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let Some(service) = request.app_data::<web::Data<Service>>().cloned() else {
        return Ok(refuse(request, StatusCode::INTERNAL_SERVER_ERROR));
    };
    match judge(request.request(), &service) {
        Verdict::Refuse(status) => Ok(refuse(request, status)),
        Verdict::LetIn => Ok(let_in(request, &service)),
        Verdict::Pass => pass(request, next).await,
    }
}

async fn pass(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    // The path alone is kept: routing wants the request for itself.
    let path = request.path().to_owned();
    let answered = actix_web::rt::time::timeout(Duration::from_secs(BODY_SECONDS), next.call(request)).await;
    match answered {
        Ok(Ok(response)) => Ok(response.map_into_boxed_body()),
        Ok(Err(error)) => Err(outright(error.error_response())),
        Err(_) => Err(outright(problem::refusal(&path, StatusCode::REQUEST_TIMEOUT))),
    }
}

/// An answer to a request that is no longer at hand; it passes nothing else of the guard, so it is made safe here.
fn outright(mut answer: HttpResponse) -> Error {
    answer::make_safe(answer.headers_mut());
    InternalError::from_response("", answer).into()
}

/// The launch address: a cookie for this browser, and away with the token from the address line.
fn let_in(request: ServiceRequest, service: &Service) -> ServiceResponse<BoxBody> {
    let cookie = Cookie::build(cookie_name(service.port), service.token.as_str().to_owned())
        .path("/")
        .http_only(true)
        .same_site(SameSite::Strict)
        .finish();
    request.into_response(HttpResponse::SeeOther().insert_header((LOCATION, "/")).cookie(cookie).finish())
}

fn refuse(request: ServiceRequest, status: StatusCode) -> ServiceResponse<BoxBody> {
    let answer = problem::refusal(request.path(), status);
    request.into_response(answer)
}

/// An error that came without a word (a wrong method, a bad form) gets one.
fn with_a_body(response: ServiceResponse<BoxBody>) -> ServiceResponse<BoxBody> {
    let is_wordless = matches!(response.response().body().size(), BodySize::None | BodySize::Sized(0));
    if !(response.status().is_client_error() && is_wordless) {
        return response;
    }
    let status = response.status();
    let request = response.into_parts().0;
    let answer = problem::refusal(request.path(), status);
    ServiceResponse::new(request, answer)
}
