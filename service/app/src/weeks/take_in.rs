//! Taking score sheets in for a week, and taking them back.
//!
//! Reading comes first and needs no record; only sheets that could be read are kept, with what was read of them.
//! Through the API they count at once; from the page they wait to be looked over.
//! Keeps: the same bytes for the same week change nothing (`the_same_sheets_again_are_already_here`); last week's file is
//! told with its week (`last_weeks_file_again_is_told_with_its_week`).
//! Not here: looking over, correcting, confirming (`look_over`).

use super::corrections::Corrections;
use super::difference::difference;
use super::kept_reading::{from_json, to_json};
use super::look_over::layouts_known;
use super::{Week, Weeks};
use crate::apart;
use crate::error::{AppError, ErrorKind};
use crate::progress::Step;
use sha2::{Digest, Sha256};
use sheaf_core::finding::Finding;
use sheaf_sheets::read::{NothingRead, ReadRequest, Reading, SourceFile};
use sheaf_store::{Added, FileKind, NewUpload, Standing, Start, StoredFile, Upload, UploadSummary};
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
    /// Read and keep; they count at once.
    Keep,
    /// Read and keep; they wait to be looked over.
    Wait,
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

impl Weeks {
    /// Takes score sheets in for a week: reads them all together, then keeps them. The same bytes for the same week
    /// change nothing.
    ///
    /// # Errors
    /// [`AppError`] of kind input or too large where not one student and one item could be read (nothing is kept then,
    /// unless the sheets are to wait and a person could say how they are to be read), or of the records.
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
        let digest = digest_of(&files);
        if let Some(id) = self.store.upload_of_digest(week.monday(), &digest)? {
            let upload = self.store.upload(id)?.ok_or_else(no_such_upload)?;
            if keeping == Keeping::Keep && upload.standing == Standing::Waiting {
                self.confirm(id, None)?;
            }
            return Ok(TakenIn { taken: Taken::AlreadyHere(id), reading: self.reading_of(&upload)? });
        }
        let nothing_read = match keeping {
            Keeping::Wait => NothingRead::IsShown,
            Keeping::Keep | Keeping::LookOnly => NothingRead::IsAnError,
        };
        self.reach(Step::Reading)?;
        let mut reading = self.read(&files, &Corrections::default(), nothing_read)?;
        self.reach(Step::Comparing)?;
        reading.findings.extend(self.seen_in_other_weeks(week, &files, &reading)?);
        self.reach(Step::Keeping)?;
        let taken = match keeping {
            Keeping::LookOnly => Taken::LookedAt,
            Keeping::Keep => self.keep(week, &digest, &files, &reading, Start::Counted)?,
            Keeping::Wait => self.keep(week, &digest, &files, &reading, Start::Waiting)?,
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

    fn keep(
        &self,
        week: Week,
        digest: &str,
        files: &[StoredFile],
        reading: &Reading,
        start: Start,
    ) -> Result<Taken, AppError> {
        let json = to_json(reading)?;
        let new = NewUpload { week: week.monday(), digest, files, start, reading: &json };
        let added = self.store.add_upload(new)?;
        self.forget_remembered();
        Ok(match added {
            Added::New(id) => Taken::New(id),
            Added::AlreadyHere(id) => Taken::AlreadyHere(id),
        })
    }

    /// Takes an upload back, with every plan that was made from it; what it replaced counts again. Gives its week.
    ///
    /// # Errors
    /// [`AppError`] of kind not found, or of the records.
    pub fn take_back(&self, id: i64) -> Result<Week, AppError> {
        let week = self.store.remove_upload(id)?.map(Week::of).ok_or_else(no_such_upload)?;
        self.forget_remembered();
        tracing::info!(job = "take_back", upload = id);
        Ok(week)
    }

    /// A week's uploads, in order of coming, whether they count or not.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn uploads(&self, week: Week) -> Result<Vec<UploadSummary>, AppError> {
        Ok(self.store.upload_list(week.monday())?)
    }

