//! The cells of one sheet of an .xlsx, row by row, in one pass, with all that stands beside them.
//!
//! Out: rows of cells that hold something; hidden rows and columns, formulas without a stored result, far cells, merged ranges.
//! Keeps: a formula without a stored result is a cell of its own kind, never a blank and never zero
//! (`a_formula_without_a_result_is_no_blank`); a far cell costs nothing and is named (`a_far_cell_is_named_and_left_out`).
//! Not here: shared texts (`strings`), number formats (`formats`), what a cell means (`marks`).

use super::formats::Format;
use super::strings::Strings;
use crate::read::ReadError;
use crate::read::beside::SheetLook;
use crate::read::cell::{Cell, FAR, RowSink, date_of_serial, holds_something};
use crate::read::refuse::{damaged, too_large};
use crate::read::spans::{Span, Spans};
use crate::read::xml::{Event, Tag, Xml, attribute, is_on, push_plain, push_text, value_number};
use std::borrow::Cow;
use std::io::Read;

/// Cells looked at in one sheet, blank ones included.
const MOST_CELLS: u64 = 40_000_000;
const N_ROWS: u32 = 1_048_576;
const N_COLUMNS: u32 = 16_384;

/// What a sheet's cells are read with, and what is noted on the way.
pub struct Cells<'b> {
    pub file: &'b str,
    pub strings: &'b Strings,
    pub formats: &'b [Format],
    pub is_1904: bool,
    pub look: SheetLook,
    pub spans: Spans,
}

/// What is known at the end of the sheet.
pub struct End {
    pub n_formulas: u64,
    /// Merged ranges, which stand behind the cells.
    pub spans: Vec<Span>,
}

/// How the value of a cell is written.
#[derive(Clone, Copy, Default, PartialEq, Eq)]
enum Written {
    #[default]
    Number,
    Shared,
    Text,
    Bool,
    Error,
    Date,
}

/// The cell whose start was seen last.
#[derive(Default)]
struct Open {
    column: u32,
    style: usize,
    written: Written,
    has_formula: bool,
    /// Whether an element for the value is there, be it empty.
    has_place: bool,
    has_value: bool,
    value: String,
}

/// Where the reader stands.
struct Place<'b> {
    row: u32,
    column: u32,
    is_hidden: bool,
    n_cells: u64,
    n_formulas: u64,
    cells: Vec<(u32, Cell<'b>)>,
    columns: ColumnsSeen,
}

impl<'b> Cells<'b> {
    /// Calls `row` with each row that holds something.
    pub fn stream<R: Read>(&mut self, part: R, row: &mut RowSink<'_>) -> Result<End, ReadError> {
        let file = self.file;
        let mut xml = Xml::new(file, part);
        let mut at = Place {
            row: 0,
            column: 0,
            is_hidden: false,
            n_cells: 0,
            n_formulas: 0,
            cells: Vec::new(),
            columns: ColumnsSeen::default(),
        };
        let mut next_row = 0;
        let mut open = Open::default();
        let (mut is_value, mut n_phonetic, mut is_whole) = (false, 0_u32, false);
        let mut hidden_columns = Vec::new();
        let mut spans = Vec::new();
        loop {
            match xml.next()? {
                Event::Eof if is_whole => break,
                Event::Eof => return Err(damaged(file)),
                Event::Start(e) => match e.name() {
                    b"c" => at.begin_cell(&e, &mut open, file)?,
                    b"v" => (is_value, open.has_place) = (true, true),
                    b"t" => is_value = open.written == Written::Text && n_phonetic == 0,
                    b"f" => open.has_formula = true,
                    b"row" => next_row = at.begin_row(&e, next_row, file)?,
                    b"rPh" => n_phonetic += 1,
                    _ => {}
                },
                Event::Empty(e) => match e.name() {
                    // A cell without content counts for the place of the next one alone.
                    b"c" => at.begin_cell(&e, &mut open, file)?,
                    b"f" => open.has_formula = true,
                    b"v" => open.has_place = true,
                    b"row" => next_row = at.begin_row(&e, next_row, file)?,
                    b"col" => hidden_columns.extend(hidden_range(&e)),
                    b"mergeCell" => spans.extend(attribute(&e, "ref").and_then(|range| span(&range))),
                    b"sheetData" => is_whole = true,
                    _ => {}
                },
                Event::Text(t) if is_value => open.push(|value| push_text(value, t, file))?,
                Event::CData(t) if is_value => open.push(|value| push_plain(value, t, file))?,
                Event::End(name) => match name {
                    b"v" | b"t" => is_value = false,
                    b"c" => self.end_cell(&mut open, &mut at),
                    b"row" => self.end_row(&mut at, row),
                    b"rPh" => n_phonetic = n_phonetic.saturating_sub(1),
                    b"sheetData" => is_whole = true,
                    _ => {}
                },
                _ => {}
            }
        }
        self.look.hidden_columns =
            hidden_columns.into_iter().filter_map(|(first, last)| at.columns.within(first, last)).collect();
        Ok(End { n_formulas: at.n_formulas, spans })
    }

