//! Who was there, by script: an attendance sheet for a week.
//!
//! In:  a form with one file. Out: 201 with what was noticed. A mark sent again replaces the one before.

use super::ApiAnswer;
use crate::service::{Service, run};
use crate::upload_form::read_form;
use actix_multipart::Multipart;
use actix_web::{HttpResponse, web};
use serde_json::json;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::Week;

/// Adds an attendance sheet to the week.
pub(crate) async fn put(service: Service, path: web::Path<String>, parts: Multipart) -> ApiAnswer {
    let week = Week::parse(&path)?;
    let mut files = read_form(parts).await?.scores.into_iter();
    let (Some(file), None) = (files.next(), files.next()) else {
        return Err(AppError::new(ErrorKind::Input, "no-file", "send one attendance sheet as the field file").into());
    };
    let findings = run(&service, move |s| s.weeks.put_attendance(week, &file)).await?;
    Ok(HttpResponse::Created().json(json!({"week": week.to_string(), "findings": findings})))
}
