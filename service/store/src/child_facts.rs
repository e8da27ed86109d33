//! What planned weeks say of their children, kept so that a look back over a year is one read.
//!
//! In / out: by week and child a text that `sheaf-app` writes and reads, and the way of counting it was made by.
//! Keeps: facts go with any change of what they were made from, by triggers of the schema, so that no job can leave old ones behind
//! (`what_changes_takes_the_facts_of_its_week_away`); what was worked out from records that changed meanwhile is not kept
//! (`facts_of_records_that_changed_meanwhile_are_not_kept`). Not here: what the text says (`sheaf-app`).

use crate::connection::write;
use crate::uploads::parse_date;
use crate::{Store, StoreError};
use jiff::civil::Date;
use rusqlite::{OptionalExtension, params};
use std::collections::BTreeMap;

/// A child's id and what the week says of it, in order of id.
pub type FactsOfChildren = Vec<(String, String)>;

impl Store {
    /// How often that changed what the facts of a week are made from. Asked before they are made, and given back with them.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn changes_of(&self, week: Date) -> Result<i64, StoreError> {
        let connection = self.lock();
        let changes = connection
            .query_row("SELECT changes FROM week WHERE monday = ?1", [week.to_string()], |row| row.get(0))
            .optional()?;
        Ok(changes.unwrap_or(0))
    }

    /// Keeps the facts of a week that were made after so many changes. Says whether they were kept: not where it changed again.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is kept then.
    pub fn keep_facts(
        &self,
        week: Date,
        changes: i64,
        basis: &str,
        children: &[(String, String)],
    ) -> Result<bool, StoreError> {
        let mut connection = self.lock();
        let tx = write(&mut connection)?;
        let week = week.to_string();
        tx.execute("DELETE FROM facts_of_week WHERE week = ?1", [&week])?;
        let n_weeks = tx.execute(
            "INSERT INTO facts_of_week (week, basis) SELECT monday, ?3 FROM week WHERE monday = ?1 AND changes = ?2",
            params![week, changes, basis],
        )?;
        if n_weeks > 0 {
            let mut add = tx.prepare("INSERT INTO child_facts (week, student, facts) VALUES (?1, ?2, ?3)")?;
            for (student, facts) in children {
                add.execute([&week, student, facts])?;
            }
        }
        tx.commit()?;
        Ok(n_weeks > 0)
    }

    /// Facts that were made by this way of counting, of the weeks from one Monday to another; a week without is not in it.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn facts(&self, first: Date, last: Date, basis: &str) -> Result<BTreeMap<Date, FactsOfChildren>, StoreError> {
        let connection = self.lock();
        let mut weeks = BTreeMap::new();
        let mut known =
            connection.prepare("SELECT week FROM facts_of_week WHERE basis = ?1 AND week BETWEEN ?2 AND ?3")?;
        let mut found = known.query(params![basis, first.to_string(), last.to_string()])?;
        let mut children =
            connection.prepare("SELECT student, facts FROM child_facts WHERE week = ?1 ORDER BY student")?;
        while let Some(row) = found.next()? {
            let week: String = row.get(0)?;
            let of_week = children.query_map([&week], |row| Ok((row.get(0)?, row.get(1)?)))?;
            weeks.insert(parse_date(&week)?, of_week.collect::<Result<_, _>>()?);
        }
        Ok(weeks)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{FileKind, NO_OVERRULES, NewPlan, NewUpload, SameChild, Start, StoredFile};
    use sheaf_core::movement::{Attendance, AttendanceRow, HeldSession, Presence};
    use sheaf_core::roster::StudentId;

    const WEEK: Date = jiff::civil::date(2026, 2, 2);
    const NEXT: Date = jiff::civil::date(2026, 2, 9);
    const BASIS: &str = "one way";

    fn upload(store: &Store, week: Date, digest: &str) -> i64 {
        let file =
            StoredFile { kind: FileKind::Scores, name: "q.csv".into(), sha256: "a".repeat(64), bytes: Some(vec![1]) };
        let digest = digest.repeat(64);
        let new = NewUpload { week, digest: &digest, files: &[file], start: Start::Counted, reading: "{}" };
        store.add_upload(new).unwrap().id()
    }

    fn plan(store: &Store, sources: &[i64]) {
        store
            .keep_plan(NewPlan {
                week: WEEK,
                seed: 1,
                setup: "",
                holds: "[]",
                repairs: "[]",
                overrules: NO_OVERRULES,
                published: "{}",
                attended: &[],
                sources,
            })
            .unwrap();
    }

    fn keep(store: &Store, week: Date) -> bool {
        let children = [("0007".to_owned(), "[7]".to_owned()), ("0008".to_owned(), "[8]".to_owned())];
        store.keep_facts(week, store.changes_of(week).unwrap(), BASIS, &children).unwrap()
    }

    fn weeks(store: &Store) -> Vec<Date> {
        store.facts(WEEK, NEXT, BASIS).unwrap().into_keys().collect()
    }

    fn noted(mark: Presence) -> Attendance {
        let session = HeldSession { label: "Mon".into(), day: None, date: None, start: None };
        let row = AttendanceRow { student: StudentId::parse("0007").unwrap(), marks: vec![Some(mark)] };
        Attendance { sessions: vec![session], rows: vec![row] }
    }

    #[test]
    fn facts_come_back_as_they_were_kept_and_by_their_way_of_counting_alone() {
        let store = Store::in_memory().unwrap();
        upload(&store, WEEK, "a");
        assert!(keep(&store, WEEK));
        let facts = store.facts(WEEK, NEXT, BASIS).unwrap();
        assert_eq!(facts[&WEEK], [("0007".to_owned(), "[7]".to_owned()), ("0008".to_owned(), "[8]".to_owned())]);
        assert!(store.facts(WEEK, NEXT, "another way").unwrap().is_empty());
        assert!(store.facts(NEXT, NEXT, BASIS).unwrap().is_empty());
    }

    #[test]
    fn what_changes_takes_the_facts_of_its_week_away() {
        let store = Store::in_memory().unwrap();
        let first = upload(&store, WEEK, "a");
        upload(&store, NEXT, "b");
        let (old, new) = (StudentId::parse("0007").unwrap(), StudentId::parse("7007").unwrap());
        store.ask_same_child(&[(old, new)]).unwrap();
        let check = |what: &str, left: &[Date], change: &dyn Fn()| {
            assert!(keep(&store, WEEK) && keep(&store, NEXT));
            change();
            assert_eq!(weeks(&store), left, "{what}");
        };
        check("a plan", &[NEXT], &|| plan(&store, &[first]));
        check("a plan again", &[NEXT], &|| plan(&store, &[first]));
        check("a repair", &[NEXT], &|| assert!(store.keep_repaired(WEEK, 2, "{}", "[]").is_ok()));
        check("attendance", &[NEXT], &|| store.put_attendance([(WEEK, &noted(Presence::Absent))]).unwrap());
        check("attendance again", &[NEXT], &|| store.put_attendance([(WEEK, &noted(Presence::Late))]).unwrap());
        check("results", &[NEXT], &|| assert!(upload(&store, WEEK, "c") > 0));
        check("an answer on ids", &[], &|| {
            assert!(store.answer_same_child("0007", "7007", SameChild::Same).unwrap());
        });
        check("taking back", &[NEXT], &|| assert!(store.remove_upload(first).unwrap().is_some()));
        check("nothing", &[WEEK, NEXT], &|| ());
    }

    #[test]
    fn facts_of_records_that_changed_meanwhile_are_not_kept() {
        let store = Store::in_memory().unwrap();
        upload(&store, WEEK, "a");
        let before = store.changes_of(WEEK).unwrap();
        upload(&store, WEEK, "b");
        assert!(!store.keep_facts(WEEK, before, BASIS, &[]).unwrap());
        assert!(!store.keep_facts(NEXT, 0, BASIS, &[]).unwrap(), "a week of which nothing is known");
        assert!(weeks(&store).is_empty());
    }
}
