//! Copies of the records: one made whole, one looked over, one put in the place of the records.
//!
//! A copy is made by SQLite itself while others may write, beside its place, and moved there when it is whole. Before a copy becomes the
//! records it is looked over; the records that were there stay beside it under another name.
//! Keeps: `a_copy_holds_what_the_records_held`, `damage_is_seen`, `what_was_there_before_stays`.
//! Not here: when copies are made; a copy holds children's records and is for its owner alone.

use crate::changes::look_along;
use crate::connection::{APPLICATION_ID, make_private};
use crate::{Chain, Store, StoreError};
use rusqlite::{Connection, OpenFlags};
use std::path::{Path, PathBuf};

/// What a look over records found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct RecordsCheck {
    /// Weeks, uploads and plans.
    pub counts: [usize; 3],
    /// What is wrong, in SQLite's words; empty where all is well.
    pub faults: Vec<String>,
    /// The list of changes. One that is broken says nothing against the records themselves, so they may still be put back.
    pub chain: Chain,
}

impl Store {
    /// Writes a copy of the records, whole or not at all.
    ///
    /// # Errors
    /// [`StoreError`] where the place cannot be written.
    pub fn copy_to(&self, to: &Path) -> Result<(), StoreError> {
        let beside = beside(to, "part");
        let refused = |e: std::io::Error| cannot(to, &e.to_string());
        match std::fs::remove_file(&beside) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => return Err(refused(e)),
            _ => {}
        }
        let done = self.lock().execute("VACUUM INTO ?1", [beside.to_string_lossy()]).map_err(StoreError::from);
        let done = done.and_then(|_| {
            make_private(&beside).map_err(refused)?;
            std::fs::rename(&beside, to).map_err(refused)
        });
        if done.is_err() {
            // What is half written is of no use; the first error is what is told.
            let _ = std::fs::remove_file(&beside);
        }
        done
    }
}

/// Looks a file of records over without changing it.
///
/// # Errors
/// [`StoreError::Open`] where it is no file of records.
pub fn check_records(path: &Path) -> Result<RecordsCheck, StoreError> {
    let refused = |e: rusqlite::Error| cannot(path, &e.to_string());
    let connection = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY).map_err(refused)?;
    let owner: i32 = connection.query_row("PRAGMA application_id", (), |row| row.get(0)).map_err(refused)?;
    if owner != APPLICATION_ID {
        return Err(cannot(path, "it is no file of Sheaf's records"));
    }
    let mut faults = texts(&connection, "PRAGMA integrity_check").map_err(refused)?;
    faults.retain(|said| said != "ok");
    faults.extend(
        texts(&connection, "SELECT \"table\" || ' names what is not there' FROM pragma_foreign_key_check")
            .map_err(refused)?,
    );
    let mut counts = [0; 3];
    for (count, table) in counts.iter_mut().zip(["week", "upload", "plan"]) {
        match connection.query_row(&format!("SELECT count(*) FROM {table}"), (), |row| row.get::<_, i64>(0)) {
            Ok(n) => *count = usize::try_from(n).unwrap_or_default(),
            Err(e) => faults.push(e.to_string()),
        }
    }
    let chain = look_along(&connection).unwrap_or_else(|e| Chain { broken: Some(e.to_string()), ..Chain::default() });
    Ok(RecordsCheck { counts, faults, chain })
}

fn texts(connection: &Connection, sql: &str) -> rusqlite::Result<Vec<String>> {
    let mut statement = connection.prepare(sql)?;
    statement.query_map((), |row| row.get(0))?.collect()
}

/// Puts a copy in the place of the records; gives where the records that were there are now.
///
/// # Errors
/// [`StoreError`] where the copy is damaged, or the records are in use; nothing is changed then.
pub fn put_back(from: &Path, records: &Path) -> Result<Option<PathBuf>, StoreError> {
    if !check_records(from)?.faults.is_empty() {
        return Err(cannot(from, "it is damaged"));
    }
    let whole = beside(records, "part");
    let refused = |e: std::io::Error| cannot(records, &e.to_string());
    std::fs::copy(from, &whole).and_then(|_| make_private(&whole)).map_err(refused)?;
    let before = set_aside(records);
    if before.is_err() {
        // Only a copy of ours goes.
        let _ = std::fs::remove_file(&whole);
    }
    let before = before?;
    if let Err(e) = std::fs::rename(&whole, records) {
        if let Some(before) = &before {
            // What was there goes back to its place.
            std::fs::rename(before, records).map_err(refused)?;
        }
        return Err(refused(e));
    }
    Ok(before)
}

