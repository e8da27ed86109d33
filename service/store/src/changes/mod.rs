//! Who changed what: one entry a change, written in the transaction of the change, chained by hashes and only added to.
//!
//! Every function of this crate that changes something for a person starts by `Store::change` and says what it does; committing
//! writes the entry. Where one function serves several jobs, the job says what it is (`Store::telling`); a step of a larger change that
//! tells of itself is told of by nobody (`Store::silent`).
//! Keeps: 1. a change that fails leaves no entry (`what_did_not_happen_is_not_told`)
//!        2. entries cannot be changed or taken away by SQL (`entries_are_only_added`)
//!        3. a changed, missing or cut-off entry is found (`chain`)
//!        4. no id of a child stands in an entry, and none stays anywhere once the child is forgotten
//!           (`a_forgotten_child_is_a_reference_to_nobody`)
//! Not here: words for people (`sheaf-web`), who may do what (`sheaf-web`).

mod chain;
mod kinds;

pub use chain::Chain;
pub(crate) use chain::look_along;
pub use kinds::{About, Actor, Change};

use crate::connection::write;
use crate::{Store, StoreError};
use chain::{Link, hash_of};
use rusqlite::{Connection, OptionalExtension, Transaction, params};
use std::ops::Deref;

/// One entry, as it is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptChange {
    /// Its number, from 1 without a gap.
    pub sequence: i64,
    /// When, in UTC, as ISO text.
    pub at: String,
    /// Who, as [`Actor::word`] says it.
    pub who: String,
    /// What, as a code.
    pub what: String,
    /// What it is about: `week=`, `upload=`, `group=`, `account=`, apart by blanks.
    pub about: String,
    /// Whether it is about a child.
    pub is_about_a_child: bool,
    /// That child's id; `None` where it was forgotten.
    pub student: Option<String>,
}

/// What a handle says of the next changes in place of what their functions would.
#[derive(Debug, Clone)]
pub(crate) enum Tale {
    As(Change, About),
    Nothing,
}

/// A transaction that tells of itself when it is committed.
pub(crate) struct Changing<'c> {
    tx: Transaction<'c>,
    who: Actor,
    tale: Tale,
}

impl<'c> Deref for Changing<'c> {
    type Target = Transaction<'c>;

    fn deref(&self) -> &Self::Target {
        &self.tx
    }
}

impl Changing<'_> {
    /// Names the upload, once it has an id.
    pub(crate) fn is_of_upload(&mut self, id: i64) {
        if let Tale::As(_, about) = &mut self.tale {
            *about = std::mem::take(about).and_upload(id);
        }
    }

    /// What happened is no change after all.
    pub(crate) fn says_nothing(&mut self) {
        self.tale = Tale::Nothing;
    }

    /// Writes the entry and commits both.
    pub(crate) fn commit(self) -> Result<(), StoreError> {
        if let Tale::As(change, about) = &self.tale {
            add(&self.tx, &self.who, *change, about)?;
        }
        Ok(self.tx.commit()?)
    }
}

impl Store {
    /// The same records, for somebody else's changes.
    #[must_use]
    pub fn by(&self, who: Actor) -> Self {
        Store { who, ..self.clone() }
    }

    /// The same records; what is changed through this handle is told as this.
    #[must_use]
    pub fn telling(&self, change: Change, about: About) -> Self {
        Store { tale: Some(Tale::As(change, about)), ..self.clone() }
    }

    /// The same records, for a step of a change that tells of itself.
    #[must_use]
    pub fn silent(&self) -> Self {
        Store { tale: Some(Tale::Nothing), ..self.clone() }
    }

    /// Starts a transaction that will be told of as this, unless the handle says something else.
    pub(crate) fn change<'c>(
        &self,
        connection: &'c mut Connection,
        change: Change,
        about: About,
    ) -> Result<Changing<'c>, StoreError> {
        let tale = self.tale.clone().unwrap_or(Tale::As(change, about));
        Ok(Changing { tx: write(connection)?, who: self.who.clone(), tale })
    }

    /// Tells of something that changes nothing else in the records.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn tell(&self, change: Change, about: About) -> Result<(), StoreError> {
        self.change(&mut self.lock(), change, about)?.commit()
    }

    /// The latest entries before a number (or of all), the latest first, at most so many.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn changes(&self, before: Option<i64>, most: usize) -> Result<Vec<KeptChange>, StoreError> {
        let connection = self.lock();
        let mut statement = connection.prepare(
            "SELECT sequence, at, who, what, about, child IS NOT NULL, student FROM audit
             LEFT JOIN audit_child ON reference = child
             WHERE sequence < ?1 ORDER BY sequence DESC LIMIT ?2",
        )?;
        let most = i64::try_from(most).unwrap_or(i64::MAX);
        let entries = statement.query_map(params![before.unwrap_or(i64::MAX), most], |row| {
            Ok(KeptChange {
                sequence: row.get(0)?,
                at: row.get(1)?,
                who: row.get(2)?,
                what: row.get(3)?,
                about: row.get(4)?,
                is_about_a_child: row.get(5)?,
                student: row.get(6)?,
            })
        })?;
        Ok(entries.collect::<Result<_, _>>()?)
    }
}

/// Takes away what references to a child stand for.
pub(crate) fn forget_child(connection: &Connection, student: &str) -> Result<(), StoreError> {
    connection.execute("DELETE FROM audit_child WHERE student = ?1", [student])?;
    Ok(())
}

