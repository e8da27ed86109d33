//! .ods: the rows of its sheets in one pass, with all that stands beside them.
//!
//! Cells and rows that are said to repeat are never multiplied where they are blank, and within bounds where they are not
//! (`repeats_cost_nothing`). Keeps: digits that a number shows stay (`zeros_that_a_number_shows_stay`); notes, drawings and tables in
//! cells are no part of a cell's text (`a_note_is_no_part_of_a_cell`).
//! Source: the element and attribute names of OpenDocument 1.3, part 3.

use super::ReadError;
use super::beside::SheetLook;
use super::cell::{Cell, FAR, RowCells, RowSink, holds_something};
use super::grid::SheetName;
use super::package::Package;
use super::refuse::{damaged, protected, too_large};
use super::spans::{Span, Spans};
use super::xml::{Event, Tag, Xml, attribute, push_plain, push_text, value_text, with_part};
use std::collections::HashSet;
use std::io::Read;

const CONTENT: &str = "content.xml";
/// Rows of a sheet at most, in any spreadsheet program.
const N_ROWS: u32 = 1_048_576;
const N_COLUMNS: u32 = 16_384;
/// Elements looked at in one sheet.
const MOST_ELEMENTS: u64 = 120_000_000;

/// Whether the package says that its parts are encrypted.
pub fn refuse_encrypted(package: &mut Package<'_>) -> Result<(), ReadError> {
    let manifest = package.small("META-INF/manifest.xml")?.unwrap_or_default();
    match memchr::memmem::find(&manifest, b"encryption-data") {
        Some(_) => Err(protected(package.file())),
        None => Ok(()),
    }
}

/// Sheets in order.
pub fn sheets(package: &mut Package<'_>) -> Result<Vec<SheetName>, ReadError> {
    let file = package.file();
    let list = |part: &mut dyn Read| {
        let mut xml = Xml::new(file, part);
        let (mut sheets, mut hidden, mut style) = (Vec::new(), HashSet::new(), String::new());
        let mut depth = 0_u32;
        loop {
            match xml.next()? {
                Event::Eof => return if sheets.is_empty() { Err(damaged(file)) } else { Ok(sheets) },
                Event::Start(e) if e.name() == b"table" => {
                    depth += 1;
                    if depth == 1 {
                        let style = attribute(&e, "style-name").unwrap_or_default();
                        let name = attribute(&e, "name").unwrap_or_default().into_owned();
                        sheets.push(SheetName { name, is_hidden: hidden.contains(style.as_ref()) });
                    }
                }
                Event::End(b"table") => depth = depth.saturating_sub(1),
                Event::Start(e) | Event::Empty(e) => match e.name() {
                    b"style" => style = attribute(&e, "name").unwrap_or_default().into_owned(),
                    b"table-properties" if attribute(&e, "display").is_some_and(|v| v == "false") => {
                        hidden.insert(std::mem::take(&mut style));
                    }
                    _ => {}
                },
                _ => {}
            }
        }
    };
    with_part(package, CONTENT, list)?.ok_or_else(|| damaged(file))
}

/// Calls `row` with each row of a sheet that holds something.
pub fn for_each_row(package: &mut Package<'_>, sheet: &str, row: &mut RowSink<'_>) -> Result<SheetLook, ReadError> {
    let file = package.file();
    let read = |part: &mut dyn Read| {
        let mut xml = Xml::new(file, part);
        find_sheet(&mut xml, sheet, file)?;
        let mut walk = Walk::default();
        walk.through(&mut xml, file, row)?;
        walk.look.merged = walk.spans.filled;
        Ok(walk.look)
    };
    with_part(package, CONTENT, read)?.ok_or_else(|| damaged(file))
}

fn find_sheet<R: Read>(xml: &mut Xml<'_, R>, sheet: &str, file: &str) -> Result<(), ReadError> {
    loop {
        match xml.next()? {
            Event::Eof => return Err(damaged(file)),
            Event::Start(e) if e.name() == b"table" && attribute(&e, "name").unwrap_or_default() == sheet => {
                return Ok(());
            }
            _ => {}
        }
    }
}

/// A cell on the way: what its start said, and its text so far.
#[derive(Default)]
struct Open {
    kind: String,
    value: String,
    has_formula: bool,
    n_columns: u32,
    span: (u32, u32),
    text: String,
}

