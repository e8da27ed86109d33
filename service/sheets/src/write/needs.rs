//! `Needs`: students by skills. A cell says the count, then a mark with words, then the range.
//!
//! Keeps: a skill that was not measured for a student is an empty cell, never a zero
//! (`an_unmeasured_skill_is_an_empty_cell` in the tests of this folder); one cell a student and skill.
//! Not here: what the marks mean (`words`), items behind the counts (`items`).

use super::book::{Book, shown_name};
use super::look::Look;
use super::looks::Looks;
use super::page::{Paper, Reader, set_up};
use super::sheet::{MAX_COLUMNS, Sheet, Written, last_column};
use super::words;
use rust_xlsxwriter::ColNum;
use sheaf_core::plan::{MeasuredSkill, SkillReport, SkillState, StudentReport};

const LEADING: [(&str, f64); 4] = [("Id", 8.0), ("Name", 18.0), ("Homeroom", 10.0), ("Group", 10.0)];
const SKILL_WIDTH: f64 = 19.0;
/// Skills that fit on one page across at a readable size.
const SKILLS_ON_ONE_PAGE: usize = 9;

/// Writes the sheet.
pub(super) fn write(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    let n_skills = book.plan.skills.len().min(MAX_COLUMNS - LEADING.len());
    let skills = book.plan.skills.get(..n_skills).unwrap_or_default();
    let paper = if n_skills > SKILLS_ON_ONE_PAGE { Paper::WideFree } else { Paper::WideFit };
    set_up(sheet, book, paper, Reader::Staff)?;
    sheet.widths(LEADING.iter().map(|(_, width)| *width).chain(skills.iter().map(|_| SKILL_WIDTH)))?;
    // Every cell has its count on one line and its range on the next.
    sheet.usual_lines(2);
    sheet.title("Needs", "Who shows what on which skill.", looks)?;
    for line in words::LEGEND {
        sheet.line(line, looks)?;
    }
    let header_row = sheet.row();
    header(sheet, skills, looks)?;
    for student in &book.plan.students {
        row(sheet, book, student, n_skills, looks)?;
    }
    sheet.end_table(header_row, LEADING.len() + n_skills, 2)?;
    lacked(sheet, book, n_skills, looks)?;
    if paper == Paper::WideFree {
        sheet.inner().set_repeat_columns(0, 1)?;
    }
    let (last_row, last_col) = (sheet.row() - 1, last_column(LEADING.len() + n_skills));
    sheet.inner().set_print_area(0, 0, last_row, last_col)?;
    Ok(())
}

fn header(sheet: &mut Sheet<'_>, skills: &[MeasuredSkill], looks: &Looks) -> Written {
    let titles = skills.iter().map(|skill| {
        let name = if skill.name == skill.code.as_str() { "" } else { &skill.name };
        let items = format!("{} item{}", skill.n_items, if skill.n_items == 1 { "" } else { "s" });
        [skill.code.as_str(), name, &items].iter().filter(|t| !t.is_empty()).copied().collect::<Vec<_>>().join("\n")
    });
    let all: Vec<String> = LEADING.iter().map(|(title, _)| (*title).to_owned()).chain(titles).collect();
    sheet.header(all.iter().map(String::as_str), looks)
}

fn row(sheet: &mut Sheet<'_>, book: &Book<'_>, student: &StudentReport, n_skills: usize, looks: &Looks) -> Written {
    let group = student.group.and_then(|idx| book.plan.groups.get(idx));
    sheet.text(0, student.id.as_str(), &looks.id);
    sheet.text(1, shown_name(student), &looks.cell);
    sheet.text(2, &student.homeroom, &looks.id);
    sheet.text(3, group.map_or("", |g| g.name.as_str()), &looks.cell);
    for report in student.profile.iter().filter(|r| r.skill < n_skills) {
        sheet.text(skill_column(report.skill), &words::skill_cell(report), look_of(report, looks));
    }
    sheet.next()
}

fn look_of<'l>(report: &SkillReport, looks: &'l Looks) -> &'l Look {
    match report.state {
        _ if report.is_lacked() => &looks.cell_bold,
        SkillState::NotEnough => &looks.cell_faint,
        _ => &looks.cell,
    }
}

/// Under the table: how many lack each skill.
fn lacked(sheet: &mut Sheet<'_>, book: &Book<'_>, n_skills: usize, looks: &Looks) -> Written {
    let mut n_lacked = vec![0_usize; n_skills];
    let mut n_measured = vec![0_usize; n_skills];
    for report in book.plan.students.iter().flat_map(|s| &s.profile).filter(|r| r.skill < n_skills) {
        n_measured[report.skill] += 1;
        n_lacked[report.skill] += usize::from(report.is_lacked());
    }
    sheet.next()?;
    sheet.text(0, "Students who lack the skill, of those measured", &looks.note);
    for skill in 0..n_skills {
        let shown = format!("{} of {}", n_lacked[skill], n_measured[skill]);
        sheet.text(skill_column(skill), &shown, &looks.cell_bold);
    }
    sheet.next()
}

fn skill_column(skill: usize) -> ColNum {
    last_column(LEADING.len() + skill + 1)
}
