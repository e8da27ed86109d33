//! Looking an upload over: how it was read, what it would replace; correcting it; letting it count.
//!
//! What waits is read anew with every correction; what counts is shown as it was read. Corrections are kept for the next
//! file of the layout when the upload is confirmed, not before.
//! Keeps: 1. a correction changes how a waiting upload was read (`a_corrected_column_is_read_so`)
//!        2. next week's file of that layout is read so by itself, and says so (`the_next_file_of_a_layout_needs_no_correction`)
//!        3. a corrected file replaces only on yes (`a_corrected_file_shows_the_difference_and_replaces_on_yes`)
//! Not here: taking in and taking back (`take_in`), what differs (`difference`).

use super::corrections::Corrections;
use super::difference::{Difference, difference};
use super::kept_reading::to_json;
use super::take_in::no_such_upload;
use super::{Week, Weeks, item_facts};
use crate::error::{AppError, ErrorKind};
use sheaf_core::finding::Finding;
use sheaf_sheets::read::{KnownItem, LayoutKey, NothingRead, Reading, SheetChoice, SheetReading};
use sheaf_store::{Standing, Upload};
use std::collections::BTreeMap;

/// One upload and how it was read.
#[derive(Debug)]
pub struct LookOver {
    /// Its id.
    pub id: i64,
    /// Its week.
    pub week: Week,
    /// Names of its files, in order.
    pub file_names: Vec<String>,
    /// Whether it counts.
    pub standing: Standing,
    /// What was understood; how the sheets look only while the originals are there.
    pub reading: Reading,
    /// Corrections of this upload, before what was kept earlier.
    pub corrections: Corrections,
    /// These, then what was kept earlier: what a further choice begins from.
    pub in_force: Corrections,
    /// Whether the originals are there.
    pub has_originals: bool,
    /// Uploads that count and that this one may be a correction of, the most alike first; empty where it does not wait.
    pub may_replace: Vec<Replacement>,
}

/// An upload that another one may replace.
#[derive(Debug)]
pub struct Replacement {
    /// Its id.
    pub id: i64,
    /// Names of its files, in order.
    pub file_names: Vec<String>,
    /// What would change.
    pub difference: Difference,
}

impl Weeks {
    /// One upload and how it was read.
    ///
    /// # Errors
    /// [`AppError`] of kind not found, or of the records.
    pub fn look_over(&self, id: i64) -> Result<LookOver, AppError> {
        let upload = self.store.upload(id)?.ok_or_else(no_such_upload)?;
        let corrections = Corrections::from_json(&upload.corrections)?;
        let has_originals = upload.files.iter().all(|f| f.bytes.is_some());
        let mut reading = self.reading_of(&upload)?;
        if has_originals && reading.sheets.is_empty() {
            // What is kept counts; how the sheets look comes from the originals.
            let shown = self.read_with(&upload, &corrections, NothingRead::IsShown)?;
            reading.sheets = shown.sheets;
            reading.left_out = shown.left_out;
        }
        let may_replace =
            if upload.standing == Standing::Waiting { self.may_replace(&upload, &reading)? } else { Vec::new() };
        Ok(LookOver {
            id,
            week: Week::of(upload.week),
            file_names: upload.files.into_iter().map(|f| f.name).collect(),
            standing: upload.standing,
            reading,
            in_force: corrections.then(&self.kept_corrections()?),
            corrections,
            has_originals,
            may_replace,
        })
    }

    /// Reads a waiting upload anew with these corrections, and keeps both.
    ///
    /// # Errors
    /// [`AppError`] of kind input where nothing could be read so (the last corrections stay then), not found, conflict
    /// where the upload does not wait or its original is gone, or of the records.
    pub fn correct(&self, id: i64, corrections: &Corrections) -> Result<(), AppError> {
        let upload = self.store.upload(id)?.ok_or_else(no_such_upload)?;
        if upload.standing != Standing::Waiting || upload.files.iter().any(|f| f.bytes.is_none()) {
            return Err(not_waiting());
        }
        let mut reading = self.read_with(&upload, corrections, NothingRead::IsAnError)?;
        let before = self.reading_of(&upload)?;
        reading.findings.extend(before.findings.into_iter().filter(|f| f.code == "sheet-of-another-week"));
        let is_kept = self.store.correct_upload(id, &corrections.to_json()?, &to_json(&reading)?)?;
        tracing::info!(job = "correct", upload = id, n_findings = reading.findings.len());
        if is_kept { Ok(()) } else { Err(not_waiting()) }
    }

