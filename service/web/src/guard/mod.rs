//! The guard: looks at every request before any handler, static files too, and at every answer after.
//!
//! Order: over TLS, how fast requests come; Host, where the request comes from, size; token, or session and role. Then what was answered before
//! and is still so (`unchanged`), or the handler, under a time limit. Then the headers that keep a browser safe, and one log line.
//! Keeps: 1. only the names of this machine and port are answered (`a_foreign_host_is_refused`)
//!        2. another origin, another port included, cannot act (`a_neighbour_port_cannot_post`)
//!        3. nothing but `/healthz` without the token (`without_the_token_there_is_nothing`)
//!        4. over TLS nothing but the way in without a session (`without_a_session_there_is_the_sign_in_page_alone`), and nothing that a role
//!           may not (`every_route_that_a_role_may_not_use_is_refused`)
//! Source: the Fetch metadata and synchroniser-free CSRF advice of the OWASP cheat sheets; RFC 9110 section 15.5.20 (421).

mod answer;
mod may;
mod rules;

#[cfg(test)]
pub(crate) use may::routes;
pub(crate) use may::{methods_of, who_may};
pub(crate) use rules::{MAX_BODY_BYTES, Names};

use crate::door::{Accounts, Door, whom};
use crate::problem::{self, PROBLEM_JSON};
use crate::service::{House, Person, Service, aside};
use crate::unchanged::{Asked, Route};
use actix_web::body::{BodySize, BoxBody, MessageBody};
use actix_web::cookie::{Cookie, SameSite};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::error::InternalError;
use actix_web::http::StatusCode;
use actix_web::http::header::{CONTENT_TYPE, LOCATION};
use actix_web::middleware::Next;
use actix_web::{Error, HttpMessage, HttpResponse, web};
use may::Who;
use rules::{Verdict, judge};
use sheaf_app::error::AppError;
use sheaf_app::weeks::{Actor, Role};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// The whole of a request, body included, may take this long, seconds.
pub(crate) const BODY_SECONDS: u64 = 120;

/// So often a request waits for another that makes the same answer.
const MOST_WAITS: usize = 3;

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
        route = route_of(&response).as_deref().unwrap_or("none"),
        status = response.status().as_u16(),
        duration_ms = started.elapsed().as_millis() as u64,
    );
    Ok(response)
}

fn route_of(response: &ServiceResponse<BoxBody>) -> Option<Arc<str>> {
    let known = response.request().extensions().get::<Route>().map(|route| route.0.clone());
    known.or_else(|| response.request().match_pattern().map(Arc::from))
}

async fn decide(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let Some(house) = request.app_data::<web::Data<House>>().map(|house| house.clone().into_inner()) else {
        return Ok(refuse(request, StatusCode::INTERNAL_SERVER_ERROR));
    };
    if let Door::Accounts(accounts) = &house.door
        && !comes_slowly_enough(&request, accounts)
    {
        return Ok(refuse(request, StatusCode::TOO_MANY_REQUESTS));
    }
    match judge(request.request(), &house) {
        Verdict::Refuse(status) => Ok(refuse(request, status)),
        Verdict::LetIn => Ok(let_in(request, &house)),
        Verdict::Open => pass(request, next).await,
        Verdict::Pass(actor) => {
            let person = Person { actor, role: Role::Interventionist };
            answer_for(request, next, Service::of(house, person)).await
        }
        Verdict::AskSession(who) => by_session(request, next, house, who).await,
    }
}

fn comes_slowly_enough(request: &ServiceRequest, accounts: &Accounts) -> bool {
    request.peer_addr().is_none_or(|peer| accounts.rate().lets(whom(peer.ip()), accounts.now()))
}

/// For the one who has a session, where the role may.
async fn by_session(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
    house: Arc<House>,
    who: Option<Who>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let person = match person_of(&request, &house).await {
        Ok(person) => person,
        Err(error) => {
            tracing::error!(code = error.code, "who asks could not be looked up");
            return Ok(refuse(request, StatusCode::SERVICE_UNAVAILABLE));
        }
    };
    let Some(person) = person else { return Ok(to_the_door(request)) };
    let service = Service::of(house, person);
    match who {
        None => {
            let answer = problem::no_route(request.path(), &methods_of(request.match_info().as_str()));
            Ok(request.into_response(answer))
        }
        Some(who) if who.has(service.person.role) => answer_for(request, next, service).await,
        Some(_) => {
            let answer = problem::role_may_not(request.path());
            Ok(request.into_response(answer))
        }
    }
}

