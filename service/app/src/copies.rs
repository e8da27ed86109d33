//! Copies of the records: making one, looking one over, putting one back.
//!
//! In:  paths. Out: what was found, in words. Keeps: damaged records are told and never put back (`sheaf-store`).
//! Not here: SQL (`sheaf-store`), exit codes (`cli`).

use crate::error::{AppError, ErrorKind};
use crate::weeks::{SchoolSetup, Weeks};
use sheaf_store::{Chain, RecordsCheck, check_records, put_back};
use std::path::{Path, PathBuf};

/// Writes a copy of the records, whole or not at all.
///
/// # Errors
/// [`AppError`] of kind input where there are no records, unavailable where the copy cannot be written.
pub fn back_up(records: &Path, to: &Path) -> Result<(), AppError> {
    Weeks::open_kept(records, SchoolSetup::builtin()?)?.copy_records(to)
}

/// What sound records hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verified {
    /// Weeks, uploads and plans.
    pub counts: [usize; 3],
    /// Entries in the list of changes.
    pub n_changes: usize,
    /// Hash of the last of them; empty where there is none.
    pub last_change: String,
}

/// Looks records over, and along the list of changes.
///
/// # Errors
/// [`AppError`] where they are damaged or no records of ours, or where the list of changes was tampered with.
pub fn verify(records: &Path) -> Result<Verified, AppError> {
    let RecordsCheck { counts, faults, chain } = check_records(records)?;
    if let Some(first) = faults.first() {
        let what = format!("{} is damaged ({first}); put the last copy back.", records.display());
        return Err(AppError::new(ErrorKind::OurFault, "record-damaged", what));
    }
    let Chain { n, last, broken } = chain;
    if let Some(first) = broken {
        let what = format!(
            "In {} {first}: somebody wrote to the file without Sheaf. Keep the file, and compare it with your copies.",
            records.display()
        );
        return Err(AppError::new(ErrorKind::OurFault, "changes-broken", what));
    }
    Ok(Verified { counts, n_changes: n, last_change: last })
}

/// Puts a copy in the place of the records; gives where the records that were there are now.
///
/// # Errors
/// [`AppError`] where the copy is damaged or the records are in use; nothing is changed then.
pub fn restore(from: &Path, records: &Path) -> Result<Option<PathBuf>, AppError> {
    Ok(put_back(from, records)?)
}
