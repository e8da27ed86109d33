//! What the bare libraries need for the same files: every cell streamed past, as many cells written, and nothing else.
//!
//! Keeps: no cell is kept, so the memory of these is the floor under any program that reads or writes such files.
//! Not here: layout, checks, formats, meaning; that they are missing is the point.

use calamine::{Reader, Xlsx, open_workbook};
use rust_xlsxwriter::Workbook;
use std::fs::File;
use std::io::{BufWriter, Seek, Write};
use std::path::Path;

/// Cells of a row of the bare workbook.
const ROW_CELLS: usize = 60;

/// Streams the first sheet and counts its cells.
pub fn read(path: &Path) -> usize {
    let mut book: Xlsx<_> = open_workbook(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let sheet = book.sheet_names().first().cloned().unwrap();
    n_cells(&mut book, &sheet)
}

/// Cells of every sheet of a workbook.
pub fn n_cells_of_all_sheets(path: &Path) -> usize {
    let mut book: Xlsx<_> = open_workbook(path).unwrap();
    book.sheet_names().iter().map(|sheet| n_cells(&mut book, sheet)).sum()
}

fn n_cells(book: &mut Xlsx<std::io::BufReader<File>>, sheet: &str) -> usize {
    let mut cells = book.worksheet_cells_reader(sheet).unwrap();
    let mut n = 0;
    while cells.next_cell().unwrap().is_some() {
        n += 1;
    }
    n
}

/// Writes so many cells, two words and one number in turn, in low-memory mode.
pub fn write<W: Write + Seek + Send>(n_cells: usize, sink: W) {
    let mut workbook = Workbook::new();
    let sheet = workbook.add_worksheet_with_low_memory().unwrap();
    for cell in 0..n_cells {
        let (row, column) = (u32::try_from(cell / ROW_CELLS).unwrap(), u16::try_from(cell % ROW_CELLS).unwrap());
        match cell % 3 {
            0 => sheet.write_number(row, column, (cell % 101) as f64 / 100.0).unwrap(),
            1 => sheet.write_string(row, column, "holds").unwrap(),
            _ => sheet.write_string(row, column, format!("Group {}", cell % 997)).unwrap(),
        };
    }
    workbook.save_to_writer(sink).unwrap();
}

/// The same to a file.
pub fn write_file(n_cells: usize, path: &Path) {
    write(n_cells, BufWriter::new(File::create(path).unwrap()));
}
