//! A list of students: a sheet with a row a student, or OneRoster files in a zip.
//!
//! In:  a file's bytes. Out: students with ids as text, and what was noticed.
//! Keeps: two children of one name are never merged: without ids neither can be told from the other, and both are left out
//! (`two_children_of_one_name_without_ids_are_left_out`); of two rows with one id the first counts and the second is told
//! (`one_id_with_two_names_is_told`).
//! Not here: students on score sheets (`table`), what a changed id means (`sheaf-app`).

mod one_roster;

use super::layout::Said;
use super::notes::Notes;
use super::people::RowStudent;
use super::region::{MOST_TABLES, Region};
use super::table::{Background, SheetBuilder, SheetContent};
use super::{ReadError, ReadLimits, SourceFile, merge, open};
use sheaf_core::finding::Finding;
use sheaf_core::roster::{Student, StudentId};
use sheaf_core::skills::SkillGraph;
use std::collections::BTreeMap;

/// Ids or names told in a finding; the rest is counted.
const NAMED: usize = 5;

/// Reads a list of students.
///
/// # Errors
/// [`ReadError`] where not one student could be read.
pub fn read_students(source: SourceFile<'_>, limits: ReadLimits) -> Result<(Vec<Student>, Vec<Finding>), ReadError> {
    let (listed, mut findings) = match one_roster::files_in(source, limits)? {
        Some(files) => one_roster::students(source.name, &files)?,
        None => read_list(source, limits)?,
    };
    let (students, told) = each_once(source.name, listed);
    findings.extend(told);
    if students.is_empty() {
        let message = format!("{} names no student; it needs a row of headings with id and name.", source.name);
        return Err(ReadError { code: "not-a-student-list", message });
    }
    Ok((students, findings))
}

fn read_list(source: SourceFile<'_>, limits: ReadLimits) -> Result<(Vec<Student>, Vec<Finding>), ReadError> {
    let book = open(source, limits)?;
    let (mut students, mut findings) = (Vec::new(), Vec::new());
    let shown: Vec<_> = book.sheets()?.into_iter().filter(|s| !s.is_hidden).collect();
    // Sheets from the first on, the tables of each before the next sheet.
    let mut waiting: Vec<_> = shown.iter().rev().map(|sheet| (sheet, Region::whole())).collect();
    let mut n_more = 0;
    while let Some((sheet, region)) = waiting.pop() {
        let mut notes = Notes::new(source.name, &sheet.name);
        let mut builder = SheetBuilder::new(limits, Said::choices(&[]), &mut notes).of(region);
        book.for_each_row(sheet, &mut |n, cells| builder.row(n, cells))?;
        builder.refuse_too_large(source.name)?;
        let finished = builder.finish(&Background::nothing(&SkillGraph::default()));
        if n_more < MOST_TABLES {
            n_more += finished.others.len();
            waiting.extend(finished.others.into_iter().map(|region| (sheet, region)));
        }
        let rows = match finished.content {
            SheetContent::Students(rows) => rows,
            SheetContent::Scores(table, _) => table.students,
            _ => Vec::new(),
        };
        students.extend(rows.into_iter().filter_map(student_of));
        findings.extend(notes.into_findings());
    }
    Ok((students, findings))
}

fn student_of(row: RowStudent) -> Option<Student> {
    let supports = merge::split_supports(&row.supports);
    let id = StudentId::parse(&row.id)?;
    Some(Student { id, name: row.name, grade: row.grade, homeroom: row.homeroom, supports })
}

/// Each id once.
fn each_once(file: &str, listed: Vec<Student>) -> (Vec<Student>, Vec<Finding>) {
    let mut by_id: BTreeMap<StudentId, Vec<Student>> = BTreeMap::new();
    for student in listed {
        by_id.entry(student.id.clone()).or_default().push(student);
    }
    let (mut students, mut nameless, mut twice) = (Vec::new(), Vec::new(), Vec::new());
    for (id, mut rows) in by_id {
        // Where there is no id the reader puts the name in its place.
        if rows.len() > 1 && rows.iter().all(|s| s.name == id.as_str()) {
            nameless.push(id.to_string());
            continue;
        }
        if rows.iter().any(|s| s.name != rows[0].name || s.homeroom != rows[0].homeroom) {
            twice.push(id.to_string());
        }
        students.push(rows.swap_remove(0));
    }
    let findings = [without_ids(file, &nameless), with_one_id(file, &twice)].into_iter().flatten().collect();
    (students, findings)
}

fn without_ids(file: &str, names: &[String]) -> Option<Finding> {
    (!names.is_empty()).then(|| {
        let message = format!("Several children without an id share a name: {}.", shown(names));
        Finding::error("name-twice-without-id", message, "left out; give each an id").at(file, "", "")
    })
}

fn with_one_id(file: &str, ids: &[String]) -> Option<Finding> {
    (!ids.is_empty()).then(|| {
        let message = format!("An id stands at two different rows: {}.", shown(ids));
        Finding::error("id-twice", message, "the first row was kept; mend the id that is wrong").at(file, "", "")
    })
}

fn shown(texts: &[String]) -> String {
    let mut shown = texts.iter().take(NAMED).cloned().collect::<Vec<_>>().join(", ");
    if texts.len() > NAMED {
        shown.push_str(&format!(" and {} more", texts.len() - NAMED));
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> (Vec<Student>, Vec<Finding>) {
        read_students(SourceFile { name: "list.csv", bytes: text.as_bytes() }, ReadLimits::default()).unwrap()
    }

    fn codes(findings: &[Finding]) -> Vec<&str> {
        findings.iter().map(|f| f.code.as_str()).filter(|c| c.ends_with("id") || c.ends_with("twice")).collect()
    }

    #[test]
    fn supports_come_as_a_list() {
        let (students, _) = read("id,name,grade,homeroom,supports\n007,Ann,5,5P,read aloud; aide's seat\n");
        assert_eq!((students[0].id.as_str(), students[0].homeroom.as_str()), ("007", "5P"));
        assert_eq!(students[0].supports, ["read aloud", "aide's seat"]);
    }

    #[test]
    fn two_children_of_one_name_are_two() {
        let (students, findings) = read("id,name,grade\n1,Ann Ash,5\n2,Ann Ash,5\n");
        assert_eq!(students.len(), 2);
        assert_eq!(codes(&findings), Vec::<&str>::new());
    }

    #[test]
    fn two_children_of_one_name_without_ids_are_left_out() {
        let (students, findings) = read("name,grade\nAnn Ash,5\nBo Birch,5\nAnn Ash,5\n");
        assert_eq!(students.iter().map(|s| s.name.as_str()).collect::<Vec<_>>(), ["Bo Birch"]);
        assert!(codes(&findings).contains(&"name-twice-without-id"), "{findings:?}");
    }

    #[test]
    fn one_id_with_two_names_is_told() {
        let (students, findings) = read("id,name,grade\n1,Ann Ash,5\n1,Bo Birch,5\n");
        assert_eq!(students.iter().map(|s| s.name.as_str()).collect::<Vec<_>>(), ["Ann Ash"]);
        assert!(codes(&findings).contains(&"id-twice"), "{findings:?}");
    }
}
