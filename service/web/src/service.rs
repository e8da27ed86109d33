//! What every handler shares, and the one way to run a job.
//!
//! Jobs block (files, SQL, numbers), so they run on threads of their own; a job that panics is one failed request.
//! The clock is read here, to know which week is this week, and where the service starts (`serve`), to know which originals are old.

use crate::token::LaunchToken;
use actix_web::web;
use jiff::ZonedDateTime;
use sheaf_app::error::AppError;
use sheaf_app::weeks::{Week, Weeks};

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

/// Shared by all handlers.
pub(crate) struct Service {
    pub(crate) weeks: Weeks,
    pub(crate) token: LaunchToken,
    pub(crate) port: u16,
    pub(crate) lasting: Lasting,
}

impl Service {
    /// The week that a page shows when none is asked for: this week if it has records, else the latest that has, else
    /// this week.
    pub(crate) fn home_week(&self) -> Result<Week, AppError> {
        let today = Week::of(ZonedDateTime::now().date());
        let weeks = self.weeks.weeks()?;
        let is_recorded = weeks.iter().any(|o| o.week == today);
        Ok(if is_recorded { today } else { weeks.first().map_or(today, |o| o.week) })
    }
}

/// Runs a job away from the threads that answer requests. A job that panics is one failed request.
pub(crate) async fn run<T, F>(service: &web::Data<Service>, job: F) -> Result<T, AppError>
where
    T: Send + 'static,
    F: FnOnce(&Service) -> Result<T, AppError> + Send + 'static,
{
    let service = service.clone();
    web::block(move || job(&service)).await.map_err(|_| AppError::our_fault("the job stopped half-way"))?
}
