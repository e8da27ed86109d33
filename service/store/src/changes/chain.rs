//! The chain of entries: what is hashed of each, and a look along it that names the first broken link.
//!
//! In:  a connection to records. Out: how many entries there are, the hash of the last, and what does not fit.
//! An entry's hash is SHA-256 over its fields and the hash before, as a JSON list, so that no two sets of fields give the same text.
//! Keeps: 1. a changed entry is named (`a_changed_entry_is_named`); so is one whose hash was made to fit (`an_entry_that_was_hashed_anew_breaks_the_next`)
//!        2. entries cut off at the end are missed (`entries_cut_off_at_the_end_are_missed`)
//! Not protected: a file that somebody writes anew as a whole, with a chain of its own; only the hash of the last entry, written down elsewhere, shows that.
//! Source: common practice, no source.

use rusqlite::Connection;
use sha2::{Digest, Sha256};

/// The hash before the first entry.
const NOTHING_BEFORE: &str = "0000000000000000000000000000000000000000000000000000000000000000";

/// What a look along the chain found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Chain {
    /// Entries.
    pub n: usize,
    /// Hash of the last entry; empty where there is none.
    pub last: String,
    /// What does not fit, in words; `None` where all fits.
    pub broken: Option<String>,
}

/// What is hashed of an entry.
pub(super) struct Link<'a> {
    pub(super) sequence: i64,
    pub(super) at: &'a str,
    pub(super) who: &'a str,
    pub(super) what: &'a str,
    pub(super) about: &'a str,
    pub(super) child: Option<&'a str>,
}

/// Lower-case hex.
pub(super) fn hash_of(link: &Link<'_>, previous: &str) -> String {
    let Link { sequence, at, who, what, about, child } = link;
    let text = serde_json::json!([sequence, at, who, what, about, child, previous]).to_string();
    Sha256::digest(text.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Looks along the whole chain. Records from before there was one have none, and nothing of it is broken.
pub(crate) fn look_along(connection: &Connection) -> rusqlite::Result<Chain> {
    let is_there: bool =
        connection
            .query_row("SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE name = 'audit_head')", (), |row| row.get(0))?;
    if !is_there {
        return Ok(Chain::default());
    }
    let mut statement = connection
        .prepare("SELECT sequence, at, who, what, about, child, previous, hash FROM audit ORDER BY sequence")?;
    let mut rows = statement.query(())?;
    let (mut n, mut last) = (0_i64, NOTHING_BEFORE.to_owned());
    let mut broken = None;
    while let Some(row) = rows.next()? {
        let texts: Vec<String> = (1..5).map(|at| row.get(at)).collect::<Result<_, _>>()?;
        let (sequence, child, previous, hash): (i64, Option<String>, String, String) =
            (row.get(0)?, row.get(5)?, row.get(6)?, row.get(7)?);
        let link = Link {
            sequence,
            at: &texts[0],
            who: &texts[1],
            what: &texts[2],
            about: &texts[3],
            child: child.as_deref(),
        };
        if broken.is_none() {
            broken = fault(&link, n + 1, (&previous, &last), &hash);
        }
        (n, last) = (n + 1, hash);
    }
    let (head_n, head): (i64, String) =
        connection.query_row("SELECT n, hash FROM audit_head", (), |row| Ok((row.get(0)?, row.get(1)?)))?;
    if broken.is_none() && (head_n, &head) != (n, &last) {
        broken = Some(format!("the list of changes ends at entry {n} where entry {head_n} was the last"));
    }
    let last = if n == 0 { String::new() } else { last };
    Ok(Chain { n: usize::try_from(n).unwrap_or_default(), last, broken })
}

fn fault(link: &Link<'_>, expected: i64, (previous, before): (&str, &str), hash: &str) -> Option<String> {
    if link.sequence != expected {
        Some(format!("entry {expected} of the list of changes is missing"))
    } else if previous != before || hash_of(link, previous) != hash {
        Some(format!("entry {expected} of the list of changes was changed after it was written, or one before it was"))
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{About, Change, Store};

    fn three() -> Store {
        let store = Store::in_memory().unwrap();
        for day in [2, 9, 16] {
            store.tell(Change::PlanMade, About::week(jiff::civil::date(2026, 2, day))).unwrap();
        }
        store
    }

    fn break_by(store: &Store, sql: &str) -> Chain {
        let connection = store.lock();
        connection.execute_batch("DROP TRIGGER audit_is_not_rewritten; DROP TRIGGER audit_is_not_shortened;").unwrap();
        connection.execute_batch(sql).unwrap();
        look_along(&connection).unwrap()
    }

    #[test]
    fn an_untouched_chain_is_whole() {
        let chain = look_along(&three().lock()).unwrap();
        assert_eq!((chain.n, chain.last.len(), chain.broken), (3, 64, None));
        assert_eq!(look_along(&Store::in_memory().unwrap().lock()).unwrap(), Chain::default());
    }

    #[test]
    fn a_changed_entry_is_named() {
        for field in ["at", "who", "what", "about", "child"] {
            let chain = break_by(&three(), &format!("UPDATE audit SET {field} = 'x' WHERE sequence = 2"));
            assert!(chain.broken.as_ref().is_some_and(|b| b.contains("entry 2 ")), "{field}: {chain:?}");
        }
    }

    #[test]
    fn an_entry_that_was_hashed_anew_breaks_the_next() {
        let store = three();
        let (at, previous): (String, String) = store
            .lock()
            .query_row("SELECT at, previous FROM audit WHERE sequence = 2", (), |row| Ok((row.get(0)?, row.get(1)?)))
            .unwrap();
        let about = "week=2026-02-09";
        let link = Link { sequence: 2, at: &at, who: "eve", what: "plan-made", about, child: None };
        let hash = hash_of(&link, &previous);
        let chain = break_by(&store, &format!("UPDATE audit SET who = 'eve', hash = '{hash}' WHERE sequence = 2"));
        assert!(chain.broken.as_ref().is_some_and(|b| b.contains("entry 3 ")), "{chain:?}");
    }

    #[test]
    fn entries_cut_off_at_the_end_are_missed() {
        let chain = break_by(&three(), "DELETE FROM audit WHERE sequence > 1");
        assert_eq!(chain.broken.as_deref(), Some("the list of changes ends at entry 1 where entry 3 was the last"));
        let chain = break_by(&three(), "DELETE FROM audit WHERE sequence = 2");
        assert!(chain.broken.is_some_and(|b| b.contains("entry 2 ") && b.contains("missing")));
    }
}
