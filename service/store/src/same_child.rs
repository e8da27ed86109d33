//! Two ids that may be one child: the question, and what a person answered.
//!
//! Keeps: a question once answered is not asked again (`a_question_is_asked_once`); nothing is assumed: only an answer
//! makes two ids one.
//! Not here: which names are alike (`sheaf-app`).

use crate::connection::write;
use crate::{About, Change, Store, StoreError};
use rusqlite::params;
use sheaf_core::roster::StudentId;

/// What a person said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SameChild {
    /// Nobody said yet.
    Open,
    /// One child: the old id is an earlier one of the new.
    Same,
    /// Two children.
    Different,
}

impl SameChild {
    fn word(self) -> &'static str {
        match self {
            SameChild::Open => "open",
            SameChild::Same => "same",
            SameChild::Different => "different",
        }
    }
}

impl Store {
    /// Asks whether pairs of an old and a new id are one child each; what was asked before is not asked again. A question changes
    /// nothing, so nobody is told of it.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is asked then.
    pub fn ask_same_child(&self, pairs: &[(StudentId, StudentId)]) -> Result<(), StoreError> {
        let mut connection = self.lock();
        let tx = write(&mut connection)?;
        for (old, new) in pairs {
            tx.execute(
                "INSERT INTO same_child (old_id, new_id) VALUES (?1, ?2) ON CONFLICT DO NOTHING",
                [old.as_str(), new.as_str()],
            )?;
        }
        tx.commit()?;
        Ok(())
    }

    /// Keeps an answer. Says whether the question was there and open.
    ///
    /// # Errors
    /// [`StoreError`]; also where another id was answered to be the old one's already.
    pub fn answer_same_child(&self, old: &str, new: &str, answer: SameChild) -> Result<bool, StoreError> {
        let mut connection = self.lock();
        let tx = self.change(&mut connection, Change::SameChildAnswered, About::nothing().and_child(new))?;
        let n = tx.execute(
            "UPDATE same_child SET answer = ?3 WHERE old_id = ?1 AND new_id = ?2 AND answer = 'open'
             AND NOT (?3 = 'same' AND EXISTS (SELECT 1 FROM same_child WHERE old_id = ?1 AND answer = 'same'))",
            params![old, new, answer.word()],
        )?;
        if n > 0 {
            tx.commit()?;
        }
        Ok(n > 0)
    }

    /// Pairs of an old and a new id with this answer, in order.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn same_child(&self, answer: SameChild) -> Result<Vec<(StudentId, StudentId)>, StoreError> {
        let connection = self.lock();
        let mut statement =
            connection.prepare("SELECT old_id, new_id FROM same_child WHERE answer = ?1 ORDER BY old_id, new_id")?;
        let mut rows = statement.query([answer.word()])?;
        let mut pairs = Vec::new();
        while let Some(row) = rows.next()? {
            let id = |column| -> Result<StudentId, StoreError> {
                let text: String = row.get(column)?;
                StudentId::parse(&text).ok_or(StoreError::Damaged("a student's id"))
            };
            pairs.push((id(0)?, id(1)?));
        }
        Ok(pairs)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn id(text: &str) -> StudentId {
        StudentId::parse(text).unwrap()
    }

    #[test]
    fn a_question_is_asked_once() {
        let store = Store::in_memory().unwrap();
        let pair = (id("0031"), id("7031"));
        store.ask_same_child(&[pair.clone(), (id("0031"), id("8031"))]).unwrap();
        assert_eq!(store.same_child(SameChild::Open).unwrap().len(), 2);
        assert!(store.answer_same_child("0031", "7031", SameChild::Same).unwrap());
        assert!(!store.answer_same_child("0031", "7031", SameChild::Different).unwrap());
        assert!(!store.answer_same_child("0031", "8031", SameChild::Same).unwrap(), "one new id a child");
        assert!(store.answer_same_child("0031", "8031", SameChild::Different).unwrap());
        store.ask_same_child(std::slice::from_ref(&pair)).unwrap();
        assert_eq!(store.same_child(SameChild::Open).unwrap(), []);
        assert_eq!(store.same_child(SameChild::Same).unwrap(), [pair]);
    }
}
