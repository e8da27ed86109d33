//! Every file of `fixtures/broken/` reads as its expectation says, cell by cell.
//!
//! In:  the files, and `expected.json`, which was made from the defects and not from what the reader answers. Out: one claim for each
//! student, item, mark, finding or refusal that differs, all of them at once. No file without an entry, no entry without a file.
//! How marks and findings are written: `fixtures/broken/expect.py`.

use super::*;
use serde_json::Value;
use sheaf_core::scores::{Item, Mark, MarkState};
use std::collections::BTreeSet;
use std::path::PathBuf;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/broken")
}

fn expected() -> serde_json::Map<String, Value> {
    let text = std::fs::read_to_string(folder().join("expected.json")).unwrap();
    let Value::Object(entries) = serde_json::from_str(&text).unwrap() else { panic!("an entry for each file") };
    entries
}

fn file_names() -> BTreeSet<String> {
    let names = std::fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap());
    names
        .filter(|entry| entry.file_type().unwrap().is_file())
        .map(|entry| entry.file_name().into_string().unwrap())
        .filter(|name| !name.ends_with(".py") && name != "expected.json")
        .collect()
}

#[test]
fn every_file_has_an_expectation_and_every_expectation_a_file() {
    let files = file_names();
    let entries: BTreeSet<String> = expected().keys().cloned().collect();
    assert!(files.len() > 100, "{} files were found", files.len());
    let apart: Vec<&String> = files.symmetric_difference(&entries).collect();
    assert!(apart.is_empty(), "without a file or without an entry: {apart:?}");
}

#[test]
fn every_broken_sheet_reads_as_its_expectation_says() {
    let graph = SkillGraph::builtin().unwrap();
    let mut claims = Vec::new();
    for (name, entry) in &expected() {
        let Ok(bytes) = std::fs::read(folder().join(name)) else { continue };
        let source = [SourceFile { name, bytes: &bytes }];
        let read = read_score_sheets(&ReadRequest::new(&source, &graph));
        claims.extend(differences(entry, read).into_iter().map(|claim| format!("{name}: {claim}")));
    }
    assert!(claims.is_empty(), "{} claims differ:\n{}", claims.len(), claims.join("\n"));
}

/// What differs between an entry and what was read.
fn differences(entry: &Value, read: Result<Reading, ReadError>) -> Vec<String> {
    match (entry["refused"].as_str(), read) {
        (Some(code), Err(error)) => unlike("the refusal", code, error.code),
        (Some(code), Ok(_)) => vec![format!("it is read, and should be refused as {code}")],
        (None, Err(error)) => vec![format!("it is refused: {error}")],
        (None, Ok(reading)) => {
            let mut claims = students_differ(&entry["students"], &reading);
            claims.extend(items_differ(&entry["items"], reading.table.items()));
            if claims.is_empty() {
                claims.extend(marks_differ(&entry["marks"], &reading.table));
            }
            claims.extend(findings_differ(&entry["findings"], &reading.findings));
            claims.extend(rest_differs(entry, &reading));
            claims
        }
    }
}

fn unlike(what: &str, expected: &str, read: &str) -> Vec<String> {
    if expected == read { Vec::new() } else { vec![format!("{what} is {read:?}, expected {expected:?}")] }
}

/// Compares two lists, place by place; `what` names a place.
fn lists_differ(what: impl Fn(usize) -> String, expected: &[String], read: &[String]) -> Vec<String> {
    let none = "nothing".to_owned();
    (0..expected.len().max(read.len()))
        .flat_map(|i| unlike(&what(i), expected.get(i).unwrap_or(&none), read.get(i).unwrap_or(&none)))
        .collect()
}

fn texts(value: &Value) -> Vec<String> {
    let entries = value.as_array().unwrap();
    entries.iter().map(|v| v.as_str().unwrap().to_owned()).collect()
}

fn students_differ(expected: &Value, reading: &Reading) -> Vec<String> {
    let expected: Vec<String> = expected.as_array().unwrap().iter().map(|s| texts(s).join(" | ")).collect();
    let students = reading.table.students().iter();
    let read: Vec<String> = students.map(|s| format!("{} | {} | {}", s.id, s.name, s.homeroom)).collect();
    lists_differ(|i| format!("student {}", i + 1), &expected, &read)
}

