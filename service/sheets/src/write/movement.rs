//! `Movement`: how it goes with each child from week to week, growth beside chance, who changed groups.
//!
//! Keeps: the figures are those of the value, written and not counted again (`movement_is_the_same_in_all_four_forms`, acceptance);
//! where nothing can be told the cell says so. Not here: the sentences (`sheaf-core`).

use super::book::Book;
use super::looks::Looks;
use super::page::{Paper, Reader, set_up};
use super::sheet::{Column, Rows, Sheet, TABLE_LINE, Written, column, last_column};
use rust_xlsxwriter::{ChartEmptyCells, Color, Sparkline};
use sheaf_core::movement::{ChildWeeks, Growth, Movement};
use sheaf_core::plan::group_number;

const COLUMNS: [Column; 12] = [
    // A date of the blocks below fits on one line.
    column("Id", 10.5),
    column("Name", 16.0),
    column("Homeroom", 9.0),
    column("Group", 10.0),
    column("Skill last taught", 11.0),
    column("How it goes", 13.0),
    column("First check", 7.0),
    column("Last check", 7.0),
    column("By chance", 7.5),
    column("Why", 46.0),
    column("What to try", 36.0),
    column("Checks, week by week", 14.0),
];
/// Height of a heading's row, points.
const HEADING_LINE: f64 = 18.0;
/// Width of a week's share, beside the printed page.
const WEEK_WIDTH: f64 = 11.0;

