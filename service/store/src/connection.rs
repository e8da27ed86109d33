//! Opens the file, sets the rules of every connection, brings the schema up to date.
//!
//! Keeps: the file is for its owner alone (`the_file_is_for_its_owner_alone`); a file of another program is refused
//! (`a_file_of_another_program_is_refused`). One connection behind one lock: a school writes a few times a minute.

use crate::changes::Tale;
use crate::{Actor, StoreError};
use rusqlite::{Connection, OpenFlags, Transaction, TransactionBehavior};
use rusqlite_migration::{M, Migrations};
use std::ops::{Deref, DerefMut};
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// `SHAF`: marks the file as ours.
pub(crate) const APPLICATION_ID: i32 = 0x5348_4146;

const STEPS: &[M<'_>] = &[
    M::up(include_str!("../migrations/0001_weeks_uploads_plans.sql")),
    M::up(include_str!("../migrations/0002_attendance.sql")),
    M::up(include_str!("../migrations/0003_look_over_and_care.sql")),
    M::up(include_str!("../migrations/0004_repairs.sql")),
    M::up(include_str!("../migrations/0005_memo_decisions.sql")),
    M::up(include_str!("../migrations/0006_overrules.sql")),
    M::up(include_str!("../migrations/0007_child_facts.sql")),
    M::up(include_str!("../migrations/0008_tickets.sql")),
    M::up(include_str!("../migrations/0009_accounts.sql")),
    M::up(include_str!("../migrations/0010_audit.sql")),
    M::up(include_str!("../migrations/0011_setup.sql")),
    M::up(include_str!("../migrations/0012_seatings.sql")),
];
const MIGRATIONS: Migrations<'_> = Migrations::from_slice(STEPS);

/// How long a statement waits for another program that writes.
const PATIENCE: Duration = Duration::from_secs(5);

/// The state of the records at a moment: between two equal marks of one opening nothing was changed, here or by another program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mark {
    file: i64,
    ours: u64,
}

/// What is told of changes without waiting for the connection.
#[derive(Debug)]
pub(crate) struct Watch {
    /// Rows changed by the connection, as of when it was last let go.
    ours: AtomicU64,
    /// Sees the transactions of others; none where the records are in memory.
    file: Option<Mutex<Connection>>,
}

/// The connection, as long as somebody uses it.
pub(crate) struct Held<'a> {
    connection: MutexGuard<'a, Connection>,
    watch: &'a Watch,
}

impl Deref for Held<'_> {
    type Target = Connection;

    fn deref(&self) -> &Connection {
        &self.connection
    }
}

impl DerefMut for Held<'_> {
    fn deref_mut(&mut self) -> &mut Connection {
        &mut self.connection
    }
}

impl Drop for Held<'_> {
    fn drop(&mut self) {
        // Before anybody else can see what was changed.
        self.watch.ours.store(self.connection.total_changes(), Ordering::Release);
    }
}

/// Changes with each transaction of another connection.
/// Source: SQLite's manual, `PRAGMA data_version`.
fn version(connection: &Connection) -> rusqlite::Result<i64> {
    connection.prepare_cached("PRAGMA data_version")?.query_row((), |row| row.get(0))
}

/// The records: a cheap handle that says who acts. Handles of the same records share one connection.
#[derive(Debug, Clone)]
pub struct Store {
    pub(crate) connection: Arc<Mutex<Connection>>,
    pub(crate) watch: Arc<Watch>,
    /// Who is said to have made the changes.
    pub(crate) who: Actor,
    /// What is said of them, where it is not what their functions say.
    pub(crate) tale: Option<Tale>,
}