/// Where the reader stands in a sheet.
#[derive(Default)]
struct Walk {
    look: SheetLook,
    spans: Spans,
    row: u32,
    n_rows: u32,
    is_hidden: bool,
    column: u32,
    cells: Vec<(u32, Cell<'static>)>,
    open: Option<Open>,
    /// Elements inside a cell that are open; its paragraphs are the first of them.
    depth: u32,
    /// The depth at which something began that is no part of the cell's text.
    apart: Option<u32>,
    column_at: u32,
    hidden_columns: Vec<(u32, u32)>,
}

impl Walk {
    fn through<R: Read>(&mut self, xml: &mut Xml<'_, R>, file: &str, row: &mut RowSink<'_>) -> Result<(), ReadError> {
        let mut n_elements = 0_u64;
        loop {
            n_elements += 1;
            if n_elements > MOST_ELEMENTS {
                return Err(too_large(file, "has too many cells"));
            }
            match xml.next()? {
                Event::Eof => return Err(damaged(file)),
                Event::Start(e) if self.open.is_some() => self.start_in_cell(&e),
                Event::Empty(e) if self.open.is_some() => self.empty_in_cell(&e),
                Event::Start(e) => self.start(&e),
                Event::Empty(e) => {
                    self.start(&e);
                    self.end(e.name(), row);
                }
                Event::Text(t) => self.push(|text| push_text(text, t, file))?,
                Event::CData(t) => self.push(|text| push_plain(text, t, file))?,
                Event::End(_) if self.open.is_some() && self.depth > 0 => self.end_in_cell(),
                Event::End(b"table") => {
                    self.keep_columns_that_hold_something();
                    return Ok(());
                }
                Event::End(name) => self.end(name, row),
            }
        }
    }

    fn start(&mut self, e: &Tag<'_>) {
        match e.name() {
            b"table-row" => {
                (self.column, self.n_rows) = (0, repeat(e, "number-rows-repeated", N_ROWS));
                self.is_hidden = is_hidden(e);
            }
            b"table-cell" | b"covered-table-cell" => self.open = Some(Open::begin(e)),
            b"table-column" => {
                let n = repeat(e, "number-columns-repeated", N_COLUMNS);
                if is_hidden(e) {
                    self.hidden_columns.push((self.column_at, self.column_at.saturating_add(n - 1)));
                }
                self.column_at = self.column_at.saturating_add(n);
            }
            _ => {}
        }
    }

    fn start_in_cell(&mut self, e: &Tag<'_>) {
        self.depth += 1;
        if self.apart.is_some() {
            return;
        }
        match (self.depth, e.name()) {
            (1, b"p") => self.begin_paragraph(),
            (1, name) => {
                self.look.has_comments |= name == b"annotation";
                self.apart = Some(1);
            }
            _ => {}
        }
    }

    fn begin_paragraph(&mut self) {
        if let Some(open) = self.open.as_mut().filter(|open| !open.text.is_empty()) {
            open.text.push('\n');
        }
    }

    fn empty_in_cell(&mut self, e: &Tag<'_>) {
        let space = match e.name() {
            b"s" => ' ',
            b"tab" => '\t',
            b"line-break" => '\n',
            _ => return,
        };
        if let Some(text) = self.text() {
            text.push(space);
        }
    }

    /// Where text goes just now: into the cell, if it stands in one of its paragraphs.
    fn text(&mut self) -> Option<&mut String> {
        let is_inside = self.depth > 0 && self.apart.is_none();
        self.open.as_mut().filter(|_| is_inside).map(|open| &mut open.text)
    }

    fn push(&mut self, add: impl FnOnce(&mut String) -> Result<(), ReadError>) -> Result<(), ReadError> {
        self.text().map_or(Ok(()), add)
    }

    fn end_in_cell(&mut self) {
        if self.apart == Some(self.depth) {
            self.apart = None;
        }
        self.depth -= 1;
    }

    fn end(&mut self, name: &[u8], row: &mut RowSink<'_>) {
        match name {
            b"table-cell" | b"covered-table-cell" => {
                if let Some(open) = self.open.take() {
                    self.end_cell(&open);
                }
            }
            b"table-row" => self.end_row(row),
            _ => {}
        }
    }

