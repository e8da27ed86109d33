//! What the team decided for each group at the end of a cycle.
//!
//! In / out: a week, a group's id, the decision's word, reason, name. The last word on a group counts
//! (`the_last_word_on_a_group_counts`); a week that goes takes its decisions along. Not here: suggestions (`sheaf-core`).

use crate::{About, Change, Store, StoreError};
use jiff::civil::Date;
use rusqlite::params;

/// One decision.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MemoDecision {
    /// The group's id.
    pub group: String,
    /// The decision's word.
    pub decision: String,
    /// Why.
    pub reason: String,
    /// Who said so.
    pub name: String,
    /// The day on which it was kept, as ISO text.
    pub decided: String,
}

impl Store {
    /// Keeps a decision in place of the last one on this group; `decided` of what is given is not looked at.
    ///
    /// # Errors
    /// [`StoreError`]; also where the week has no record.
    pub fn keep_memo_decision(&self, week: Date, decision: &MemoDecision) -> Result<(), StoreError> {
        let mut connection = self.lock();
        let about = About::week(week).and_group(&decision.group);
        let tx = self.change(&mut connection, Change::MemoDecided, about)?;
        tx.execute(
            "INSERT OR REPLACE INTO memo_decision (week, group_id, decision, reason, name) VALUES (?1, ?2, ?3, ?4, ?5)",
            params![week.to_string(), decision.group, decision.decision, decision.reason, decision.name],
        )?;
        tx.commit()
    }

    /// Decisions of a week, in order of group id.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn memo_decisions(&self, week: Date) -> Result<Vec<MemoDecision>, StoreError> {
        let connection = self.lock();
        let mut statement = connection.prepare(
            "SELECT group_id, decision, reason, name, decided FROM memo_decision WHERE week = ?1 ORDER BY group_id",
        )?;
        let decisions = statement.query_map([week.to_string()], |row| {
            Ok(MemoDecision {
                group: row.get(0)?,
                decision: row.get(1)?,
                reason: row.get(2)?,
                name: row.get(3)?,
                decided: row.get(4)?,
            })
        })?;
        Ok(decisions.collect::<Result<_, _>>()?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{FileKind, NewUpload, Start, StoredFile};

    const WEEK: Date = jiff::civil::date(2026, 2, 2);

    fn decision(word: &str, reason: &str) -> MemoDecision {
        let text = |t: &str| t.to_owned();
        MemoDecision {
            group: text("g1"),
            decision: text(word),
            reason: text(reason),
            name: text("A"),
            decided: text(""),
        }
    }

    #[test]
    fn the_last_word_on_a_group_counts() {
        let store = Store::in_memory().unwrap();
        assert!(store.keep_memo_decision(WEEK, &decision("keep", "no such week")).is_err());
        let bytes = Some(vec![1]);
        let file = StoredFile { kind: FileKind::Scores, name: "q.csv".into(), sha256: "a".repeat(64), bytes };
        let digest = "d".repeat(64);
        let new = NewUpload { week: WEEK, digest: &digest, files: &[file], start: Start::Counted, reading: "{}" };
        store.add_upload(new).unwrap();
        store.keep_memo_decision(WEEK, &decision("keep", "first")).unwrap();
        store.keep_memo_decision(WEEK, &decision("exit", "second")).unwrap();
        let kept = store.memo_decisions(WEEK).unwrap();
        assert_eq!((kept.len(), kept[0].reason.as_str(), kept[0].decided.len()), (1, "second", 10));
        assert!(store.keep_memo_decision(WEEK, &decision("else", "no such word")).is_err());
        assert!(store.keep_memo_decision(WEEK, &decision("keep", "")).is_err());
    }
}
