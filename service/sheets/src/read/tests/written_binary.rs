//! Grids of cells as the two binary kinds of workbook, record by record: .xls and .xlsb.
//!
//! In:  named grids. Out: bytes with just the records that hold sheets, texts, numbers and truths; every text stands in its cell.
//! Keeps: LibreOffice opened both when they were written first; what the project's reader makes of them is `same_responses`.
//! Not here: formats, formulas, shared texts (fixtures by other writers hold them).
//! Source: [MS-XLS] 2.4, [MS-CFB] 2, [MS-XLSB] 2.1.4 and 2.4.

use super::super::package::tests::package;
use super::tables::{Grid, Value};

const SECTOR: usize = 512;
const END: u32 = 0xFFFF_FFFE;
const FREE: u32 = 0xFFFF_FFFF;
/// Longest content of one record of an .xls.
const LONGEST_RECORD: usize = 8224;

fn wide(text: &str) -> Vec<u8> {
    text.encode_utf16().flat_map(u16::to_le_bytes).collect()
}

fn n_units(text: &str) -> usize {
    text.encode_utf16().count()
}

/// The Workbook stream in its container.
pub fn xls(sheets: &[(&str, Grid)]) -> Vec<u8> {
    let bodies: Vec<Vec<u8>> = sheets.iter().map(|(_, grid)| sheet_stream(grid)).collect();
    let bound = |name: &str, at: usize| {
        let of_name = [&[n_units(name) as u8, 1], wide(name).as_slice()].concat();
        record(0x85, &[&(at as u32).to_le_bytes()[..], &[0, 0], &of_name].concat())
    };
    let globals = |at: &dyn Fn(usize) -> usize| {
        let bounds: Vec<u8> = sheets.iter().enumerate().flat_map(|(i, (name, _))| bound(name, at(i))).collect();
        [record(0x809, &beginning(5)), record(0x42, &1200_u16.to_le_bytes()), bounds, record(0x0A, &[])].concat()
    };
    let first = globals(&|_| 0).len();
    let at = |i: usize| first + bodies[..i].iter().map(Vec::len).sum::<usize>();
    contained([globals(&at)].into_iter().chain(bodies.iter().cloned()).collect::<Vec<_>>().concat())
}

fn beginning(kind: u16) -> Vec<u8> {
    [0x600, kind, 0x1000, 1997].iter().flat_map(|n: &u16| n.to_le_bytes()).chain([0; 8]).collect()
}

fn record(kind: u16, content: &[u8]) -> Vec<u8> {
    assert!(content.len() <= LONGEST_RECORD);
    [&kind.to_le_bytes()[..], &(content.len() as u16).to_le_bytes(), content].concat()
}

fn sheet_stream(grid: &Grid) -> Vec<u8> {
    let width = grid.iter().map(Vec::len).max().unwrap_or(0) as u16;
    let size = [0_u32.to_le_bytes(), (grid.len() as u32).to_le_bytes()].concat();
    let of_columns: Vec<u8> = [0, width, 0].iter().flat_map(|n: &u16| n.to_le_bytes()).collect();
    let mut stream = [record(0x809, &beginning(0x10)), record(0x200, &[size, of_columns].concat())].concat();
    for (r, row) in grid.iter().enumerate() {
        for (c, value) in row.iter().enumerate() {
            let place: Vec<u8> = [r as u16, c as u16, 0].iter().flat_map(|n| n.to_le_bytes()).collect();
            let (kind, content) = match value {
                Value::Blank => continue,
                Value::Text(text) => (0x204, [&(n_units(text) as u16).to_le_bytes()[..], &[1], &wide(text)].concat()),
                Value::Number(number) => (0x203, number.to_le_bytes().to_vec()),
                Value::Truth(is_true) => (0x205, vec![u8::from(*is_true), 0]),
            };
            stream.extend(record(kind, &[place, content].concat()));
        }
    }
    stream.extend(record(0x0A, &[]));
    stream
}

/// A container of one stream: its table of sectors, its directory, the stream.
fn contained(mut stream: Vec<u8>) -> Vec<u8> {
    // A shorter stream would lie in small sectors.
    stream.resize(stream.len().max(4096).next_multiple_of(SECTOR), 0);
    let n_stream = stream.len() / SECTOR;
    let n_tables = (1..).find(|n| n * SECTOR / 4 > n + n_stream).unwrap();
    let run = |from: usize, n: usize| (1..n).map(move |i| (from + i) as u32).chain([END]);
    let mut next: Vec<u32> = vec![0xFFFF_FFFD; n_tables];
    next.push(END);
    next.extend(run(n_tables + 1, n_stream));
    next.resize(n_tables * SECTOR / 4, FREE);
    let mut head = vec![0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1];
    head.resize(24, 0);
    head.extend([0x3E_u16, 3, 0xFFFE, 9, 6].iter().flat_map(|n| n.to_le_bytes()));
    head.resize(44, 0);
    let numbers = [n_tables as u32, n_tables as u32, 0, 4096, END, 0, END, 0];
    head.extend(numbers.iter().flat_map(|n| n.to_le_bytes()));
    head.extend((0..109).flat_map(|i| if i < n_tables { i as u32 } else { FREE }.to_le_bytes()));
    let root = entry("Root Entry", 5, 1, END, 0);
    let book = entry("Workbook", 2, FREE, n_tables as u32 + 1, stream.len());
    let none = entry("", 0, FREE, 0, 0);
    let table: Vec<u8> = next.iter().flat_map(|n| n.to_le_bytes()).collect();
    [head, table, root, book, none.clone(), none, stream].concat()
}

