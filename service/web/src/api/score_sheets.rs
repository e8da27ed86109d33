//! Score sheets by script: take in, read what was understood, take back.
//!
//! In:  a form with files, the week, whether to keep. Out: counts and findings, with the id where something is kept.
//! Keeps: the same bytes for the same week answer 200 with the same id (acceptance test
//! `the_same_bytes_for_the_same_week_keep_their_id`).

use super::ApiAnswer;
use crate::service::{Service, run};
use crate::upload_form::{UploadForm, read_form};
use actix_multipart::Multipart;
use actix_web::http::header::LOCATION;
use actix_web::{HttpResponse, web};
use serde::Deserialize;
use serde_json::{Value, json};
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{Keeping, Reading, Taken, Week};

/// `?week=DATE[&dry_run=true]`.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    week: Option<String>,
    dry_run: Option<String>,
}

/// 201 with the new id, 200 where the same bytes were there already or nothing is to be kept.
pub(crate) async fn take_in(service: Service, asked: web::Query<Asked>, parts: Multipart) -> ApiAnswer {
    let keeping = keeping(asked.dry_run.as_deref())?;
    let form = read_form(parts).await?;
    let week = Week::parse(asked.week.as_deref().or(form.week.as_deref()).unwrap_or_default())?;
    keep(&service, week, form, keeping).await
}

/// The same for results of exit tickets, whose week stands in the address: form codes find their tickets.
pub(crate) async fn take_results(service: Service, path: web::Path<String>, parts: Multipart) -> ApiAnswer {
    let week = Week::parse(&path)?;
    keep(&service, week, read_form(parts).await?, Keeping::Keep).await
}

async fn keep(service: &Service, week: Week, form: UploadForm, keeping: Keeping) -> ApiAnswer {
    let taken = run(service, move |s| s.weeks.take_in(week, form.scores, form.items, keeping)).await?;
    Ok(match taken.taken {
        Taken::New(id) => HttpResponse::Created()
            .insert_header((LOCATION, format!("/api/v1/score-sheets/{id}")))
            .json(shown(Some(id), week, &taken.reading)),
        Taken::AlreadyHere(id) => HttpResponse::Ok().json(shown(Some(id), week, &taken.reading)),
        Taken::LookedAt => HttpResponse::Ok().json(shown(None, week, &taken.reading)),
    })
}

/// What was understood of one upload.
pub(crate) async fn read(service: Service, path: web::Path<String>) -> ApiAnswer {
    let id = parse_id(&path)?;
    let look = run(&service, move |s| s.weeks.look_over(id)).await?;
    Ok(HttpResponse::Ok().json(shown(Some(id), look.week, &look.reading)))
}

/// 204; the upload and a plan made from it are gone.
pub(crate) async fn take_back(service: Service, path: web::Path<String>) -> ApiAnswer {
    let id = parse_id(&path)?;
    run(&service, move |s| s.weeks.take_back(id)).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// An id as the address has it; anything else names no upload.
pub(crate) fn parse_id(text: &str) -> Result<i64, AppError> {
    text.parse().map_err(|_| AppError::new(ErrorKind::NotFound, "no-such-upload", "there is no such upload"))
}

fn keeping(dry_run: Option<&str>) -> Result<Keeping, AppError> {
    match dry_run {
        None | Some("false") => Ok(Keeping::Keep),
        Some("true") => Ok(Keeping::LookOnly),
        Some(_) => Err(AppError::new(ErrorKind::Input, "dry-run-not-understood", "dry_run is true or false")),
    }
}

fn shown(id: Option<i64>, week: Week, reading: &Reading) -> Value {
    json!({
        "id": id.map(|id| id.to_string()),
        "week": week.to_string(),
        "students": reading.table.n_students(),
        "items": reading.table.n_items(),
        "input": reading.inputs.iter().map(|i| json!({
            "file": i.file, "sha256": i.sha256, "sheet": i.sheet, "students": i.n_students, "items": i.n_items,
        })).collect::<Vec<_>>(),
        "findings": reading.findings,
    })
}
