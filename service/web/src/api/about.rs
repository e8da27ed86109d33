//! Whether the service is well, and what its API takes.
//!
//! The description is kept by hand in `openapi.json`; a test holds it to the table of routes
//! (`the_description_is_json_and_names_each_call`).

use super::ApiAnswer;
use crate::service::{House, aside};
use actix_web::{HttpResponse, web};
use serde_json::json;

const OPENAPI: &str = include_str!("openapi.json");

/// 200 when the store answers. The one address that needs no token: it says nothing else.
pub(crate) async fn healthz(house: web::Data<House>) -> ApiAnswer {
    let weeks = house.weeks.clone();
    aside(move || weeks.answers()).await?;
    Ok(HttpResponse::Ok().json(json!({"status": "ok"})))
}

/// The description of the API.
pub(crate) async fn openapi() -> HttpResponse {
    HttpResponse::Ok().content_type("application/json").body(OPENAPI)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    #[test]
    fn the_description_is_json_and_names_each_call() {
        let document: Value = serde_json::from_str(OPENAPI).unwrap();
        let routes = include_str!("../routes.rs");
        let paths = document["paths"].as_object().unwrap();
        for (path, calls) in paths {
            let inside = path.strip_prefix("/api/v1").unwrap_or(path);
            // Beside its verbs a path lists parameters that all of them share.
            for verb in calls.as_object().unwrap().keys().filter(|k| *k != "parameters") {
                assert!(routes.contains(&format!("\"{inside}\", {verb}()")), "{verb} {path}");
            }
        }
        let api = routes.split_once("scope(\"/api/v1\")").unwrap().1.split_once("\n        )").unwrap().0;
        for route in api.split(".route(\"").skip(1) {
            let (inside, rest) = route.split_once("\", ").unwrap();
            let verb = rest.split_once("()").unwrap().0;
            let path = if inside == "/openapi.json" { continue } else { format!("/api/v1{inside}") };
            assert!(document["paths"][&path][verb].is_object(), "{verb} {path} is not described");
        }
    }
}
