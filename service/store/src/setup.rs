//! The school's setup as it was kept from the page.
//!
//! In / out: the text, and the digest of the setup that the program was started with when it was kept. The last one counts
//! (`the_last_setup_counts`). Not here: what the text says, and which of two setups holds (`sheaf-app`).

use crate::{About, Change, Store, StoreError};
use rusqlite::{OptionalExtension, params};

/// A kept setup.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptSetup {
    /// As TOML.
    pub toml: String,
    /// SHA-256 of the setup that was given at the start, 64 hexadecimal digits.
    pub given_sha256: String,
}

impl Store {
    /// The setup that was kept last; `None` where none was.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn kept_setup(&self) -> Result<Option<KeptSetup>, StoreError> {
        let connection = self.lock();
        let row = |row: &rusqlite::Row<'_>| Ok(KeptSetup { toml: row.get(0)?, given_sha256: row.get(1)? });
        Ok(connection.query_row("SELECT toml, given_sha256 FROM setup", (), row).optional()?)
    }

    /// Keeps a setup in place of the last one.
    ///
    /// # Errors
    /// [`StoreError`]; also where the digest is none.
    pub fn keep_setup(&self, kept: &KeptSetup) -> Result<(), StoreError> {
        let mut connection = self.lock();
        let tx = self.change(&mut connection, Change::SetupKept, About::nothing())?;
        tx.execute(
            "INSERT OR REPLACE INTO setup (one, toml, given_sha256) VALUES (1, ?1, ?2)",
            params![kept.toml, kept.given_sha256],
        )?;
        tx.commit()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_setup_counts() {
        let store = Store::in_memory().unwrap();
        assert_eq!(store.kept_setup().unwrap(), None);
        let kept = |toml: &str| KeptSetup { toml: toml.to_owned(), given_sha256: "a".repeat(64) };
        store.keep_setup(&kept("one")).unwrap();
        store.keep_setup(&kept("two")).unwrap();
        assert_eq!(store.kept_setup().unwrap(), Some(kept("two")));
        assert!(store.keep_setup(&KeptSetup { given_sha256: String::new(), ..kept("") }).is_err());
    }
}
