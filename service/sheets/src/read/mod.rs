//! From a file's bytes to who answered what, every problem with its cell.

use jiff::civil::Date;
use sheaf_core::finding::Finding;
use sheaf_core::plan::InputSummary;
use sheaf_core::roster::Student;
use sheaf_core::scores::ResponseTable;
use sheaf_core::skills::SkillGraph;
use thiserror::Error;

/// A file as it came: its name (shown, never used as a path) and its bytes.
#[derive(Debug, Clone, Copy)]
pub struct SourceFile<'a> {
    /// Name without folders.
    pub name: &'a str,
    /// Content.
    pub bytes: &'a [u8],
}

/// Limits of one file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ReadLimits {
    /// Bytes.
    pub max_bytes: usize,
    /// Rows with content.
    pub max_rows: usize,
    /// Columns with content.
    pub max_columns: usize,
}

impl Default for ReadLimits {
    fn default() -> Self {
        ReadLimits { max_bytes: 50 * 1024 * 1024, max_rows: 25_000, max_columns: 600 }
    }
}

/// What was understood.
#[derive(Debug)]
pub struct Reading {
    /// One entry a sheet read.
    pub inputs: Vec<InputSummary>,
    /// Everything noticed.
    pub findings: Vec<Finding>,
    /// Who answered what.
    pub table: ResponseTable,
    /// The Monday of the one date that the sheets carry, if there is exactly one.
    pub week: Option<Date>,
}

/// Why nothing could be read. Each message names the file, the reason and the next step in one sentence.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{message}")]
pub struct ReadError {
    /// Stable kebab-case code, e.g. `file-protected`.
    pub code: &'static str,
    /// One sentence.
    pub message: String,
}

/// Reads score sheets, all together.
///
/// # Errors
/// [`ReadError`] where not one student and one item could be read.
pub fn read_score_sheets(
    _sources: &[SourceFile<'_>],
    _items: Option<SourceFile<'_>>,
    _graph: &SkillGraph,
    _limits: ReadLimits,
) -> Result<Reading, ReadError> {
    Err(ReadError { code: "not-a-score-sheet", message: String::new() })
}

/// Reads a list of students.
///
/// # Errors
/// [`ReadError`] where not one student could be read.
pub fn read_students(_source: SourceFile<'_>, _limits: ReadLimits) -> Result<(Vec<Student>, Vec<Finding>), ReadError> {
    Err(ReadError { code: "not-a-student-list", message: String::new() })
}
