//! From a file's bytes to who answered what, every problem with its cell.
//! In:  the bytes of one or more files. Out: one table of marks, a summary of each sheet, and findings with cell addresses.
//! Keeps: any bytes give a reading or one sentence (`give_a_reading_or_one_sentence`); absent, omitted and wrong stay apart
//! (`a_blank_row_is_absent_and_a_blank_cell_omitted`). Not here: what the marks say of a child (`sheaf-core`).

mod asked;
mod attendance;
mod beside;
mod cell;
mod cell_marks;
mod collect;
mod compound;
mod facts;
mod files;
mod forms;
mod grid;
mod kind;
mod labels;
mod layout;
mod library;
mod long;
mod look_over;
mod mark_words;
mod marks;
mod maximum;
mod mentions;
mod merge;
mod notes;
mod numbers;
mod ods;
mod options;
mod package;
mod people;
mod refuse;
mod region;
mod roster;
mod same_child;
mod sections;
mod skills;
mod spans;
mod suspect;
mod table;
mod takes;
mod text;
mod totals;
mod wide_items;
mod words;
mod xlsx;
mod xml;

#[cfg(test)]
mod tests;

use jiff::civil::Date;
use sheaf_core::finding::Finding;
use sheaf_core::plan::InputSummary;
use sheaf_core::scores::ResponseTable;
use thiserror::Error;

pub use asked::{
    ColumnUse, KnownItem, KnownTicket, LayoutKey, NothingRead, Orientation, PerhapsAcross, ReadRequest,
    RememberedItems, SheetChoice, Standing, choice_for,
};
pub use attendance::read_attendance;
pub use cell::column_letters;
pub use kind::is_packed;
pub use look_over::{ColumnReading, LeftOutReason, SheetLeftOut, SheetReading, SheetShape, ShownRow};
pub use mentions::{Mentions, may_mention};
pub use roster::read_students;

use files::Work;
use grid::Book;

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
#[derive(Debug, Clone, Default)]
pub struct Reading {
    /// One entry a sheet read.
    pub inputs: Vec<InputSummary>,
    /// Everything noticed.
    pub findings: Vec<Finding>,
    /// Who answered what.
    pub table: ResponseTable,
    /// The Monday of the one date that the sheets carry, if there is exactly one.
    pub week: Option<Date>,
    /// How each sheet was read, for a look-over.
    pub sheets: Vec<SheetReading>,
    /// Sheets that were not read, and why.
    pub left_out: Vec<SheetLeftOut>,
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

/// Reads score sheets, all together. A file that cannot be read is an error finding, as long as another can.
///
/// # Errors
/// [`ReadError`] where not one student and one item could be read.
pub fn read_score_sheets(request: &ReadRequest<'_>) -> Result<Reading, ReadError> {
    let mut work = Work::new(request);
    let given = request.items.map(|source| work.read_items_file(source)).transpose()?.unwrap_or_default();
    let (mut sheets, mut faults) = (Vec::new(), Vec::new());
    for source in request.scores {
        match work.read_file(*source, &given) {
            Ok(read) => sheets.extend(read),
            Err(fault) => faults.push((source.name, fault)),
        }
    }
    work.finish(sheets, faults)
}

fn not_a_score_sheet(names: &str) -> ReadError {
    let message = format!(
        "{names} is not a score sheet that can be read: it needs a row of headings with a student id or name and a column for each item."
    );
    ReadError { code: "not-a-score-sheet", message }
}

fn open(source: SourceFile<'_>, limits: ReadLimits) -> Result<Book<'_>, ReadError> {
    if source.bytes.len() > limits.max_bytes {
        let message = format!(
            "{} has {} MB; up to {} MB can be read; save the score sheet alone as a new workbook.",
            source.name,
            source.bytes.len() >> 20,
            limits.max_bytes >> 20
        );
        return Err(ReadError { code: "file-too-large", message });
    }
    Book::open(source.name, source.bytes)
}
