//! Adding our sheets to a large workbook of the staff.
//!
//! In:  our sheets before they are packed. Out: the time from them and the staff's bytes to the bytes of one workbook, and what of
//! it goes beyond packing them alone, since they are packed in either case. The staff's workbook is numbers that hardly pack,
//! about 20 MB on disk, made once a work folder. Not here: reading scores out of it.

use crate::timing::median;
use crate::workbook::{ms_of, tell};
use rust_xlsxwriter::Workbook;
use sheaf_sheets::graft::{Form, Graft, GraftLimits, write_alone};
use sheaf_sheets::write::OurSheets;
use std::io::Cursor;
use std::path::Path;

const N_ROWS: u32 = 60_000;
const N_COLUMNS: u16 = 32;

/// Medians, ms.
pub struct Added {
    /// Our sheets into the staff's workbook.
    pub graft_ms: f64,
    /// The same sheets packed alone.
    pub alone_ms: f64,
    /// Size of the staff's workbook.
    pub n_bytes: usize,
}

/// Both ways take turns, so that a bad moment of the machine meets both.
pub fn measure(ours: &OurSheets, folder: &Path, n_runs: usize) -> Added {
    measure_into(ours, &theirs(folder), n_runs).0
}

fn measure_into(ours: &OurSheets, theirs: &[u8], n_runs: usize) -> (Added, Vec<u8>) {
    let (mut together, mut alone, mut grafted) = (Vec::new(), Vec::new(), Vec::new());
    for _ in 0..n_runs {
        together.push(ms_of(|| grafted = graft(theirs, ours)));
        alone.push(ms_of(|| write_alone(ours, Form::Plain, Cursor::new(Vec::new())).unwrap()));
    }
    assert!(grafted.len() > theirs.len() / 2, "our sheets are in it");
    (Added { graft_ms: median(together), alone_ms: median(alone), n_bytes: theirs.len() }, grafted)
}

/// Prints the first week, and the next one, which replaces it.
pub fn print(ours: &OurSheets, folder: &Path, n_runs: usize, most_ms: f64) {
    let (first, grafted) = measure_into(ours, &theirs(folder), n_runs);
    let (second, again) = measure_into(ours, &grafted, n_runs);
    assert!(again == grafted, "the same sheets come in the place of the same");
    for (what, added) in [("adding them to", first), ("replacing them in", second)] {
        let Added { graft_ms, alone_ms, n_bytes } = added;
        println!("  packing alone {alone_ms:.0} ms, into the staff's workbook {graft_ms:.0} ms");
        tell(&format!("{what} {:.1} MB", n_bytes as f64 / 1e6), graft_ms - alone_ms, most_ms, "ms");
    }
}

fn theirs(folder: &Path) -> Vec<u8> {
    let path = folder.join("own_file.xlsx");
    if !path.exists() {
        make(&path);
    }
    std::fs::read(&path).unwrap()
}

fn graft(theirs: &[u8], ours: &OurSheets) -> Vec<u8> {
    let mut sink = Cursor::new(Vec::new());
    Graft::prepare(theirs, ours, GraftLimits::default()).unwrap().write(&mut sink).unwrap();
    sink.into_inner()
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
