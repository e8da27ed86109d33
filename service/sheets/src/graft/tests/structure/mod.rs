//! Whether a whole package hangs together, by a reader that shares nothing with the graft but the XML library.
//!
//! Looked at: each part's type and each named part; relationships and their targets; the workbook's sheets and names; formats
//! and their counts; each sheet (`sheet`). A fault counts where the workbook did not have it before our sheets came, and
//! always in a workbook of our sheets alone. Source: ECMA-376 parts 1 and 2, the paragraphs named in `sheet`.
//! Not here: attributes and values against the schema, which `fixtures/workbooks/compare.py` gives to a validator.

mod sheet;
mod tree;

use super::*;
use crate::graft::{Form, write_alone};
use crate::write::sample;
use std::collections::{BTreeMap, HashMap, HashSet};
use tree::Element;

const WORKSHEET: &str = "/relationships/worksheet";

/// A package as the checks see it.
struct Package {
    parts: HashMap<String, Vec<u8>>,
    n_formats: usize,
    n_rule_formats: usize,
    n_strings: usize,
    /// In lower case.
    sheet_names: HashSet<String>,
}

impl Package {
    fn of(bytes: &[u8]) -> Package {
        let parts = parts(bytes).into_iter().map(|(name, content)| (key(&name), content)).collect();
        let mut package = Package { parts, n_formats: 0, n_rule_formats: 0, n_strings: 0, sheet_names: HashSet::new() };
        let workbook = package.workbook();
        let length = |kind: &str, list: &str| {
            let part = package.related(&workbook, kind).and_then(|part| package.tree(&part));
            part.map_or(0, |p| if list.is_empty() { p.children.len() } else { p.list(list).len() })
        };
        let (n_formats, n_rules) = (length("/styles", "cellXfs"), length("/styles", "dxfs"));
        let n_strings = length("/sharedStrings", "");
        (package.n_formats, package.n_rule_formats, package.n_strings) = (n_formats, n_rules, n_strings);
        let sheets = package.tree(&workbook).map_or_else(Vec::new, |w| w.list("sheets").to_vec());
        package.sheet_names = sheets.iter().filter_map(|s| s.get("name")).map(str::to_lowercase).collect();
        package
    }

    fn tree(&self, part: &str) -> Option<Element> {
        Element::read(self.parts.get(&key(part))?)
    }

    fn workbook(&self) -> String {
        self.related("", "/officeDocument").unwrap_or_default()
    }

    fn relations_of(&self, part: &str) -> Vec<Element> {
        let (folder, name) = part.rsplit_once('/').map_or(("", part), |(folder, name)| (folder, name));
        let slash = if folder.is_empty() { "" } else { "/" };
        self.tree(&format!("{folder}{slash}_rels/{name}.rels")).map_or_else(Vec::new, |r| r.children)
    }

    /// The part that a relationship leads to; `None` where it leads outside.
    fn target(&self, part: &str, relation: &Element) -> Option<String> {
        if relation.get("TargetMode") == Some("External") {
            return None;
        }
        let target = relation.get("Target")?.replace('\\', "/").replace("%20", " ");
        if target.starts_with('/') {
            return Some(key(&target));
        }
        let mut place: Vec<&str> = part.split('/').collect();
        place.pop();
        for step in target.split('/') {
            match step {
                ".." => drop(place.pop()),
                "." | "" => {}
                step => place.push(step),
            }
        }
        Some(key(&place.join("/")))
    }

    fn related(&self, part: &str, kind: &str) -> Option<String> {
        let relations = self.relations_of(part);
        let found = relations.iter().find(|r| r.get("Type").is_some_and(|t| t.ends_with(kind)))?;
        self.target(part, found)
    }
}

fn key(name: &str) -> String {
    name.replace('\\', "/").trim_start_matches('/').to_lowercase()
}

/// Every fault of a package, each with how often it is there.
fn faults(bytes: &[u8]) -> BTreeMap<String, usize> {
    let package = Package::of(bytes);
    let mut found = types(&package);
    found.extend(relationships(&package));
    found.extend(workbook(&package));
    found.extend(styles(&package));
    let workbook = package.workbook();
    for relation in
        package.relations_of(&workbook).iter().filter(|r| r.get("Type").is_some_and(|t| t.ends_with(WORKSHEET)))
    {
        let Some(part) = package.target(&workbook, relation) else { continue };
        let Some(tree) = package.tree(&part) else { continue };
        found.extend(sheet::faults(&package, &part, &tree));
    }
    let mut counted = BTreeMap::new();
    for fault in found {
        *counted.entry(fault).or_insert(0) += 1;
    }
    counted
}

