//! Workbooks of many makers, with our sheets added: what stays, what comes, what is refused.
//!
//! The corpus lies in `fixtures/workbooks/`; its README says what each file holds and who made it.
//! With `SHEAF_GRAFTED=FOLDER` set, each workbook is also written there with its second week, for programs to open
//! (`fixtures/workbooks/compare.py`).

mod corpus;
mod ours;
mod refusals;
mod structure;
mod weeks;

use super::outline::{Node, Outline};
use super::{Graft, GraftError, GraftLimits};
use crate::write::{OurSheets, sample};
use std::io::{Cursor, Read};
use std::path::PathBuf;
use zip::ZipArchive;

/// The folder of the corpus.
fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/workbooks")
}

fn fixture(name: &str) -> Vec<u8> {
    std::fs::read(folder().join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// All workbooks that may be added to: name and bytes, in order of name.
fn corpus() -> Vec<(String, Vec<u8>)> {
    let entries = std::fs::read_dir(folder()).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap());
    let is_workbook = |n: &String| n.ends_with(".xlsx") || n.ends_with(".xlsm");
    let mut names: Vec<String> = entries.filter(|n| is_workbook(n) && !n.contains("refused_")).collect();
    names.sort();
    assert!(names.len() >= 40, "the corpus holds at least 40 workbooks, not {}", names.len());
    names.into_iter().map(|name| (name.clone(), fixture(&name))).collect()
}

fn try_graft(theirs: &[u8], ours: &OurSheets) -> Result<Vec<u8>, GraftError> {
    let mut sink = Cursor::new(Vec::new());
    Graft::prepare(theirs, ours, GraftLimits::default())?.write(&mut sink)?;
    Ok(sink.into_inner())
}

fn graft(theirs: &[u8], ours: &OurSheets) -> Vec<u8> {
    try_graft(theirs, ours).unwrap()
}

/// Writes a workbook to the folder that was asked for, if one was.
fn keep_for_other_programs(name: &str, bytes: &[u8]) {
    if let Ok(folder) = std::env::var("SHEAF_GRAFTED") {
        std::fs::write(PathBuf::from(folder).join(name), bytes).unwrap();
    }
}

/// Our sheets of the week of a day in February.
fn week(day: i8) -> OurSheets {
    sample::sheets(day)
}

/// Names and contents of all parts, in order.
fn parts(bytes: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut zip = ZipArchive::new(Cursor::new(bytes)).unwrap();
    let mut read = |part_idx| {
        let mut part = zip.by_index(part_idx).unwrap();
        let mut content = Vec::new();
        part.read_to_end(&mut content).unwrap();
        (part.name().unwrap().into_owned(), content)
    };
    (0..ZipArchive::new(Cursor::new(bytes)).unwrap().len()).map(&mut read).collect()
}

fn part(bytes: &[u8], name: &str) -> String {
    let found = parts(bytes).into_iter().find(|(n, _)| n.eq_ignore_ascii_case(name));
    String::from_utf8(found.unwrap_or_else(|| panic!("{name} is missing")).1).unwrap()
}

/// A workbook opened as the graft opens it.
fn book(bytes: &[u8]) -> super::book::Book<'_> {
    super::book::Book::open(bytes, GraftLimits::default()).unwrap()
}

fn sheet_names(bytes: &[u8]) -> Vec<String> {
    book(bytes).sheets.into_iter().map(|s| s.name).collect()
}

/// Each element right under the lists of a part, as text, by list.
fn items(text: &str) -> Vec<(String, Vec<String>)> {
    let outline = Outline::of(text, 2).unwrap();
    let inside = |list: &Node| {
        let nodes = outline.nodes.iter().filter(|n| n.depth == 2 && list.whole.contains(&n.open.start));
        nodes.map(|n| text[n.whole.clone()].to_owned()).collect()
    };
    outline.parts().map(|list| (list.local.clone(), inside(list))).collect()
}
