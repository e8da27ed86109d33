//! Movement across weeks, by script: the same value as the command prints.
//!
//! In:  `?from=DATE&to=DATE`, each left out or empty: all planned weeks. Out: `sheaf.movement/1`.

use super::ApiAnswer;
use super::described::movement::Movement;
use crate::problem::Problem;
use crate::service::{Service, run};
use actix_web::{HttpResponse, web};
use serde::Deserialize;
use sheaf_app::error::AppError;
use sheaf_app::weeks::Week;
use sheaf_core::movement::movement_json;
use utoipa::IntoParams;
use utoipa::openapi::schema::{KnownFormat, OneOfBuilder, Schema, SchemaFormat, Type};
use utoipa::openapi::{ObjectBuilder, RefOr};

/// `?from=DATE&to=DATE`.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(crate) struct Asked {
    /// Any day of the first week; left out or empty: the first planned.
    #[param(required = false, schema_with = day_or_nothing, example = "2026-02-02")]
    from: Option<String>,
    /// Any day of the last week; left out or empty: the last planned.
    #[param(required = false, schema_with = day_or_nothing, example = "2026-03-02")]
    to: Option<String>,
}

fn day_or_nothing() -> RefOr<Schema> {
    let text = || ObjectBuilder::new().schema_type(Type::String);
    let day = text().format(Some(SchemaFormat::KnownFormat(KnownFormat::Date)));
    OneOfBuilder::new().item(day).item(text().max_length(Some(0))).into()
}

/// Who moved, who is stuck, who has met it
///
/// Movement across the planned weeks: a verdict and growth for each child, moves between groups, and what chance alone would show.
#[utoipa::path(
    get,
    path = "/api/v1/movement",
    operation_id = "movement",
    tag = "movement",
    params(
        Asked,
        ("If-None-Match" = Option<String>, Header, description = "The `ETag` of an answer that is at hand: if it still is the answer, there is no body (304)", example = "\"0f1e2d3c4b5a69788796a5b4\""),
    ),
    responses(
        (status = 200, description = "The planned weeks together", body = Movement, headers(("ETag" = String, description = "Changes with the answer"))),
        (status = 304, description = "The answer is still the one that bears the tag of If-None-Match"),
        (status = 400, description = "A parameter that the call does not take, or one twice", body = Problem, content_type = "application/problem+json"),
        (status = 404, description = "No week of these is planned", body = Problem, content_type = "application/problem+json"),
        (status = 422, description = "Not a date, or the first week after the last", body = Problem, content_type = "application/problem+json"),
    )
)]
pub(crate) async fn read(service: Service, asked: web::Query<Asked>) -> ApiAnswer {
    let week = |text: &Option<String>| text.as_deref().filter(|t| !t.is_empty()).map(Week::parse).transpose();
    let (from, to) = (week(&asked.from)?, week(&asked.to)?);
    let text = run(&service, move |s| movement_json(&s.weeks.movement(from, to)?).map_err(AppError::our_fault));
    Ok(HttpResponse::Ok().content_type("application/json").body(text.await?))
}