    fn end_cell(&mut self, open: &mut Open, at: &mut Place<'b>) {
        at.n_formulas += u64::from(open.has_formula);
        let cell = if open.has_value { self.cell(open) } else { None };
        let Some(cell) = cell.or_else(|| open.is_without_result().then_some(Cell::NoResult)) else { return };
        let last = at.cells.last().map_or(0, |(column, _)| *column);
        if open.column.saturating_sub(last) > FAR {
            self.look.far_cells.add(at.row, open.column);
            return;
        }
        if cell == Cell::NoResult {
            self.look.without_result.add(at.row, open.column);
        }
        at.columns.add(open.column);
        at.cells.push((open.column, cell));
    }

    fn end_row(&mut self, at: &mut Place<'b>, row: &mut RowSink<'_>) {
        if at.cells.is_empty() {
            return;
        }
        if at.is_hidden {
            self.look.hidden_rows.add(at.row, at.cells[0].0);
        }
        self.spans.fill(at.row, &mut at.cells);
        row(at.row, &at.cells);
        at.cells.clear();
    }

    fn cell(&self, open: &mut Open) -> Option<Cell<'b>> {
        let value = open.value.as_str();
        let cell = match open.written {
            Written::Shared => Cell::Text(Cow::Borrowed(self.strings.get(value.trim().parse().ok()?)?)),
            Written::Text => Cell::Text(Cow::Owned(std::mem::take(&mut open.value))),
            Written::Bool => Cell::Bool(is_on(value.trim().as_bytes())),
            Written::Error => Cell::Error(value.to_owned()),
            Written::Date => Cell::Date(value.split('T').next().unwrap_or_default().to_owned()),
            Written::Number => {
                let number = value.trim().parse::<f64>().ok().filter(|n| n.is_finite());
                let Some(number) = number else { return text_cell(value) };
                let format = self.formats.get(open.style).copied().unwrap_or_default();
                match date_of_serial(number, self.is_1904).filter(|_| format.is_date) {
                    Some(date) => Cell::Date(date),
                    None => Cell::Number { value: number, zeros: format.zeros, is_percent: format.is_percent },
                }
            }
        };
        holds_something(cell)
    }
}

/// A value that says it is a number and is none.
fn text_cell(value: &str) -> Option<Cell<'static>> {
    holds_something(Cell::Text(Cow::Owned(value.to_owned())))
}

impl Open {
    fn push(&mut self, add: impl FnOnce(&mut String) -> Result<(), ReadError>) -> Result<(), ReadError> {
        self.has_value = true;
        add(&mut self.value)
    }

