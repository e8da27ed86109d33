//! `Ticket results`: to fill in, a row a student with a ticket, a column an item.
//!
//! In the cell: the option ringed, `1` or `0`, the number written, or `absent`; empty where there is no answer.
//! Keeps: the form code stands in each row, so that a row finds its ticket after sorting
//! (`each_result_row_carries_its_form_code` in the tests of this folder); entries are text, so that `3/4` never
//! becomes a date; a check warns and never forbids. Not here: reading it back (`read`).

use super::book::{Book, shown_name};
use super::looks::Looks;
use super::page::{Paper, Reader, set_up};
use super::sheet::{MAX_COLUMNS, Sheet, Written, last_column};
use rust_xlsxwriter::{ColNum, DataValidation, DataValidationErrorStyle, RowNum, XlsxError};
use sheaf_core::plan::Group;
use sheaf_core::scores::ItemKind;
use sheaf_core::tickets::{Ticket, TicketItem};

const LEADING: [(&str, f64); 4] = [("Id", 9.0), ("Name", 22.0), ("Group", 11.0), ("Form code", 14.0)];
const FORM_COLUMN: ColNum = 3;
const ENTRY_WIDTH: f64 = 10.0;
/// Checks that the sheet may have: far under what the format allows, since each is held until the end.
const MAX_CHECKS: usize = 5_000;
/// Longest list of options, with its commas, that a check may carry.
const MAX_LIST: usize = 255;

/// What may stand in a cell.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Entry {
    /// One of these.
    OneOf(Vec<String>),
    /// Something typed, with a hint.
    Typed(&'static str),
}

/// The same check over neighbouring rows of one column.
#[derive(Debug)]
struct Run {
    entry: Entry,
    first: RowNum,
    last: RowNum,
}

/// Writes the sheet.
pub(super) fn write(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    set_up(sheet, book, Paper::WideFit, Reader::Staff)?;
    let longest = book.plan.tickets.iter().map(|t| t.items.len()).max().unwrap_or(0);
    let n_items = longest.min(MAX_COLUMNS - LEADING.len());
    let titles: Vec<String> = (1..=n_items).map(|number| format!("Item {number}")).collect();
    sheet.widths(LEADING.iter().map(|(_, width)| *width).chain(titles.iter().map(|_| ENTRY_WIDTH)))?;
    sheet.title("Ticket results", "What each child answered. Not taken: absent. No answer: leave it empty.", looks)?;
    sheet.line("Change the form code where a child had another form.", looks)?;
    let header_row = sheet.row();
    sheet.header(LEADING.iter().map(|(title, _)| *title).chain(titles.iter().map(String::as_str)), looks)?;
    let mut runs: Vec<Vec<Run>> = (0..=n_items).map(|_| Vec::new()).collect();
    for group in &book.plan.groups {
        let tickets = book.tickets_of(&group.id);
        if let Some(ticket) = tickets.first() {
            let first = sheet.row();
            rows(sheet, book, group, ticket, looks)?;
            note_entries(&mut runs, tickets, first, sheet.row());
        }
    }
    add_checks(sheet, &runs)?;
    if n_items > 0 && sheet.row() > header_row + 1 {
        let (first_col, last_col) = (last_column(LEADING.len() + 1), last_column(LEADING.len() + n_items));
        sheet.stand_back(header_row + 1, first_col, last_col)?;
    }
    sheet.end_table(header_row, LEADING.len() + n_items, 2)
}

fn rows(sheet: &mut Sheet<'_>, book: &Book<'_>, group: &Group, ticket: &Ticket, looks: &Looks) -> Written {
    for student in book.members(group) {
        sheet.text(0, student.id.as_str(), &looks.id);
        sheet.text(1, shown_name(student), &looks.cell);
        sheet.text(2, &group.name, &looks.cell);
        sheet.text(FORM_COLUMN, &ticket.form_code, &looks.id);
        for item_idx in 0..ticket.items.len() {
            sheet.blank(last_column(LEADING.len() + item_idx + 1), &looks.entry);
        }
        sheet.next()?;
    }
    Ok(())
}

