//! The workbook part with our sheets in it.
//!
//! In:  the staff's workbook part, which of its sheets go, which of ours come. Out: its new text, and the numbers of our sheets.
//! Keeps: their sheets keep their order, and what counts sheets (names for one sheet, the sheet that is shown) still means the
//! same sheet (`the_shown_sheet_and_names_for_one_sheet_follow`); a number of a sheet is free, also where the highest is
//! taken (`a_free_number_is_found_at_the_limit`). Source: ECMA-376 part 1, 18.2. Not here: relationships (`mod`).

use super::book::{Book, SheetEntry};
use super::error::GraftError;
use super::mark::LastWeek;
use super::outline::{Node, Outline, RELATION_ID};
use super::splice::{Edits, escaped};
use std::collections::HashSet;
use std::fmt::Write;

/// Children of a workbook part, in the order of the schema.
const ORDER: [&str; 19] = [
    "fileVersion",
    "fileSharing",
    "workbookPr",
    "workbookProtection",
    "bookViews",
    "sheets",
    "functionGroups",
    "externalReferences",
    "definedNames",
    "calcPr",
    "oleSize",
    "customWorkbookViews",
    "pivotCaches",
    "smartTagPr",
    "smartTagTypes",
    "webPublishing",
    "fileRecoveryPr",
    "webPublishObjects",
    "extLst",
];

/// Highest number that a sheet may have.
const MAX_SHEET_ID: u32 = 65_534;

/// A sheet of ours in their list.
#[derive(Debug)]
pub(super) struct NewSheet {
    /// Name.
    pub name: String,
    /// Key of what it shows, in lower case.
    pub key: String,
    /// Relationship.
    pub relation: String,
}

/// The new text; `names` are the elements of our defined names.
pub(super) fn attach(
    book: &Book<'_>,
    week: &LastWeek,
    new: &[NewSheet],
    names: impl FnOnce(&str) -> String,
) -> Result<String, GraftError> {
    let outline = Outline::of(&book.text.text, 2)?;
    let mut edits = Edits::default();
    for (sheet_idx, _) in &week.sheets {
        edits.remove(book.sheets[*sheet_idx].whole.clone());
    }
    move_counts(book, &outline, week, new, &mut edits);
    if outline.part("bookViews").is_none() {
        // Our sheets have views, and a view belongs to a window.
        edits.append_in(&outline, &ORDER, "bookViews", &format!("<{}workbookView/>", outline.prefix()));
    }
    edits.append_in(&outline, &ORDER, "sheets", &entries(book, &outline, week, new));
    edits.append_in(&outline, &ORDER, "definedNames", &names(outline.prefix()));
    Ok(edits.apply(&book.text.text))
}

/// Names that go, and everything that counts sheets.
fn move_counts(book: &Book<'_>, outline: &Outline<'_>, week: &LastWeek, new: &[NewSheet], edits: &mut Edits) {
    let place_now = |old: usize| old - week.sheets.iter().filter(|(idx, _)| *idx < old).count();
    for (name_idx, name) in book.names.iter().enumerate() {
        if week.names.contains(&name_idx) {
            edits.remove(name.whole.clone());
        } else if let (Some(old), Some(place)) = (name.scope, &name.scope_place)
            && place_now(old) != old
        {
            edits.replace(place.clone(), place_now(old).to_string());
        }
    }
    let n_theirs = book.sheets.len() - week.sheets.len();
    let shown_now = |old: usize| {
        let ours = week.sheets.iter().find(|(idx, _)| *idx == old);
        let again = ours.and_then(|(_, key)| new.iter().position(|sheet| sheet.key == *key));
        again.map_or_else(|| place_now(old).min((n_theirs + new.len()).saturating_sub(1)), |idx| n_theirs + idx)
    };
    let views = outline.part("bookViews").into_iter().flat_map(|list| outline.children(list, "workbookView"));
    for (view, key) in views.flat_map(|view| [(view, "activeTab"), (view, "firstSheet")]) {
        move_count(outline, view, key, &shown_now, edits);
    }
}

fn move_count(outline: &Outline<'_>, view: &Node, key: &str, place_now: &impl Fn(usize) -> usize, edits: &mut Edits) {
    let old = outline.attribute(view, key).and_then(|v| v.trim().parse::<usize>().ok());
    if let (Some(old), Some(place)) = (old, outline.raw_attribute(view, key))
        && place_now(old) != old
    {
        edits.replace(place, place_now(old).to_string());
    }
}

/// Entries of our sheets.
fn entries(book: &Book<'_>, outline: &Outline<'_>, week: &LastWeek, new: &[NewSheet]) -> String {
    let kept = book.sheets.iter().enumerate().filter(|(idx, _)| !week.holds(*idx)).map(|(_, sheet)| sheet);
    let (prefix, (relation, declared)) = (outline.prefix(), relation_prefix(outline));
    let mut out = String::new();
    for (sheet, id) in new.iter().zip(free_ids(kept, new.len())) {
        let (name, rel) = (escaped(&sheet.name), escaped(&sheet.relation));
        // Writing to a string cannot fail.
        _ = write!(out, "<{prefix}sheet name=\"{name}\" sheetId=\"{id}\"{declared} {relation}:id=\"{rel}\"/>");
    }
    out
}

/// Numbers above all others, or the lowest that are free where there are none above.
fn free_ids<'s>(sheets: impl Iterator<Item = &'s SheetEntry>, n: usize) -> Vec<u32> {
    let taken: HashSet<u32> = sheets.map(|s| s.id).collect();
    let highest = taken.iter().max().copied().unwrap_or(0);
    let has_room = u32::try_from(n).is_ok_and(|n| highest.saturating_add(n) <= MAX_SHEET_ID);
    let from = if has_room { highest + 1 } else { 1 };
    (from..=MAX_SHEET_ID).filter(|id| !taken.contains(id)).take(n).collect()
}

/// A prefix for the attribute that names a relationship, and its declaration where the workbook has none.
fn relation_prefix(outline: &Outline<'_>) -> (String, String) {
    let tag = &outline.text[outline.root().open.clone()];
    let declared = tag.split("xmlns:").skip(1).find_map(|rest| {
        let (prefix, value) = rest.split_once('=')?;
        let value = value.trim_start();
        let quote = value.chars().next().filter(|c| matches!(c, '"' | '\''))?;
        (value[1..].split(quote).next() == Some(RELATION_ID)).then(|| prefix.trim().to_owned())
    });
    match declared {
        Some(prefix) => (prefix, String::new()),
        None => ("r".to_owned(), format!(" xmlns:r=\"{RELATION_ID}\"")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(id: u32) -> SheetEntry {
        SheetEntry { name: String::new(), id, part: None, relation: None, whole: 0..0 }
    }

    #[test]
    fn a_free_number_is_found_at_the_limit() {
        let ids = |held: &[u32], n| free_ids(held.iter().map(|id| entry(*id)).collect::<Vec<_>>().iter(), n);
        assert_eq!(ids(&[3, 7], 2), [8, 9]);
        assert_eq!(ids(&[2, MAX_SHEET_ID], 3), [1, 3, 4]);
        assert_eq!(ids(&[], 1), [1]);
    }
}
