//! `/api`: every call of the API on one page, from the same description that scripts read.
//!
//! In:  the description. Out: an index, and of each call what it is for, its address, parameters, body, answers and a line to try it with;
//! then every shape.
//! Keeps: each call and each shape has its place, and every link on the page leads to one (`every_link_leads_to_a_place`); the key stands
//! nowhere, only its name (acceptance test `the_page_of_the_api_tells_every_call_and_no_key`).
//! Not here: what calls do (`api`), the description itself (`api::described`), what types are called (`kind`).

mod kind;
mod line;

use super::{Frame, Here, PageAnswer, html, render};
use crate::api::described;
use crate::service::{Service, run};
use askama::Template;
use kind::{Piece, Shape, pieces, sentence, shape_of};
use std::sync::OnceLock;
use utoipa::openapi::path::{Operation, Parameter, ParameterIn};
use utoipa::openapi::{OpenApi as Document, PathItem, RefOr, Required};

/// Calls about one thing.
struct Subject {
    words: String,
    calls: Vec<Call>,
}

/// One call.
struct Call {
    anchor: String,
    method: &'static str,
    address: String,
    summary: String,
    words: Vec<Piece>,
    parameters: Vec<ParameterRow>,
    body: Option<(&'static str, Vec<Piece>)>,
    answers: Vec<AnswerRow>,
    line: String,
}

/// One parameter.
struct ParameterRow {
    name: String,
    place: &'static str,
    kind: Vec<Piece>,
    words: Vec<Piece>,
}

/// One answer.
struct AnswerRow {
    status: String,
    words: Vec<Piece>,
    kind: Vec<Piece>,
}

/// Everything that the page shows beside its frame.
struct Told {
    subjects: Vec<Subject>,
    /// What any call may answer.
    anywhere: Vec<(String, String)>,
    shapes: Vec<Shape>,
}

#[derive(Template)]
#[template(path = "scripts.html")]
struct ScriptsPage {
    frame: Frame,
    told: &'static Told,
}

/// The page.
pub(crate) async fn show(service: Service) -> PageAnswer {
    let body = run(&service, |s| {
        render(&ScriptsPage { frame: Frame::new(s, Here::School, "Calls for scripts", None)?, told: told() })
    });
    Ok(html(body.await?))
}

fn told() -> &'static Told {
    static TOLD: OnceLock<Told> = OnceLock::new();
    TOLD.get_or_init(|| tell(described::document()))
}

fn tell(document: &Document) -> Told {
    let components = document.components.as_ref();
    let responses = components.into_iter().flat_map(|c| &c.responses);
    let in_words = |(name, answer): (&String, &RefOr<_>)| {
        let answer: &utoipa::openapi::Response = whole(answer)?;
        Some((status_of(document, name)?, answer.description.clone()))
    };
    let mut anywhere: Vec<(String, String)> = responses.filter_map(in_words).collect();
    anywhere.sort();
    Told {
        subjects: subjects(document),
        anywhere,
        shapes: components.into_iter().flat_map(|c| &c.schemas).map(|(name, schema)| shape_of(name, schema)).collect(),
    }
}

/// The status that a shared answer stands under.
fn status_of(document: &Document, name: &str) -> Option<String> {
    let place = format!("#/components/responses/{name}");
    let is_it = |answer: &RefOr<_>| matches!(answer, RefOr::Ref(r) if r.ref_location == place);
    let answers = document.paths.paths.values().flat_map(calls_of).flat_map(|(_, call)| &call.responses.responses);
    answers.into_iter().find(|(_, answer)| is_it(answer)).map(|(status, _)| status.clone())
}

