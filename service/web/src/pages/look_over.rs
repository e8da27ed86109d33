//! `/score-sheets/{id}`: how each sheet was read, before anybody plans from it; and taking it back.
//!
//! In:  one upload, read again. Out: its sheets, findings (worst first), items with what was answered, first rows.
//! A wrong answer is boxed, a missing one is said in words: never by colour.

use super::{Frame, Here, PageAnswer, html, render, see_other, text};
use crate::api::score_sheets::parse_id;
use crate::service::{Service, run};
use actix_web::{HttpRequest, web};
use askama::Template;
use sheaf_app::error::AppError;
use sheaf_app::weeks::{LookOver, Reading};
use sheaf_core::finding::{Finding, Severity};
use sheaf_core::scores::{Item, Mark, MarkState, ResponseTable};

/// Students shown of each sheet; enough to see that columns were taken for what they are.
const N_ROWS: usize = 8;

struct SheetRow {
    file: String,
    sheet: String,
    students: usize,
    items: usize,
}

struct ItemRow {
    label: String,
    key: String,
    skills: Vec<(String, String)>,
    kind: &'static str,
    points: String,
    n_scored: usize,
    n_omitted: usize,
    n_not_taken: usize,
}

struct FindingRow {
    word: &'static str,
    place: String,
    message: String,
    action: String,
}

struct StudentRow {
    id: String,
    name: String,
    homeroom: String,
    marks: Vec<(String, &'static str)>,
}

#[derive(Template)]
#[template(path = "look_over.html")]
struct LookOverPage {
    frame: Frame,
    id: i64,
    files: String,
    is_already_here: bool,
    n_students: String,
    n_items: String,
    sheets: Vec<SheetRow>,
    items: Vec<ItemRow>,
    findings: Vec<FindingRow>,
    n_to_look_at: usize,
    students: Vec<StudentRow>,
    n_more: usize,
}

/// The page.
pub(crate) async fn show(service: web::Data<Service>, request: HttpRequest, path: web::Path<String>) -> PageAnswer {
    let id = parse_id(&path)?;
    let is_already_here = request.query_string() == "already-here";
    Ok(html(run(&service, move |s| page(s, s.weeks.look_over(id)?, is_already_here)).await?))
}

/// Takes the upload back; on to the week's list.
pub(crate) async fn take_back(service: web::Data<Service>, path: web::Path<String>) -> PageAnswer {
    let id = parse_id(&path)?;
    let week = run(&service, move |s| s.weeks.take_back(id)).await?;
    Ok(see_other(format!("/score-sheets?week={week}")))
}

fn page(service: &Service, look: LookOver, is_already_here: bool) -> Result<String, AppError> {
    let Reading { inputs, mut findings, table, .. } = look.reading;
    findings.sort_by_key(|f| std::cmp::Reverse(f.severity));
    let graph = &service.weeks.knowledge().graph;
    let name_of = |item: &Item| item.skills.iter().map(|c| (c.to_string(), graph.name(c).to_owned())).collect();
    render(&LookOverPage {
        frame: Frame::new(service, Here::Sheets, "Look over", Some(look.week))?,
        id: look.id,
        files: look.file_names.join(", "),
        is_already_here,
        n_students: text::count(table.n_students(), "student"),
        n_items: text::count(table.n_items(), "item"),
        sheets: inputs
            .into_iter()
            .map(|i| SheetRow { file: i.file, sheet: i.sheet, students: i.n_students, items: i.n_items })
            .collect(),
        items: table.items().iter().enumerate().map(|(idx, item)| item_row(&table, idx, item, name_of(item))).collect(),
        n_to_look_at: findings.iter().filter(|f| f.severity != Severity::Note).count(),
        findings: findings.into_iter().map(finding_row).collect(),
        students: (0..table.n_students().min(N_ROWS)).filter_map(|idx| student_row(&table, idx)).collect(),
        n_more: table.n_students().saturating_sub(N_ROWS),
    })
}

fn item_row(table: &ResponseTable, item_idx: usize, item: &Item, skills: Vec<(String, String)>) -> ItemRow {
    let n_in = |state| (0..table.n_students()).filter(|&s| table.mark(s, item_idx).state == state).count();
    ItemRow {
        label: item.label.clone(),
        key: item.key.clone().unwrap_or_default(),
        skills,
        kind: item.kind.word(),
        points: text::points(item.points),
        n_scored: n_in(MarkState::Scored),
        n_omitted: n_in(MarkState::Omitted),
        n_not_taken: n_in(MarkState::NotTaken),
    }
}

fn finding_row(finding: Finding) -> FindingRow {
    let place = [finding.file, finding.sheet, finding.cell].into_iter().filter(|p| !p.is_empty());
    FindingRow {
        word: match finding.severity {
            Severity::Note => "Note",
            Severity::Warning => "Look at",
            Severity::Error => "Left out",
        },
        place: place.collect::<Vec<_>>().join(" · "),
        message: text::as_sentence(&finding.message),
        action: text::as_sentence(&finding.action),
    }
}

fn student_row(table: &ResponseTable, student_idx: usize) -> Option<StudentRow> {
    let student = table.students().get(student_idx)?;
    Some(StudentRow {
        id: student.id.to_string(),
        name: student.name.clone(),
        homeroom: student.homeroom.clone(),
        marks: (0..table.n_items()).map(|item| mark_shown(table.mark(student_idx, item))).collect(),
    })
}

/// What stands in a cell, and its class.
fn mark_shown(mark: &Mark) -> (String, &'static str) {
    match (mark.state, &mark.answer, mark.points) {
        (MarkState::NotTaken, ..) => ("not taken".to_owned(), "mark-none"),
        (MarkState::Omitted, ..) => ("blank".to_owned(), "mark-none"),
        (_, Some(answer), Some(0.0)) => (answer.clone(), "mark-wrong"),
        (_, Some(answer), _) => (answer.clone(), ""),
        (_, None, points) => (points.map(text::points).unwrap_or_default(), ""),
    }
}
