//! `Findings`: what was noticed, worst first, each with its place and what was done about it.
//!
//! In the staff's own workbook the place leads to the cell itself, unless a sheet of ours has the same name, since ours gets another
//! one there (`a_finding_leads_to_its_cell_in_their_workbook`).
//! Keeps: errors stand before warnings before notes, else the plan's order
//! (`findings_stand_worst_first_with_their_cell` in the tests of this folder); where the format has no rows left,
//! the last row says how many were left out. Not here: the wording (whoever found it).

use super::book::Book;
use super::is_ours;
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

/// Links that a sheet may have, far under the 65,530 of the format: each is held until the end.
const MAX_LINKS: usize = 5_000;

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
        let leads = n_written < MAX_LINKS && leads_to_its_cell(book, finding);
        row(sheet, finding, leads, looks)?;
    }
    sheet.end_table(header_row, COLUMNS.len(), 1)
}

/// Whether the finding's cell will stand in the same workbook.
fn leads_to_its_cell(book: &Book<'_>, finding: &Finding) -> bool {
    book.own_file == Some(finding.file.as_str()) && !is_ours(&finding.sheet) && is_place(&finding.cell)
}

/// Whether this is a cell such as `B7`, or several such as `B7:C9`.
fn is_place(cell: &str) -> bool {
    let is_cell = |cell: &str| {
        let n_letters = cell.bytes().take_while(u8::is_ascii_uppercase).count();
        let digits = &cell[n_letters..];
        (1..=3).contains(&n_letters)
            && (1..=7).contains(&digits.len())
            && digits.bytes().all(|b| b.is_ascii_digit())
            && !digits.starts_with('0')
    };
    cell.split_once(':').map_or_else(|| is_cell(cell), |(first, last)| is_cell(first) && is_cell(last))
}

fn row(sheet: &mut Sheet<'_>, finding: &Finding, leads: bool, looks: &Looks) -> Written {
    sheet.text(0, finding.severity.word(), &looks.cell_bold);
    sheet.text(1, &finding.file, &looks.cell);
    sheet.text(2, &finding.sheet, &looks.cell);
    if leads {
        sheet.link_to_cell(3, &finding.sheet, &finding.cell, &finding.cell, &looks.link_cell)?;
    } else {
        sheet.text(3, &finding.cell, &looks.id);
    }
    sheet.text(4, &finding.message, &looks.cell);
    sheet.text(5, &finding.action, &looks.cell);
    sheet.next()
}
