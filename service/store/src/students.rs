//! The list of students that the school gave apart from its score sheets.
//!
//! Kept whole and replaced whole, so that who left the list leaves the file too
//! (`the_list_is_replaced_whole_and_keeps_leading_zeros`). Not here: reading the list from a file (`sheaf-app`).

use crate::connection::scrub;
use crate::{About, Change, Store, StoreError};
use rusqlite::{Row, params};
use sheaf_core::roster::{Student, StudentId};

impl Store {
    /// Puts this list in place of the last one. Of two entries with one id, the later counts.
    ///
    /// # Errors
    /// [`StoreError`]; the last list stays then.
    pub fn put_students(&self, students: &[Student]) -> Result<(), StoreError> {
        let mut connection = self.lock();
        let tx = self.change(&mut connection, Change::StudentsListed, About::nothing())?;
        tx.execute("DELETE FROM student", ())?;
        for student in students {
            let supports = list_to_json(&student.supports)?;
            tx.execute(
                "INSERT OR REPLACE INTO student (id, name, grade, homeroom, supports) VALUES (?1, ?2, ?3, ?4, ?5)",
                params![student.id.as_str(), student.name, student.grade, student.homeroom, supports],
            )?;
        }
        tx.commit()?;
        scrub(&connection)
    }

    /// The list, in order of id.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn students(&self) -> Result<Vec<Student>, StoreError> {
        let connection = self.lock();
        let mut statement =
            connection.prepare("SELECT id, name, grade, homeroom, supports FROM student ORDER BY id")?;
        let mut rows = statement.query(())?;
        let mut students = Vec::new();
        while let Some(row) = rows.next()? {
            students.push(student_from(row)?);
        }
        Ok(students)
    }
}

fn student_from(row: &Row<'_>) -> Result<Student, StoreError> {
    let (id, supports): (String, String) = (row.get(0)?, row.get(4)?);
    Ok(Student {
        id: StudentId::parse(&id).ok_or(StoreError::Damaged("a student's id"))?,
        name: row.get(1)?,
        grade: row.get(2)?,
        homeroom: row.get(3)?,
        supports: serde_json::from_str(&supports).map_err(|_| StoreError::Damaged("a list of supports"))?,
    })
}

fn list_to_json(texts: &[String]) -> Result<String, StoreError> {
    serde_json::to_string(texts).map_err(|_| StoreError::Damaged("a list of supports"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn student(id: &str, name: &str) -> Student {
        Student {
            id: StudentId::parse(id).unwrap(),
            name: name.into(),
            grade: "5".into(),
            homeroom: "5P".into(),
            supports: vec!["read aloud".into()],
        }
    }

    #[test]
    fn the_list_is_replaced_whole_and_keeps_leading_zeros() {
        let store = Store::in_memory().unwrap();
        store.put_students(&[student("0031", "Old")]).unwrap();
        store.put_students(&[student("0022", "B"), student("0004", "A"), student("0022", "B again")]).unwrap();
        assert_eq!(store.students().unwrap(), vec![student("0004", "A"), student("0022", "B again")]);
    }
}
