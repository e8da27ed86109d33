//! What was handed in for a week, byte for byte, and taking it back.
//!
//! An upload is one or more score sheets and at most one items file. Its digest is of their contents, so that the
//! same bytes handed in twice are one upload, whatever the files are called.

use crate::connection::{scrub, write};
use crate::{Store, StoreError};
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension, Row, params};

/// What a file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileKind {
    /// Scores.
    Scores,
    /// Item facts.
    Items,
}

impl FileKind {
    fn word(self) -> &'static str {
        match self {
            FileKind::Scores => "scores",
            FileKind::Items => "items",
        }
    }

    fn parse(word: &str) -> Result<Self, StoreError> {
        match word {
            "scores" => Ok(FileKind::Scores),
            "items" => Ok(FileKind::Items),
            _ => Err(StoreError::Damaged("the kind of a file")),
        }
    }
}

/// One file as it came.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredFile {
    /// What it holds.
    pub kind: FileKind,
    /// Its name: shown, never used as a path.
    pub name: String,
    /// SHA-256 of its bytes, lower-case hex.
    pub sha256: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
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

/// An upload with its bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Upload {
    /// Its id.
    pub id: i64,
    /// The week's Monday.
    pub week: Date,
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
        let tx = write(&mut connection)?;
        if let Some(id) = find(&tx, new.week, new.digest)? {
            return Ok(Added::AlreadyHere(id));
        }
        tx.execute("INSERT INTO week (monday) VALUES (?1) ON CONFLICT DO NOTHING", [new.week.to_string()])?;
        tx.execute("INSERT INTO upload (week, digest) VALUES (?1, ?2)", params![new.week.to_string(), new.digest])?;
        let id = tx.last_insert_rowid();
        for (position, file) in new.files.iter().enumerate() {
            tx.execute(
                "INSERT INTO upload_file (upload_id, position, kind, name, sha256, bytes)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                params![id, position as i64, file.kind.word(), file.name, file.sha256, file.bytes],
            )?;
        }
        tx.commit()?;
        Ok(Added::New(id))
    }

    /// One upload, with its bytes.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn upload(&self, id: i64) -> Result<Option<Upload>, StoreError> {
        let connection = self.lock();
        let week: Option<String> =
            connection.query_row("SELECT week FROM upload WHERE id = ?1", [id], |row| row.get(0)).optional()?;
        week.map(|week| Ok(Upload { id, week: parse_date(&week)?, files: files_of(&connection, id)? })).transpose()
    }

    /// A week's uploads with their bytes, in order of coming.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn uploads_of(&self, week: Date) -> Result<Vec<Upload>, StoreError> {
        let connection = self.lock();
        let ids = ids_of(&connection, week)?;
        ids.into_iter().map(|id| Ok(Upload { id, week, files: files_of(&connection, id)? })).collect()
    }

    /// A week's uploads without their bytes, in order of coming.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn upload_list(&self, week: Date) -> Result<Vec<UploadSummary>, StoreError> {
        let connection = self.lock();
        let mut names = connection.prepare("SELECT name FROM upload_file WHERE upload_id = ?1 ORDER BY position")?;
        let mut list = Vec::new();
        for id in ids_of(&connection, week)? {
            let file_names = names.query_map([id], |row| row.get(0))?.collect::<Result<_, _>>()?;
            list.push(UploadSummary { id, week, file_names });
        }
        Ok(list)
    }

    /// Takes an upload back, and with it a plan that was made from it. Says whose week it was, or `None` where there
    /// is no such upload. Nothing of it stays in the file.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is taken back then.
    pub fn remove_upload(&self, id: i64) -> Result<Option<Date>, StoreError> {
        let mut connection = self.lock();
        let tx = write(&mut connection)?;
        tx.execute("DELETE FROM plan WHERE week IN (SELECT week FROM plan_source WHERE upload_id = ?1)", [id])?;
        let week: Option<String> =
            tx.query_row("DELETE FROM upload WHERE id = ?1 RETURNING week", [id], |row| row.get(0)).optional()?;
        tx.commit()?;
        scrub(&connection)?;
        week.map(|week| parse_date(&week)).transpose()
    }
}

/// Ids of a week's uploads, in order of coming.
pub(crate) fn ids_of(connection: &Connection, week: Date) -> Result<Vec<i64>, StoreError> {
    let mut statement = connection.prepare("SELECT id FROM upload WHERE week = ?1 ORDER BY id")?;
    let ids = statement.query_map([week.to_string()], |row| row.get(0))?;
    Ok(ids.collect::<Result<_, _>>()?)
}

