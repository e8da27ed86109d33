//! The published JSON of what was understood of score sheets, `sheaf.check/1`.
//!
//! In:  what was read and how, findings, the table of marks. Out: JSON, one student at a time, so that a large table is not held twice.
//! Keeps: `points` is null unless the mark is scored; `answer` is null where the sheet holds points alone
//! (`what_was_understood_has_the_published_shape`).
//! Not here: what the marks say about a skill (`profile`), reading it back.

use super::InputSummary;
use super::lines::write_lines;
use super::published::{PublishedInput, inputs};
use crate::finding::Finding;
use crate::scores::ResponseTable;
use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};
use std::io::Write;

/// How one sheet was read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SheetUnderstood {
    /// File name.
    pub file: String,
    /// Sheet name; empty for text files.
    pub sheet: String,
    /// `wide` (a row a student) or `long` (a row a response).
    pub shape: &'static str,
    /// `down` or `across`.
    pub students_run: &'static str,
    /// Where the headings stand: `row 3`, or `column A` where students run across.
    pub headings: String,
    /// How many students.
    pub students: usize,
    /// Labels of the items.
    pub items: Vec<String>,
    /// What each column was taken for.
    pub columns: Vec<ColumnUnderstood>,
    /// The first rows of students, as the sheet shows them under these columns.
    pub rows: Vec<RowShown>,
}

/// One column.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ColumnUnderstood {
    /// `D`; the number of the row where students run across.
    pub column: String,
    /// Its heading.
    pub heading: String,
    /// What it was taken for, in a word.
    #[serde(rename = "use")]
    pub column_use: &'static str,
}

impl ColumnUnderstood {
    /// A column with its heading and what it was taken for.
    #[must_use]
    pub fn new(column: &str, heading: &str, column_use: &'static str) -> Self {
        ColumnUnderstood { column: column.to_owned(), heading: heading.to_owned(), column_use }
    }
}

/// A row as the sheet shows it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RowShown {
    /// Its number, or the letters of the column where students run across.
    pub line: String,
    /// Texts of the cells.
    pub cells: Vec<String>,
}

/// A sheet that was not read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SheetNotRead {
    /// File name.
    pub file: String,
    /// Sheet name.
    pub sheet: String,
    /// Why, in kebab case.
    pub reason: &'static str,
    /// The first rows.
    pub rows: Vec<RowShown>,
}

/// How sheets were read, for a person to look over.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Understood {
    /// Sheets that were read.
    pub sheets: Vec<SheetUnderstood>,
    /// Sheets that were not.
    pub left_out: Vec<SheetNotRead>,
}

#[derive(Serialize)]
struct PublishedCheck<'a> {
    schema: &'static str,
    input: Vec<PublishedInput<'a>>,
    sheets: &'a [SheetUnderstood],
    left_out: &'a [SheetNotRead],
    findings: &'a [Finding],
    items: Vec<CheckedItem<'a>>,
    #[serde(serialize_with = "students")]
    students: &'a ResponseTable,
}

#[derive(Serialize)]
struct CheckedItem<'a> {
    item: &'a str,
    skills: Vec<&'a str>,
    #[serde(rename = "type")]
    kind: &'static str,
    key: Option<&'a str>,
    points: f64,
}

#[derive(Serialize)]
struct CheckedStudent<'a> {
    id: &'a str,
    name: &'a str,
    grade: &'a str,
    homeroom: &'a str,
    scores: Scores<'a>,
}

#[derive(Serialize)]
struct CheckedMark<'a> {
    state: &'static str,
    answer: Option<&'a str>,
    points: Option<f64>,
}

/// Marks of one student, by item label.
struct Scores<'a> {
    table: &'a ResponseTable,
    student: usize,
}

impl Serialize for Scores<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.table.n_items()))?;
        for (j, item) in self.table.items().iter().enumerate() {
            let mark = self.table.mark(self.student, j);
            let shown = CheckedMark { state: mark.state.word(), answer: mark.answer.as_deref(), points: mark.points };
            map.serialize_entry(&item.label, &shown)?;
        }
        map.end()
    }
}

fn students<S: Serializer>(table: &ResponseTable, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_seq(table.students().iter().enumerate().map(|(idx, student)| CheckedStudent {
        id: student.id.as_str(),
        name: &student.name,
        grade: &student.grade,
        homeroom: &student.homeroom,
        scores: Scores { table, student: idx },
    }))
}

