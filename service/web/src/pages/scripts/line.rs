//! The line that tries a call out on a terminal: `curl` with the key by its name, the call's own examples filled in.
//!
//! In:  a call of the description. Out: one line for a shell; `$SHEAF` is the printed address, `$KEY` its key.
//! Keeps: `a_line_is_whole`. Not here: the key itself, which stands nowhere.

use super::whole;
use utoipa::openapi::path::{Operation, Parameter, ParameterIn};
use utoipa::openapi::schema::Schema;
use utoipa::openapi::{OpenApi as Document, RefOr};

/// The line.
pub(super) fn line(document: &Document, address: &str, method: &str, call: &Operation) -> String {
    let mut words = vec!["curl".to_owned()];
    if call.responses.responses.contains_key("401") {
        words.push("-H \"Authorization: Bearer $KEY\"".to_owned());
    }
    if method != "GET" {
        words.push(format!("-X {method}"));
    }
    for (name, example) in examples(call, &ParameterIn::Header) {
        words.push(format!("-H '{name}: {example}'"));
    }
    words.extend(body(document, call));
    let is_file = call.responses.responses.get("200").is_some_and(
        |answer| matches!(answer, RefOr::T(a) if a.content.keys().next().is_some_and(|media| !media.contains("json"))),
    );
    if is_file {
        words.push("-OJ".to_owned());
    }
    words.push(format!("\"$SHEAF{}\"", filled(address, call)));
    words.join(" ")
}

/// The address with the examples in it.
fn filled(address: &str, call: &Operation) -> String {
    let in_path = examples(call, &ParameterIn::Path).into_iter();
    let address = in_path.fold(address.to_owned(), |text, (name, value)| text.replace(&format!("{{{name}}}"), &value));
    let query: Vec<String> =
        examples(call, &ParameterIn::Query).into_iter().map(|(name, value)| format!("{name}={value}")).collect();
    if query.is_empty() { address } else { format!("{address}?{}", query.join("&")) }
}

/// Names and examples of the parameters in one place.
fn examples(call: &Operation, place: &ParameterIn) -> Vec<(String, String)> {
    let parameters = call.parameters.iter().flatten().filter_map(whole).filter(|p| p.parameter_in == *place);
    // The field itself is not to be had.
    let example = |p: &Parameter| Some(serde_json::to_value(p).ok()?.get("example")?.as_str()?.to_owned());
    parameters.filter_map(|p| Some((p.name.clone(), example(p)?))).collect()
}

fn body(document: &Document, call: &Operation) -> Vec<String> {
    let Some((media, content)) = call.request_body.as_ref().and_then(whole).and_then(|b| b.content.iter().next())
    else {
        return Vec::new();
    };
    if media.starts_with("multipart/") {
        return vec!["-F file=@FILE".to_owned()];
    }
    let Some(RefOr::Ref(place)) = whole(content).and_then(|c| c.schema.as_ref()) else { return Vec::new() };
    let name = place.ref_location.rsplit('/').next().unwrap_or_default();
    let shape = document.components.as_ref().and_then(|c| c.schemas.get(name));
    let example = match shape {
        Some(RefOr::T(Schema::Object(object))) => object.example.as_ref(),
        Some(RefOr::T(Schema::OneOf(one))) => one.example.as_ref(),
        _ => None,
    };
    vec![
        format!("-H 'Content-Type: {media}'"),
        format!("-d '{}'", example.map(ToString::to_string).unwrap_or_default()),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::api::described;
    use utoipa::openapi::PathItem;

    fn lines() -> Vec<String> {
        let document = described::document();
        let of = |(address, item): (&String, &PathItem)| {
            let calls = super::super::calls_of(item);
            calls.into_iter().map(|(method, call)| line(document, address, method, call)).collect::<Vec<_>>()
        };
        document.paths.paths.iter().flat_map(of).collect()
    }

    #[test]
    fn a_line_is_whole() {
        let lines = lines();
        for wanted in [
            "curl \"$SHEAF/healthz\"",
            "curl -H \"Authorization: Bearer $KEY\" -X POST -F file=@FILE \"$SHEAF/api/v1/score-sheets?week=2026-02-02\"",
            "curl -H \"Authorization: Bearer $KEY\" -OJ \"$SHEAF/api/v1/weeks/2026-02-02/workbook.xlsx\"",
        ] {
            assert!(lines.iter().any(|l| l == wanted), "{wanted} is not among {lines:#?}");
        }
        let decide = lines.iter().find(|l| l.contains("-X PATCH")).unwrap();
        assert!(
            decide.contains("-H 'If-Match: \"2026-02-02.1\"'")
                && decide.contains("-d '{")
                && decide.contains("\"to\":\"g2\"")
        );
        assert!(lines.iter().all(|l| !l.contains(['{', '}']) || l.contains(" -d '{")), "{lines:#?}");
    }
}
