//! Our sheets before they are packed: what is not a row, made by the writer, and the rows of each sheet.
//!
//! In:  sheets to fill, in any order and side by side. Out: [`OurSheets`]: a workbook whose sheets have all but rows, and the rows.
//! Keeps: formats stand in the file in the order in which they were made, whatever the order of filling
//! (`the_same_plan_gives_the_same_bytes` in the tests of this folder).
//! Not here: packing them alone or into another workbook (`graft`), rows (`rows`).

use super::looks::Looks;
use super::rows::SheetRows;
use super::sheet::{Sheet, Written};
use super::{COMPRESSION, key_of, mark_of};
use crate::graft::replaced;
use rust_xlsxwriter::{ColNum, RowNum, Shape, Workbook, Worksheet, XlsxError};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Our sheets, ready to be packed alone or into another workbook.
#[derive(Debug)]
pub struct OurSheets {
    frame: Vec<u8>,
    rows: Vec<SheetRows>,
}

impl OurSheets {
    /// A whole workbook, which has its rows already.
    #[cfg(test)]
    pub(crate) fn whole(workbook: Vec<u8>) -> Self {
        OurSheets { frame: workbook, rows: Vec::new() }
    }

    /// The workbook without rows.
    pub(crate) fn frame(&self) -> &[u8] {
        &self.frame
    }

    /// Rows that belong into a part of the frame.
    pub(crate) fn rows_of(&self, part: &str) -> Option<&SheetRows> {
        // The writer numbers the parts of its sheets in their order.
        let number = part.strip_prefix("xl/worksheets/sheet")?.strip_suffix(".xml")?.parse::<usize>().ok()?;
        self.rows.get(number.checked_sub(1)?)
    }
}

/// The workbook with a part of ours for each drawing part that holds the text of a stand-in.
fn with_drawings(frame: &[u8], drawings: &[(String, String)]) -> Result<Vec<u8>, XlsxError> {
    let ours =
        |text: &str| drawings.iter().find(|(name, _)| text.contains(name.as_str())).map(|(_, part)| part.clone());
    replaced(frame, |part| part.starts_with("xl/drawings/drawing"), ours)
        .map_err(|e| XlsxError::ParameterError(e.to_string()))
}

/// What the table or list of a sheet is called.
fn list_name(sheet: &str) -> String {
    format!("{}_list", key_of(sheet))
}

/// A sheet that was filled.
pub(super) struct Filled {
    frame: Worksheet,
    rows: SheetRows,
    list: Option<(RowNum, RowNum, ColNum)>,
    /// The sheet's drawing part, where it has pictures.
    drawing: Option<String>,
}

/// Stands in a shape that the writer makes so that the sheet has a drawing part, which is then replaced.
fn stand_in(sheet: &str) -> String {
    format!("Pictures of {sheet}.")
}

/// Makes the sheets of one workbook.
pub(super) struct Maker {
    workbook: Mutex<Workbook>,
}

impl Maker {
    /// The writer meets all formats here first, on a sheet that nobody gets, so that their order is known.
    pub(super) fn new(mut workbook: Workbook, looks: &Looks) -> Result<Self, XlsxError> {
        workbook.set_zip_compression_level(COMPRESSION);
        looks.formats.show(&mut workbook.new_worksheet_with_constant_memory()?)?;
        Ok(Maker { workbook: Mutex::new(workbook) })
    }

    fn workbook(&self) -> MutexGuard<'_, Workbook> {
        self.workbook.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A sheet of this name, filled.
    pub(super) fn sheet(&self, name: &str, fill: impl FnOnce(&mut Sheet<'_>) -> Written) -> Result<Filled, XlsxError> {
        let mut frame = self.workbook().new_worksheet_with_constant_memory()?;
        frame.set_name(name)?;
        let mut sheet = Sheet::new(&mut frame, list_name(name));
        fill(&mut sheet)?;
        let list = sheet.list();
        let pictures = std::mem::take(sheet.pictures());
        let rows = sheet.finish()?;
        let drawing = (!pictures.is_empty()).then(|| pictures.part());
        if drawing.is_some() {
            // Grey is part of a picture; else a print in black and white alone would lose it.
            frame.insert_shape(0, 1, &Shape::textbox().set_text(stand_in(name)))?.set_print_black_and_white(false);
        }
        Ok(Filled { frame, rows, list, drawing })
    }

    /// All sheets in their order, each with a name by which it is known as ours when the workbook comes back; where its table has no
    /// row, its list gets the name that the table would have, such as `Groups_list`, for formulas and for the box of names.
    pub(super) fn finish(self, sheets: Vec<Filled>) -> Result<OurSheets, XlsxError> {
        let mut workbook = self.workbook.into_inner().unwrap_or_else(PoisonError::into_inner);
        let mut all_rows = Vec::with_capacity(sheets.len());
        let mut drawings = Vec::new();
        for Filled { frame, rows, list, drawing } in sheets {
            let name = frame.name();
            drawings.extend(drawing.map(|part| (stand_in(&name), part)));
            workbook.push_worksheet(frame);
            let quoted = name.replace('\'', "''");
            workbook.define_name(mark_of(&name), &format!("='{quoted}'!$1:$1048576"))?;
            if let Some((first_row, last_row, last_col)) = list {
                let area = rust_xlsxwriter::utility::cell_range_absolute(first_row, 0, last_row, last_col);
                workbook.define_name(list_name(&name), &format!("='{quoted}'!{area}"))?;
            }
            all_rows.push(rows);
        }
        let frame = workbook.save_to_buffer()?;
        let frame = if drawings.is_empty() { frame } else { with_drawings(&frame, &drawings)? };
        Ok(OurSheets { frame, rows: all_rows })
    }
}
