//! A week's plan as it was handed out, with all that is needed to make it again.
//!
//! A plan that another one takes the place of is set aside while the uploads it was made from are there, so that taking
//! an upload back gives the week the plan it had before (`the_plan_before_comes_back_with_its_revision`).
//! Keeps: a plan is kept only if the uploads that count are still those it was made from
//! (`a_plan_from_changed_sheets_is_refused`); a revision is never used twice (`revisions_only_go_up`).

use crate::seatings::drop_of_upload;
use crate::uploads::{ids_of, parse_date};
use crate::{About, Change, Store, StoreError};
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension, Row, params};
use sheaf_core::movement::TimeReceived;
use sheaf_core::roster::StudentId;

/// What nobody decided.
pub const NO_OVERRULES: &str = r#"{"done":[],"undone":[]}"#;

/// A plan to keep.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NewPlan<'a> {
    /// The week's Monday.
    pub week: Date,
    /// Seed of every random draw.
    pub seed: u64,
    /// The school setup it was made with, as TOML.
    pub setup: &'a str,
    /// Groups of an earlier plan that were kept together, as a JSON list of lists of ids.
    pub holds: &'a str,
    /// Days issued anew because somebody was out, as a JSON list.
    pub repairs: &'a str,
    /// What a person decided against the suggestion, as JSON.
    pub overrules: &'a str,
    /// Its published JSON.
    pub published: &'a str,
    /// What was known of attendance when it was made.
    pub attended: &'a [(StudentId, TimeReceived)],
    /// Ids of the uploads it was made from, in order: all of the week's.
    pub sources: &'a [i64],
}

/// A plan that was kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptPlan {
    /// Which plan of the week it is, from 1.
    pub revision: i64,
    /// Seed of every random draw.
    pub seed: u64,
    /// The school setup it was made with, as TOML.
    pub setup: String,
    /// Groups of an earlier plan that were kept together, as a JSON list of lists of ids.
    pub holds: String,
    /// Days issued anew because somebody was out, as a JSON list.
    pub repairs: String,
    /// What a person decided against the suggestion, as JSON.
    pub overrules: String,
    /// Its published JSON.
    pub published: String,
    /// What was known of attendance when it was made.
    pub attended: Vec<(StudentId, TimeReceived)>,
    /// Ids of the uploads it was made from, in order.
    pub sources: Vec<i64>,
}

/// A week as the store knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WeekRecord {
    /// Its Monday.
    pub monday: Date,
    /// Uploads that count.
    pub n_uploads: usize,
    /// Uploads that wait to be looked over.
    pub n_waiting: usize,
    /// Uploads that count and that the plan does not know, and such as it knows and that count no longer.
    pub n_uploads_since_plan: usize,
    /// Revision of the plan, where there is one.
    pub plan_revision: Option<i64>,
}

impl Store {
    /// Keeps a plan in place of the week's last one, and gives its revision.
    ///
    /// # Errors
    /// [`StoreError::SourcesChanged`] where the week's uploads are not those the plan was made from; nothing is kept then.
    pub fn keep_plan(&self, new: NewPlan<'_>) -> Result<i64, StoreError> {
        let mut connection = self.lock();
        let tx = self.change(&mut connection, Change::PlanMade, About::week(new.week))?;
        if ids_of(&tx, new.week)? != new.sources {
            return Err(StoreError::SourcesChanged);
        }
        let week = new.week.to_string();
        let revision: i64 = tx.query_row(
            "UPDATE week SET revision = revision + 1 WHERE monday = ?1 RETURNING revision",
            [&week],
            |row| row.get(0),
        )?;
        set_aside(&tx, &week, new.sources)?;
        tx.execute(
            "INSERT INTO plan (week, revision, seed, setup, holds, published, attended, repairs, overrules)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
            params![
                week,
                revision,
                new.seed.cast_signed(),
                new.setup,
                new.holds,
                new.published,
                attended_to_json(new.attended)?,
                new.repairs,
                new.overrules
            ],
        )?;
        for id in new.sources {
            tx.execute("INSERT INTO plan_source (week, upload_id) VALUES (?1, ?2)", params![week, id])?;
        }
        tx.commit()?;
        Ok(revision)
    }

    /// Puts a repaired plan in place of the plan it was made from, under a revision of its own, which it gives.
    ///
    /// The plan stays that of the same uploads: a repair looks at no score sheet.
    ///
    /// # Errors
    /// [`StoreError::SourcesChanged`] where the week has another plan by now; nothing is kept then.
    pub fn keep_repaired(&self, week: Date, of: i64, published: &str, repairs: &str) -> Result<i64, StoreError> {
        self.replace(
            week,
            of,
            Change::DayRepaired,
            "UPDATE plan SET revision = ?3, published = ?4, repairs = ?5",
            published,
            repairs,
        )
    }

