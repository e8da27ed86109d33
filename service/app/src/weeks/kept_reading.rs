//! What was read of an upload, in the form in which the records keep it beside (and after) the original.
//!
//! In / out: a [`Reading`] and JSON: assessments, items with their distinct marks, a row of small numbers a student, findings.
//! How the sheet looked (`Reading::sheets`) is not kept: it is read from the original as long as that is there.
//! Keeps: what comes back is what was read (`what_was_read_comes_back`). The form has a number, so that a later program can
//! tell an earlier one's.
//! Not here: when an original goes (`care`).

use crate::error::{AppError, ErrorKind};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use sheaf_core::finding::Finding;
use sheaf_core::plan::InputSummary;
use sheaf_core::roster::{Student, StudentId};
use sheaf_core::scores::{Item, ItemKind, Mark, MarkState, OptionMeaning, ResponseTable};
use sheaf_core::skills::SkillCode;
use sheaf_sheets::read::Reading;

/// The number of the form.
const FORM: u32 = 1;
/// Codes in a student's row below the first scored mark: 0 is not taken, 1 omitted.
const N_UNSCORED: u32 = 2;

#[derive(Serialize, Deserialize)]
struct KeptReading {
    form: u32,
    week: Option<String>,
    inputs: Vec<KeptInput>,
    findings: Vec<Finding>,
    assessments: Vec<String>,
    /// Monday of each assessment's week; not there in what was kept before sheets of several weeks were told apart.
    #[serde(default)]
    assessment_weeks: Vec<Option<String>>,
    items: Vec<KeptItem>,
    students: Vec<KeptStudent>,
}

#[derive(Serialize, Deserialize)]
struct KeptInput {
    file: String,
    sha256: String,
    sheet: String,
    students: usize,
    items: usize,
}

#[derive(Serialize, Deserialize)]
struct KeptItem {
    label: String,
    assessment: usize,
    skills: Vec<String>,
    kind: String,
    key: Option<String>,
    points: f64,
    meanings: Vec<(String, Vec<String>)>,
    /// Answer and points of each distinct scored mark.
    marks: Vec<(Option<String>, Option<f64>)>,
}

#[derive(Serialize, Deserialize)]
struct KeptStudent {
    id: String,
    name: String,
    grade: String,
    homeroom: String,
    supports: Vec<String>,
    /// For each item 0 (not taken), 1 (omitted), or 2 and up: the item's marks in order.
    row: Vec<u32>,
}

/// Writes what was read.
pub(super) fn to_json(reading: &Reading) -> Result<String, AppError> {
    let table = &reading.table;
    let kept = KeptReading {
        form: FORM,
        week: reading.week.map(|w| w.to_string()),
        inputs: reading.inputs.iter().map(kept_input).collect(),
        findings: reading.findings.clone(),
        assessments: table.assessments().iter().map(|a| a.name.clone()).collect(),
        assessment_weeks: table.assessments().iter().map(|a| a.week.map(|w| w.to_string())).collect(),
        items: table.items().iter().enumerate().map(|(idx, item)| kept_item(table, idx, item)).collect(),
        students: table.students().iter().enumerate().map(|(idx, student)| kept_student(table, idx, student)).collect(),
    };
    serde_json::to_string(&kept).map_err(AppError::our_fault)
}

/// Reads it back.
pub(super) fn from_json(json: &str) -> Result<Reading, AppError> {
    let kept: KeptReading = serde_json::from_str(json).map_err(|_| damaged())?;
    if kept.form != FORM {
        return Err(damaged());
    }
    let mut table = ResponseTable::new();
    for (at, name) in kept.assessments.iter().enumerate() {
        table.add_dated_assessment(name, date_from(kept.assessment_weeks.get(at).and_then(Option::as_ref))?);
    }
    for item in &kept.items {
        table.add_item(item_from(item)?);
    }
    for student in &kept.students {
        let idx = table.add_student(student_from(student)?);
        for (item_idx, &code) in student.row.iter().enumerate().filter(|(_, code)| **code > 0) {
            let mark = kept.items.get(item_idx).and_then(|item| mark_from(item, code)).ok_or_else(damaged)?;
            table.set(idx, item_idx, mark).map_err(|_| damaged())?;
        }
    }
    let week = date_from(kept.week.as_ref())?;
    let inputs = kept.inputs.into_iter().map(input_from).collect();
    Ok(Reading { inputs, findings: kept.findings, table, week, ..Reading::default() })
}

fn date_from(kept: Option<&String>) -> Result<Option<Date>, AppError> {
    kept.map(|date| date.parse().map_err(|_| damaged())).transpose()
}

