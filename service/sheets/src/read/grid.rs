//! Rows of a sheet, one after the other, whatever the file is.
//!
//! xlsx is streamed cell by cell with caps, so that one far cell costs nothing; the other kinds come as a range from the library.
//! A broken file that makes the library panic becomes an error here and goes no further.
//! Not here: what the rows mean (`layout`, `table`).

use super::cell::{Cell, RowSink};
use super::kind::FileKind;
use super::package::{SheetLook, look_at_sheet};
use super::{ReadError, text};
use calamine::{Data, DataRef, Reader, SheetVisible};
use std::borrow::Cow;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Cells looked at in one sheet, blank ones included.
const MOST_CELLS: u64 = 40_000_000;

/// A sheet of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetName {
    pub name: String,
    pub is_hidden: bool,
}

/// A file whose kind is known.
pub struct Book<'a> {
    pub file: &'a str,
    pub bytes: &'a [u8],
    pub kind: FileKind,
}

fn damaged(file: &str) -> ReadError {
    ReadError {
        code: "file-damaged",
        message: format!("{file} is damaged and cannot be read; save it again as .xlsx."),
    }
}

fn library_error(file: &str, error: &str) -> ReadError {
    if error.to_lowercase().contains("password") {
        let message =
            format!("{file} is protected by a password; save it once in your spreadsheet program without a password.");
        return ReadError { code: "file-protected", message };
    }
    damaged(file)
}

/// Runs a look into a workbook; a panic of the library is a damaged file.
fn guarded<T>(file: &str, look: impl FnOnce() -> Result<T, ReadError>) -> Result<T, ReadError> {
    catch_unwind(AssertUnwindSafe(look)).unwrap_or_else(|_| Err(damaged(file)))
}

impl<'a> Book<'a> {
    /// Sheets in order; a text file has one without a name.
    pub fn sheets(&self) -> Result<Vec<SheetName>, ReadError> {
        if self.kind == FileKind::Text {
            return Ok(vec![SheetName { name: String::new(), is_hidden: false }]);
        }
        guarded(self.file, || {
            let metadata = match self.kind {
                FileKind::Xlsx => self.open_xlsx()?.sheets_metadata().to_vec(),
                FileKind::Xlsb => self.open::<calamine::Xlsb<_>>()?.sheets_metadata().to_vec(),
                FileKind::Ods => self.open::<calamine::Ods<_>>()?.sheets_metadata().to_vec(),
                _ => self.open::<calamine::Xls<_>>()?.sheets_metadata().to_vec(),
            };
            Ok(metadata
                .into_iter()
                .filter(|s| s.typ == calamine::SheetType::WorkSheet)
                .map(|s| SheetName { is_hidden: s.visible != SheetVisible::Visible, name: s.name })
                .collect())
        })
    }

    fn open<R: Reader<Cursor<&'a [u8]>>>(&self) -> Result<R, ReadError>
    where
        R::Error: std::fmt::Display,
    {
        R::new(Cursor::new(self.bytes)).map_err(|e| library_error(self.file, &e.to_string()))
    }