/// Adds a group's rows to the runs: place 0 for the form code, then one an item.
fn note_entries(runs: &mut [Vec<Run>], tickets: &[&Ticket], first: RowNum, end: RowNum) {
    if end == first {
        return;
    }
    let codes = Entry::OneOf(tickets.iter().map(|t| t.form_code.clone()).collect());
    let items = tickets.first().map_or(&[][..], |t| &t.items);
    let entries = items.iter().enumerate().map(|(idx, item)| entry_of(item, tickets, idx));
    for (column, entry) in runs.iter_mut().zip(std::iter::once(codes).chain(entries)) {
        match column.last_mut() {
            Some(run) if run.entry == entry && run.last + 1 == first => run.last = end - 1,
            _ => column.push(Run { entry, first, last: end - 1 }),
        }
    }
}

fn entry_of(item: &TicketItem, tickets: &[&Ticket], idx: usize) -> Entry {
    match item.kind {
        ItemKind::Choice => {
            let forms = tickets.iter().filter_map(|t| t.items.get(idx));
            let most = forms.map(|i| &i.options).max_by_key(|options| options.len());
            Entry::OneOf(most.map_or_else(Vec::new, |options| options.iter().map(|o| o.label.clone()).collect()))
        }
        ItemKind::Match => Entry::OneOf((0..=whole_points(item)).rev().map(|p| p.to_string()).collect()),
        ItemKind::MultiSelect => Entry::Typed("Every letter ringed, with commas: A,C. Or absent."),
        ItemKind::TwoPart => Entry::Typed("The letter of part A, a comma, the letter of part B: B,A. Or absent."),
        ItemKind::Numeric => Entry::Typed("The number as the child wrote it, such as 3/4. Or absent."),
    }
}

/// Points of an item as a whole number from 1 to 20.
fn whole_points(item: &TicketItem) -> u32 {
    (1..=20).find(|p| f64::from(*p) >= item.points).unwrap_or(20)
}

fn add_checks(sheet: &mut Sheet<'_>, runs: &[Vec<Run>]) -> Written {
    let mut left = MAX_CHECKS;
    // Items first: a wrong letter is likelier than a wrong form.
    for (place, column) in runs.iter().enumerate().skip(1).chain(runs.iter().enumerate().take(1)) {
        let col = last_column(LEADING.len() + place);
        for run in column.iter().take(left) {
            let check = check_of(&run.entry, col == FORM_COLUMN)?;
            sheet.inner().add_data_validation(run.first, col, run.last, col, &check)?;
        }
        left = left.saturating_sub(column.len());
    }
    Ok(())
}

fn check_of(entry: &Entry, is_form: bool) -> Result<DataValidation, XlsxError> {
    let check = DataValidation::new().set_error_style(DataValidationErrorStyle::Warning);
    match entry {
        Entry::Typed(hint) => {
            check.allow_any_value().set_input_title("What did the child write?")?.set_input_message(*hint)
        }
        Entry::OneOf(options) if is_form => check
            .allow_list_strings(&that_fit(options, None))?
            .set_error_title("Another form?")?
            .set_error_message("This group has no form with that code. Results would not find their ticket."),
        Entry::OneOf(options) => check
            .allow_list_strings(&that_fit(options, Some("absent")))?
            .set_input_title("What did the child choose?")?
            .set_input_message(format!("One of {}, or absent. Empty: no answer.", options.join(", ")))?
            .set_error_title("Is that right?")?
            .set_error_message("The item has no such answer. Keep it only if the child really wrote this."),
    }
}

/// The options that fit a list, without commas, which a list would take for a border; then the last word.
fn that_fit(options: &[String], last: Option<&str>) -> Vec<String> {
    let mut left = MAX_LIST - last.map_or(0, |word| word.len() + 1);
    let fitting = options.iter().filter(|o| !o.contains(',') && !o.is_empty()).take_while(|o| {
        let units = o.encode_utf16().count() + 1;
        let fits = units <= left;
        left = left.saturating_sub(units);
        fits
    });
    fitting.cloned().chain(last.map(str::to_owned)).collect()
}