fn types(package: &Package) -> Vec<String> {
    let Some(types) = package.tree("[content_types].xml") else { return vec!["no list of types".to_owned()] };
    let of = |kind: &str, key: &str| -> Vec<String> {
        let named = types.children.iter().filter(|c| c.name == kind).filter_map(|c| c.get(key));
        named.map(|name| self::key(name).replace("%20", " ")).collect()
    };
    let (overrides, defaults) = (of("Override", "PartName"), of("Default", "Extension"));
    let mut found = Vec::new();
    for part in package.parts.keys().filter(|p| *p != "[content_types].xml" && !p.ends_with('/')) {
        let ending = part.rsplit('.').next().unwrap_or_default();
        if !overrides.contains(part) && !defaults.iter().any(|d| d == ending) {
            found.push("a part without a type".to_owned());
        }
    }
    let gone = overrides.iter().filter(|name| !package.parts.contains_key(*name));
    found.extend(gone.map(|_| "a type for a part that is not there".to_owned()));
    if overrides.iter().collect::<HashSet<_>>().len() != overrides.len() {
        found.push("two types for one part".to_owned());
    }
    found
}

fn relationships(package: &Package) -> Vec<String> {
    let mut found = Vec::new();
    for list in package.parts.keys().filter(|p| p.ends_with(".rels")) {
        let source = list.replacen("_rels/", "", 1).trim_end_matches(".rels").to_owned();
        if !source.is_empty() && !package.parts.contains_key(&source) {
            found.push("relationships of a part that is not there".to_owned());
        }
        let relations = package.relations_of(&source);
        let ids: HashSet<Option<&str>> = relations.iter().map(|r| r.get("Id")).collect();
        if ids.len() != relations.len() || ids.contains(&None) {
            found.push("relationships share an id".to_owned());
        }
        for target in relations.iter().filter_map(|r| package.target(&source, r)) {
            if !target.starts_with('#') && !package.parts.contains_key(&target) {
                found.push("a relationship that leads nowhere".to_owned());
            }
        }
    }
    found
}

fn workbook(package: &Package) -> Vec<String> {
    let part = package.workbook();
    let Some(book) = package.tree(&part) else { return vec!["no workbook".to_owned()] };
    let (sheets, relations) = (book.list("sheets"), package.relations_of(&part));
    let mut found = Vec::new();
    let differ = |key: &str| {
        let all: Vec<String> = sheets.iter().filter_map(|s| s.get(key)).map(str::to_lowercase).collect();
        all.len() == sheets.len() && all.iter().collect::<HashSet<_>>().len() == all.len()
    };
    if !differ("name") || !differ("sheetId") || !differ("id") {
        found.push("sheets share a name, a number or a relationship".to_owned());
    }
    if sheets.iter().any(|s| !relations.iter().any(|r| r.get("Id") == s.get("id"))) {
        found.push("a sheet that leads nowhere".to_owned());
    }
    if sheets.iter().any(|s| s.get("name").is_none_or(|n| n.is_empty() || n.encode_utf16().count() > 31)) {
        found.push("a sheet without a name that fits".to_owned());
    }
    let names = book.list("definedNames");
    let scoped: HashSet<(Option<&str>, String)> =
        names.iter().map(|n| (n.get("localSheetId"), n.get("name").unwrap_or_default().to_lowercase())).collect();
    if scoped.len() != names.len() {
        found.push("two defined names are one".to_owned());
    }
    if names.iter().any(|n| n.number("localSheetId").is_some_and(|idx| idx >= sheets.len())) {
        found.push("a name for a sheet that is not there".to_owned());
    }
    found.extend(names.iter().filter(|n| n.text.contains("#REF!")).map(|_| "a name that lost its place".to_owned()));
    let tab = book.list("bookViews").first().and_then(|v| v.number("activeTab"));
    if tab.is_some_and(|tab| tab >= sheets.len()) {
        found.push("the shown sheet is not there".to_owned());
    }
    found
}

