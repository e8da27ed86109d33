//! The rows of one sheet, as the file has them.
//!
//! In:  cells of one row after the other. Out: the XML of the rows, kept in memory while it is short and in a file without a name
//! otherwise, so that a sheet of 20,000 students does not stand in memory.
//! Keeps: cells of a row stand in the order of their columns, the last one written wins (`cells_stand_in_the_order_of_columns`);
//! every cell names its format; text is escaped, quotation marks too, so that ` s="` begins a format and nothing else
//! (`nothing_in_a_text_looks_like_a_format`); a row with nothing in it is left out.
//! Why not the writer's own rows: it looks a format up by all its properties for each cell, which took as long as all else
//! together. Source: ECMA-376 part 1, 18.3.1.4 (c), 18.3.1.73 (row), 22.9.2.19 (`_x005F_`).
//! Not here: everything of a sheet that is not a row (`frame`), which text may stand in a cell (`text`).

use super::look::Look;
use rust_xlsxwriter::{ColNum, RowNum};
use std::fmt::Write as _;
use std::io::{self, BufRead, BufReader, BufWriter, Seek, Write};
use std::ops::Range;
use std::sync::{Mutex, PoisonError};
use tempfile::SpooledTempFile;

/// Bytes of rows that stay in memory.
const MOST_IN_MEMORY: usize = 256 << 10;
/// Heights are stored in steps of a pixel at 96 dots an inch, as programs do when they save.
const PIXEL_POINTS: f64 = 0.75;

/// Finished rows.
#[derive(Debug)]
pub(crate) struct SheetRows {
    /// From the first cell to the last, such as `A1:J204`.
    pub dimension: String,
    file: Mutex<SpooledTempFile>,
}

impl SheetRows {
    /// Lets a reader go through the rows from the first one.
    pub(crate) fn read<T>(&self, reading: impl FnOnce(&mut dyn BufRead) -> T) -> io::Result<T> {
        let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        file.rewind()?;
        Ok(reading(&mut BufReader::with_capacity(1 << 16, &mut *file)))
    }
}

/// Rows on their way.
pub(super) struct RowWriter {
    sink: BufWriter<SpooledTempFile>,
    /// Cells of this row.
    cells: String,
    /// Column of each, and where it stands in `cells`.
    places: Vec<(ColNum, Range<usize>)>,
    row: RowNum,
    /// The row's number in digits.
    number: String,
    height: Option<f64>,
    usual_height: Option<f64>,
    used: Option<Used>,
}

/// Rows and columns that have cells, from 0.
#[derive(Debug, Clone, Copy)]
struct Used {
    first_row: RowNum,
    last_row: RowNum,
    first_col: ColNum,
    last_col: ColNum,
}

impl RowWriter {
    pub(super) fn new() -> Self {
        RowWriter {
            sink: BufWriter::with_capacity(1 << 16, SpooledTempFile::new(MOST_IN_MEMORY)),
            cells: String::new(),
            places: Vec::new(),
            row: 0,
            number: "1".to_owned(),
            height: None,
            usual_height: None,
            used: None,
        }
    }

    /// The current row, from 0.
    pub(super) fn row(&self) -> RowNum {
        self.row
    }

    /// Height of this row, points.
    pub(super) fn set_height(&mut self, points: f64) {
        self.height = Some(points);
    }

    /// Height of each row that says nothing else, points.
    pub(super) fn set_usual_height(&mut self, points: f64) {
        self.usual_height = Some(points);
    }

    /// A text, which is cleaned already; an empty cell where there is none.
    pub(super) fn text(&mut self, col: ColNum, shown: &str, mark: &str) {
        let begin = self.open(col, mark);
        if shown.is_empty() {
            self.cells.push_str("/>");
        } else {
            self.cells.push_str(" t=\"inlineStr\"><is><t");
            let ends = [shown.chars().next(), shown.chars().next_back()];
            if ends.into_iter().flatten().any(char::is_whitespace) {
                self.cells.push_str(" xml:space=\"preserve\"");
            }
            self.cells.push('>');
            push_escaped(&mut self.cells, shown);
            self.cells.push_str("</t></is></c>");
        }
        self.close(col, begin);
    }

    /// A finite number; an empty cell for any other.
    pub(super) fn number(&mut self, col: ColNum, value: f64, look: &Look) {
        let begin = self.open(col, &look.mark);
        if value.is_finite() {
            // Writing to a string cannot fail.
            _ = write!(self.cells, "><v>{value}</v></c>");
        } else {
            self.cells.push_str("/>");
        }
        self.close(col, begin);
    }

    fn open(&mut self, col: ColNum, mark: &str) -> usize {
        let begin = self.cells.len();
        self.cells.push_str("<c r=\"");
        push_column(&mut self.cells, col);
        self.cells.push_str(&self.number);
        self.cells.push('"');
        self.cells.push_str(mark);
        begin
    }

    fn close(&mut self, col: ColNum, begin: usize) {
        self.places.push((col, begin..self.cells.len()));
    }

    /// Ends the row.
    pub(super) fn next(&mut self) -> io::Result<()> {
        if !self.places.is_empty() || self.height.is_some() {
            self.write_row()?;
        }
        self.cells.clear();
        self.places.clear();
        self.height = None;
        self.row += 1;
        self.number.clear();
        _ = write!(self.number, "{}", self.row + 1);
        Ok(())
    }

