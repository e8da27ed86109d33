//! Whether a file holds a text anywhere in its cells: what has to be known before a student can be called forgotten.
//!
//! In:  a file's bytes, whole texts (ids) and parts (names). Out: whether one of them stands in a cell of any sheet, hidden
//! ones too. A file that cannot be read counts as holding them (`what_cannot_be_read_may_hold_anybody`), and so does one with a cell
//! far from all others.
//! Not here: notes, headers and pictures of a workbook, which are not read at all.

use super::words::plain;
use super::{ReadError, ReadLimits, SourceFile, open};

/// What is looked for, compared without case, accents and marks.
#[derive(Debug, Clone, Copy)]
pub struct Mentions<'a> {
    /// Texts that fill a cell.
    pub whole: &'a [String],
    /// Texts that stand anywhere in a cell.
    pub parts: &'a [String],
}

/// Whether a file holds one of the texts.
#[must_use]
pub fn may_mention(source: SourceFile<'_>, limits: ReadLimits, wanted: Mentions<'_>) -> bool {
    look(source, limits, wanted).unwrap_or(true)
}

fn look(source: SourceFile<'_>, limits: ReadLimits, wanted: Mentions<'_>) -> Result<bool, ReadError> {
    let plain_all =
        |texts: &[String]| -> Vec<String> { texts.iter().map(|t| plain(t)).filter(|t| !t.is_empty()).collect() };
    let (whole, parts) = (plain_all(wanted.whole), plain_all(wanted.parts));
    let book = open(source, limits)?;
    let mut is_found = false;
    for sheet in book.sheets()? {
        let look = book.for_each_row(&sheet, &mut |_, cells| {
            is_found = is_found
                || cells.iter().any(|(_, cell)| {
                    let text = plain(&cell.shown());
                    whole.contains(&text) || parts.iter().any(|p| text.contains(p.as_str()))
                });
        })?;
        // A cell far from all others is not read; the student may stand there.
        is_found = is_found || !look.far_cells.first().is_empty();
    }
    Ok(is_found)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mentions(text: &str, whole: &str, part: &str) -> bool {
        let source = SourceFile { name: "f.csv", bytes: text.as_bytes() };
        let (whole, parts) = ([whole.to_owned()], [part.to_owned()]);
        may_mention(source, ReadLimits::default(), Mentions { whole: &whole, parts: &parts })
    }

    #[test]
    fn a_name_is_found_in_a_cell_and_an_id_as_a_whole_one() {
        assert!(mentions("x,moved: JOSE Nuñez\n", "0417", "José Núñez"));
        assert!(mentions("0417,x\n", "0417", "Nobody Here"));
        assert!(!mentions("10417,x\n", "0417", "Nobody Here"));
    }

    #[test]
    fn what_cannot_be_read_may_hold_anybody() {
        assert!(mentions("", "0417", "Nobody Here"));
    }
}
