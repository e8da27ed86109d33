//! The list of students apart from the score sheets: what a sheet leaves blank is filled from it, and who is listed but
//! has no scores is in the plan with that reason.

use super::{GivenFile, Weeks};
use crate::error::AppError;
use sheaf_core::finding::Finding;
use sheaf_core::roster::Student;
use sheaf_core::scores::ResponseTable;
use sheaf_sheets::read::{ReadLimits, SourceFile, read_students};

impl Weeks {
    /// Puts a list of students in place of the last one. Gives what was noticed.
    ///
    /// # Errors
    /// [`AppError`] where not one student could be read (the last list stays then), or of the records.
    pub fn put_students(&self, file: &GivenFile) -> Result<Vec<Finding>, AppError> {
        let source = SourceFile { name: &file.name, bytes: &file.bytes };
        let (students, findings) = read_students(source, ReadLimits::default())?;
        self.store.put_students(&students)?;
        tracing::info!(job = "put_students", n_students = students.len(), n_findings = findings.len());
        Ok(findings)
    }

    /// The list, in order of id; empty where none was given.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn students(&self) -> Result<Vec<Student>, AppError> {
        Ok(self.store.students()?)
    }
}

/// Fills blanks of the table's students from the list, and adds who is only listed.
pub(super) fn apply_list(table: &mut ResponseTable, list: &[Student]) {
    for listed in list {
        let idx = table.add_student(listed.clone());
        if let Some(student) = table.student_mut(idx) {
            fill(&mut student.name, &listed.name);
            fill(&mut student.grade, &listed.grade);
            fill(&mut student.homeroom, &listed.homeroom);
            if student.supports.is_empty() {
                student.supports.clone_from(&listed.supports);
            }
        }
    }
}

fn fill(field: &mut String, from: &str) {
    if field.is_empty() {
        from.clone_into(field);
    }
}
