//! What people said once about sheets of a layout: how they are to be read, and facts of their items.
//!
//! In / out: a layout's key and JSON that `sheaf-app` writes and reads. The last word on a layout counts
//! (`the_last_word_on_a_layout_counts`).
//! Not here: what a choice means (`sheaf-sheets`).

use crate::{Store, StoreError};
use rusqlite::{Transaction, params};

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

/// What people said of layouts: choices (layout and JSON) and item facts.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Said {
    /// How sheets of a layout are to be read.
    pub choices: Vec<(String, String)>,
    /// Facts of their items.
    pub items: Vec<KeptItems>,
}

/// Keeps what was said, each in place of what was said before of the same.
pub(crate) fn keep_said(tx: &Transaction<'_>, said: &Said) -> Result<(), StoreError> {
    for (layout, choice) in &said.choices {
        tx.execute("INSERT OR REPLACE INTO kept_choice (layout, choice) VALUES (?1, ?2)", [layout, choice])?;
    }
    for kept in &said.items {
        tx.execute(
            "INSERT OR REPLACE INTO kept_items (layout, labels, items) VALUES (?1, ?2, ?3)",
            params![kept.layout, kept.labels, kept.items],
        )?;
    }
    Ok(())
}

impl Store {
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
    use crate::connection::write;

    fn keep(store: &Store, choices: &[(&str, &str)], items: Vec<KeptItems>) -> Result<(), StoreError> {
        let mut connection = store.lock();
        let tx = write(&mut connection)?;
        let choices = choices.iter().map(|(l, c)| ((*l).to_owned(), (*c).to_owned())).collect();
        keep_said(&tx, &Said { choices, items })?;
        tx.commit()?;
        Ok(())
    }

    #[test]
    fn the_last_word_on_a_layout_counts() {
        let store = Store::in_memory().unwrap();
        let items = |facts: &str| KeptItems { layout: "l".into(), labels: "[]".into(), items: facts.into() };
        keep(&store, &[("l", "1")], vec![items("1")]).unwrap();
        keep(&store, &[("l", "2"), ("m", "3")], vec![items("2")]).unwrap();
        assert_eq!(store.kept_choices().unwrap(), [("l".into(), "2".into()), ("m".into(), "3".into())]);
        assert_eq!(store.kept_items().unwrap(), [items("2")]);
    }

    #[test]
    fn half_of_what_was_said_is_not_kept() {
        let store = Store::in_memory().unwrap();
        assert!(keep(&store, &[("l", "1"), ("m", "not JSON")], Vec::new()).is_err());
        assert_eq!(store.kept_choices().unwrap(), []);
    }
}
