//! Care of the records: old originals go, a student is forgotten.
//!
//! What was read of an upload stays when its original goes, so that its week can still be planned.
//! Keeps: an original goes only where what was read is kept beside it (`an_original_goes_and_what_was_read_stays`); of a
//! student who is forgotten no byte stays in the file (`a_forgotten_name_leaves_the_file`), as deleted content is
//! overwritten and the log emptied.
//! Not here: which records hold a student, and what they say without (`sheaf-app`); backups and copies elsewhere.

use crate::changes::forget_child;
use crate::connection::scrub;
use crate::seatings::begin_anew;
use crate::uploads::parse_date;
use crate::{About, Change, Store, StoreError};
use jiff::civil::Date;
use rusqlite::{Connection, params};

/// What [`Store::remove_originals`] removed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Removed {
    /// Files whose bytes are gone.
    pub n_originals: usize,
    /// Uploads that are gone whole: replaced ones, and such as nobody confirmed.
    pub n_uploads: usize,
}

/// One plan, the week's or an earlier one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanText {
    /// The week's Monday.
    pub week: Date,
    /// Its revision.
    pub revision: i64,
    /// The setup it was made with, as TOML.
    pub setup: String,
    /// Groups kept together, as JSON.
    pub holds: String,
    /// Days issued anew because somebody was out, as JSON.
    pub repairs: String,
    /// What a person decided against the suggestion, as JSON.
    pub overrules: String,
    /// Its published JSON.
    pub published: String,
    /// What was known of attendance, as JSON: a list for each student, the id first.
    pub attended: String,
}

/// What an upload says without a student.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UploadWithout {
    /// The upload.
    pub id: i64,
    /// What was read of it, without the student; `None` where nothing is left, and the upload goes whole.
    pub reading: Option<String>,
    /// Corrections, without the student.
    pub corrections: String,
    /// Names of its files, in order.
    pub file_names: Vec<String>,
    /// Whether its originals hold the student, and go.
    pub originals: Originals,
}

/// What becomes of an upload's originals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Originals {
    /// They stay.
    Stay,
    /// Their bytes go.
    Go,
}

/// A student to forget, and what the records say without.
#[derive(Debug, Clone, Copy)]
pub struct Forgetting<'a> {
    /// Every id the student had.
    pub ids: &'a [String],
    /// The uploads that hold the student.
    pub uploads: &'a [UploadWithout],
    /// The plans that hold the student, without.
    pub plans: &'a [PlanText],
    /// Layouts whose kept choices and items name the student: those are dropped.
    pub layouts: &'a [String],
}

impl Store {
    /// Removes the originals of weeks before a Monday, and whole uploads of those weeks that were replaced or never
    /// confirmed, unless the week's plan was made from them. An original whose reading is not kept stays.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is removed then.
    pub fn remove_originals(&self, before: Date) -> Result<Removed, StoreError> {
        let mut connection = self.lock();
        let mut tx = self.change(&mut connection, Change::OriginalsRemoved, About::nothing())?;
        let before = before.to_string();
        let stale: Vec<i64> = tx
            .prepare(
                "SELECT id FROM upload WHERE week < ?1 AND (replaced_by IS NOT NULL OR state = 'waiting')
                   AND NOT EXISTS (SELECT 1 FROM plan_source s WHERE s.upload_id = upload.id)",
            )?
            .query_map([&before], |row| row.get(0))?
            .collect::<Result<_, _>>()?;
        for &id in &stale {
            tx.execute(
                "DELETE FROM earlier_plan WHERE EXISTS (SELECT 1 FROM json_each(sources) WHERE json_each.value = ?1)",
                [id],
            )?;
            tx.execute("DELETE FROM upload WHERE id = ?1", [id])?;
        }
        let n_originals = tx.execute(
            "UPDATE upload_file SET bytes = NULL WHERE bytes IS NOT NULL
             AND upload_id IN (SELECT id FROM upload WHERE week < ?1 AND reading IS NOT NULL)",
            [&before],
        )?;
        let removed = Removed { n_originals, n_uploads: stale.len() };
        if removed == Removed::default() {
            tx.says_nothing();
        }
        tx.commit()?;
        scrub(&connection)?;
        Ok(removed)
    }

