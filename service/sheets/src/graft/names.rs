//! Our defined names as they stand in the staff's workbook: print areas, repeated rows, the marks.
//!
//! In:  the names of our own workbook, the new names of its sheets. Out: elements to add.
//! Keeps: a name for one sheet gets that sheet's new place; a name for the workbook never takes one of theirs; the marks are
//! hidden (`marks_are_hidden_and_name_each_sheet` in the tests of this folder). Not here: names of theirs.

use super::book::DefinedName;
use super::naming::Taken;
use super::retarget::Renames;
use super::splice::escaped;
use crate::write::{MARK, SHEET_MARK};
use std::fmt::Write;

/// Gives names for the whole workbook a name that is free.
pub(super) fn settle(ours: &[DefinedName], taken: &mut Taken, renames: &mut Renames) {
    for name in ours.iter().filter(|n| n.scope.is_none()) {
        renames.name(&name.name, &taken.word(&name.name));
    }
}

/// The elements; `first_sheet` is the place of our first sheet.
pub(super) fn elements(ours: &[DefinedName], first_sheet: usize, renames: &Renames, prefix: &str) -> String {
    let mut out = String::new();
    for name in ours {
        let (shown, scope) = match name.scope {
            Some(sheet_idx) => (name.name.as_str(), format!(" localSheetId=\"{}\"", first_sheet + sheet_idx)),
            None => (renames.of_name(&name.name), String::new()),
        };
        let is_mark = name.name == MARK || name.name.starts_with(SHEET_MARK);
        let hidden = if is_mark || name.is_hidden { " hidden=\"1\"" } else { "" };
        let (shown, content) = (escaped(shown), escaped(&renames.retarget(&name.content)));
        // Writing to a string cannot fail.
        _ = write!(out, "<{prefix}definedName name=\"{shown}\"{scope}{hidden}>{content}</{prefix}definedName>");
    }
    out
}
