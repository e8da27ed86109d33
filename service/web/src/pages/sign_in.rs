//! `/sign-in` and `/sign-out`: the way in from another machine, and out again.
//!
//! In:  a name and a passphrase as typed. Out: a session under a new token, in a cookie for our pages alone; or the page again with one sentence
//! that does not say which of the two was wrong. On this machine alone there is no such page: the launch address lets in.
//! Keeps: 1. a cookie from before is nobody's session after (`a_cookie_planted_before_is_no_session_after`)
//!        2. after some failures each further try waits (`after_five_failures_a_sixth_try_waits`)
//! Not here: what a passphrase must be (`sheaf-app`), how long a session lasts (`door`).

use super::{Frame, PageAnswer, html_with, render, see_other};
use crate::door::{Accounts, Door, Holder, whom};
use crate::guard::cookie;
use crate::problem::{PageError, refusal};
use crate::service::{House, Service, aside, run};
use actix_web::cookie::Cookie;
use actix_web::http::StatusCode;
use actix_web::http::header::RETRY_AFTER;
use actix_web::{HttpRequest, HttpResponse, web};
use askama::Template;
use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{Change, SignedIn};
use std::net::{IpAddr, Ipv4Addr};
use std::time::Duration;

/// As typed.
#[derive(Deserialize)]
pub(crate) struct SignInForm {
    name: String,
    passphrase: String,
}

#[derive(Template)]
#[template(path = "sign_in.html")]
struct SignInPage<'a> {
    frame: Frame,
    name: &'a str,
    error: Option<String>,
}

/// The page.
pub(crate) async fn show(house: web::Data<House>) -> PageAnswer {
    match house.door {
        Door::Accounts(_) => page(StatusCode::OK, "", None),
        Door::Launch(_) => Ok(refusal("/sign-in", StatusCode::NOT_FOUND)),
    }
}

/// Lets in, or says that it does not.
pub(crate) async fn sign_in(house: web::Data<House>, request: HttpRequest, form: web::Form<SignInForm>) -> PageAnswer {
    let Door::Accounts(accounts) = &house.door else { return Ok(refusal("/sign-in", StatusCode::NOT_FOUND)) };
    let form = form.into_inner();
    match try_passphrase(&house, accounts, &request, form.name.clone(), form.passphrase).await? {
        Tried::Right(person) => {
            let weeks = house.weeks.clone();
            let holder = Holder::from(&person);
            aside(move || weeks.note_sign(&person.name, Change::SignedIn)).await?;
            if let Some(before) = request.cookie(house.names.cookie()) {
                accounts.sessions().end(before.value());
            }
            let token = accounts.sessions().open(holder, accounts.now())?;
            tracing::info!(job = "sign_in", is_let_in = true);
            let mut answer = see_other("/".to_owned());
            answer.add_cookie(&cookie(&house, token)).map_err(|e| PageError(AppError::our_fault(e)))?;
            Ok(answer)
        }
        Tried::Wrong => {
            tracing::info!(job = "sign_in", is_let_in = false);
            let what = "Name or passphrase is not right; check both and try again.";
            page(StatusCode::UNAUTHORIZED, &form.name, Some(what.to_owned()))
        }
        Tried::Waits(wait) => too_often(wait, |what| page(StatusCode::TOO_MANY_REQUESTS, &form.name, Some(what))),
    }
}

/// Ends the session.
pub(crate) async fn sign_out(house: web::Data<House>, service: Service, request: HttpRequest) -> PageAnswer {
    let Door::Accounts(accounts) = &house.door else { return Ok(refusal("/sign-out", StatusCode::NOT_FOUND)) };
    if let Some(cookie) = request.cookie(house.names.cookie()) {
        accounts.sessions().end(cookie.value());
    }
    if let Some(name) = service.person.account().map(str::to_owned) {
        run(&service, move |s| s.weeks.note_sign(&name, Change::SignedOut)).await?;
    }
    let mut answer = see_other("/sign-in".to_owned());
    let mut gone: Cookie<'static> = cookie(&house, String::new());
    gone.make_removal();
    answer.add_cookie(&gone).map_err(|e| PageError(AppError::our_fault(e)))?;
    Ok(answer)
}

/// What became of a try.
pub(super) enum Tried {
    Right(SignedIn),
    Wrong,
    /// Not looked at: there were too many failures, for so long.
    Waits(Duration),
}

/// Tries a passphrase, where this name and this address may try.
pub(super) async fn try_passphrase(
    house: &web::Data<House>,
    accounts: &Accounts,
    request: &HttpRequest,
    name: String,
    passphrase: String,
) -> Result<Tried, AppError> {
    let address = whom(request.peer_addr().map_or(IpAddr::V4(Ipv4Addr::UNSPECIFIED), |peer| peer.ip()));
    let begun = accounts.tries().begin(&name, address, accounts.now());
    if let Err(wait) = begun {
        return Ok(Tried::Waits(wait));
    }
    let _permit = accounts.hashing.acquire().await.map_err(AppError::our_fault)?;
    let (weeks, tried) = (house.weeks.clone(), name.clone());
    let person = aside(move || weeks.check_passphrase(&tried, &passphrase)).await?;
    if person.is_some() {
        accounts.tries().succeeded(&name, address);
    }
    Ok(person.map_or(Tried::Wrong, Tried::Right))
}

/// The page that says how long to wait, and a header that says so to programs.
pub(super) fn too_often(wait: Duration, page: impl FnOnce(String) -> PageAnswer) -> PageAnswer {
    let seconds = wait.as_secs() + 1;
    let what = format!(
        "Too many tries with a wrong passphrase. Try again in {}.",
        super::text::count(seconds.div_ceil(60) as usize, "minute")
    );
    let mut answer = page(what)?;
    answer.headers_mut().insert(RETRY_AFTER, seconds.into());
    Ok(answer)
}

/// Works a passphrase out, as one of few at a time; over the launch door nobody floods it.
pub(super) async fn hashing<T, F>(service: &Service, job: F) -> Result<T, AppError>
where
    T: Send + 'static,
    F: FnOnce(&Service) -> Result<T, AppError> + Send + 'static,
{
    match &service.house.door {
        Door::Launch(_) => run(service, job).await,
        Door::Accounts(accounts) => {
            let _permit = accounts.hashing.acquire().await.map_err(AppError::our_fault)?;
            run(service, job).await
        }
    }
}

/// Whether an error is shown beside its form.
pub(super) fn is_of_the_form(error: &AppError) -> bool {
    matches!(error.kind, ErrorKind::Input | ErrorKind::NotFound | ErrorKind::Conflict)
}

fn page(status: StatusCode, name: &str, error: Option<String>) -> Result<HttpResponse, PageError> {
    Ok(html_with(status, render(&SignInPage { frame: Frame::bare("Sign in"), name, error })?))
}