/// Whose session the cookie is of. The account is looked up with each request: one that is gone, or whose passphrase was changed, be it by the
/// command line meanwhile, has no session any more, and another role counts at once.
async fn person_of(request: &ServiceRequest, house: &Arc<House>) -> Result<Option<Person>, AppError> {
    let Door::Accounts(accounts) = &house.door else { return Ok(None) };
    let Some(cookie) = request.request().cookie(house.names.cookie()) else { return Ok(None) };
    let Some(holder) = accounts.sessions().of(cookie.value(), accounts.now()) else { return Ok(None) };
    let (weeks, name) = (house.weeks.clone(), holder.name.clone());
    let account = aside(move || weeks.account(&name)).await?;
    let Some(account) = account.filter(|a| a.stamp == holder.stamp) else {
        accounts.sessions().end(cookie.value());
        return Ok(None);
    };
    Ok(Some(Person { actor: Actor::Account(account.name), role: account.role }))
}

/// A page leads to the way in; what would have changed something is told that it did not.
fn to_the_door(request: ServiceRequest) -> ServiceResponse<BoxBody> {
    let leads = request.method().is_safe() && !request.path().starts_with("/api/");
    let answer = if leads {
        HttpResponse::SeeOther().insert_header((LOCATION, "/sign-in")).finish()
    } else {
        problem::not_signed_in(request.path())
    };
    request.into_response(answer)
}

/// As it was answered before, where nothing changed since; else by its handler.
async fn answer_for(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
    service: Service,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let house = service.house.clone();
    let mut asked = Asked::of(&request, &service);
    let (mut known, mut turn) = (None, None);
    // Whoever waited looks again, and where the first one's answer could not stay, one of them makes the next.
    for _ in 0..MOST_WAITS {
        let Some(now) = &asked else { break };
        known = house.unchanged.answer(now, &house);
        if known.is_some() {
            break;
        }
        turn = house.unchanged.turn(now, &house).await;
        if turn.is_some() {
            break;
        }
        asked = Asked::of(&request, &service);
    }
    if let Some((answer, route)) = known {
        request.extensions_mut().insert(route);
        return Ok(request.into_response(answer));
    }
    request.extensions_mut().insert(service);
    let mut response = pass(request, next).await?;
    if let Some(asked) = asked {
        response = house.unchanged.keep(asked, &house, response);
    }
    drop(turn);
    Ok(response)
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
fn let_in(request: ServiceRequest, house: &House) -> ServiceResponse<BoxBody> {
    let Door::Launch(token) = &house.door else { return refuse(request, StatusCode::UNAUTHORIZED) };
    let cookie = cookie(house, token.as_str().to_owned());
    request.into_response(HttpResponse::SeeOther().insert_header((LOCATION, "/")).cookie(cookie).finish())
}

/// The cookie that lets a browser in: for our pages alone, and not for script.
pub(crate) fn cookie(house: &House, value: String) -> Cookie<'static> {
    Cookie::build(house.names.cookie().to_owned(), value)
        .path("/")
        .http_only(true)
        .secure(matches!(house.door, Door::Accounts(_)))
        .same_site(SameSite::Strict)
        .finish()
}

fn refuse(request: ServiceRequest, status: StatusCode) -> ServiceResponse<BoxBody> {
    let answer = problem::refusal(request.path(), status);
    request.into_response(answer)
}

/// An error that came without a word (a bad form), or to a script in other words than a problem's (a parameter twice), gets ours.
fn with_a_body(response: ServiceResponse<BoxBody>) -> ServiceResponse<BoxBody> {
    let is_wordless = matches!(response.response().body().size(), BodySize::None | BodySize::Sized(0));
    let is_problem = response.headers().get(CONTENT_TYPE).is_some_and(|kind| kind == PROBLEM_JSON);
    let is_misfit = problem::is_for_scripts(response.request().path()) && !is_problem;
    if !(response.status().is_client_error() && (is_wordless || is_misfit)) {
        return response;
    }
    let status = response.status();
    let request = response.into_parts().0;
    let answer = problem::refusal(request.path(), status);
    ServiceResponse::new(request, answer)
}
