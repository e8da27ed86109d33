//! A package: parts by name, whatever the case and the slashes.
//!
//! In:  the bytes of a zip file. Out: parts, read one at a time and only those that are asked for; all others are copied
//! packed as they are (`write`). Keeps: a name that two parts share is refused, as nobody could tell which is meant
//! (`two_parts_of_one_name_are_refused`); no part is unpacked beyond the limit (`a_part_over_the_limit_is_refused`).
//! Not here: what a part means, safety of the whole package, which the reader judges before (`read`).

use super::coding::PartText;
use super::error::GraftError;
use std::collections::HashMap;
use std::io::{Cursor, Read};
use zip::ZipArchive;
use zip::result::ZipError;

/// How much may be unpacked to be changed.
#[derive(Debug, Clone, Copy)]
pub struct GraftLimits {
    /// Bytes of one part that is changed.
    pub max_part_bytes: u64,
    /// Parts of the package.
    pub max_parts: usize,
}

impl Default for GraftLimits {
    fn default() -> Self {
        GraftLimits { max_part_bytes: 64 << 20, max_parts: 5_000 }
    }
}

/// A package and where each part stands in it.
#[derive(Debug)]
pub(super) struct Package<'b> {
    pub zip: ZipArchive<Cursor<&'b [u8]>>,
    places: HashMap<String, usize>,
    names: Vec<String>,
    limits: GraftLimits,
}

/// A part's name as it is compared: no slash in front, forward slashes, one case.
pub(super) fn key(name: &str) -> String {
    name.replace('\\', "/").trim_start_matches('/').to_lowercase()
}

impl<'b> Package<'b> {
    /// Reads the directory.
    pub(super) fn open(bytes: &'b [u8], limits: GraftLimits) -> Result<Self, GraftError> {
        if bytes.starts_with(&[0xD0, 0xCF, 0x11, 0xE0]) {
            return Err(GraftError::Encrypted);
        }
        let mut zip = ZipArchive::new(Cursor::new(bytes)).map_err(|e| zip_fault(&e))?;
        if zip.len() > limits.max_parts {
            return Err(GraftError::TooLarge(format!("{} parts", zip.len())));
        }
        let (mut places, mut names) = (HashMap::new(), Vec::with_capacity(zip.len()));
        let has_twins = zip.has_duplicate_names();
        for part_idx in 0..zip.len() {
            let part = zip.by_index_raw(part_idx).map_err(|e| zip_fault(&e))?;
            if part.encrypted() {
                return Err(GraftError::Encrypted);
            }
            let name = part.name().map_err(|e| zip_fault(&e))?.into_owned();
            let is_twin = !name.ends_with('/') && places.insert(key(&name), part_idx).is_some();
            if is_twin || has_twins {
                return Err(GraftError::damaged("two parts have one name"));
            }
            names.push(name);
        }
        Ok(Package { zip, places, names, limits })
    }

    /// Names of all parts, in order.
    pub(super) fn names(&self) -> &[String] {
        &self.names
    }

    /// Place of a part, by its name in any case, or by the name without percent signs.
    pub(super) fn find(&self, name: &str) -> Option<usize> {
        let wanted = key(name);
        self.places.get(&wanted).or_else(|| self.places.get(&key(&without_percents(&wanted)))).copied()
    }

    /// Whether a part's name is taken.
    pub(super) fn has(&self, name: &str) -> bool {
        self.find(name).is_some()
    }

    /// The text of a part.
    pub(super) fn text(&mut self, part_idx: usize) -> Result<PartText, GraftError> {
        PartText::decode(self.bytes(part_idx)?)
    }

    /// The text of a part known by its name; `None` where there is none.
    pub(super) fn text_of(&mut self, name: &str) -> Result<Option<PartText>, GraftError> {
        self.find(name).map(|part_idx| self.text(part_idx)).transpose()
    }

    fn bytes(&mut self, part_idx: usize) -> Result<Vec<u8>, GraftError> {
        let limit = self.limits.max_part_bytes;
        let part = self.zip.by_index(part_idx).map_err(|e| zip_fault(&e))?;
        let mut bytes = Vec::new();
        let read = part.take(limit + 1).read_to_end(&mut bytes);
        read.map_err(|_| GraftError::damaged("a part cannot be unpacked"))?;
        if bytes.len() as u64 > limit {
            return Err(GraftError::TooLarge(format!("a part of more than {} MB", limit >> 20)));
        }
        Ok(bytes)
    }
}

fn zip_fault(error: &ZipError) -> GraftError {
    GraftError::damaged(error.to_string())
}

/// `%20` and its kin as the characters they stand for.
fn without_percents(text: &str) -> String {
    let mut out = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let Some((first, tail)) = rest.split_first() {
        let hex = tail.get(..2).filter(|_| *first == b'%').and_then(|h| std::str::from_utf8(h).ok());
        match hex.and_then(|h| u8::from_str_radix(h, 16).ok()) {
            Some(byte) => {
                out.push(byte);
                rest = &tail[2..];
            }
            None => {
                out.push(*first);
                rest = tail;
            }
        }
    }
    String::from_utf8_lossy(&out).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::graft::hand_made::pack;

    #[test]
    fn a_part_is_found_whatever_its_case() {
        let bytes = pack(&[("XL\\Workbook.XML", "<a/>"), ("xl/my sheet.xml", "<b/>")]);
        let package = Package::open(&bytes, GraftLimits::default()).unwrap();
        assert_eq!(package.find("/xl/workbook.xml"), Some(0));
        assert_eq!(package.find("xl/my%20sheet.xml"), Some(1));
        assert!(!package.has("xl/styles.xml"));
    }

    #[test]
    fn two_parts_of_one_name_are_refused() {
        let bytes = pack(&[("xl/workbook.xml", "<a/>"), ("xl/Workbook.xml", "<a/>")]);
        assert!(matches!(Package::open(&bytes, GraftLimits::default()), Err(GraftError::Damaged(_))));
    }

    #[test]
    fn a_part_over_the_limit_is_refused() {
        let bytes = pack(&[("a", "123456789")]);
        let limits = GraftLimits { max_part_bytes: 8, max_parts: 1 };
        let mut package = Package::open(&bytes, limits).unwrap();
        assert!(matches!(package.text(0), Err(GraftError::TooLarge(_))));
        let many = pack(&[("a", ""), ("b", "")]);
        assert!(matches!(Package::open(&many, limits), Err(GraftError::TooLarge(_))));
    }
}
