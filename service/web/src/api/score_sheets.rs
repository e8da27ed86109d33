//! Score sheets by script: take in, read what was understood, take back.
//!
//! In:  a form with files, the week, whether to keep. Out: counts and findings, with the id where something is kept.
//! Keeps: the same bytes for the same week answer 200 with the same id (acceptance test
//! `the_same_bytes_for_the_same_week_keep_their_id`).

use super::ApiAnswer;
use super::described::shared::{Finding, Input, OfWeek, SheetsForm};
use crate::problem::Problem;
use crate::service::{Service, run};
use crate::upload_form::{UploadForm, read_form};
use actix_multipart::Multipart;
use actix_web::http::header::LOCATION;
use actix_web::{HttpResponse, web};
use serde::{Deserialize, Serialize};
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{Keeping, Reading, Taken, Week};
use utoipa::{IntoParams, ToSchema};

/// `?week=DATE[&dry_run=true]`.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct Asked {
    /// Any day of the week meant; it may stand in the form as the field `week` instead.
    #[param(value_type = String, required = false, format = Date, example = "2026-02-02")]
    week: Option<String>,
    /// True: read and answer, keep nothing.
    #[param(value_type = bool, required = false)]
    dry_run: Option<String>,
}

/// One upload.
#[derive(IntoParams)]
#[into_params(parameter_in = Path, names("id"))]
#[allow(dead_code, reason = "only describes")]
pub(crate) struct OfUpload(
    /// Id of the upload.
    #[param(pattern = "^[1-9][0-9]{0,17}$", example = "1")]
    String,
);

/// One upload that may go.
#[derive(IntoParams)]
#[into_params(parameter_in = Path, names("id"))]
#[allow(dead_code, reason = "only describes")]
pub(crate) struct OfUploadToGo(
    /// Id of the upload.
    #[param(pattern = "^[1-9][0-9]{0,17}$", example = "3")]
    String,
);

/// What was understood of an upload.
#[derive(Serialize, ToSchema)]
pub(crate) struct Upload {
    /// Finds it again; null where nothing was kept.
    #[schema(required, example = "1")]
    id: Option<String>,
    /// Monday of its week.
    #[schema(format = Date)]
    week: String,
    /// Students in all its sheets.
    students: usize,
    /// Items in all its sheets.
    items: usize,
    /// Its sheets.
    input: Vec<Input>,
    /// What was noticed.
    #[schema(value_type = Vec<Finding>)]
    findings: Vec<sheaf_core::finding::Finding>,
}

