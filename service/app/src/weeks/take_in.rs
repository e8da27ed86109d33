//! Taking score sheets in for a week, looking them over, taking them back.
//!
//! Reading comes first and needs no record; only sheets that could be read are kept.

use super::{Week, Weeks};
use crate::apart;
use crate::error::{AppError, ErrorKind};
use sha2::{Digest, Sha256};
use sheaf_sheets::read::{ReadRequest, Reading, SourceFile};
use sheaf_store::{Added, FileKind, NewUpload, StoredFile, UploadSummary};
use std::time::Instant;

/// A file as somebody gave it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GivenFile {
    /// Its name; anything that looks like a folder is left out.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// Whether the sheets are kept or only looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keeping {
    /// Read and keep.
    Keep,
    /// Read only.
    LookOnly,
}

/// What became of the sheets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Taken {
    /// Kept under this id.
    New(i64),
    /// The same bytes were there already for this week, under this id.
    AlreadyHere(i64),
    /// Only looked at.
    LookedAt,
}

/// Sheets that could be read, and what was understood.
#[derive(Debug)]
pub struct TakenIn {
    /// What became of them.
    pub taken: Taken,
    /// What was understood.
    pub reading: Reading,
}

/// One upload, read again.
#[derive(Debug)]
pub struct LookOver {
    /// Its id.
    pub id: i64,
    /// Its week.
    pub week: Week,
    /// Names of its files, in order.
    pub file_names: Vec<String>,
    /// What was understood.
    pub reading: Reading,
}

impl Weeks {
    /// Takes score sheets in for a week: reads them all together, then keeps them.
    ///
    /// # Errors
    /// [`AppError`] of kind input or too large where not one student and one item could be read (nothing is kept then),
    /// or of the records.
    pub fn take_in(
        &self,
        week: Week,
        scores: Vec<GivenFile>,
        items: Option<GivenFile>,
        keeping: Keeping,
    ) -> Result<TakenIn, AppError> {
        let started = Instant::now();
        if scores.is_empty() {
            return Err(AppError::new(
                ErrorKind::Input,
                "no-file",
                "No score sheet was chosen; choose at least one file.",
            ));
        }
        let mut files: Vec<StoredFile> = scores.into_iter().map(|f| stored(FileKind::Scores, f)).collect();
        files.extend(items.map(|f| stored(FileKind::Items, f)));
        let reading = self.read(&files)?;
        let taken = match keeping {
            Keeping::LookOnly => Taken::LookedAt,
            Keeping::Keep => match self.store.add_upload(NewUpload {
                week: week.monday(),
                digest: &digest_of(&files),
                files: &files,
            })? {
                Added::New(id) => Taken::New(id),
                Added::AlreadyHere(id) => Taken::AlreadyHere(id),
            },
        };
        tracing::info!(
            job = "take_in",
            n_files = files.len(),
            n_students = reading.table.n_students(),
            n_items = reading.table.n_items(),
            n_findings = reading.findings.len(),
            duration_ms = started.elapsed().as_millis() as u64,
        );
        Ok(TakenIn { taken, reading })
    }

    /// One upload, read again.
    ///
    /// # Errors
    /// [`AppError`] of kind not found, or of the records.
    pub fn look_over(&self, id: i64) -> Result<LookOver, AppError> {
        let upload = self.store.upload(id)?.ok_or_else(no_such_upload)?;
        Ok(LookOver {
            id,
            week: Week::of(upload.week),
            file_names: upload.files.iter().map(|f| f.name.clone()).collect(),
            reading: self.read(&upload.files)?,
        })
    }

    /// Takes an upload back, with a plan that was made from it. Gives its week.
    ///
    /// # Errors
    /// [`AppError`] of kind not found, or of the records.
    pub fn take_back(&self, id: i64) -> Result<Week, AppError> {
        let week = self.store.remove_upload(id)?.map(Week::of).ok_or_else(no_such_upload)?;
        tracing::info!(job = "take_back", upload = id);
        Ok(week)
    }

    /// A week's uploads, in order of coming.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn uploads(&self, week: Week) -> Result<Vec<UploadSummary>, AppError> {
        Ok(self.store.upload_list(week.monday())?)
    }

    /// Reads score sheets with their items file, if there is one.
    pub(super) fn read(&self, files: &[StoredFile]) -> Result<Reading, AppError> {
        let of_kind = |kind| {
            files
                .iter()
                .filter(move |f: &&StoredFile| f.kind == kind)
                .map(|f| SourceFile { name: &f.name, bytes: &f.bytes })
        };
        let scores: Vec<SourceFile<'_>> = of_kind(FileKind::Scores).collect();
        let items = of_kind(FileKind::Items).next();
        let request = ReadRequest {
            items,
            limits: apart::limits_of(&self.setup.school),
            ..ReadRequest::new(&scores, &self.knowledge.graph)
        };
        apart::reader().scores(&request)
    }
}

fn no_such_upload() -> AppError {
    AppError::new(
        ErrorKind::NotFound,
        "no-such-upload",
        "There is no such upload; it may have been taken back, see the list of score sheets.",
    )
}

fn stored(kind: FileKind, file: GivenFile) -> StoredFile {
    let name = bare_name(&file.name);
    StoredFile { kind, name, sha256: hex(&Sha256::digest(&file.bytes)), bytes: file.bytes }
}

/// The last part of a path, without control characters, at most 120 characters.
fn bare_name(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let shown: String = last.chars().filter(|c| !c.is_control()).take(120).collect();
    if shown.trim().is_empty() { "sheet".to_owned() } else { shown }
}

/// Of the contents in order, not of the names.
fn digest_of(files: &[StoredFile]) -> String {
    let mut hash = Sha256::new();
    for file in files {
        hash.update(if file.kind == FileKind::Items { b"items " } else { b"scores" });
        hash.update(file.sha256.as_bytes());
    }
    hex(&hash.finalize())
}

fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write;
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        // Writing to a String never fails.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_in_a_file_name_is_left_out() {
        for name in ["../../etc/quiz.csv", "C:\\Users\\x\\quiz.csv", "quiz.csv", "a/b\\quiz\u{0}.csv"] {
            assert_eq!(bare_name(name), "quiz.csv");
        }
        assert_eq!(bare_name("../"), "sheet");
    }

    #[test]
    fn names_do_not_change_the_digest_but_roles_do() {
        let file = |kind, name: &str| stored(kind, GivenFile { name: name.into(), bytes: b"x".to_vec() });
        let digest = |kind, name: &str| digest_of(&[file(kind, name)]);
        assert_eq!(digest(FileKind::Scores, "a"), digest(FileKind::Scores, "b"));
        assert_ne!(digest(FileKind::Scores, "a"), digest(FileKind::Items, "a"));
    }
}
