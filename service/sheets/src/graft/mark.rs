//! Which sheets of a workbook are ours, from the week before.
//!
//! The mark is a defined name for each of our sheets that refers to the whole sheet, beside one that says that the workbook
//! holds sheets of ours. Spreadsheet programs keep defined names and lead them along when a sheet is renamed or moved; a copy
//! of a sheet gets names of its own scope, so that a copy is theirs.
//! Keeps: both names are needed, and the reference must be to a whole sheet, so that a name of theirs that happens to look like
//! a mark costs them no sheet (`a_name_that_only_looks_like_a_mark_marks_nothing`).
//! Not here: writing the marks (`write`), hiding them (`names`).

use super::book::{Book, DefinedName};
use super::package::GraftLimits;
use super::retarget::sheet_of;
use crate::write::{MARK, MARK_CONTENT, SHEET_MARK};
use std::collections::HashSet;

/// Rows of an area that stands for a whole sheet, of the 1,048,576 that a sheet has.
const NEARLY_ALL_ROWS: u32 = 1_000_000;

/// What the week before left in a workbook.
#[derive(Debug, Default)]
pub(super) struct LastWeek {
    /// Places of our sheets, with the key of what each shows.
    pub sheets: Vec<(usize, String)>,
    /// Places of defined names that go with them.
    pub names: HashSet<usize>,
}

impl LastWeek {
    /// Whether a sheet is ours.
    pub(super) fn holds(&self, sheet_idx: usize) -> bool {
        self.sheets.iter().any(|(idx, _)| *idx == sheet_idx)
    }
}

/// Names of the sheets in a workbook that this program put there; none where it cannot be told.
#[must_use]
pub fn our_sheets(bytes: &[u8]) -> Vec<String> {
    let Ok(book) = Book::open(bytes, GraftLimits::default()) else { return Vec::new() };
    let week = last_week(&book, &HashSet::new());
    week.sheets.iter().filter_map(|(idx, _)| book.sheets.get(*idx)).map(|sheet| sheet.name.clone()).collect()
}

/// Whether a name has a start, in any case; what follows it.
fn after<'n>(name: &'n str, start: &str) -> Option<&'n str> {
    name.get(..start.len()).filter(|head| head.eq_ignore_ascii_case(start)).map(|_| &name[start.len()..])
}

fn is_workbook_mark(name: &DefinedName) -> bool {
    let content = name.content.trim().trim_start_matches('=');
    name.scope.is_none() && after(&name.name, MARK).is_some() && content.starts_with(&format!("\"{MARK_CONTENT}"))
}

/// The sheet that a mark means, and the key of what it shows.
fn marked_sheet(book: &Book<'_>, name: &DefinedName) -> Option<(usize, String)> {
    let key = after(&name.name, SHEET_MARK).filter(|_| name.scope.is_none())?;
    let (sheet, area) = sheet_of(&name.content)?;
    let sheet_idx = book.sheets.iter().position(|s| s.name.to_lowercase() == sheet.to_lowercase())?;
    is_whole_sheet(area).then(|| (sheet_idx, key.to_lowercase()))
}

/// Whether an area reaches down to the end of a sheet, or did before some rows were taken out.
fn is_whole_sheet(area: &str) -> bool {
    let last = area.rsplit_once(':').map_or("", |(_, last)| last);
    let row = last.trim_start_matches(|c: char| !c.is_ascii_digit()).parse::<u32>();
    row.is_ok_and(|row| row >= NEARLY_ALL_ROWS)
}

/// Finds the sheets of the week before. `ours` are the names that this week's sheets bring for the whole workbook.
pub(super) fn last_week(book: &Book<'_>, ours: &HashSet<String>) -> LastWeek {
    if !book.names.iter().any(is_workbook_mark) {
        return LastWeek::default();
    }
    let mut week = LastWeek::default();
    for found in book.names.iter().filter_map(|name| marked_sheet(book, name)) {
        if !week.holds(found.0) {
            week.sheets.push(found);
        }
    }
    let goes = |name: &DefinedName| match name.scope {
        Some(sheet_idx) => week.holds(sheet_idx),
        None => is_workbook_mark(name) || leads_to_ours(book, &week, ours, name),
    };
    let places = book.names.iter().enumerate().filter(|(_, name)| goes(name)).map(|(idx, _)| idx).collect();
    LastWeek { names: places, ..week }
}

/// Whether a name for the whole workbook is one of ours that leads to a sheet of ours, or to one that is gone.
fn leads_to_ours(book: &Book<'_>, week: &LastWeek, ours: &HashSet<String>, name: &DefinedName) -> bool {
    let is_mark = after(&name.name, SHEET_MARK).is_some();
    if !is_mark && !ours.contains(&name.name.to_lowercase()) {
        return false;
    }
    let is_lost = name.content.contains("#REF!");
    is_lost
        || match marked_sheet(book, name) {
            Some(_) => true,
            None => sheet_of(&name.content).is_some_and(|(sheet, _)| {
                !is_mark && week.sheets.iter().any(|(idx, _)| book.sheets[*idx].name.eq_ignore_ascii_case(&sheet))
            }),
        }
}
