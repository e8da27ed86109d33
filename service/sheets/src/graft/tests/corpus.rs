//! Every workbook of the corpus: what must stay stays, and what comes stands where the format wants it.
//! In:  the files of `fixtures/workbooks`. Checksums of all parts but the four are those of the original.
//! Not here: a second week (`weeks`), workbooks that are left alone (`refusals`).

use super::*;
use crate::graft::mark::last_week;
use crate::graft::relations::relations_part;
use std::collections::{HashMap, HashSet};

/// Names of the four parts that may change.
fn four(bytes: &[u8]) -> HashSet<String> {
    let book = book(bytes);
    let styles = book.related("styles").map(str::to_owned);
    let named = ["[Content_Types].xml".to_owned(), book.part.clone(), relations_part(&book.part)];
    named.into_iter().chain(styles).map(|n| n.to_lowercase()).collect()
}

fn holds_last_week(bytes: &[u8]) -> bool {
    !last_week(&book(bytes), &HashSet::new()).sheets.is_empty()
}

fn is_allowed_to_change(name: &str, four: &HashSet<String>) -> bool {
    four.contains(&name.replace('\\', "/").to_lowercase())
}

#[test]
fn only_four_parts_change() {
    let ours = week(2);
    for (name, theirs) in corpus().iter().filter(|(_, bytes)| !holds_last_week(bytes)) {
        let grafted = graft(theirs, &ours);
        let (four, before, after) = (four(theirs), parts(theirs), parts(&grafted));
        for ((old_name, old), (new_name, new)) in before.iter().zip(&after) {
            assert_eq!(old_name, new_name, "{name}: order of parts");
            assert!(old == new || is_allowed_to_change(old_name, &four), "{name}: {old_name} changed");
        }
        assert!(after.len() > before.len(), "{name}");
        let taken: HashSet<String> = before.iter().map(|(n, _)| n.to_lowercase()).collect();
        for (new_name, _) in &after[before.len()..] {
            assert!(!taken.contains(&new_name.to_lowercase()), "{name}: {new_name} is theirs");
        }
    }
}

#[test]
fn packed_bytes_of_their_parts_are_copied_as_they_are() {
    for (name, theirs) in corpus().iter().filter(|(_, bytes)| !holds_last_week(bytes)) {
        let grafted = graft(theirs, &week(2));
        let four = four(theirs);
        let packed = |bytes: &[u8]| {
            let mut zip = ZipArchive::new(Cursor::new(bytes.to_vec())).unwrap();
            let mut found = HashMap::new();
            for part_idx in 0..zip.len() {
                let mut raw = zip.by_index_raw(part_idx).unwrap();
                let mut content = Vec::new();
                raw.read_to_end(&mut content).unwrap();
                found.insert(raw.name().unwrap().into_owned(), content);
            }
            found
        };
        let after = packed(&grafted);
        for (part, content) in packed(theirs).iter().filter(|(part, _)| !is_allowed_to_change(part, &four)) {
            assert_eq!(after.get(part), Some(content), "{name}: {part}");
        }
    }
}

/// Each list of the first holds its items in the second too, in front and in order.
fn assert_only_grown(name: &str, before: &str, after: &str) {
    let after: HashMap<String, Vec<String>> = items(after).into_iter().collect();
    for (list, old) in items(before) {
        let new = &after[&list];
        assert_eq!(new.get(..old.len()), Some(&old[..]), "{name}: {list}");
    }
}

#[test]
fn the_four_parts_change_by_addition() {
    for (name, theirs) in corpus().iter().filter(|(_, bytes)| !holds_last_week(bytes)) {
        let grafted = graft(theirs, &week(2));
        let (mut before, mut after) = (book(theirs), book(&grafted));
        assert_only_grown(name, &before.text.text, &after.text.text);
        if let Some(styles) = before.related("styles").map(str::to_owned) {
            let old = before.package.text_of(&styles).unwrap().unwrap().text;
            assert_only_grown(name, &old, &after.package.text_of(&styles).unwrap().unwrap().text);
        }
        for (old, new) in before.relations.iter().zip(&after.relations) {
            assert_eq!((&old.id, &old.kind, &old.target), (&new.id, &new.kind, &new.target), "{name}");
        }
        for sheet in &after.sheets {
            let part = sheet.part.as_deref().unwrap_or_else(|| panic!("{name}: {} leads nowhere", sheet.name));
            assert!(after.types.of(part).is_some() && after.package.has(part), "{name}: {part}");
        }
    }
}

/// Children of the root stand in the order of ECMA-376, 18.2.27 (workbook) and 18.8.39 (styles).
fn assert_in_order(name: &str, text: &str, order: &[&str]) {
    let outline = Outline::of(text, 1).unwrap();
    let ranks: Vec<Option<usize>> = outline.parts().map(|n| order.iter().position(|o| *o == n.local)).collect();
    let known: Vec<usize> = ranks.into_iter().flatten().collect();
    assert!(known.is_sorted(), "{name}: {known:?}");
}

