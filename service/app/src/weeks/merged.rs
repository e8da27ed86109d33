//! All of a week's uploads as one reading.
//!
//! Sheets without an items file are read together, as if they had come at once; an upload with an items file is read
//! by itself, so that its item facts stay with its own sheets. A score sheet whose bytes came twice counts once.
//! Keeps: items of two readings stay apart even if their labels are alike (`like_labels_of_two_readings_stay_apart`).

use super::Weeks;
use crate::error::AppError;
use sheaf_core::finding::Finding;
use sheaf_core::scores::ResponseTable;
use sheaf_sheets::read::Reading;
use sheaf_store::{FileKind, StoredFile, Upload};
use std::collections::BTreeSet;

impl Weeks {
    /// Reads a week's uploads as one.
    pub(super) fn read_together(&self, uploads: Vec<Upload>) -> Result<Reading, AppError> {
        let mut seen = BTreeSet::new();
        let mut doubles = Vec::new();
        let mut together: Vec<StoredFile> = Vec::new();
        let mut apart: Vec<Vec<StoredFile>> = Vec::new();
        for upload in uploads {
            let (fresh, again): (Vec<_>, Vec<_>) =
                upload.files.into_iter().partition(|f| f.kind == FileKind::Items || seen.insert(f.sha256.clone()));
            doubles.extend(again.into_iter().map(|f| came_twice(&f.name)));
            match (fresh.iter().any(|f| f.kind == FileKind::Items), fresh.iter().any(|f| f.kind == FileKind::Scores)) {
                (true, true) => apart.push(fresh),
                (false, _) => together.extend(fresh),
                (true, false) => {}
            }
        }
        let parts = (!together.is_empty()).then_some(together).into_iter().chain(apart);
        let readings = parts.map(|files| self.read(&files)).collect::<Result<Vec<_>, _>>()?;
        let mut reading = merge(readings)?;
        reading.findings.extend(doubles);
        Ok(reading)
    }
}

fn came_twice(name: &str) -> Finding {
    Finding::note("sheet-came-twice", "These very bytes were handed in before for this week.", "counted once")
        .at(name, "", "")
}

fn merge(readings: Vec<Reading>) -> Result<Reading, AppError> {
    let mut parts = readings.into_iter();
    let mut all = parts.next().unwrap_or_default();
    for part in parts {
        append(&mut all.table, &part.table)?;
        all.inputs.extend(part.inputs);
        all.findings.extend(part.findings);
        all.sheets.extend(part.sheets);
        all.left_out.extend(part.left_out);
    }
    Ok(all)
}

/// Adds the assessments, items, students and marks of `from` to `to`.
fn append(to: &mut ResponseTable, from: &ResponseTable) -> Result<(), AppError> {
    let assessments: Vec<usize> = from.assessments().iter().map(|a| to.add_assessment(&a.name)).collect();
    let students: Vec<usize> = from.students().iter().map(|s| to.add_student(s.clone())).collect();
    for (item_idx, item) in from.items().iter().enumerate() {
        let mut item = item.clone();
        item.assessment = assessments.get(item.assessment).copied().unwrap_or(0);
        item.label = free_label(to, &item.label);
        let new_idx = to.add_item(item);
        for (old_student, &student_idx) in students.iter().enumerate() {
            to.set(student_idx, new_idx, from.mark(old_student, item_idx).clone()).map_err(AppError::our_fault)?;
        }
    }
    Ok(())
}

/// `Q1`, or `Q1 (2)`, `Q1 (3)` … where it is taken.
fn free_label(table: &ResponseTable, label: &str) -> String {
    let is_taken = |candidate: &str| table.items().iter().any(|i| i.label == candidate);
    if !is_taken(label) {
        return label.to_owned();
    }
    (2..).map(|n| format!("{label} ({n})")).find(|candidate| !is_taken(candidate)).unwrap_or_else(|| label.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_core::roster::{Student, StudentId};
    use sheaf_core::scores::{Item, Mark};

    fn one(id: &str, points: f64) -> Reading {
        let mut table = ResponseTable::new();
        let assessment = table.add_assessment("quiz");
        let item = table.add_item(Item::new("Q1", assessment));
        let student = table.add_student(Student::unnamed(StudentId::parse(id).unwrap()));
        table.set(student, item, Mark::scored(None, Some(points))).unwrap();
        Reading { table, ..Reading::default() }
    }

    #[test]
    fn like_labels_of_two_readings_stay_apart() {
        let table = merge(vec![one("a", 1.0), one("b", 0.0), one("a", 0.0)]).unwrap().table;
        let labels: Vec<&str> = table.items().iter().map(|i| i.label.as_str()).collect();
        assert_eq!(labels, ["Q1", "Q1 (2)", "Q1 (3)"]);
        assert_eq!((table.n_students(), table.assessments().len()), (2, 3));
        let points = |student, item| table.mark(student, item).points;
        assert_eq!((points(0, 0), points(0, 1), points(0, 2)), (Some(1.0), None, Some(0.0)));
        assert_eq!(table.items()[2].assessment, 2);
    }
}
