//! What must hold in one sheet's part and in the tables that it carries.
//! Source: ECMA-376 part 1, 18.3.1.99 (order of children), 18.3.1.4, 18.3.1.35, 18.3.1.55, 18.3.1.33, 18.5.1; lengths of a
//! validation's texts as programs publish them.

use super::Package;
use super::tree::Element;
use std::collections::HashSet;

/// Children of a sheet in the order of the schema.
const ORDER: [&str; 39] = [
    "sheetPr",
    "dimension",
    "sheetViews",
    "sheetFormatPr",
    "cols",
    "sheetData",
    "sheetCalcPr",
    "sheetProtection",
    "protectedRanges",
    "scenarios",
    "autoFilter",
    "sortState",
    "dataConsolidate",
    "customSheetViews",
    "mergeCells",
    "phoneticPr",
    "conditionalFormatting",
    "dataValidations",
    "hyperlinks",
    "printOptions",
    "pageMargins",
    "pageSetup",
    "headerFooter",
    "rowBreaks",
    "colBreaks",
    "customProperties",
    "cellWatches",
    "ignoredErrors",
    "smartTags",
    "drawing",
    "legacyDrawing",
    "legacyDrawingHF",
    "drawingHF",
    "picture",
    "oleObjects",
    "controls",
    "webPublishItems",
    "tableParts",
    "extLst",
];

/// Column and row of a cell, from 1.
fn place(reference: &str) -> Option<(usize, usize)> {
    let digits = reference.find(|c: char| c.is_ascii_digit())?;
    let column = reference[..digits]
        .bytes()
        .try_fold(0_usize, |n, b| b.is_ascii_uppercase().then(|| n * 26 + usize::from(b - b'A') + 1))?;
    Some((column, reference[digits..].parse().ok()?))
}

/// First and last column and row of a range.
fn range(reference: &str) -> Option<[usize; 4]> {
    let plain = reference.replace('$', "");
    let (first, last) = plain.split_once(':').unwrap_or((&plain, &plain));
    let ((c1, r1), (c2, r2)) = (place(first)?, place(last)?);
    (c1 <= c2 && r1 <= r2 && c2 <= 16_384 && r2 <= 1_048_576).then_some([c1, r1, c2, r2])
}

fn holds(outer: [usize; 4], (column, row): (usize, usize)) -> bool {
    (outer[0]..=outer[2]).contains(&column) && (outer[1]..=outer[3]).contains(&row)
}

fn overlap(a: [usize; 4], b: [usize; 4]) -> bool {
    a[0] <= b[2] && b[0] <= a[2] && a[1] <= b[3] && b[1] <= a[3]
}

/// Faults of one sheet.
pub(super) fn faults(package: &Package, part: &str, sheet: &Element) -> Vec<String> {
    let mut faults = Vec::new();
    let ranks: Vec<Option<usize>> =
        sheet.children.iter().map(|c| ORDER.iter().position(|name| *name == c.name)).collect();
    if !ranks.iter().flatten().is_sorted() {
        faults.push("children out of order".to_owned());
    }
    if let Some(unknown) = sheet.children.iter().zip(&ranks).find(|(_, rank)| rank.is_none()) {
        faults.push(format!("unknown child {}", unknown.0.name));
    }
    cells(package, sheet, &mut faults);
    counted(sheet, &mut faults);
    merges(sheet, &mut faults);
    validations(sheet, &mut faults);
    conditions(package, sheet, &mut faults);
    links(package, part, sheet, &mut faults);
    tables(package, part, sheet, &mut faults);
    faults
}

fn cells(package: &Package, sheet: &Element, faults: &mut Vec<String>) {
    let covered = sheet.child("dimension").and_then(|d| d.get("ref")).map(range);
    if covered == Some(None) {
        faults.push("the dimension is no range".to_owned());
    }
    let mut last_row = 0;
    for row in sheet.list("sheetData") {
        let number = row.number("r").unwrap_or(last_row + 1);
        if number <= last_row {
            faults.push(format!("row {number} after row {last_row}"));
        }
        last_row = number;
        let mut last_column = 0;
        for cell in &row.children {
            let at = cell.get("r").map_or(Some((last_column + 1, number)), place);
            let Some((column, in_row)) = at else {
                faults.push("a cell without a place".to_owned());
                continue;
            };
            if column <= last_column || in_row != number {
                faults.push(format!("cell {column} of row {number} out of order"));
            }
            last_column = column;
            if covered.flatten().is_some_and(|outer| !holds(outer, (column, number))) {
                faults.push("a cell outside the dimension".to_owned());
            }
            one_cell(package, cell, faults);
        }
    }
}

fn one_cell(package: &Package, cell: &Element, faults: &mut Vec<String>) {
    if cell.number("s").is_some_and(|s| s >= package.n_formats.max(1)) {
        faults.push("a cell with a format that is not there".to_owned());
    }
    let value = cell.child("v").map(|v| v.text.as_str());
    match cell.get("t") {
        Some("s") if value.and_then(|v| v.parse().ok()).is_none_or(|n: usize| n >= package.n_strings) => {
            faults.push("a cell with a string that is not there".to_owned());
        }
        Some("inlineStr") if cell.child("is").is_none() => faults.push("a string without text".to_owned()),
        Some("e") => faults.push(format!("the error value {}", value.unwrap_or_default())),
        None | Some("n") if value.is_some_and(|v| v.trim().parse::<f64>().is_err()) => {
            faults.push("a number that is none".to_owned());
        }
        _ => {}
    }
}

