//! Packages made by hand, part by part, for tests.
//! In:  names and texts of parts. Out: the bytes of a zip package that holds them in that order. Not here: workbooks on disk (`fixtures/workbooks`).

use std::io::{Cursor, Write};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

/// A package of these parts.
pub(super) fn pack(parts: &[(&str, &str)]) -> Vec<u8> {
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text) in parts {
        writer.start_file(*name, SimpleFileOptions::default()).unwrap();
        writer.write_all(text.as_bytes()).unwrap();
    }
    writer.finish().unwrap().into_inner()
}