fn styles(package: &Package) -> Vec<String> {
    let styles = package.related(&package.workbook(), "/styles").and_then(|part| package.tree(&part));
    let Some(styles) = styles else { return Vec::new() };
    let mut found = Vec::new();
    for list in ["numFmts", "fonts", "fills", "borders", "cellStyleXfs", "cellXfs", "cellStyles", "dxfs"] {
        let said = styles.child(list).and_then(|l| l.number("count"));
        if said.is_some_and(|n| n != styles.list(list).len()) {
            found.push(format!("{list} counts wrongly"));
        }
    }
    for (key, list) in [("fontId", "fonts"), ("fillId", "fills"), ("borderId", "borders"), ("xfId", "cellStyleXfs")] {
        let most = styles.list(list).len();
        let beyond = |xf: &&Element| xf.number(key).is_some_and(|n| n >= most.max(1));
        found.extend(styles.list("cellXfs").iter().filter(beyond).map(|_| format!("{key} of a format is not there")));
    }
    let ids: Vec<Option<&str>> = styles.list("numFmts").iter().map(|n| n.get("numFmtId")).collect();
    if ids.iter().collect::<HashSet<_>>().len() != ids.len() {
        found.push("two number formats share a number".to_owned());
    }
    found
}

fn alone(ours: &OurSheets) -> Vec<u8> {
    let mut sink = Cursor::new(Vec::new());
    write_alone(ours, Form::Plain, &mut sink).unwrap();
    sink.into_inner()
}

#[test]
fn a_workbook_of_our_sheets_alone_hangs_together() {
    let bytes = alone(&week(2));
    keep_for_other_programs("ours_alone.xlsx", &bytes);
    assert_eq!(faults(&bytes), BTreeMap::new());
    let large = sample::sheets_of(&sample::many_groups(1_100));
    assert_eq!(faults(&alone(&large)), BTreeMap::new());
    assert_eq!(faults(&alone(&sample::sheets_of(&sample::empty()))), BTreeMap::new());
}

#[test]
fn our_sheets_bring_no_fault_into_a_workbook() {
    for (name, theirs) in corpus() {
        let first = graft(&theirs, &week(2));
        let second = graft(&first, &week(9));
        for grafted in [first, second, graft(&theirs, &ours::rich())] {
            brings_no_fault(&name, &theirs, &grafted);
        }
    }
}

fn brings_no_fault(name: &str, theirs: &[u8], grafted: &[u8]) {
    let before = faults(theirs);
    for (fault, n) in faults(grafted) {
        assert!(n <= before.get(&fault).copied().unwrap_or(0), "{name}: {n} x {fault}");
    }
}

/// The workbook with one part changed.
fn broken(bytes: &[u8], name: &str, change: impl Fn(String) -> String) -> Vec<u8> {
    let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (part, content) in parts(bytes) {
        writer.start_file(part.as_str(), zip::write::SimpleFileOptions::default()).unwrap();
        let content = if part == name {
            let changed = change(String::from_utf8(content.clone()).unwrap());
            assert!(changed.as_bytes() != content, "nothing was broken in {name}");
            changed.into_bytes()
        } else {
            content
        };
        std::io::Write::write_all(&mut writer, &content).unwrap();
    }
    writer.finish().unwrap().into_inner()
}

#[test]
fn what_is_broken_on_purpose_is_found() {
    let bytes = alone(&week(2));
    let swap = |from: &'static str, to: &'static str| move |text: String| text.replacen(from, to, 1);
    let sheet = "xl/worksheets/sheet2.xml";
    for (part, from, to) in [
        ("[Content_Types].xml", "/xl/worksheets/sheet3.xml", "/xl/worksheets/sheet99.xml"),
        ("xl/_rels/workbook.xml.rels", "worksheets/sheet3.xml", "worksheets/sheet99.xml"),
        ("xl/_rels/workbook.xml.rels", "Id=\"rId2\"", "Id=\"rId1\""),
        ("xl/workbook.xml", "sheetId=\"2\"", "sheetId=\"1\""),
        ("xl/workbook.xml", "name=\"Groups\"", "name=\"rotation\""),
        ("xl/workbook.xml", "localSheetId=\"", "localSheetId=\"9"),
        ("xl/styles.xml", "<cellXfs count=\"", "<cellXfs count=\"9"),
        ("xl/styles.xml", "fontId=\"1\"", "fontId=\"999\""),
        (sheet, "<row r=\"2\"", "<row r=\"1\""),
        (sheet, "<c r=\"B4\"", "<c r=\"A4\""),
        (sheet, " s=\"", " s=\"999"),
        (sheet, "<dimension ref=\"A1:", "<dimension ref=\"B1:"),
        (sheet, "<sheetData>", "<pageMargins/><sheetData>"),
        ("xl/worksheets/sheet1.xml", "location=\"'Groups'!", "location=\"'Nowhere'!"),
        ("xl/worksheets/sheet8.xml", "<dataValidations count=\"", "<dataValidations count=\"9"),
    ] {
        assert!(!faults(&broken(&bytes, part, swap(from, to))).is_empty(), "{part}: {from} as {to}");
    }
}