fn entry(name: &str, kind: u8, child: u32, first: u32, size: usize) -> Vec<u8> {
    let mut bytes = wide(name);
    let n_bytes = if name.is_empty() { 0 } else { bytes.len() as u16 + 2 };
    bytes.resize(64, 0);
    bytes.extend(n_bytes.to_le_bytes());
    bytes.extend([kind, 1]);
    bytes.extend([FREE, FREE, child].iter().flat_map(|n| n.to_le_bytes()));
    bytes.resize(116, 0);
    bytes.extend(first.to_le_bytes());
    bytes.extend((size as u64).to_le_bytes());
    bytes
}

/// A package of binary parts.
pub fn xlsb(sheets: &[(&str, Grid)]) -> Vec<u8> {
    let long_text = |text: &str| [&(n_units(text) as u32).to_le_bytes()[..], &wide(text)].concat();
    let bundle = |(i, (name, _)): (usize, &(&str, Grid))| {
        let number = i as u32 + 1;
        let place = [0_u32.to_le_bytes(), number.to_le_bytes()].concat();
        part(0x9C, &[place, long_text(&format!("rId{number}")), long_text(name)].concat())
    };
    let bundles: Vec<u8> = sheets.iter().enumerate().flat_map(bundle).collect();
    let book = [part(0x83, &[]), part(0x8F, &[]), bundles, part(0x90, &[]), part(0x84, &[])].concat();
    let numbers = 1..=sheets.len();
    let relations: String = numbers
        .clone()
        .map(|n| {
            let kind = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet";
            format!("<Relationship Id=\"rId{n}\" Type=\"{kind}\" Target=\"worksheets/sheet{n}.bin\"/>")
        })
        .collect();
    let of_package = "http://schemas.openxmlformats.org/package/2006/relationships";
    let relations = format!("<Relationships xmlns=\"{of_package}\">{relations}</Relationships>");
    let root = format!(
        "<Relationships xmlns=\"{of_package}\"><Relationship Id=\"rId1\" \
         Type=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument\" \
         Target=\"xl/workbook.bin\"/></Relationships>"
    );
    let kinds = types(sheets.len());
    let named: Vec<(String, Vec<u8>)> =
        numbers.map(|n| format!("xl/worksheets/sheet{n}.bin")).zip(sheets.iter().map(|(_, g)| sheet_part(g))).collect();
    let mut parts: Vec<(&str, &[u8])> = vec![
        ("[Content_Types].xml", kinds.as_bytes()),
        ("_rels/.rels", root.as_bytes()),
        ("xl/workbook.bin", &book),
        ("xl/_rels/workbook.bin.rels", relations.as_bytes()),
    ];
    parts.extend(named.iter().map(|(name, bytes)| (name.as_str(), bytes.as_slice())));
    package(&parts)
}

fn types(n_sheets: usize) -> String {
    let sheets: String = (1..=n_sheets)
        .map(|n| {
            format!(
                "<Override PartName=\"/xl/worksheets/sheet{n}.bin\" ContentType=\"application/vnd.ms-excel.worksheet\"/>"
            )
        })
        .collect();
    format!(
        "<Types xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\">\
         <Default Extension=\"rels\" ContentType=\"application/vnd.openxmlformats-package.relationships+xml\"/>\
         <Default Extension=\"bin\" ContentType=\"application/vnd.ms-excel.sheet.binary.macroEnabled.main\"/>{sheets}</Types>"
    )
}

/// A record: its kind in one or two bytes, its length in groups of seven bits.
fn part(kind: u16, content: &[u8]) -> Vec<u8> {
    // A kind of two bytes says so by the high bit of the first.
    let mut bytes = if kind < 0x80 { vec![kind as u8] } else { vec![(kind & 0x7F) as u8 | 0x80, (kind >> 7) as u8] };
    let mut rest = content.len();
    loop {
        let low = (rest & 0x7F) as u8;
        rest >>= 7;
        bytes.push(if rest > 0 { low | 0x80 } else { low });
        if rest == 0 {
            break;
        }
    }
    bytes.extend(content);
    bytes
}

fn sheet_part(grid: &Grid) -> Vec<u8> {
    let width = grid.iter().map(Vec::len).max().unwrap_or(1).max(1) as u32;
    let size = [0, grid.len().max(1) as u32 - 1, 0, width - 1].iter().flat_map(|n| n.to_le_bytes()).collect::<Vec<_>>();
    let mut bytes = [part(0x81, &[]), part(0x94, &size), part(0x91, &[])].concat();
    for (r, row) in grid.iter().enumerate() {
        // Row, format, height, flags, no spans.
        let head = [&(r as u32).to_le_bytes()[..], &[0; 4], &300_u16.to_le_bytes(), &[0; 3], &[0; 4]].concat();
        bytes.extend(part(0x00, &head));
        for (c, value) in row.iter().enumerate() {
            let place = [(c as u32).to_le_bytes(), [0; 4]].concat();
            let (kind, content) = match value {
                Value::Blank => continue,
                Value::Text(text) => (0x06, [&(n_units(text) as u32).to_le_bytes()[..], &wide(text)].concat()),
                Value::Number(number) => (0x05, number.to_le_bytes().to_vec()),
                Value::Truth(is_true) => (0x04, vec![u8::from(*is_true)]),
            };
            bytes.extend(part(kind, &[place, content].concat()));
        }
    }
    [bytes, part(0x92, &[]), part(0x82, &[])].concat()
}
