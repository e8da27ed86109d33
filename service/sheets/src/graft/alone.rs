//! A workbook of our sheets alone.
//!
//! In:  our sheets before they are packed. Out: the workbook in the sink, its sheets packed side by side.
//! Spreadsheet programs refuse an .xlsm whose content type is that of an .xlsx, so the type follows the form that is asked for:
//! one with macros where a workbook with macros is left alone and another was asked for by its name.
//! Not here: our sheets in a workbook of theirs (`copy`).

use super::book::Book;
use super::copy::{options, ours_fault, put, sink_fault};
use super::error::GraftError;
use super::package::GraftLimits;
use super::prepare::of_ours;
use super::refuse::{Form, MACROS, PLAIN};
use super::rows::with_rows;
use super::styles::StyleMap;
use super::types;
use crate::write::OurSheets;
use rayon::prelude::*;
use std::io::{Cursor, Seek, Write};
use zip::{ZipArchive, ZipWriter};

/// Writes a workbook of our sheets alone.
///
/// # Errors
/// [`GraftError`] where it cannot be taken apart or the sink fails.
pub fn write_alone<W: Write + Seek>(ours: &OurSheets, form: Form, sink: W) -> Result<(), GraftError> {
    let mut book = Book::open(ours.frame(), GraftLimits::default()).map_err(of_ours)?;
    let names = book.package.names().to_vec();
    let zip = &book.package.zip;
    let packed: Vec<Option<Result<Vec<u8>, GraftError>>> =
        names.par_iter().enumerate().map(|(part_idx, name)| with_its_rows(zip.clone(), part_idx, name, ours)).collect();
    let mut writer = ZipWriter::new(sink);
    for (part_idx, (name, packed)) in names.iter().zip(packed).enumerate() {
        if let Some(packed) = packed {
            copy_packed(&packed?, &mut writer)?;
        } else if name == types::PART && form == Form::Macros {
            let changed = book.types_text.text.replace(PLAIN, MACROS);
            put(&mut writer, types::PART, &book.types_text.encode(&changed))?;
        } else {
            let part = book.package.zip.by_index_raw(part_idx).map_err(|e| ours_fault(&e))?;
            writer.raw_copy_file(part).map_err(|e| sink_fault(&e))?;
        }
    }
    writer.finish().map_err(|e| sink_fault(&e))?;
    Ok(())
}

/// A sheet with its rows, packed alone; `None` for any other part.
fn with_its_rows(
    mut frame: ZipArchive<Cursor<&[u8]>>,
    part_idx: usize,
    name: &str,
    ours: &OurSheets,
) -> Option<Result<Vec<u8>, GraftError>> {
    let rows = ours.rows_of(name)?;
    Some(packed_alone(|writer| {
        let text = std::io::read_to_string(frame.by_index(part_idx).map_err(|e| ours_fault(&e))?);
        let text = text.map_err(|e| GraftError::Ours(e.to_string()))?;
        writer.start_file(name, options()).map_err(|e| sink_fault(&e))?;
        with_rows(&text, rows, &StyleMap::default(), writer)
    }))
}

/// A package of one part, to be copied as it is: packing is what takes the time, so parts are packed side by side.
pub(super) fn packed_alone(
    fill: impl FnOnce(&mut ZipWriter<Cursor<Vec<u8>>>) -> Result<(), GraftError>,
) -> Result<Vec<u8>, GraftError> {
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    fill(&mut writer)?;
    Ok(writer.finish().map_err(|e| sink_fault(&e))?.into_inner())
}

/// Copies the part of such a package.
pub(super) fn copy_packed<W: Write + Seek>(packed: &[u8], writer: &mut ZipWriter<W>) -> Result<(), GraftError> {
    let mut alone = ZipArchive::new(Cursor::new(packed)).map_err(|e| ours_fault(&e))?;
    let raw = alone.by_index_raw(0).map_err(|e| ours_fault(&e))?;
    writer.raw_copy_file(raw).map_err(|e| sink_fault(&e))
}
