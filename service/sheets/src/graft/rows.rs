//! A sheet of ours with its rows in it.
//!
//! In:  the sheet's part without rows, the rows, where our formats are now. Out: the part in the sink, row by row.
//! Keeps: the part says from which cell to which it reaches (`rows_come_between_head_and_tail`); formats are renumbered without
//! a look at the XML, since ` s="` stands nowhere else in a row of ours (`nothing_in_a_text_looks_like_a_format` in `write`).
//! Not here: rows whose texts change, too (`rewrite`).

use super::error::GraftError;
use super::styles::StyleMap;
use crate::write::SheetRows;
use memchr::memmem::Finder;
use std::io::{self, BufRead, BufWriter, Write};
use std::ops::Range;

/// What a format of a cell begins with.
const FORMAT: &[u8] = b" s=\"";

/// Writes the part with the rows in it.
pub(super) fn with_rows(frame: &str, rows: &SheetRows, styles: &StyleMap, sink: impl Write) -> Result<(), GraftError> {
    filled(frame, &rows.dimension, sink, |sink| {
        let done = rows.read(|reader| renumbered(reader, styles, sink)).map_err(fault)?;
        done.map_err(|e| GraftError::Sink(e.to_string()))
    })
}

/// Writes the part with what `fill` writes in the place of its rows.
pub(super) fn filled<W: Write>(
    frame: &str,
    dimension: &str,
    sink: W,
    fill: impl FnOnce(&mut BufWriter<W>) -> Result<(), GraftError>,
) -> Result<(), GraftError> {
    let missing = || GraftError::Ours("a sheet has no place for its rows".to_owned());
    let rows = whole(frame, "sheetData").ok_or_else(missing)?;
    let said = whole(frame, "dimension").filter(|said| said.end <= rows.start).ok_or_else(missing)?;
    let mut sink = BufWriter::with_capacity(1 << 16, sink);
    let failed = |e: io::Error| GraftError::Sink(e.to_string());
    sink.write_all(&frame.as_bytes()[..said.start]).map_err(failed)?;
    write!(sink, "<dimension ref=\"{dimension}\"/>").map_err(failed)?;
    sink.write_all(&frame.as_bytes()[said.end..rows.start]).map_err(failed)?;
    sink.write_all(b"<sheetData>").map_err(failed)?;
    fill(&mut sink)?;
    sink.write_all(b"</sheetData>").map_err(failed)?;
    sink.write_all(&frame.as_bytes()[rows.end..]).map_err(failed)?;
    sink.flush().map_err(failed)
}

/// Where an element of a part of ours stands, from its first sign to its last.
fn whole(frame: &str, element: &str) -> Option<Range<usize>> {
    let start = frame.find(&format!("<{element}"))?;
    let tag_end = start + frame[start..].find('>')? + 1;
    if frame[..tag_end].ends_with("/>") {
        return Some(start..tag_end);
    }
    let close = format!("</{element}>");
    Some(start..tag_end + frame[tag_end..].find(&close)? + close.len())
}

fn fault(error: impl std::fmt::Display) -> GraftError {
    GraftError::Ours(error.to_string())
}

/// Copies rows with the numbers that formats have now.
fn renumbered(rows: &mut dyn BufRead, styles: &StyleMap, sink: &mut impl Write) -> io::Result<()> {
    if styles.is_as_before() {
        return io::copy(rows, sink).map(|_| ());
    }
    let (finder, mut row) = (Finder::new(FORMAT), Vec::new());
    while {
        row.clear();
        rows.read_until(b'\n', &mut row)? > 0
    } {
        let mut from = 0;
        for at in finder.find_iter(&row) {
            let digits = at + FORMAT.len();
            let end = digits + row[digits..].iter().take_while(|b| b.is_ascii_digit()).count();
            let old = row[digits..end].iter().fold(0_u32, |n, b| n.wrapping_mul(10).wrapping_add(u32::from(b - b'0')));
            sink.write_all(&row[from..digits])?;
            write!(sink, "{}", styles.cell(old))?;
            from = end;
        }
        sink.write_all(&row[from..])?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_come_between_head_and_tail() {
        for middle in ["<sheetData/>", "<sheetData><row r=\"1\"><c r=\"A1\"/></row></sheetData>"] {
            let frame = format!("<a><dimension ref=\"A1\"/><cols/>{middle}<tail/></a>");
            let mut out = Vec::new();
            filled(&frame, "B2:C3", &mut out, |sink| sink.write_all(b"<row/>").map_err(fault)).unwrap();
            let expected = "<a><dimension ref=\"B2:C3\"/><cols/><sheetData><row/></sheetData><tail/></a>";
            assert_eq!(String::from_utf8(out).unwrap(), expected);
        }
        assert!(filled("<a/>", "A1", Vec::new(), |_| Ok(())).is_err());
    }

    #[test]
    fn formats_get_their_new_numbers() {
        let rows = "<row r=\"1\"><c r=\"A1\" s=\"1\"/><c r=\"B1\" s=\"0\"><is><t>s=1\nx</t></is></c></row>\n";
        let mut out = Vec::new();
        renumbered(&mut rows.as_bytes(), &StyleMap::of(&[40, 7], &[]), &mut out).unwrap();
        let expected = rows.replace("s=\"1\"", "s=\"7\"").replace("s=\"0\"", "s=\"40\"");
        assert_eq!(String::from_utf8(out).unwrap(), expected);
    }
}
