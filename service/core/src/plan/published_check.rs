//! The published JSON of what was understood of score sheets, `sheaf.check/1`.
//!
//! In:  what was read, findings, the table of marks. Out: JSON, one student at a time, so that a large table is not held twice.
//! `points` is null unless the mark is scored; `answer` is null where the sheet holds points alone.

use super::InputSummary;
use super::published::{PublishedInput, inputs};
use crate::finding::Finding;
use crate::scores::ResponseTable;
use serde::Serialize;
use serde::ser::{SerializeMap, SerializeSeq, Serializer};
use std::io::Write;

#[derive(Serialize)]
struct PublishedCheck<'a> {
    schema: &'static str,
    input: Vec<PublishedInput<'a>>,
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
    let mut list = serializer.serialize_seq(Some(table.n_students()))?;
    for (idx, student) in table.students().iter().enumerate() {
        list.serialize_element(&CheckedStudent {
            id: student.id.as_str(),
            name: &student.name,
            grade: &student.grade,
            homeroom: &student.homeroom,
            scores: Scores { table, student: idx },
        })?;
    }
    list.end()
}

/// Writes what was understood as JSON, with a line break at the end.
///
/// # Errors
/// What the sink gives.
pub fn write_check_json(
    read: &[InputSummary],
    findings: &[Finding],
    table: &ResponseTable,
    mut sink: impl Write,
) -> std::io::Result<()> {
    let check = PublishedCheck {
        schema: "sheaf.check/1",
        input: inputs(read),
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
    serde_json::to_writer_pretty(&mut sink, &check).map_err(std::io::Error::from)?;
    sink.write_all(b"\n")?;
    sink.flush()
}