/// Moves records out of the way once nobody holds them and their log is in the file.
fn set_aside(records: &Path) -> Result<Option<PathBuf>, StoreError> {
    if !records.exists() {
        return Ok(None);
    }
    let connection = Connection::open(records)?;
    let is_in_use: i64 = connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", (), |row| row.get(0))?;
    // Leaving the log's mode needs that nobody else has the file open.
    let mode: String = connection.query_row("PRAGMA journal_mode = DELETE", (), |row| row.get(0))?;
    if is_in_use != 0 || mode != "delete" {
        return Err(StoreError::Busy("another program has the records open; end it first".to_owned()));
    }
    drop(connection);
    let free = (1..).map(|n| beside(records, &format!("before-{n}"))).find(|p| !p.exists());
    let Some(before) = free else { return Ok(None) };
    std::fs::rename(records, &before).map_err(|e| cannot(records, &e.to_string()))?;
    Ok(Some(before))
}

/// `school.db` and `part` give `school.db.part`.
fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(".");
    name.push(ending);
    PathBuf::from(name)
}

fn cannot(path: &Path, reason: &str) -> StoreError {
    StoreError::Open { path: path.display().to_string(), reason: reason.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{FileKind, NewUpload, Start, StoredFile};

    fn with_a_week(path: &Path) -> Store {
        let store = Store::open(path).unwrap();
        let files = [StoredFile {
            kind: FileKind::Scores,
            name: "a.csv".into(),
            sha256: "a".repeat(64),
            bytes: Some(b"x".to_vec()),
        }];
        let week = jiff::civil::date(2026, 2, 2);
        store
            .add_upload(NewUpload {
                week,
                digest: &"d".repeat(64),
                files: &files,
                start: Start::Counted,
                reading: "{}",
            })
            .unwrap();
        store
    }

    #[test]
    fn a_copy_holds_what_the_records_held() {
        let folder = tempfile::tempdir().unwrap();
        let (records, copy) = (folder.path().join("school.db"), folder.path().join("copy.db"));
        let store = with_a_week(&records);
        store.copy_to(&copy).unwrap();
        store.copy_to(&copy).unwrap();
        let check = check_records(&copy).unwrap();
        assert_eq!((check.counts, check.faults), ([1, 1, 0], Vec::new()));
        assert_eq!((check.chain.n, check.chain.broken), (1, None));
        assert!(store.copy_to(&folder.path().join("none/copy.db")).is_err());
        assert_eq!(
            std::fs::read_dir(folder.path())
                .unwrap()
                .filter(|f| f.as_ref().unwrap().path().extension() == Some("part".as_ref()))
                .count(),
            0
        );
    }

    #[test]
    fn damage_is_seen() {
        let folder = tempfile::tempdir().unwrap();
        let (records, copy) = (folder.path().join("school.db"), folder.path().join("copy.db"));
        with_a_week(&records).copy_to(&copy).unwrap();
        let mut bytes = std::fs::read(&copy).unwrap();
        let middle = bytes.len() / 2;
        bytes[middle..middle + 4096].fill(0x5A);
        std::fs::write(&copy, bytes).unwrap();
        let is_damaged = check_records(&copy).map_or(true, |check| !check.faults.is_empty());
        assert!(is_damaged && put_back(&copy, &records).is_err());
        std::fs::write(&copy, "no database").unwrap();
        assert!(matches!(check_records(&copy), Err(StoreError::Open { .. })));
        assert_eq!(check_records(&records).unwrap().counts, [1, 1, 0], "the records are as they were");
    }

    #[test]
    fn what_was_there_before_stays() {
        let folder = tempfile::tempdir().unwrap();
        let (records, copy) = (folder.path().join("school.db"), folder.path().join("copy.db"));
        let store = with_a_week(&records);
        store.copy_to(&copy).unwrap();
        assert!(matches!(put_back(&copy, &records), Err(StoreError::Busy(_))), "the records are open");
        store.remove_upload(1).unwrap();
        drop(store);
        let before = put_back(&copy, &records).unwrap().unwrap();
        assert_eq!(check_records(&records).unwrap().counts[1], 1);
        assert_eq!(check_records(&before).unwrap().counts[1], 0);
        let new = folder.path().join("new.db");
        assert_eq!(put_back(&copy, &new).unwrap(), None);
        assert_eq!(check_records(&new).unwrap().counts[1], 1);
    }
}
