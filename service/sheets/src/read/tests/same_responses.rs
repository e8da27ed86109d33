//! Whatever the file, the delimiter, the encoding and the layout: the same responses are read.
//!
//! In:  drawn tables. Out: claims that each reads as what was answered: every student, every item with its facts, every mark.
//! Keeps: order of rows and columns, split into sheets, rows or columns for students make no difference; no error is said of a sheet
//! that is in order. Not here: what is wrong with sheets (`broken`).

use super::tables::{Grid, Table, table};
use super::written::{Encoding, Ids, csv, ods, xlsx};
use super::written_binary::{xls, xlsb};
use super::*;
use proptest::prelude::*;
use proptest::test_runner::TestCaseError;
use sheaf_core::finding::Severity;

type Checked = Result<(), TestCaseError>;

fn read_files(files: &[(&str, Vec<u8>)], choices: &[SheetChoice]) -> Result<Reading, TestCaseError> {
    let graph = SkillGraph::builtin().unwrap();
    let scores: Vec<SourceFile<'_>> = files.iter().map(|(name, bytes)| SourceFile { name, bytes }).collect();
    let request = ReadRequest { choices, ..ReadRequest::new(&scores, &graph) };
    read_score_sheets(&request).map_err(|error| TestCaseError::fail(error.message))
}

/// Every student, item and mark of the table, and nothing else.
fn check(table: &Table, reading: &Reading) -> Checked {
    let read = &reading.table;
    prop_assert_eq!(
        (read.n_students(), read.n_items()),
        (table.students.len(), table.items.len()),
        "{:?}",
        codes(reading)
    );
    for drawn in &table.items {
        let item = item_of(read, &drawn.label)?;
        let facts = (item.key.clone(), item.points, item.kind, item.skills[0].as_str());
        prop_assert_eq!(facts, (drawn.key(), drawn.points, drawn.kind(), drawn.skill), "{}", &drawn.label);
    }
    for (s, [id, name, class]) in table.students.iter().enumerate() {
        let at = StudentId::parse(id).and_then(|id| read.student_index(&id));
        let at = at.ok_or_else(|| TestCaseError::fail(format!("no student {id}")))?;
        let student = &read.students()[at];
        prop_assert_eq!((&student.name, &student.homeroom), (name, class));
        for (i, drawn) in table.items.iter().enumerate() {
            let item = read.items().iter().position(|item| item.label == drawn.label).unwrap();
            prop_assert_eq!(read.mark(at, item), &table.expected(s, i), "{} of {}", &drawn.label, id);
        }
    }
    let errors: Vec<&Finding> = reading.findings.iter().filter(|f| f.severity == Severity::Error).collect();
    prop_assert!(errors.is_empty(), "{errors:?}");
    Ok(())
}

fn item_of<'a>(table: &'a ResponseTable, label: &str) -> Result<&'a sheaf_core::scores::Item, TestCaseError> {
    let found = table.items().iter().find(|item| item.label == label);
    found.ok_or_else(|| TestCaseError::fail(format!("no item {label}")))
}

/// A grid in each kind of file, read alone.
fn in_every_kind(table: &Table, grid: &Grid, choices: &[SheetChoice]) -> Checked {
    let sheets = [("Scores", grid.clone())];
    let mut files = vec![
        ("texts.xlsx", xlsx(&sheets, Ids::Texts)),
        ("numbers.xlsx", xlsx(&sheets, Ids::Numbers)),
        ("sheet.ods", ods(&sheets)),
        ("old.xls", xls(&sheets)),
        ("binary.xlsb", xlsb(&sheets)),
        ("tabs.tsv", csv(grid, b'\t', Encoding::Utf8)),
    ];
    for delimiter in [b',', b';', b'|'] {
        for encoding in [Encoding::Utf8, Encoding::Utf8WithMark, Encoding::Utf16, Encoding::Utf16BigEnd] {
            files.push(("text.csv", csv(grid, delimiter, encoding)));
        }
    }
    for file in files {
        let name = file.0;
        let reading = read_files(&[file], choices)?;
        check(table, &reading).map_err(|fault| TestCaseError::fail(format!("{name}: {fault}")))?;
    }
    Ok(())
}

/// What says that the students of this grid run across; its layout's key is told where another sheet can be read.
fn said_across(grid: &Grid) -> Result<SheetChoice, TestCaseError> {
    let other = ("other.csv", b"id,name,Q1\n1,Ann,1\n".to_vec());
    let reading = read_files(&[("across.csv", csv(grid, b',', Encoding::Utf8)), other], &[])?;
    let read = reading.sheets.iter().find(|s| s.file == "across.csv").map(|s| s.layout.clone());
    let left_out = reading.left_out.iter().find(|s| s.file == "across.csv").and_then(|s| s.layout.clone());
    let layout = read.or(left_out).ok_or_else(|| TestCaseError::fail("the layout has no key"))?;
    Ok(SheetChoice { orientation: Some(Orientation::StudentsAcross), ..SheetChoice::open(layout) })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn label_rows_may_stand_above_or_below(table in table()) {
        in_every_kind(&table, &table.labels_above(), &[])?;
        in_every_kind(&table, &table.labels_below(), &[])?;
    }

    #[test]
    fn a_row_may_be_a_response(table in table()) {
        in_every_kind(&table, &table.long(), &[])?;
    }

    #[test]
    fn students_may_run_across_where_that_is_said(table in table()) {
        let grid = table.across();
        in_every_kind(&table, &grid, &[said_across(&grid)?])?;
    }

    #[test]
    fn rows_and_columns_may_stand_in_any_order(
        (table, rows, columns) in table().prop_flat_map(|table| {
            let rows = Just((0..table.students.len()).collect::<Vec<_>>()).prop_shuffle();
            let columns = Just((0..table.items.len()).collect::<Vec<_>>()).prop_shuffle();
            (Just(table), rows, columns)
        })
    ) {
        let other = table.shuffled(&rows, &columns);
        for grid in [other.labels_above(), other.labels_below(), other.long()] {
            let reading = read_files(&[("text.csv", csv(&grid, b',', Encoding::Utf8))], &[])?;
            check(&table, &reading)?;
        }
    }

    #[test]
    fn a_class_may_be_split_over_sheets_and_files(table in table()) {
        let (first, second) = (table.part(|s| s % 2 == 0), table.part(|s| s % 2 == 1));
        // A blank is judged within its own sheet.
        let is_as_whole = |part: &Table, from: usize| (0..part.students.len()).all(|s| {
            (0..part.items.len()).all(|i| part.expected(s, i) == table.expected(from + 2 * s, i))
        });
        prop_assume!(is_as_whole(&first, 0) && is_as_whole(&second, 1));
        let (one, two) = (first.labels_above(), second.labels_above());
        let sheets = [("4M", one.clone()), ("5 P", two.clone())];
        check(&table, &read_files(&[("book.xlsx", xlsx(&sheets, Ids::Texts))], &[])?)?;
        check(&table, &read_files(&[("book.ods", ods(&sheets))], &[])?)?;
        check(&table, &read_files(&[("book.xls", xls(&sheets))], &[])?)?;
        check(&table, &read_files(&[("book.xlsb", xlsb(&sheets))], &[])?)?;
        let files = [("a.csv", csv(&one, b',', Encoding::Utf8)), ("b.csv", csv(&two, b';', Encoding::Utf16))];
        check(&table, &read_files(&files, &[])?)?;
    }
}
