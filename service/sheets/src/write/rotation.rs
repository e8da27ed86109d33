//! `Rotation`: the week as a grid (times down, groups or adults across), what to know about it, every meeting as a list.
//!
//! Keeps: every meeting of the plan stands in the list (`every_meeting_stands_in_the_list` in the tests of this
//! folder); the grid has groups across while they fit on a page, else adults, else groups on several pages
//! (`sixteen_groups_take_two_pages_of_the_grid`), and past forty it is left out and says so; no page is begun for nothing.
//! Not here: which meetings there are (the plan).

use super::book::Book;
use super::looks::Looks;
use super::page::{Paper, Reader, set_up};
use super::sheet::{Column, Rows, Sheet, Span, Written, column, last_column};
use super::words::dotted;
use rust_xlsxwriter::{RowNum, XlsxError};
use sheaf_core::rotation::Session;
use std::collections::{BTreeMap, BTreeSet};

/// Columns that a page of the grid may have beside the time.
const GRID_COLUMNS: usize = 10;
/// Groups of which a grid is made at all.
const MOST_IN_GRID: usize = 40;
const NO_ADULT: &str = "Without an adult";

const LIST: [Column; 9] = [
    column("Day", 8.0),
    column("Start", 8.0),
    column("End", 8.0),
    column("Group", 19.0),
    column("Adult", 19.0),
    column("Station", 19.0),
    column("Room", 19.0),
    column("Skill", 19.0),
    column("Not expected (busy then)", 19.0),
];
const TEXT: Span = Span { first: 0, last: 8, digits: 132, line_points: 15.0 };

/// What stands over the columns of the grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Across {
    Groups,
    Adults,
    Nothing,
}

/// Writes the sheet.
pub(super) fn write(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    set_up(sheet, book, Paper::WideFit, Reader::Staff)?;
    sheet.widths(LIST.iter().map(|c| c.width).chain([19.0; 4]))?;
    sheet.title("Rotation", "Who meets whom, when and where.", looks)?;
    let sessions = &book.plan.rotation;
    if sessions.is_empty() {
        paragraph(
            sheet,
            "No meetings are planned. To get a timetable, add [[block]] entries (day, start, end) and [[staff]] \
             entries (name, blocks) to the school setup, then make the plan again.",
            looks,
        )?;
        notes(sheet, book, looks)?;
        let last_row = sheet.row();
        sheet.inner().set_print_area(0, 0, last_row, TEXT.last)?;
        return Ok(());
    }
    changes(sheet, book, looks)?;
    let (bands, n_across) = grid(sheet, book, looks)?;
    notes(sheet, book, looks)?;
    list(sheet, book, looks, &bands, 3 + n_across)
}

/// Writes the grid, in bands of columns that fit on paper, each on a page of its own; gives the rows at which pages begin, the
/// list's among them, and the number of columns beside the time.
fn grid(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Result<(Vec<RowNum>, usize), XlsxError> {
    let (across, names) = columns_of(book);
    if across == Across::Nothing {
        paragraph(sheet, "Too many groups and adults for a grid on paper: the list below has every meeting.", looks)?;
    }
    let n_bands = names.len().div_ceil(GRID_COLUMNS).max(1);
    let n_columns = names.len().div_ceil(n_bands);
    let mut starts = Vec::new();
    for band in names.chunks(n_columns.max(1)) {
        starts.push(sheet.row());
        write_band(sheet, book, across, band, looks)?;
    }
    Ok((starts, n_columns))
}

fn write_band(sheet: &mut Sheet<'_>, book: &Book<'_>, across: Across, names: &[String], looks: &Looks) -> Written {
    sheet.header(["Day", "Start", "End"].into_iter().chain(names.iter().map(String::as_str)), looks)?;
    let mut times: BTreeMap<_, BTreeMap<usize, Vec<String>>> = BTreeMap::new();
    for session in &book.plan.rotation {
        let name = column_name(book, session, across);
        if let Some(place) = names.iter().position(|n| *n == name) {
            let time = (session.time.day, session.time.start, session.time.end);
            times.entry(time).or_default().entry(place).or_default().push(cell_text(book, session, across));
        }
    }
    for ((day, start, end), cells) in times {
        for (col, text) in (0..).zip([day.short().to_owned(), start.to_string(), end.to_string()]) {
            sheet.text(col, &text, &looks.cell_bold);
        }
        for place in 0..names.len() {
            let text = cells.get(&place).map(|texts| texts.join("\n\n")).unwrap_or_default();
            sheet.text(last_column(4 + place), &text, &looks.cell);
        }
        sheet.next()?;
    }
    sheet.rows(Rows::Fixed);
    sheet.next()
}

/// Groups in order of number while they fit, else adults by name while they do, those without an adult last; else groups on
/// several pages.
fn columns_of(book: &Book<'_>) -> (Across, Vec<String>) {
    let met: BTreeSet<&str> = book.plan.rotation.iter().map(|s| s.group.as_str()).collect();
    let adults: BTreeSet<&str> = book.plan.rotation.iter().filter_map(|s| s.staff.as_deref()).collect();
    let alone = book.plan.rotation.iter().any(|s| s.staff.is_none()).then_some(NO_ADULT);
    if met.len() > GRID_COLUMNS && adults.len() + usize::from(alone.is_some()) <= GRID_COLUMNS {
        return (Across::Adults, adults.into_iter().chain(alone).map(str::to_owned).collect());
    }
    if met.len() > MOST_IN_GRID {
        return (Across::Nothing, Vec::new());
    }
    let known = book.plan.groups.iter().filter(|g| met.contains(g.id.as_str()));
    let mut names: Vec<String> = known.map(|g| g.name.clone()).collect();
    names.extend(met.iter().filter(|id| book.group_name(id) == **id).map(|id| (*id).to_owned()));
    names.dedup();
    (Across::Groups, names)
}

fn column_name<'s>(book: &'s Book<'_>, session: &'s Session, across: Across) -> &'s str {
    match across {
        Across::Groups => book.group_name(&session.group),
        Across::Adults | Across::Nothing => session.staff.as_deref().unwrap_or(NO_ADULT),
    }
}

