//! What kind of file the bytes are, whatever its name says.
//!
//! Keeps: every refusal names the file, the reason and the next step (`kinds_go_by_bytes_and_not_by_name`); an old workbook whose own
//! directory cannot be true is not opened (`an_old_file_that_cannot_be_true_is_damaged`).
//! Not here: whether a package is safe to open (`package`), reading cells (`grid`).

use super::package::Package;
use super::refuse::{damaged, protected, refuse};
use super::text::wide_encoding;
use super::xlsx::workbook_path;
use super::{ReadError, compound};
use memchr::memmem;

/// A kind that can be read, opened as far as was needed to know it.
pub enum Kind<'a> {
    /// .xlsx or .xlsm, with the path of its workbook part.
    Xlsx(Package<'a>, String),
    /// .xlsb
    Xlsb,
    /// .ods
    Ods(Package<'a>),
    /// .xls
    Xls,
    /// .csv or .tsv
    Text,
}

const PACKAGE_MARKS: [&[u8]; 2] = [b"PK\x03\x04", b"PK\x05\x06"];
const OLD_MARK: &[u8] = &[0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1];

/// Whether the bytes are those of a workbook (or another packed file) and not of a text.
pub fn is_packed(bytes: &[u8]) -> bool {
    PACKAGE_MARKS.iter().any(|mark| bytes.starts_with(mark)) || bytes.starts_with(&OLD_MARK[..4])
}

/// The kind of a file by its bytes.
pub fn sniff<'a>(name: &'a str, bytes: &'a [u8]) -> Result<Kind<'a>, ReadError> {
    if name.starts_with("~$") {
        return Err(refuse(
            "file-is-a-lock",
            name,
            "is only the mark of an open workbook; choose the file without ~$.",
        ));
    }
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return Err(refuse("file-empty", name, "is empty; export the sheet again."));
    }
    if PACKAGE_MARKS.iter().any(|mark| bytes.starts_with(mark)) {
        return package_kind(name, bytes);
    }
    if bytes.starts_with(&OLD_MARK[..4]) {
        return old_kind(name, bytes);
    }
    let head: String = bytes.iter().take(600).map(|b| (*b as char).to_ascii_lowercase()).collect();
    let head = head.trim_start_matches(['\u{ef}', '\u{bb}', '\u{bf}']).trim_start();
    let is_xml = head.starts_with("<?xml") && !head.contains("<html");
    let is_page = head.starts_with("<!doctype html") || head.contains("<html") || head.contains("<table");
    if head.starts_with('<') && is_page && !is_xml {
        return Err(refuse(
            "file-is-a-web-page",
            name,
            "is a web page, not a spreadsheet; open it and save it as .xlsx.",
        ));
    }
    if head.starts_with("<?xml") || head.starts_with('<') {
        return Err(refuse("file-is-xml", name, "is an XML text, not a workbook; open it and save it as .xlsx."));
    }
    let is_known_binary = [&b"%PDF"[..], b"\x89PNG", b"\xFF\xD8\xFF", b"GIF8", b"Rar!", b"7z\xBC\xAF", b"\x1F\x8B"]
        .iter()
        .any(|magic| bytes.starts_with(magic));
    let has_mark = bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]);
    let is_wide_text = has_mark || wide_encoding(bytes).is_some();
    if is_known_binary || (!is_wide_text && bytes.iter().take(4096).any(|b| *b == 0)) {
        return Err(refuse("not-a-spreadsheet", name, "is not a spreadsheet; save the sheet as .xlsx or .csv."));
    }
    Ok(Kind::Text)
}

fn old_kind<'a>(name: &str, bytes: &[u8]) -> Result<Kind<'a>, ReadError> {
    let has = |word: &str| {
        let wide: Vec<u8> = word.encode_utf16().flat_map(u16::to_le_bytes).collect();
        memmem::find(bytes, &wide).is_some()
    };
    if has("EncryptedPackage") {
        return Err(protected(name));
    }
    if !compound::can_be_true(bytes) {
        return Err(damaged(name));
    }
    if has("Workbook") || has("Book") {
        return Ok(Kind::Xls);
    }
    Err(refuse("not-a-spreadsheet", name, "is an old office file, but not a spreadsheet; save the sheet as .xlsx."))
}

