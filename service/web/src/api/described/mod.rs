//! The description of the API, OpenAPI 3.1: made once, from what stands beside each handler and from the shapes in this folder.
//!
//! Out: the document, as a value for the page that shows it and as text. What any call may answer is added to each call here, so that it
//! stands in one place.
//! Keeps: 1. a call for each route and the other way round (`every_route_is_described_and_nothing_else`)
//!        2. real answers are as described (acceptance test `every_answer_of_the_demo_school_is_as_described`)
//! Not here: how the description is shown (`pages::scripts`). Source: OpenAPI Specification 3.1.0.

pub(crate) mod movement;
pub(crate) mod plan;
pub(crate) mod record;
pub(crate) mod shared;
mod ticket;
mod timetable;

use super::{about, attendance, score_sheets, students, text_files, weeks};
use crate::problem::Problem;
use sheaf_app::error::AppError;
use std::sync::OnceLock;
use utoipa::openapi::path::Operation;
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::openapi::{ContentBuilder, OpenApi as Document, Ref, RefOr, Response, ResponseBuilder};
use utoipa::{Modify, OpenApi};

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Sheaf",
        version = "1",
        description = "The weekly job by script, on the machine that Sheaf runs on. Send `Authorization: Bearer KEY` with the key of the \
                       address that Sheaf printed. Errors are `application/problem+json` (RFC 9457) with a code that never changes its \
                       meaning. A known address that does not take a method answers 405 and names those it takes in `Allow`."
    ),
    paths(
        score_sheets::take_in,
        score_sheets::read,
        score_sheets::take_back,
        score_sheets::take_results,
        weeks::make,
        weeks::read,
        weeks::overrule,
        weeks::repair,
        weeks::workbook,
        text_files::read,
        attendance::put,
        students::take_in,
        students::read,
        students::forget,
        super::movement::read,
        about::healthz,
        about::openapi
    ),
    security(("key" = [])),
    tags(
        (name = "score sheets", description = "What students answered goes in"),
        (name = "weeks", description = "A week is planned, changed and handed out"),
        (name = "students", description = "The list, one student's record, forgetting"),
        (name = "movement", description = "Week upon week"),
        (name = "service", description = "The service itself")
    ),
    components(schemas(Problem)),
    modifiers(&AnyCall)
)]
struct Api;

/// What any call may answer: status, name in the document, meaning. The last is said by every call but `/healthz`, which asks for no key.
const ANY_CALL: [(&str, &str, &str); 6] = [
    ("403", "OtherOrigin", "The request came from a page of another origin, or the role may not"),
    ("408", "TooSlow", "The request took longer than two minutes to arrive"),
    ("421", "WrongHost", "Another name than the address that Sheaf printed"),
    ("500", "OurFault", "A fault of Sheaf; the records are as they were"),
    ("503", "RecordsBusy", "The records do not answer just now; try again"),
    ("401", "NotLetIn", "No key, or another one"),
];

/// Adds the key and what any call may answer.
struct AnyCall;

impl Modify for AnyCall {
    fn modify(&self, document: &mut Document) {
        let components = document.components.get_or_insert_default();
        let key = HttpBuilder::new()
            .scheme(HttpAuthScheme::Bearer)
            .description(Some("The key of the printed address"))
            .build();
        components.add_security_scheme("key", SecurityScheme::Http(key));
        for (_, name, meaning) in ANY_CALL {
            components.responses.insert(name.to_owned(), RefOr::T(problem(meaning)));
        }
        for (path, item) in &mut document.paths.paths {
            let asks_for_key = path != "/healthz";
            let calls = [&mut item.get, &mut item.post, &mut item.patch, &mut item.delete];
            calls.into_iter().flatten().for_each(|call| add_answers(call, asks_for_key));
        }
    }
}

fn add_answers(call: &mut Operation, asks_for_key: bool) {
    for (status, name, _) in ANY_CALL.iter().filter(|(status, ..)| asks_for_key || *status != "401") {
        let answer = RefOr::Ref(Ref::from_response_name(*name));
        call.responses.responses.insert((*status).to_owned(), answer);
    }
}

fn problem(meaning: &str) -> Response {
    let content = ContentBuilder::new().schema(Some(Ref::from_schema_name("Problem"))).build();
    ResponseBuilder::new().description(meaning).content("application/problem+json", content).build()
}

/// The document.
pub(crate) fn document() -> &'static Document {
    static DOCUMENT: OnceLock<Document> = OnceLock::new();
    DOCUMENT.get_or_init(Api::openapi)
}

/// The document as text.
///
/// # Errors
/// [`AppError`] of kind our fault where it cannot be written.
pub(crate) fn json() -> Result<&'static str, AppError> {
    static JSON: OnceLock<Result<String, String>> = OnceLock::new();
    let text = JSON.get_or_init(|| document().to_pretty_json().map_err(|e| e.to_string()));
    text.as_deref().map_err(AppError::our_fault)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;
    use std::collections::BTreeSet;

    fn described() -> Value {
        serde_json::from_str(json().unwrap()).unwrap()
    }

    /// Method and path of each call of the document.
    fn calls(document: &Value) -> BTreeSet<String> {
        let paths = document["paths"].as_object().unwrap();
        let of = |(path, item): (&String, &Value)| -> Vec<String> {
            item.as_object().unwrap().keys().map(|method| format!("{} {path}", method.to_uppercase())).collect()
        };
        paths.iter().flat_map(of).collect()
    }

    #[test]
    fn every_route_is_described_and_nothing_else() {
        let routes = crate::guard::routes().filter(|(_, path)| path.starts_with("/api/v1/") || *path == "/healthz");
        let routes: BTreeSet<String> = routes.map(|(method, path)| format!("{method} {path}")).collect();
        assert!(routes.len() > 15);
        assert_eq!(calls(&described()), routes);
    }

    #[test]
    fn every_call_says_what_it_is_for_and_what_it_answers() {
        let document = described();
        assert_eq!(document["openapi"], "3.1.0");
        for (path, item) in document["paths"].as_object().unwrap() {
            for (method, call) in item.as_object().unwrap() {
                assert!(!call["summary"].as_str().unwrap().is_empty(), "{method} {path}");
                let answers = call["responses"].as_object().unwrap();
                assert!(answers.keys().any(|status| status.starts_with('2')), "{method} {path}");
                assert_eq!(answers.contains_key("401"), path != "/healthz", "{method} {path}");
            }
        }
    }

    #[test]
    fn every_reference_leads_somewhere() {
        let document = described();
        let text = json().unwrap();
        let places: Vec<&str> =
            text.split("\"$ref\": \"#").skip(1).map(|rest| rest.split('"').next().unwrap()).collect();
        assert!(places.len() > 50);
        for place in places {
            assert!(document.pointer(place).is_some(), "{place}");
        }
    }
}
