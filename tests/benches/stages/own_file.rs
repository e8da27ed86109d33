//! Adding our sheets to a large workbook of the staff.
//!
//! In:  our sheets, as written. Out: the time from both files' bytes to the bytes of one. The staff's workbook is numbers that
//! hardly pack, about 20 MB on disk, made once a work folder. Not here: reading scores out of it.

use crate::timing::{Timed, time};
use rust_xlsxwriter::Workbook;
use sheaf_sheets::graft::{Graft, GraftLimits};
use std::io::Cursor;
use std::path::Path;

const N_ROWS: u32 = 60_000;
const N_COLUMNS: u16 = 32;

/// The time, and the size of the staff's workbook in bytes.
pub fn measure(ours: &[u8], folder: &Path, n_runs: usize) -> (Timed, usize) {
    let path = folder.join("own_file.xlsx");
    if !path.exists() {
        make(&path);
    }
    let theirs = std::fs::read(&path).unwrap();
    let (timed, n_bytes) = time(n_runs, || {
        let mut sink = Cursor::new(Vec::with_capacity(theirs.len() + ours.len()));
        Graft::prepare(&theirs, ours, GraftLimits::default()).unwrap().write(&mut sink).unwrap();
        sink.into_inner().len()
    });
    assert!(n_bytes > theirs.len(), "our sheets are in it");
    (timed, theirs.len())
}

fn make(path: &Path) {
    let mut workbook = Workbook::new();
    let sheet = workbook.add_worksheet_with_low_memory().unwrap();
    sheet.set_name("Measures").unwrap();
    for row in 0..N_ROWS {
        for column in 0..N_COLUMNS {
            let at = f64::from(row) * f64::from(N_COLUMNS) + f64::from(column);
            // Multiples of the golden ratio, whose digits look like chance.
            sheet.write_number(row, column, (at * 0.618_033_988_749_894_9).fract()).unwrap();
        }
    }
    workbook.save(path).unwrap();
}
