//! Writing the workbook: their parts packed as they are and in their order, then ours.
//!
//! In:  what was decided. Out: the package in the sink. Keeps: a part that does not change is never unpacked; new entries carry
//! a fixed date, so that the same workbooks give the same bytes (`the_same_workbooks_give_the_same_bytes` in the tests of
//! this folder). Not here: any decision (`prepare`).

use super::book::Book;
use super::error::GraftError;
use super::ours::Moving;
use super::package::GraftLimits;
use super::prepare::{Decided, Fate, decide, of_ours};
use super::refuse::{Form, form_of};
use super::rewrite::{Changes, Kind, links, rewrite};
use rayon::prelude::*;
use std::collections::HashSet;
use std::io::{BufReader, Cursor, Seek, Write};
use zip::result::ZipError;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipArchive, ZipWriter};

/// Of 1 to 9, as for workbooks of our sheets alone.
const COMPRESSION: i64 = 3;

/// A workbook of theirs and our sheets, ready to be written as one.
#[derive(Debug)]
pub struct Graft<'b> {
    theirs: Book<'b>,
    ours: Book<'b>,
    decided: Decided,
    form: Form,
}

impl<'b> Graft<'b> {
    /// Decides how our sheets go into their workbook.
    ///
    /// # Errors
    /// [`GraftError`] with the reason why the workbook is left alone; nothing is written then.
    pub fn prepare(theirs: &'b [u8], ours: &'b [u8], limits: GraftLimits) -> Result<Self, GraftError> {
        let mut theirs = Book::open(theirs, limits)?;
        let form = form_of(&theirs)?;
        let mut ours = Book::open(ours, limits).map_err(of_ours)?;
        let decided = decide(&mut theirs, &mut ours)?;
        Ok(Graft { theirs, ours, decided, form })
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
        let (ours, decided) = (&self.ours.package.zip, &self.decided);
        let packed: Vec<Result<Vec<u8>, GraftError>> =
            decided.moving.par_iter().map(|part| packed(ours.clone(), part, decided)).collect();
        for part in packed {
            let mut alone = ZipArchive::new(Cursor::new(part?)).map_err(|e| ours_fault(&e))?;
            let raw = alone.by_index_raw(0).map_err(|e| ours_fault(&e))?;
            writer.raw_copy_file(raw).map_err(|e| sink_fault(&e))?;
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
        .compression_level(Some(COMPRESSION))
        .last_modified_time(DateTime::default())
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

fn ours_fault(error: &ZipError) -> GraftError {
    GraftError::Ours(error.to_string())
}

/// A part of ours with its changes, packed alone: parts are packed side by side, as that is what takes the time.
fn packed(mut ours: ZipArchive<Cursor<&[u8]>>, part: &Moving, decided: &Decided) -> Result<Vec<u8>, GraftError> {
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    copy_ours(&mut ours, part, decided, &mut writer)?;
    Ok(writer.finish().map_err(|e| sink_fault(&e))?.into_inner())
}

fn copy_ours<W: Write + Seek>(
    ours: &mut ZipArchive<Cursor<&[u8]>>,
    part: &Moving,
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
    rewrite(source, std::io::BufWriter::with_capacity(1 << 16, writer), &changes)
}