    fn end_cell(&mut self, open: &Open) {
        let (first, n) = (self.column, open.n_columns);
        self.column = self.column.saturating_add(n);
        let Some(cell) = open.cell() else { return };
        let last = self.cells.last().map_or(0, |(column, _)| *column);
        if first.saturating_sub(last) > FAR {
            self.look.far_cells.add(self.row, first);
            return;
        }
        if cell == Cell::NoResult {
            self.look.without_result.add(self.row, first);
        }
        if open.span != (1, 1) {
            let (last_row, last_column) = (self.row + open.span.0 - 1, first + open.span.1 - 1);
            self.spans.add(Span { first_row: self.row, first_column: first, last_row, last_column });
        }
        self.cells.extend((first..first + n.min(FAR)).map(|column| (column, cell.clone())));
    }

    fn end_row(&mut self, row: &mut RowSink<'_>) {
        if !self.cells.is_empty() {
            let last = self.row.saturating_add(self.n_rows).min(N_ROWS);
            for at in self.row..last {
                if self.is_hidden {
                    self.look.hidden_rows.add(at, self.cells[0].0);
                }
                self.spans.fill(at, &mut self.cells);
                let cells: &RowCells<'_> = &self.cells;
                row(at, cells);
            }
            self.note_columns();
            self.cells.clear();
        }
        self.row = self.row.saturating_add(self.n_rows).min(N_ROWS);
    }

    /// Hidden columns in which nothing stood yet are kept apart by their sign: see [`Walk::keep_columns_that_hold_something`].
    fn note_columns(&mut self) {
        for (column, _) in &self.cells {
            if self.hidden_columns.iter().any(|(first, last)| (first..=last).contains(&column))
                && !self.look.hidden_columns.iter().any(|(first, last)| (first..=last).contains(&column))
            {
                self.look.hidden_columns.push((*column, *column));
            }
        }
    }

    /// Single columns become ranges again.
    fn keep_columns_that_hold_something(&mut self) {
        self.look.hidden_columns.sort_unstable();
        let mut ranges: Vec<(u32, u32)> = Vec::new();
        for (first, last) in self.look.hidden_columns.drain(..) {
            match ranges.last_mut().filter(|range| range.1 + 1 == first) {
                Some(range) => range.1 = last,
                None => ranges.push((first, last)),
            }
        }
        self.look.hidden_columns = ranges;
    }
}

impl Open {
    fn begin(e: &Tag<'_>) -> Open {
        let mut open = Open { n_columns: repeat(e, "number-columns-repeated", N_COLUMNS), ..Open::default() };
        let is_covered = e.name() == b"covered-table-cell";
        let spanned = |key| if is_covered { 1 } else { repeat(e, key, N_ROWS) };
        open.span = (spanned("number-rows-spanned").min(N_ROWS), spanned("number-columns-spanned").min(N_COLUMNS));
        for (key, value) in e.attributes() {
            let (prefix, name) = key.split_at(memchr::memchr(b':', key).map_or(0, |at| at + 1));
            match (name, prefix == b"calcext:") {
                (b"value-type", true) if value == b"error" => open.kind = "error".to_owned(),
                (b"value-type", false) if open.kind != "error" => open.kind = value_text(value).into_owned(),
                (b"value" | b"date-value" | b"time-value" | b"boolean-value" | b"string-value", false) => {
                    open.value = value_text(value).into_owned();
                }
                (b"formula", false) => open.has_formula = true,
                _ => {}
            }
        }
        open
    }

    fn cell(&self) -> Option<Cell<'static>> {
        let text = || if self.text.is_empty() { self.value.clone() } else { self.text.clone() };
        let cell = match self.kind.as_str() {
            "float" | "currency" | "percentage" => {
                match self.value.parse().ok().filter(|value: &f64| value.is_finite()) {
                    Some(value) => self.number(value),
                    None => Cell::Text(text().into()),
                }
            }
            "boolean" => Cell::Bool(self.value == "true"),
            "date" => Cell::Date(self.value.split('T').next().unwrap_or_default().to_owned()),
            "time" => Cell::Date(text()),
            "error" => Cell::Error(self.text.clone()),
            "" if self.has_formula && self.text.is_empty() => Cell::NoResult,
            _ => Cell::Text(text().into()),
        };
        holds_something(cell)
    }

    /// A number with the digits that its text shows.
    fn number(&self, value: f64) -> Cell<'static> {
        let shown = self.text.trim();
        let is_padded = shown.len() > 1 && shown.starts_with('0') && shown.bytes().all(|b| b.is_ascii_digit());
        let zeros = if is_padded && shown.parse() == Ok(value) { shown.len().min(30) as u8 } else { 0 };
        Cell::Number { value, zeros, is_percent: self.kind == "percentage" }
    }
}