/// Take score sheets in for a week
///
/// They count at once. `dry_run=true` shows how they are read and keeps nothing.
#[utoipa::path(
    post,
    path = "/api/v1/score-sheets",
    operation_id = "take_score_sheets_in",
    tag = "score sheets",
    params(Asked),
    request_body(content = SheetsForm, content_type = "multipart/form-data", example = json!({
        "file": [",skill,5.NF.B.5a,5.NF.B.5a,5.NF.B.5a\nid,name,Q1,Q2,Q3\n0001,Reko V.,1,0,1\n0002,Rundi B.,0,0,1\n"]
    })),
    responses(
        (status = 201, description = "Kept", body = Upload, headers(("Location" = String, description = "Where the upload is"))),
        (status = 200, description = "The same bytes were here for this week, under the same id; or nothing was to be kept", body = Upload),
        (status = 400, description = "A parameter that the call does not take, or one twice", body = Problem, content_type = "application/problem+json"),
        (status = 413, description = "More than 50 MiB, or more than 24 files", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "Not a date, no file, or no scores in it", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn take_in(service: Service, asked: web::Query<Asked>, parts: Multipart) -> ApiAnswer {
    let keeping = keeping(asked.dry_run.as_deref())?;
    let form = read_form(parts).await?;
    let week = Week::parse(asked.week.as_deref().or(form.week.as_deref()).unwrap_or_default())?;
    keep(&service, week, form, keeping).await
}

/// Take in results of exit tickets
///
/// The staff workbook itself, its sheet of results, or any sheet with a column of form codes, which find the tickets' keys. They count for the
/// week in the address: as a rule the one after the tickets.
#[utoipa::path(
    post,
    path = "/api/v1/weeks/{date}/ticket-results",
    operation_id = "take_ticket_results_in",
    tag = "score sheets",
    params(OfWeek),
    request_body(content = SheetsForm, content_type = "multipart/form-data", example = json!({
        "file": ["Ticket results\nId,Form code,Item 1,Item 2,Item 3,Item 4,Item 5\n0001,K7M2,A,B,A,C,D\n"]
    })),
    responses(
        (status = 201, description = "Kept", body = Upload, headers(("Location" = String, description = "Where the upload is"))),
        (status = 200, description = "The same bytes were here for this week, under the same id", body = Upload),
        (status = 413, description = "More than 50 MiB, or more than 24 files", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "Not a date, no file, or no results in it", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn take_results(service: Service, path: web::Path<String>, parts: Multipart) -> ApiAnswer {
    let week = Week::parse(&path)?;
    keep(&service, week, read_form(parts).await?, Keeping::Keep).await
}

async fn keep(service: &Service, week: Week, form: UploadForm, keeping: Keeping) -> ApiAnswer {
    let taken = run(service, move |s| s.weeks.take_in(week, form.scores, form.items, keeping)).await?;
    Ok(match taken.taken {
        Taken::New(id) => HttpResponse::Created()
            .insert_header((LOCATION, format!("/api/v1/score-sheets/{id}")))
            .json(shown(Some(id), week, taken.reading)),
        Taken::AlreadyHere(id) => HttpResponse::Ok().json(shown(Some(id), week, taken.reading)),
        Taken::LookedAt => HttpResponse::Ok().json(shown(None, week, taken.reading)),
    })
}

/// What was understood of one upload
#[utoipa::path(
    get,
    path = "/api/v1/score-sheets/{id}",
    operation_id = "score_sheets",
    tag = "score sheets",
    params(OfUpload),
    responses(
        (status = 200, description = "The upload", body = Upload),
        (status = 404, description = "There is no such upload", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn read(service: Service, path: web::Path<String>) -> ApiAnswer {
    let id = parse_id(&path)?;
    let look = run(&service, move |s| s.weeks.look_over(id)).await?;
    Ok(HttpResponse::Ok().json(shown(Some(id), look.week, look.reading)))
}

/// Take an upload back
///
/// A plan made from it goes with it; the plan before comes back where its uploads are still here.
#[utoipa::path(
    delete,
    path = "/api/v1/score-sheets/{id}",
    operation_id = "take_score_sheets_back",
    tag = "score sheets",
    params(OfUploadToGo),
    responses(
        (status = 204, description = "Gone"),
        (status = 404, description = "There is no such upload", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn take_back(service: Service, path: web::Path<String>) -> ApiAnswer {
    let id = parse_id(&path)?;
    run(&service, move |s| s.weeks.take_back(id)).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// An id as the address has it; anything else, another spelling of it too, names no upload.
pub(crate) fn parse_id(text: &str) -> Result<i64, AppError> {
    let id = text.parse().ok().filter(|id: &i64| *id > 0 && id.to_string() == text);
    id.ok_or_else(|| AppError::new(ErrorKind::NotFound, "no-such-upload", "there is no such upload"))
}

fn keeping(dry_run: Option<&str>) -> Result<Keeping, AppError> {
    match dry_run {
        None | Some("false") => Ok(Keeping::Keep),
        Some("true") => Ok(Keeping::LookOnly),
        Some(_) => Err(AppError::new(ErrorKind::Input, "dry-run-not-understood", "dry_run is true or false")),
    }
}

fn shown(id: Option<i64>, week: Week, reading: Reading) -> Upload {
    Upload {
        id: id.map(|id| id.to_string()),
        week: week.to_string(),
        students: reading.table.n_students(),
        items: reading.table.n_items(),
        input: reading.inputs.into_iter().map(Input::from).collect(),
        findings: reading.findings,
    }
}
