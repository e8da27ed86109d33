//! Hostile files, made on the spot: as bytes they are small, as words they would fill a disk.
//!
//! Packages are written by hand where no library would write them so. Every figure is ours.

use std::io::{Cursor, Write};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

const TYPES: &str = "<Types xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\"/>";
const ROOT: &str = "<Relationships><Relationship Id=\"r1\" Type=\"http://x.example/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>";
const WORKBOOK: &str =
    "<workbook xmlns:r=\"r\"><sheets><sheet name=\"S\" sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>";
const PARTS: &str = "<Relationships><Relationship Id=\"r1\" Type=\"http://x.example/worksheet\" Target=\"worksheets/sheet1.xml\"/>\
     <Relationship Id=\"r2\" Type=\"http://x.example/styles\" Target=\"styles.xml\"/>\
     <Relationship Id=\"r3\" Type=\"http://x.example/sharedStrings\" Target=\"strings.xml\"/></Relationships>";
const SCORES: &str = "<row><c t=\"str\"><v>id</v></c><c t=\"str\"><v>name</v></c><c t=\"str\"><v>Q1</v></c></row>\
     <row><c t=\"str\"><v>1</v></c><c t=\"str\"><v>Ann</v></c><c><v>1</v></c></row>\
     <row><c t=\"str\"><v>2</v></c><c t=\"str\"><v>Bo</v></c><c><v>0</v></c></row>";

/// The name of a part, and what writes it piece by piece.
type Part<'a> = (&'a str, &'a dyn Fn(&mut dyn Write));

/// A package of these parts.
fn package(parts: &[Part<'_>]) -> Vec<u8> {
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, write) in parts {
        writer.start_file(*name, SimpleFileOptions::default()).unwrap();
        write(&mut writer);
    }
    writer.finish().unwrap().into_inner()
}

fn text(content: &str) -> impl Fn(&mut dyn Write) {
    move |out| out.write_all(content.as_bytes()).unwrap()
}

/// A workbook of one sheet with this element for its cells, and these shared texts.
fn workbook(sheet: &dyn Fn(&mut dyn Write), strings: &dyn Fn(&mut dyn Write)) -> Vec<u8> {
    package(&[
        ("[Content_Types].xml", &text(TYPES)),
        ("_rels/.rels", &text(ROOT)),
        ("xl/workbook.xml", &text(WORKBOOK)),
        ("xl/_rels/workbook.xml.rels", &text(PARTS)),
        ("xl/styles.xml", &text("<styleSheet/>")),
        ("xl/strings.xml", strings),
        ("xl/worksheets/sheet1.xml", sheet),
    ])
}

/// Blanks, so many bytes of them, in a sheet's part.
pub fn bomb(n_bytes: usize) -> Vec<u8> {
    let blanks = |out: &mut dyn Write| {
        let piece = vec![b' '; 1 << 20];
        (0..n_bytes >> 20).for_each(|_| out.write_all(&piece).unwrap());
    };
    workbook(&blanks, &text("<sst/>"))
}

/// The same, but its directory says that the part holds 1,000 bytes.
pub fn lying(n_bytes: usize) -> Vec<u8> {
    let mut bytes = bomb(n_bytes);
    let size = (n_bytes as u32).to_le_bytes();
    // The size stands in the part's own head (or behind it) and in the directory; the directory's is the last.
    let at = bytes.windows(4).rposition(|four| four == size).unwrap();
    bytes[at..at + 4].copy_from_slice(&1_000_u32.to_le_bytes());
    bytes
}

/// A sheet of scores in which one part declares entities.
pub fn with_doctype(path: &str) -> Vec<u8> {
    let laughs = "<!DOCTYPE x [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;&a;&a;&a;&a;&a;\">]>";
    let part = |own: &str, content: &str| if own == path { format!("{laughs}{content}") } else { content.to_owned() };
    let sheet = format!("<worksheet><sheetData>{SCORES}</sheetData></worksheet>");
    package(&[
        ("[Content_Types].xml", &text(TYPES)),
        ("xl/workbook.xml", &text(&part("xl/workbook.xml", WORKBOOK))),
        ("xl/_rels/workbook.xml.rels", &text(PARTS)),
        ("xl/styles.xml", &text(&part("xl/styles.xml", "<styleSheet/>"))),
        ("xl/worksheets/sheet1.xml", &text(&part("xl/worksheets/sheet1.xml", &sheet))),
    ])
}

