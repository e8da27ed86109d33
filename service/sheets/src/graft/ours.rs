//! Our own workbook taken apart: its sheets, and all parts that they need.
//!
//! In:  the workbook as the writer made it. Out: each part that goes over, with its new name in the staff's package.
//! Keeps: a part that two sheets share goes over once; a part's new name is free (`ours_takes_no_name_of_theirs` in the
//! tests of this folder). Not here: names of sheets (`naming`), what changes inside a part (`rewrite`).

use super::book::Book;
use super::error::GraftError;
use super::naming;
use super::outline::Outline;
use super::package::key;
use super::relations::{self, Relation, relations_part};
use super::rewrite::Kind;
use super::splice::escaped;
use std::collections::{HashMap, HashSet};
use std::fmt::Write;

/// Content type of a sheet.
pub(super) const SHEET_TYPE: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml";
/// Content type of a table.
pub(super) const TABLE_TYPE: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.table+xml";
/// Content type of a list of relationships.
const RELATIONS_TYPE: &str = "application/vnd.openxmlformats-package.relationships+xml";
const CHART_TYPE: &str = "application/vnd.openxmlformats-officedocument.drawingml.chart+xml";

/// A part of ours on its way.
#[derive(Debug)]
pub(super) struct Moving {
    /// Its place in our package.
    pub part_idx: usize,
    /// Its name in ours.
    pub old_name: String,
    /// Its name in theirs.
    pub new_name: String,
    /// Its content type.
    pub content_type: String,
    /// What is done to it on the way.
    pub kind: Kind,
    relations: Vec<Relation>,
}

/// All parts that our sheets need, sheets first, in order. `is_taken` tells which names theirs has.
pub(super) fn moving(
    ours: &mut Book<'_>,
    sheet_folder: &str,
    is_taken: impl Fn(&str) -> bool,
) -> Result<Vec<Moving>, GraftError> {
    let mut ahead: Vec<String> = ours.sheets.iter().filter_map(|s| s.part.clone()).collect();
    let (mut moving, mut seen, mut given) = (Vec::new(), HashSet::new(), HashSet::new());
    let mut at = 0;
    while let Some(part) = ahead.get(at).cloned() {
        at += 1;
        if !seen.insert(key(&part)) {
            continue;
        }
        let found = look(ours, &part, |name| {
            let wanted = if is_sheet(name.1) { format!("{sheet_folder}sheet1.xml") } else { name.0.to_owned() };
            naming::part(&wanted, |n| is_taken(n) || given.contains(&key(n)))
        })?;
        given.insert(key(&found.new_name));
        ahead.extend(found.relations.iter().filter_map(|r| r.part.clone()));
        moving.push(found);
    }
    Ok(moving)
}

fn is_sheet(content_type: &str) -> bool {
    content_type == SHEET_TYPE
}

fn look(ours: &mut Book<'_>, part: &str, new_name: impl Fn((&str, &str)) -> String) -> Result<Moving, GraftError> {
    let part_idx = ours.package.find(part).ok_or_else(|| GraftError::Ours(format!("{part} is missing")))?;
    let content_type = ours.types.of(part).unwrap_or("application/xml").to_owned();
    let kind = match content_type.as_str() {
        SHEET_TYPE => Kind::Sheet,
        TABLE_TYPE => Kind::Table(0, String::new()),
        CHART_TYPE => Kind::Chart,
        _ => Kind::AsIs,
    };
    let new_name = new_name((part, &content_type));
    let relations = relations::of_part(&mut ours.package, part)?;
    Ok(Moving { part_idx, old_name: part.to_owned(), new_name, content_type, kind, relations })
}

/// Our lists of relationships, with targets as they are called now: name, content type, text.
pub(super) fn relation_parts(moving: &[Moving]) -> Vec<(String, String, String)> {
    let names: HashMap<String, &str> = moving.iter().map(|m| (key(&m.old_name), m.new_name.as_str())).collect();
    let with_relations = moving.iter().filter(|m| !m.relations.is_empty());
    let part = |m: &Moving| (relations_part(&m.new_name), RELATIONS_TYPE.to_owned(), relations_text(m, &names));
    with_relations.map(part).collect()
}

fn relations_text(moving: &Moving, names: &HashMap<String, &str>) -> String {
    let mut text = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\" standalone=\"yes\"?>\n\
         <Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\">",
    );
    for relation in &moving.relations {
        let (id, kind) = (escaped(&relation.id), escaped(&relation.kind));
        let target = match relation.part.as_ref().and_then(|part| names.get(&key(part))) {
            Some(name) => format!("\"/{}\"", escaped(name)),
            None => format!("\"{}\" TargetMode=\"External\"", escaped(&relation.target)),
        };
        // Writing to a string cannot fail.
        _ = write!(text, "<Relationship Id=\"{id}\" Type=\"{kind}\" Target={target}/>");
    }
    text.push_str("</Relationships>");
    text
}

/// Our shared strings, each as the XML inside its element.
pub(super) fn shared_strings(ours: &mut Book<'_>) -> Result<Vec<String>, GraftError> {
    let Some(part) = ours.related("sharedStrings").map(str::to_owned) else { return Ok(Vec::new()) };
    let Some(text) = ours.package.text_of(&part)? else { return Ok(Vec::new()) };
    let outline = Outline::of(&text.text, 1)?;
    Ok(outline.parts().map(|si| text.text[si.inner.clone()].to_owned()).collect())
}