fn damaged() -> AppError {
    AppError::new(
        ErrorKind::OurFault,
        "record-damaged",
        "What was read of an upload does not read back; restore the last backup, or take the upload back and hand it in again.",
    )
}

fn kept_input(input: &InputSummary) -> KeptInput {
    KeptInput {
        file: input.file.clone(),
        sha256: input.sha256.clone(),
        sheet: input.sheet.clone(),
        students: input.n_students,
        items: input.n_items,
    }
}

fn input_from(kept: KeptInput) -> InputSummary {
    InputSummary {
        file: kept.file,
        sha256: kept.sha256,
        sheet: kept.sheet,
        n_students: kept.students,
        n_items: kept.items,
    }
}

fn kept_item(table: &ResponseTable, item_idx: usize, item: &Item) -> KeptItem {
    let scored = table.distinct_marks(item_idx).iter().skip(N_UNSCORED as usize);
    KeptItem {
        label: item.label.clone(),
        assessment: item.assessment,
        skills: item.skills.iter().map(ToString::to_string).collect(),
        kind: item.kind.word().to_owned(),
        key: item.key.clone(),
        points: item.points,
        meanings: item.meanings.iter().map(|m| (m.option.clone(), m.patterns.clone())).collect(),
        marks: scored.map(|m| (m.answer.clone(), m.points)).collect(),
    }
}

fn item_from(kept: &KeptItem) -> Result<Item, AppError> {
    let skills = kept.skills.iter().map(|s| SkillCode::parse(s)).collect::<Option<_>>().ok_or_else(damaged)?;
    let meaning = |(option, patterns): &(String, Vec<String>)| OptionMeaning {
        option: option.clone(),
        patterns: patterns.clone(),
    };
    Ok(Item {
        label: kept.label.clone(),
        assessment: kept.assessment,
        skills,
        kind: ItemKind::parse(&kept.kind).ok_or_else(damaged)?,
        key: kept.key.clone(),
        points: kept.points,
        meanings: kept.meanings.iter().map(meaning).collect(),
    })
}

fn kept_student(table: &ResponseTable, student_idx: usize, student: &Student) -> KeptStudent {
    KeptStudent {
        id: student.id.to_string(),
        name: student.name.clone(),
        grade: student.grade.clone(),
        homeroom: student.homeroom.clone(),
        supports: student.supports.clone(),
        row: (0..table.n_items()).map(|item_idx| table.mark_code(student_idx, item_idx)).collect(),
    }
}

fn student_from(kept: &KeptStudent) -> Result<Student, AppError> {
    Ok(Student {
        id: StudentId::parse(&kept.id).ok_or_else(damaged)?,
        name: kept.name.clone(),
        grade: kept.grade.clone(),
        homeroom: kept.homeroom.clone(),
        supports: kept.supports.clone(),
    })
}

fn mark_from(item: &KeptItem, code: u32) -> Option<Mark> {
    if code == 1 {
        return Some(Mark::OMITTED);
    }
    let (answer, points) = item.marks.get(code.checked_sub(N_UNSCORED)? as usize)?;
    Some(Mark { state: MarkState::Scored, answer: answer.clone(), points: *points })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::apart::Reader;
    use crate::knowledge::Knowledge;
    use sheaf_sheets::read::{ReadRequest, SourceFile};

    const SHEET: &str = "\
,,skill,5.NF.B.5a; rounding,4.NF.A.1,
,,key,A,\"A,C\",
,,points,1,2,0.3
student_id,student,class,Q1,Q2,Q3
0007,Zoë Ñ,5P,B,\"A,C\",0.1
0008,Bo,5P,,A,0.3
0009,Cy,5P,,,
";

    #[test]
    fn what_was_read_comes_back() {
        let knowledge = Knowledge::builtin().unwrap();
        let source = [SourceFile { name: "quiz 2026-02-04.csv", bytes: SHEET.as_bytes() }];
        let read = Reader::Here.scores(&ReadRequest::new(&source, &knowledge.graph)).unwrap();
        let json = to_json(&read).unwrap();
        let back = from_json(&json).unwrap();
        assert_eq!((&back.inputs, &back.findings, back.week), (&read.inputs, &read.findings, read.week));
        assert_eq!(back.table.students(), read.table.students());
        assert_eq!(back.table.items(), read.table.items());
        assert_eq!(back.table.assessments(), read.table.assessments());
        for student in 0..3 {
            for item in 0..3 {
                assert_eq!(back.table.mark(student, item), read.table.mark(student, item), "{student} {item}");
            }
        }
        assert_eq!(to_json(&back).unwrap(), json);
    }

    #[test]
    fn another_form_is_said_to_be_damaged() {
        assert_eq!(from_json(r#"{"form":2}"#).unwrap_err().code, "record-damaged");
    }
}
