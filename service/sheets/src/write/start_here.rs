//! `Start here`: what the workbook is, the week in numbers, how to use it, what not to make of it, where things are.
//!
//! Keeps: each count is a count of the plan's own entries (`start_here_counts_what_the_plan_holds` in the tests of
//! this folder). The cautions are the project's own, from the law on student records and special education as
//! commonly taught in schools; they give no legal advice. Not here: the sheets themselves.

use super::book::Book;
use super::looks::Looks;
use super::page::{Paper, Reader, set_up};
use super::sheet::{Rows, Sheet, Span, Written};
use super::{LOOK_BACK, SHEETS};
use sheaf_core::finding::Severity;
use sheaf_core::plan::{Plan, UnplacedKind};

const TEXT: Span = Span { first: 1, last: 1, digits: 58, line_points: 15.75 };

const STEPS: [&str; 5] = [
    "1.  Read Findings: anything the program could not read is named there, with its cell.",
    "2.  Look over Groups. Filter by homeroom or group; each seat has its reason and a second choice.",
    "3.  Print Rotation for the wall and a Group card for each adult; a grey copier will do.",
    "4.  Print Exit tickets for the children, two-sided. Keep Answer keys with staff.",
    "5.  Fill in Attendance as groups meet and Ticket results after the tickets; empty cells are fine.",
];

const CAUTIONS: [&str; 5] = [
    "•  The groups are a suggestion to a professional who knows the children and decides.",
    "•  A wrong idea is a hint from a few answers, not a diagnosis and no measure of ability.",
    "•  Eligibility, tier, placement: the licensed school team's. A referral never waits for this.",
    "•  Read the count first and the range beside it. Under three items there is no verdict.",
    "•  Records stay on this machine unless you pass the file on: only to staff who need it.",
];

/// Writes the sheet.
pub(super) fn write(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    set_up(sheet, book, Paper::UprightOnePage, Reader::Staff)?;
    sheet.widths([26.0, 66.0])?;
    sheet.title("Groups and tickets for the week", &book.week_words(), looks)?;
    sheet.next()?;
    counts(sheet, book, looks)?;
    lines(sheet, "How to use it", &STEPS, looks)?;
    lines(sheet, "Read this with care", &CAUTIONS, looks)?;
    places(sheet, book, looks)?;
    let last_row = sheet.row();
    sheet.inner().set_print_area(0, 0, last_row, 1)?;
    sheet.inner().set_active(true);
    Ok(())
}

fn counts(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    section(sheet, "This week in numbers", looks)?;
    // Several files are several lines.
    sheet.rows(Rows::Fitted(TEXT.line_points));
    for (label, value) in figures(book.plan) {
        sheet.text(0, label, &looks.plain_label);
        sheet.text(1, &value, &looks.plain);
        sheet.next()?;
    }
    sheet.rows(Rows::Fixed);
    sheet.next()
}

/// Label and figure, in the order of the page.
fn figures(plan: &Plan) -> Vec<(&'static str, String)> {
    let of_kind = |kind| plan.unplaced.iter().filter(|u| u.kind == kind).count().to_string();
    let seated: usize = plan.groups.iter().map(|g| g.members.len()).sum();
    vec![
        ("Students", plan.students.len().to_string()),
        ("Seated in a group", seated.to_string()),
        ("Waiting for a seat", of_kind(UnplacedKind::Waits)),
        ("No need found", of_kind(UnplacedKind::NoNeed)),
        ("No scores", of_kind(UnplacedKind::NoScores)),
        ("Groups", plan.groups.len().to_string()),
        ("Findings", findings(plan)),
        ("Score sheets read", inputs(plan)),
    ]
}

fn findings(plan: &Plan) -> String {
    let of = |severity| plan.findings.iter().filter(|f| f.severity == severity).count();
    let say = |n: usize, word: &str| format!("{n} {word}{}", if n == 1 { "" } else { "s" });
    [say(of(Severity::Error), "error"), say(of(Severity::Warning), "warning"), say(of(Severity::Note), "note")]
        .join(", ")
}

fn inputs(plan: &Plan) -> String {
    const SHOWN: usize = 12;
    let mut names: Vec<String> = plan
        .inputs
        .iter()
        .take(SHOWN)
        .map(|i| if i.sheet.is_empty() { i.file.clone() } else { format!("{} ({})", i.file, i.sheet) })
        .collect();
    if plan.inputs.len() > SHOWN {
        names.push(format!("and {} more", plan.inputs.len() - SHOWN));
    }
    if names.is_empty() { "none".to_owned() } else { names.join("\n") }
}

fn section(sheet: &mut Sheet<'_>, title: &str, looks: &Looks) -> Written {
    sheet.height(22.0);
    sheet.text(0, title, &looks.section);
    sheet.next()
}

fn lines(sheet: &mut Sheet<'_>, title: &str, texts: &[&str], looks: &Looks) -> Written {
    section(sheet, title, looks)?;
    for text in texts {
        sheet.spanned(Span { first: 0, digits: 82, ..TEXT }, text, &looks.plain)?;
        sheet.next()?;
    }
    sheet.next()
}

fn places(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    section(sheet, "Where things are", looks)?;
    for entry in SHEETS.iter().skip(1).chain(book.back.map(|_| LOOK_BACK.as_slice()).unwrap_or_default()) {
        sheet.link(0, entry.name, &looks.link)?;
        sheet.text(1, entry.purpose, &looks.plain);
        sheet.next()?;
    }
    Ok(())
}