    /// Puts a plan that a person changed in place of the plan it was made from, with the decisions; as [`Store::keep_repaired`].
    ///
    /// # Errors
    /// As [`Store::keep_repaired`].
    pub fn keep_overruled(&self, week: Date, of: i64, published: &str, overrules: &str) -> Result<i64, StoreError> {
        self.replace(
            week,
            of,
            Change::DecisionMade,
            "UPDATE plan SET revision = ?3, published = ?4, overrules = ?5",
            published,
            overrules,
        )
    }

    fn replace(
        &self,
        week: Date,
        of: i64,
        change: Change,
        update: &str,
        published: &str,
        part: &str,
    ) -> Result<i64, StoreError> {
        let mut connection = self.lock();
        let tx = self.change(&mut connection, change, About::week(week))?;
        let week = week.to_string();
        let revision: i64 = tx.query_row(
            "UPDATE week SET revision = revision + 1 WHERE monday = ?1 RETURNING revision",
            [&week],
            |row| row.get(0),
        )?;
        let n_changed = tx.execute(
            &format!("{update} WHERE week = ?1 AND revision = ?2"),
            params![week, of, revision, published, part],
        )?;
        if n_changed == 0 {
            return Err(StoreError::SourcesChanged);
        }
        tx.commit()?;
        Ok(revision)
    }

    /// The week's plan.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn plan(&self, week: Date) -> Result<Option<KeptPlan>, StoreError> {
        let connection = self.lock();
        let week = week.to_string();
        let Some((mut plan, attended)) = connection
            .query_row(
                "SELECT revision, seed, setup, published, attended, holds, repairs, overrules FROM plan WHERE week = ?1",
                [&week],
                plan_from,
            )
            .optional()?
        else {
            return Ok(None);
        };
        plan.attended = attended_from_json(&attended)?;
        let mut statement =
            connection.prepare("SELECT upload_id FROM plan_source WHERE week = ?1 ORDER BY upload_id")?;
        plan.sources = statement.query_map([&week], |row| row.get(0))?.collect::<Result<_, _>>()?;
        Ok(Some(plan))
    }

    /// Every ticket that was ever made, each as published JSON.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn tickets(&self) -> Result<Vec<String>, StoreError> {
        let connection = self.lock();
        let mut statement = connection.prepare("SELECT ticket FROM ticket ORDER BY form_code")?;
        let tickets = statement.query_map((), |row| row.get(0))?;
        Ok(tickets.collect::<Result<_, _>>()?)
    }

    /// Every week with an upload, the latest first.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn weeks(&self) -> Result<Vec<WeekRecord>, StoreError> {
        let connection = self.lock();
        let mut statement = connection.prepare(
            "SELECT w.monday,
                    count(u.id) FILTER (WHERE u.state = 'counted' AND u.replaced_by IS NULL),
                    count(u.id) FILTER (WHERE u.state = 'waiting'),
                    count(u.id) FILTER (WHERE (u.state = 'counted' AND u.replaced_by IS NULL)
                       <> EXISTS (SELECT 1 FROM plan_source s WHERE s.upload_id = u.id)),
                    p.revision
             FROM week w JOIN upload u ON u.week = w.monday LEFT JOIN plan p ON p.week = w.monday
             GROUP BY w.monday ORDER BY w.monday DESC",
        )?;
        let mut rows = statement.query(())?;
        let mut weeks = Vec::new();
        while let Some(row) = rows.next()? {
            weeks.push(week_from(row)?);
        }
        Ok(weeks)
    }
}

/// The plan without its attendance and sources, and its attendance as JSON.
fn plan_from(row: &Row<'_>) -> rusqlite::Result<(KeptPlan, String)> {
    let seed: i64 = row.get(1)?;
    let plan = KeptPlan {
        revision: row.get(0)?,
        seed: seed.cast_unsigned(),
        setup: row.get(2)?,
        holds: row.get(5)?,
        repairs: row.get(6)?,
        overrules: row.get(7)?,
        published: row.get(3)?,
        attended: Vec::new(),
        sources: Vec::new(),
    };
    Ok((plan, row.get(4)?))
}

/// Student, sessions noted, sessions there, minutes planned, minutes received.
type AttendedRow = (String, usize, usize, u32, u32);

