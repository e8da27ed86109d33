//! A week by script: make its plan, read it, repair it while somebody is out, fetch the staff workbook.
//!
//! The plan goes out as it was kept, byte for byte, with a tag that changes with each plan of the week
//! (acceptance test `a_week_goes_in_is_planned_and_comes_out_as_a_workbook`).
//! Not here: what a decision may be sent as (`decision`).

use super::ApiAnswer;
use super::decision::DecisionSent;
use super::described::plan::Plan;
use super::described::shared::{OfWeek, SheetBytes};
use crate::problem::Problem;
use crate::service::{Service, run};
use crate::unchanged::short_digest;
use actix_web::http::header::{CONTENT_DISPOSITION, ETAG, IF_MATCH};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::Week;
use sheaf_app::workbook::Form;
use utoipa::{IntoParams, ToSchema};

/// Media type of a workbook.
fn media_type(form: Form) -> &'static str {
    match form {
        Form::Plain => "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        Form::Macros => "application/vnd.ms-excel.sheet.macroEnabled.12",
    }
}

/// `?seed=N`; left out: the last plan's seed.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct Asked {
    /// Starts the search elsewhere; the same seed and sheets give the same plan. Left out: the seed of the last plan.
    #[param(value_type = u64, required = false, format = "uint64", minimum = 0, maximum = 18446744073709551615u64)]
    seed: Option<String>,
}