/// Two students, and a word in the last cell that a sheet can have.
pub fn with_far_cell() -> Vec<u8> {
    let far = "<row r=\"1048576\"><c r=\"XFD1048576\" t=\"str\"><v>x</v></c></row>";
    let sheet = format!("<worksheet><sheetData>{SCORES}{far}</sheetData></worksheet>");
    workbook(&text(&sheet), &text("<sst/>"))
}

/// Two students, then every row that a sheet can have, each with four blank cells that have a format.
pub fn blank_rows() -> Vec<u8> {
    let sheet = |out: &mut dyn Write| {
        out.write_all(format!("<worksheet><sheetData>{SCORES}").as_bytes()).unwrap();
        for row in 4..=1_048_576 {
            let cells = ["A", "B", "C", "D"].map(|column| format!("<c r=\"{column}{row}\" s=\"1\"/>")).concat();
            out.write_all(format!("<row r=\"{row}\">{cells}</row>").as_bytes()).unwrap();
        }
        out.write_all(b"</sheetData></worksheet>").unwrap();
    };
    workbook(&sheet, &text("<sst/>"))
}

/// Shared texts that fit into no reader's memory, packed loosely enough to pass for honest.
pub fn greedy() -> Vec<u8> {
    let strings = |out: &mut dyn Write| {
        out.write_all(b"<sst>").unwrap();
        let mut seed = 7_u32;
        for _ in 0..120_000 {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let word = format!("{seed:08x}").repeat(3);
            out.write_all(format!("<si><t>{word}{}</t></si>", "once more ".repeat(400)).as_bytes()).unwrap();
        }
        out.write_all(b"</sst>").unwrap();
    };
    let sheet = format!("<worksheet><sheetData>{SCORES}<row><c t=\"s\"><v>0</v></c></row></sheetData></worksheet>");
    workbook(&text(&sheet), &strings)
}

/// Many sheets behind one another in one large part, so that looking up the last one takes long.
pub fn slow() -> Vec<u8> {
    let content = |out: &mut dyn Write| {
        out.write_all(b"<office:document-content><office:body>").unwrap();
        let cell = "<table:table-cell office:value-type=\"string\"><text:p>word</text:p></table:table-cell>";
        for sheet in 0..6_000 {
            let cells = format!("<table:table-row>{}</table:table-row>", cell.repeat(60));
            out.write_all(format!("<table:table table:name=\"S{sheet}\">{cells}</table:table>").as_bytes()).unwrap();
        }
        out.write_all(b"</office:body></office:document-content>").unwrap();
    };
    package(&[("mimetype", &text("application/vnd.oasis.opendocument.spreadsheet")), ("content.xml", &content)])
}

/// Two students, then cells and rows that say they repeat without end.
pub fn repeating_ods() -> Vec<u8> {
    let cell = |word: &str| {
        format!("<table:table-cell office:value-type=\"string\"><text:p>{word}</text:p></table:table-cell>")
    };
    let row = |words: [&str; 3]| format!("<table:table-row>{}</table:table-row>", words.map(cell).concat());
    let blanks = "<table:table-row table:number-rows-repeated=\"4294967295\"><table:table-cell table:number-columns-repeated=\"4294967295\"/></table:table-row>";
    let rows = [row(["id", "name", "Q1"]), row(["1", "Ann", "B"]), row(["2", "Bo", "C"])].concat();
    let content = format!(
        "<office:document-content><office:body><table:table table:name=\"S\">{rows}{blanks}</table:table></office:body></office:document-content>"
    );
    package(&[("mimetype", &text("application/vnd.oasis.opendocument.spreadsheet")), ("content.xml", &text(&content))])
}
