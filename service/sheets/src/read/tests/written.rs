//! Grids of cells as files: .xlsx, .csv and .tsv in several delimiters and encodings, .ods.
//!
//! In:  named grids. Out: bytes. An .xlsx is written by the library for that, an .ods part by part. Ids of digits and of one length are
//! numbers with a format that shows their zeros where [`Ids::Numbers`] says so.
//! Not here: .xls and .xlsb (`written_binary`); old one-byte encodings, which can only be guessed (fixtures hold some).

use super::super::package::tests::package;
use super::tables::{Grid, Value};
use rust_xlsxwriter::{Format, Workbook};
use std::fmt::Write;

/// How ids of digits are written in a workbook.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ids {
    Texts,
    Numbers,
}

/// How a text file is encoded.
#[derive(Debug, Clone, Copy)]
pub enum Encoding {
    Utf8,
    Utf8WithMark,
    Utf16,
    Utf16BigEnd,
}

pub fn xlsx(sheets: &[(&str, Grid)], ids: Ids) -> Vec<u8> {
    let mut workbook = Workbook::new();
    for (name, grid) in sheets {
        let sheet = workbook.add_worksheet();
        sheet.set_name(*name).unwrap();
        for (r, row) in grid.iter().enumerate() {
            for (c, value) in row.iter().enumerate() {
                let (r, c) = (r as u32, c as u16);
                match value {
                    Value::Blank => continue,
                    Value::Text(text) => match padded(text).filter(|_| ids == Ids::Numbers) {
                        Some((number, format)) => {
                            sheet.write_number_with_format(r, c, number, &Format::new().set_num_format(format)).unwrap()
                        }
                        None => sheet.write_string(r, c, text).unwrap(),
                    },
                    Value::Number(number) => sheet.write_number(r, c, *number).unwrap(),
                    Value::Truth(is_true) => sheet.write_boolean(r, c, *is_true).unwrap(),
                };
            }
        }
    }
    workbook.save_to_buffer().unwrap()
}

/// A text of digits as a number, and the format that shows it so.
fn padded(text: &str) -> Option<(f64, String)> {
    let is_digits = text.len() > 3 && text.bytes().all(|b| b.is_ascii_digit());
    is_digits.then(|| (text.parse().unwrap(), "0".repeat(text.len())))
}

fn shown(value: &Value, decimal: char) -> String {
    match value {
        Value::Blank => String::new(),
        Value::Text(text) => text.clone(),
        Value::Number(number) => number.to_string().replace('.', &decimal.to_string()),
        Value::Truth(is_true) => is_true.to_string().to_uppercase(),
    }
}

pub fn csv(grid: &Grid, delimiter: u8, encoding: Encoding) -> Vec<u8> {
    let decimal = if delimiter == b';' { ',' } else { '.' };
    let mut writer = csv::WriterBuilder::new().delimiter(delimiter).from_writer(Vec::new());
    for row in grid {
        writer.write_record(row.iter().map(|value| shown(value, decimal))).unwrap();
    }
    let text = String::from_utf8(writer.into_inner().unwrap()).unwrap();
    let wide = |to_bytes: fn(u16) -> [u8; 2]| {
        ['\u{feff}'].into_iter().chain(text.chars()).collect::<String>().encode_utf16().flat_map(to_bytes).collect()
    };
    match encoding {
        Encoding::Utf8 => text.into_bytes(),
        Encoding::Utf8WithMark => format!("\u{feff}{text}").into_bytes(),
        Encoding::Utf16 => wide(u16::to_le_bytes),
        Encoding::Utf16BigEnd => wide(u16::to_be_bytes),
    }
}

pub fn ods(sheets: &[(&str, Grid)]) -> Vec<u8> {
    let mut content = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?><office:document-content \
         xmlns:office=\"urn:oasis:names:tc:opendocument:xmlns:office:1.0\" \
         xmlns:table=\"urn:oasis:names:tc:opendocument:xmlns:table:1.0\" \
         xmlns:text=\"urn:oasis:names:tc:opendocument:xmlns:text:1.0\"><office:body><office:spreadsheet>",
    );
    for (name, grid) in sheets {
        write!(content, "<table:table table:name=\"{name}\">").unwrap();
        for row in grid {
            let cells: String = row.iter().map(ods_cell).collect();
            write!(content, "<table:table-row>{cells}</table:table-row>").unwrap();
        }
        content.push_str("</table:table>");
    }
    content.push_str("</office:spreadsheet></office:body></office:document-content>");
    package(&[
        ("mimetype", b"application/vnd.oasis.opendocument.spreadsheet"),
        (
            "META-INF/manifest.xml",
            b"<manifest:manifest xmlns:manifest=\"urn:oasis:names:tc:opendocument:xmlns:manifest:1.0\"/>",
        ),
        ("content.xml", content.as_bytes()),
    ])
}

fn ods_cell(value: &Value) -> String {
    let of = |kind: &str, attribute: String, shown: &str| {
        format!("<table:table-cell office:value-type=\"{kind}\"{attribute}><text:p>{shown}</text:p></table:table-cell>")
    };
    match value {
        Value::Blank => "<table:table-cell/>".to_owned(),
        Value::Text(text) => of("string", String::new(), &escaped(text)),
        Value::Number(number) => of("float", format!(" office:value=\"{number}\""), &number.to_string()),
        Value::Truth(is_true) => {
            of("boolean", format!(" office:boolean-value=\"{is_true}\""), &is_true.to_string().to_uppercase())
        }
    }
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('"', "&quot;")
}
