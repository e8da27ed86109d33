//! The files of `fixtures/broken/` that the writing library makes: tables, rich texts, formulas with results, ticked boxes, merged cells;
//! and the one that is written record by record, .xlsb.
//!
//! In:  nothing. Out: the bytes of each file, compared with the file; `SHEAF_MAKE_FIXTURES=1 cargo test -p sheaf-sheets by_library` writes
//! them instead. They are the same on every run of one version of the library.
//! Not here: what each should read as (`fixtures/broken/expect.py`).

use super::tables::{Grid, Value, text};
use super::written_binary::xlsb;
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, Formula, Table, TableColumn, TableFunction, Workbook, Worksheet, XlsxError,
};
use std::path::PathBuf;

const HEADER: [&str; 7] = ["id", "name", "class", "Q1", "Q2", "Q3", "Q4"];
const EARNED: [(&str, &str, [f64; 4]); 5] = [
    ("0101", "Bela T.", [1.0, 2.0, 1.0, 0.0]),
    ("0102", "Comi R.", [1.0, 1.0, 1.0, 2.0]),
    ("0103", "Dosa L.", [0.0, 2.0, 0.0, 2.0]),
    ("0104", "Elon K.", [1.0, 2.0, 1.0, 2.0]),
    ("0105", "Fima P.", [0.0, 0.0, 0.5, 1.0]),
];

type Made = Result<(), XlsxError>;

/// Header and points from a row on.
fn put(sheet: &mut Worksheet, first: u32) -> Made {
    sheet.write_row(first, 0, HEADER)?;
    for (row, (id, name, points)) in (first + 1..).zip(EARNED) {
        sheet.write_row(row, 0, [id, name, "4M"])?;
        sheet.write_row(row, 3, points)?;
    }
    Ok(())
}

/// A native table with a row of totals, which the library leaves at zero until a spreadsheet program opens it.
fn table(sheet: &mut Worksheet) -> Made {
    put(sheet, 0)?;
    let sums = HEADER[3..].iter().map(|h| TableColumn::new().set_header(*h).set_total_function(TableFunction::Sum));
    let texts = ["id", "name", "class"].map(|h| TableColumn::new().set_header(h));
    let texts = texts.into_iter().enumerate().map(|(i, c)| if i == 0 { c.set_total_label("Total") } else { c });
    let columns: Vec<TableColumn> = texts.chain(sums).collect();
    sheet.add_table(0, 0, 6, 6, &Table::new().set_total_row(true).set_columns(&columns))?;
    Ok(())
}

/// Names of which each part has a format of its own.
fn rich_texts(sheet: &mut Worksheet) -> Made {
    put(sheet, 0)?;
    let (bold, plain) = (Format::new().set_bold(), Format::default());
    for (row, (_, name, _)) in (1..).zip(EARNED) {
        let (given, family) = name.split_at(5);
        sheet.write_rich_string(row, 1, &[(&bold, given), (&plain, family)])?;
    }
    Ok(())
}

/// Sums with their results.
fn formulas_with_results(sheet: &mut Worksheet) -> Made {
    put(sheet, 0)?;
    sheet.write(0, 7, "Total")?;
    for (row, (.., points)) in (1..).zip(EARNED) {
        let formula = Formula::new(format!("=SUM(D{0}:G{0})", row + 1));
        sheet.write_formula(row, 7, formula.set_result(points.iter().sum::<f64>().to_string()))?;
    }
    Ok(())
}

/// Boxes to tick over the marks of Q1.
fn ticked_boxes(sheet: &mut Worksheet) -> Made {
    put(sheet, 0)?;
    for (row, (.., points)) in (1..).zip(EARNED) {
        sheet.insert_checkbox(row, 3, points[0] > 0.0)?;
    }
    Ok(())
}

/// Merged units, the headings held in place, a filter, a folded row and a column of no width.
fn merged_and_folded(sheet: &mut Worksheet) -> Made {
    put(sheet, 1)?;
    let centred = Format::new().set_bold();
    sheet.merge_range(0, 3, 0, 4, "Equal fractions", &centred)?.merge_range(0, 5, 0, 6, "Comparing", &centred)?;
    sheet.set_freeze_panes(2, 2)?.autofilter(1, 0, 6, 6)?.set_row_hidden(4)?.set_column_hidden(4)?;
    Ok(())
}

/// The same table in a workbook of binary parts, written record by record.
fn binary() -> Vec<u8> {
    let header = HEADER.map(text).to_vec();
    let child = |(id, name, points): (&str, &str, [f64; 4])| {
        [id, name, "4M"].map(text).into_iter().chain(points.map(Value::Number)).collect()
    };
    let grid: Grid = [header].into_iter().chain(EARNED.map(child)).collect();
    xlsb(&[("Scores", grid)])
}

fn made(fill: Fill) -> Vec<u8> {
    let mut workbook = Workbook::new();
    let date = ExcelDateTime::from_ymd(2026, 1, 1).unwrap();
    workbook.set_properties(&DocProperties::new().set_creation_datetime(&date));
    let sheet = workbook.add_worksheet().set_name("Scores").unwrap();
    fill(sheet).unwrap();
    workbook.save_to_buffer().unwrap()
}

type Fill = fn(&mut Worksheet) -> Made;

const MAKERS: [(&str, Fill); 5] = [
    ("native_table.xlsx", table),
    ("rich_texts.xlsx", rich_texts),
    ("formulas_with_results.xlsx", formulas_with_results),
    ("ticked_boxes.xlsx", ticked_boxes),
    ("merged_and_folded.xlsx", merged_and_folded),
];

#[test]
fn files_of_the_writing_library_are_what_it_writes() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/broken");
    let is_making = std::env::var_os("SHEAF_MAKE_FIXTURES").is_some();
    let all = MAKERS.map(|(name, fill)| (name, made(fill))).into_iter().chain([("binary_workbook.xlsb", binary())]);
    for (name, bytes) in all {
        if is_making {
            std::fs::write(folder.join(name), &bytes).unwrap();
        }
        assert!(std::fs::read(folder.join(name)).unwrap() == bytes, "{name} is made again as the header says");
    }
}