fn package_kind<'a>(name: &'a str, bytes: &'a [u8]) -> Result<Kind<'a>, ReadError> {
    let mut package = Package::open(name, bytes)?;
    if let Some(kind) = package.small("mimetype")? {
        return if memmem::find(&kind, b"opendocument.spreadsheet").is_some() {
            Ok(Kind::Ods(package))
        } else {
            Err(refuse("not-a-spreadsheet", name, "is a document, not a spreadsheet; save the sheet as .xlsx."))
        };
    }
    if !package.has("[Content_Types].xml") {
        let why = "is a packed folder, not a spreadsheet; unpack it and choose the sheet in it.";
        return Err(refuse("not-a-spreadsheet", name, why));
    }
    match workbook_path(&mut package)? {
        Some(path) if path.ends_with(".bin") => Ok(Kind::Xlsb),
        Some(path) if is_workbook(&mut package, &path)? => Ok(Kind::Xlsx(package, path)),
        _ => Err(refuse("not-a-spreadsheet", name, "is not a spreadsheet; save the sheet as .xlsx.")),
    }
}

/// Whether the part begins as a workbook does.
fn is_workbook(package: &mut Package<'_>, path: &str) -> Result<bool, ReadError> {
    let part = package.small(path)?.unwrap_or_default();
    Ok(memmem::find(&part[..part.len().min(4096)], b"workbook").is_some())
}

#[cfg(test)]
mod tests {
    use super::super::package::tests::package;
    use super::*;

    fn code_of(name: &str, bytes: &[u8]) -> &'static str {
        sniff(name, bytes).err().unwrap().code
    }

    #[test]
    fn kinds_go_by_bytes_and_not_by_name() {
        assert!(matches!(sniff("a.xlsx", b"id,Q1\n1,A\n"), Ok(Kind::Text)));
        assert_eq!(code_of("a.xls", b"<html><table>"), "file-is-a-web-page");
        assert_eq!(code_of("a.xls", b"<?xml version=\"1.0\"?><html><table>"), "file-is-a-web-page");
        assert_eq!(code_of("a.xls", b"<?xml version=\"1.0\"?><Workbook><Table>"), "file-is-xml");
        assert_eq!(code_of("a.csv", b"  \n"), "file-empty");
        assert_eq!(code_of("a.csv", b"%PDF-1.7"), "not-a-spreadsheet");
        assert_eq!(code_of("~$a.xlsx", b"x"), "file-is-a-lock");
        assert_eq!(code_of("a.xlsx", b"PK\x03\x04 cut short"), "file-damaged");
        let document = package(&[("word/document.xml", b""), ("[Content_Types].xml", b"")]);
        assert_eq!(code_of("a.xlsx", &document), "not-a-spreadsheet");
        let folder = package(&[("a.csv", b"id,Q1\n1,A\n")]);
        assert_eq!(code_of("a.xlsx", &folder), "not-a-spreadsheet");
    }

    #[test]
    fn an_old_file_that_cannot_be_true_is_damaged() {
        let mut old = vec![0_u8; 4096];
        old[..8].copy_from_slice(OLD_MARK);
        (old[30], old[32]) = (9, 6);
        for no_sector in [48..52, 60..64, 68..72, 76..512] {
            old[no_sector].fill(0xFF);
        }
        assert_eq!(code_of("a.xls", &old), "not-a-spreadsheet");
        old[44..48].copy_from_slice(&0x00ff_ffff_u32.to_le_bytes());
        assert_eq!(code_of("a.xls", &old), "file-damaged");
        assert_eq!(code_of("a.xls", &OLD_MARK[..6]), "file-damaged");
    }
}