fn add(tx: &Transaction<'_>, who: &Actor, change: Change, about: &About) -> Result<(), StoreError> {
    let (n, previous): (i64, String) =
        tx.query_row("SELECT n, hash FROM audit_head", (), |row| Ok((row.get(0)?, row.get(1)?)))?;
    let at: String = tx.query_row("SELECT strftime('%Y-%m-%dT%H:%M:%SZ', 'now')", (), |row| row.get(0))?;
    let child = about.child.as_ref().map(|student| reference_to(tx, student)).transpose()?;
    let (who, what, about) = (who.word(), change.code(), about.text());
    let link = Link { sequence: n + 1, at: &at, who, what, about: &about, child: child.as_deref() };
    let hash = hash_of(&link, &previous);
    tx.execute(
        "INSERT INTO audit (sequence, at, who, what, about, child, previous, hash) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        params![n + 1, at, who, what, about, child, previous, hash],
    )?;
    tx.execute("UPDATE audit_head SET n = ?1, hash = ?2", params![n + 1, hash])?;
    Ok(())
}

/// The reference to a child, made up where there is none.
fn reference_to(tx: &Transaction<'_>, student: &str) -> Result<String, StoreError> {
    let known: Option<String> =
        tx.query_row("SELECT reference FROM audit_child WHERE student = ?1", [student], |row| row.get(0)).optional()?;
    match known {
        Some(reference) => Ok(reference),
        None => Ok(tx.query_row(
            "INSERT INTO audit_child (reference, student) VALUES (lower(hex(randomblob(8))), ?1) RETURNING reference",
            [student],
            |row| row.get(0),
        )?),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WEEK: jiff::civil::Date = jiff::civil::date(2026, 2, 2);

    #[test]
    fn a_change_is_told_with_who_and_what() {
        let store = Store::in_memory().unwrap();
        store.put_students(&[]).unwrap();
        let ana = store.by(Actor::Account("ana".into()));
        ana.tell(Change::PlanMade, About::week(WEEK).and_group("g2")).unwrap();
        ana.telling(Change::ResultsTyped, About::week(WEEK)).put_students(&[]).unwrap();
        ana.silent().put_students(&[]).unwrap();
        let told: Vec<(String, String, String)> =
            store.changes(None, 10).unwrap().into_iter().map(|c| (c.who, c.what, c.about)).collect();
        let told: Vec<[&str; 3]> = told.iter().map(|(a, b, c)| [a.as_str(), b, c]).collect();
        assert_eq!(
            told,
            [
                ["ana", "results-typed", "week=2026-02-02"],
                ["ana", "plan-made", "week=2026-02-02 group=g2"],
                ["command", "students-listed", ""],
            ]
        );
        assert_eq!(store.changes(Some(2), 10).unwrap().len(), 1);
        assert_eq!(store.changes(None, 1).unwrap().len(), 1);
    }

    #[test]
    fn what_did_not_happen_is_not_told() {
        let store = Store::in_memory().unwrap();
        assert_eq!(store.remove_upload(7).unwrap(), None);
        assert!(!store.count_upload(7, None, &crate::Said::default()).unwrap());
        assert!(!store.correct_upload(7, "{}", "{}").unwrap());
        assert!(!store.answer_same_child("1", "2", crate::SameChild::Same).unwrap());
        assert_eq!(store.remove_originals(WEEK).unwrap(), crate::Removed::default());
        assert_eq!(store.changes(None, 10).unwrap(), []);
    }

    #[test]
    fn entries_are_only_added() {
        let store = Store::in_memory().unwrap();
        store.tell(Change::PlanMade, About::week(WEEK)).unwrap();
        store.tell(Change::PlanMade, About::week(WEEK)).unwrap();
        let zeros = "0".repeat(64);
        for sql in [
            "UPDATE audit SET who = 'nobody' WHERE sequence = 1".to_owned(),
            "DELETE FROM audit WHERE sequence = 2".to_owned(),
            format!("INSERT OR REPLACE INTO audit VALUES (1, '', 'x', 'y', '', NULL, '{zeros}', '{zeros}')"),
            "DELETE FROM audit_head".to_owned(),
            "UPDATE audit_head SET n = 1".to_owned(),
        ] {
            assert!(store.lock().execute(&sql, ()).is_err(), "{sql}");
        }
        assert_eq!(store.changes(None, 10).unwrap().len(), 2);
    }

    #[test]
    fn a_forgotten_child_is_a_reference_to_nobody() {
        let store = Store::in_memory().unwrap();
        let about = || About::week(WEEK).and_child("4711");
        store.tell(Change::SeatMoved, about()).unwrap();
        store.tell(Change::SeatMoved, about()).unwrap();
        let references: Vec<String> = {
            let connection = store.lock();
            let mut statement = connection.prepare("SELECT DISTINCT child FROM audit").unwrap();
            statement.query_map((), |row| row.get(0)).unwrap().collect::<Result<_, _>>().unwrap()
        };
        assert_eq!(references.len(), 1, "one child, one reference");
        assert!(!references[0].contains("4711"));
        assert_eq!(store.changes(None, 1).unwrap()[0].student.as_deref(), Some("4711"));
        let ids = ["4711".to_owned()];
        store.forget(crate::Forgetting { ids: &ids, uploads: &[], plans: &[], layouts: &[] }).unwrap();
        let after = store.changes(None, 10).unwrap();
        assert_eq!((after.len(), after[0].what.as_str()), (3, "student-forgotten"));
        assert!(after[1].is_about_a_child && after.iter().all(|c| c.student.is_none()));
    }
}