fn attended_to_json(attended: &[(StudentId, TimeReceived)]) -> Result<String, StoreError> {
    let rows: Vec<AttendedRow> = attended
        .iter()
        .map(|(id, t)| (id.to_string(), t.n_sessions, t.n_there, t.minutes_planned, t.minutes_received))
        .collect();
    serde_json::to_string(&rows).map_err(|_| StoreError::Damaged("what a plan knew of attendance"))
}

fn attended_from_json(json: &str) -> Result<Vec<(StudentId, TimeReceived)>, StoreError> {
    let damaged = || StoreError::Damaged("what a plan knew of attendance");
    let rows: Vec<AttendedRow> = serde_json::from_str(json).map_err(|_| damaged())?;
    rows.into_iter()
        .map(|(id, n_sessions, n_there, minutes_planned, minutes_received)| {
            let id = StudentId::parse(&id).ok_or_else(damaged)?;
            Ok((id, TimeReceived { n_sessions, n_there, minutes_planned, minutes_received }))
        })
        .collect()
}

fn week_from(row: &Row<'_>) -> Result<WeekRecord, StoreError> {
    let monday: String = row.get(0)?;
    let count = |column| row.get(column).map(|n: i64| usize::try_from(n).unwrap_or(0));
    Ok(WeekRecord {
        monday: parse_date(&monday)?,
        n_uploads: count(1)?,
        n_waiting: count(2)?,
        n_uploads_since_plan: count(3)?,
        plan_revision: row.get(4)?,
    })
}

/// Moves the week's plan to the earlier ones, unless the new one is made from the same uploads; of two plans from the
/// same uploads the later counts.
fn set_aside(connection: &Connection, week: &str, new_sources: &[i64]) -> Result<(), StoreError> {
    connection.execute(
        "INSERT INTO earlier_plan (week, revision, seed, setup, holds, published, attended, repairs, overrules, sources)
         SELECT week, revision, seed, setup, holds, published, attended, repairs, overrules,
                (SELECT json_group_array(upload_id) FROM
                   (SELECT upload_id FROM plan_source s WHERE s.week = plan.week ORDER BY upload_id))
         FROM plan WHERE week = ?1",
        [week],
    )?;
    connection.execute("DELETE FROM plan WHERE week = ?1", [week])?;
    let sources = serde_json::to_string(new_sources).map_err(|_| StoreError::Damaged("the sources of a plan"))?;
    connection.execute("DELETE FROM earlier_plan WHERE week = ?1 AND sources = ?2", [week, &sources])?;
    Ok(())
}

/// Removes every plan that was made from an upload.
pub(crate) fn forget_plans_of(connection: &Connection, upload: i64) -> Result<(), StoreError> {
    drop_of_upload(connection, upload)?;
    connection
        .execute("DELETE FROM plan WHERE week IN (SELECT week FROM plan_source WHERE upload_id = ?1)", [upload])?;
    connection.execute(
        "DELETE FROM earlier_plan WHERE EXISTS (SELECT 1 FROM json_each(sources) WHERE json_each.value = ?1)",
        [upload],
    )?;
    Ok(())
}

