//! The list of students apart from the score sheets. Making a plan fills from it what the sheets leave blank, and adds who
//! is listed without scores (`who_is_listed_without_scores_is_in_the_plan`).

use super::{GivenFile, Weeks};
use crate::apart;
use crate::error::AppError;
use sheaf_core::finding::Finding;
use sheaf_core::roster::Student;
use sheaf_sheets::read::SourceFile;

impl Weeks {
    /// Puts a list of students in place of the last one. Gives what was noticed.
    ///
    /// # Errors
    /// [`AppError`] where not one student could be read (the last list stays then), or of the records.
    pub fn put_students(&self, file: &GivenFile) -> Result<Vec<Finding>, AppError> {
        let source = SourceFile { name: &file.name, bytes: &file.bytes };
        let (students, findings) = apart::reader().students(source, apart::limits_of(&self.setup.school))?;
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
