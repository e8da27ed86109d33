//! Workbooks written part by part, as spreadsheet programs and odd writers do.
//! Each test is one thing that a file could do to a reader. Not here: readings of sound sheets (`read::tests`).

use crate::read::beside::SheetLook;
use crate::read::cell::Cell;
use crate::read::grid::Book;
use crate::read::package::tests::package;

const NAMES: &str = "xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\" \
     xmlns:r=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships\"";

fn relation(id: &str, kind: &str, target: &str) -> String {
    format!("<Relationship Id=\"{id}\" Type=\"http://x.example/relationships/{kind}\" Target=\"{target}\"/>")
}

/// A workbook of one sheet "S" with these elements in it.
fn book(workbook: &str, styles: &str, sheet: &str) -> Vec<u8> {
    let relations = relation("r1", "worksheet", "worksheets/s.xml")
        + &relation("r2", "styles", "styles.xml")
        + &relation("r3", "chartsheet", "c.xml")
        + &relation("r4", "sharedStrings", "strings.xml");
    let strings = "<sst><si><t>id</t></si><si><r><t>Q</t></r><r><t>1</t></r><rPh><t>no</t></rPh></si><si/></sst>";
    package(&[
        ("[Content_Types].xml", b"<Types/>"),
        ("_rels/.rels", relation("r1", "officeDocument", "/xl/workbook.xml").as_bytes()),
        (
            "xl/workbook.xml",
            format!(
                "<workbook {NAMES}>{workbook}<sheets><sheet name=\"S\" sheetId=\"1\" r:id=\"r1\"/>\
                 <sheet name=\"Graph\" sheetId=\"2\" r:id=\"r3\"/></sheets></workbook>"
            )
            .as_bytes(),
        ),
        ("xl/_rels/workbook.xml.rels", format!("<Relationships>{relations}</Relationships>").as_bytes()),
        ("xl/styles.xml", format!("<styleSheet>{styles}</styleSheet>").as_bytes()),
        ("xl/strings.xml", strings.as_bytes()),
        ("xl/worksheets/s.xml", format!("<worksheet {NAMES}>{sheet}</worksheet>").as_bytes()),
    ])
}