    /// Last week's file again, under whatever name: the very bytes, or the same marks of the same students.
    fn seen_in_other_weeks(
        &self,
        week: Week,
        files: &[StoredFile],
        reading: &Reading,
    ) -> Result<Vec<Finding>, AppError> {
        let mut findings = Vec::new();
        for file in files.iter().filter(|f| f.kind == FileKind::Scores) {
            if let Some(other) = self.store.other_weeks_with(&file.sha256, week.monday())?.first() {
                findings.push(of_another_week(&file.name, Week::of(*other)));
            }
        }
        if findings.is_empty() {
            let before = Week::of(week.monday().saturating_sub(jiff::Span::new().days(7)));
            // An upload of last week that does not read back is no reason to refuse this week's.
            let is_again = |upload: &Upload| {
                let found = self.reading_of(upload).ok().and_then(|before| difference(reading, &before));
                found.is_some_and(|d| d.marks.is_empty() && d.added.is_empty() && d.items_added.is_empty())
            };
            for upload in self.store.uploads_of(before.monday())?.iter().filter(|u| u.standing.counts()) {
                if is_again(upload) {
                    findings.push(of_another_week(files.first().map_or("", |f| &f.name), before));
                }
            }
        }
        Ok(findings)
    }

    /// What was read of an upload: as it is kept, or read now where it came before readings were kept.
    pub(super) fn reading_of(&self, upload: &Upload) -> Result<Reading, AppError> {
        match &upload.reading {
            Some(json) => from_json(json),
            None => {
                let corrections = Corrections::from_json(&upload.corrections)?;
                self.read(&upload.files, &corrections, NothingRead::IsAnError)
            }
        }
    }

    /// Reads score sheets with their items file, if there is one. The one place where the service reads score sheets.
    pub(super) fn read(
        &self,
        files: &[StoredFile],
        corrections: &Corrections,
        nothing_read: NothingRead,
    ) -> Result<Reading, AppError> {
        let of_kind = |kind| {
            files
                .iter()
                .filter(move |f: &&StoredFile| f.kind == kind)
                .filter_map(|f| Some(SourceFile { name: &f.name, bytes: f.bytes.as_deref()? }))
        };
        let scores: Vec<SourceFile<'_>> = of_kind(FileKind::Scores).collect();
        let kept = self.kept_corrections()?;
        let all = corrections.then(&kept);
        let known = self.store.students()?;
        let tickets = self.handed_out()?;
        let request = ReadRequest {
            items: of_kind(FileKind::Items).next(),
            choices: &all.choices,
            remembered: &all.items,
            known: &known,
            tickets: &tickets,
            nothing_read,
            limits: apart::limits_of(&self.setup().school),
            ..ReadRequest::new(&scores, &self.knowledge.graph)
        };
        let mut reading = apart::reader().scores_unless(&request, &|| self.is_stopped())?;
        let told = layouts_known(&reading, &kept);
        reading.findings.extend(told);
        Ok(reading)
    }
}

fn of_another_week(file: &str, week: Week) -> Finding {
    let message = format!("This sheet was handed in for the week of {week} already.");
    Finding::warning(
        "sheet-of-another-week",
        message,
        "it is kept with this week; take it back if this is last week's file",
    )
    .at(file, "", "")
}

pub(super) fn no_such_upload() -> AppError {
    AppError::new(
        ErrorKind::NotFound,
        "no-such-upload",
        "There is no such upload; it may have been taken back, see the list of score sheets.",
    )
}

pub(super) fn stored(kind: FileKind, file: GivenFile) -> StoredFile {
    let name = bare_name(&file.name);
    StoredFile { kind, name, sha256: sha256(&file.bytes), bytes: Some(file.bytes) }
}

/// The last part of a path, without control characters, at most 120 characters.
fn bare_name(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let shown: String = last.chars().filter(|c| !c.is_control()).take(120).collect();
    if shown.trim().is_empty() { "sheet".to_owned() } else { shown }
}

/// Of the contents in order, not of the names.
pub(super) fn digest_of(files: &[StoredFile]) -> String {
    let mut hash = Sha256::new();
    for file in files {
        hash.update(if file.kind == FileKind::Items { b"items " } else { b"scores" });
        hash.update(file.sha256.as_bytes());
    }
    hex(&hash.finalize())
}

/// SHA-256 as hexadecimal digits.
pub(super) fn sha256(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
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
