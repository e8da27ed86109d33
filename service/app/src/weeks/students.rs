//! The list of students apart from the score sheets, and which ids are one child.
//!
//! Making a plan fills from the list what the sheets leave blank, and adds who is listed without scores
//! (`who_is_listed_without_scores_is_in_the_plan`). A child who changes class keeps the history, which goes by id.
//! Keeps: a changed id with a like name is asked about and never assumed; on yes, later plans and looks back have one child
//! (`one_child_of_two_ids_has_one_history`).
//! Not here: reading a list (`sheaf-sheets`), forgetting a student (`forget`).

use super::like_names::same_child_questions;
use super::merged::NewestIds;
use super::{GivenFile, Weeks};
use crate::apart;
use crate::error::{AppError, ErrorKind};
use crate::headless::read_student_list;
use sheaf_core::finding::Finding;
use sheaf_core::roster::{Student, StudentId};
use sheaf_sheets::read::SourceFile;
use sheaf_store::SameChild;

impl Weeks {
    /// Puts a list of students in place of the last one, and asks about changed ids. Gives what was noticed.
    ///
    /// # Errors
    /// [`AppError`] where not one student could be read (the last list stays then), or of the records.
    pub fn put_students(&self, file: &GivenFile) -> Result<Vec<Finding>, AppError> {
        let source = SourceFile { name: &file.name, bytes: &file.bytes };
        let (students, mut findings) = read_student_list(source, apart::limits_of(&self.setup().school))?;
        let questions = same_child_questions(&self.store.students()?, &students);
        self.store.put_students(&students)?;
        self.store.ask_same_child(&questions)?;
        self.forget_remembered();
        findings.extend(to_be_asked(&questions));
        tracing::info!(
            job = "put_students",
            n_students = students.len(),
            n_questions = questions.len(),
            n_findings = findings.len()
        );
        Ok(findings)
    }

    /// The list, in order of id; empty where none was given.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn students(&self) -> Result<Vec<Student>, AppError> {
        Ok(self.store.students()?)
    }

    /// Pairs of a gone and a new id that may be one child, and that nobody has answered.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn same_child_questions(&self) -> Result<Vec<(StudentId, StudentId)>, AppError> {
        Ok(self.store.same_child(SameChild::Open)?)
    }

    /// Keeps a person's answer.
    ///
    /// # Errors
    /// [`AppError`] of kind conflict where there is no such open question, or of the records.
    pub fn answer_same_child(&self, old: &str, new: &str, answer: SameChild) -> Result<(), AppError> {
        if !self.store.answer_same_child(old, new, answer)? {
            return Err(AppError::new(
                ErrorKind::Conflict,
                "question-not-open",
                "This question is answered already, or the old id was answered to be another child's; see the list of students.",
            ));
        }
        self.forget_remembered();
        tracing::info!(job = "answer_same_child", is_same = answer == SameChild::Same);
        Ok(())
    }

    /// What to call a student of the records who is on no list: the name in the latest sheets.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn name_in_sheets(&self, id: &StudentId) -> Result<String, AppError> {
        for monday in self.store.mondays()?.into_iter().rev() {
            for upload in self.store.uploads_of(monday)? {
                let table = self.reading_of(&upload)?.table;
                let found = table.student_index(id).and_then(|idx| table.students().get(idx));
                if let Some(student) = found.filter(|s| !s.name.is_empty()) {
                    return Ok(student.name.clone());
                }
            }
        }
        Ok(String::new())
    }

    /// Earlier ids of children, each with the newest, as people answered.
    pub(super) fn newest_ids(&self) -> Result<NewestIds, AppError> {
        let pairs: NewestIds = self.store.same_child(SameChild::Same)?.into_iter().collect();
        let newest = |id: &StudentId| {
            // An id may have been changed more than once; a circle of answers ends after as many steps as there are answers.
            let mut at = id;
            for _ in 0..pairs.len() {
                at = pairs.get(at).unwrap_or(at);
            }
            at.clone()
        };
        Ok(pairs.keys().map(|old| (old.clone(), newest(old))).collect())
    }
}

fn to_be_asked(questions: &[(StudentId, StudentId)]) -> Option<Finding> {
    (!questions.is_empty()).then(|| {
        let message = format!("New ids with names like those of ids that are gone: {}.", questions.len());
        Finding::warning(
            "same-child-asked",
            message,
            "taken as other children; say on the page of students which are the same",
        )
    })
}
