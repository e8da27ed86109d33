//! A package (.xlsx, .xlsm, .xlsb, .ods) that is safe to look into: judged by its directory before anything is inflated.
//!
//! In:  the file's bytes. Out: its parts, one at a time, as they inflate; nothing is written to disk and no name of a part is a path.
//! Keeps: too many parts, too many bytes, parts packed too tightly, doubled names and encrypted parts are refused
//! (`what_a_directory_must_not_say`); a part that inflates to more than its directory says stops there
//! (`a_part_that_says_less_than_it_holds_is_damaged`); names are found in any casing (`a_part_is_found_in_any_casing`).
//! Not here: what the parts mean (`kind`, `xlsx`, `ods`).

use super::ReadError;
use super::refuse::{damaged, protected, too_large};
use std::collections::HashMap;
use std::io::{self, Cursor, Read};
use zip::ZipArchive;
use zip::read::ZipFile;

/// Parts of a package at most.
const MOST_PARTS: u64 = 5_000;
/// Bytes that a package may inflate to.
const MOST_INFLATED: u64 = 600 * 1024 * 1024;
/// Parts above this size must not be packed tighter than [`TIGHTEST`].
const LARGE_PART: u64 = 64 * 1024 * 1024;
/// Inflated bytes for each packed byte. Large sheets of real schools stay under 30 (measured on sheets of blank formatted cells).
const TIGHTEST: u64 = 200;
/// Parts up to this size are held whole while they are read.
const HELD_WHOLE: u64 = 16 * 1024 * 1024;

/// A package whose directory was judged.
#[derive(Clone)]
pub struct Package<'a> {
    file: &'a str,
    zip: ZipArchive<Cursor<&'a [u8]>>,
    /// Place of each part by its name in lower case, with `/` between folders.
    places: HashMap<String, usize>,
}

/// A part as it inflates.
pub enum Part<'p, 'a> {
    /// Small enough to be held whole.
    Held(Vec<u8>),
    /// Read piece by piece.
    Streamed(Metered<'p, 'a>),
}

impl<'a> Package<'a> {
    /// Judges a package by its directory.
    pub fn open(file: &'a str, bytes: &'a [u8]) -> Result<Self, ReadError> {
        if n_parts_said(bytes).is_some_and(|n| n > MOST_PARTS) {
            return Err(too_large(file, &format!("holds more than {MOST_PARTS} parts")));
        }
        let mut zip = ZipArchive::new(Cursor::new(bytes)).map_err(|_| damaged(file))?;
        if zip.has_duplicate_names() {
            return Err(damaged(file));
        }
        let places = judge_parts(file, &mut zip)?;
        Ok(Package { file, zip, places })
    }

    /// The file's name, for messages.
    pub fn file(&self) -> &'a str {
        self.file
    }

    /// Whether there is such a part.
    pub fn has(&self, path: &str) -> bool {
        self.places.contains_key(&plain(path))
    }

    /// Names of all parts in lower case, in no order.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.places.keys().map(String::as_str)
    }

    /// A part that is small or not there: at most [`HELD_WHOLE`] bytes, else it is refused.
    pub fn small(&mut self, path: &str) -> Result<Option<Vec<u8>>, ReadError> {
        let file = self.file;
        match self.part(path)? {
            None => Ok(None),
            Some(Part::Held(bytes)) => Ok(Some(bytes)),
            Some(Part::Streamed(_)) => Err(too_large(file, "has a very large list of its own parts or formats")),
        }
    }

    /// A part, or `None` where there is none of this name.
    pub fn part(&mut self, path: &str) -> Result<Option<Part<'_, 'a>>, ReadError> {
        let Some(&place) = self.places.get(&plain(path)) else { return Ok(None) };
        let file = self.file;
        let packed = self.zip.by_index(place).map_err(|_| damaged(file))?;
        let said = packed.size();
        let mut part = Metered { packed, left: said };
        if said > HELD_WHOLE {
            return Ok(Some(Part::Streamed(part)));
        }
        let mut bytes = Vec::with_capacity(said as usize);
        part.read_to_end(&mut bytes).map_err(|_| damaged(file))?;
        Ok(Some(Part::Held(bytes)))
    }
}

/// A name as it is compared: no slash in front, lower case.
fn plain(path: &str) -> String {
    path.trim_start_matches('/').replace('\\', "/").to_lowercase()
}

fn judge_parts(file: &str, zip: &mut ZipArchive<Cursor<&[u8]>>) -> Result<HashMap<String, usize>, ReadError> {
    let mut places = HashMap::new();
    let mut total = 0_u64;
    for place in 0..zip.len() {
        let part = zip.by_index_raw(place).map_err(|_| damaged(file))?;
        if part.encrypted() {
            return Err(protected(file));
        }
        total = total.saturating_add(part.size());
        if part.size() > LARGE_PART && part.size() / part.compressed_size().max(1) > TIGHTEST {
            let (to, from) = (part.size() >> 20, part.compressed_size() >> 10);
            return Err(too_large(file, &format!("would unpack to {to} MB from {from} kB")));
        }
        let name = part.name().map_err(|_| damaged(file))?;
        if places.insert(plain(&name), place).is_some() {
            return Err(damaged(file));
        }
    }
    if total > MOST_INFLATED {
        return Err(too_large(file, &format!("would unpack to {} MB", total >> 20)));
    }
    Ok(places)
}

