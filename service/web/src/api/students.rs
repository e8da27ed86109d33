//! Students by script: hand in the list, read one student's whole record, forget a student.
//!
//! In:  a form with one file; an id. Out: counts, findings and open questions; a record; what was forgotten.
//! Not here: answering "same child?", which a person does on the page.

use super::ApiAnswer;
use crate::service::{Service, run};
use crate::upload_form::read_form;
use actix_multipart::Multipart;
use actix_web::{HttpResponse, web};
use serde_json::json;
use sheaf_app::error::{AppError, ErrorKind};

/// 200 with counts, findings and questions; the list takes the place of the last one.
pub(crate) async fn take_in(service: Service, parts: Multipart) -> ApiAnswer {
    let mut form = read_form(parts).await?;
    let file = form.scores.pop().filter(|_| form.scores.is_empty()).ok_or_else(|| {
        AppError::new(ErrorKind::Input, "no-file", "The list of students is one file, in the field named file.")
    })?;
    let answer = run(&service, move |s| {
        let findings = s.weeks.put_students(&file)?;
        let questions = s.weeks.same_child_questions()?;
        Ok(json!({
            "students": s.weeks.students()?.len(),
            "same_child": questions.iter().map(|(old, new)| json!({"old": old.as_str(), "new": new.as_str()})).collect::<Vec<_>>(),
            "findings": findings,
        }))
    });
    Ok(HttpResponse::Ok().json(answer.await?))
}

/// One student's whole record.
pub(crate) async fn read(service: Service, path: web::Path<String>) -> ApiAnswer {
    let id = path.into_inner();
    Ok(HttpResponse::Ok().json(run(&service, move |s| s.weeks.student_record(&id)).await?))
}

/// Forgets the student; 200 with counts, and with what only the school can change.
pub(crate) async fn forget(service: Service, path: web::Path<String>) -> ApiAnswer {
    let id = path.into_inner();
    let gone = run(&service, move |s| s.weeks.forget(&id)).await?;
    Ok(HttpResponse::Ok().json(json!({
        "uploads": gone.n_uploads,
        "originals_removed": gone.n_originals,
        "plans": gone.n_plans,
        "is_in_setup": gone.is_in_setup,
    })))
}
