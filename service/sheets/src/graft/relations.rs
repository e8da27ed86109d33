//! Relationships: which part points at which, under which id.
//!
//! In:  the text of a `.rels` part and the name of the part that it belongs to. Out: its relationships, with targets as names
//! of parts. Keeps: targets are found however they are written (`targets_are_found_however_they_are_written`); a new id is
//! not taken (`a_new_id_is_not_taken`). Source: ECMA-376 part 2, relationships. Not here: what is at the target.

use super::error::GraftError;
use super::outline::{Outline, Space};
use super::package::{Package, key};
use std::collections::HashSet;
use std::ops::Range;

/// A relationship.
#[derive(Debug, Clone)]
pub(super) struct Relation {
    /// Its id.
    pub id: String,
    /// Its type: a long address; the last word tells.
    pub kind: String,
    /// The part that it leads to, without a slash in front; `None` where it leads out of the package.
    pub part: Option<String>,
    /// Target as written.
    pub target: String,
    /// Where it stands.
    pub whole: Range<usize>,
}

impl Relation {
    /// Whether its type ends so.
    pub(super) fn is(&self, kind: &str) -> bool {
        self.kind.rsplit('/').next() == Some(kind)
    }
}

/// Name of the part that holds the relationships of a part; the package's own for an empty name.
pub(super) fn relations_part(part: &str) -> String {
    let (folder, file) = part.rsplit_once('/').unwrap_or(("", part));
    format!("{folder}{}_rels/{file}.rels", if folder.is_empty() { "" } else { "/" })
}

/// The relationships in a text.
pub(super) fn read(text: &str, part: &str) -> Result<Vec<Relation>, GraftError> {
    let outline = Outline::of(text, 1)?;
    if outline.root().space != Space::Relations {
        return Err(GraftError::damaged("a list of relationships is none"));
    }
    let mut found = Vec::new();
    for node in outline.parts().filter(|n| n.local == "Relationship") {
        let value = |name: &str| outline.attribute(node, name).unwrap_or_default();
        let target = value("Target");
        let is_outside = value("TargetMode").eq_ignore_ascii_case("external");
        let part = if is_outside { None } else { resolve(part, &target) };
        found.push(Relation { id: value("Id"), kind: value("Type"), part, target, whole: node.whole.clone() });
    }
    Ok(found)
}

/// The relationships of a part; none where it has no list.
pub(super) fn of_part(package: &mut Package<'_>, part: &str) -> Result<Vec<Relation>, GraftError> {
    match package.text_of(&relations_part(part))? {
        Some(text) => read(&text.text, part),
        None => Ok(Vec::new()),
    }
}

/// The part that a target means, seen from a part.
fn resolve(from: &str, target: &str) -> Option<String> {
    let target = target.replace('\\', "/");
    let target = target.split(['#', '?']).next().filter(|t| !t.is_empty() && !t.contains("://"))?;
    let folder = if target.starts_with('/') { "" } else { from.rsplit_once('/').map_or("", |(folder, _)| folder) };
    let mut steps: Vec<&str> = Vec::new();
    for step in folder.split('/').chain(target.split('/')).filter(|s| !s.is_empty() && *s != ".") {
        if step == ".." {
            steps.pop();
        } else {
            steps.push(step);
        }
    }
    Some(steps.join("/"))
}

/// The next ids that no relationship has: `rId` and a number above all.
pub(super) fn new_ids<'i>(taken: impl IntoIterator<Item = &'i str>) -> impl Iterator<Item = String> {
    let taken: HashSet<String> = taken.into_iter().map(str::to_lowercase).collect();
    let number = |id: &String| id.trim_start_matches(|c: char| !c.is_ascii_digit()).parse::<u32>().ok();
    let highest = taken.iter().filter_map(number).filter(|n| *n < 1_000_000).max().unwrap_or(0);
    (highest + 1..).map(|n| format!("rId{n}")).filter(move |id| !taken.contains(&id.to_lowercase()))
}

/// All parts that can be reached from some, themselves among them, without passing through `cut`.
pub(super) fn reached(
    package: &mut Package<'_>,
    from: impl IntoIterator<Item = String>,
    cut: &HashSet<String>,
) -> Result<HashSet<String>, GraftError> {
    let mut seen = HashSet::new();
    let mut ahead: Vec<String> = from.into_iter().filter(|part| !cut.contains(&key(part))).collect();
    while let Some(part) = ahead.pop() {
        if seen.insert(key(&part)) {
            let next = of_part(package, &part)?.into_iter().filter_map(|r| r.part);
            ahead.extend(next.filter(|p| !cut.contains(&key(p))));
        }
    }
    Ok(seen)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn targets_are_found_however_they_are_written() {
        for (from, target, part) in [
            ("xl/workbook.xml", "worksheets/sheet1.xml", "xl/worksheets/sheet1.xml"),
            ("xl/workbook.xml", "/xl/worksheets/sheet1.xml", "xl/worksheets/sheet1.xml"),
            ("xl/workbook.xml", "./worksheets//sheet1.xml", "xl/worksheets/sheet1.xml"),
            ("xl/worksheets/sheet1.xml", "../drawings/drawing1.xml", "xl/drawings/drawing1.xml"),
            ("xl/worksheets/sheet1.xml", "..\\drawings\\drawing1.xml", "xl/drawings/drawing1.xml"),
            ("", "xl/workbook.xml", "xl/workbook.xml"),
            ("book.xml", "../../sheet.xml", "sheet.xml"),
        ] {
            assert_eq!(resolve(from, target).as_deref(), Some(part), "{from} {target}");
        }
        assert_eq!(resolve("xl/workbook.xml", "file:///c:/x.xml"), None);
        assert_eq!(relations_part("xl/workbook.xml"), "xl/_rels/workbook.xml.rels");
        assert_eq!(relations_part(""), "_rels/.rels");
        assert_eq!(relations_part("book.xml"), "_rels/book.xml.rels");
    }

    #[test]
    fn a_new_id_is_not_taken() {
        let text = "<Relationships xmlns='http://schemas.openxmlformats.org/package/2006/relationships'>\
            <Relationship Id='RID9' Type='t/a' Target='b'/><Relationship Id='x99999999' Type='t/a' Target='c'/>\
            <Relationship Id='R0a1b2c3d4' Type='t/a' Target='d' TargetMode='External'/></Relationships>";
        let relations = read(text, "").unwrap();
        assert_eq!(new_ids(relations.iter().map(|r| r.id.as_str())).take(2).collect::<Vec<_>>(), ["rId10", "rId11"]);
        assert_eq!(relations[2].part, None);
        assert!(relations[0].is("a"));
    }
}