/// How many parts the end of the file says there are, before the directory is read; `None` where there is no such end.
fn n_parts_said(bytes: &[u8]) -> Option<u64> {
    let tail = &bytes[bytes.len().saturating_sub(65_557)..];
    let end = &tail[memchr::memmem::rfind(tail, b"PK\x05\x06")?..];
    let said = u64::from(u16::from_le_bytes(end.get(10..12)?.try_into().ok()?));
    if said < u64::from(u16::MAX) {
        return Some(said);
    }
    let wide = &tail[memchr::memmem::rfind(tail, b"PK\x06\x06")?..];
    Some(u64::from_le_bytes(wide.get(32..40)?.try_into().ok()?))
}

/// Inflates a part up to the size that the directory says, and fails beyond it.
pub struct Metered<'p, 'a> {
    packed: ZipFile<'p, Cursor<&'a [u8]>>,
    left: u64,
}

impl Read for Metered<'_, '_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let n = self.packed.read(buffer)?;
        self.left = self.left.checked_sub(n as u64).ok_or_else(|| io::Error::other("more than the directory says"))?;
        Ok(n)
    }
}

#[cfg(test)]
pub mod tests {
    use super::*;
    use std::io::Write;
    use zip::write::SimpleFileOptions;

    /// A package of these parts.
    pub fn package(parts: &[(&str, &[u8])]) -> Vec<u8> {
        let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
        for (name, content) in parts {
            writer.start_file(*name, SimpleFileOptions::default()).unwrap();
            writer.write_all(content).unwrap();
        }
        writer.finish().unwrap().into_inner()
    }

    fn refusal(bytes: &[u8]) -> ReadError {
        Package::open("f.xlsx", bytes).err().unwrap()
    }

    /// Replaces the first place after `mark` (in the central directory) at an offset.
    fn patched(mut bytes: Vec<u8>, mark: &[u8], offset: usize, with: &[u8]) -> Vec<u8> {
        let at = memchr::memmem::find(&bytes, mark).unwrap() + offset;
        bytes[at..at + with.len()].copy_from_slice(with);
        bytes
    }

    #[test]
    fn what_a_directory_must_not_say() {
        let blanks = vec![b' '; 80 << 20];
        let tight = refusal(&package(&[("xl/worksheets/sheet1.xml", &blanks)]));
        assert_eq!(tight.code, "file-too-large");
        assert!(tight.message.starts_with("f.xlsx would unpack to 80 MB from "), "{}", tight.message);

        let names: Vec<String> = (0..=MOST_PARTS).map(|n| n.to_string()).collect();
        let many: Vec<(&str, &[u8])> = names.iter().map(|n| (n.as_str(), &b""[..])).collect();
        assert_eq!(refusal(&package(&many)).message.split(';').next(), Some("f.xlsx holds more than 5000 parts"));

        assert_eq!(refusal(&package(&[("a.xml", b""), ("A.XML", b"")])).code, "file-damaged");
        let same = replace_all(&package(&[("aa.xml", b"1"), ("ab.xml", b"2")]), b"ab.xml", b"aa.xml");
        assert_eq!(refusal(&same).code, "file-damaged");

        let locked = patched(package(&[("a.xml", b"x")]), b"PK\x01\x02", 8, &[1, 0]);
        assert_eq!(refusal(&locked).code, "file-protected");
        assert_eq!(refusal(b"PK\x03\x04 cut short").code, "file-damaged");
    }

    fn replace_all(bytes: &[u8], from: &[u8], to: &[u8]) -> Vec<u8> {
        let mut out = bytes.to_vec();
        for at in memchr::memmem::find_iter(bytes, from) {
            out[at..at + to.len()].copy_from_slice(to);
        }
        out
    }

    #[test]
    fn a_part_that_says_less_than_it_holds_is_damaged() {
        let lying = patched(package(&[("a.xml", &[b'x'; 90_000])]), b"PK\x01\x02", 24, &100_u32.to_le_bytes());
        let mut package = Package::open("f.xlsx", &lying).unwrap();
        assert_eq!(package.small("a.xml").err().unwrap().code, "file-damaged");
    }

    #[test]
    fn a_part_is_found_in_any_casing() {
        let bytes = package(&[("XL/Workbook.XML", b"<workbook/>")]);
        let mut package = Package::open("f.xlsx", &bytes).unwrap();
        assert_eq!(package.small("/xl/workbook.xml").unwrap().unwrap(), b"<workbook/>");
        assert!(package.small("xl/styles.xml").unwrap().is_none());
    }
}