impl Store {
    /// Opens the file, or makes it. Changes are those of the command line until [`Store::by`] says otherwise.
    ///
    /// # Errors
    /// [`StoreError::Open`] where it cannot be opened or belongs to another program.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        let refused = |reason: String| StoreError::Open { path: path.display().to_string(), reason };
        make_private(path).map_err(|e| refused(e.to_string()))?;
        let connection = Connection::open(path).map_err(|e| refused(e.to_string()))?;
        let watches = || watching(path).map_err(|e| e.to_string());
        Self::prepare(connection, || watches().map(Some)).map_err(refused)
    }

    /// A store that is gone when it is dropped.
    ///
    /// # Errors
    /// [`StoreError::Open`] where SQLite has no memory.
    pub fn in_memory() -> Result<Self, StoreError> {
        let refused = |reason: String| StoreError::Open { path: "memory".to_owned(), reason };
        let connection = Connection::open_in_memory().map_err(|e| refused(e.to_string()))?;
        Self::prepare(connection, || Ok(None)).map_err(refused)
    }

    fn prepare(
        mut connection: Connection,
        watching: impl FnOnce() -> Result<Option<Connection>, String>,
    ) -> Result<Self, String> {
        let owner: i32 =
            connection.query_row("PRAGMA application_id", (), |row| row.get(0)).map_err(|e| e.to_string())?;
        let n_tables: i64 = connection
            .query_row("SELECT count(*) FROM sqlite_schema", (), |row| row.get(0))
            .map_err(|e| e.to_string())?;
        if n_tables > 0 && owner != APPLICATION_ID {
            return Err("it is a database of another program".to_owned());
        }
        set_rules(&connection).map_err(|e| e.to_string())?;
        MIGRATIONS.to_latest(&mut connection).map_err(|e| e.to_string())?;
        let watch = Watch { ours: AtomicU64::new(connection.total_changes()), file: watching()?.map(Mutex::new) };
        Ok(Store {
            connection: Arc::new(Mutex::new(connection)),
            watch: Arc::new(watch),
            who: Actor::Command,
            tale: None,
        })
    }

    /// Whether the store answers.
    ///
    /// # Errors
    /// [`StoreError`] where it does not.
    pub fn answers(&self) -> Result<(), StoreError> {
        self.lock().query_row("SELECT count(*) FROM week", (), |_| Ok(()))?;
        Ok(())
    }

    /// Changes with each transaction of another program.
    ///
    /// # Errors
    /// [`StoreError`] where the store does not answer.
    pub fn others(&self) -> Result<i64, StoreError> {
        Ok(version(&self.lock())?)
    }

    /// The state of the records, as far as it can be told without waiting for anybody.
    #[must_use]
    pub fn mark_at_once(&self) -> Option<Mark> {
        let file = match &self.watch.file {
            Some(file) => version(&file.lock().unwrap_or_else(PoisonError::into_inner)).ok()?,
            None => 0,
        };
        Some(Mark { file, ours: self.watch.ours.load(Ordering::Acquire) })
    }

    /// The one connection. A panic in another call left no transaction behind (it rolled back), so a poisoned lock is safe.
    pub(crate) fn lock(&self) -> Held<'_> {
        Held { connection: self.connection.lock().unwrap_or_else(PoisonError::into_inner), watch: &self.watch }
    }
}

/// Starts a transaction that holds the right to write from its first moment.
pub(crate) fn write(connection: &mut Connection) -> Result<Transaction<'_>, StoreError> {
    Ok(connection.transaction_with_behavior(TransactionBehavior::Immediate)?)
}

/// Takes what was deleted out of the write-ahead log too.
pub(crate) fn scrub(connection: &Connection) -> Result<(), StoreError> {
    connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", (), |_| Ok(()))?;
    Ok(())
}

/// A second connection that looks at the version alone and never waits. It may write so that whichever connection closes last can merge the
/// write-ahead log; that it does not is said to it.
fn watching(path: &Path) -> rusqlite::Result<Connection> {
    let connection =
        Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX)?;
    connection.busy_timeout(Duration::ZERO)?;
    connection.pragma_update(None, "query_only", true)?;
    Ok(connection)
}

/// Full synchronisation: writes are few and small, and records matter more than speed.
fn set_rules(connection: &Connection) -> rusqlite::Result<()> {
    connection.busy_timeout(PATIENCE)?;
    connection.execute_batch(
        "PRAGMA journal_mode = WAL;
         PRAGMA synchronous = FULL;
         PRAGMA foreign_keys = ON;
         PRAGMA secure_delete = ON;
         PRAGMA trusted_schema = OFF;
         PRAGMA cell_size_check = ON;
         PRAGMA temp_store = MEMORY;",
    )
}

/// Makes the file, or narrows it, so that its owner alone can read it; SQLite's side files take the same rights.
#[cfg(unix)]
pub(crate) fn make_private(path: &Path) -> std::io::Result<()> {
    use std::os::unix::fs::{OpenOptionsExt, PermissionsExt};
    let file = std::fs::OpenOptions::new().create(true).truncate(false).write(true).mode(0o600).open(path)?;
    file.set_permissions(std::fs::Permissions::from_mode(0o600))
}