    fn open_xlsx(&self) -> Result<calamine::Xlsx<Cursor<&'a [u8]>>, ReadError> {
        self.open()
    }

    /// Calls `row` with each row that holds something, and says what the package tells beside the cells.
    pub fn for_each_row(&self, sheet: &SheetName, row: &mut RowSink<'_>) -> Result<SheetLook, ReadError> {
        match self.kind {
            FileKind::Text => {
                let decoded = text::decode(self.bytes);
                text::for_each_row(&decoded.text, row).map_err(|_| damaged(self.file))?;
                Ok(SheetLook { guessed_encoding: decoded.guessed, ..SheetLook::default() })
            }
            FileKind::Xlsx => {
                guarded(self.file, || self.stream_xlsx(sheet, row))?;
                guarded(self.file, || Ok(look_at_sheet(self.bytes, &sheet.name).unwrap_or_default()))
            }
            _ => {
                guarded(self.file, || self.walk_range(sheet, row))?;
                Ok(SheetLook::default())
            }
        }
    }

    fn stream_xlsx(&self, sheet: &SheetName, row: &mut RowSink<'_>) -> Result<(), ReadError> {
        let mut book = self.open_xlsx()?;
        let fault = |e: calamine::XlsxError| library_error(self.file, &e.to_string());
        let mut reader = book.worksheet_cells_reader(&sheet.name).map_err(fault)?;
        let formats: Vec<Format> =
            reader.styles().iter().map(|s| Format::of(&format!("{:?}", s.number_format))).collect();
        let (mut current, mut cells): (u32, Vec<(u32, Cell<'_>)>) = (0, Vec::new());
        let mut n_seen = 0_u64;
        while let Some((cell, style)) = reader.next_cell_with_style_id().map_err(fault)? {
            n_seen += 1;
            if n_seen > MOST_CELLS {
                let message =
                    format!("{} has too many cells; save the score sheet alone as a new workbook.", self.file);
                return Err(ReadError { code: "file-too-large", message });
            }
            let (at, column) = cell.get_position();
            if at != current && !cells.is_empty() {
                row(current, &cells);
                cells.clear();
            }
            current = at;
            let format = formats.get(style).copied().unwrap_or_default();
            if let Some(value) = from_ref(cell.get_value().clone(), format) {
                cells.push((column, value));
            }
        }
        if !cells.is_empty() {
            row(current, &cells);
        }
        Ok(())
    }

    fn walk_range(&self, sheet: &SheetName, row: &mut RowSink<'_>) -> Result<(), ReadError> {
        let range = match self.kind {
            FileKind::Xlsb => self.open::<calamine::Xlsb<_>>()?.worksheet_range(&sheet.name).map_err(|e| e.to_string()),
            FileKind::Ods => self.open::<calamine::Ods<_>>()?.worksheet_range(&sheet.name).map_err(|e| e.to_string()),
            _ => self.open::<calamine::Xls<_>>()?.worksheet_range(&sheet.name).map_err(|e| e.to_string()),
        };
        let range = range.map_err(|e| library_error(self.file, &e))?;
        let (first_row, first_column) = range.start().unwrap_or_default();
        for (r, values) in range.rows().enumerate() {
            let cells: Vec<(u32, Cell<'_>)> = values
                .iter()
                .enumerate()
                .filter_map(|(c, data)| from_data(data).map(|cell| (first_column + c as u32, cell)))
                .collect();
            if !cells.is_empty() {
                row(first_row + r as u32, &cells);
            }
        }
        Ok(())
    }
}

/// What a number format says.
#[derive(Debug, Clone, Copy, Default)]
struct Format {
    zeros: u8,
    is_percent: bool,
}

impl Format {
    /// From the text of the format: `00000` shows at least five digits; a `%` means percent.
    fn of(described: &str) -> Format {
        let code = described.split("format_code: \"").nth(1).and_then(|r| r.split('"').next()).unwrap_or("");
        let is_zeros = !code.is_empty() && code.chars().all(|c| c == '0');
        Format {
            zeros: if is_zeros && code.len() > 1 { code.len().min(30) as u8 } else { 0 },
            is_percent: code.contains('%'),
        }
    }
}

fn number(value: f64, format: Format) -> Cell<'static> {
    Cell::Number { value, zeros: format.zeros, is_percent: format.is_percent }
}

fn from_ref(value: DataRef<'_>, format: Format) -> Option<Cell<'_>> {
    let cell = match value {
        DataRef::Empty => return None,
        DataRef::Int(i) => number(i as f64, format),
        DataRef::Float(f) => number(f, format),
        DataRef::SharedString(s) => Cell::Text(Cow::Borrowed(s)),
        DataRef::String(s) => Cell::Text(Cow::Owned(s)),
        DataRef::Bool(b) => Cell::Bool(b),
        DataRef::DateTime(d) => date(&d),
        DataRef::DateTimeIso(s) | DataRef::DurationIso(s) => {
            Cell::Date(s.split('T').next().unwrap_or_default().to_owned())
        }
        DataRef::Error(e) => Cell::Error(format!("{e}")),
    };
    keep_text(cell)
}

fn from_data(value: &Data) -> Option<Cell<'_>> {
    let cell = match value {
        Data::Empty => return None,
        Data::Int(i) => number(*i as f64, Format::default()),
        Data::Float(f) => number(*f, Format::default()),
        Data::String(s) => Cell::Text(Cow::Borrowed(s)),
        Data::Bool(b) => Cell::Bool(*b),
        Data::DateTime(d) => date(d),
        Data::DateTimeIso(s) | Data::DurationIso(s) => Cell::Date(s.split('T').next().unwrap_or_default().to_owned()),
        Data::Error(e) => Cell::Error(format!("{e}")),
    };
    keep_text(cell)
}

/// A cell of blanks holds nothing.
fn keep_text(cell: Cell<'_>) -> Option<Cell<'_>> {
    match &cell {
        Cell::Text(t) if super::cell::trim(t).is_empty() => None,
        _ => Some(cell),
    }
}

fn date(value: &calamine::ExcelDateTime) -> Cell<'static> {
    let (year, month, day, ..) = value.to_ymd_hms_milli();
    Cell::Date(format!("{year:04}-{month:02}-{day:02}"))
}
