//! A copy of a score sheet whose students stand in another order; all else, its other sheets too, stays in place.
//!
//! In:  a workbook, a seed. Out: a workbook with the same cells. Rows of students are those whose first cell is a listed id.
//! Not here: looks; a copy has plain cells.

use super::week::homerooms;
use calamine::{Data, Reader, Xlsx, open_workbook};
use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_xoshiro::Xoshiro256Plus;
use rust_xlsxwriter::Workbook;
use std::path::Path;

/// Writes the copy.
pub fn copy(from: &Path, to: &Path, seed: u64) {
    let mut book: Xlsx<_> = open_workbook(from).unwrap();
    let mut out = Workbook::new();
    for name in book.sheet_names() {
        let range = book.worksheet_range(&name).unwrap();
        assert_eq!(range.start(), Some((0, 0)), "{name} begins at A1");
        let rows: Vec<Vec<Data>> = range.rows().map(<[Data]>::to_vec).collect();
        let sheet = out.add_worksheet().set_name(&name).unwrap();
        for (at, row) in shuffle(rows, seed).iter().enumerate() {
            for (column, cell) in row.iter().enumerate() {
                let (row, column) = (u32::try_from(at).unwrap(), u16::try_from(column).unwrap());
                match cell {
                    Data::Empty => continue,
                    Data::String(text) => sheet.write_string(row, column, text).unwrap(),
                    Data::Float(number) => sheet.write_number(row, column, *number).unwrap(),
                    Data::Int(number) => sheet.write_number(row, column, *number as f64).unwrap(),
                    other => panic!("a cell of another kind in {name}: {other:?}"),
                };
            }
        }
    }
    out.save(to).unwrap();
}

/// Rows of students among themselves.
fn shuffle(mut rows: Vec<Vec<Data>>, seed: u64) -> Vec<Vec<Data>> {
    let listed = homerooms();
    let is_student = |row: &Vec<Data>| row.first().is_some_and(|cell| listed.contains_key(&cell.to_string()));
    let places: Vec<usize> = (0..rows.len()).filter(|&at| is_student(&rows[at])).collect();
    let mut order = places.clone();
    order.shuffle(&mut Xoshiro256Plus::seed_from_u64(seed));
    assert!(places.len() < 2 || order != places, "the order did not change");
    let students: Vec<Vec<Data>> = order.iter().map(|&at| rows[at].clone()).collect();
    places.iter().zip(students).for_each(|(&at, row)| rows[at] = row);
    rows
}
