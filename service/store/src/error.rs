//! Why the store could not do what it was asked. Sentences never carry a name, a score or a file's content.
//!
//! SQLite's codes become what a person can act on: wait, free the disk, restore. Stable codes and kinds are
//! `sheaf-app`'s.

use thiserror::Error;

/// A store that could not answer.
#[derive(Debug, Error)]
pub enum StoreError {
    /// The file could not be opened, or is not a Sheaf store.
    #[error("the records in {path} could not be opened ({reason}); check the path and that no other program holds it")]
    Open {
        /// Where.
        path: String,
        /// SQLite's or the system's words.
        reason: String,
    },
    /// Somebody else writes for longer than we wait, or the disk is full.
    #[error("the records cannot be written just now ({0}); nothing was changed, try again in a moment")]
    Busy(String),
    /// What the job was based on changed meanwhile.
    #[error("the score sheets of this week changed meanwhile; nothing was kept, make the plan again")]
    SourcesChanged,
    /// A record that does not read back.
    #[error("a record in the store is damaged ({0}); restore the last backup")]
    Damaged(&'static str),
    /// Anything else that SQLite refuses.
    #[error("the records could not be read or written ({0})")]
    Sqlite(rusqlite::Error),
}

impl From<rusqlite::Error> for StoreError {
    fn from(e: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode::{CannotOpen, DatabaseBusy, DatabaseLocked, DiskFull, ReadOnly, SystemIoFailure};
        match e.sqlite_error_code() {
            Some(DatabaseBusy | DatabaseLocked) => StoreError::Busy("another program is writing".to_owned()),
            Some(DiskFull) => StoreError::Busy("the disk is full, make room first".to_owned()),
            Some(SystemIoFailure) => StoreError::Busy("the disk does not take them, is it full?".to_owned()),
            Some(ReadOnly | CannotOpen) => StoreError::Busy("the file is read-only".to_owned()),
            _ => StoreError::Sqlite(e),
        }
    }
}
