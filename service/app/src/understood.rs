//! How sheets were read, in the words that the command line prints and publishes.
//!
//! In:  a reading. Out: for each sheet its headings, columns, items and first rows; for each sheet left out the reason.
//! Keeps: `a_sheet_is_told_as_it_was_read`. Not here: how the page shows the same (`sheaf-web`), the JSON (`sheaf-core`).

use sheaf_core::plan::published_check::{ColumnUnderstood, RowShown, SheetNotRead, SheetUnderstood, Understood};
use sheaf_sheets::read::{
    ColumnReading, LeftOutReason, Orientation, Reading, SheetLeftOut, SheetReading, SheetShape, ShownRow,
    column_letters,
};

/// How the sheets of a reading were read.
#[must_use]
pub fn understood(reading: &Reading) -> Understood {
    Understood {
        sheets: reading.sheets.iter().map(sheet).collect(),
        left_out: reading.left_out.iter().map(not_read).collect(),
    }
}

fn sheet(read: &SheetReading) -> SheetUnderstood {
    let is_across = read.orientation == Orientation::StudentsAcross;
    SheetUnderstood {
        file: read.file.clone(),
        sheet: read.sheet.clone(),
        shape: match read.shape {
            SheetShape::Wide => "wide",
            SheetShape::Long => "long",
        },
        students_run: if is_across { "across" } else { "down" },
        headings: if is_across {
            format!("column {}", column_letters(read.header_row.saturating_sub(1)))
        } else {
            format!("row {}", read.header_row)
        },
        students: read.n_students,
        items: read.items.clone(),
        columns: read.columns.iter().map(column).collect(),
        rows: read.rows.iter().map(|shown| row(shown, read.orientation)).collect(),
    }
}

fn column(read: &ColumnReading) -> ColumnUnderstood {
    ColumnUnderstood::new(&read.letters, &read.label, read.column_use.word())
}

fn row(shown: &ShownRow, orientation: Orientation) -> RowShown {
    let line = match orientation {
        Orientation::StudentsDown => shown.row.to_string(),
        Orientation::StudentsAcross => column_letters(shown.row.saturating_sub(1)),
    };
    RowShown { line, cells: shown.cells.clone() }
}

fn not_read(left_out: &SheetLeftOut) -> SheetNotRead {
    SheetNotRead {
        file: left_out.file.clone(),
        sheet: left_out.sheet.clone(),
        reason: match left_out.reason {
            LeftOutReason::Hidden => "hidden",
            LeftOutReason::Chosen => "chosen",
            LeftOutReason::Items => "items",
            LeftOutReason::Students => "students-without-marks",
            LeftOutReason::PerhapsAcross => "students-perhaps-across",
            LeftOutReason::NoHeadings => "no-headings",
        },
        rows: left_out.rows.iter().map(|shown| row(shown, Orientation::StudentsDown)).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::headless::{PerhapsAcross, ReadLimits, SourceFile, Sources, read};
    use crate::knowledge::Knowledge;

    fn told(text: &str) -> Understood {
        let scores = [SourceFile { name: "f.csv", bytes: text.as_bytes() }];
        let perhaps_across = PerhapsAcross::IsOffered;
        let sources = Sources { scores: &scores, items: None, students: None, attendance: None, perhaps_across };
        understood(&read(&Knowledge::builtin().unwrap(), &sources, ReadLimits::default()).unwrap())
    }

    #[test]
    fn a_sheet_is_told_as_it_was_read() {
        let text = "Unit 3,,\nid,name,Q1,Q2,Total\n7,Ann,1,0,1\n8,Bo,1,1,2\n";
        let told_down = told(text);
        let sheet = &told_down.sheets[0];
        assert_eq!((sheet.shape, sheet.students_run, sheet.headings.as_str()), ("wide", "down", "row 2"));
        let columns: Vec<String> =
            sheet.columns.iter().map(|c| format!("{} {} {}", c.column, c.heading, c.column_use)).collect();
        assert_eq!(columns, ["A id id", "B name name", "C Q1 item", "D Q2 item", "E Total total"]);
        assert_eq!((sheet.students, sheet.rows[1].line.as_str(), sheet.rows[1].cells[1].as_str()), (2, "4", "Bo"));
        let across = "Name,Ann,Bo\nQ1,1,0\nQ2,1,1\n";
        let told_across = told(across);
        let sheet = &told_across.sheets[0];
        assert_eq!(
            (sheet.students_run, sheet.headings.as_str(), sheet.rows[0].line.as_str()),
            ("across", "column A", "B")
        );
    }
}
