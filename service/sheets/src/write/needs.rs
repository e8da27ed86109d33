//! `Needs`: students by skills. A cell says the count, then a mark with words, then the range.
//!
//! Keeps: a skill that was not measured for a student is an empty cell, never a zero
//! (`an_unmeasured_skill_is_an_empty_cell` in the tests of this folder); one cell a student and skill.
//! Not here: what the marks mean (`words`), items behind the counts (`items`).

use super::book::{Book, shown_name};
use super::look::Look;
use super::looks::Looks;
use super::page::{Paper, Reader, scale_to_fit, set_up};
use super::sheet::{MAX_COLUMNS, Sheet, Written, last_column};
use super::words;
use rust_xlsxwriter::{
    Chart, ChartDataLabel, ChartFormat, ChartLegendPosition, ChartLine, ChartPatternFill, ChartPatternFillType,
    ChartSolidFill, ChartType, ColNum, Color, RowNum,
};
use sheaf_core::plan::{MeasuredSkill, SkillReport, SkillState, StudentReport};

const LEADING: [(&str, f64); 4] = [("Id", 8.0), ("Name", 18.0), ("Homeroom", 10.0), ("Group", 10.0)];
/// Skills that fit on one page across at a readable size, with marks in words and with marks alone.
const SKILLS_IN_WORDS: usize = 9;
const SKILLS_ON_ONE_PAGE: usize = 16;
/// Size of the chart.
const CHART_PIXELS: (u32, u32) = (860, 320);
/// Height of a row of this sheet.
const ROW_PIXELS: u32 = 40;

/// Dark enough to copy as black.
const INK: Color = Color::RGB(0x001F_3A5F);
const LACKED: &str = "Students who lack it";
const MEASURED: &str = "Students measured";

/// How much a cell says.
#[derive(Clone, Copy)]
struct Wording {
    width: f64,
    legend: &'static [&'static str],
    cell: fn(&SkillReport) -> String,
}

const IN_WORDS: Wording = Wording { width: 19.0, legend: &words::LEGEND, cell: words::skill_cell };
const IN_MARKS: Wording = Wording { width: 11.0, legend: &words::SHORT_LEGEND, cell: words::short_skill_cell };

/// Writes the sheet.
pub(super) fn write(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    let n_skills = book.plan.skills.len().min(MAX_COLUMNS - LEADING.len());
    let skills = book.plan.skills.get(..n_skills).unwrap_or_default();
    let wording = if n_skills > SKILLS_IN_WORDS { IN_MARKS } else { IN_WORDS };
    let widths = || LEADING.iter().map(|(_, width)| *width).chain(skills.iter().map(|_| wording.width));
    // A scale and not a fit, which would override the page break before the figures.
    let paper = if n_skills > SKILLS_ON_ONE_PAGE { Paper::WideFree } else { Paper::WideScaled(scale_to_fit(widths())) };
    set_up(sheet, book, paper, Reader::Staff)?;
    sheet.widths(widths())?;
    // Every cell has its count on one line and its range on the next.
    sheet.usual_lines(2);
    sheet.title("Needs", "Who shows what on which skill.", looks)?;
    for line in wording.legend {
        sheet.line(line, looks)?;
    }
    let header_row = sheet.row();
    header(sheet, skills, looks)?;
    for student in &book.plan.students {
        row(sheet, book, student, n_skills, wording, looks)?;
    }
    sheet.end_table(header_row, LEADING.len() + n_skills, 2)?;
    lacked(sheet, book, skills, looks)?;
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

fn row(
    sheet: &mut Sheet<'_>,
    book: &Book<'_>,
    student: &StudentReport,
    n_skills: usize,
    wording: Wording,
    looks: &Looks,
) -> Written {
    let group = student.group.and_then(|idx| book.plan.groups.get(idx));
    sheet.text(0, student.id.as_str(), &looks.id);
    sheet.text(1, shown_name(student), &looks.cell);
    sheet.text(2, &student.homeroom, &looks.id);
    sheet.text(3, group.map_or("", |g| g.name.as_str()), &looks.cell);
    for report in student.profile.iter().filter(|r| r.skill < n_skills) {
        sheet.text(skill_column(report.skill), &(wording.cell)(report), look_of(report, looks));
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

/// Under the table: how many lack each skill, as figures and as bars.
fn lacked(sheet: &mut Sheet<'_>, book: &Book<'_>, skills: &[MeasuredSkill], looks: &Looks) -> Written {
    let (mut n_lacked, mut n_measured) = (vec![0_usize; skills.len()], vec![0_usize; skills.len()]);
    for report in book.plan.students.iter().flat_map(|s| &s.profile).filter(|r| r.skill < skills.len()) {
        n_lacked[report.skill] += usize::from(report.is_lacked());
        n_measured[report.skill] += 1;
    }
    if skills.is_empty() {
        return Ok(());
    }
    sheet.next()?;
    let first_row = sheet.row();
    sheet.inner().set_page_breaks(&[first_row])?;
    sheet.text(1, "Skill", &looks.cell_bold);
    for (skill_idx, skill) in skills.iter().enumerate() {
        sheet.text(skill_column(skill_idx), skill.code.as_str(), &looks.id);
    }
    sheet.next()?;
    for (label, counts) in [(LACKED, n_lacked), (MEASURED, n_measured)] {
        sheet.text(1, label, &looks.cell_bold);
        for (skill_idx, count) in counts.into_iter().enumerate() {
            sheet.number(skill_column(skill_idx), count as f64, &looks.count);
        }
        sheet.next()?;
    }
    sheet.next()?;
    bars(sheet, first_row, skills.len())
}

/// The figures as bars, told apart by their filling, so that a copier keeps them.
fn bars(sheet: &mut Sheet<'_>, first_row: RowNum, n_skills: usize) -> Written {
    let (first_col, last_col) = (skill_column(0), skill_column(n_skills - 1));
    let area = |row: RowNum| ("Needs", row, first_col, row, last_col);
    let mut chart = Chart::new(ChartType::Column);
    let hatched = ChartPatternFill::new().set_pattern(ChartPatternFillType::DiagonalStripesWideUpwards).clone();
    for (row, name) in [(first_row + 1, LACKED), (first_row + 2, MEASURED)] {
        let series = chart.add_series().set_name(name).set_categories(area(first_row)).set_values(area(row));
        series.set_gap(60).set_data_label(ChartDataLabel::new().show_value());
        let mut look = ChartFormat::new();
        look.set_border(ChartLine::new().set_color(INK));
        if name == LACKED {
            look.set_solid_fill(ChartSolidFill::new().set_color(INK));
        } else {
            look.set_pattern_fill(hatched.clone().set_foreground_color(INK).set_background_color(Color::White));
        }
        series.set_format(&mut look);
    }
    chart.title().set_name("Students who lack each skill, of those measured");
    chart.y_axis().set_major_gridlines(false).set_num_format("0");
    chart.legend().set_position(ChartLegendPosition::Bottom);
    let (width, height) = CHART_PIXELS;
    chart.set_width(width).set_height(height);
    chart
        .set_alt_text("Bars for each skill: how many students lack it, of how many measured. The figures stand above.");
    let row = sheet.row();
    sheet.inner().insert_chart(row, 1, &chart)?;
    // Rows under the chart, so that it is printed.
    for _ in 0..height.div_ceil(ROW_PIXELS) {
        sheet.next()?;
    }
    Ok(())
}

fn skill_column(skill: usize) -> ColNum {
    last_column(LEADING.len() + skill + 1)
}
