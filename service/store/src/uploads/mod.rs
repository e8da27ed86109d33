//! What was handed in for a week, byte for byte, with what was read of it; taking it back.
//!
//! An upload is one or more score sheets and at most one items file. Its digest is of their contents, so that the
//! same bytes handed in twice are one upload, whatever the files are called.
//! It waits until somebody has looked it over, or counts; one that was replaced is kept and does not count.
//! Keeps: what is taken back takes its plans with it, and what it replaced counts again
//! (`taking_back_restores_what_was_replaced_and_its_plan`).
//! Not here: what a reading holds (`sheaf-app` writes and reads its JSON), old originals (`care`).

mod files;
mod rewrite;
#[cfg(test)]
mod tests;

pub use files::{FileKind, StoredFile};

use crate::connection::scrub;
use crate::kept_choices::{Said, keep_said};
use crate::plans::{forget_plans_of, restore_earlier};
use crate::{About, Change, Store, StoreError};
use files::{add_files, files_of, names_of};
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension, Row, params};

/// Whether an upload counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// It waits to be looked over.
    Waiting,
    /// It counts.
    Counted,
    /// It counted, until the one with this id took its place.
    ReplacedBy(i64),
}

impl Standing {
    /// Whether the week is planned from it.
    #[must_use]
    pub fn counts(self) -> bool {
        self == Standing::Counted
    }

    /// Whether this one took its place.
    #[must_use]
    pub fn is_replaced_by(self, id: i64) -> bool {
        self == Standing::ReplacedBy(id)
    }

    fn parse(state: &str, replaced_by: Option<i64>) -> Result<Self, StoreError> {
        match (state, replaced_by) {
            ("waiting", _) => Ok(Standing::Waiting),
            ("counted", None) => Ok(Standing::Counted),
            ("counted", Some(id)) => Ok(Standing::ReplacedBy(id)),
            _ => Err(StoreError::Damaged("the state of an upload")),
        }
    }
}

/// Whether a new upload counts at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Start {
    /// It waits to be looked over.
    Waiting,
    /// It counts at once.
    Counted,
}

/// An upload to keep.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NewUpload<'a> {
    /// The week's Monday.
    pub week: Date,
    /// SHA-256 over the contents of all its files, lower-case hex.
    pub digest: &'a str,
    /// Its files, in order.
    pub files: &'a [StoredFile],
    /// Whether it counts at once.
    pub start: Start,
    /// What was read of it, as JSON.
    pub reading: &'a str,
}

/// What became of an upload.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Added {
    /// Kept under this id.
    New(i64),
    /// The same bytes were there already, under this id.
    AlreadyHere(i64),
}

impl Added {
    /// The id, old or new.
    #[must_use]
    pub fn id(self) -> i64 {
        match self {
            Added::New(id) | Added::AlreadyHere(id) => id,
        }
    }
}

/// An upload with its bytes, as far as they are kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Upload {
    /// Its id.
    pub id: i64,
    /// The week's Monday.
    pub week: Date,
    /// Whether it counts.
    pub standing: Standing,
    /// Corrections made on the page, as JSON.
    pub corrections: String,
    /// What was read of it, as JSON; `None` where it is to be read from its files.
    pub reading: Option<String>,
    /// Its files, in order.
    pub files: Vec<StoredFile>,
}

/// An upload without its bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UploadSummary {
    /// Its id.
    pub id: i64,
    /// The week's Monday.
    pub week: Date,
    /// Whether it counts.
    pub standing: Standing,
    /// Names of its files, in order.
    pub file_names: Vec<String>,
}

