//! Groups and needs of a week as text files, for those who work with other tools or outside the team.
//!
//! In:  the week, how much is said of children (`names`, `ids`, `nobody`), the name of the file. Out: CSV, or the dictionary of
//! the columns as JSON, which names its files beside itself (acceptance test `groups_and_needs_come_as_text_files`).
//! Not here: what stands in them and which counts are left out (`sheaf-sheets`).

use super::ApiAnswer;
use crate::problem::Problem;
use crate::service::{Service, run};
use actix_web::http::header::CONTENT_DISPOSITION;
use actix_web::{HttpResponse, web};
use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::shared::Naming;
use sheaf_app::weeks::Week;
use utoipa::{IntoParams, ToSchema};

/// Which file of which week.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Path)]
pub(crate) struct Asked {
    /// Any day of the school week meant, as year-month-day.
    #[param(format = Date, example = "2026-02-02")]
    date: String,
    /// How much is said of children: names, ids alone, or counts alone.
    #[param(value_type = NamingWord, inline, example = "ids")]
    naming: String,
    /// Groups, needs, or what their columns mean.
    #[param(value_type = FileName, inline, example = "groups.csv")]
    file: String,
}

#[derive(ToSchema)]
#[schema(rename_all = "lowercase")]
#[allow(dead_code, reason = "only describes")]
enum NamingWord {
    Names,
    Ids,
    Nobody,
}

#[derive(ToSchema)]
#[allow(dead_code, reason = "only describes")]
enum FileName {
    #[schema(rename = "groups.csv")]
    Groups,
    #[schema(rename = "needs.csv")]
    Needs,
    #[schema(rename = "csv-metadata.json")]
    Columns,
}

/// Groups or needs as rows
///
/// For other tools and for people outside the team. The dictionary of the columns follows the W3C's metadata for tables and lies beside its
/// files.
#[utoipa::path(
    get,
    path = "/api/v1/weeks/{date}/csv/{naming}/{file}",
    operation_id = "text_file",
    tag = "weeks",
    params(Asked),
    responses(
        (status = 200, description = "The file", content((String = "text/csv"), (Object = "application/csvm+json"))),
        (status = 404, description = "No plan, or no such file", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "Not a date", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn read(service: Service, path: web::Path<Asked>) -> ApiAnswer {
    let asked = path.into_inner();
    let week = Week::parse(&asked.date)?;
    let naming = Naming::ALL.into_iter().find(|n| n.word() == asked.naming).ok_or_else(no_such_file)?;
    let file = run(&service, move |s| s.weeks.shared_file(week, naming, &asked.file)).await?;
    let file = file.ok_or_else(no_such_file)?;
    let is_rows = file.name.ends_with(".csv");
    let said = format!("attachment; filename=\"sheaf-{week}-{}-{}\"", naming.word(), file.name);
    Ok(HttpResponse::Ok()
        .content_type(if is_rows { "text/csv; charset=utf-8" } else { "application/csvm+json" })
        .insert_header((CONTENT_DISPOSITION, said))
        .body(file.bytes))
}

fn no_such_file() -> AppError {
    let what = "There is no such file: ask for names, ids or nobody, then groups.csv, needs.csv or csv-metadata.json.";
    AppError::new(ErrorKind::NotFound, "no-such-text-file", what)
}
