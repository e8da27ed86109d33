//! Accounts: who may sign in from another machine, as what, and the hash of the passphrase.
//!
//! In / out: names, roles, PHC texts that `sheaf-app` makes and checks. Names differ by more than their case
//! (`a_name_is_taken_in_any_case`); an interventionist is left for as long as there are other accounts
//! (`the_last_interventionist_stays_while_others_are_there`).
//! Not here: passphrases and their hashing (`sheaf-app`), what a role may do and sessions (`sheaf-web`).

use crate::{About, Change, Store, StoreError};
use rusqlite::{OptionalExtension, Row, params};

/// What somebody with an account may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Role {
    /// Everything.
    Interventionist,
    /// Rosters, tickets, results, attendance.
    GradeTeam,
    /// Looks at movement and changes nothing.
    Coach,
}

impl Role {
    /// All there are.
    pub const ALL: [Role; 3] = [Role::Interventionist, Role::GradeTeam, Role::Coach];

    /// As it is kept and typed.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Role::Interventionist => "interventionist",
            Role::GradeTeam => "grade-team",
            Role::Coach => "coach",
        }
    }

    /// From its word.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Role::ALL.into_iter().find(|role| role.word() == word)
    }
}

/// An account.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Account {
    /// Its name, as it was given.
    pub name: String,
    /// What it may do.
    pub role: Role,
    /// What Argon2id gave of the passphrase, in PHC format; another one with each change.
    pub passphrase: String,
    /// The day on which it was added, as ISO text.
    pub created: String,
}

/// Whether an account went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AccountRemoval {
    /// It is gone.
    Done,
    /// There is none of this name.
    NotThere,
    /// It is the last interventionist, and there are other accounts.
    LastInterventionist,
}

impl Store {
    /// Adds an account. Says whether it could: not where the name is taken.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn add_account(&self, name: &str, role: Role, passphrase: &str) -> Result<bool, StoreError> {
        let mut connection = self.lock();
        let tx = self.change(&mut connection, Change::AccountAdded, About::account(name))?;
        let n = tx.execute(
            "INSERT INTO account (name, role, passphrase) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING",
            [name, role.word(), passphrase],
        )?;
        if n > 0 {
            tx.commit()?;
        }
        Ok(n > 0)
    }

    /// Removes an account.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn remove_account(&self, name: &str) -> Result<AccountRemoval, StoreError> {
        let mut connection = self.lock();
        let tx = self.change(&mut connection, Change::AccountRemoved, About::account(name))?;
        if tx.execute("DELETE FROM account WHERE name = ?1", [name])? == 0 {
            return Ok(AccountRemoval::NotThere);
        }
        let (n_left, n_all): (i64, i64) = tx.query_row(
            "SELECT count(*) FILTER (WHERE role = 'interventionist'), count(*) FROM account",
            (),
            |row| Ok((row.get(0)?, row.get(1)?)),
        )?;
        if n_left == 0 && n_all > 0 {
            return Ok(AccountRemoval::LastInterventionist);
        }
        tx.commit()?;
        Ok(AccountRemoval::Done)
    }

    /// Puts another passphrase in place of an account's. Says whether there is such an account.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn set_passphrase(&self, name: &str, passphrase: &str) -> Result<bool, StoreError> {
        let mut connection = self.lock();
        let tx = self.change(&mut connection, Change::PassphraseChanged, About::account(name))?;
        let n = tx.execute("UPDATE account SET passphrase = ?2 WHERE name = ?1", params![name, passphrase])?;
        if n > 0 {
            tx.commit()?;
        }
        Ok(n > 0)
    }

    /// One account, by its name in any case.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn account(&self, name: &str) -> Result<Option<Account>, StoreError> {
        let found = self
            .lock()
            .query_row("SELECT name, role, passphrase, created FROM account WHERE name = ?1", [name], |row| {
                Ok(account_from(row))
            })
            .optional()?;
        found.transpose()
    }

    /// All accounts, in order of name.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn accounts(&self) -> Result<Vec<Account>, StoreError> {
        let connection = self.lock();
        let mut statement = connection.prepare("SELECT name, role, passphrase, created FROM account ORDER BY name")?;
        let mut rows = statement.query(())?;
        let mut accounts = Vec::new();
        while let Some(row) = rows.next()? {
            accounts.push(account_from(row)?);
        }
        Ok(accounts)
    }
}

fn account_from(row: &Row<'_>) -> Result<Account, StoreError> {
    let role: String = row.get(1)?;
    let role = Role::parse(&role).ok_or(StoreError::Damaged("the role of an account"))?;
    Ok(Account { name: row.get(0)?, role, passphrase: row.get(2)?, created: row.get(3)? })
}

#[cfg(test)]
mod tests {
    use super::*;

    const HASH: &str = "$argon2id$v=19$m=8,t=1,p=1$AAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAA";

    #[test]
    fn a_name_is_taken_in_any_case() {
        let store = Store::in_memory().unwrap();
        assert!(store.add_account("Ana", Role::Coach, HASH).unwrap());
        assert!(!store.add_account("ANA", Role::Interventionist, HASH).unwrap());
        let ana = store.account("aNa").unwrap().unwrap();
        assert_eq!((ana.name.as_str(), ana.role, ana.created.len()), ("Ana", Role::Coach, 10));
        assert!(store.set_passphrase("ana", &format!("{HASH}A")).unwrap());
        assert_ne!(store.accounts().unwrap()[0].passphrase, HASH);
        assert!(!store.set_passphrase("bo", HASH).unwrap());
        let told: Vec<String> = store.changes(None, 9).unwrap().into_iter().map(|c| c.what).collect();
        assert_eq!(told, ["passphrase-changed", "account-added"]);
    }

    #[test]
    fn the_last_interventionist_stays_while_others_are_there() {
        let store = Store::in_memory().unwrap();
        store.add_account("ana", Role::Interventionist, HASH).unwrap();
        store.add_account("bo", Role::Coach, HASH).unwrap();
        assert_eq!(store.remove_account("ana").unwrap(), AccountRemoval::LastInterventionist);
        assert_eq!(store.remove_account("nobody").unwrap(), AccountRemoval::NotThere);
        assert_eq!(store.remove_account("bo").unwrap(), AccountRemoval::Done);
        assert_eq!(store.remove_account("ana").unwrap(), AccountRemoval::Done);
        assert_eq!(store.accounts().unwrap(), []);
    }

    #[test]
    fn a_passphrase_itself_is_refused_by_the_schema() {
        let store = Store::in_memory().unwrap();
        assert!(store.add_account("ana", Role::Coach, "correct horse battery").is_err());
    }
}