/// Makes the latest earlier plan the week's, where the week has none.
pub(crate) fn restore_earlier(connection: &Connection, week: &str) -> Result<(), StoreError> {
    let has_plan: bool =
        connection.query_row("SELECT EXISTS (SELECT 1 FROM plan WHERE week = ?1)", [week], |row| row.get(0))?;
    let latest: Option<i64> =
        connection.query_row("SELECT max(revision) FROM earlier_plan WHERE week = ?1", [week], |row| row.get(0))?;
    let Some(revision) = latest.filter(|_| !has_plan) else { return Ok(()) };
    connection.execute(
        "INSERT INTO plan (week, revision, seed, setup, holds, published, attended, repairs, overrules)
         SELECT week, revision, seed, setup, holds, published, attended, repairs, overrules FROM earlier_plan WHERE week = ?1 AND revision = ?2",
        params![week, revision],
    )?;
    connection.execute(
        "INSERT INTO plan_source (week, upload_id)
         SELECT e.week, s.value FROM earlier_plan e, json_each(e.sources) s WHERE e.week = ?1 AND e.revision = ?2",
        params![week, revision],
    )?;
    connection.execute("DELETE FROM earlier_plan WHERE week = ?1 AND revision = ?2", params![week, revision])?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{FileKind, NewUpload, Start, StoredFile};

    const WEEK: Date = jiff::civil::date(2026, 2, 2);

    fn upload(store: &Store, digest: &str) -> i64 {
        let bytes = Some(vec![1, 2]);
        let file = StoredFile { kind: FileKind::Scores, name: "q.csv".into(), sha256: "a".repeat(64), bytes };
        let digest = digest.repeat(64);
        let new = NewUpload { week: WEEK, digest: &digest, files: &[file], start: Start::Counted, reading: "{}" };
        store.add_upload(new).unwrap().id()
    }

    fn attended() -> (StudentId, TimeReceived) {
        let time = TimeReceived { n_sessions: 5, n_there: 2, minutes_planned: 150, minutes_received: 60 };
        (StudentId::parse("0007").unwrap(), time)
    }

    fn keep(store: &Store, sources: &[i64]) -> Result<i64, StoreError> {
        store.keep_plan(NewPlan {
            week: WEEK,
            seed: u64::MAX,
            setup: "[groups]",
            holds: "[]",
            repairs: "[]",
            overrules: NO_OVERRULES,
            published: r#"{"schema":"x"}"#,
            attended: &[attended()],
            sources,
        })
    }

    #[test]
    fn a_plan_comes_back_as_it_was_kept() {
        let store = Store::in_memory().unwrap();
        let id = upload(&store, "a");
        keep(&store, &[id]).unwrap();
        let plan = store.plan(WEEK).unwrap().unwrap();
        assert_eq!((plan.revision, plan.seed, plan.setup.as_str()), (1, u64::MAX, "[groups]"));
        assert_eq!((plan.published.as_str(), plan.sources), (r#"{"schema":"x"}"#, vec![id]));
        assert_eq!(plan.attended, vec![attended()]);
    }

    #[test]
    fn a_plan_from_changed_sheets_is_refused() {
        let store = Store::in_memory().unwrap();
        let first = upload(&store, "a");
        upload(&store, "b");
        assert!(matches!(keep(&store, &[first]), Err(StoreError::SourcesChanged)));
        assert_eq!(store.plan(WEEK).unwrap(), None);
    }

    #[test]
    fn revisions_only_go_up() {
        let store = Store::in_memory().unwrap();
        let (first, second) = (upload(&store, "a"), upload(&store, "b"));
        assert_eq!(keep(&store, &[first, second]).unwrap(), 1);
        store.remove_upload(second).unwrap();
        assert_eq!(store.plan(WEEK).unwrap(), None);
        assert_eq!(keep(&store, &[first]).unwrap(), 2);
    }

    #[test]
    fn a_repaired_plan_takes_the_place_of_the_one_it_was_made_from() {
        let store = Store::in_memory().unwrap();
        let id = upload(&store, "a");
        keep(&store, &[id]).unwrap();
        let repairs = r#"[{"without":["B@Mon"],"reason":""}]"#;
        assert_eq!(store.keep_repaired(WEEK, 1, "{}", repairs).unwrap(), 2);
        let plan = store.plan(WEEK).unwrap().unwrap();
        assert_eq!((plan.revision, plan.published.as_str(), plan.repairs.as_str()), (2, "{}", repairs));
        assert_eq!(plan.sources, vec![id]);
        assert!(matches!(store.keep_repaired(WEEK, 1, "[]", "[]"), Err(StoreError::SourcesChanged)));
        assert_eq!(store.plan(WEEK).unwrap().unwrap(), plan);
    }

    #[test]
    fn a_week_says_what_its_plan_does_not_know() {
        let store = Store::in_memory().unwrap();
        let first = upload(&store, "a");
        keep(&store, &[first]).unwrap();
        upload(&store, "b");
        let expected =
            WeekRecord { monday: WEEK, n_uploads: 2, n_waiting: 0, n_uploads_since_plan: 1, plan_revision: Some(1) };
        assert_eq!(store.weeks().unwrap(), vec![expected]);
    }

    #[test]
    fn the_plan_before_comes_back_with_its_revision() {
        let store = Store::in_memory().unwrap();
        let first = upload(&store, "a");
        keep(&store, &[first]).unwrap();
        let before = store.plan(WEEK).unwrap();
        let late = upload(&store, "b");
        assert_eq!(keep(&store, &[first, late]).unwrap(), 2);
        assert_eq!(keep(&store, &[first, late]).unwrap(), 3);
        store.remove_upload(late).unwrap();
        assert_eq!(store.plan(WEEK).unwrap(), before);
        store.remove_upload(first).unwrap();
        assert_eq!(store.plan(WEEK).unwrap(), None);
    }
}
