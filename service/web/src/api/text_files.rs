//! Groups and needs of a week as text files, for those who work with other tools or outside the team.
//!
//! In:  the week, how much is said of children (`names`, `ids`, `nobody`), the name of the file. Out: CSV, or the dictionary of
//! the columns as JSON, which names its files beside itself (acceptance test `groups_and_needs_come_as_text_files`).
//! Not here: what stands in them and which counts are left out (`sheaf-sheets`).

use super::ApiAnswer;
use crate::service::{Service, run};
use actix_web::http::header::CONTENT_DISPOSITION;
use actix_web::{HttpResponse, web};
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::shared::Naming;
use sheaf_app::weeks::Week;

/// One file.
pub(crate) async fn read(service: Service, path: web::Path<(String, String, String)>) -> ApiAnswer {
    let (week, naming, name) = path.into_inner();
    let week = Week::parse(&week)?;
    let naming = Naming::ALL.into_iter().find(|n| n.word() == naming).ok_or_else(no_such_file)?;
    let file = run(&service, move |s| s.weeks.shared_file(week, naming, &name)).await?.ok_or_else(no_such_file)?;
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
