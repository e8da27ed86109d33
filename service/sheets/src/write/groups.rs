//! `Groups`: a row a student, by group, then everyone without a seat, with the reason.
//!
//! Keeps: every student of the plan stands in exactly one row (`every_student_has_one_row_on_groups` in the tests of
//! this folder). Not here: the timetable (`rotation`), evidence on other skills (`needs`).

use super::book::{Book, shown_name};
use super::looks::Looks;
use super::page::{Paper, Reader, set_up};
use super::sheet::{Column, Sheet, Written, column};
use super::words;
use sheaf_core::plan::{Group, StudentReport, UnplacedKind};

const COLUMNS: [Column; 10] = [
    column("Group", 9.0),
    column("Id", 7.0),
    column("Name", 16.0),
    column("Grade", 7.0),
    column("Homeroom", 10.0),
    column("Target skill", 25.0),
    column("Lacks it? (points)", 13.0),
    column("Wrong idea seen (times of chances)", 27.0),
    column("Why here", 46.0),
    column("Second choice", 10.0),
];

/// Writes the sheet.
pub(super) fn write(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    set_up(sheet, book, Paper::WideFit, Reader::Staff)?;
    sheet.widths(COLUMNS.map(|c| c.width))?;
    if book.is_large() {
        sheet.usual_lines(3);
    }
    sheet.title("Groups", "One row a student. Those without a seat stand at the end, with the reason.", looks)?;
    let header_row = sheet.row();
    sheet.header(COLUMNS.map(|c| c.title), looks)?;
    for group in &book.plan.groups {
        for student in book.members(group) {
            seated(sheet, book, group, student, looks)?;
        }
    }
    for kind in [UnplacedKind::Waits, UnplacedKind::NoNeed, UnplacedKind::NoScores] {
        unplaced(sheet, book, kind, looks)?;
    }
    sheet.end_table(header_row, COLUMNS.len(), 3)
}

fn seated(sheet: &mut Sheet<'_>, book: &Book<'_>, group: &Group, student: &StudentReport, looks: &Looks) -> Written {
    who(sheet, &group.name, student, looks);
    let target = &group.target_skill;
    sheet.text(5, &book.skill_words(target), &looks.cell);
    match book.on_skill(student, target) {
        Some(report) if report.is_lacked() => {
            sheet.text(6, &format!("lacks it, {}", words::count(report)), &looks.cell_bold);
        }
        Some(report) => sheet.text(6, &format!("holds it, {}", words::count(report)), &looks.cell),
        None => sheet.text(6, "not measured", &looks.cell_faint),
    }
    sheet.text(7, &book.idea_of(student, Some(group)), &looks.cell);
    sheet.text(8, &student.why, &looks.cell);
    let second = student.second_choice.and_then(|idx| book.plan.groups.get(idx));
    sheet.text(9, second.map_or("", |g| g.name.as_str()), &looks.cell);
    sheet.next()
}

fn unplaced(sheet: &mut Sheet<'_>, book: &Book<'_>, kind: UnplacedKind, looks: &Looks) -> Written {
    for entry in book.plan.unplaced.iter().filter(|u| u.kind == kind) {
        let Some(student) = book.plan.students.get(entry.student) else { continue };
        who(sheet, words::unplaced(kind), student, looks);
        for col in [5, 6, 9] {
            sheet.blank(col, &looks.cell);
        }
        sheet.text(7, &book.idea_of(student, None), &looks.cell);
        sheet.text(8, &entry.reason, &looks.cell);
        sheet.next()?;
    }
    Ok(())
}

fn who(sheet: &mut Sheet<'_>, place: &str, student: &StudentReport, looks: &Looks) {
    sheet.text(0, place, &looks.cell_bold);
    sheet.text(1, student.id.as_str(), &looks.id);
    sheet.text(2, shown_name(student), &looks.cell);
    sheet.text(3, &student.grade, &looks.id);
    sheet.text(4, &student.homeroom, &looks.id);
}
