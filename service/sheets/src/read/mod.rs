//! From a file's bytes to who answered what, every problem with its cell.
//! In:  the bytes of one or more files. Out: one table of marks, a summary of each sheet, and findings with cell addresses.
//! Keeps: any bytes give a reading or one sentence (`give_a_reading_or_one_sentence`); absent, omitted and wrong stay apart
//! (`a_blank_row_is_absent_and_a_blank_cell_omitted`). Not here: what the marks say of a child (`sheaf-core`).

mod asked;
mod attendance;
mod beside;
mod cell;
mod facts;
mod grid;
mod kind;
mod layout;
mod library;
mod long;
mod look_over;
mod marks;
mod merge;
mod notes;
mod ods;
mod package;
mod refuse;
mod spans;
mod table;
mod text;
mod words;
mod xlsx;
mod xml;

#[cfg(test)]
mod tests;

use crate::graft::our_sheets;
use jiff::civil::Date;
use sheaf_core::finding::Finding;
use sheaf_core::plan::InputSummary;
use sheaf_core::roster::{Student, StudentId};
use sheaf_core::scores::ResponseTable;
use sheaf_core::skills::SkillGraph;
use std::collections::{BTreeSet, HashMap};
use thiserror::Error;

pub use asked::{ColumnUse, KnownItem, LayoutKey, Orientation, ReadRequest, RememberedItems, SheetChoice, Standing};
pub use attendance::read_attendance;
pub use look_over::{ColumnReading, LeftOutReason, SheetLeftOut, SheetReading, SheetShape, ShownRow};

use facts::ItemFacts;
use grid::{Book, SheetName};
pub use kind::is_packed;
use merge::NamedSheet;
use notes::Notes;
use table::{SheetBuilder, SheetContent, SheetTable};

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

/// Reads score sheets, all together.
///
/// # Errors
/// [`ReadError`] where not one student and one item could be read.
pub fn read_score_sheets(request: &ReadRequest<'_>) -> Result<Reading, ReadError> {
    let sources = request.scores;
    let mut work = Work {
        graph: request.graph,
        limits: request.limits,
        findings: Vec::new(),
        inputs: Vec::new(),
        dates: BTreeSet::new(),
        sheets: Vec::new(),
        left_out: Vec::new(),
    };
    let given = request.items.map(|source| work.read_items_file(source)).transpose()?.unwrap_or_default();
    let mut sheets = Vec::new();
    for source in sources {
        sheets.extend(work.read_file(*source, &given)?);
    }
    let (table, findings) = merge::merge(sheets);
    work.findings.extend(findings);
    if table.n_students() == 0 || table.n_items() == 0 {
        let names: Vec<&str> = sources.iter().map(|s| s.name).collect();
        return Err(not_a_score_sheet(&names.join(", ")));
    }
    let week = if work.dates.len() == 1 { work.dates.first().copied() } else { None };
    Ok(Reading {
        inputs: work.inputs,
        findings: work.findings,
        table,
        week,
        sheets: work.sheets,
        left_out: work.left_out,
    })
}

/// Reads a list of students.
///
/// # Errors
/// [`ReadError`] where not one student could be read.
pub fn read_students(source: SourceFile<'_>, limits: ReadLimits) -> Result<(Vec<Student>, Vec<Finding>), ReadError> {
    let book = open(source, limits)?;
    let mut students = Vec::new();
    let mut findings = Vec::new();
    for sheet in book.sheets()?.iter().filter(|s| !s.is_hidden) {
        let mut notes = Notes::new(source.name, &sheet.name);
        let mut builder = SheetBuilder::new(limits, &mut notes);
        book.for_each_row(sheet, &mut |n, cells| builder.row(n, cells))?;
        let rows = match builder.finish(&SkillGraph::default(), &HashMap::new()).0 {
            SheetContent::Students(rows) => rows,
            SheetContent::Scores(table) => table.students,
            _ => Vec::new(),
        };
        students.extend(rows.into_iter().filter_map(|row| {
            let supports = merge::split_supports(&row.supports);
            let id = StudentId::parse(&row.id)?;
            Some(Student { id, name: row.name, grade: row.grade, homeroom: row.homeroom, supports })
        }));
        findings.extend(notes.into_findings());
    }
    if students.is_empty() {
        let message = format!("{} names no student; it needs a row of headings with id and name.", source.name);
        return Err(ReadError { code: "not-a-student-list", message });
    }
    Ok((students, findings))
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

/// What is gathered over all files.
struct Work<'a> {
    graph: &'a SkillGraph,
    limits: ReadLimits,
    findings: Vec<Finding>,
    inputs: Vec<InputSummary>,
    /// Mondays of the dates that the sheets carry.
    dates: BTreeSet<Date>,
    sheets: Vec<SheetReading>,
    left_out: Vec<SheetLeftOut>,
}

/// A sheet read, before files are put together.
type ReadSheet = (String, SheetTable);