/// Writes what was understood as JSON, a line for each item and student.
///
/// # Errors
/// What the sink gives.
pub fn write_check_json(
    read: &[InputSummary],
    understood: &Understood,
    findings: &[Finding],
    table: &ResponseTable,
    sink: impl Write,
) -> std::io::Result<()> {
    let check = PublishedCheck {
        schema: "sheaf.check/1",
        input: inputs(read),
        sheets: &understood.sheets,
        left_out: &understood.left_out,
        findings,
        items: table
            .items()
            .iter()
            .map(|i| CheckedItem {
                item: &i.label,
                skills: i.skills.iter().map(crate::skills::SkillCode::as_str).collect(),
                kind: i.kind.word(),
                key: i.key.as_deref(),
                points: i.points,
            })
            .collect(),
        students: table,
    };
    write_lines(&check, sink)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::roster::{Student, StudentId};
    use crate::scores::{Item, Mark};
    use crate::skills::SkillCode;
    use serde_json::json;

    fn table() -> ResponseTable {
        let mut table = ResponseTable::new();
        let quiz = table.add_assessment("quiz");
        let skills = vec![SkillCode::parse("5.NF.B.5").unwrap()];
        let q1 = table.add_item(Item { skills, key: Some("C".into()), ..Item::new("Q1", quiz) });
        let q2 = table.add_item(Item::new("Q2", quiz));
        table.add_item(Item::new("Q3", quiz));
        let (id, name) = (StudentId::parse("0417").unwrap(), "Ada Lund".to_owned());
        let (grade, homeroom) = ("5".to_owned(), "5B".to_owned());
        let ada = table.add_student(Student { id, name, grade, homeroom, supports: Vec::new() });
        table.set(ada, q1, Mark::scored(Some("B".into()), Some(0.0))).unwrap();
        table.set(ada, q2, Mark::OMITTED).unwrap();
        table
    }

    #[test]
    fn what_was_understood_has_the_published_shape() {
        let read = InputSummary {
            file: "week1.csv".into(),
            sha256: "ab".into(),
            sheet: String::new(),
            n_students: 1,
            n_items: 3,
        };
        let finding = Finding::error("no-points", "The cell holds an error.", "not taken").at("week1.csv", "", "C17");
        let mut bytes = Vec::new();
        let row =
            |line: &str, cells: [&str; 2]| RowShown { line: line.to_owned(), cells: cells.map(str::to_owned).to_vec() };
        let sheet = SheetUnderstood {
            file: "week1.csv".into(),
            sheet: String::new(),
            shape: "wide",
            students_run: "down",
            headings: "row 3".into(),
            students: 1,
            items: vec!["Q1".into()],
            columns: vec![ColumnUnderstood::new("A", "id", "id"), ColumnUnderstood::new("B", "Q1", "item")],
            rows: vec![row("4", ["0417", "B"])],
        };
        let (file, sheet_name) = ("week1.csv".to_owned(), "Old".to_owned());
        let old = SheetNotRead { file, sheet: sheet_name, reason: "no-headings", rows: vec![row("1", ["a", "b"])] };
        let understood = Understood { sheets: vec![sheet], left_out: vec![old] };
        write_check_json(&[read], &understood, &[finding], &table(), &mut bytes).unwrap();
        let not_keyed =
            |label: &str| json!({"item": label, "skills": [], "type": "choice", "key": null, "points": 1.0});
        let want = json!({
            "schema": "sheaf.check/1",
            "input": [{"file": "week1.csv", "sha256": "ab", "sheet": "", "students": 1, "items": 3}],
            "sheets": [{"file": "week1.csv", "sheet": "", "shape": "wide", "students_run": "down", "headings": "row 3",
                "students": 1, "items": ["Q1"],
                "columns": [{"column": "A", "heading": "id", "use": "id"}, {"column": "B", "heading": "Q1", "use": "item"}],
                "rows": [{"line": "4", "cells": ["0417", "B"]}]}],
            "left_out": [{"file": "week1.csv", "sheet": "Old", "reason": "no-headings",
                "rows": [{"line": "1", "cells": ["a", "b"]}]}],
            "findings": [{"severity": "error", "code": "no-points", "file": "week1.csv", "sheet": "", "cell": "C17",
                "message": "The cell holds an error.", "action": "not taken"}],
            "items": [{"item": "Q1", "skills": ["5.NF.B.5"], "type": "choice", "key": "C", "points": 1.0},
                not_keyed("Q2"), not_keyed("Q3")],
            "students": [{"id": "0417", "name": "Ada Lund", "grade": "5", "homeroom": "5B", "scores": {
                "Q1": {"state": "scored", "answer": "B", "points": 0.0},
                "Q2": {"state": "omitted", "answer": null, "points": null},
                "Q3": {"state": "not-taken", "answer": null, "points": null}}}]
        });
        assert_eq!(serde_json::from_slice::<serde_json::Value>(&bytes).unwrap(), want);
    }
}
