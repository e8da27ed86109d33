//! What every handler gets: the records as the person who asks, and the one way to run a job.
//!
//! The guard says who asks and puts a [`Service`] into the request; a handler that takes one gets it, and none other can be had: without the
//! guard there is no handler (`Service` from a request). What all requests share is the [`House`].
//! Jobs block (files, SQL, numbers), so they run on threads of their own; a job that panics is one failed request.
//! The clock is read here, to know which week is this week, and where the service starts (`serve`), to know which originals are old.

use crate::door::Door;
use crate::guard::Names;
use crate::unchanged::Unchanged;
use crate::works::Works;
use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpMessage, HttpRequest, web};
use jiff::ZonedDateTime;
use sheaf_app::error::AppError;
use sheaf_app::weeks::{Actor, Role, Week, Weeks};
use std::future::{Ready, ready};
use std::sync::Arc;

/// How long the records last; pages say so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Lasting {
    /// In a file.
    InFile,
    /// Until the program ends.
    UntilClosed,
    /// Invented, until the program ends.
    Demo,
}

/// Shared by all requests.
pub(crate) struct House {
    /// As nobody in particular.
    pub(crate) weeks: Weeks,
    pub(crate) door: Door,
    pub(crate) works: Works,
    pub(crate) unchanged: Unchanged,
    pub(crate) names: Names,
    pub(crate) lasting: Lasting,
}

/// Who asks, and as what.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Person {
    pub(crate) actor: Actor,
    pub(crate) role: Role,
}

impl Person {
    /// The name of the account, where there is one.
    pub(crate) fn account(&self) -> Option<&str> {
        match &self.actor {
            Actor::Account(name) => Some(name),
            _ => None,
        }
    }
}

/// What a handler gets: the records as the person who asks.
#[derive(Clone)]
pub(crate) struct Service {
    pub(crate) weeks: Weeks,
    pub(crate) person: Person,
    pub(crate) house: Arc<House>,
}

impl Service {
    /// For a person.
    pub(crate) fn of(house: Arc<House>, person: Person) -> Self {
        Service { weeks: house.weeks.by(person.actor.clone()), person, house }
    }

    /// The week that a page shows when none is asked for: this week if it has records, else the latest that has, else
    /// this week.
    pub(crate) fn home_week(&self) -> Result<Week, AppError> {
        let today = Week::of(ZonedDateTime::now().date());
        let weeks = self.weeks.weeks()?;
        let is_recorded = weeks.iter().any(|o| o.week == today);
        Ok(if is_recorded { today } else { weeks.first().map_or(today, |o| o.week) })
    }
}

impl FromRequest for Service {
    type Error = actix_web::Error;
    type Future = Ready<Result<Self, Self::Error>>;

    fn from_request(request: &HttpRequest, _payload: &mut Payload) -> Self::Future {
        let service = request.extensions().get::<Service>().cloned();
        ready(service.ok_or_else(|| actix_web::error::ErrorInternalServerError("nobody was let in")))
    }
}

/// Runs a job away from the threads that answer requests. A job that panics is one failed request.
pub(crate) async fn run<T, F>(service: &Service, job: F) -> Result<T, AppError>
where
    T: Send + 'static,
    F: FnOnce(&Service) -> Result<T, AppError> + Send + 'static,
{
    let service = service.clone();
    aside(move || job(&service)).await
}

/// The same without a person.
pub(crate) async fn aside<T, F>(job: F) -> Result<T, AppError>
where
    T: Send + 'static,
    F: FnOnce() -> Result<T, AppError> + Send + 'static,
{
    web::block(job).await.map_err(|_| AppError::our_fault("the job stopped half-way"))?
}