impl Work<'_> {
    fn read_items_file(&mut self, source: SourceFile<'_>) -> Result<Vec<ItemFacts>, ReadError> {
        let book = open(source, self.limits)?;
        let mut facts = Vec::new();
        for sheet in book.sheets()?.iter().filter(|s| !s.is_hidden) {
            let mut notes = Notes::new(source.name, &sheet.name);
            let mut builder = SheetBuilder::new(self.limits, &mut notes);
            book.for_each_row(sheet, &mut |n, cells| builder.row(n, cells))?;
            if let SheetContent::Items(columns, rows) = builder.finish(self.graph, &HashMap::new()).0 {
                facts.extend(facts::read_items(&columns, &rows, self.graph));
            }
        }
        if facts.is_empty() {
            let message =
                format!("{} holds no item facts; it needs a row of headings with item and skill or key.", source.name);
            return Err(ReadError { code: "not-an-items-sheet", message });
        }
        Ok(facts)
    }

    /// Sheets that this program added to the workbook are no score sheets; they are read only where there are no others.
    fn without_ours(&mut self, sheets: Vec<SheetName>, source: SourceFile<'_>) -> Vec<SheetName> {
        let ours = our_sheets(source.bytes);
        let theirs: Vec<SheetName> = sheets.iter().filter(|s| !ours.contains(&s.name)).cloned().collect();
        if theirs.is_empty() || theirs.len() == sheets.len() {
            return sheets;
        }
        let what = format!("The workbook holds {} sheets that Sheaf added.", sheets.len() - theirs.len());
        self.findings.push(Finding::note("own-sheets-left-out", what, "not read as scores").at(source.name, "", ""));
        theirs
    }

    fn read_file(&mut self, source: SourceFile<'_>, given: &[ItemFacts]) -> Result<Vec<NamedSheet>, ReadError> {
        let book = open(source, self.limits)?;
        let sheets = self.without_ours(book.sheets()?, source);
        let own = self.own_facts(&book, &sheets)?;
        let mut read: Vec<ReadSheet> = Vec::new();
        for sheet in &sheets {
            if sheet.is_hidden {
                let finding =
                    Finding::note("hidden-sheet-left-out", format!("Sheet {} is hidden.", sheet.name), "not read");
                self.findings.push(finding.at(source.name, &sheet.name, ""));
                continue;
            }
            if let Some(table) = self.read_sheet(&book, sheet, given, &own)? {
                read.push((sheet.name.clone(), table));
            }
        }
        if read.is_empty() {
            return Err(not_a_score_sheet(source.name));
        }
        self.findings.extend(book.findings());
        self.note_date(source.name);
        let stem = source.name.rsplit_once('.').map_or(source.name, |(stem, _)| stem);
        let hash = sha256(source.bytes);
        let is_several = read.len() > 1;
        Ok(read
            .into_iter()
            .map(|(sheet, table)| {
                self.inputs.push(InputSummary {
                    file: source.name.to_owned(),
                    sha256: hash.clone(),
                    sheet: sheet.clone(),
                    n_students: table.students.len(),
                    n_items: table.items.len(),
                });
                let name = if is_several { format!("{stem} {sheet}") } else { stem.to_owned() };
                NamedSheet { file: source.name.to_owned(), sheet, name, table }
            })
            .collect())
    }

    /// Facts from items sheets of the same workbook; looked for only where there is more than one sheet.
    fn own_facts(&self, book: &Book<'_>, sheets: &[SheetName]) -> Result<Vec<ItemFacts>, ReadError> {
        let mut facts = Vec::new();
        if sheets.len() < 2 {
            return Ok(facts);
        }
        for sheet in sheets.iter().filter(|s| !s.is_hidden) {
            let mut notes = Notes::new(book.file, &sheet.name);
            let mut builder = SheetBuilder::new(self.limits, &mut notes);
            book.for_each_row(sheet, &mut |n, cells| builder.row(n, cells))?;
            if let SheetContent::Items(columns, rows) = builder.finish(self.graph, &HashMap::new()).0 {
                facts.extend(facts::read_items(&columns, &rows, self.graph));
            }
        }
        Ok(facts)
    }

    fn read_sheet(
        &mut self,
        book: &Book<'_>,
        sheet: &SheetName,
        given: &[ItemFacts],
        own: &[ItemFacts],
    ) -> Result<Option<SheetTable>, ReadError> {
        let stem = book.file.rsplit_once('.').map_or(book.file, |(stem, _)| stem);
        let names = [sheet.name.clone(), book.file.to_owned(), stem.to_owned()];
        let mut known = facts::known_for(own, &names);
        known.extend(facts::known_for(given, &names));
        let mut notes = Notes::new(book.file, &sheet.name);
        let mut builder = SheetBuilder::new(self.limits, &mut notes);
        let look = book.for_each_row(sheet, &mut |n, cells| builder.row(n, cells))?;
        if let Some(why) = &builder.too_large {
            let message = format!("{} {why}; split it into a file for each class.", book.file);
            return Err(ReadError { code: "file-too-large", message });
        }
        let (content, texts) = builder.finish(self.graph, &known);
        let SheetContent::Scores(mut table) = content else {
            return Ok(None);
        };
        if table.students.is_empty() || table.items.is_empty() {
            return Ok(None);
        }
        facts::apply(&mut table.items, given, &names);
        facts::apply(&mut table.items, own, &names);
        texts.iter().for_each(|t| self.note_date(t));
        beside::tell(&look, &mut notes);
        self.findings.extend(notes.into_findings());
        Ok(Some(table))
    }

    /// Remembers the Monday of every ISO date in a text.
    fn note_date(&mut self, text: &str) {
        for start in 0..text.len().saturating_sub(9) {
            let date = text.get(start..start + 10).and_then(|t| t.parse::<Date>().ok());
            if let Some(date) = date.filter(|d| (2000..2100).contains(&d.year())) {
                let back = i32::from(date.weekday().since(jiff::civil::Weekday::Monday));
                self.dates.extend(date.checked_sub(jiff::Span::new().days(back)).ok());
            }
        }
    }
}

fn sha256(bytes: &[u8]) -> String {
    use sha2::{Digest, Sha256};
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}
