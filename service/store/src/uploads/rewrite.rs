//! An upload written anew under its id, as long as no plan was made from it.
//!
//! In:  the id, other files and what was read of them. Out: whether it could be done: a plan is made again from its uploads, so those
//! stay as they were. Keeps: `what_no_plan_was_made_from_is_written_anew`. Not here: replacing one upload by another (the module above).

use super::NewUpload;
use super::files::add_files;
use crate::{About, Change, Store, StoreError};
use rusqlite::{Connection, params};

impl Store {
    /// Puts other files and what was read of them in place of an upload's. Says whether it could: one that a plan was made from stays
    /// as it is.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is changed then.
    pub fn rewrite_upload(&self, id: i64, new: NewUpload<'_>) -> Result<bool, StoreError> {
        let mut connection = self.lock();
        let tx = self.change(&mut connection, Change::SheetTakenIn, About::week(new.week).and_upload(id))?;
        if is_planned_from(&tx, id)? {
            return Ok(false);
        }
        let n = tx.execute(
            "UPDATE upload SET digest = ?2, reading = ?3, corrections = '{}' WHERE id = ?1 AND state = 'counted'",
            params![id, new.digest, new.reading],
        )?;
        tx.execute("DELETE FROM upload_file WHERE upload_id = ?1", [id])?;
        if n > 0 {
            add_files(&tx, id, new.files)?;
            tx.commit()?;
        }
        Ok(n > 0)
    }

    /// Whether a plan of the week was made from an upload, be it the last one or one that may come back.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn is_planned_from(&self, id: i64) -> Result<bool, StoreError> {
        is_planned_from(&self.lock(), id)
    }
}

fn is_planned_from(connection: &Connection, id: i64) -> Result<bool, StoreError> {
    Ok(connection.query_row(
        "SELECT EXISTS (SELECT 1 FROM plan_source WHERE upload_id = ?1)
             OR EXISTS (SELECT 1 FROM earlier_plan, json_each(earlier_plan.sources) s WHERE s.value = ?1)",
        [id],
        |row| row.get(0),
    )?)
}
