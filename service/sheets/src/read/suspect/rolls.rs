//! Who is missing, and who does not belong: classes and grades held against the students known before.
//!
//! In:  sheets or the table put together, and known students. Out: a warning for each known class that no sheet has while another is
//! there, and for a sheet of a grade that no known student is in. Nothing is said where nobody is known.
//! Keeps: `a_class_that_is_missing_is_told`, `a_file_of_another_grade_is_told`.
//! Not here: absent students of a class that is there (the plan says that they were not tested).

use super::super::merge::NamedSheet;
use super::super::words::plain;
use sheaf_core::finding::{Finding, Severity};
use sheaf_core::roster::Student;
use sheaf_core::scores::ResponseTable;
use std::collections::{BTreeMap, BTreeSet};

/// Known classes that no sheet has.
pub fn missing_classes(table: &ResponseTable, known: &[Student]) -> Vec<Finding> {
    let mut classes: BTreeMap<String, (&str, usize, usize)> = BTreeMap::new();
    for student in known.iter().filter(|s| !s.homeroom.is_empty()) {
        let entry = classes.entry(plain(&student.homeroom)).or_insert((&student.homeroom, 0, 0));
        entry.1 += 1;
        entry.2 += usize::from(table.student_index(&student.id).is_some());
    }
    let here: BTreeSet<String> = table.students().iter().map(|s| plain(&s.homeroom)).collect();
    let is_here = |class: &String, n_seen: usize| n_seen > 0 || here.contains(class);
    if !classes.iter().any(|(class, (.., n_seen))| is_here(class, *n_seen)) {
        return Vec::new();
    }
    let missing = classes.iter().filter(|(class, (.., n_seen))| !is_here(class, *n_seen));
    missing
        .map(|(_, (name, n, _))| {
            let message = format!("No sheet has any of the {n} students of {name}.");
            Finding::new(
                Severity::Warning,
                "class-missing",
                message,
                "planned without them; add the sheet of that class",
            )
        })
        .collect()
}

/// Sheets whose students are all of a grade that no known student is in.
pub fn of_another_grade(sheets: &[NamedSheet], known: &[Student]) -> Vec<Finding> {
    let grades: BTreeSet<String> = known.iter().map(|s| grade_key(&s.grade)).filter(|g| !g.is_empty()).collect();
    if grades.is_empty() {
        return Vec::new();
    }
    let mut findings = Vec::new();
    for sheet in sheets {
        let here: BTreeSet<String> =
            sheet.table.students.iter().map(|s| grade_key(&s.grade)).filter(|g| !g.is_empty()).collect();
        let Some(first) = sheet.table.students.first().filter(|_| !here.is_empty() && here.is_disjoint(&grades)) else {
            continue;
        };
        let mut notes = sheet.notes();
        let message = format!(
            "The sheet is of grade {}, and no known student is.",
            here.iter().cloned().collect::<Vec<_>>().join(", ")
        );
        let place = notes.place(first.row, sheet.table.who_column);
        notes.warn("grade-unknown", place, message, "read like the others; take it out if it is the wrong file");
        findings.extend(notes.into_findings());
    }
    findings
}

/// `5`, `5th`, `Grade 5`, `05` are one grade.
fn grade_key(grade: &str) -> String {
    let digits: String = grade.chars().filter(char::is_ascii_digit).collect();
    let bare = digits.trim_start_matches('0');
    if bare.is_empty() { plain(grade) } else { bare.to_owned() }
}
