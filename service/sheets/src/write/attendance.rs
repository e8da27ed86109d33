//! `Attendance`: to fill in, a row a student with a group, a column a time at which led groups meet.
//!
//! In the cell: `present`, `late`, `absent`, or minutes. Keeps: only the boxes of a student's own meetings are drawn
//! and checked (`attendance_has_boxes_only_where_the_group_meets` in the tests of this folder); without a timetable
//! there is a column a school day. Not here: reading it back (`read`).

use super::book::{Book, shown_name};
use super::looks::Looks;
use super::page::{Paper, Reader, set_up};
use super::sheet::{MAX_COLUMNS, Sheet, Written, last_column};
use rust_xlsxwriter::{ColNum, DataValidation, DataValidationErrorStyle, XlsxError};
use sheaf_core::plan::Group;
use sheaf_core::roster::{Day, Minutes};
use std::collections::BTreeSet;

const LEADING: [(&str, f64); 4] = [("Id", 9.0), ("Name", 22.0), ("Homeroom", 11.0), ("Group", 11.0)];
const ENTRY_WIDTH: f64 = 8.0;
const WORDS: [&str; 3] = ["present", "late", "absent"];

type Start = (Day, Minutes);

/// Writes the sheet.
pub(super) fn write(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    set_up(sheet, book, Paper::WideFit, Reader::Staff)?;
    let times = times(book);
    let titles = titles(&times);
    sheet.widths(LEADING.iter().map(|(_, width)| *width).chain(titles.iter().map(|_| ENTRY_WIDTH)))?;
    sheet.title(
        "Attendance",
        "In each box: present, late, absent, or minutes received. Leave a box empty if you do not know.",
        looks,
    )?;
    let header_row = sheet.row();
    sheet.header(LEADING.iter().map(|(title, _)| *title).chain(titles.iter().map(String::as_str)), looks)?;
    let first_row = sheet.row();
    for group in &book.plan.groups {
        rows(sheet, book, group, &times, looks)?;
    }
    let n_columns = LEADING.len() + titles.len();
    if sheet.row() > first_row {
        let last_row = sheet.row() - 1;
        let (first_col, last_col) = (column_of(0), last_column(n_columns));
        sheet.inner().add_data_validation(first_row, first_col, last_row, last_col, &check()?)?;
        sheet.stand_back(first_row, first_col, last_col)?;
    }
    sheet.end_table(header_row, n_columns, 2)
}

/// Starts of led meetings, in order; empty without a timetable.
fn times(book: &Book<'_>) -> Vec<Start> {
    let led = book.plan.rotation.iter().filter(|s| s.staff.is_some());
    let distinct: BTreeSet<Start> = led.map(|s| (s.time.day, s.time.start)).collect();
    distinct.into_iter().take(MAX_COLUMNS - LEADING.len()).collect()
}

fn titles(times: &[Start]) -> Vec<String> {
    if times.is_empty() {
        return Day::ALL.iter().map(|day| day.short().to_owned()).collect();
    }
    times.iter().map(|(day, start)| format!("{} {start}", day.short())).collect()
}

fn rows(sheet: &mut Sheet<'_>, book: &Book<'_>, group: &Group, times: &[Start], looks: &Looks) -> Written {
    for student in book.members(group) {
        sheet.text(0, student.id.as_str(), &looks.id);
        sheet.text(1, shown_name(student), &looks.cell);
        sheet.text(2, &student.homeroom, &looks.id);
        sheet.text(3, &group.name, &looks.cell);
        for place in boxes(book, group, student.id.as_str(), times) {
            sheet.blank(column_of(place), &looks.entry);
        }
        sheet.next()?;
    }
    Ok(())
}

/// Places of the boxes of one student: led meetings of the group at which they are expected.
fn boxes(book: &Book<'_>, group: &Group, id: &str, times: &[Start]) -> Vec<usize> {
    if times.is_empty() {
        return (0..Day::ALL.len()).collect();
    }
    let led = book.sessions_of(&group.id).iter().filter(|s| s.staff.is_some());
    led.filter(|s| s.expected.iter().any(|e| e == id))
        .filter_map(|s| times.binary_search(&(s.time.day, s.time.start)).ok())
        .collect()
}

fn column_of(place: usize) -> ColNum {
    last_column(LEADING.len() + place + 1)
}

fn check() -> Result<DataValidation, XlsxError> {
    DataValidation::new()
        .allow_list_strings(&WORDS)?
        .set_input_title("Was the child there?")?
        .set_input_message("present, late or absent; or type the minutes received.")?
        .set_error_title("Minutes?")?
        .set_error_message("This is none of present, late, absent. Keep it if these are minutes.")
        .map(|v| v.set_error_style(DataValidationErrorStyle::Information))
}