fn repeat(e: &Tag<'_>, key: &str, most: u32) -> u32 {
    attribute(e, key).map_or(1, |n| n.parse::<u32>().unwrap_or(most)).clamp(1, most)
}

fn is_hidden(e: &Tag<'_>) -> bool {
    attribute(e, "visibility").is_some_and(|v| v == "collapse" || v == "filter")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::package::tests::package;

    /// Rows as `row: column=shown ...`, and what stands beside them.
    fn read(table: &str) -> (Vec<String>, SheetLook) {
        let content = format!("<office:body><table:table table:name=\"S\">{table}</table:table></office:body>");
        let bytes = package(&[("content.xml", content.as_bytes())]);
        let mut package = Package::open("f.ods", &bytes).unwrap();
        assert_eq!(sheets(&mut package).unwrap()[0].name, "S");
        let mut rows = Vec::new();
        let look = for_each_row(&mut package, "S", &mut |n, cells| {
            let cells: Vec<String> = cells.iter().map(|(c, cell)| format!("{c}={}", cell.shown())).collect();
            rows.push(format!("{n}: {}", cells.join(" ")));
        })
        .unwrap();
        (rows, look)
    }

    const X: &str = "<table:table-cell office:value-type=\"string\"><text:p>x</text:p></table:table-cell>";

    #[test]
    fn repeats_cost_nothing() {
        let blank_rows = "<table:table-row table:number-rows-repeated=\"1048570\"><table:table-cell table:number-columns-repeated=\"16384\"/></table:table-row>";
        let many = "<table:table-row><table:table-cell table:number-columns-repeated=\"4000000000\" office:value-type=\"float\" office:value=\"1\"/></table:table-row>";
        let row = format!("<table:table-row><table:table-cell/>{X}</table:table-row>");
        let (rows, _) = read(&format!("{row}{blank_rows}{row}{many}"));
        assert_eq!(rows[..2], ["0: 1=x", "1048571: 1=x"]);
        assert!(rows[2].ends_with("999=1"), "{}", rows[2]);
    }

    #[test]
    fn zeros_that_a_number_shows_stay() {
        let cell = |text: &str, kind: &str, value: &str| {
            format!(
                "<table:table-cell office:value-type=\"{kind}\" office:value=\"{value}\"><text:p>{text}</text:p></table:table-cell>"
            )
        };
        let cells = cell("00042", "float", "42") + &cell("0.5", "float", "0.5") + &cell("85%", "percentage", "0.85");
        assert_eq!(read(&format!("<table:table-row>{cells}</table:table-row>")).0, ["0: 0=00042 1=0.5 2=0.85"]);
    }

    #[test]
    fn a_note_is_no_part_of_a_cell() {
        let noted = "<table:table-cell office:value-type=\"string\"><office:annotation><text:p>secret</text:p></office:annotation>\
                     <text:p>a<text:s/>b &amp; <text:span>c</text:span></text:p><text:p>d</text:p></table:table-cell>";
        let (rows, look) = read(&format!("<table:table-row>{noted}{X}</table:table-row>"));
        assert_eq!(rows, ["0: 0=a b & c\nd 1=x"]);
        assert!(look.has_comments);
    }

    #[test]
    fn hidden_merged_and_uncalculated_cells_are_told() {
        let columns = "<table:table-column/><table:table-column table:visibility=\"collapse\" table:number-columns-repeated=\"2\"/>";
        let merged = "<table:table-cell table:number-columns-spanned=\"2\" table:number-rows-spanned=\"1\" office:value-type=\"string\"><text:p>Unit</text:p></table:table-cell><table:covered-table-cell/>";
        let formula = "<table:table-cell table:formula=\"of:=1+1\"/>";
        let (rows, look) = read(&format!(
            "{columns}<table:table-row>{merged}{X}</table:table-row><table:table-row table:visibility=\"filter\">{X}{formula}</table:table-row>"
        ));
        assert_eq!(rows, ["0: 0=Unit 1=Unit 2=x", "1: 0=x 1="]);
        assert_eq!((look.hidden_rows.first(), look.without_result.first()), (&[(1, 0)][..], &[(1, 1)][..]));
        assert_eq!((look.hidden_columns, look.merged), (vec![(1, 2)], vec!["A1:B1".to_owned()]));
    }
}