    fn write_row(&mut self) -> io::Result<()> {
        write!(self.sink, "<row r=\"{}\"", self.number)?;
        if let Some(points) = self.height.or(self.usual_height) {
            let points = (points / PIXEL_POINTS).round() * PIXEL_POINTS;
            write!(self.sink, " ht=\"{points}\" customHeight=\"1\"")?;
        }
        self.sink.write_all(b">")?;
        if self.places.is_sorted_by(|(a, _), (b, _)| a < b) {
            self.sink.write_all(self.cells.as_bytes())?;
        } else {
            self.write_sorted()?;
        }
        self.note_used();
        // The line end lets a reader take one row at a time; between rows it means nothing.
        self.sink.write_all(b"</row>\n")
    }

    fn write_sorted(&mut self) -> io::Result<()> {
        // The sort keeps the order of cells of one column, of which the last one counts.
        self.places.sort_by_key(|(col, _)| *col);
        for (idx, (col, place)) in self.places.iter().enumerate() {
            let is_last = self.places.get(idx + 1).is_none_or(|(next, _)| next != col);
            if is_last {
                self.sink.write_all(&self.cells.as_bytes()[place.clone()])?;
            }
        }
        Ok(())
    }

    fn note_used(&mut self) {
        let (Some((first, _)), Some((last, _))) = (self.places.first(), self.places.last()) else { return };
        let row = self.row;
        let used = self.used.get_or_insert(Used { first_row: row, last_row: row, first_col: *first, last_col: *last });
        used.last_row = row;
        used.first_col = used.first_col.min(*first);
        used.last_col = used.last_col.max(*last);
    }

    /// Ends the last row and gives all of them.
    pub(super) fn finish(mut self) -> io::Result<SheetRows> {
        self.next()?;
        let dimension = self.used.map_or_else(|| "A1".to_owned(), dimension);
        let file = self.sink.into_inner().map_err(io::IntoInnerError::into_error)?;
        Ok(SheetRows { dimension, file: Mutex::new(file) })
    }
}

fn dimension(used: Used) -> String {
    let mut text = String::new();
    for (col, row) in [(used.first_col, used.first_row), (used.last_col, used.last_row)] {
        if !text.is_empty() {
            text.push(':');
        }
        push_column(&mut text, col);
        // Writing to a string cannot fail.
        _ = write!(text, "{}", row + 1);
    }
    text
}

/// `A` to `Z`, `AA` and so on, for a column from 0.
fn push_column(text: &mut String, col: ColNum) {
    if col >= 26 {
        push_column(text, col / 26 - 1);
    }
    text.push(char::from(b'A' + (col % 26) as u8));
}

/// The text as XML, with what the format itself would take for an escape told apart.
fn push_escaped(out: &mut String, text: &str) {
    let mut from = 0;
    for (at, byte) in text.bytes().enumerate() {
        let escape = match byte {
            b'&' => "&amp;",
            b'<' => "&lt;",
            b'>' => "&gt;",
            b'"' => "&quot;",
            b'_' if is_escape(&text.as_bytes()[at..]) => "_x005F_",
            _ => continue,
        };
        out.push_str(&text[from..at]);
        out.push_str(escape);
        from = at + 1;
    }
    out.push_str(&text[from..]);
}

/// `_x0041_` and its kin, which programs would show as the character they stand for.
fn is_escape(bytes: &[u8]) -> bool {
    matches!(bytes, [b'_', b'x', hex @ .., ] if hex.len() > 4 && hex[..4].iter().all(u8::is_ascii_hexdigit) && hex[4] == b'_')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(fill: impl FnOnce(&mut RowWriter)) -> (String, String) {
        let mut writer = RowWriter::new();
        fill(&mut writer);
        let rows = writer.finish().unwrap();
        let text = rows.read(|reader| {
            let mut text = String::new();
            reader.read_to_string(&mut text).unwrap();
            text
        });
        (text.unwrap(), rows.dimension)
    }

    #[test]
    fn cells_stand_in_the_order_of_columns() {
        let (text, dimension) = rows(|writer| {
            writer.next().unwrap();
            writer.text(27, "late", " s=\"2\"");
            writer.text(1, "first", " s=\"1\"");
            writer.text(27, "later", " s=\"2\"");
            writer.set_height(20.1);
        });
        let expected = "<row r=\"2\" ht=\"20.25\" customHeight=\"1\">\
            <c r=\"B2\" s=\"1\" t=\"inlineStr\"><is><t>first</t></is></c>\
            <c r=\"AB2\" s=\"2\" t=\"inlineStr\"><is><t>later</t></is></c></row>\n";
        assert_eq!((text.as_str(), dimension.as_str()), (expected, "B2:AB2"));
    }

    #[test]
    fn nothing_in_a_text_looks_like_a_format() {
        let (text, _) = rows(|writer| writer.text(0, " a s=\"7\" <&> _x0041_ _x00_", " s=\"3\""));
        assert_eq!(text.matches(" s=\"").count(), 1, "{text}");
        assert!(
            text.contains("<t xml:space=\"preserve\"> a s=&quot;7&quot; &lt;&amp;&gt; _x005F_x0041_ _x00_</t>"),
            "{text}"
        );
    }

    #[test]
    fn a_long_sheet_and_a_short_one_read_alike() {
        let (text, dimension) = rows(|writer| {
            writer.set_usual_height(30.0);
            for _ in 0..20_000 {
                writer.text(0, "a name of some length", " s=\"1\"");
                writer.text(16_383, "", " s=\"1\"");
                writer.next().unwrap();
            }
        });
        assert!(text.len() > MOST_IN_MEMORY && text.matches("</row>").count() == 20_000);
        assert!(text.starts_with("<row r=\"1\" ht=\"30\" customHeight=\"1\"><c r=\"A1\"") && text.contains("XFD20000"));
        assert_eq!(dimension, "A1:XFD20000");
        assert_eq!(rows(|_| ()), (String::new(), "A1".to_owned()));
    }
}
