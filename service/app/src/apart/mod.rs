//! Files that strangers made are read in a process of their own, so that none of them can harm the program.
//!
//! The process is this same program with one hidden word ([`COMMAND`]); it gets the bytes through a pipe, limits itself, and gives back
//! what was understood, or dies. In: what the reader takes. Out: what the reader gives, or one sentence.
//! Workbooks and long texts are read apart; short texts are read here, since nothing in them unfolds and a process costs more.
//! Keeps: no other module of this crate reads files (`files_are_read_apart_and_nowhere_else`); what is read apart is what is read here
//! (`a_workbook_reads_alike_here_and_apart`, an acceptance test).
//! Not here: how files are read (`sheaf-sheets`).

pub mod child;
mod codec;
mod parent;
#[cfg(test)]
mod tests;
mod wire;

use crate::error::AppError;
use parent::Patience;
use sheaf_core::roster::School;
use sheaf_sheets::read::{
    Mentions, NothingRead, PerhapsAcross, ReadLimits, ReadRequest, Reading, SourceFile, is_packed,
};
use std::path::PathBuf;
use std::sync::OnceLock;
use std::time::Duration;
use wire::{Asked, AttendanceList, Job, StudentList, Wanted};

/// The word that makes this program a reading process.
pub const COMMAND: &str = "read-apart";

/// What an answer begins with.
const ANSWER_MARK: &[u8] = b"sheaf-answer-1\n";
/// Memory of the process, bytes: together with what the parent holds of the largest file it stays under 512 MiB.
const MEMORY_BYTES: u64 = 384 * 1024 * 1024;
/// Processor time of the process, seconds.
const CPU_SECONDS: u64 = 20;
/// Time from the first byte to the last answer.
const WALL: Duration = Duration::from_secs(20);
/// Texts up to this size are read here.
const SHORT_TEXT: usize = 1024 * 1024;

/// How files are read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reader {
    /// In this process: for tests, and for programs that read only files of their own.
    Here,
    /// Apart, in a process of this program that takes [`COMMAND`].
    Apart {
        /// The program.
        program: PathBuf,
        /// How long one request may take.
        wall: Duration,
    },
}

static READER: OnceLock<Reader> = OnceLock::new();

/// Says, once for the life of this program, that files are read in processes of `program`. Without it they are read here.
pub fn read_apart_with(program: PathBuf) {
    // A second call changes nothing: a request must not change its reader half-way.
    let _ = READER.set(Reader::Apart { program, wall: WALL });
}

/// Starts the reading process of the next request now, where files are read apart: a command that will read a workbook saves the time
/// that the process needs to get ready. One that is never asked ends with this program.
pub fn start_ahead() {
    if let Reader::Apart { program, .. } = reader() {
        // Where it does not start, the request that needs one says so.
        let _ = parent::start_ahead(program);
    }
}

/// The running program itself, wherever it lies and even if its file was replaced since.
#[must_use]
pub fn this_program() -> Option<PathBuf> {
    let running = PathBuf::from("/proc/self/exe");
    if running.exists() { Some(running) } else { std::env::current_exe().ok() }
}

/// The limits that a school sets.
#[must_use]
pub fn limits_of(school: &School) -> ReadLimits {
    let limits = school.reading;
    ReadLimits { max_bytes: limits.max_megabytes << 20, max_rows: limits.max_rows, max_columns: limits.max_columns }
}

/// The reader in force.
pub fn reader() -> &'static Reader {
    READER.get().unwrap_or(&Reader::Here)
}

impl Reader {
    /// Reads score sheets, all together.
    ///
    /// # Errors
    /// [`AppError`] where nothing can be read, or reading takes too much.
    pub fn scores(&self, request: &ReadRequest<'_>) -> Result<Reading, AppError> {
        self.scores_unless(request, &|| false)
    }

    /// The same; `is_stopped` is asked now and then while they are read apart.
    ///
    /// # Errors
    /// As [`Reader::scores`], or [`AppError::stopped`].
    pub fn scores_unless(&self, request: &ReadRequest<'_>, is_stopped: &dyn Fn() -> bool) -> Result<Reading, AppError> {
        let sources: Vec<SourceFile<'_>> = request.scores.iter().copied().chain(request.items).collect();
        let Some((program, wall)) = self.apart(&sources) else {
            return Ok(sheaf_sheets::read::read_score_sheets(request)?);
        };
        let asked = Asked {
            n_items_files: usize::from(request.items.is_some()),
            choices: request.choices.to_vec(),
            remembered: request.remembered.to_vec(),
            known: request.known.to_vec(),
            tickets: request.tickets.to_vec(),
            nothing_read: request.nothing_read,
            perhaps_across: request.perhaps_across,
            ..Asked::of(Job::Scores, &sources, request.limits)
        };
        Ok(parent::ask(program, Patience { wall, is_stopped }, &asked, &sources)??)
    }

    /// Reads a list of students.
    ///
    /// # Errors
    /// [`AppError`] where not one student can be read, or reading takes too much.
    pub fn students(&self, source: SourceFile<'_>, limits: ReadLimits) -> Result<StudentList, AppError> {
        let Some((program, wall)) = self.apart(&[source]) else {
            return Ok(sheaf_sheets::read::read_students(source, limits)?);
        };
        Ok(parent::ask(program, Patience::of(wall), &Asked::of(Job::Students, &[source], limits), &[source])??)
    }

    /// Reads an attendance sheet.
    ///
    /// # Errors
    /// [`AppError`] where not one student with one session can be read, or reading takes too much.
    pub fn attendance(&self, source: SourceFile<'_>, limits: ReadLimits) -> Result<AttendanceList, AppError> {
        let Some((program, wall)) = self.apart(&[source]) else {
            return Ok(sheaf_sheets::read::read_attendance(source, limits)?);
        };
        Ok(parent::ask(program, Patience::of(wall), &Asked::of(Job::Attendance, &[source], limits), &[source])??)
    }

    /// Whether a file may hold one of the texts. A file that cannot be read may.
    pub fn mentions(&self, source: SourceFile<'_>, limits: ReadLimits, wanted: Mentions<'_>) -> bool {
        let Some((program, wall)) = self.apart(&[source]) else {
            return sheaf_sheets::read::may_mention(source, limits, wanted);
        };
        let wanted = Wanted { whole: wanted.whole.to_vec(), parts: wanted.parts.to_vec() };
        let asked = Asked { wanted, ..Asked::of(Job::Mentions, &[source], limits) };
        parent::ask(program, Patience::of(wall), &asked, &[source]).map_or(true, |found| found.unwrap_or(true))
    }

    /// Where files like these are read; `None`: here.
    fn apart(&self, sources: &[SourceFile<'_>]) -> Option<(&PathBuf, Duration)> {
        let is_demanding = |source: &SourceFile<'_>| is_packed(source.bytes) || source.bytes.len() > SHORT_TEXT;
        match self {
            Reader::Apart { program, wall } if sources.iter().any(is_demanding) => Some((program, *wall)),
            _ => None,
        }
    }
}

impl Asked {
    fn of(job: Job, sources: &[SourceFile<'_>], limits: ReadLimits) -> Asked {
        Asked {
            job,
            sizes: sources.iter().map(|source| (source.name.to_owned(), source.bytes.len())).collect(),
            n_items_files: 0,
            limits,
            choices: Vec::new(),
            remembered: Vec::new(),
            known: Vec::new(),
            tickets: Vec::new(),
            nothing_read: NothingRead::IsAnError,
            perhaps_across: PerhapsAcross::IsOffered,
            wanted: Wanted::default(),
        }
    }
}
