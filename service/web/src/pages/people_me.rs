//! `/people/me`: the own passphrase.
//!
//! In:  the passphrase in force and a new one twice. Out: signed out everywhere, so that who knew the old one is out too; or the page with the
//! reason. The one in force is asked for, so that a machine left open gives nobody the account; tries at it count as tries to sign in.
//! Not here: other people's passphrases (`people`).

use super::people::check_same;
use super::sign_in::{Tried, hashing, is_of_the_form, too_often, try_passphrase};
use super::{Frame, Here, PageAnswer, html_with, render, see_other, text};
use crate::door::Door;
use crate::problem::{refusal, status_of};
use crate::service::{House, Service, run};
use actix_web::http::StatusCode;
use actix_web::{HttpRequest, web};
use askama::Template;
use serde::Deserialize;
use sheaf_app::weeks::{LONGEST_PASSPHRASE, SHORTEST_PASSPHRASE};

/// As typed.
#[derive(Deserialize)]
pub(crate) struct OwnForm {
    now: String,
    passphrase: String,
    again: String,
}

#[derive(Template)]
#[template(path = "people_me.html")]
struct OwnPage {
    frame: Frame,
    has_account: bool,
    error_now: Option<String>,
    error: Option<String>,
    shortest: usize,
    longest: usize,
}

/// The page; the person at the machine has no account and is told so.
pub(crate) async fn show(service: Service) -> PageAnswer {
    page(&service, StatusCode::OK, None, None).await
}

/// Changes the passphrase.
pub(crate) async fn change(
    house: web::Data<House>,
    service: Service,
    request: HttpRequest,
    form: web::Form<OwnForm>,
) -> PageAnswer {
    let (Door::Accounts(accounts), Some(name)) = (&house.door, service.person.account().map(str::to_owned)) else {
        return Ok(refusal("/people/me", StatusCode::NOT_FOUND));
    };
    let form = form.into_inner();
    if let Err(e) = check_same(&form.passphrase, &form.again) {
        return page(&service, status_of(e.kind), None, Some(e.message)).await;
    }
    match try_passphrase(&house, accounts, &request, name.clone(), form.now).await? {
        Tried::Right(_) => {}
        Tried::Wrong => {
            let what = "This is not the passphrase in force; nothing was changed.".to_owned();
            return page(&service, StatusCode::UNPROCESSABLE_ENTITY, Some(what), None).await;
        }
        Tried::Waits(wait) => {
            let shown = page(&service, StatusCode::TOO_MANY_REQUESTS, Some(String::new()), None).await;
            return too_often(wait, |_| shown);
        }
    }
    match hashing(&service, move |s| s.weeks.set_passphrase(&name, &form.passphrase)).await {
        Ok(()) => Ok(see_other("/sign-in".to_owned())),
        Err(e) if is_of_the_form(&e) => page(&service, status_of(e.kind), None, Some(e.message)).await,
        Err(e) => Err(e.into()),
    }
}

async fn page(service: &Service, status: StatusCode, error_now: Option<String>, error: Option<String>) -> PageAnswer {
    let body = run(service, move |s| {
        render(&OwnPage {
            frame: Frame::new(s, Here::Person, "Your passphrase", None)?,
            has_account: s.person.account().is_some(),
            error_now: error_now.as_deref().map(text::as_sentence),
            error: error.as_deref().map(text::as_sentence),
            shortest: SHORTEST_PASSPHRASE,
            longest: LONGEST_PASSPHRASE,
        })
    });
    Ok(html_with(status, body.await?))
}
