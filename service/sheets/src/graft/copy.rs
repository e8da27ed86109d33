//! Writing the workbook: their parts packed as they are and in their order, then ours.
//!
//! In:  what was decided, and our sheets. Out: the package in the sink. Keeps: a part that does not change is never unpacked; new entries carry
//! a fixed date, so that the same workbooks give the same bytes (`the_same_workbooks_give_the_same_bytes` in the tests of
//! this folder). Not here: any decision (`prepare`).

use super::alone::{copy_packed, packed_alone};
use super::book::Book;
use super::error::GraftError;
use super::ours::Moving;
use super::package::GraftLimits;
use super::prepare::{Decided, Fate, decide, of_ours};
use super::refuse::{Form, form_of};
use super::rewrite::{Changes, Kind, links, rewrite};
use super::rows::{filled, with_rows};
use crate::write::{COMPRESSION, OurSheets, SheetRows};
use rayon::prelude::*;
use std::collections::HashSet;
use std::io::{BufRead, BufReader, BufWriter, Cursor, Seek, Write};
use zip::result::ZipError;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipArchive, ZipWriter};

/// A workbook of theirs and our sheets, ready to be written as one.
#[derive(Debug)]
pub struct Graft<'b> {
    theirs: Book<'b>,
    /// Our sheets without their rows.
    ours: Book<'b>,
    rows: &'b OurSheets,
    decided: Decided,
    form: Form,
}

impl<'b> Graft<'b> {
    /// Decides how our sheets go into their workbook.
    ///
    /// # Errors
    /// [`GraftError`] with the reason why the workbook is left alone; nothing is written then.
    pub fn prepare(theirs: &'b [u8], rows: &'b OurSheets, limits: GraftLimits) -> Result<Self, GraftError> {
        let mut theirs = Book::open(theirs, limits)?;
        let form = form_of(&theirs)?;
        let mut ours = Book::open(rows.frame(), limits).map_err(of_ours)?;
        let decided = decide(&mut theirs, &mut ours)?;
        Ok(Graft { theirs, ours, rows, decided, form })
    }

    /// With macros or without, as the ending of the file's name must say.
    #[must_use]
    pub fn form(&self) -> Form {
        self.form
    }

    /// Our sheets that took another name because theirs has the usual one: usual name, name taken.
    #[must_use]
    pub fn renamed(&self) -> &[(String, String)] {
        &self.decided.renamed
    }

    /// Writes the workbook.
    ///
    /// # Errors
    /// [`GraftError::Sink`] where the sink fails, [`GraftError::Ours`] where a part of ours cannot be read.
    pub fn write<W: Write + Seek>(mut self, sink: W) -> Result<(), GraftError> {
        let mut writer = ZipWriter::new(sink);
        copy_theirs(&mut self.theirs, &mut self.decided, &mut writer)?;
        // Formats first: where they were new this week, they stand before our sheets next week too.
        for (name, bytes) in &self.decided.small {
            put(&mut writer, name, bytes)?;
        }
        let (ours, rows, decided) = (&self.ours.package.zip, self.rows, &self.decided);
        let pack = |part: &Moving| {
            packed_alone(|writer| copy_ours(&mut ours.clone(), part, rows.rows_of(&part.old_name), decided, writer))
        };
        let packed: Vec<Result<Vec<u8>, GraftError>> = decided.moving.par_iter().map(pack).collect();
        for part in packed {
            copy_packed(&part?, &mut writer)?;
        }
        writer.finish().map_err(|e| sink_fault(&e))?;
        Ok(())
    }
}

pub(super) fn sink_fault(error: &ZipError) -> GraftError {
    GraftError::Sink(error.to_string())
}

/// How new entries are packed.
pub(super) fn options() -> SimpleFileOptions {
    SimpleFileOptions::default()
        .compression_method(CompressionMethod::Deflated)
        .compression_level(Some(COMPRESSION.into()))
        .last_modified_time(DateTime::default())
}

