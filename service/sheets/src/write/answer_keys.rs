//! `Answer keys`: for staff, a row an item (a part of a two-part item has its own row), by group and form.
//!
//! Keeps: every item of every ticket has a row with its key (`every_ticket_item_has_its_key` in the tests of this
//! folder); what a wrong answer may mean is in plain words, with the code only where the catalogue does not know it.
//! Not here: children's pages (`exit_tickets`).

use super::book::Book;
use super::looks::Looks;
use super::page::{Paper, Reader, set_up};
use super::sheet::{Column, Sheet, Written, column, last_column};
use sheaf_core::scores::ItemKind;
use sheaf_core::tickets::{Ticket, TicketItem, right_says};

const COLUMNS: [Column; 8] = [
    column("Group", 11.0),
    column("Form", 12.0),
    column("Item", 7.0),
    column("Question", 36.0),
    column("Right answer", 24.0),
    column("What a wrong answer may mean", 60.0),
    column("Skill", 12.0),
    column("Item model", 20.0),
];

/// Writes the sheet.
pub(super) fn write(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    set_up(sheet, book, Paper::WideFit, Reader::Staff)?;
    sheet.widths(COLUMNS.map(|c| c.width))?;
    if book.is_large() {
        sheet.usual_lines(3);
    }
    sheet.title(
        "Answer keys",
        "For staff. One wrong answer is a hint; the same idea several times is worth a talk.",
        looks,
    )?;
    if let Some(line) = how_sure(book) {
        sheet.line(&line, looks)?;
    }
    let header_row = sheet.row();
    sheet.header(COLUMNS.map(|c| c.title), looks)?;
    for ticket in &book.plan.tickets {
        for item in &ticket.items {
            if sheet.is_full(16) {
                break;
            }
            rows(sheet, book, ticket, item, looks)?;
        }
    }
    sheet.end_table(header_row, COLUMNS.len(), 3)?;
    // The item model is for the screen: without it the page prints larger.
    let (last_row, last_col) = ((sheet.row() - 1).max(header_row), last_column(COLUMNS.len() - 1));
    sheet.inner().set_print_area(0, 0, last_row, last_col)?;
    Ok(())
}

/// What a count on a ticket of the usual length says of a child, from all right down to half.
fn how_sure(book: &Book<'_>) -> Option<String> {
    let n_items = book.plan.tickets.iter().map(|t| t.items.len()).max().filter(|n| *n > 0)?;
    let says = |right: usize| {
        let range = right_says(right, n_items);
        format!("{right} right: {:.0}–{:.0} %", range.low * 100.0, range.high * 100.0)
    };
    let counts: Vec<String> = (n_items.div_ceil(2)..=n_items).rev().map(says).collect();
    Some(format!("How sure: of {n_items} items, the share that a child can do is likely (80 %) {}.", counts.join(", ")))
}

fn rows(sheet: &mut Sheet<'_>, book: &Book<'_>, ticket: &Ticket, item: &TicketItem, looks: &Looks) -> Written {
    if item.parts.is_empty() {
        return row(sheet, book, ticket, &item.number.to_string(), item, looks);
    }
    for (part, letter) in item.parts.iter().zip('A'..='Z') {
        row(sheet, book, ticket, &format!("{} {letter}", item.number), part, looks)?;
    }
    Ok(())
}

fn row(
    sheet: &mut Sheet<'_>,
    book: &Book<'_>,
    ticket: &Ticket,
    number: &str,
    item: &TicketItem,
    looks: &Looks,
) -> Written {
    sheet.text(0, book.group_name(&ticket.group), &looks.cell);
    sheet.text(1, &ticket.form_code, &looks.id);
    sheet.text(2, number, &looks.id);
    sheet.text(3, &item.stem, &looks.cell);
    sheet.text(4, &right_answer(item), &looks.cell_bold);
    sheet.text(5, &meanings(book, item).join("\n"), &looks.cell);
    sheet.text(6, &item.skill, &looks.id);
    sheet.text(7, &item.model, &looks.id);
    sheet.next()
}

/// The key, with the text of each right option; for a grid a line a row.
fn right_answer(item: &TicketItem) -> String {
    let lines: Vec<String> = match item.kind {
        ItemKind::Match => item.rows.iter().zip(&item.key).map(|(row, key)| format!("{}: {key}", row.text)).collect(),
        _ => item.key.iter().map(|key| with_text(item, key)).collect(),
    };
    lines.join("\n")
}

fn with_text(item: &TicketItem, key: &str) -> String {
    item.options.iter().find(|o| o.label == key).map_or_else(|| key.to_owned(), |o| format!("{key}  {}", o.text))
}

/// `B: takes ...`, a line for each wrong answer that may mean something.
fn meanings(book: &Book<'_>, item: &TicketItem) -> Vec<String> {
    let options = item.options.iter().filter(|o| !o.patterns.is_empty()).map(|o| {
        let ideas: Vec<&str> = o.patterns.iter().map(|code| book.idea(code)).collect();
        format!("{}: {}", o.label, ideas.join(", or "))
    });
    let rows = item.rows.iter().flat_map(|row| {
        row.patterns.iter().map(move |(answer, code)| format!("{} as {answer}: {}", row.text, book.idea(code)))
    });
    let entries = item.wrong_entries.iter().map(|(entry, code)| format!("{entry}: {}", book.idea(code)));
    options.chain(rows).chain(entries).collect()
}
