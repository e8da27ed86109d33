//! `Items`: how each item of the score sheets behaved.
//!
//! Keeps: a figure that is not defined is an empty cell, never a zero (`an_undefined_figure_is_an_empty_cell` in the
//! tests of this folder). Not here: tickets' own items (`answer_keys`).

use super::book::Book;
use super::looks::Looks;
use super::page::{Paper, Reader, set_up};
use super::sheet::{Column, Sheet, Written, column};
use super::words;
use rust_xlsxwriter::ColNum;
use sheaf_core::plan::ItemReport;

const COLUMNS: [Column; 7] = [
    column("Item", 14.0),
    column("Skills", 16.0),
    column("In plain words", 50.0),
    column("Students who took it", 12.0),
    column("Share of points got", 11.0),
    column("Agrees with the rest (-1 to 1)", 13.0),
    column("Worth a look", 34.0),
];

/// Writes the sheet.
pub(super) fn write(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    set_up(sheet, book, Paper::WideFit, Reader::Staff)?;
    sheet.widths(COLUMNS.map(|c| c.width))?;
    let reliability = book.plan.quality.reliability.map_or_else(
        || "Reliability of the whole: not defined for these sheets.".to_owned(),
        |r| format!("Reliability of the whole (KR-20 or alpha): {r:.2}. It speaks of the sheet, not of a child."),
    );
    sheet.title("Items", &reliability, looks)?;
    let header_row = sheet.row();
    sheet.header(COLUMNS.map(|c| c.title), looks)?;
    for item in &book.plan.items {
        row(sheet, book, item, looks)?;
    }
    sheet.end_table(header_row, COLUMNS.len(), 1)
}

fn row(sheet: &mut Sheet<'_>, book: &Book<'_>, item: &ItemReport, looks: &Looks) -> Written {
    let codes: Vec<&str> = item.skills.iter().map(|code| code.as_str()).collect();
    let names: Vec<&str> = item.skills.iter().map(|code| book.skill_name(code)).collect();
    sheet.text(0, &item.label, &looks.id);
    sheet.text(1, &codes.join("\n"), &looks.id);
    sheet.text(2, &names.join("\n"), &looks.cell);
    sheet.number(3, item.n_taken as f64, &looks.count);
    share(sheet, 4, item.difficulty, looks);
    share(sheet, 5, item.discrimination, looks);
    sheet.text(6, &item.flag.as_deref().map(words::item_flag).unwrap_or_default(), &looks.cell);
    sheet.next()
}

fn share(sheet: &mut Sheet<'_>, col: ColNum, value: Option<f64>, looks: &Looks) {
    match value.filter(|v| v.is_finite()) {
        Some(value) => sheet.number(col, value, &looks.share),
        None => sheet.blank(col, &looks.share),
    }
}