/// A package in which some parts have another text: those that may have one are looked at, `change` gives the new text.
pub(crate) fn replaced(
    package: &[u8],
    may: impl Fn(&str) -> bool,
    change: impl Fn(&str) -> Option<String>,
) -> Result<Vec<u8>, GraftError> {
    let mut from = ZipArchive::new(Cursor::new(package)).map_err(|e| ours_fault(&e))?;
    let mut writer = ZipWriter::new(Cursor::new(Vec::with_capacity(package.len())));
    for part_idx in 0..from.len() {
        let name =
            from.by_index_raw(part_idx).map_err(|e| ours_fault(&e))?.name().map_err(|e| ours_fault(&e))?.into_owned();
        if may(&name) {
            let part = from.by_index(part_idx).map_err(|e| ours_fault(&e))?;
            let text = std::io::read_to_string(part).map_err(|e| GraftError::Ours(e.to_string()))?;
            put(&mut writer, &name, change(&text).unwrap_or(text).as_bytes())?;
        } else {
            let part = from.by_index_raw(part_idx).map_err(|e| ours_fault(&e))?;
            writer.raw_copy_file(part).map_err(|e| sink_fault(&e))?;
        }
    }
    Ok(writer.finish().map_err(|e| sink_fault(&e))?.into_inner())
}

/// Writes a part of a few bytes.
pub(super) fn put<W: Write + Seek>(writer: &mut ZipWriter<W>, name: &str, bytes: &[u8]) -> Result<(), GraftError> {
    writer.start_file(name, options()).map_err(|e| sink_fault(&e))?;
    writer.write_all(bytes).map_err(|e| GraftError::Sink(e.to_string()))
}

fn copy_theirs<W: Write + Seek>(
    theirs: &mut Book<'_>,
    decided: &mut Decided,
    writer: &mut ZipWriter<W>,
) -> Result<(), GraftError> {
    let names = theirs.package.names().to_vec();
    let comment = theirs.package.zip.comment().to_vec();
    writer.set_raw_comment(comment.into_boxed_slice()).map_err(|e| sink_fault(&e))?;
    for (part_idx, name) in names.iter().enumerate() {
        match decided.fates.remove(&part_idx) {
            Some(Fate::Dropped) => {}
            Some(Fate::Changed(bytes)) => put(writer, name, &bytes)?,
            None => {
                let part = theirs.package.zip.by_index_raw(part_idx).map_err(|e| GraftError::damaged(e.to_string()))?;
                writer.raw_copy_file(part).map_err(|e| sink_fault(&e))?;
            }
        }
    }
    Ok(())
}

pub(super) fn ours_fault(error: &ZipError) -> GraftError {
    GraftError::Ours(error.to_string())
}

/// A part of ours with its changes.
fn copy_ours<W: Write + Seek>(
    ours: &mut ZipArchive<Cursor<&[u8]>>,
    part: &Moving,
    rows: Option<&SheetRows>,
    decided: &Decided,
    writer: &mut ZipWriter<W>,
) -> Result<(), GraftError> {
    let fault = |e: ZipError| ours_fault(&e);
    let stays = part.kind == Kind::AsIs || (part.kind == Kind::Chart && decided.renames.is_empty());
    if stays {
        let raw = ours.by_index_raw(part.part_idx).map_err(fault)?;
        return writer.raw_copy_file_rename(raw, part.new_name.as_str()).map_err(|e| sink_fault(&e));
    }
    let links = if part.kind == Kind::Sheet && !decided.renames.is_empty() {
        links(BufReader::new(ours.by_index(part.part_idx).map_err(fault)?))?
    } else {
        HashSet::new()
    };
    let changes = Changes {
        kind: &part.kind,
        styles: &decided.styles,
        renames: &decided.renames,
        strings: &decided.strings,
        links: &links,
    };
    writer.start_file(part.new_name.as_str(), options()).map_err(|e| sink_fault(&e))?;
    let source = BufReader::with_capacity(1 << 16, ours.by_index(part.part_idx).map_err(fault)?);
    match rows {
        Some(rows) => rewrite_sheet(source, rows, writer, &changes),
        None => rewrite(source, BufWriter::with_capacity(1 << 16, writer), &changes),
    }
}

/// A sheet whose rows are apart: they need more than new numbers of formats only where a link shows the name of a sheet.
fn rewrite_sheet(
    source: impl BufRead,
    rows: &SheetRows,
    sink: impl Write,
    changes: &Changes<'_>,
) -> Result<(), GraftError> {
    let mut frame = Vec::new();
    rewrite(source, &mut frame, changes)?;
    let frame = String::from_utf8(frame).map_err(|e| GraftError::Ours(e.to_string()))?;
    if changes.links.is_empty() {
        return with_rows(&frame, rows, changes.styles, sink);
    }
    filled(&frame, &rows.dimension, sink, |sink| {
        rows.read(|rows| rewrite(rows, sink, changes)).map_err(|e| GraftError::Ours(e.to_string()))?
    })
}
