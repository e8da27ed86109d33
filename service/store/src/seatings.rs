//! Who sat where in the last plans of a week: a line for each revision, which triggers of the schema write.
//!
//! Out: seats as JSON, what was decided by then, how the revision came to be. The last twenty of a week are there.
//! Keeps: each plan, decision and repair leaves a line (`each_revision_leaves_a_line`); what is taken back or forgotten leaves none of
//! before (`a_plan_taken_back_takes_its_lines_with_it`). Not here: what two lines differ in (`sheaf-app`).

use crate::{Store, StoreError};
use jiff::civil::Date;
use rusqlite::Connection;

/// How a revision of a plan came to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Made {
    /// The week was planned.
    Planned,
    /// A person decided something, or undid it.
    Decided,
    /// A day was issued anew.
    Repaired,
}

/// Who sat where in one revision.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptSeating {
    /// Which revision.
    pub revision: i64,
    /// How it came to be.
    pub made: Made,
    /// Groups as JSON: `[{"id", "name", "target", "members": [ids]}]`.
    pub seats: String,
    /// What had been decided, as JSON.
    pub overrules: String,
}

impl Store {
    /// The last seatings of a week, the latest first.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn seatings(&self, week: Date) -> Result<Vec<KeptSeating>, StoreError> {
        let connection = self.lock();
        let mut statement = connection.prepare(
            "SELECT revision, made, seats, overrules FROM seating WHERE week = ?1
               AND revision <= (SELECT revision FROM plan WHERE plan.week = ?1) ORDER BY revision DESC",
        )?;
        let mut rows = statement.query([week.to_string()])?;
        let mut seatings = Vec::new();
        while let Some(row) = rows.next()? {
            let made = match row.get::<_, String>(1)?.as_str() {
                "planned" => Made::Planned,
                "decided" => Made::Decided,
                "repaired" => Made::Repaired,
                _ => return Err(StoreError::Damaged("how a plan came to be")),
            };
            seatings.push(KeptSeating { revision: row.get(0)?, made, seats: row.get(2)?, overrules: row.get(3)? });
        }
        Ok(seatings)
    }
}

/// Removes the lines of every week whose plan an upload is in.
pub(crate) fn drop_of_upload(connection: &Connection, upload: i64) -> Result<(), StoreError> {
    connection.execute("DELETE FROM seating WHERE week = (SELECT week FROM upload WHERE id = ?1)", [upload])?;
    Ok(())
}

/// Leaves of each week the line of the plan that it has, as that plan now reads.
pub(crate) fn begin_anew(connection: &Connection) -> Result<(), StoreError> {
    connection.execute("DELETE FROM seating", ())?;
    connection.execute(
        "INSERT INTO seating (week, revision, made, seats, overrules)
         SELECT week, revision, 'planned',
                (SELECT json_group_array(json_object('id', g.value ->> 'id', 'name', g.value ->> 'name',
                   'target', g.value ->> 'target_skill', 'members', json(coalesce(g.value -> 'members', '[]'))))
                 FROM json_each(plan.published, '$.groups') g),
                overrules
         FROM plan",
        (),
    )?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{FileKind, NO_OVERRULES, NewPlan, NewUpload, Start, StoredFile};

    const WEEK: Date = jiff::civil::date(2026, 2, 2);
    const ONE: &str =
        r#"{"groups":[{"id":"g1","name":"Group 1","members":["0001","0002"],"target_skill":"4.NF.A.1","need":1.0}]}"#;
    const OTHER: &str = r#"{"groups":[]}"#;

    fn upload(store: &Store, digest: &str) -> i64 {
        let bytes = Some(vec![1]);
        let file = StoredFile { kind: FileKind::Scores, name: "q.csv".into(), sha256: "a".repeat(64), bytes };
        let digest = digest.repeat(64);
        let new = NewUpload { week: WEEK, digest: &digest, files: &[file], start: Start::Counted, reading: "{}" };
        store.add_upload(new).unwrap().id()
    }

    fn keep(store: &Store, published: &str, sources: &[i64]) {
        let new = NewPlan {
            week: WEEK,
            seed: 1,
            setup: "",
            holds: "[]",
            repairs: "[]",
            overrules: NO_OVERRULES,
            published,
            attended: &[],
            sources,
        };
        store.keep_plan(new).unwrap();
    }

    #[test]
    fn each_revision_leaves_a_line() {
        let store = Store::in_memory().unwrap();
        let id = upload(&store, "a");
        keep(&store, ONE, &[id]);
        let decided = r#"{"done":[{"group":"g1"}],"undone":[]}"#;
        store.keep_overruled(WEEK, 1, OTHER, decided).unwrap();
        store.keep_repaired(WEEK, 2, ONE, r#"["x"]"#).unwrap();
        let lines = store.seatings(WEEK).unwrap();
        let told: Vec<(i64, Made, &str)> = lines.iter().map(|l| (l.revision, l.made, l.overrules.as_str())).collect();
        assert_eq!(told, [(3, Made::Repaired, decided), (2, Made::Decided, decided), (1, Made::Planned, NO_OVERRULES)]);
        assert_eq!(lines[1].seats, "[]");
        let seats = r#"[{"id":"g1","name":"Group 1","target":"4.NF.A.1","members":["0001","0002"]}]"#;
        assert_eq!((lines[0].seats.as_str(), lines[2].seats.as_str()), (seats, seats));
        for _ in 0..25 {
            keep(&store, ONE, &[id]);
        }
        assert_eq!(store.seatings(WEEK).unwrap().len(), 20);
    }

    #[test]
    fn a_plan_taken_back_takes_its_lines_with_it() {
        let store = Store::in_memory().unwrap();
        let first = upload(&store, "a");
        keep(&store, OTHER, &[first]);
        let late = upload(&store, "b");
        keep(&store, ONE, &[first, late]);
        assert_eq!(store.seatings(WEEK).unwrap().len(), 2);
        store.remove_upload(late).unwrap();
        let left = store.seatings(WEEK).unwrap();
        assert_eq!((left.len(), left[0].revision, left[0].seats.as_str()), (1, 1, "[]"));
        store.remove_upload(first).unwrap();
        let n: i64 = store.lock().query_row("SELECT count(*) FROM seating", (), |row| row.get(0)).unwrap();
        assert_eq!(n, 0);
    }
}