/// Lists that say how long they are.
fn counted(sheet: &Element, faults: &mut Vec<String>) {
    for list in ["mergeCells", "dataValidations", "rowBreaks", "colBreaks", "tableParts"] {
        let Some(found) = sheet.child(list) else { continue };
        if found.number("count").is_some_and(|n| n != found.children.len()) || found.children.is_empty() {
            faults.push(format!("{list} counts wrongly"));
        }
    }
    if sheet.list("rowBreaks").len() > 1_023 {
        faults.push("more page breaks than a sheet may have".to_owned());
    }
}

fn merges(sheet: &Element, faults: &mut Vec<String>) {
    let ranges: Vec<Option<[usize; 4]>> =
        sheet.list("mergeCells").iter().map(|m| m.get("ref").and_then(range)).collect();
    if ranges.contains(&None) {
        faults.push("merged cells that are no range".to_owned());
    }
    let mut known: Vec<[usize; 4]> = ranges.into_iter().flatten().collect();
    known.sort_by_key(|r| r[1]);
    if known.windows(2).any(|pair| overlap(pair[0], pair[1])) {
        faults.push("merged cells overlap".to_owned());
    }
}

fn validations(sheet: &Element, faults: &mut Vec<String>) {
    for check in sheet.list("dataValidations") {
        for (key, most) in [("promptTitle", 32), ("errorTitle", 32), ("prompt", 255), ("error", 255)] {
            if check.get(key).is_some_and(|text| text.encode_utf16().count() > most) {
                faults.push(format!("a validation's {key} is too long"));
            }
        }
        let list = check.child("formula1").map(Element::whole_text).filter(|f| f.starts_with('"'));
        if list.is_some_and(|list| list.encode_utf16().count() > 257) {
            faults.push("a validation's list is too long".to_owned());
        }
        if check.get("sqref").is_none_or(|places| places.split(' ').any(|r| range(r).is_none())) {
            faults.push("a validation without a place".to_owned());
        }
    }
}

fn conditions(package: &Package, sheet: &Element, faults: &mut Vec<String>) {
    for block in sheet.children.iter().filter(|c| c.name == "conditionalFormatting") {
        if block.children.iter().any(|rule| rule.number("dxfId").is_some_and(|n| n >= package.n_rule_formats)) {
            faults.push("a condition with a format that is not there".to_owned());
        }
    }
}

/// Whatever names a relationship names one of the sheet's, and links lead to sheets that are there.
fn links(package: &Package, part: &str, sheet: &Element, faults: &mut Vec<String>) {
    let relations = package.relations_of(part);
    let ids: HashSet<&str> = relations.iter().filter_map(|r| r.get("Id")).collect();
    let naming = ["hyperlink", "drawing", "legacyDrawing", "tablePart", "picture"];
    for element in sheet.all().into_iter().filter(|e| naming.contains(&e.name.as_str())) {
        if element.get("id").is_some_and(|id| !ids.contains(id)) {
            faults.push(format!("{} without a relationship", element.name));
        }
        let sheet_name = element.get("location").and_then(|l| l.rsplit_once('!')).map(|(sheet, _)| sheet);
        let plain = sheet_name.map(|s| s.trim_matches('\'').replace("''", "'").to_lowercase());
        if plain.is_some_and(|name| !package.sheet_names.contains(&name)) {
            faults.push("a link to a sheet that is not there".to_owned());
        }
    }
}

fn tables(package: &Package, part: &str, sheet: &Element, faults: &mut Vec<String>) {
    let ids: Vec<&str> = sheet.list("tableParts").iter().filter_map(|t| t.get("id")).collect();
    for relation in package.relations_of(part).iter().filter(|r| r.get("Id").is_some_and(|id| ids.contains(&id))) {
        let table = package.target(part, relation).and_then(|target| package.tree(&target));
        match table.as_ref().and_then(|t| t.get("ref").and_then(range).map(|reach| (t, reach))) {
            Some((table, reach)) => one_table(table, reach, sheet, faults),
            None => faults.push("a table that cannot be read".to_owned()),
        }
    }
}

fn one_table(table: &Element, reach: [usize; 4], sheet: &Element, faults: &mut Vec<String>) {
    let names: Vec<&str> = table.list("tableColumns").iter().filter_map(|c| c.get("name")).collect();
    let said = table.child("tableColumns").and_then(|c| c.number("count"));
    if said != Some(names.len()) || names.len() != reach[2] - reach[0] + 1 {
        faults.push("a table counts its columns wrongly".to_owned());
    }
    let header = sheet.list("sheetData").iter().find(|row| row.number("r") == Some(reach[1]));
    let shown: Vec<(usize, String)> = header.map_or_else(Vec::new, |row| {
        row.children.iter().filter_map(|c| Some((place(c.get("r")?)?.0, c.whole_text()))).collect()
    });
    let is_inline = header.is_some_and(|row| row.children.iter().all(|c| c.get("t") == Some("inlineStr")));
    for (column, name) in (reach[0]..).zip(names) {
        if is_inline && !shown.iter().any(|(at, text)| *at == column && text == name) {
            faults.push(format!("column {column} of a table is called other than its header"));
        }
    }
    if reach[1] == reach[3] {
        faults.push("a table without rows".to_owned());
    }
}
