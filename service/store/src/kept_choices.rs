//! What people said once about sheets of a layout: how they are to be read, and facts of their items.
//!
//! In / out: a layout's key and JSON that `sheaf-app` writes and reads. The last word on a layout counts
//! (`the_last_word_on_a_layout_counts`).
//! Not here: what a choice means (`sheaf-sheets`).

use crate::connection::write;
use crate::{Store, StoreError};
use rusqlite::params;

/// Item facts typed once for sheets of a layout with exactly these items.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptItems {
    /// Key of the layout.
    pub layout: String,
    /// Labels of the items, as a JSON list.
    pub labels: String,
    /// The facts, as JSON.
    pub items: String,
}

impl Store {
    /// Keeps choices (layout and JSON) and item facts, each in place of what was said before of the same.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is kept then.
    pub fn keep_choices(&self, choices: &[(String, String)], items: &[KeptItems]) -> Result<(), StoreError> {
        let mut connection = self.lock();
        let tx = write(&mut connection)?;
        for (layout, choice) in choices {
            tx.execute("INSERT OR REPLACE INTO kept_choice (layout, choice) VALUES (?1, ?2)", [layout, choice])?;
        }
        for kept in items {
            tx.execute(
                "INSERT OR REPLACE INTO kept_items (layout, labels, items) VALUES (?1, ?2, ?3)",
                params![kept.layout, kept.labels, kept.items],
            )?;
        }
        tx.commit()?;
        Ok(())
    }

    /// Every kept choice: layout and JSON, in order of layout.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn kept_choices(&self) -> Result<Vec<(String, String)>, StoreError> {
        let connection = self.lock();
        let mut statement = connection.prepare("SELECT layout, choice FROM kept_choice ORDER BY layout")?;
        let choices = statement.query_map((), |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(choices.collect::<Result<_, _>>()?)
    }

    /// All kept item facts.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn kept_items(&self) -> Result<Vec<KeptItems>, StoreError> {
        let connection = self.lock();
        let mut statement =
            connection.prepare("SELECT layout, labels, items FROM kept_items ORDER BY layout, labels")?;
        let kept = statement
            .query_map((), |row| Ok(KeptItems { layout: row.get(0)?, labels: row.get(1)?, items: row.get(2)? }))?;
        Ok(kept.collect::<Result<_, _>>()?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_word_on_a_layout_counts() {
        let store = Store::in_memory().unwrap();
        let items = |facts: &str| KeptItems { layout: "l".into(), labels: "[]".into(), items: facts.into() };
        store.keep_choices(&[("l".into(), "1".into())], &[items("1")]).unwrap();
        store.keep_choices(&[("l".into(), "2".into()), ("m".into(), "3".into())], &[items("2")]).unwrap();
        assert_eq!(store.kept_choices().unwrap(), [("l".into(), "2".into()), ("m".into(), "3".into())]);
        assert_eq!(store.kept_items().unwrap(), [items("2")]);
    }

    #[test]
    fn half_of_what_was_said_is_not_kept() {
        let store = Store::in_memory().unwrap();
        let said = [("l".to_owned(), "1".to_owned()), ("m".to_owned(), "not JSON".to_owned())];
        assert!(store.keep_choices(&said, &[]).is_err());
        assert_eq!(store.kept_choices().unwrap(), []);
    }
}
