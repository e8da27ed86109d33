//! `Cycle memo`: a row a group with what is suggested, what it rests on and what the team decided; one page on paper.
//!
//! Keeps: the words are those of the memo's page (`movement_is_the_same_in_all_four_forms`, acceptance); a group without a decision has
//! empty cells to write in; it prints on one page. Not here: the rules (`sheaf-core`), taking a decision (`sheaf-web`).

use super::book::Book;
use super::looks::Looks;
use super::movement::group_words;
use super::page::{Paper, Reader, set_up};
use super::sheet::{Column, Sheet, Written, column, last_column};
use sheaf_core::movement::{GroupMemo, TeamDecision};

const COLUMNS: [Column; 6] = [
    column("Group", 10.0),
    column("Target", 24.0),
    column("Suggestion", 15.0),
    column("Why", 38.0),
    column("The team\u{2019}s decision", 18.0),
    column("Reason, who, when", 30.0),
];

/// Writes the sheet; nothing without a week before.
pub(super) fn write(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    let Some(memo) = book.back.map(|b| &b.memo) else { return Ok(()) };
    set_up(sheet, book, Paper::WideOnePage, Reader::Staff)?;
    sheet.widths(COLUMNS.map(|c| c.width))?;
    let weeks = [memo.movement.weeks.first(), memo.movement.weeks.last()].into_iter().flatten();
    let span = weeks.map(ToString::to_string).collect::<Vec<_>>().join(" to ");
    sheet.title(
        "Cycle memo",
        &format!("{span}. A suggestion for each group, with what it rests on; the team decides."),
        looks,
    )?;
    for problem in &memo.movement.core_problems {
        sheet.long_line(&problem.sentence(), COLUMNS.len(), looks)?;
    }
    let header_row = sheet.row();
    sheet.header(COLUMNS.map(|c| c.title), looks)?;
    for (group, decision) in &memo.groups {
        row(sheet, book, (group, decision.as_ref()), looks)?;
    }
    sheet.end_table(header_row, COLUMNS.len(), 1)?;
    sheet.next()?;
    sheet.long_line(&memo.movement.by_chance.sentence(), COLUMNS.len(), looks)?;
    sheet.long_line(&memo.movement.regrouping.sentence(), COLUMNS.len(), looks)?;
    for part in &memo.movement.parts {
        sheet.long_line(&part.sentence(), COLUMNS.len(), looks)?;
    }
    // The lines under the table are printed, too.
    let last_row = sheet.row().saturating_sub(1);
    sheet.inner().set_print_area(0, 0, last_row, last_column(COLUMNS.len()))?;
    Ok(())
}

fn row(
    sheet: &mut Sheet<'_>,
    book: &Book<'_>,
    (group, decision): (&GroupMemo, Option<&TeamDecision>),
    looks: &Looks,
) -> Written {
    sheet.text(0, &group_words(&group.group), &looks.id);
    sheet.text(1, &book.skill_words(&group.skill), &looks.cell);
    sheet.text(2, group.suggestion.words(), &looks.cell_bold);
    sheet.text(3, &group.evidence, &looks.cell);
    match decision {
        Some(d) => {
            sheet.text(4, d.step.words(), &looks.cell_bold);
            sheet.text(5, &format!("{} ({}, {})", d.reason, d.name, d.day), &looks.cell);
        }
        None => {
            sheet.blank(4, &looks.entry);
            sheet.blank(5, &looks.entry);
        }
    }
    sheet.next()
}
