//! Students by script: hand in the list, read one student's whole record, forget a student.
//!
//! In:  a form with one file; an id. Out: counts, findings and open questions; a record; what was forgotten.
//! Not here: answering "same child?", which a person does on the page.

use super::ApiAnswer;
use super::described::record::StudentRecord;
use super::described::shared::{Finding, OneFileForm};
use crate::problem::Problem;
use crate::service::{Service, run};
use crate::upload_form::read_form;
use actix_multipart::Multipart;
use actix_web::{HttpResponse, web};
use serde::Serialize;
use utoipa::{IntoParams, ToSchema};

/// A list of students was taken in.
#[derive(Serialize, ToSchema)]
pub(crate) struct StudentList {
    /// Students on the list.
    students: usize,
    /// Pairs of ids that may be one child; a person answers them on the page of students.
    same_child: Vec<SameChild>,
    /// What was noticed.
    #[schema(value_type = Vec<Finding>)]
    findings: Vec<sheaf_core::finding::Finding>,
}

/// Two ids that may be one child's.
#[derive(Serialize, ToSchema)]
struct SameChild {
    /// Known before.
    old: String,
    /// On the list now.
    new: String,
}

/// A student was forgotten.
#[derive(Serialize, ToSchema)]
pub(crate) struct Forgotten {
    /// Uploads that held the student.
    uploads: usize,
    /// Uploads whose files are gone.
    originals_removed: usize,
    /// Plans that held the student.
    plans: usize,
    /// Whether the school's own setup still names the student: only the school changes that.
    is_in_setup: bool,
}

/// One student.
#[derive(IntoParams)]
#[into_params(parameter_in = Path, names("id"))]
#[allow(dead_code, reason = "only describes")]
pub(crate) struct OfStudent(
    /// The student's id; leading zeros stay.
    #[param(min_length = 1, example = "0001")]
    String,
);

/// One student who is to be forgotten.
#[derive(IntoParams)]
#[into_params(parameter_in = Path, names("id"))]
#[allow(dead_code, reason = "only describes")]
pub(crate) struct ToForget(
    /// The student's id; leading zeros stay.
    #[param(min_length = 1, example = "0002")]
    String,
);

/// Put a list of students in place of the last one
///
/// CSV or a workbook with the columns `id, name, grade, homeroom, supports`, or OneRoster CSV in a zip.
#[utoipa::path(
    post,
    path = "/api/v1/students",
    operation_id = "put_students",
    tag = "students",
    request_body(content = OneFileForm, content_type = "multipart/form-data", example = json!({
        "file": "id,name,grade,homeroom,supports\n0001,Reko V.,5,5P,\n0002,Rundi B.,5,5Q,read aloud\n"
    })),
    responses(
        (status = 200, description = "Taken in", body = StudentList),
        (status = 413, description = "The file is too large", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "No file, or no list of students in it", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn take_in(service: Service, parts: Multipart) -> ApiAnswer {
    let file = read_form(parts).await?.one_file("The list of students is one file, in the field named file.")?;
    let answer = run(&service, move |s| {
        let findings = s.weeks.put_students(&file)?;
        let questions = s.weeks.same_child_questions()?;
        let pair = |(old, new): &(_, _)| same_child(old, new);
        Ok(StudentList {
            students: s.weeks.students()?.len(),
            same_child: questions.iter().map(pair).collect(),
            findings,
        })
    });
    Ok(HttpResponse::Ok().json(answer.await?))
}

fn same_child(old: &impl ToString, new: &impl ToString) -> SameChild {
    SameChild { old: old.to_string(), new: new.to_string() }
}

/// One student's whole record
///
/// The entry in the list, every mark in every upload that counts, and the entry in every week's plan: what a family may ask to see.
#[utoipa::path(
    get,
    path = "/api/v1/students/{id}",
    operation_id = "student_record",
    tag = "students",
    params(OfStudent),
    responses(
        (status = 200, description = "The record", body = StudentRecord),
        (status = 404, description = "The records hold no such student", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn read(service: Service, path: web::Path<String>) -> ApiAnswer {
    let id = path.into_inner();
    Ok(HttpResponse::Ok().json(run(&service, move |s| s.weeks.student_record(&id)).await?))
}

/// Forget a student
///
/// Out of the list, every upload and every plan; no byte of the name stays in the records. It cannot be undone.
#[utoipa::path(
    delete,
    path = "/api/v1/students/{id}",
    operation_id = "forget_student",
    tag = "students",
    params(ToForget),
    responses(
        (status = 200, description = "What was forgotten", body = Forgotten),
        (status = 404, description = "The records hold no such student", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn forget(service: Service, path: web::Path<String>) -> ApiAnswer {
    let id = path.into_inner();
    let gone = run(&service, move |s| s.weeks.forget(&id)).await?;
    Ok(HttpResponse::Ok().json(Forgotten {
        uploads: gone.n_uploads,
        originals_removed: gone.n_originals,
        plans: gone.n_plans,
        is_in_setup: gone.is_in_setup,
    }))
}
