//! `/score-sheets/{id}`: how each sheet was read, before it counts; correcting, confirming, replacing, taking back.
//!
//! In:  one upload and how it was read. Out: its state and the one button that goes on, findings (worst first), the sheets
//! with a plain control for each choice, items with theirs, first rows as read.
//! A wrong answer is boxed, a missing one is said in words: never by colour. Controls work without script; a form that fails
//! comes back with what was typed and the reason beside its field
//! (acceptance test `a_correction_that_fails_keeps_what_was_typed`).
//! Not here: what a form means (`form`), the sheets' tables (`sheet_view`), what would change (`change_view`).

mod change_view;
mod form;
mod sheet_view;

use super::findings::{FindingRow, finding_rows};
use super::{Frame, Here, PageAnswer, html, html_with, render, see_other, text};
use crate::api::score_sheets::parse_id;
use crate::problem::status_of;
use crate::service::{Service, run};
use actix_web::{HttpRequest, web};
use askama::Template;
use change_view::{ChangeView, change_view};
use form::{Answers, Typed};
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{LookOver, Standing};
use sheaf_core::finding::Severity;
use sheaf_core::scores::{Mark, MarkState, ResponseTable};
use sheet_view::{ItemRow, LeftOutView, SheetView, item_rows, left_out_views, sheet_views};

/// Students shown as they were read; enough to see that columns were taken for what they are.
const N_ROWS: usize = 10;

struct StudentRow {
    id: String,
    name: String,
    homeroom: String,
    marks: Vec<(String, &'static str)>,
}

/// What may be done now.
#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    Waiting,
    Counted,
    Replaced,
}

#[derive(Template)]
#[template(path = "look_over.html")]
struct LookOverPage {
    frame: Frame,
    id: i64,
    files: String,
    state: State,
    replaced_by: i64,
    is_already_here: bool,
    has_originals: bool,
    can_correct: bool,
    /// Nothing of it could be read yet.
    is_unread: bool,
    n_students: String,
    n_items: String,
    changes: Vec<ChangeView>,
    findings: Vec<FindingRow>,
    n_to_look_at: usize,
    sheets: Vec<SheetView>,
    left_out: Vec<LeftOutView>,
    items: Vec<ItemRow>,
    students: Vec<StudentRow>,
    n_more: usize,
    ideas: Vec<(String, String)>,
    skills: Vec<(String, String)>,
    form_error: Option<String>,
}

/// The page.
pub(crate) async fn show(service: Service, request: HttpRequest, path: web::Path<String>) -> PageAnswer {
    let id = parse_id(&path)?;
    let is_already_here = request.query_string() == "already-here";
    Ok(html(run(&service, move |s| page(s, &s.weeks.look_over(id)?, is_already_here, &Answers::default())).await?))
}

/// Reads the sheets anew with what was typed; here again, or here again with the reason.
pub(crate) async fn correct(
    service: Service,
    path: web::Path<String>,
    form: web::Form<Vec<(String, String)>>,
) -> PageAnswer {
    let id = parse_id(&path)?;
    let typed: Typed = form.into_inner().into_iter().collect();
    let again = run(&service, move |s| {
        let look = s.weeks.look_over(id)?;
        let answers = form::read(&look, typed, &s.weeks.knowledge().graph);
        let answers = match answers {
            Ok((corrections, typed)) => match s.weeks.correct(id, &corrections) {
                Ok(()) => return Ok(None),
                Err(e) if e.kind == ErrorKind::Input => Answers::failed(&look, typed, &e),
                Err(e) => return Err(e),
            },
            Err(answers) => answers,
        };
        Ok(Some(page(s, &look, false, &answers)?))
    });
    Ok(match again.await? {
        None => see_other(format!("/score-sheets/{id}#sheets")),
        Some(body) => html_with(status_of(ErrorKind::Input), body),
    })
}

/// Lets the upload count, in place of another where the form says so; on to planning or to the week's list.
pub(crate) async fn confirm(
    service: Service,
    path: web::Path<String>,
    form: web::Form<Vec<(String, String)>>,
) -> PageAnswer {
    let id = parse_id(&path)?;
    let value = |name: &str| form.iter().find(|(n, _)| n == name).map(|(_, v)| v.as_str()).filter(|v| !v.is_empty());
    let in_place_of = value("in-place-of").map(parse_id).transpose()?;
    let then_plan = value("then") == Some("plan");
    let week = run(&service, move |s| s.weeks.confirm(id, in_place_of)).await?;
    if then_plan {
        super::groups::plan_now(&service, week).await
    } else {
        Ok(see_other(format!("/score-sheets?week={week}")))
    }
}

/// Takes the upload back; on to the week's list.
pub(crate) async fn take_back(service: Service, path: web::Path<String>) -> PageAnswer {
    let id = parse_id(&path)?;
    let week = run(&service, move |s| s.weeks.take_back(id)).await?;
    Ok(see_other(format!("/score-sheets?week={week}")))
}

fn page(service: &Service, look: &LookOver, is_already_here: bool, answers: &Answers) -> Result<String, AppError> {
    let knowledge = service.weeks.knowledge();
    let table = &look.reading.table;
    let findings = look.reading.findings.clone();
    let (state, replaced_by) = match look.standing {
        Standing::Waiting => (State::Waiting, 0),
        Standing::Counted => (State::Counted, 0),
        Standing::ReplacedBy(by) => (State::Replaced, by),
    };
    render(&LookOverPage {
        frame: Frame::new(service, Here::Sheets, "Look over", Some(look.week))?,
        id: look.id,
        files: look.file_names.join(", "),
        state,
        replaced_by,
        is_already_here,
        has_originals: look.has_originals,
        is_unread: table.n_students() == 0,
        can_correct: state == State::Waiting && look.has_originals,
        n_students: text::count(table.n_students(), "student"),
        n_items: text::count(table.n_items(), "item"),
        changes: look.may_replace.iter().map(change_view).collect(),
        n_to_look_at: findings.iter().filter(|f| f.severity != Severity::Note).count(),
        findings: finding_rows(findings),
        sheets: sheet_views(look, answers),
        left_out: left_out_views(look, answers),
        items: item_rows(table, &knowledge.graph, answers),
        students: (0..table.n_students().min(N_ROWS)).filter_map(|idx| student_row(table, idx)).collect(),
        n_more: table.n_students().saturating_sub(N_ROWS),
        ideas: knowledge.catalogue.iter().map(|p| (p.code.clone(), p.idea.clone())).collect(),
        skills: knowledge.graph.iter().map(|s| (s.code.to_string(), s.name.clone())).collect(),
        form_error: answers.error.clone(),
    })
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
