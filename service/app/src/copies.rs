//! Copies of the records: making one, looking one over, putting one back.
//!
//! In:  paths. Out: what was found, in words. Keeps: damaged records are told and never put back (`sheaf-store`).
//! Not here: SQL (`sheaf-store`), exit codes (`cli`).

use crate::error::{AppError, ErrorKind};
use crate::weeks::{SchoolSetup, Weeks};
use sheaf_store::{RecordsCheck, check_records, put_back};
use std::path::{Path, PathBuf};

/// Writes a copy of the records, whole or not at all.
///
/// # Errors
/// [`AppError`] of kind input where there are no records, unavailable where the copy cannot be written.
pub fn back_up(records: &Path, to: &Path) -> Result<(), AppError> {
    Weeks::open_kept(records, SchoolSetup::builtin()?)?.copy_records(to)
}

/// Looks records over: how many weeks, uploads and plans they hold.
///
/// # Errors
/// [`AppError`] where they are damaged or no records of ours.
pub fn verify(records: &Path) -> Result<[usize; 3], AppError> {
    let RecordsCheck { counts, faults } = check_records(records)?;
    match faults.first() {
        None => Ok(counts),
        Some(first) => {
            let what = format!("{} is damaged ({first}); put the last copy back.", records.display());
            Err(AppError::new(ErrorKind::OurFault, "record-damaged", what))
        }
    }
}

/// Puts a copy in the place of the records; gives where the records that were there are now.
///
/// # Errors
/// [`AppError`] where the copy is damaged or the records are in use; nothing is changed then.
pub fn restore(from: &Path, records: &Path) -> Result<Option<PathBuf>, AppError> {
    Ok(put_back(from, records)?)
}
