//! Care of the records: originals go after the time that the setup names.
//!
//! What was read stays, so a week can be planned after (`a_week_is_planned_the_same_after_its_originals_are_gone`).
//! Not here: the clock (`sheaf-web` says what day it is), forgetting a student (`forget`).

use super::kept_reading::to_json;
use super::{Week, Weeks};
use crate::error::AppError;
use jiff::Span;
use jiff::civil::Date;
use sheaf_store::Removed;
use std::path::Path;

impl Weeks {
    /// Removes originals of weeks that are over for longer than the setup keeps them, and whole uploads of those weeks
    /// that were replaced or never confirmed.
    ///
    /// # Errors
    /// [`AppError`] of the records; nothing is removed then.
    pub fn remove_old_originals(&self, today: Date) -> Result<Removed, AppError> {
        let weeks = i64::try_from(self.setup().school.records.keep_originals_weeks).unwrap_or(i64::MAX);
        let before = Week::of(today).monday().saturating_sub(Span::new().try_weeks(weeks).unwrap_or_default());
        for monday in self.store.mondays()?.into_iter().filter(|m| *m < before) {
            self.keep_missing_readings(monday)?;
        }
        let removed = self.store.remove_originals(before)?;
        // What plans are made of stays but for uploads that count no more.
        if removed.n_uploads > 0 {
            self.forget_remembered();
        }
        tracing::info!(job = "remove_old_originals", n_originals = removed.n_originals, n_uploads = removed.n_uploads);
        Ok(removed)
    }

    /// Writes a copy of the records, whole or not at all.
    ///
    /// # Errors
    /// [`AppError`] where it cannot be written.
    pub fn copy_records(&self, to: &Path) -> Result<(), AppError> {
        Ok(self.store.copy_to(to)?)
    }

    /// Uploads from before readings were kept: read once more while the original is there.
    fn keep_missing_readings(&self, monday: Date) -> Result<(), AppError> {
        for upload in self.store.uploads_of(monday)?.iter().filter(|u| u.reading.is_none()) {
            // An original that cannot be read any more stays: it is all there is.
            if let Ok(reading) = self.reading_of(upload) {
                self.store.keep_reading(upload.id, &to_json(&reading)?)?;
            }
        }
        Ok(())
    }
}