/// Writes the sheet; nothing without a week before.
pub(super) fn write(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    let Some(movement) = book.back.map(|b| &b.movement) else { return Ok(()) };
    set_up(sheet, book, Paper::WideFit, Reader::Staff)?;
    let weeks = movement.weeks.iter().map(|_| WEEK_WIDTH);
    sheet.widths(COLUMNS.map(|c| c.width).into_iter().chain(weeks))?;
    sheet.title("Movement", "How it goes with each child from week to week. It describes; the team decides.", looks)?;
    sheet.long_line(&movement.by_chance.sentence(), COLUMNS.len(), looks)?;
    sheet.long_line(&movement.regrouping.sentence(), COLUMNS.len(), looks)?;
    if let Some(gaps) = movement.gaps() {
        sheet.long_line(&gaps, COLUMNS.len(), looks)?;
    }
    for problem in &movement.core_problems {
        sheet.long_line(&problem.sentence(), COLUMNS.len(), looks)?;
    }
    let header_row = sheet.row();
    let weeks: Vec<String> = movement.weeks.iter().map(ToString::to_string).collect();
    sheet.header(COLUMNS.map(|c| c.title).into_iter().chain(weeks.iter().map(String::as_str)), looks)?;
    for (at, child) in movement.students.iter().enumerate() {
        course(sheet, book, child, looks)?;
        row(sheet, child, movement.growth_in_target(at), looks)?;
    }
    sheet.end_table(header_row, COLUMNS.len() + weeks.len(), 2)?;
    moves(sheet, movement, looks)?;
    turns(sheet, movement, looks)?;
    decisions(sheet, movement, looks)?;
    parts(sheet, movement, looks)?;
    // The moves under the table are printed, too; the figures behind the lines are for the screen.
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

/// The share of each week in the skill last taught, and a line through them where there are two: the file holds each line until
/// the end, so a district gets the figures alone.
fn course(sheet: &mut Sheet<'_>, book: &Book<'_>, child: &ChildWeeks, looks: &Looks) -> Written {
    let (row, line_col, first_col) = (sheet.row(), last_column(COLUMNS.len()), last_column(COLUMNS.len() + 1));
    let mut n_checks = 0_usize;
    for (col, week) in (first_col..).zip(&child.weeks) {
        let check = week.as_ref().and_then(|week| week.checks.get(&child.skill));
        if let Some(check) = check {
            sheet.number(col, check.share(), &looks.percent);
            n_checks += 1;
        }
    }
    sheet.blank(line_col, &looks.cell);
    if n_checks > 1 && !book.is_large() {
        let last_col = last_column(COLUMNS.len() + child.weeks.len());
        let line = Sparkline::new()
            .set_range(("Movement", row, first_col, row, last_col))
            .set_sparkline_color(Color::Black)
            .set_line_weight(1.5)
            .show_markers(true)
            .set_markers_color(Color::Black)
            .show_empty_cells_as(ChartEmptyCells::Connected)
            // A little more than from nothing to all, so that marks at the ends are not cut.
            .set_custom_min(-0.1)
            .set_custom_max(1.1);
        sheet.inner().add_sparkline(row, line_col, &line)?;
    }
    Ok(())
}

/// What a group is called on every other sheet.
pub(super) fn group_words(id: &str) -> String {
    group_number(id).map_or_else(|| id.to_owned(), |number| format!("Group {number}"))
}

fn no_seat() -> String {
    "no seat".to_owned()
}

/// Under the table: from group to group, a row a way.
fn moves(sheet: &mut Sheet<'_>, movement: &Movement, looks: &Looks) -> Written {
    heading(sheet, "From group to group", looks)?;
    header_row(sheet, &[(0, "Into"), (3, "From"), (4, "To"), (5, "Children"), (6, "Alike")], looks)?;
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

/// A heading over a block below the table.
fn heading(sheet: &mut Sheet<'_>, words: &str, looks: &Looks) -> Written {
    sheet.rows(Rows::Fixed);
    sheet.next()?;
    sheet.height(HEADING_LINE);
    sheet.text(0, words, &looks.section);
    sheet.next()?;
    sheet.rows(Rows::Fitted(TABLE_LINE));
    Ok(())
}

fn header_row(sheet: &mut Sheet<'_>, titles: &[(u16, &str)], looks: &Looks) -> Written {
    for (col, title) in titles {
        sheet.text(*col, title, &looks.header);
    }
    sheet.next()
}

/// What turned to met and back, a row a week.
fn turns(sheet: &mut Sheet<'_>, movement: &Movement, looks: &Looks) -> Written {
    if movement.state_changes.is_empty() {
        return Ok(());
    }
    heading(sheet, "Turned to met, and back", looks)?;
    let titles = [(0, "Into"), (5, "Judged"), (6, "Newly met"), (7, "No longer"), (8, "Kappa"), (9, "Up and down")];
    header_row(sheet, &titles, looks)?;
    for (week, changes) in &movement.state_changes {
        if sheet.is_full(2) {
            return Ok(());
        }
        sheet.text(0, &week.to_string(), &looks.id);
        for (col, n) in (5..).zip([changes.n, changes.newly_met, changes.no_longer_met]) {
            sheet.number(col, n as f64, &looks.count);
        }
        if let Some(kappa) = changes.kappa {
            sheet.number(8, kappa, &looks.share);
        }
        sheet.text(9, changes.says(), &looks.cell);
        sheet.next()?;
    }
    Ok(())
}

/// What people decided, a row a decision.
fn decisions(sheet: &mut Sheet<'_>, movement: &Movement, looks: &Looks) -> Written {
    let decided = movement.decided();
    if decided.is_empty() {
        return Ok(());
    }
    heading(sheet, "Decided by people", looks)?;
    for d in decided {
        if sheet.is_full(2) {
            return Ok(());
        }
        sheet.text(0, &d.week.to_string(), &looks.id);
        sheet.text(1, d.child.map_or("the group", |c| c.shown()), &looks.cell);
        sheet.text(4, &group_words(d.group), &looks.id);
        sheet.text(9, &d.words, &looks.cell);
        sheet.next()?;
    }
    Ok(())
}

/// Minutes and stay by part of the school, a sentence each.
fn parts(sheet: &mut Sheet<'_>, movement: &Movement, looks: &Looks) -> Written {
    if movement.parts.is_empty() {
        return Ok(());
    }
    heading(sheet, "Time and stay", looks)?;
    sheet.rows(Rows::Fixed);
    for part in &movement.parts {
        if sheet.is_full(2) {
            return Ok(());
        }
        sheet.long_line(&part.sentence(), COLUMNS.len(), looks)?;
    }
    Ok(())
}
