//! `/people`: who may sign in from other machines, and as what.
//!
//! In:  a name, a role, a passphrase typed twice. Out: the list; after a form the page again, with what was done or the reason why not beside
//! what was typed, passphrases left out. Not here: the own passphrase (`people_me`), what a name or a passphrase must be (`sheaf-app`).

use super::sign_in::{hashing, is_of_the_form};
use super::{Frame, Here, PageAnswer, html, html_with, render, role_words, see_other, text};
use crate::problem::status_of;
use crate::service::{Service, run};
use actix_web::web;
use askama::Template;
use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{LONGEST_PASSPHRASE, Role, SHORTEST_PASSPHRASE};

/// A form of this page; each uses what it needs. Nothing prints it: it holds a passphrase.
#[derive(Clone, Default, Deserialize)]
#[serde(default)]
pub(crate) struct PersonForm {
    name: String,
    role: String,
    passphrase: String,
    again: String,
}

/// After a form: `?done=`, a word of ours.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    done: Option<String>,
}

struct AccountRow {
    name: String,
    role: &'static str,
    created: String,
    error: Option<String>,
}

#[derive(Template)]
#[template(path = "people.html")]
struct PeoplePage {
    frame: Frame,
    done: Option<&'static str>,
    accounts: Vec<AccountRow>,
    roles: Vec<(&'static str, &'static str, bool)>,
    typed_name: String,
    error: Option<String>,
    shortest: usize,
    longest: usize,
}

/// Where a refused form is told.
enum Refused {
    Nowhere,
    /// At the form for a new account.
    Adding(PersonForm, AppError),
    /// At an account.
    At(String, AppError),
}

/// The page.
pub(crate) async fn show(service: Service, asked: web::Query<Asked>) -> PageAnswer {
    let done = match asked.done.as_deref() {
        Some("added") => Some(
            "The account is there. Tell its owner the name and the passphrase in person; it can be changed after signing in.",
        ),
        Some("removed") => Some("The account is gone, and whoever used it is signed out."),
        Some("changed") => Some("The passphrase is changed, and whoever used the account is signed out."),
        _ => None,
    };
    Ok(html(run(&service, move |s| page(s, done, &Refused::Nowhere)).await?))
}

/// Adds an account.
pub(crate) async fn add(service: Service, form: web::Form<PersonForm>) -> PageAnswer {
    let typed = form.into_inner();
    let f = typed.clone();
    let added = hashing(&service, move |s| {
        let role = Role::parse(&f.role).ok_or_else(|| wrong("answer-missing", "Choose what the account may do."))?;
        check_twice(&f)?;
        s.weeks.add_account(&f.name, role, &f.passphrase)
    });
    match added.await {
        Ok(()) => Ok(see_other("/people?done=added".to_owned())),
        Err(e) => refused(service, Refused::Adding(typed, e)).await,
    }
}

/// Removes an account.
pub(crate) async fn remove(service: Service, form: web::Form<PersonForm>) -> PageAnswer {
    let name = form.into_inner().name;
    let n = name.clone();
    match run(&service, move |s| s.weeks.remove_account(&n)).await {
        Ok(()) => Ok(see_other("/people?done=removed".to_owned())),
        Err(e) => refused(service, Refused::At(name, e)).await,
    }
}

/// Puts another passphrase in place of an account's.
pub(crate) async fn set_passphrase(service: Service, form: web::Form<PersonForm>) -> PageAnswer {
    let form = form.into_inner();
    let name = form.name.clone();
    let changed = hashing(&service, move |s| {
        check_twice(&form)?;
        s.weeks.set_passphrase(&form.name, &form.passphrase)
    });
    match changed.await {
        Ok(()) => Ok(see_other("/people?done=changed".to_owned())),
        Err(e) => refused(service, Refused::At(name, e)).await,
    }
}

async fn refused(service: Service, refused: Refused) -> PageAnswer {
    let error = match &refused {
        Refused::Adding(_, e) | Refused::At(_, e) if is_of_the_form(e) => e,
        Refused::Adding(_, e) | Refused::At(_, e) => return Err(e.clone().into()),
        Refused::Nowhere => return Ok(see_other("/people".to_owned())),
    };
    let status = status_of(error.kind);
    Ok(html_with(status, run(&service, move |s| page(s, None, &refused)).await?))
}

fn check_twice(form: &PersonForm) -> Result<(), AppError> {
    check_same(&form.passphrase, &form.again)
}

/// Typed twice, as nobody sees what was typed.
pub(super) fn check_same(passphrase: &str, again: &str) -> Result<(), AppError> {
    if passphrase == again {
        return Ok(());
    }
    Err(wrong("passphrases-differ", "The passphrase was typed in two ways; type the same twice."))
}

fn wrong(code: &'static str, what: &str) -> AppError {
    AppError::new(ErrorKind::Input, code, what)
}

fn page(service: &Service, done: Option<&'static str>, refused: &Refused) -> Result<String, AppError> {
    let accounts = service.weeks.accounts()?;
    let row = |account: sheaf_app::weeks::AccountLine| AccountRow {
        error: match refused {
            Refused::At(name, e) if name.eq_ignore_ascii_case(&account.name) => Some(text::as_sentence(&e.message)),
            _ => None,
        },
        name: account.name,
        role: role_words(account.role),
        created: account.created,
    };
    let typed = if let Refused::Adding(form, _) = refused { form.clone() } else { PersonForm::default() };
    render(&PeoplePage {
        frame: Frame::new(service, Here::School, "People", None)?,
        done,
        roles: Role::ALL.map(|r| (r.word(), what_for(r), r.word() == typed.role)).into(),
        typed_name: typed.name,
        error: if let Refused::Adding(_, e) = refused { Some(text::as_sentence(&e.message)) } else { None },
        accounts: accounts.into_iter().map(row).collect(),
        shortest: SHORTEST_PASSPHRASE,
        longest: LONGEST_PASSPHRASE,
    })
}

fn what_for(role: Role) -> &'static str {
    match role {
        Role::Interventionist => "Interventionist: everything",
        Role::GradeTeam => "Grade team: rosters, tickets, results, attendance",
        Role::Coach => "Coach: movement and memo, changes nothing",
    }
}