    /// Removes the weeks from one day up to another, with all that hangs on them; who is then in no week and on no list is no longer
    /// named by the list of changes either. Gives how many weeks went.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is removed then.
    pub fn remove_weeks(&self, from: Date, before: Date) -> Result<usize, StoreError> {
        let mut connection = self.lock();
        let days = [from.to_string(), before.to_string()];
        let first: Option<String> = connection.query_row(
            "SELECT min(monday) FROM week WHERE monday >= ?1 AND monday < ?2",
            [&days[0], &days[1]],
            |row| row.get(0),
        )?;
        let Some(first) = first else { return Ok(0) };
        let about = About::week(parse_date(&first)?);
        let tx = self.change(&mut connection, Change::YearRemoved, about)?;
        // An earlier plan hangs on uploads, which may be of other weeks than its own.
        tx.execute("DELETE FROM earlier_plan WHERE week >= ?1 AND week < ?2", [&days[0], &days[1]])?;
        let n_weeks = tx.execute("DELETE FROM week WHERE monday >= ?1 AND monday < ?2", [&days[0], &days[1]])?;
        tx.execute(
            "DELETE FROM audit_child WHERE student NOT IN (SELECT id FROM student)
               AND student NOT IN (SELECT s.value ->> 'id' FROM plan, json_each(plan.published, '$.students') s)",
            [],
        )?;
        tx.commit()?;
        scrub(&connection)?;
        Ok(n_weeks)
    }

    /// Keeps what was read of an upload that came before readings were kept.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn keep_reading(&self, id: i64, reading: &str) -> Result<(), StoreError> {
        self.lock()
            .execute("UPDATE upload SET reading = ?2 WHERE id = ?1 AND reading IS NULL", params![id, reading])?;
        Ok(())
    }

    /// Mondays of all weeks in the records, the first first.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn mondays(&self) -> Result<Vec<Date>, StoreError> {
        let connection = self.lock();
        let mut statement = connection.prepare("SELECT monday FROM week ORDER BY monday")?;
        let texts = statement.query_map((), |row| row.get::<_, String>(0))?.collect::<Result<Vec<_>, _>>()?;
        texts.iter().map(|text| parse_date(text)).collect()
    }

    /// Every plan there is, the weeks' and the earlier ones.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn all_plans(&self) -> Result<Vec<PlanText>, StoreError> {
        let connection = self.lock();
        let mut statement = connection.prepare(
            "SELECT week, revision, setup, holds, published, attended, repairs, overrules FROM plan
             UNION ALL SELECT week, revision, setup, holds, published, attended, repairs, overrules FROM earlier_plan
             ORDER BY 1, 2",
        )?;
        let mut rows = statement.query(())?;
        let mut plans = Vec::new();
        while let Some(row) = rows.next()? {
            plans.push(PlanText {
                week: parse_date(&row.get::<_, String>(0)?)?,
                revision: row.get(1)?,
                setup: row.get(2)?,
                holds: row.get(3)?,
                published: row.get(4)?,
                attended: row.get(5)?,
                repairs: row.get(6)?,
                overrules: row.get(7)?,
            });
        }
        Ok(plans)
    }

    /// Forgets a student: from the list, the questions, every upload and every plan. Nothing of it stays in the file.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is forgotten then.
    pub fn forget(&self, forgetting: Forgetting<'_>) -> Result<(), StoreError> {
        let mut connection = self.lock();
        let tx = self.change(&mut connection, Change::StudentForgotten, About::nothing())?;
        for id in forgetting.ids {
            forget_child(&tx, id)?;
            tx.execute("DELETE FROM student WHERE id = ?1", [id])?;
            tx.execute("DELETE FROM attendance_mark WHERE student = ?1", [id])?;
            tx.execute("DELETE FROM child_facts WHERE student = ?1", [id])?;
            tx.execute("DELETE FROM same_child WHERE old_id = ?1 OR new_id = ?1", [id])?;
        }
        for layout in forgetting.layouts {
            tx.execute("DELETE FROM kept_choice WHERE layout = ?1", [layout])?;
            tx.execute("DELETE FROM kept_items WHERE layout = ?1", [layout])?;
        }
        forgetting.plans.iter().try_for_each(|plan| rewrite_plan(&tx, plan))?;
        forgetting.uploads.iter().try_for_each(|upload| rewrite_upload(&tx, upload))?;
        begin_anew(&tx)?;
        tx.commit()?;
        scrub(&connection)
    }
}

fn rewrite_plan(connection: &Connection, plan: &PlanText) -> Result<(), StoreError> {
    for table in ["plan", "earlier_plan"] {
        connection.execute(
            &format!(
                "UPDATE {table} SET setup = ?3, holds = ?4, published = ?5, attended = ?6, repairs = ?7, overrules = ?8
                 WHERE week = ?1 AND revision = ?2"
            ),
            params![
                plan.week.to_string(),
                plan.revision,
                plan.setup,
                plan.holds,
                plan.published,
                plan.attended,
                plan.repairs,
                plan.overrules
            ],
        )?;
    }
    Ok(())
}