fn subjects(document: &Document) -> Vec<Subject> {
    let all: Vec<(&String, &'static str, &Operation)> = document
        .paths
        .paths
        .iter()
        .flat_map(|(address, item)| calls_of(item).into_iter().map(move |(method, call)| (address, method, call)))
        .collect();
    let subject = |tag: &utoipa::openapi::Tag| Subject {
        words: tag.description.clone().unwrap_or_default(),
        calls: all
            .iter()
            .filter(|(_, _, call)| call.tags.iter().flatten().any(|t| *t == tag.name))
            .map(|(address, method, call)| call_of(document, address, method, call))
            .collect(),
    };
    document.tags.iter().flatten().map(subject).collect()
}

fn calls_of(item: &PathItem) -> Vec<(&'static str, &Operation)> {
    let all = [("GET", &item.get), ("POST", &item.post), ("PATCH", &item.patch), ("DELETE", &item.delete)];
    all.into_iter().filter_map(|(method, call)| Some((method, call.as_ref()?))).collect()
}

fn call_of(document: &Document, address: &str, method: &'static str, call: &Operation) -> Call {
    Call {
        anchor: call.operation_id.clone().unwrap_or_default(),
        method,
        address: address.to_owned(),
        summary: call.summary.clone().unwrap_or_default(),
        words: call.description.as_deref().map(sentence).unwrap_or_default(),
        parameters: call.parameters.iter().flatten().filter_map(whole).map(parameter).collect(),
        body: call.request_body.as_ref().and_then(whole).and_then(|body| {
            let (media, content) = body.content.iter().next()?;
            let how = if media.starts_with("multipart/") { "a form" } else { "JSON" };
            Some((how, whole(content).and_then(|c| c.schema.as_ref()).map(pieces).unwrap_or_default()))
        }),
        answers: call.responses.responses.iter().filter_map(answer).collect(),
        line: line::line(document, address, method, call),
    }
}

/// What stands in the document itself, not in another place of it.
fn whole<T>(place: &RefOr<T>) -> Option<&T> {
    match place {
        RefOr::T(whole) => Some(whole),
        RefOr::Ref(_) => None,
    }
}

fn parameter(parameter: &Parameter) -> ParameterRow {
    let is_needed = matches!(parameter.required, Required::True);
    ParameterRow {
        name: parameter.name.clone(),
        place: match (&parameter.parameter_in, is_needed) {
            (ParameterIn::Path, _) => "in the address",
            (ParameterIn::Query, true) => "after the question mark",
            (ParameterIn::Query, false) => "after the question mark, may be left out",
            (_, true) => "in the head",
            (_, false) => "in the head, may be left out",
        },
        kind: parameter.schema.as_ref().map(pieces).unwrap_or_default(),
        words: parameter.description.as_deref().map(sentence).unwrap_or_default(),
    }
}

/// What this call answers beside what any call may.
fn answer((status, answer): (&String, &RefOr<utoipa::openapi::Response>)) -> Option<AnswerRow> {
    let answer = whole(answer)?;
    let content = answer.content.iter().next();
    let kind = match content {
        Some((media, _)) if !media.contains("json") => vec![Piece::plain("a file")],
        Some((_, content)) => whole(content).and_then(|c| c.schema.as_ref()).map(pieces).unwrap_or_default(),
        None => Vec::new(),
    };
    Some(AnswerRow { status: status.clone(), words: sentence(&answer.description), kind })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_link_leads_to_a_place() {
        let told = told();
        let page = ScriptsPage { frame: Frame::bare("Calls for scripts"), told }.render().unwrap();
        let of = |start: &str| -> Vec<&str> {
            page.split(start).skip(1).map(|rest| rest.split('"').next().unwrap()).collect()
        };
        let ids = of(" id=\"");
        let places: BTreeSet<&str> = ids.iter().copied().collect();
        assert_eq!(places.len(), ids.len(), "an anchor twice");
        let links = of("href=\"#");
        assert!(links.len() > 100);
        for link in links {
            assert!(places.contains(link), "#{link}");
        }
        let n_calls: usize = told.subjects.iter().map(|s| s.calls.len()).sum();
        assert_eq!(n_calls, described::document().paths.paths.values().flat_map(calls_of).count());
    }
}