    /// Lets a waiting upload count, in place of another one where one is named, and keeps its corrections for the next
    /// files of their layouts. Gives its week.
    ///
    /// # Errors
    /// [`AppError`] of kind not found, input where nothing of it could be read yet, conflict where it does not wait or the
    /// other one does not count, or of the records.
    pub fn confirm(&self, id: i64, in_place_of: Option<i64>) -> Result<Week, AppError> {
        let upload = self.store.upload(id)?.ok_or_else(no_such_upload)?;
        if self.reading_of(&upload)?.table.n_students() == 0 {
            return Err(nothing_to_count());
        }
        let said = Corrections::from_json(&upload.corrections)?.said()?;
        if !self.store.count_upload(id, in_place_of, &said)? {
            return Err(not_waiting());
        }
        self.forget_remembered();
        tracing::info!(job = "confirm", upload = id, replaces = in_place_of.is_some());
        Ok(Week::of(upload.week))
    }

    /// Reads an upload with corrections: choices, then typed facts in place of the sheet's.
    fn read_with(
        &self,
        upload: &Upload,
        corrections: &Corrections,
        nothing_read: NothingRead,
    ) -> Result<Reading, AppError> {
        let mut reading = self.read(&upload.files, corrections, nothing_read)?;
        let typed = by_place(&reading.sheets, corrections);
        item_facts::apply(&mut reading, &typed)?;
        Ok(reading)
    }

    fn may_replace(&self, upload: &Upload, reading: &Reading) -> Result<Vec<Replacement>, AppError> {
        let mut found = Vec::new();
        for other in self.store.uploads_of(upload.week)? {
            if other.id == upload.id || !other.standing.counts() {
                continue;
            }
            if let Some(difference) = difference(reading, &self.reading_of(&other)?) {
                let file_names = other.files.into_iter().map(|f| f.name).collect();
                found.push(Replacement { id: other.id, file_names, difference });
            }
        }
        found.sort_by_key(|r| std::cmp::Reverse(r.difference.n_equal));
        Ok(found)
    }
}

/// Typed facts by the place of their item in the table: those of a layout are for the sheets of that layout.
fn by_place<'c>(sheets: &[SheetReading], corrections: &'c Corrections) -> BTreeMap<usize, &'c KnownItem> {
    let mut typed = BTreeMap::new();
    for sheet in sheets {
        let facts = corrections.items.iter().filter(|r| r.layout == sheet.layout).flat_map(|r| &r.items);
        for known in facts {
            let places = sheet.items.iter().zip(&sheet.places).filter(|(label, _)| **label == known.label);
            typed.extend(places.map(|(_, &place)| (place, known)));
        }
    }
    typed
}

/// Says of each sheet whose layout was corrected before that the same was done.
pub(super) fn layouts_known(reading: &Reading, kept: &Corrections) -> Vec<Finding> {
    let is_known = |layout: &LayoutKey| {
        kept.choice(layout).is_some_and(|c| c != SheetChoice::open(layout.clone()))
            || kept.items.iter().any(|r| r.layout == layout.first() || r.layout == *layout)
    };
    let read = reading.sheets.iter().map(|s| (&s.file, &s.sheet, Some(&s.layout)));
    let left_out = reading.left_out.iter().map(|s| (&s.file, &s.sheet, s.layout.as_ref()));
    read.chain(left_out)
        .filter(|(_, _, layout)| layout.is_some_and(is_known))
        .map(|(file, sheet, _)| {
            let message = "A sheet of this layout was corrected before.";
            Finding::note("layout-known", message, "read as it was corrected then").at(file, sheet, "")
        })
        .collect()
}

fn nothing_to_count() -> AppError {
    AppError::new(
        ErrorKind::Input,
        "nothing-to-count",
        "Nothing of these sheets could be read yet; say in which row the headings stand, or take the sheets back.",
    )
}

pub(super) fn not_waiting() -> AppError {
    AppError::new(
        ErrorKind::Conflict,
        "upload-not-waiting",
        "This upload no longer waits to be looked over, or what it would replace no longer counts; look at the list of score sheets.",
    )
}
