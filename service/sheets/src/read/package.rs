//! What an xlsx package tells beside the cells: hidden rows and columns, formulas without a stored result.
//!
//! The sheet's part is scanned once as bytes; it is parsed only where the scan finds one of the two.
//! Not here: the cells themselves (`grid`).

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use std::io::{Cursor, Read};
use zip::ZipArchive;

/// Hidden rows listed at most.
const MOST_LISTED: usize = 200;

/// What was seen beside the cells.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub struct SheetLook {
    /// 0-based hidden rows.
    pub hidden_rows: Vec<u32>,
    /// 0-based hidden columns, as first and last.
    pub hidden_columns: Vec<(u32, u32)>,
    /// Addresses (0-based row and column) of formulas without a stored result.
    pub without_result: Vec<(u32, u32)>,
    /// Encoding of a text file, where it was guessed.
    pub guessed_encoding: Option<&'static str>,
}

/// Looks at a sheet of an xlsx file; `None` where its part cannot be found.
pub fn look_at_sheet(bytes: &[u8], sheet: &str) -> Option<SheetLook> {
    let mut package = ZipArchive::new(Cursor::new(bytes)).ok()?;
    let path = part_of_sheet(&mut package, sheet)?;
    if !has_more_than_values(&mut package, &path)? {
        return Some(SheetLook::default());
    }
    let part = package.by_name(&path).ok()?;
    let mut reader = Reader::from_reader(std::io::BufReader::new(part));
    let mut buffer = Vec::new();
    let mut look = SheetLook::default();
    let mut cell = CellOnTheWay::default();
    loop {
        buffer.clear();
        match reader.read_event_into(&mut buffer).ok()? {
            Event::Eof => return Some(look),
            Event::Start(e) | Event::Empty(e) => see_start(&e, &mut look, &mut cell),
            Event::End(e) if e.local_name().as_ref() == "c" => cell.close(&mut look),
            _ => {}
        }
    }
}

/// The cell whose start was seen last.
#[derive(Default)]
struct CellOnTheWay {
    at: Option<(u32, u32)>,
    has_formula: bool,
    has_value: bool,
}

impl CellOnTheWay {
    fn close(&mut self, look: &mut SheetLook) {
        if let Some(at) = self.at
            && self.has_formula
            && !self.has_value
            && look.without_result.len() < MOST_LISTED
        {
            look.without_result.push(at);
        }
        *self = CellOnTheWay::default();
    }
}

fn see_start(e: &BytesStart<'_>, look: &mut SheetLook, cell: &mut CellOnTheWay) {
    match e.local_name().as_ref() {
        "row" if is_hidden(e) && look.hidden_rows.len() < MOST_LISTED => {
            look.hidden_rows
                .extend(attribute(e, "r").and_then(|r| r.parse::<u32>().ok()).and_then(|r| r.checked_sub(1)));
        }
        "col" if is_hidden(e) => {
            let end = |key: &str| attribute(e, key).and_then(|v| v.parse::<u32>().ok()).and_then(|v| v.checked_sub(1));
            look.hidden_columns.extend(end("min").zip(end("max")));
        }
        "c" => {
            *cell = CellOnTheWay { at: attribute(e, "r").and_then(|r| position(&r)), ..CellOnTheWay::default() };
        }
        "f" => cell.has_formula = true,
        "v" | "is" => cell.has_value = true,
        _ => {}
    }
}

fn is_hidden(e: &BytesStart<'_>) -> bool {
    attribute(e, "hidden").is_some_and(|v| v == "1" || v == "true")
}

fn attribute(e: &BytesStart<'_>, key: &str) -> Option<String> {
    e.attributes()
        .flatten()
        .find(|a| a.key.local_name().as_ref() == key)
        .map(|a| String::from_utf8_lossy(a.value.as_bytes()).into_owned())
}

/// 0-based row and column of an address such as `C17`.
fn position(address: &str) -> Option<(u32, u32)> {
    let letters: String = address.chars().take_while(char::is_ascii_alphabetic).collect();
    let row: u32 = address[letters.len()..].parse().ok()?;
    let column = letters
        .bytes()
        .try_fold(0_u32, |sum, b| sum.checked_mul(26)?.checked_add(u32::from(b.to_ascii_uppercase() - b'A') + 1))?;
    Some((row.checked_sub(1)?, column.checked_sub(1)?))
}

/// Whether the part holds a formula or anything hidden; read in pieces, never whole.
fn has_more_than_values(package: &mut ZipArchive<Cursor<&[u8]>>, path: &str) -> Option<bool> {
    let mut part = package.by_name(path).ok()?;
    let mut buffer = vec![0_u8; 128 * 1024];
    let mut kept = 0;
    loop {
        let n = part.read(&mut buffer[kept..]).ok()?;
        let filled = kept + n;
        let piece = &buffer[..filled];
        if contains(piece, b"<f>") || contains(piece, b"<f ") || contains(piece, b"<f/") || contains(piece, b" hidden=")
        {
            return Some(true);
        }
        if n == 0 {
            return Some(false);
        }
        let tail = filled.min(16);
        buffer.copy_within(filled - tail..filled, 0);
        kept = tail;
    }
}

fn contains(piece: &[u8], needle: &[u8]) -> bool {
    memchr::memmem::find(piece, needle).is_some()
}

/// Path of the part that holds a sheet, by way of the workbook's relationships.
fn part_of_sheet(package: &mut ZipArchive<Cursor<&[u8]>>, sheet: &str) -> Option<String> {
    let names: Vec<String> = package.file_names().flatten().map(std::borrow::Cow::into_owned).collect();
    let workbook = names.iter().find(|n| n.to_lowercase().ends_with("workbook.xml"))?.clone();
    let folder = workbook.rsplit_once('/').map_or("", |(f, _)| f).to_owned();
    let file = workbook.rsplit('/').next()?.to_owned();
    let relations = format!("{folder}{}_rels/{file}.rels", if folder.is_empty() { "" } else { "/" });
    let id = find_attributes(package, &workbook, "sheet", |e| {
        (attribute(e, "name").as_deref() == Some(sheet)).then(|| attribute(e, "id")).flatten()
    })?;
    let target = find_attributes(package, &relations, "Relationship", |e| {
        (attribute(e, "Id").as_deref() == Some(id.as_str())).then(|| attribute(e, "Target")).flatten()
    })?;
    let path = match target.strip_prefix('/') {
        Some(absolute) => absolute.to_owned(),
        None if folder.is_empty() => target,
        None => format!("{folder}/{target}"),
    };
    names.into_iter().find(|n| n.eq_ignore_ascii_case(&path))
}

/// The first element of a name for which `take` gives something.
fn find_attributes(
    package: &mut ZipArchive<Cursor<&[u8]>>,
    path: &str,
    element: &str,
    take: impl Fn(&BytesStart<'_>) -> Option<String>,
) -> Option<String> {
    let mut text = String::new();
    package.by_name(path).ok()?.take(8 << 20).read_to_string(&mut text).ok()?;
    let mut reader = Reader::from_str(&text);
    loop {
        match reader.read_event().ok()? {
            Event::Eof => return None,
            Event::Start(e) | Event::Empty(e) if e.local_name().as_ref() == element => {
                if let Some(found) = take(&e) {
                    return Some(found);
                }
            }
            _ => {}
        }
    }
}
