//! The files of an upload, byte for byte until their bytes are removed.
//!
//! A name is shown and never used as a path. Not here: when bytes are removed (`care`).

use crate::StoreError;
use rusqlite::{Connection, Row, params};

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
    /// Its bytes; `None` where they were removed.
    pub bytes: Option<Vec<u8>>,
}

pub(super) fn add_files(connection: &Connection, upload: i64, files: &[StoredFile]) -> Result<(), StoreError> {
    for (position, file) in files.iter().enumerate() {
        connection.execute(
            "INSERT INTO upload_file (upload_id, position, kind, name, sha256, bytes) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            params![upload, position as i64, file.kind.word(), file.name, file.sha256, file.bytes],
        )?;
    }
    Ok(())
}

pub(super) fn files_of(connection: &Connection, upload: i64) -> Result<Vec<StoredFile>, StoreError> {
    let mut statement = connection
        .prepare_cached("SELECT kind, name, sha256, bytes FROM upload_file WHERE upload_id = ?1 ORDER BY position")?;
    let mut rows = statement.query([upload])?;
    let mut files = Vec::new();
    while let Some(row) = rows.next()? {
        files.push(file_from(row)?);
    }
    Ok(files)
}

pub(super) fn names_of(connection: &Connection, upload: i64) -> Result<Vec<String>, StoreError> {
    let mut statement =
        connection.prepare_cached("SELECT name FROM upload_file WHERE upload_id = ?1 ORDER BY position")?;
    let names = statement.query_map([upload], |row| row.get(0))?;
    Ok(names.collect::<Result<_, _>>()?)
}

fn file_from(row: &Row<'_>) -> Result<StoredFile, StoreError> {
    let kind: String = row.get(0)?;
    Ok(StoredFile { kind: FileKind::parse(&kind)?, name: row.get(1)?, sha256: row.get(2)?, bytes: row.get(3)? })
}
