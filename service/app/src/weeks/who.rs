//! One student under every id and name that the records know, and where a text names the student.
//!
//! In:  an id. Out: the ids that people said to be one child's, the names under them, and looks into texts.
//! Keeps: an id is a word of its own (`an_id_inside_a_longer_number_is_nobody`).
//! Not here: what is done with such a text (`forget`).

use super::Weeks;
use crate::apart;
use crate::error::{AppError, ErrorKind};
use serde_json::Value;
use sheaf_core::roster::{Student, StudentId};
use sheaf_sheets::read::{Mentions, ReadLimits, SourceFile};
use std::collections::BTreeSet;

/// What stands in place of a name.
const GONE: &str = "(forgotten)";
/// Shorter ids stand in too many cells to be looked for among answers.
const SHORTEST_ID: usize = 3;

/// One student.
pub(super) struct Who {
    pub(super) ids: BTreeSet<StudentId>,
    pub(super) names: BTreeSet<String>,
    pub(super) is_listed: bool,
}

impl Who {
    fn add_names(&mut self, students: &[Student]) {
        let own = students.iter().filter(|s| self.ids.contains(&s.id) && !s.name.trim().is_empty());
        self.names.extend(own.map(|s| s.name.clone()));
    }

    /// Texts that must be gone: names, and ids long enough to be nobody's answer.
    fn words(&self) -> impl Iterator<Item = &str> {
        let ids = self.ids.iter().map(StudentId::as_str).filter(|id| id.chars().count() >= SHORTEST_ID);
        self.names.iter().map(String::as_str).chain(ids)
    }

    pub(super) fn is_in(&self, text: &str) -> bool {
        self.words().any(|word| has_word(text, word))
    }

    pub(super) fn may_be_in(&self, name: &str, bytes: Option<&[u8]>) -> bool {
        let Some(bytes) = bytes else { return false };
        let whole: Vec<String> =
            self.ids.iter().map(ToString::to_string).filter(|id| id.chars().count() >= SHORTEST_ID).collect();
        let parts: Vec<String> = self.names.iter().cloned().collect();
        let wanted = Mentions { whole: &whole, parts: &parts };
        apart::reader().mentions(SourceFile { name, bytes }, ReadLimits::default(), wanted)
    }

    /// The text with names and ids blanked.
    pub(super) fn blank(&self, text: &str) -> String {
        self.words().fold(text.to_owned(), |text, word| without_word(&text, word))
    }

    pub(super) fn blank_json(&self, json: &str) -> Result<String, AppError> {
        let mut value: Value = serde_json::from_str(json).map_err(AppError::our_fault)?;
        self.blank_value(&mut value);
        serde_json::to_string(&value).map_err(AppError::our_fault)
    }

    pub(super) fn blank_value(&self, value: &mut Value) {
        match value {
            Value::String(text) if self.is_in(text) => *text = self.blank(text),
            Value::Array(values) => values.iter_mut().for_each(|v| self.blank_value(v)),
            Value::Object(fields) => {
                if fields.keys().any(|k| self.is_in(k)) {
                    let old = std::mem::take(fields);
                    fields.extend(old.into_iter().filter(|(k, _)| !self.is_in(k)));
                }
                fields.values_mut().for_each(|v| self.blank_value(v));
            }
            _ => {}
        }
    }

    pub(super) fn is_one(&self, value: &Value) -> bool {
        value.as_str().is_some_and(|text| self.ids.iter().any(|id| id.as_str() == text))
    }
}

/// Where a text holds a word that is not part of a longer one: `0417` is not in `10417`.
fn places_of<'t>(text: &'t str, word: &'t str) -> impl Iterator<Item = usize> + 't {
    text.match_indices(word).map(|(at, _)| at).filter(move |&at| {
        let before = text[..at].chars().next_back();
        let after = text[at + word.len()..].chars().next();
        !before.is_some_and(char::is_alphanumeric) && !after.is_some_and(char::is_alphanumeric)
    })
}

fn has_word(text: &str, word: &str) -> bool {
    places_of(text, word).next().is_some()
}

fn without_word(text: &str, word: &str) -> String {
    let (mut without, mut from) = (String::new(), 0);
    for at in places_of(text, word) {
        without.push_str(&text[from..at]);
        without.push_str(GONE);
        from = at + word.len();
    }
    without + &text[from..]
}

impl Weeks {
    /// Every id and name of a student.
    pub(super) fn who(&self, id: &str) -> Result<Who, AppError> {
        let id = StudentId::parse(id).ok_or_else(no_such_student)?;
        let newest = self.newest_ids()?;
        let own = newest.get(&id).unwrap_or(&id).clone();
        let mut ids: BTreeSet<StudentId> =
            newest.iter().filter(|(_, to)| **to == own).map(|(old, _)| old.clone()).collect();
        ids.extend([id, own]);
        let mut who = Who { ids, names: BTreeSet::new(), is_listed: false };
        let listed = self.store.students()?;
        who.is_listed = listed.iter().any(|s| who.ids.contains(&s.id));
        who.add_names(&listed);
        for monday in self.store.mondays()? {
            for upload in self.store.uploads_of(monday)? {
                // An upload that does not read back any more cannot name anybody; its originals go below.
                if let Ok(reading) = self.reading_of(&upload) {
                    who.add_names(reading.table.students());
                }
            }
        }
        Ok(who)
    }
}

pub(super) fn no_such_student() -> AppError {
    AppError::new(
        ErrorKind::NotFound,
        "no-such-student",
        "The records hold no student with this id; see the list of students.",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_inside_a_longer_number_is_nobody() {
        assert!(has_word("Student 0417 is here again", "0417") && has_word("0417", "0417"));
        assert!(!has_word("10417", "0417") && !has_word("0417b", "0417"));
        assert_eq!(without_word("Room 101, not 1015; 101", "101"), format!("Room {GONE}, not 1015; {GONE}"));
    }
}
