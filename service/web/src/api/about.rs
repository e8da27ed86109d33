//! Whether the service is well, and what its API takes.
//!
//! Not here: how the description is made (`described`), the page that shows it (`pages::scripts`).

use super::{ApiAnswer, described};
use crate::service::{House, aside};
use actix_web::{HttpResponse, web};
use serde::Serialize;
use utoipa::ToSchema;

/// The service is well.
#[derive(Serialize, ToSchema)]
pub(crate) struct Health {
    #[schema(example = "ok")]
    status: &'static str,
}

/// Whether the records answer
///
/// The one address that needs no key: it says nothing else.
#[utoipa::path(
    get,
    path = "/healthz",
    operation_id = "health",
    tag = "service",
    security(()),
    responses((status = 200, description = "The records answer", body = Health))
)]
pub(crate) async fn healthz(house: web::Data<House>) -> ApiAnswer {
    let weeks = house.weeks.clone();
    aside(move || weeks.answers()).await?;
    Ok(HttpResponse::Ok().json(Health { status: "ok" }))
}

/// This description
#[utoipa::path(
    get,
    path = "/api/v1/openapi.json",
    operation_id = "description",
    tag = "service",
    responses((status = 200, description = "OpenAPI 3.1", body = Object))
)]
pub(crate) async fn openapi() -> ApiAnswer {
    Ok(HttpResponse::Ok().content_type("application/json").body(described::json()?))
}