/// Other systems keep a home folder private by themselves.
#[cfg(not(unix))]
pub(crate) fn make_private(_path: &Path) -> std::io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_migrations_are_sound() {
        MIGRATIONS.validate().unwrap();
    }

    #[test]
    #[cfg(unix)]
    fn the_file_is_for_its_owner_alone() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("records.db");
        let store = Store::open(&path).unwrap();
        store.answers().unwrap();
        for name in ["records.db", "records.db-wal", "records.db-shm"] {
            let mode = std::fs::metadata(folder.path().join(name)).unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o600, "{name}");
        }
    }

    #[test]
    fn a_file_of_another_program_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("other.db");
        Connection::open(&path).unwrap().execute_batch("CREATE TABLE theirs (a)").unwrap();
        let error = Store::open(&path).unwrap_err().to_string();
        assert!(error.contains("another program"), "{error}");
    }

    #[test]
    fn nothing_stays_beside_the_file_when_it_is_closed() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("records.db")).unwrap();
        let before = store.mark_at_once().unwrap();
        store.lock().execute("CREATE TABLE more (a)", ()).unwrap();
        assert_ne!(store.mark_at_once().unwrap(), before);
        drop(store);
        let names = std::fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name());
        assert_eq!(names.collect::<Vec<_>>(), ["records.db"]);
    }

    #[test]
    fn the_rules_hold_on_the_connection() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("records.db")).unwrap();
        for (pragma, expected) in [("foreign_keys", 1), ("synchronous", 2), ("secure_delete", 1), ("trusted_schema", 0)]
        {
            let value: i64 = store.lock().query_row(&format!("PRAGMA {pragma}"), (), |row| row.get(0)).unwrap();
            assert_eq!(value, expected, "{pragma}");
        }
    }

    #[test]
    fn a_mark_changes_with_every_change_and_with_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("records.db");
        let (store, other) = (Store::open(&path).unwrap(), Store::open(&path).unwrap());
        let add = |store: &Store, week: &str| {
            store.lock().execute("INSERT INTO week (monday) VALUES (?1)", (week,)).unwrap();
        };
        let (empty, alone) = (store.mark_at_once().unwrap(), store.others().unwrap());
        store.answers().unwrap();
        assert_eq!(store.mark_at_once(), Some(empty));
        add(&store, "2026-02-02");
        let ours = store.mark_at_once().unwrap();
        assert!(ours != empty && store.others().unwrap() == alone);
        add(&other, "2026-02-09");
        let theirs = store.mark_at_once().unwrap();
        assert!(theirs != ours && store.others().unwrap() != alone);
        store.lock().execute("DELETE FROM week", ()).unwrap();
        assert!(![empty, ours, theirs].contains(&store.mark_at_once().unwrap()));
    }

    #[test]
    fn a_mark_waits_for_nobody() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("records.db");
        let (store, other) = (Store::open(&path).unwrap(), Store::open(&path).unwrap());
        let mark = store.mark_at_once().unwrap();
        let mut held = store.lock();
        let ours = write(&mut held).unwrap();
        ours.execute("INSERT INTO week (monday) VALUES ('2026-02-02')", ()).unwrap();
        assert_eq!((store.mark_at_once(), other.mark_at_once().is_some()), (Some(mark), true));
        ours.rollback().unwrap();
        drop(held);
        assert_ne!(store.mark_at_once(), Some(mark), "rather once too often");
        let memory = Store::in_memory().unwrap();
        let mark = memory.mark_at_once();
        memory.lock().execute("INSERT INTO week (monday) VALUES ('2026-02-02')", ()).unwrap();
        assert_ne!(memory.mark_at_once(), mark);
    }

    #[test]
    fn every_foreign_key_states_what_a_deletion_does() {
        let store = Store::in_memory().unwrap();
        let connection = store.lock();
        let mut statement = connection
            .prepare(
                "SELECT s.name, f.on_delete FROM sqlite_schema s JOIN pragma_foreign_key_list(s.name) f
                 WHERE s.type = 'table'",
            )
            .unwrap();
        let keys: Vec<(String, String)> =
            statement.query_map((), |row| Ok((row.get(0)?, row.get(1)?))).unwrap().map(Result::unwrap).collect();
        assert!(!keys.is_empty());
        assert!(keys.iter().all(|(_, on_delete)| on_delete == "CASCADE" || on_delete == "SET NULL"), "{keys:?}");
    }

    #[test]
    fn the_schema_refuses_nonsense() {
        let store = Store::in_memory().unwrap();
        let connection = store.lock();
        for sql in [
            "INSERT INTO week (monday) VALUES ('next week')",
            "INSERT INTO upload (week, digest) VALUES ('2026-02-02', 'short')",
            "INSERT INTO student VALUES ('', 'n', '5', '5P', '[]')",
            "INSERT INTO student VALUES ('1', 'n', '5', '5P', 'not a list')",
            "INSERT INTO plan (week, revision, seed, setup, published) VALUES ('2026-02-02', 1, 7, '', '{}')",
            "INSERT INTO same_child (old_id, new_id) VALUES ('1', '1')",
            "INSERT INTO kept_choice VALUES ('a layout', 'not JSON')",
            "INSERT INTO attendance_mark VALUES ('2026-02-02', 'Mon', '1', 'present', NULL)",
        ] {
            assert!(connection.execute(sql, ()).is_err(), "{sql}");
        }
    }

    #[test]
    fn records_of_the_first_schema_are_there_after_an_upgrade() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("records.db");
        let mut old = Connection::open(&path).unwrap();
        Migrations::from_slice(&STEPS[..1]).to_latest(&mut old).unwrap();
        old.execute_batch(&format!(
            "INSERT INTO week (monday) VALUES ('2026-02-02');
             INSERT INTO upload VALUES (7, '2026-02-02', '{0}');
             INSERT INTO upload_file VALUES (7, 0, 'scores', 'quiz.csv', '{0}', x'61');
             INSERT INTO plan VALUES ('2026-02-02', 1, 7, '', '{{}}');
             INSERT INTO plan_source VALUES ('2026-02-02', 7);",
            "d".repeat(64)
        ))
        .unwrap();
        drop(old);
        let store = Store::open(&path).unwrap();
        let monday = jiff::civil::date(2026, 2, 2);
        let upload = store.upload(7).unwrap().unwrap();
        assert_eq!((upload.standing.counts(), upload.files[0].bytes.as_deref()), (true, Some(&b"a"[..])));
        assert_eq!(store.plan(monday).unwrap().unwrap().sources, vec![7]);
    }
}
