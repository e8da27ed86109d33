//! `Findings`: what was noticed, worst first, each with its place and what was done about it.
//!
//! Keeps: errors stand before warnings before notes, else the plan's order
//! (`findings_stand_worst_first_with_their_cell` in the tests of this folder); where the format has no rows left,
//! the last row says how many were left out. Not here: the wording (whoever found it).

use super::book::Book;
use super::looks::Looks;
use super::page::{Paper, Reader, set_up};
use super::sheet::{Column, Sheet, Written, column};
use sheaf_core::finding::Finding;

const COLUMNS: [Column; 6] = [
    column("How much it matters", 12.0),
    column("File", 24.0),
    column("Sheet", 16.0),
    column("Cell", 10.0),
    column("What was found", 56.0),
    column("What was done", 40.0),
];

/// Writes the sheet.
pub(super) fn write(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    set_up(sheet, book, Paper::WideFit, Reader::Staff)?;
    sheet.widths(COLUMNS.map(|c| c.width))?;
    let purpose = if book.plan.findings.is_empty() {
        "Nothing was found that needs a look."
    } else {
        "An error was left out of the count, never guessed; a warning was read with the stated assumption."
    };
    sheet.title("Findings", purpose, looks)?;
    let header_row = sheet.row();
    sheet.header(COLUMNS.map(|c| c.title), looks)?;
    let mut findings: Vec<&Finding> = book.plan.findings.iter().collect();
    findings.sort_by_key(|f| std::cmp::Reverse(f.severity));
    for (n_written, finding) in findings.iter().enumerate() {
        if sheet.is_full(2) {
            sheet.text(4, &format!("{} more are not shown here", findings.len() - n_written), &looks.cell);
            sheet.next()?;
            break;
        }
        row(sheet, finding, looks)?;
    }
    sheet.end_table(header_row, COLUMNS.len(), 1)
}

fn row(sheet: &mut Sheet<'_>, finding: &Finding, looks: &Looks) -> Written {
    sheet.text(0, finding.severity.word(), &looks.cell_bold);
    sheet.text(1, &finding.file, &looks.cell);
    sheet.text(2, &finding.sheet, &looks.cell);
    sheet.text(3, &finding.cell, &looks.id);
    sheet.text(4, &finding.message, &looks.cell);
    sheet.text(5, &finding.action, &looks.cell);
    sheet.next()
}