impl Store {
    /// Keeps an upload, unless its bytes are there already for that week.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is kept then.
    pub fn add_upload(&self, new: NewUpload<'_>) -> Result<Added, StoreError> {
        let mut connection = self.lock();
        let change = match new.start {
            Start::Waiting => Change::SheetHandedIn,
            Start::Counted => Change::SheetTakenIn,
        };
        let mut tx = self.change(&mut connection, change, About::week(new.week))?;
        if let Some(id) = find(&tx, new.week, new.digest)? {
            return Ok(Added::AlreadyHere(id));
        }
        let state = match new.start {
            Start::Waiting => "waiting",
            Start::Counted => "counted",
        };
        tx.execute("INSERT INTO week (monday) VALUES (?1) ON CONFLICT DO NOTHING", [new.week.to_string()])?;
        tx.execute(
            "INSERT INTO upload (week, digest, state, reading) VALUES (?1, ?2, ?3, ?4)",
            params![new.week.to_string(), new.digest, state, new.reading],
        )?;
        let id = tx.last_insert_rowid();
        add_files(&tx, id, new.files)?;
        tx.is_of_upload(id);
        tx.commit()?;
        Ok(Added::New(id))
    }

    /// The id of the week's upload with this digest.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn upload_of_digest(&self, week: Date, digest: &str) -> Result<Option<i64>, StoreError> {
        find(&self.lock(), week, digest)
    }

    /// Puts corrections and what is read with them in place of the last. Says whether the upload still waited; one that
    /// counts stays as it is.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is changed then.
    pub fn correct_upload(&self, id: i64, corrections: &str, reading: &str) -> Result<bool, StoreError> {
        let mut connection = self.lock();
        let tx = self.change(&mut connection, Change::SheetCorrected, About::upload(id))?;
        let n = tx.execute(
            "UPDATE upload SET corrections = ?2, reading = ?3 WHERE id = ?1 AND state = 'waiting'",
            params![id, corrections, reading],
        )?;
        if n > 0 {
            tx.commit()?;
        }
        Ok(n > 0)
    }

    /// Lets a waiting upload count, in place of another one of its week where one is named. Says whether it could: not
    /// where it waits no longer, nor where the other one does not count. What was said of its layouts is kept with it, or not at all.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is changed then.
    pub fn count_upload(&self, id: i64, in_place_of: Option<i64>, said: &Said) -> Result<bool, StoreError> {
        let mut connection = self.lock();
        let tx = self.change(&mut connection, Change::SheetCounted, About::upload(id))?;
        let n = tx.execute("UPDATE upload SET state = 'counted' WHERE id = ?1 AND state = 'waiting'", [id])?;
        let n_replaced = match in_place_of {
            None => 1,
            Some(other) => replace(&tx, other, id)?,
        };
        if n == 0 || n_replaced == 0 {
            return Ok(false);
        }
        keep_said(&tx, said)?;
        tx.commit()?;
        Ok(true)
    }

    /// One upload, with its bytes.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn upload(&self, id: i64) -> Result<Option<Upload>, StoreError> {
        let connection = self.lock();
        let mut statement = connection.prepare(&format!("{SELECT_UPLOAD} WHERE id = ?1"))?;
        let mut rows = statement.query([id])?;
        let Some(row) = rows.next()? else { return Ok(None) };
        Ok(Some(upload_from(&connection, row)?))
    }

    /// A week's uploads with their bytes, in order of coming, whether they count or not.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn uploads_of(&self, week: Date) -> Result<Vec<Upload>, StoreError> {
        let connection = self.lock();
        let mut statement = connection.prepare(&format!("{SELECT_UPLOAD} WHERE week = ?1 ORDER BY id"))?;
        let mut rows = statement.query([week.to_string()])?;
        let mut uploads = Vec::new();
        while let Some(row) = rows.next()? {
            uploads.push(upload_from(&connection, row)?);
        }
        Ok(uploads)
    }

    /// A week's uploads without their bytes, in order of coming.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn upload_list(&self, week: Date) -> Result<Vec<UploadSummary>, StoreError> {
        let connection = self.lock();
        let mut statement =
            connection.prepare("SELECT id, state, replaced_by FROM upload WHERE week = ?1 ORDER BY id")?;
        let mut rows = statement.query([week.to_string()])?;
        let mut list = Vec::new();
        while let Some(row) = rows.next()? {
            let (id, state): (i64, String) = (row.get(0)?, row.get(1)?);
            let standing = Standing::parse(&state, row.get(2)?)?;
            list.push(UploadSummary { id, week, standing, file_names: names_of(&connection, id)? });
        }
        Ok(list)
    }

    /// Other weeks for which a file of these bytes was handed in, the latest first.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn other_weeks_with(&self, sha256: &str, week: Date) -> Result<Vec<Date>, StoreError> {
        let connection = self.lock();
        let mut statement = connection.prepare(
            "SELECT DISTINCT u.week FROM upload u JOIN upload_file f ON f.upload_id = u.id
             WHERE f.sha256 = ?1 AND f.kind = 'scores' AND u.week <> ?2 ORDER BY u.week DESC",
        )?;
        let mut rows = statement.query([sha256, &week.to_string()])?;
        let mut weeks = Vec::new();
        while let Some(row) = rows.next()? {
            weeks.push(parse_date(&row.get::<_, String>(0)?)?);
        }
        Ok(weeks)
    }

    /// Takes an upload back, and with it every plan that was made from it; what it replaced counts again, and the
    /// latest plan that is left is the week's. Says whose week it was, or `None` where there is no such upload. Nothing
    /// of it stays in the file.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is taken back then.
    pub fn remove_upload(&self, id: i64) -> Result<Option<Date>, StoreError> {
        let mut connection = self.lock();
        let mut tx = self.change(&mut connection, Change::SheetTakenBack, About::upload(id))?;
        forget_plans_of(&tx, id)?;
        // What this one replaced is now replaced by what replaced this one, if anything did.
        tx.execute(
            "UPDATE upload SET replaced_by = (SELECT replaced_by FROM upload WHERE id = ?1) WHERE replaced_by = ?1",
            [id],
        )?;
        let week: Option<String> =
            tx.query_row("DELETE FROM upload WHERE id = ?1 RETURNING week", [id], |row| row.get(0)).optional()?;
        if let Some(week) = &week {
            restore_earlier(&tx, week)?;
        } else {
            tx.says_nothing();
        }
        tx.commit()?;
        scrub(&connection)?;
        week.map(|week| parse_date(&week)).transpose()
    }
}