fn cell_text(book: &Book<'_>, session: &Session, across: Across) -> String {
    let who = match across {
        Across::Groups => session.staff.as_deref().unwrap_or("no adult"),
        Across::Adults | Across::Nothing => book.group_name(&session.group),
    };
    let first = dotted([who, session.room.as_deref().unwrap_or_default()]);
    let mark = book.plan.change_of(session).map_or_else(String::new, |change| format!("CHANGED: {change}"));
    [&first, &session.station, &session.skill, &mark]
        .iter()
        .filter(|t| !t.is_empty())
        .map(|t| t.as_str())
        .collect::<Vec<_>>()
        .join("\n")
}

/// What was changed since the plan was handed out, above the grid.
fn changes(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    for repair in &book.plan.repairs {
        let without: Vec<String> = repair.without.iter().map(sheaf_core::rotation::repair::Out::words).collect();
        sheet.text(0, &format!("Changed, without {}", without.join(", ")), &looks.section);
        sheet.next()?;
        for change in &repair.changes {
            paragraph(sheet, &change.words(book.group_name(&change.before.group)), looks)?;
        }
        if let Some(doubt) = repair.doubt() {
            paragraph(sheet, doubt, looks)?;
        }
        sheet.next()?;
    }
    Ok(())
}

fn notes(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    if book.plan.rotation_notes.is_empty() {
        return Ok(());
    }
    sheet.text(0, "Good to know", &looks.section);
    sheet.next()?;
    for note in &book.plan.rotation_notes {
        paragraph(sheet, note, looks)?;
    }
    sheet.next()
}

fn paragraph(sheet: &mut Sheet<'_>, text: &str, looks: &Looks) -> Written {
    sheet.spanned(TEXT, text, &looks.paragraph)?;
    sheet.next()
}

fn list(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks, bands: &[RowNum], grid_columns: usize) -> Written {
    // The grid goes on the wall, so the list begins a page; where the scaling overrides the break nothing is lost.
    let list_row = sheet.row();
    let breaks: Vec<RowNum> = bands.iter().skip(1).chain(bands.first().map(|_| &list_row)).copied().collect();
    if !breaks.is_empty() {
        sheet.inner().set_page_breaks(&breaks)?;
    }
    sheet.text(0, "Every meeting", &looks.section);
    sheet.next()?;
    let header_row = sheet.row();
    sheet.header(LIST.map(|c| c.title), looks)?;
    for session in &book.plan.rotation {
        if sheet.is_full(1) {
            break;
        }
        meeting(sheet, book, session, looks)?;
    }
    let (last_row, last_col) = (sheet.row() - 1, last_column(LIST.len()));
    sheet.table(header_row, last_row, last_col)?;
    let inner = sheet.inner();
    inner.set_repeat_rows(header_row, header_row)?;
    inner.set_print_area(0, 0, last_row, last_column(LIST.len().max(grid_columns)))?;
    Ok(())
}

fn meeting(sheet: &mut Sheet<'_>, book: &Book<'_>, session: &Session, looks: &Looks) -> Written {
    sheet.text(0, session.time.day.short(), &looks.cell);
    sheet.text(1, &session.time.start.to_string(), &looks.id);
    sheet.text(2, &session.time.end.to_string(), &looks.id);
    sheet.text(3, book.group_name(&session.group), &looks.cell_bold);
    sheet.text(4, session.staff.as_deref().unwrap_or("no adult"), &looks.cell);
    sheet.text(5, &session.station, &looks.cell);
    sheet.text(6, session.room.as_deref().unwrap_or_default(), &looks.cell);
    sheet.text(7, &session.skill, &looks.id);
    sheet.text(8, &book.not_expected(session).join(", "), &looks.cell);
    sheet.next()
}
