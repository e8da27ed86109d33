//! What stands beside the cells of a sheet, and how it is told.
//!
//! Out: [`SheetLook`], filled while the cells pass by (`xlsx`, `ods`, `text`), and its findings.
//! Keeps: every place is named; a list that is long is cut and counted (`long_lists_are_cut_and_counted`).
//! Not here: finding these things (`xlsx`, `ods`), what marks become of them (`marks`).

use super::cell::{address, column_letters};
use super::notes::Notes;

/// Places listed at most.
const MOST_LISTED: usize = 20;
/// Places kept at most.
const MOST_KEPT: usize = 200;

/// Places, the first of them and how many there are.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub struct Places {
    first: Vec<(u32, u32)>,
    n: usize,
}

impl Places {
    /// Adds a 0-based row and column.
    pub fn add(&mut self, row: u32, column: u32) {
        self.n += 1;
        if self.first.len() < MOST_KEPT {
            self.first.push((row, column));
        }
    }

    /// The first places, at most 200.
    pub fn first(&self) -> &[(u32, u32)] {
        &self.first
    }

    fn listed(&self, show: impl Fn(&(u32, u32)) -> String) -> String {
        let shown: Vec<String> = self.first.iter().take(MOST_LISTED).map(show).collect();
        let more = if self.n > shown.len() { format!(" and {} more", self.n - shown.len()) } else { String::new() };
        shown.join(", ") + &more
    }

    fn address(&self) -> String {
        self.first.first().map_or(String::new(), |(row, column)| address(*row, *column))
    }
}

/// What was seen beside the cells.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub struct SheetLook {
    /// Hidden rows that hold something.
    pub hidden_rows: Places,
    /// 0-based hidden columns that hold something, as first and last.
    pub hidden_columns: Vec<(u32, u32)>,
    /// Formulas without a stored result.
    pub without_result: Places,
    /// Cells far from all others, which were not read.
    pub far_cells: Places,
    /// Merged ranges whose text was read in each of their cells, as written (`C1:E1`).
    pub merged: Vec<String>,
    /// Merged ranges that came too late to be read so.
    pub merged_late: Vec<String>,
    /// Whether there are notes or comments at cells.
    pub has_comments: bool,
    /// Whether formulas are calculated by hand alone, so that stored results may be old.
    pub may_be_stale: bool,
    /// Encoding of a text file, where it was guessed.
    pub guessed_encoding: Option<&'static str>,
}

/// Says what stands beside the cells.
pub fn tell(look: &SheetLook, notes: &mut Notes<'_>) {
    tell_hidden(look, notes);
    tell_merged(look, notes);
    for (row, column) in look.without_result.first() {
        let message = "A formula has no stored result; open the file and save it once.";
        let action = "taken as not taken, never as wrong";
        notes.error("formula-without-result", address(*row, *column), message, action);
    }
    if look.far_cells.n > 0 {
        let message = format!("Far from all other cells something stands in {}.", look.far_cells.listed(at));
        notes.note("far-cell", look.far_cells.address(), message, "not read");
    }
    if look.may_be_stale {
        let message = "The workbook calculates only when told to, so results of its formulas may be old.";
        notes.note(
            "calculation-by-hand",
            "",
            message,
            "the stored results were read; calculate and save it to be sure",
        );
    }
    if look.has_comments {
        let message = "The sheet has notes or comments at cells.";
        notes.note("comments-not-read", "", message, "not read; what counts must stand in cells");
    }
    if let Some(encoding) = look.guessed_encoding {
        let message = format!("The text is not UTF-8; it was read as {encoding}.");
        notes.warn("encoding-guessed", "", message, "check the names with accents");
    }
}

fn at(place: &(u32, u32)) -> String {
    address(place.0, place.1)
}

fn tell_hidden(look: &SheetLook, notes: &mut Notes<'_>) {
    let hidden = &look.hidden_rows;
    if hidden.n > 0 {
        let rows = hidden.listed(|(row, _)| (row + 1).to_string());
        let message = format!("{} rows are hidden: {rows}.", hidden.n);
        notes.note("hidden-rows-read", hidden.address(), message, "read like the others");
    }
    for (first, last) in &look.hidden_columns {
        let message = if first == last {
            format!("Column {} is hidden.", column_letters(*first))
        } else {
            format!("Columns {} to {} are hidden.", column_letters(*first), column_letters(*last))
        };
        notes.note("hidden-columns-read", address(0, *first), message, "read like the others");
    }
}

fn tell_merged(look: &SheetLook, notes: &mut Notes<'_>) {
    let listed = |ranges: &[String]| {
        let shown = ranges.iter().take(MOST_LISTED).cloned().collect::<Vec<_>>().join(", ");
        if ranges.len() > MOST_LISTED { format!("{shown} and more") } else { shown }
    };
    let first = |ranges: &[String]| ranges[0].split(':').next().unwrap_or_default().to_owned();
    if !look.merged.is_empty() {
        let message = format!("Merged cells: {}.", listed(&look.merged));
        notes.note("merged-cells-filled", first(&look.merged), message, "their text was read in each of the cells");
    }
    if !look.merged_late.is_empty() {
        let message = format!("The sheet is large and has merged cells near its top: {}.", listed(&look.merged_late));
        let action = "their text was read in the first cell alone; take the merging back if a heading is missed";
        notes.warn("merged-cells-not-filled", first(&look.merged_late), message, action);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lists_are_cut_and_counted() {
        let mut look = SheetLook::default();
        (0..300).for_each(|row| look.hidden_rows.add(row, 0));
        look.far_cells.add(1_048_575, 16_383);
        let mut notes = Notes::new("f.xlsx", "S");
        tell(&look, &mut notes);
        let told = notes.into_findings();
        assert!(told[0].message.starts_with("300 rows are hidden: 1, 2, 3,"), "{}", told[0].message);
        assert!(told[0].message.ends_with(", 20 and 280 more."), "{}", told[0].message);
        assert_eq!((told[1].code.as_str(), told[1].cell.as_str()), ("far-cell", "XFD1048576"));
    }
}