/// Make the week's plan
///
/// From all its score sheets that count: groups with their reasons, the rotation, exit tickets. What people decided on the plan before stays.
#[utoipa::path(
    post,
    path = "/api/v1/weeks/{date}/plan",
    operation_id = "make_plan",
    tag = "weeks",
    params(OfWeek, Asked),
    responses(
        (status = 200, description = "The plan", body = Plan, headers(("ETag" = String, description = "Changes with each plan of the week"))),
        (status = 400, description = "A parameter that the call does not take, or one twice", body = Problem, content_type = "application/problem+json"),
        (status = 404, description = "The week has no score sheets", body = Problem, content_type = "application/problem+json"),
        (status = 409, description = "Score sheets came or went meanwhile", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "Not a date or not a seed; or no group can be formed, or fixed limits clash", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn make(service: Service, path: web::Path<String>, asked: web::Query<Asked>) -> ApiAnswer {
    let week = Week::parse(&path)?;
    let seed = parse_seed(asked.seed.as_deref())?;
    let plan = run(&service, move |s| s.weeks.plan_week(week, seed)).await?;
    Ok(plan_answer(plan.published.clone(), &plan.tag))
}

/// The week's plan as it was handed out
#[utoipa::path(
    get,
    path = "/api/v1/weeks/{date}/plan",
    operation_id = "plan",
    tag = "weeks",
    params(
        OfWeek,
        ("If-None-Match" = Option<String>, Header, description = "The `ETag` of an answer that is at hand: if it still is the answer, there is no body (304)", example = "\"2026-02-02.1\""),
    ),
    responses(
        (status = 200, description = "The plan", body = Plan, headers(("ETag" = String, description = "Changes with each plan of the week"))),
        (status = 304, description = "The plan is still the one that bears the tag of If-None-Match"),
        (status = 404, description = "The week has no plan", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "Not a date", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn read(service: Service, path: web::Path<String>) -> ApiAnswer {
    let week = Week::parse(&path)?;
    let (published, tag) = run(&service, move |s| s.weeks.published_plan(week)).await?;
    Ok(plan_answer(published, &tag))
}

/// Who is out, and why.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"without": ["Teacher B@mon-1"], "reason": "at the dentist"}))]
pub(crate) struct Without {
    /// Each `WHO@WHEN`: a name of staff or of a room, or a student's id; a block or a day, Mon to Fri.
    #[schema(min_items = 1)]
    without: Vec<String>,
    /// Kept beside it.
    #[serde(default)]
    reason: String,
}

/// Issue a day anew while somebody is out
///
/// With as few changes as possible; sessions that change are marked, all others stay as they were.
#[utoipa::path(
    post,
    path = "/api/v1/weeks/{date}/repair",
    operation_id = "repair_day",
    tag = "weeks",
    params(OfWeek),
    request_body = Without,
    responses(
        (status = 200, description = "The plan with the day issued anew", body = Plan, headers(("ETag" = String, description = "Changes with each plan of the week"))),
        (status = 404, description = "The week has no plan", body = Problem, content_type = "application/problem+json"),
        (status = 409, description = "Another plan came meanwhile", body = Problem, content_type = "application/problem+json"),
        (status = 413, description = "The body is too long", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "Not a date, or nobody of that name in the plan", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn repair(service: Service, path: web::Path<String>, body: web::Bytes) -> ApiAnswer {
    let week = Week::parse(&path)?;
    let asked: Without = serde_json::from_slice(&body).map_err(|e| {
        let what = format!("Send JSON such as {{\"without\": [\"Teacher B@mon-1\"]}}: {e}.");
        AppError::new(ErrorKind::Input, "form-broken", what)
    })?;
    let (published, tag) = run(&service, move |s| s.weeks.repair(week, &asked.without, &asked.reason)).await?;
    Ok(plan_answer(published, &tag))
}

/// Decide otherwise than the plan
///
/// Another seat for a child, another target for a group, or another item on a ticket. Nobody else moves, and the reason stands beside the seat.
#[utoipa::path(
    patch,
    path = "/api/v1/weeks/{date}/groups",
    operation_id = "decide",
    tag = "weeks",
    params(
        OfWeek,
        ("If-Match" = String, Header, description = "The `ETag` of the plan that was looked at", example = "\"2026-02-02.1\""),
    ),
    request_body = DecisionSent,
    responses(
        (status = 200, description = "The plan with the decision", body = Plan, headers(("ETag" = String, description = "Changes with each plan of the week"))),
        (status = 404, description = "The week has no plan", body = Problem, content_type = "application/problem+json"),
        (status = 409, description = "The plan cannot be made again as it was: make it anew first", body = Problem, content_type = "application/problem+json"),
        (status = 412, description = "If-Match is missing, or the plan was changed since", body = Problem, content_type = "application/problem+json"),
        (status = 413, description = "The body is too long", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "Not a date, no decision, or it names what the plan does not have", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn overrule(
    service: Service,
    path: web::Path<String>,
    request: HttpRequest,
    body: web::Bytes,
) -> ApiAnswer {
    let week = Week::parse(&path)?;
    let tag = request.headers().get(IF_MATCH).and_then(|v| v.to_str().ok()).unwrap_or_default().to_owned();
    let decision = DecisionSent::parse(&body)?;
    let (published, tag) = run(&service, move |s| s.weeks.overrule(week, &tag, decision.into())).await?;
    Ok(plan_answer(published, &tag))
}

/// The staff workbook of the week's plan
///
/// Where the scores came from one workbook it is that file with sheets added and all else as it was; a file with macros stays one.
#[utoipa::path(
    get,
    path = "/api/v1/weeks/{date}/workbook.xlsx",
    operation_id = "workbook",
    tag = "weeks",
    params(OfWeek),
    responses(
        (status = 200, description = "The workbook", content(
            (SheetBytes = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
            (SheetBytes = "application/vnd.ms-excel.sheet.macroEnabled.12"),
        )),
        (status = 404, description = "The week has no plan", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "Not a date", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn workbook(service: Service, path: web::Path<String>) -> ApiAnswer {
    let week = Week::parse(&path)?;
    let book = run(&service, move |s| s.weeks.workbook(week)).await?;
    let name = format!("attachment; filename=\"sheaf-{week}.{}\"", book.form.ending());
    Ok(HttpResponse::Ok()
        .content_type(media_type(book.form))
        .insert_header((CONTENT_DISPOSITION, name))
        .body(book.bytes))
}

/// The tag names the revision, which decisions are made on, and the text: forgetting a child changes the text alone.
fn plan_answer(published: String, tag: &str) -> HttpResponse {
    let tag = format!("{}-{}\"", tag.trim_end_matches('"'), short_digest(published.as_bytes()));
    HttpResponse::Ok().content_type("application/json").insert_header((ETAG, tag)).body(published)
}

fn parse_seed(text: Option<&str>) -> Result<Option<u64>, AppError> {
    let number = |t: &str| t.parse().ok().filter(|_| t.bytes().all(|b| b.is_ascii_digit()));
    let no_number = || AppError::new(ErrorKind::Input, "seed-not-a-number", "the seed is a whole number");
    text.map(|t| number(t).ok_or_else(no_number)).transpose()
}
