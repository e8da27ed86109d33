//! .xlsb and .xls, which the library reads: rows of cells, and nothing beside them.
//!
//! .xlsb is streamed cell by cell with caps. A sheet of .xls comes whole, which the format itself bounds; what the library does with a
//! hostile file is bounded by the process that this runs in, not here.
//! Not here: hidden rows, formulas without a stored result and number formats of these two kinds, which the library does not tell.

use super::ReadError;
use super::beside::SheetLook;
use super::cell::{Cell, FAR, RowSink, holds_something};
use super::grid::SheetName;
use super::refuse::{damaged, protected, too_large};
use super::spans::{Span, Spans};
use calamine::{Data, DataRef, Dimensions, ExcelDateTime, Reader, SheetType, SheetVisible, Xls, Xlsb};
use std::borrow::Cow;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Cells looked at in one sheet, blank ones included.
const MOST_CELLS: u64 = 40_000_000;

/// Sheets of cells, and the names of the others.
pub type Sheets = (Vec<SheetName>, Vec<String>);

fn fault(file: &str, error: &dyn std::fmt::Display) -> ReadError {
    if error.to_string().to_lowercase().contains("password") { protected(file) } else { damaged(file) }
}

/// Calls the library; its panic on a broken file is a damaged file, and goes no further. Our own code is never called in here, so that
/// a panic of ours is seen.
fn guarded<T>(file: &str, call: impl FnOnce() -> Result<T, ReadError>) -> Result<T, ReadError> {
    catch_unwind(AssertUnwindSafe(call)).unwrap_or_else(|_| Err(damaged(file)))
}

fn opened<'a, R: Reader<Cursor<&'a [u8]>>>(file: &str, bytes: &'a [u8]) -> Result<R, ReadError>
where
    R::Error: std::fmt::Display,
{
    guarded(file, || R::new(Cursor::new(bytes)).map_err(|e| fault(file, &e)))
}

fn sheets_of<'a, R: Reader<Cursor<&'a [u8]>>>(book: &R) -> Sheets {
    let (mut cells, mut others) = (Vec::new(), Vec::new());
    for sheet in book.sheets_metadata() {
        if sheet.typ == SheetType::WorkSheet {
            cells.push(SheetName { name: sheet.name.clone(), is_hidden: sheet.visible != SheetVisible::Visible });
        } else {
            others.push(sheet.name.clone());
        }
    }
    (cells, others)
}

/// Sheets of an .xls.
pub fn xls_sheets(file: &str, bytes: &[u8]) -> Result<Sheets, ReadError> {
    Ok(sheets_of(&opened::<Xls<_>>(file, bytes)?))
}

/// Sheets of an .xlsb.
pub fn xlsb_sheets(file: &str, bytes: &[u8]) -> Result<Sheets, ReadError> {
    Ok(sheets_of(&opened::<Xlsb<_>>(file, bytes)?))
}

/// Rows of a sheet of an .xls.
pub fn xls_rows(file: &str, bytes: &[u8], sheet: &str, row: &mut RowSink<'_>) -> Result<SheetLook, ReadError> {
    let mut book = opened::<Xls<_>>(file, bytes)?;
    let range = guarded(file, || book.worksheet_range(sheet).map_err(|e| fault(file, &e)))?;
    let merged = guarded(file, || Ok(book.merge_cells_by_sheet_name(sheet).unwrap_or_default()))?;
    let mut spans = Spans::new(merged.iter().map(span_of).collect());
    let (first_row, first_column) = range.start().unwrap_or_default();
    for (r, values) in range.rows().enumerate() {
        let found = values.iter().enumerate().filter_map(|(c, data)| Some((c as u32, from_data(data)?)));
        let mut cells: Vec<(u32, Cell<'_>)> = found.map(|(c, cell)| (first_column + c, cell)).collect();
        spans.fill(first_row + r as u32, &mut cells);
        if !cells.is_empty() {
            row(first_row + r as u32, &cells);
        }
    }
    Ok(SheetLook { merged: spans.filled, ..SheetLook::default() })
}

fn span_of(range: &Dimensions) -> Span {
    let ((first_row, first_column), (last_row, last_column)) = (range.start, range.end);
    Span { first_row, first_column, last_row, last_column }
}

/// Rows of a sheet of an .xlsb.
pub fn xlsb_rows(file: &str, bytes: &[u8], sheet: &str, row: &mut RowSink<'_>) -> Result<SheetLook, ReadError> {
    let mut book = opened::<Xlsb<_>>(file, bytes)?;
    let mut reader = guarded(file, || book.worksheet_cells_reader(sheet).map_err(|e| fault(file, &e)))?;
    let mut look = SheetLook::default();
    let (mut current, mut cells): (u32, Vec<(u32, Cell<'_>)>) = (0, Vec::new());
    let mut n_cells = 0_u64;
    while let Some(cell) = guarded(file, || reader.next_cell().map_err(|e| fault(file, &e)))? {
        n_cells += 1;
        if n_cells > MOST_CELLS {
            return Err(too_large(file, "has too many cells"));
        }
        let (at, column) = cell.get_position();
        if at != current && !cells.is_empty() {
            row(current, &cells);
            cells.clear();
        }
        current = at;
        let Some(value) = from_ref(cell.get_value().clone()) else { continue };
        if column.saturating_sub(cells.last().map_or(0, |(last, _)| *last)) > FAR {
            look.far_cells.add(at, column);
        } else {
            cells.push((column, value));
        }
    }
    if !cells.is_empty() {
        row(current, &cells);
    }
    Ok(look)
}

fn number(value: f64) -> Cell<'static> {
    Cell::Number { value, zeros: 0, is_percent: false }
}

fn date(value: &ExcelDateTime) -> Cell<'static> {
    let (year, month, day, ..) = value.to_ymd_hms_milli();
    Cell::Date(format!("{year:04}-{month:02}-{day:02}"))
}

fn day(text: &str) -> Cell<'static> {
    Cell::Date(text.split('T').next().unwrap_or_default().to_owned())
}

fn from_ref(value: DataRef<'_>) -> Option<Cell<'_>> {
    holds_something(match value {
        DataRef::Empty => return None,
        DataRef::Int(i) => number(i as f64),
        DataRef::Float(f) => number(f),
        DataRef::SharedString(s) => Cell::Text(Cow::Borrowed(s)),
        DataRef::String(s) => Cell::Text(Cow::Owned(s)),
        DataRef::Bool(b) => Cell::Bool(b),
        DataRef::DateTime(d) => date(&d),
        DataRef::DateTimeIso(s) | DataRef::DurationIso(s) => day(&s),
        DataRef::Error(e) => Cell::Error(format!("{e}")),
    })
}

fn from_data(value: &Data) -> Option<Cell<'_>> {
    holds_something(match value {
        Data::Empty => return None,
        Data::Int(i) => number(*i as f64),
        Data::Float(f) => number(*f),
        Data::String(s) => Cell::Text(Cow::Borrowed(s)),
        Data::Bool(b) => Cell::Bool(*b),
        Data::DateTime(d) => date(d),
        Data::DateTimeIso(s) | Data::DurationIso(s) => day(s),
        Data::Error(e) => Cell::Error(format!("{e}")),
    })
}