#[test]
fn elements_stand_in_the_order_of_the_schema() {
    let workbook = [
        "workbookPr",
        "workbookProtection",
        "bookViews",
        "sheets",
        "externalReferences",
        "definedNames",
        "calcPr",
        "pivotCaches",
        "extLst",
    ];
    let styles = [
        "numFmts",
        "fonts",
        "fills",
        "borders",
        "cellStyleXfs",
        "cellXfs",
        "cellStyles",
        "dxfs",
        "tableStyles",
        "extLst",
    ];
    for (name, theirs) in corpus() {
        let grafted = graft(&theirs, &week(2));
        let mut after = book(&grafted);
        assert_in_order(&name, &after.text.text, &workbook);
        let part = after.related("styles").map(str::to_owned).unwrap();
        let text = after.package.text_of(&part).unwrap().unwrap().text;
        assert_in_order(&name, &text, &styles);
        counts_are_right(&name, &text);
    }
}

/// Each list that says how many items it has says so rightly.
fn counts_are_right(name: &str, text: &str) {
    let outline = Outline::of(text, 2).unwrap();
    for list in outline.parts().filter(|n| n.local != "extLst" && n.local != "tableStyles" && n.local != "colors") {
        let said = outline.attribute(list, "count").and_then(|c| c.parse::<usize>().ok());
        let inside = outline.nodes.iter().filter(|n| n.depth == 2 && list.whole.contains(&n.open.start));
        assert!(said.is_none_or(|said| said == inside.count()), "{name}: {}", list.local);
    }
}

#[test]
fn names_ids_and_relationships_differ() {
    for (name, theirs) in corpus() {
        let grafted = graft(&theirs, &week(2));
        let after = book(&grafted);
        let differ = |list: Vec<String>, what: &str| {
            let set: HashSet<&String> = list.iter().collect();
            assert_eq!(set.len(), list.len(), "{name}: {what} {list:?}");
        };
        differ(after.sheets.iter().map(|s| s.name.to_lowercase()).collect(), "names");
        differ(after.sheets.iter().map(|s| s.id.to_string()).collect(), "ids");
        differ(after.relations.iter().map(|r| r.id.clone()).collect(), "relationships");
        differ(
            after.names.iter().map(|n| format!("{:?} {}", n.scope, n.name.to_lowercase())).collect(),
            "defined names",
        );
        assert!(after.sheets.iter().all(|s| (1..=65_534).contains(&s.id)), "{name}");
        assert!(after.names.iter().all(|n| n.scope.is_none_or(|s| s < after.sheets.len())), "{name}");
    }
}

#[test]
fn a_million_strings_of_theirs_are_copied_unread() {
    let entry = |n: usize| format!("<si><t>Answer {n}</t></si>");
    let strings: String = (0..1_000_000).map(entry).collect();
    let main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
    let strings = format!("<sst xmlns=\"{main}\" count=\"1000000\" uniqueCount=\"1000000\">{strings}</sst>");
    let mut with_many = parts(&fixture("hand_absolute_targets.xlsx"));
    let place = with_many.iter().position(|(name, _)| name.ends_with("sharedStrings.xml"));
    let place = place.unwrap_or_else(|| {
        with_many.push(("xl/sharedStrings.xml".to_owned(), Vec::new()));
        with_many.len() - 1
    });
    with_many[place].1 = strings.into_bytes();
    let texts: Vec<(&str, &str)> =
        with_many.iter().map(|(name, bytes)| (name.as_str(), std::str::from_utf8(bytes).unwrap())).collect();
    let theirs = crate::graft::hand_made::pack(&texts);
    let grafted = graft(&theirs, &week(2));
    let strings = |bytes: &[u8]| parts(bytes).into_iter().find(|(name, _)| name.ends_with("sharedStrings.xml"));
    assert!(strings(&theirs).is_some() && strings(&grafted) == strings(&theirs));
    assert!(sheet_names(&grafted).iter().any(|n| n == "Groups"));
}

#[test]
fn the_same_workbooks_give_the_same_bytes() {
    for (name, theirs) in corpus() {
        assert!(graft(&theirs, &week(2)) == graft(&theirs, &week(2)), "{name}");
    }
}

#[test]
fn a_workbook_with_macros_stays_one() {
    let theirs = fixture("xlsxwriter_macros.xlsm");
    let ours = week(2);
    let grafted = Graft::prepare(&theirs, &ours, GraftLimits::default()).unwrap();
    assert_eq!(grafted.form().ending(), "xlsm");
    let types = part(&graft(&theirs, &ours), "[Content_Types].xml");
    assert!(types.contains("vnd.ms-excel.sheet.macroEnabled.main+xml"), "{types}");
}
