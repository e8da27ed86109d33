//! What kind of file the bytes are, whatever its name says; and whether a package is safe to open.
//!
//! Keeps: every refusal names the file, the reason and the next step; a package is judged by its directory before anything is inflated
//! (`a_package_that_inflates_too_far_is_refused`). Not here: reading cells (`grid`, `text`).

use super::ReadError;
use std::io::{Cursor, Read};
use zip::ZipArchive;

/// Parts of a package at most.
const MOST_PARTS: usize = 5_000;
/// Bytes that a package may inflate to.
const MOST_INFLATED: u64 = 600 * 1024 * 1024;
/// Parts above this size must not be packed tighter than [`TIGHTEST`].
const LARGE_PART: u64 = 64 * 1024 * 1024;
/// Inflated bytes for each packed byte.
const TIGHTEST: u64 = 100;

/// A kind that can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileKind {
    /// .xlsx or .xlsm
    Xlsx,
    /// .xlsb
    Xlsb,
    /// .ods
    Ods,
    /// .xls
    Xls,
    /// .csv or .tsv
    Text,
}

fn refuse(code: &'static str, name: &str, why: &str) -> ReadError {
    ReadError { code, message: format!("{name} {why}") }
}

/// The kind of a file by its bytes.
pub fn sniff(name: &str, bytes: &[u8]) -> Result<FileKind, ReadError> {
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
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"PK\x05\x06") {
        return package_kind(name, bytes);
    }
    if bytes.starts_with(&[0xD0, 0xCF, 0x11, 0xE0]) {
        return old_kind(name, bytes);
    }
    let head: String = bytes.iter().take(600).map(|b| (*b as char).to_ascii_lowercase()).collect();
    let head = head.trim_start_matches(['\u{ef}', '\u{bb}', '\u{bf}']).trim_start();
    if head.starts_with("<!doctype html") || head.starts_with("<html") || head.contains("<table") {
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
    let is_wide_text = bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]);
    if is_known_binary || (!is_wide_text && bytes.iter().take(4096).any(|b| *b == 0)) {
        return Err(refuse("not-a-spreadsheet", name, "is not a spreadsheet; save the sheet as .xlsx or .csv."));
    }
    Ok(FileKind::Text)
}

fn old_kind(name: &str, bytes: &[u8]) -> Result<FileKind, ReadError> {
    let wide = |word: &str| word.encode_utf16().flat_map(u16::to_le_bytes).collect::<Vec<u8>>();
    let has = |word: &str| {
        let needle = wide(word);
        bytes.windows(needle.len()).any(|w| w == needle)
    };
    if has("EncryptedPackage") {
        return Err(refuse(
            "file-protected",
            name,
            "is protected by a password; save it once in your spreadsheet program without a password.",
        ));
    }
    if has("Workbook") || has("Book") {
        return Ok(FileKind::Xls);
    }
    Err(refuse("not-a-spreadsheet", name, "is an old office file, but not a spreadsheet; save the sheet as .xlsx."))
}

fn package_kind(name: &str, bytes: &[u8]) -> Result<FileKind, ReadError> {
    let damaged = || refuse("file-damaged", name, "is damaged or cut short; export or copy it again.");
    let mut package = ZipArchive::new(Cursor::new(bytes)).map_err(|_| damaged())?;
    check_sizes(name, &mut package)?;
    let names: Vec<String> = package.file_names().flatten().map(|n| n.to_lowercase()).collect();
    if let Ok(part) = package.by_name("mimetype") {
        let mut kind = String::new();
        part.take(200).read_to_string(&mut kind).map_err(|_| damaged())?;
        if kind.contains("opendocument.spreadsheet") {
            return Ok(FileKind::Ods);
        }
        return Err(refuse("not-a-spreadsheet", name, "is a document, not a spreadsheet; save the sheet as .xlsx."));
    }
    let has = |end: &str| names.iter().any(|n| n.ends_with(end));
    if names.iter().any(|n| n == "[content_types].xml") {
        if has("workbook.bin") {
            return Ok(FileKind::Xlsb);
        }
        if has("document.xml") || has("presentation.xml") {
            return Err(refuse("not-a-spreadsheet", name, "is not a spreadsheet; save the sheet as .xlsx."));
        }
        return Ok(FileKind::Xlsx);
    }
    Err(refuse(
        "not-a-spreadsheet",
        name,
        "is a packed folder, not a spreadsheet; unpack it and choose the sheet in it.",
    ))
}

fn check_sizes(name: &str, package: &mut ZipArchive<Cursor<&[u8]>>) -> Result<(), ReadError> {
    let too_large = |what: String| {
        refuse("file-too-large", name, &format!("{what}; save the score sheet alone as a new workbook."))
    };
    if package.len() > MOST_PARTS {
        return Err(too_large(format!("holds {} parts", package.len())));
    }
    let mut total = 0_u64;
    for at in 0..package.len() {
        let Ok(part) = package.by_index_raw(at) else { continue };
        if part.encrypted() {
            return Err(refuse(
                "file-protected",
                name,
                "is protected by a password; save it once in your spreadsheet program without a password.",
            ));
        }
        total = total.saturating_add(part.size());
        let packed = part.compressed_size().max(1);
        if part.size() > LARGE_PART && part.size() / packed > TIGHTEST {
            return Err(too_large(format!("would unpack to {} MB from {} kB", part.size() >> 20, packed >> 10)));
        }
    }
    if total > MOST_INFLATED {
        return Err(too_large(format!("would unpack to {} MB", total >> 20)));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;
    use zip::write::SimpleFileOptions;

    fn code_of(name: &str, bytes: &[u8]) -> &'static str {
        sniff(name, bytes).unwrap_err().code
    }

    fn package(parts: &[(&str, usize)]) -> Vec<u8> {
        let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
        for (name, size) in parts {
            writer.start_file(*name, SimpleFileOptions::default()).unwrap();
            for _ in 0..size / 65_536 {
                writer.write_all(&[b' '; 65_536]).unwrap();
            }
        }
        writer.finish().unwrap().into_inner()
    }

    #[test]
    fn kinds_go_by_bytes_and_not_by_name() {
        assert_eq!(sniff("a.xlsx", b"id,Q1\n1,A\n").unwrap(), FileKind::Text);
        assert_eq!(code_of("a.xls", b"<html><table>"), "file-is-a-web-page");
        assert_eq!(code_of("a.csv", b"  \n"), "file-empty");
        assert_eq!(code_of("a.csv", b"%PDF-1.7"), "not-a-spreadsheet");
        assert_eq!(code_of("~$a.xlsx", b"x"), "file-is-a-lock");
        assert_eq!(code_of("a.xlsx", b"PK\x03\x04 cut short"), "file-damaged");
        assert_eq!(
            code_of("a.xlsx", &package(&[("word/document.xml", 0), ("[Content_Types].xml", 0)])),
            "not-a-spreadsheet"
        );
    }

    #[test]
    fn a_package_that_inflates_too_far_is_refused() {
        let bytes = package(&[("[Content_Types].xml", 0), ("xl/worksheets/sheet1.xml", 80 * 1024 * 1024)]);
        let error = sniff("bomb.xlsx", &bytes).unwrap_err();
        assert_eq!(error.code, "file-too-large");
        assert!(error.message.starts_with("bomb.xlsx would unpack to 80 MB"), "{}", error.message);
    }
}
