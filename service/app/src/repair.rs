//! A published plan repaired without records: one day again while somebody is out.
//!
//! Not here: what changes (`sheaf-core`), a kept week's plan (`weeks`).

use crate::error::{AppError, ErrorKind};
use sheaf_core::plan::mend::{MendError, Mended, mend};

/// Repairs the JSON of a plan. `file` is named in messages; each of `without` is `WHO@WHEN`.
///
/// # Errors
/// [`AppError`] of kind input where the text is no plan, carries no timetable, or does not know a name.
pub fn repair_published(file: &str, text: &str, without: &[String]) -> Result<Mended, AppError> {
    mend(text, without).map_err(|e| {
        let error = AppError::from(e);
        AppError { message: format!("{file}: {}", error.message), ..error }
    })
}

impl From<MendError> for AppError {
    fn from(e: MendError) -> Self {
        let code = match &e {
            MendError::NotAPlan(_) => "not-a-plan",
            MendError::NoTimetable => "plan-without-timetable",
            MendError::Out(_) => "out-not-known",
        };
        AppError::new(ErrorKind::Input, code, format!("{e}."))
    }
}