fn items_differ(expected: &Value, read: &[Item]) -> Vec<String> {
    let expected: Vec<String> = expected.as_array().unwrap().iter().map(written_out).collect();
    let read: Vec<String> = read.iter().map(|item| written_out(&as_entry(item))).collect();
    lists_differ(|i| format!("item {}", i + 1), &expected, &read)
}

/// The text of a value with the keys of its objects in order: which order JSON keeps depends on what else is built with it.
fn written_out(value: &Value) -> String {
    match value {
        Value::Object(fields) => {
            let mut parts: Vec<String> = fields.iter().map(|(k, v)| format!("{k}: {}", written_out(v))).collect();
            parts.sort();
            format!("{{{}}}", parts.join(", "))
        }
        Value::Array(values) => format!("[{}]", values.iter().map(written_out).collect::<Vec<_>>().join(", ")),
        other => other.to_string(),
    }
}

fn as_entry(item: &Item) -> Value {
    let mut entry = serde_json::json!({
        "label": item.label, "key": item.key, "points": item.points, "kind": item.kind.word(),
        "skills": item.skills.iter().map(|s| s.as_str()).collect::<Vec<_>>(),
    });
    if !item.meanings.is_empty() {
        let meanings = item.meanings.iter().map(|m| (m.option.clone(), Value::from(m.patterns.clone())));
        entry["meanings"] = Value::Object(meanings.collect());
    }
    entry
}

fn marks_differ(expected: &Value, table: &ResponseTable) -> Vec<String> {
    let mut claims = Vec::new();
    for (s, student) in table.students().iter().enumerate() {
        let read: Vec<String> = (0..table.n_items()).map(|i| written(table.mark(s, i))).collect();
        let what = |i: usize| format!("{} of student {}", table.items()[i].label, student.id);
        claims.extend(lists_differ(what, &texts(&expected[s]), &read));
    }
    claims
}

fn written(mark: &Mark) -> String {
    let points = mark.points.map_or("?".to_owned(), |p| p.to_string());
    match (mark.state, &mark.answer) {
        (MarkState::Scored, Some(answer)) => format!("{answer} {points}"),
        (MarkState::Scored, None) => points,
        (state, _) => state.word().to_owned(),
    }
}

fn findings_differ(expected: &Value, findings: &[Finding]) -> Vec<String> {
    let place = |f: &Finding| match (f.sheet.as_str(), f.cell.as_str()) {
        ("", cell) => cell.to_owned(),
        (sheet, cell) => format!("{sheet}!{cell}"),
    };
    let told = |f: &Finding| format!("{} {} {}", f.severity.word(), f.code, place(f)).trim().to_owned();
    let mut missing = texts(expected);
    let mut claims = Vec::new();
    for finding in findings {
        match missing.iter().position(|text| *text == told(finding)) {
            Some(at) => drop(missing.remove(at)),
            None => claims.push(format!("it says {:?} ({})", told(finding), finding.message)),
        }
    }
    claims.extend(missing.into_iter().map(|text| format!("it does not say {text:?}")));
    claims
}

fn rest_differs(entry: &Value, reading: &Reading) -> Vec<String> {
    let week = reading.week.map(|w| w.to_string()).unwrap_or_default();
    let mut claims = unlike("the week", entry["week"].as_str().unwrap_or_default(), &week);
    let reason = |s: &SheetLeftOut| (s.sheet.clone(), Value::from(format!("{:?}", s.reason).to_lowercase()));
    let left_out = Value::Object(reading.left_out.iter().map(reason).collect());
    let expected = entry.get("left_out").cloned().unwrap_or_else(|| serde_json::json!({}));
    claims.extend(unlike("what is left out", &written_out(&expected), &written_out(&left_out)));
    claims
}

#[test]
fn a_difference_is_told_with_its_place() {
    let entry = serde_json::json!({
        "students": [["1", "Ann", ""]], "marks": [["B 1"]], "findings": ["note hidden-rows-read A3"],
        "items": [{"label": "Q1", "key": "A", "points": 1.0, "kind": "choice", "skills": []}],
    });
    let claims = differences(&entry, Ok(read_text(&[("f.csv", ",key,A\nid,name,Q1\n1,Ann,B\n")])));
    assert_eq!(
        claims,
        ["Q1 of student 1 is \"B 0\", expected \"B 1\"", "it does not say \"note hidden-rows-read A3\""]
    );
    assert_eq!(differences(&serde_json::json!({"refused": "file-empty"}), Ok(Reading::default())).len(), 1);
}