/// A date as the schema keeps it.
pub(crate) fn parse_date(text: &str) -> Result<Date, StoreError> {
    text.parse().map_err(|_| StoreError::Damaged("a date"))
}

fn find(connection: &Connection, week: Date, digest: &str) -> Result<Option<i64>, StoreError> {
    Ok(connection
        .query_row("SELECT id FROM upload WHERE week = ?1 AND digest = ?2", params![week.to_string(), digest], |row| {
            row.get(0)
        })
        .optional()?)
}

fn files_of(connection: &Connection, id: i64) -> Result<Vec<StoredFile>, StoreError> {
    let mut statement = connection
        .prepare("SELECT kind, name, sha256, bytes FROM upload_file WHERE upload_id = ?1 ORDER BY position")?;
    let mut rows = statement.query([id])?;
    let mut files = Vec::new();
    while let Some(row) = rows.next()? {
        files.push(file_from(row)?);
    }
    Ok(files)
}

fn file_from(row: &Row<'_>) -> Result<StoredFile, StoreError> {
    let kind: String = row.get(0)?;
    Ok(StoredFile { kind: FileKind::parse(&kind)?, name: row.get(1)?, sha256: row.get(2)?, bytes: row.get(3)? })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(kind: FileKind, content: &str) -> StoredFile {
        StoredFile { kind, name: "quiz.csv".into(), sha256: "a".repeat(64), bytes: content.as_bytes().to_vec() }
    }

    fn monday(day: i8) -> Date {
        jiff::civil::date(2026, 2, day)
    }

    fn add(store: &Store, week: Date, digest: &str, files: &[StoredFile]) -> Added {
        store.add_upload(NewUpload { week, digest: &digest.repeat(64), files }).unwrap()
    }

    #[test]
    fn an_upload_comes_back_byte_for_byte() {
        let store = Store::in_memory().unwrap();
        let files = [file(FileKind::Scores, "a,b\n\u{0}1,2"), file(FileKind::Items, "item,skill")];
        let id = add(&store, monday(2), "d", &files).id();
        let upload = store.upload(id).unwrap().unwrap();
        assert_eq!((upload.week, upload.files.as_slice()), (monday(2), &files[..]));
        assert_eq!(store.uploads_of(monday(2)).unwrap(), vec![upload]);
        assert_eq!(store.upload_list(monday(2)).unwrap()[0].file_names, vec!["quiz.csv", "quiz.csv"]);
        assert_eq!(store.upload(id + 1).unwrap(), None);
    }

    #[test]
    fn the_same_bytes_are_kept_once_a_week() {
        let store = Store::in_memory().unwrap();
        let files = [file(FileKind::Scores, "x")];
        let first = add(&store, monday(2), "d", &files);
        assert_eq!(add(&store, monday(2), "d", &files), Added::AlreadyHere(first.id()));
        assert!(matches!(add(&store, monday(9), "d", &files), Added::New(id) if id != first.id()));
        assert_eq!(store.upload_list(monday(2)).unwrap().len(), 1);
    }

    #[test]
    fn an_upload_that_fails_half_way_leaves_nothing() {
        let store = Store::in_memory().unwrap();
        let files = [file(FileKind::Scores, "x"), file(FileKind::Scores, "")];
        assert!(store.add_upload(NewUpload { week: monday(2), digest: &"d".repeat(64), files: &files }).is_err());
        assert_eq!(store.upload_list(monday(2)).unwrap(), vec![]);
        assert_eq!(store.weeks().unwrap(), vec![]);
    }

    #[test]
    fn an_id_is_not_used_again_after_a_take_back() {
        let store = Store::in_memory().unwrap();
        let first = add(&store, monday(2), "d", &[file(FileKind::Scores, "x")]).id();
        assert_eq!(store.remove_upload(first).unwrap(), Some(monday(2)));
        assert_eq!(store.remove_upload(first).unwrap(), None);
        assert_ne!(add(&store, monday(2), "d", &[file(FileKind::Scores, "x")]).id(), first);
    }

    #[test]
    fn what_is_taken_back_leaves_the_file() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("records.db")).unwrap();
        let content = "Quentin Quillwright,".repeat(2_000);
        let id = add(&store, monday(2), "d", &[file(FileKind::Scores, &content)]).id();
        assert!(traces(folder.path()) > 0);
        store.remove_upload(id).unwrap();
        assert_eq!(traces(folder.path()), 0);
    }

    fn traces(folder: &std::path::Path) -> usize {
        let needle = b"Quentin Quillwright";
        std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| std::fs::read(entry.unwrap().path()).unwrap())
            .map(|bytes| bytes.windows(needle.len()).filter(|w| w == needle).count())
            .sum()
    }
}
