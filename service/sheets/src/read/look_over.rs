//! What was understood of each sheet, for a person to look over before anything counts.
//!
//! Plain data: the layout, the row of headings, what each column was taken for, the items, the first rows as the sheet shows them.
//! Rows are numbered as the sheet numbers them, from 1; columns count from 0 and carry their letters.
//! Not here: what the marks became (the table); what a person changes (`asked`).

use super::asked::{ColumnUse, LayoutKey, Orientation};

/// One sheet as it was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetReading {
    /// File name.
    pub file: String,
    /// Sheet name; empty for text files.
    pub sheet: String,
    /// The layout, by which a choice is kept.
    pub layout: LayoutKey,
    /// How responses lie on the sheet.
    pub shape: SheetShape,
    /// Number of the row of headings, from 1 (of the column of headings where students run across).
    pub header_row: u32,
    /// Which way students run.
    pub orientation: Orientation,
    /// Every column with a heading, left to right.
    pub columns: Vec<ColumnReading>,
    /// Labels of the items, as the sheet has them.
    pub items: Vec<String>,
    /// Where each of them stands in the table, whose labels may carry the check's name.
    pub places: Vec<usize>,
    /// The first rows of students.
    pub rows: Vec<ShownRow>,
    /// How many students.
    pub n_students: usize,
}

/// How responses lie on a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SheetShape {
    /// A row a student, a column an item (or the other way round).
    Wide,
    /// A row a response.
    Long,
}

/// One column and what it was taken for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColumnReading {
    /// From 0.
    pub column: u32,
    /// Its letters on the sheet (its row's number where students run across).
    pub letters: String,
    /// Its heading; several levels are joined with ` > `. [`super::SheetChoice::uses`] goes by it.
    pub label: String,
    /// What it was taken for.
    pub column_use: ColumnUse,
}

/// A row as the sheet shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShownRow {
    /// Its number on the sheet, from 1.
    pub row: u32,
    /// The texts under each of [`SheetReading::columns`], in their order; empty for a blank cell.
    pub cells: Vec<String>,
}

/// A sheet that was not read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetLeftOut {
    /// File name.
    pub file: String,
    /// Sheet name; empty for text files.
    pub sheet: String,
    /// Why.
    pub reason: LeftOutReason,
    /// The layout, by which a choice is kept, where the sheet has anything like headings.
    pub layout: Option<LayoutKey>,
    /// The first rows with something in them, so that a person can point at the headings: number from 1, texts from column A on.
    pub rows: Vec<ShownRow>,
}

/// Why a sheet was not read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LeftOutReason {
    /// Its tab is hidden.
    Hidden,
    /// A person said so.
    Chosen,
    /// It holds facts of items, which were used.
    Items,
    /// It lists students without marks.
    Students,
    /// Students may run across, and nobody said so.
    PerhapsAcross,
    /// No row of headings with students and items was found.
    NoHeadings,
}
