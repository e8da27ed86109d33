//! Who was there, by script: an attendance sheet for a week.
//!
//! In:  a form with one file. Out: 201 with what was noticed. A mark sent again replaces the one before.

use super::ApiAnswer;
use super::described::shared::{Finding, OfWeek, OneFileForm};
use crate::problem::Problem;
use crate::service::{Service, run};
use crate::upload_form::read_form;
use actix_multipart::Multipart;
use actix_web::{HttpResponse, web};
use serde::Serialize;
use sheaf_app::weeks::Week;
use utoipa::ToSchema;

/// Attendance was noted.
#[derive(Serialize, ToSchema)]
pub(crate) struct AttendanceNoted {
    /// Monday of the week.
    #[schema(format = Date)]
    week: String,
    /// What was noticed.
    #[schema(value_type = Vec<Finding>)]
    findings: Vec<sheaf_core::finding::Finding>,
}

/// Note who was there
///
/// A row a student, a column a session or day: present, absent, late, or minutes. Sessions with a date go to the week of their date, the
/// others to this week; a mark sent again takes the place of the one before.
#[utoipa::path(
    post,
    path = "/api/v1/weeks/{date}/attendance",
    operation_id = "note_attendance",
    tag = "weeks",
    params(OfWeek),
    request_body(content = OneFileForm, content_type = "multipart/form-data", example = json!({
        "file": "id,name,Mon,Tue\n0001,Reko V.,present,absent\n0002,Rundi B.,20,present\n"
    })),
    responses(
        (status = 201, description = "Noted", body = AttendanceNoted),
        (status = 413, description = "The file is too large", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "Not a date, no file, or no attendance in it", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn put(service: Service, path: web::Path<String>, parts: Multipart) -> ApiAnswer {
    let week = Week::parse(&path)?;
    let file = read_form(parts).await?.one_file("send one attendance sheet as the field file")?;
    let findings = run(&service, move |s| s.weeks.put_attendance(week, &file)).await?;
    Ok(HttpResponse::Created().json(AttendanceNoted { week: week.to_string(), findings }))
}