type Rows = Vec<(u32, Vec<(u32, Cell<'static>)>)>;

fn rows(bytes: &[u8]) -> (Rows, SheetLook) {
    let book = Book::open("f.xlsx", bytes).unwrap();
    let sheet = book.sheets().unwrap().remove(0);
    let mut rows = Vec::new();
    let look = book
        .for_each_row(&sheet, &mut |n, cells| {
            rows.push((n, cells.iter().map(|(c, cell)| (*c, cell.clone().into_owned())).collect()));
        })
        .unwrap();
    (rows, look)
}

fn sheet_rows(sheet: &str) -> (Rows, SheetLook) {
    rows(&book("", "", sheet))
}

fn text(value: &'static str) -> Cell<'static> {
    Cell::Text(value.into())
}

fn number(value: f64) -> Cell<'static> {
    Cell::Number { value, zeros: 0, is_percent: false }
}

#[test]
fn every_way_of_writing_a_cell_is_read() {
    let (rows, _) = sheet_rows(
        "<sheetData><row r=\"2\"><c r=\"A2\" t=\"s\"><v>0</v></c><c t=\"s\"><v>1</v></c><c r=\"D2\" t=\"inlineStr\"><is><t>a &amp; b</t></is></c>\
         <c t=\"b\"><v>1</v></c><c t=\"e\"><v>#N/A</v></c><c><v>2.5</v></c><c t=\"d\"><v>2026-02-04T00:00:00</v></c><c t=\"str\"><f>x</f><v>ok</v></c></row>\
         <row><c><v>7</v></c></row></sheetData>",
    );
    let want = vec![
        (0, text("id")),
        (1, text("Q1")),
        (3, text("a & b")),
        (4, Cell::Bool(true)),
        (5, Cell::Error("#N/A".into())),
        (6, number(2.5)),
        (7, Cell::Date("2026-02-04".into())),
        (8, text("ok")),
    ];
    assert_eq!(rows, [(1, want), (2, vec![(0, number(7.0))])]);
}

#[test]
fn a_formula_without_a_result_is_no_blank() {
    let (rows, look) = sheet_rows(
        "<sheetData><row r=\"1\"><c r=\"A1\"><f>B1</f></c><c r=\"B1\"><f>C1</f><v></v></c><c r=\"C1\"><f>D1</f><v/></c>\
         <c r=\"D1\" t=\"str\"><f>\"\"</f><v></v></c><c r=\"E1\"><f>1</f><v>1</v></c></row></sheetData>",
    );
    assert_eq!(look.without_result.first(), [(0, 0), (0, 1), (0, 2)]);
    assert_eq!(rows[0].1.iter().filter(|(_, cell)| *cell == Cell::NoResult).count(), 3);
    assert_eq!(rows[0].1.last().unwrap(), &(4, number(1.0)));
}

#[test]
fn a_far_cell_is_named_and_left_out() {
    let (rows, look) = sheet_rows(
        "<sheetData><row r=\"1\"><c r=\"A1\"><v>1</v></c></row><row r=\"1048576\"><c r=\"XFD1048576\"><v>1</v></c></row></sheetData>",
    );
    assert_eq!(rows.len(), 1);
    assert_eq!(look.far_cells.first(), [(1_048_575, 16_383)]);
}

#[test]
fn hidden_rows_and_columns_that_hold_something_are_named() {
    let (_, look) = sheet_rows(
        "<cols><col min=\"1\" max=\"1\" hidden=\"0\"/><col min=\"2\" max=\"16384\" hidden=\"1\"/></cols><sheetData>\
         <row r=\"1\" hidden=\"1\"/><row r=\"2\" hidden=\"true\"><c r=\"A2\"><v>1</v></c><c r=\"C2\"><v>1</v></c></row></sheetData>",
    );
    assert_eq!((look.hidden_rows.first(), look.hidden_columns), (&[(1, 0)][..], vec![(2, 2)]));
}

#[test]
fn formats_keep_zeros_percents_and_dates() {
    let styles = "<numFmts><numFmt numFmtId=\"170\" formatCode=\"00000\"/></numFmts><cellStyleXfs><xf numFmtId=\"9\"/></cellStyleXfs>\
                  <cellXfs><xf/><xf numFmtId=\"170\"/><xf numFmtId=\"9\"/><xf numFmtId=\"14\"/></cellXfs>";
    let cells = "<sheetData><row><c s=\"1\"><v>42</v></c><c s=\"2\"><v>0.5</v></c><c s=\"3\"><v>44595</v></c><c s=\"9\"><v>1</v></c></row></sheetData>";
    let (rows, _) = rows(&book("<workbookPr date1904=\"1\"/>", styles, cells));
    let shown: Vec<String> = rows[0].1.iter().map(|(_, cell)| cell.shown().into_owned()).collect();
    assert_eq!(shown, ["00042", "0.5", "2026-02-04", "1"]);
    assert_eq!(rows[0].1[1].1, Cell::Number { value: 0.5, zeros: 0, is_percent: true });
}

#[test]
fn merged_headings_and_hand_calculation_are_told() {
    let cells = "<sheetData><row><c t=\"s\"><v>0</v></c><c t=\"s\"><v>1</v></c></row><row><c><v>3</v></c><c><f>A2</f><v>1</v></c><c><v>1</v></c></row></sheetData>\
                 <mergeCells count=\"1\"><mergeCell ref=\"B1:C1\"/></mergeCells>";
    let (rows, look) = rows(&book("<calcPr calcMode=\"manual\"/>", "", cells));
    assert_eq!(rows[0].1, [(0, text("id")), (1, text("Q1")), (2, text("Q1"))]);
    assert_eq!((look.merged, look.may_be_stale), (vec!["B1:C1".to_owned()], true));
}

#[test]
fn what_holds_no_cells_is_skipped_and_named() {
    let bytes = book("", "", "<sheetData/>");
    let book = Book::open("f.xlsx", &bytes).unwrap();
    assert_eq!(book.sheets().unwrap().len(), 1);
    let findings = book.findings();
    assert_eq!((findings[0].code.as_str(), findings[0].sheet.as_str()), ("sheet-without-cells", "Graph"));
}

#[test]
fn odd_but_legal_packages_read() {
    let sheet = "<x:worksheet xmlns:x=\"http://purl.oclc.org/ooxml/spreadsheetml/main\"><x:sheetData><x:row><x:c t=\"inlineStr\"><x:is><x:t>id</x:t></x:is></x:c></x:row></x:sheetData></x:worksheet>";
    let bytes = package(&[
        ("[CONTENT_TYPES].xml", b"<Types/>"),
        ("_RELS/.rels", relation("a", "officeDocument", "Odd/Place.xml").as_bytes()),
        (
            "odd/place.xml",
            b"<x:workbook xmlns:x=\"y\" xmlns:q=\"z\"><x:sheets><x:sheet name=\"S\" q:id=\"b\"/></x:sheets></x:workbook>",
        ),
        ("odd/_rels/place.xml.rels", relation("b", "worksheet", "../cells/one.xml").as_bytes()),
        ("cells/one.xml", sheet.as_bytes()),
    ]);
    assert_eq!(rows(&bytes).0, [(0, vec![(0, text("id"))])]);
}

#[test]
fn a_doctype_in_any_part_that_is_read_is_refused() {
    let cells = "<!DOCTYPE a [<!ENTITY b \"ccc\">]><sheetData><row><c t=\"str\"><v>&b;</v></c></row></sheetData>";
    let bytes = book("", "", cells);
    let book = Book::open("f.xlsx", &bytes).unwrap();
    let sheet = book.sheets().unwrap().remove(0);
    assert_eq!(book.for_each_row(&sheet, &mut |_, _| {}).unwrap_err().code, "file-has-declarations");
}

#[test]
fn a_sheet_that_breaks_off_is_damaged() {
    for cells in [
        "<sheetData><row><c><v>1</v></c>",
        "<sheetData><row r=\"0\"/></sheetData>",
        "<sheetData><row><c r=\"XFE1\"/></row></sheetData>",
    ] {
        let bytes = book_of_part(cells);
        let book = Book::open("f.xlsx", &bytes).unwrap();
        let sheet = book.sheets().unwrap().remove(0);
        assert_eq!(book.for_each_row(&sheet, &mut |_, _| {}).unwrap_err().code, "file-damaged", "{cells}");
    }
}

/// The sheet's part is these bytes alone.
fn book_of_part(part: &str) -> Vec<u8> {
    let relations = relation("r1", "worksheet", "s.xml");
    package(&[
        ("[Content_Types].xml", b"<Types/>"),
        ("xl/workbook.xml", b"<workbook><sheets><sheet name=\"S\" r:id=\"r1\"/></sheets></workbook>"),
        ("xl/_rels/workbook.xml.rels", relations.as_bytes()),
        ("xl/s.xml", part.as_bytes()),
    ])
}

#[test]
fn a_number_that_is_none_is_text() {
    let (rows, _) = sheet_rows(
        "<sheetData><row r=\"1\"><c r=\"A1\"><v>NaN</v></c><c r=\"B1\"><v>inf</v></c><c r=\"C1\"><v>2</v></c></row></sheetData>",
    );
    assert_eq!(rows[0].1[..2], [(0, text("NaN")), (1, text("inf"))]);
    assert!(matches!(rows[0].1[2].1, Cell::Number { .. }));
}