    /// A formula that nobody calculated. One whose stored result is an empty text was calculated.
    fn is_without_result(&self) -> bool {
        self.has_formula && !self.has_value && !(self.written == Written::Text && self.has_place)
    }
}

impl Place<'_> {
    /// Gives the number of the row after this one.
    fn begin_row(&mut self, e: &Tag<'_>, next: u32, file: &str) -> Result<u32, ReadError> {
        (self.row, self.column, self.is_hidden) = (next, 0, false);
        for (key, value) in e.attributes() {
            match key {
                b"r" => self.row = one_based(value, N_ROWS).ok_or_else(|| damaged(file))?,
                b"hidden" => self.is_hidden = is_on(value),
                _ => {}
            }
        }
        Ok(self.row + 1)
    }

    fn begin_cell(&mut self, e: &Tag<'_>, open: &mut Open, file: &str) -> Result<(), ReadError> {
        self.n_cells += 1;
        if self.n_cells > MOST_CELLS {
            return Err(too_large(file, "has too many cells"));
        }
        (open.column, open.style, open.written) = (self.column, 0, Written::Number);
        (open.has_formula, open.has_place, open.has_value) = (false, false, false);
        open.value.clear();
        for (key, value) in e.attributes() {
            match key {
                b"r" => open.column = position(value).ok_or_else(|| damaged(file))?.1,
                b"s" => open.style = value_number(value).unwrap_or(0),
                b"t" => open.written = Written::of(value),
                _ => {}
            }
        }
        self.column = open.column + 1;
        Ok(())
    }
}

impl Written {
    fn of(kind: &[u8]) -> Written {
        match kind {
            b"s" => Written::Shared,
            b"str" | b"inlineStr" => Written::Text,
            b"b" => Written::Bool,
            b"e" => Written::Error,
            b"d" => Written::Date,
            _ => Written::Number,
        }
    }
}

fn one_based(text: &[u8], most: u32) -> Option<u32> {
    value_number::<u32>(text).filter(|n| (1..=most).contains(n)).map(|n| n - 1)
}

fn hidden_range(e: &Tag<'_>) -> Option<(u32, u32)> {
    let place = |key: &str| attribute(e, key).and_then(|v| one_based(v.as_bytes(), N_COLUMNS));
    attribute(e, "hidden").filter(|v| is_on(v.as_bytes())).and_then(|_| place("min").zip(place("max")))
}

/// 0-based row and column of an address such as `C17`.
fn position(address: &[u8]) -> Option<(u32, u32)> {
    let n_letters = address.iter().take_while(|b| b.is_ascii_alphabetic()).count();
    let letters = address[..n_letters.min(4)].iter();
    let column = letters.fold(0_u32, |sum, b| sum * 26 + u32::from(b.to_ascii_uppercase() - b'A') + 1);
    let row = one_based(&address[n_letters..], N_ROWS)?;
    (1..=N_COLUMNS).contains(&column).then(|| (row, column - 1))
}

/// A range such as `C1:E1`.
pub fn span(range: &str) -> Option<Span> {
    let (first, last) = range.split_once(':')?;
    let ((first_row, first_column), (last_row, last_column)) =
        (position(first.as_bytes())?, position(last.as_bytes())?);
    (first_row <= last_row && first_column <= last_column).then_some(Span {
        first_row,
        first_column,
        last_row,
        last_column,
    })
}

/// Which columns hold something.
#[derive(Default)]
struct ColumnsSeen(Vec<bool>);

impl ColumnsSeen {
    fn add(&mut self, column: u32) {
        let column = column as usize;
        if self.0.len() <= column {
            self.0.resize(column + 1, false);
        }
        self.0[column] = true;
    }

    /// The part of a range that holds something.
    fn within(&self, first: u32, last: u32) -> Option<(u32, u32)> {
        let holds = |column: &u32| self.0.get(*column as usize).copied().unwrap_or(false);
        Some(((first..=last).find(holds)?, (first..=last).rev().find(holds)?))
    }
}
