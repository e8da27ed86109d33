//! The style sheet and the script, from inside the binary.
//!
//! Two names and no folder, so no path leads out of it (acceptance test `odd_paths_lead_nowhere`).

use actix_web::http::header::CACHE_CONTROL;
use actix_web::{HttpRequest, HttpResponse};

const CSS: &[u8] = include_bytes!("../static/sheaf.css");
const SCRIPT: &[u8] = include_bytes!("../static/sheaf.js");

/// Answers `/static/sheaf.css` and `/static/sheaf.js`; there is no other name, and no folder to climb out of.
pub(crate) async fn file(request: HttpRequest) -> HttpResponse {
    let (bytes, kind) = match request.path() {
        "/static/sheaf.css" => (CSS, "text/css; charset=utf-8"),
        _ => (SCRIPT, "text/javascript; charset=utf-8"),
    };
    HttpResponse::Ok().content_type(kind).insert_header((CACHE_CONTROL, "no-cache")).body(bytes)
}
