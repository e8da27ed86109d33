//! With macros or without: what a file is, and a workbook of our sheets alone under the name of one with macros.
//!
//! Spreadsheet programs refuse an .xlsm whose content type is that of an .xlsx, so the type is changed; everything else is copied
//! as it is. Used where a workbook with macros is left alone and another was asked for by an .xlsm name.

use super::book::Book;
use super::copy::{put, sink_fault};
use super::error::GraftError;
use super::package::GraftLimits;
use super::prepare::of_ours;
use super::refuse::{Form, MACROS, PLAIN, declared_form};
use super::types;
use std::io::{Seek, Write};
use zip::ZipWriter;

/// The form of an .xlsx or .xlsm, whatever its name says; `None` for any other file.
#[must_use]
pub fn form_by_content(bytes: &[u8]) -> Option<Form> {
    Book::open(bytes, GraftLimits::default()).ok().and_then(|book| declared_form(&book.types, &book.part).ok())
}

/// Copies a workbook of ours as one that may hold macros.
///
/// # Errors
/// [`GraftError`] where it cannot be taken apart or the sink fails.
pub fn with_macros_allowed<W: Write + Seek>(ours: &[u8], sink: W) -> Result<(), GraftError> {
    let mut book = Book::open(ours, GraftLimits::default()).map_err(of_ours)?;
    let types_idx = book.package.find(types::PART);
    let changed = book.types_text.text.replace(PLAIN, MACROS);
    let mut writer = ZipWriter::new(sink);
    for part_idx in 0..book.package.names().len() {
        if Some(part_idx) == types_idx {
            put(&mut writer, types::PART, &book.types_text.encode(&changed))?;
        } else {
            let part = book.package.zip.by_index_raw(part_idx).map_err(|e| GraftError::Ours(e.to_string()))?;
            writer.raw_copy_file(part).map_err(|e| sink_fault(&e))?;
        }
    }
    writer.finish().map_err(|e| sink_fault(&e))?;
    Ok(())
}
