//! Every address that Sheaf answers, in one table.
//!
//! What never changes first, for routes are tried in this order; then pages, then the API. What is not in the table is a page, or where scripts
//! call a problem, with 404; a method that an address of the table does not take is 405.
//! The guard has looked at a request before it comes here; who may use which route over TLS is in `guard::may`, line by line in this order.

use crate::{api, guard, pages, problem, static_files};
use actix_web::web::{self, ServiceConfig, delete, get, patch, post};
use actix_web::{HttpRequest, HttpResponse};

/// Largest form without files, bytes: a correction of 600 columns and as many items.
const MAX_FORM_BYTES: usize = 1024 * 1024;

/// What is static, then pages, then the API.
pub(crate) fn all(app: &mut ServiceConfig) {
    app.app_data(web::FormConfig::default().limit(MAX_FORM_BYTES))
        .route("/healthz", get().to(api::about::healthz))
        .route("/static/sheaf.css", get().to(static_files::file))
        .route("/static/sheaf.js", get().to(static_files::file))
        .route("/", get().to(pages::home::show))
        .route("/score-sheets", get().to(pages::score_sheets::list))
        .route("/score-sheets", post().to(pages::score_sheets::upload))
        .route("/score-sheets/{id}", get().to(pages::look_over::show))
        .route("/score-sheets/{id}/correct", post().to(pages::look_over::correct))
        .route("/score-sheets/{id}/confirm", post().to(pages::look_over::confirm))
        .route("/score-sheets/{id}/take-back", post().to(pages::look_over::take_back))
        .route("/groups/{date}", get().to(pages::groups::show))
        .route("/groups/{date}/plan", post().to(pages::groups::plan))
        .route("/groups/{date}/decide", get().to(pages::decide::show))
        .route("/groups/{date}/decide", post().to(pages::decide::keep))
        .route("/groups/{date}/undo", post().to(pages::decide::undo))
        .route("/groups/{date}/redo", post().to(pages::decide::redo))
        .route("/groups/{date}/{group}", get().to(pages::group::show))
        .route("/rotation/{date}", get().to(pages::rotation::show))
        .route("/rotation/{date}/roster", get().to(pages::rosters::show))
        .route("/rotation/{date}/calendar.ics", get().to(pages::rosters::calendar))
        .route("/rotation/{date}/repair", post().to(pages::rotation::repair))
        .route("/rotation/{date}/take-back", post().to(pages::rotation::take_back))
        .route("/tickets/{date}", get().to(pages::tickets::show))
        .route("/tickets/{date}/keys", get().to(pages::ticket_keys::show))
        .route("/tickets/{date}/swap", post().to(pages::swap::swap))
        .route("/tickets/{date}/undo", post().to(pages::swap::undo))
        .route("/attendance/{date}", get().to(pages::attendance::show))
        .route("/attendance/{date}", post().to(pages::attendance::keep))
        .route("/results/{date}", get().to(pages::results::show))
        .route("/results/{date}", post().to(pages::results::keep))
        .route("/movement", get().to(pages::movement::show))
        .route("/movement/memo/{date}", get().to(pages::memo::show))
        .route("/movement/memo/{date}", post().to(pages::memo::decide))
        .route("/students", get().to(pages::students::show))
        .route("/students", post().to(pages::students::hand_in))
        .route("/students/same-child", post().to(pages::students::same_child))
        .route("/students/{id}", get().to(pages::child::show))
        .route("/students/{id}/forget", post().to(pages::child::forget))
        .route("/progress/{id}", get().to(pages::work::show))
        .route("/progress/{id}/events", get().to(pages::work::events))
        .route("/progress/{id}/stop", post().to(pages::work::stop))
        .route("/school", get().to(pages::school::show))
        .route("/school/setup", get().to(pages::setup::show))
        .route("/school/setup", post().to(pages::setup::keep))
        .route("/school/setup/text", post().to(pages::setup::keep_text))
        .route("/school/setup/file", post().to(pages::setup::keep_file))
        .route("/school/setup.toml", get().to(pages::setup::file))
        .route("/school/changes", get().to(pages::changes::show))
        .route("/school/year", get().to(pages::year_end::show))
        .route("/school/year", post().to(pages::year_end::remove))
        .route("/api", get().to(pages::scripts::show))
        .route("/people", get().to(pages::people::show))
        .route("/people", post().to(pages::people::add))
        .route("/people/remove", post().to(pages::people::remove))
        .route("/people/passphrase", post().to(pages::people::set_passphrase))
        .route("/people/me", get().to(pages::people_me::show))
        .route("/people/me", post().to(pages::people_me::change))
        .route("/sign-in", get().to(pages::sign_in::show))
        .route("/sign-in", post().to(pages::sign_in::sign_in))
        .route("/sign-out", post().to(pages::sign_in::sign_out))
        .service(
            web::scope("/api/v1")
                .app_data(api::parameters())
                .route("/openapi.json", get().to(api::about::openapi))
                .route("/score-sheets", post().to(api::score_sheets::take_in))
                .route("/score-sheets/{id}", get().to(api::score_sheets::read))
                .route("/score-sheets/{id}", delete().to(api::score_sheets::take_back))
                .route("/students", post().to(api::students::take_in))
                .route("/students/{id}", get().to(api::students::read))
                .route("/students/{id}", delete().to(api::students::forget))
                .route("/movement", get().to(api::movement::read))
                .route("/weeks/{date}/plan", post().to(api::weeks::make))
                .route("/weeks/{date}/plan", get().to(api::weeks::read))
                .route("/weeks/{date}/ticket-results", post().to(api::score_sheets::take_results))
                .route("/weeks/{date}/groups", patch().to(api::weeks::overrule))
                .route("/weeks/{date}/repair", post().to(api::weeks::repair))
                .route("/weeks/{date}/attendance", post().to(api::attendance::put))
                .route("/weeks/{date}/csv/{naming}/{file}", get().to(api::text_files::read))
                .route("/weeks/{date}/workbook.xlsx", get().to(api::weeks::workbook)),
        )
        .default_service(web::to(not_there));
}

async fn not_there(request: HttpRequest) -> HttpResponse {
    problem::no_route(request.path(), &guard::methods_of(request.match_info().as_str()))
}
