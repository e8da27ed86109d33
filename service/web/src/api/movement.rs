//! Movement across weeks, by script: the same value as the command prints.
//!
//! In:  `?from=DATE&to=DATE`, each left out: all planned weeks. Out: `sheaf.movement/1`.

use super::ApiAnswer;
use crate::service::{Service, run};
use actix_web::{HttpResponse, web};
use serde::Deserialize;
use sheaf_app::error::AppError;
use sheaf_app::weeks::Week;
use sheaf_core::movement::movement_json;

/// `?from=DATE&to=DATE`.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    from: Option<String>,
    to: Option<String>,
}

/// Movement of these weeks.
pub(crate) async fn read(service: Service, asked: web::Query<Asked>) -> ApiAnswer {
    let week = |text: &Option<String>| text.as_deref().filter(|t| !t.is_empty()).map(Week::parse).transpose();
    let (from, to) = (week(&asked.from)?, week(&asked.to)?);
    let text = run(&service, move |s| movement_json(&s.weeks.movement(from, to)?).map_err(AppError::our_fault));
    Ok(HttpResponse::Ok().content_type("application/json").body(text.await?))
}
