//! `Movement`: how it goes with each child from week to week, growth beside chance, who changed groups.
//!
//! Keeps: the figures are those of the value, written and not counted again (`movement_is_the_same_in_all_four_forms`, acceptance);
//! where nothing can be told the cell says so. Not here: the sentences (`sheaf-core`).

use super::book::Book;
use super::looks::Looks;
use super::page::{Paper, Reader, set_up};
use super::sheet::{Column, Sheet, Written, column, last_column};
use sheaf_core::movement::{ChildWeeks, Growth, Movement};
use sheaf_core::plan::group_number;

const COLUMNS: [Column; 11] = [
    column("Id", 11.0),
    column("Name", 18.0),
    column("Homeroom", 10.0),
    column("Group", 8.0),
    column("Skill last taught", 13.0),
    column("How it goes", 15.0),
    column("First check", 9.0),
    column("Last check", 9.0),
    column("By chance", 9.0),
    column("Why", 52.0),
    column("What to try", 42.0),
];

/// Writes the sheet; nothing without a week before.
pub(super) fn write(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    let Some(movement) = book.movement else { return Ok(()) };
    set_up(sheet, book, Paper::WideFit, Reader::Staff)?;
    sheet.widths(COLUMNS.map(|c| c.width))?;
    sheet.title("Movement", "How it goes with each child from week to week. It describes; the team decides.", looks)?;
    sheet.line(&movement.by_chance.sentence(), looks)?;
    sheet.line(&movement.regrouping.sentence(), looks)?;
    for problem in &movement.core_problems {
        sheet.line(&problem.sentence(), looks)?;
    }
    let header_row = sheet.row();
    sheet.header(COLUMNS.map(|c| c.title), looks)?;
    for (at, child) in movement.students.iter().enumerate() {
        row(sheet, child, movement.growth_in_target(at), looks)?;
    }
    sheet.end_table(header_row, COLUMNS.len(), 2)?;
    moves(sheet, movement, looks)?;
    // The moves under the table are printed, too.
    let last_row = sheet.row().saturating_sub(1);
    sheet.inner().set_print_area(0, 0, last_row, last_column(COLUMNS.len()))?;
    Ok(())
}

fn row(sheet: &mut Sheet<'_>, child: &ChildWeeks, growth: Option<&Growth>, looks: &Looks) -> Written {
    sheet.text(0, child.student.id.as_str(), &looks.id);
    sheet.text(1, &child.student.name, &looks.cell);
    sheet.text(2, &child.student.homeroom, &looks.id);
    sheet.text(3, &child.last_group().map_or(String::new(), group_words), &looks.id);
    sheet.text(4, child.skill.as_str(), &looks.cell);
    sheet.text(5, &child.judged.verdict.word().replace('-', " "), &looks.cell_bold);
    if let Some(growth) = growth.filter(|g| g.n_checks > 1) {
        for (col, share) in (6..).zip([growth.from, growth.to, growth.by_chance]) {
            sheet.number(col, share, &looks.percent);
        }
    }
    sheet.text(9, &child.judged.reason, &looks.cell);
    sheet.text(10, &child.next, &looks.cell);
    sheet.next()
}

/// What a group is called on every other sheet.
fn group_words(id: &str) -> String {
    group_number(id).map_or_else(|| id.to_owned(), |number| format!("Group {number}"))
}

fn no_seat() -> String {
    "no seat".to_owned()
}

/// Under the table: from group to group, a row a way.
fn moves(sheet: &mut Sheet<'_>, movement: &Movement, looks: &Looks) -> Written {
    sheet.next()?;
    sheet.text(0, "From group to group", &looks.section);
    sheet.next()?;
    let header = ["Into", "", "", "From", "To", "Children", "Alike"];
    for (col, title) in (0..).zip(header) {
        sheet.text(col, title, &looks.header);
    }
    sheet.next()?;
    for ((week, flows), (_, index)) in movement.flows.iter().zip(&movement.agreement) {
        for flow in flows {
            if sheet.is_full(2) {
                return Ok(());
            }
            sheet.text(0, &week.to_string(), &looks.id);
            sheet.text(3, &flow.from.as_deref().map_or_else(no_seat, group_words), &looks.id);
            sheet.text(4, &flow.to.as_deref().map_or_else(no_seat, group_words), &looks.id);
            sheet.number(5, flow.n_students as f64, &looks.count);
            if let Some(index) = index {
                sheet.number(6, *index, &looks.share);
            }
            sheet.next()?;
        }
    }
    Ok(())
}