const SELECT_UPLOAD: &str = "SELECT id, week, state, replaced_by, corrections, reading FROM upload";

/// Ids of a week's uploads that count, in order of coming.
pub(crate) fn ids_of(connection: &Connection, week: Date) -> Result<Vec<i64>, StoreError> {
    let mut statement = connection
        .prepare("SELECT id FROM upload WHERE week = ?1 AND state = 'counted' AND replaced_by IS NULL ORDER BY id")?;
    let ids = statement.query_map([week.to_string()], |row| row.get(0))?;
    Ok(ids.collect::<Result<_, _>>()?)
}

/// A date as the schema keeps it.
pub(crate) fn parse_date(text: &str) -> Result<Date, StoreError> {
    text.parse().map_err(|_| StoreError::Damaged("a date"))
}

fn replace(connection: &Connection, other: i64, by: i64) -> Result<usize, StoreError> {
    Ok(connection.execute(
        "UPDATE upload SET replaced_by = ?2
         WHERE id = ?1 AND id <> ?2 AND state = 'counted' AND replaced_by IS NULL
           AND week = (SELECT week FROM upload WHERE id = ?2)",
        [other, by],
    )?)
}

fn upload_from(connection: &Connection, row: &Row<'_>) -> Result<Upload, StoreError> {
    let (id, week, state): (i64, String, String) = (row.get(0)?, row.get(1)?, row.get(2)?);
    Ok(Upload {
        id,
        week: parse_date(&week)?,
        standing: Standing::parse(&state, row.get(3)?)?,
        corrections: row.get(4)?,
        reading: row.get(5)?,
        files: files_of(connection, id)?,
    })
}

fn find(connection: &Connection, week: Date, digest: &str) -> Result<Option<i64>, StoreError> {
    Ok(connection
        .query_row("SELECT id FROM upload WHERE week = ?1 AND digest = ?2", params![week.to_string(), digest], |row| {
            row.get(0)
        })
        .optional()?)
}
