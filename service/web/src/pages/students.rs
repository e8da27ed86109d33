//! `/students`: the list with its supports, a form for a new one, and "same child?".
//!
//! A form that fails comes back with the reason beside its field
//! (acceptance test `a_list_that_cannot_be_read_is_said_beside_its_field`); what was noticed is shown once, after handing in.
//! Not here: which names are alike (`sheaf-app`).

use super::findings::{FindingRow, finding_rows};
use super::{Frame, Here, PageAnswer, html, html_with, render, see_other, text};
use crate::problem::status_of;
use crate::service::{Service, run};
use crate::upload_form::read_form;
use actix_multipart::Multipart;
use actix_web::web;
use askama::Template;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{Forgotten, SameChild};
use sheaf_core::finding::Finding;
use sheaf_core::roster::{Student, StudentId};

struct Question {
    old: String,
    new: String,
    old_words: String,
    new_words: String,
}

#[derive(Template)]
#[template(path = "students.html")]
struct StudentsPage {
    frame: Frame,
    students: Vec<Student>,
    n_students: String,
    questions: Vec<Question>,
    findings: Vec<FindingRow>,
    taken_words: Option<String>,
    file_error: Option<String>,
}

/// What happened just now.
enum Handed {
    Nothing,
    Taken(Vec<Finding>),
    /// A child was forgotten.
    Forgotten(Forgotten),
    Refused(AppError),
}

/// The page.
pub(crate) async fn show(service: Service) -> PageAnswer {
    Ok(html(run(&service, |s| page(s, Handed::Nothing)).await?))
}

/// Takes a list in; the page again, with what was noticed or what is wrong.
pub(crate) async fn hand_in(service: Service, parts: Multipart) -> PageAnswer {
    let file = match read_form(parts).await {
        Ok(mut form) => form.scores.pop().ok_or_else(no_file),
        Err(error) => Err(error),
    };
    let taken = match file {
        Ok(file) => run(&service, move |s| s.weeks.put_students(&file)).await,
        Err(error) => Err(error),
    };
    match taken {
        Ok(findings) => Ok(html(run(&service, |s| page(s, Handed::Taken(findings))).await?)),
        Err(e) if matches!(e.kind, ErrorKind::Input | ErrorKind::TooLarge) => {
            let status = status_of(e.kind);
            Ok(html_with(status, run(&service, |s| page(s, Handed::Refused(e))).await?))
        }
        Err(e) => Err(e.into()),
    }
}

/// The page after a child was forgotten, with what went.
pub(super) fn after_forgetting(service: &Service, gone: Forgotten) -> Result<String, AppError> {
    page(service, Handed::Forgotten(gone))
}

/// What went with a child, and what only the school can change.
fn forgotten_words(gone: Forgotten) -> String {
    let went = format!(
        "The child is forgotten, out of {} and {}; {} that named the child went whole.",
        text::count(gone.n_uploads, "upload"),
        text::count(gone.n_plans, "plan"),
        text::count(gone.n_originals, "original"),
    );
    let left = if gone.is_in_setup { " The setup still names the child: take the id out there." } else { "" };
    format!("{went}{left}")
}

/// Keeps an answer to "same child?".
pub(crate) async fn same_child(service: Service, form: web::Form<Vec<(String, String)>>) -> PageAnswer {
    let fields = form.into_inner();
    run(&service, move |s| {
        let value = |name: &str| fields.iter().find(|(n, _)| n == name).map_or("", |(_, v)| v.as_str());
        let answer = match value("answer") {
            "same" => SameChild::Same,
            "different" => SameChild::Different,
            _ => return Err(AppError::new(ErrorKind::Input, "answer-missing", "Choose one of the two answers.")),
        };
        s.weeks.answer_same_child(value("old"), value("new"), answer)
    })
    .await?;
    Ok(see_other("/students".to_owned()))
}

fn no_file() -> AppError {
    AppError::new(ErrorKind::Input, "no-file", "No list was chosen; choose a file.")
}

fn page(service: &Service, handed: Handed) -> Result<String, AppError> {
    let students = service.weeks.students()?;
    let questions = service.weeks.same_child_questions()?;
    let (findings, taken_words, file_error) = match handed {
        Handed::Nothing => (Vec::new(), None, None),
        Handed::Taken(findings) => {
            (findings, Some(format!("Taken in: {}.", text::count(students.len(), "student"))), None)
        }
        Handed::Forgotten(gone) => (Vec::new(), Some(forgotten_words(gone)), None),
        Handed::Refused(error) => (Vec::new(), None, Some(text::as_sentence(&error.message))),
    };
    render(&StudentsPage {
        frame: Frame::new(service, Here::Students, "Students", None)?,
        n_students: text::count(students.len(), "student"),
        questions: questions
            .iter()
            .map(|(old, new)| question(service, &students, old, new))
            .collect::<Result<_, _>>()?,
        students,
        findings: finding_rows(findings),
        taken_words,
        file_error,
    })
}

fn question(service: &Service, students: &[Student], old: &StudentId, new: &StudentId) -> Result<Question, AppError> {
    let words = |id: &StudentId| -> Result<String, AppError> {
        let listed = students.iter().find(|s| s.id == *id);
        let name = match listed {
            Some(student) => student.name.clone(),
            None => service.weeks.name_in_sheets(id)?,
        };
        let class = listed.map(|s| s.homeroom.as_str()).filter(|h| !h.is_empty());
        let parts = [Some(name.as_str()).filter(|n| !n.is_empty()), Some(id.as_str()), class];
        Ok(parts.into_iter().flatten().collect::<Vec<_>>().join(", "))
    };
    Ok(Question { old: old.to_string(), new: new.to_string(), old_words: words(old)?, new_words: words(new)? })
}
