//! A week by script: make its plan, read it, repair it while somebody is out, fetch the staff workbook.
//!
//! The plan goes out as it was kept, byte for byte, with a tag that changes with each plan of the week
//! (acceptance test `a_week_goes_in_is_planned_and_comes_out_as_a_workbook`).

use super::ApiAnswer;
use crate::service::{Service, run};
use actix_web::http::header::{CONTENT_DISPOSITION, ETAG, IF_MATCH};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{Decision, Week};
use sheaf_app::workbook::Form;

/// Media type of a workbook.
fn media_type(form: Form) -> &'static str {
    match form {
        Form::Plain => "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        Form::Macros => "application/vnd.ms-excel.sheet.macroEnabled.12",
    }
}

/// `?seed=N`; left out: the last plan's seed.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    seed: Option<String>,
}

/// Makes the week's plan and gives it.
pub(crate) async fn make(service: Service, path: web::Path<String>, asked: web::Query<Asked>) -> ApiAnswer {
    let week = Week::parse(&path)?;
    let seed = parse_seed(asked.seed.as_deref())?;
    let plan = run(&service, move |s| s.weeks.plan_week(week, seed)).await?;
    Ok(plan_answer(plan.published.clone(), &plan.tag))
}

/// Gives the week's plan as it was handed out.
pub(crate) async fn read(service: Service, path: web::Path<String>) -> ApiAnswer {
    let week = Week::parse(&path)?;
    let (published, tag) = run(&service, move |s| s.weeks.published_plan(week)).await?;
    Ok(plan_answer(published, &tag))
}

/// Who is out, each `WHO@WHEN`; and a reason to keep beside it.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Without {
    without: Vec<String>,
    #[serde(default)]
    reason: String,
}

/// Issues the days of those who are out anew, and gives the whole plan.
pub(crate) async fn repair(service: Service, path: web::Path<String>, body: web::Bytes) -> ApiAnswer {
    let week = Week::parse(&path)?;
    let asked: Without = serde_json::from_slice(&body).map_err(|e| {
        let what = format!("Send JSON such as {{\"without\": [\"Teacher B@mon-1\"]}}: {e}.");
        AppError::new(ErrorKind::Input, "form-broken", what)
    })?;
    let (published, tag) = run(&service, move |s| s.weeks.repair(week, &asked.without, &asked.reason)).await?;
    Ok(plan_answer(published, &tag))
}

/// Another seat for a child, another target for a group or another item on a ticket, on the plan that `If-Match` names; gives the whole plan.
pub(crate) async fn overrule(
    service: Service,
    path: web::Path<String>,
    request: HttpRequest,
    body: web::Bytes,
) -> ApiAnswer {
    let week = Week::parse(&path)?;
    let tag = request.headers().get(IF_MATCH).and_then(|v| v.to_str().ok()).unwrap_or_default().to_owned();
    let decision: Decision = serde_json::from_slice(&body).map_err(|_| {
        let what = "Send JSON such as {\"student\": \"0417\", \"to\": \"g2\", \"reason\": \"\", \"hold\": true} or \
                    {\"group\": \"g2\", \"target_skill\": \"4.NF.A.1\", \"reason\": \"\"} or \
                    {\"group\": \"g2\", \"form\": \"A\", \"item\": 3, \"swap\": \"another\"}.";
        AppError::new(ErrorKind::Input, "form-broken", what)
    })?;
    let (published, tag) = run(&service, move |s| s.weeks.overrule(week, &tag, decision)).await?;
    Ok(plan_answer(published, &tag))
}

/// The staff workbook of the week's plan.
pub(crate) async fn workbook(service: Service, path: web::Path<String>) -> ApiAnswer {
    let week = Week::parse(&path)?;
    let book = run(&service, move |s| s.weeks.workbook(week)).await?;
    let name = format!("attachment; filename=\"sheaf-{week}.{}\"", book.form.ending());
    Ok(HttpResponse::Ok()
        .content_type(media_type(book.form))
        .insert_header((CONTENT_DISPOSITION, name))
        .body(book.bytes))
}

fn plan_answer(published: String, tag: &str) -> HttpResponse {
    HttpResponse::Ok().content_type("application/json").insert_header((ETAG, tag)).body(published)
}

fn parse_seed(text: Option<&str>) -> Result<Option<u64>, AppError> {
    text.map(|t| {
        t.parse().map_err(|_| AppError::new(ErrorKind::Input, "seed-not-a-number", "the seed is a whole number"))
    })
    .transpose()
}