fn rewrite_upload(connection: &Connection, upload: &UploadWithout) -> Result<(), StoreError> {
    let Some(reading) = &upload.reading else {
        crate::plans::forget_plans_of(connection, upload.id)?;
        connection.execute("DELETE FROM upload WHERE id = ?1", [upload.id])?;
        return Ok(());
    };
    connection.execute(
        "UPDATE upload SET reading = ?2, corrections = ?3 WHERE id = ?1",
        params![upload.id, reading, upload.corrections],
    )?;
    for (position, name) in upload.file_names.iter().enumerate() {
        connection.execute(
            "UPDATE upload_file SET name = ?3 WHERE upload_id = ?1 AND position = ?2",
            params![upload.id, position as i64, name],
        )?;
    }
    if upload.originals == Originals::Go {
        connection.execute("UPDATE upload_file SET bytes = NULL WHERE upload_id = ?1", [upload.id])?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{FileKind, NewUpload, Start, StoredFile};

    const NAME: &str = "Quentin Quillwright";

    fn monday(day: i8) -> Date {
        jiff::civil::date(2026, 2, day)
    }

    fn add(store: &Store, week: Date, content: &str, start: Start) -> i64 {
        let bytes = Some(content.repeat(500).into_bytes());
        let file = StoredFile { kind: FileKind::Scores, name: "q.csv".into(), sha256: "a".repeat(64), bytes };
        let digest = format!("{:0>64}", content.len());
        let reading = format!("[{:?}]", content.repeat(500));
        let new = NewUpload { week, digest: &digest, files: &[file], start, reading: &reading };
        store.add_upload(new).unwrap().id()
    }

    #[test]
    fn an_original_goes_and_what_was_read_stays() {
        let store = Store::in_memory().unwrap();
        let old = add(&store, monday(2), "old", Start::Counted);
        add(&store, monday(2), "never confirmed", Start::Waiting);
        let young = add(&store, monday(9), "young", Start::Counted);
        let removed = store.remove_originals(monday(9)).unwrap();
        assert_eq!(removed, Removed { n_originals: 1, n_uploads: 1 });
        let old = store.upload(old).unwrap().unwrap();
        assert_eq!((old.files[0].bytes.as_ref(), old.reading.is_some()), (None, true));
        assert!(store.upload(young).unwrap().unwrap().files[0].bytes.is_some());
        assert_eq!(store.remove_originals(monday(9)).unwrap(), Removed::default());
    }

    #[test]
    fn an_original_without_a_kept_reading_stays() {
        let store = Store::in_memory().unwrap();
        let id = add(&store, monday(2), "old", Start::Counted);
        store.lock().execute("UPDATE upload SET reading = NULL", ()).unwrap();
        assert_eq!(store.remove_originals(monday(9)).unwrap(), Removed::default());
        store.keep_reading(id, "{}").unwrap();
        assert_eq!(store.remove_originals(monday(9)).unwrap().n_originals, 1);
    }

    #[test]
    fn a_forgotten_name_leaves_the_file() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(&folder.path().join("records.db")).unwrap();
        let id = add(&store, monday(2), NAME, Start::Counted);
        let published = format!("[{:?}]", NAME.repeat(500));
        let plan = crate::NewPlan {
            week: monday(2),
            seed: 1,
            setup: NAME,
            holds: "[]",
            repairs: "[]",
            overrules: crate::NO_OVERRULES,
            published: &published,
            attended: &[],
            sources: &[id],
        };
        store.keep_plan(plan).unwrap();
        let plans: Vec<PlanText> = store
            .all_plans()
            .unwrap()
            .into_iter()
            .map(|p| PlanText { setup: String::new(), published: "[]".into(), ..p })
            .collect();
        assert_eq!(plans.len(), 1);
        let upload = UploadWithout {
            id,
            reading: Some("[]".into()),
            corrections: "{}".into(),
            file_names: vec!["q.csv".into()],
            originals: Originals::Go,
        };
        assert!(traces(folder.path()) > 1000);
        let forgetting = Forgetting { ids: &["0031".to_owned()], uploads: &[upload], plans: &plans, layouts: &[] };
        store.forget(forgetting).unwrap();
        assert_eq!(traces(folder.path()), 0);
        assert_eq!(store.plan(monday(2)).unwrap().unwrap().published, "[]");
        assert!(store.upload(id).unwrap().unwrap().files[0].bytes.is_none());
    }

    fn traces(folder: &std::path::Path) -> usize {
        std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| std::fs::read(entry.unwrap().path()).unwrap())
            .map(|bytes| bytes.windows(NAME.len()).filter(|w| *w == NAME.as_bytes()).count())
            .sum()
    }
}
