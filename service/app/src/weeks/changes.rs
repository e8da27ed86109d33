//! The list of changes, as it is looked at: who, when, what, about what.
//!
//! In:  the number of an entry. Out: entries before it, the latest first.
//! Not here: how entries are written and chained (`sheaf-store`), words (`sheaf-web`).

use super::{Week, Weeks};
use crate::error::AppError;
use sheaf_store::KeptChange;

/// An entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ListedChange {
    /// Its number.
    pub sequence: i64,
    /// When, in UTC, as ISO text.
    pub at: String,
    /// An account's name, or one of the words of [`super::Actor`].
    pub who: String,
    /// A code.
    pub what: String,
    /// The week it is about.
    pub week: Option<Week>,
    /// The upload.
    pub upload: Option<i64>,
    /// The group's id.
    pub group: Option<String>,
    /// The account.
    pub account: Option<String>,
    /// Whether it is about a child.
    pub is_about_a_child: bool,
    /// That child's id; `None` where it was forgotten.
    pub student: Option<String>,
}

impl Weeks {
    /// Entries before a number, or the latest of all; at most so many, the latest first.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn changes(&self, before: Option<i64>, most: usize) -> Result<Vec<ListedChange>, AppError> {
        Ok(self.store.changes(before, most)?.into_iter().map(listed).collect())
    }
}

fn listed(kept: KeptChange) -> ListedChange {
    let part = |name: &str| {
        let found = kept.about.split(' ').find_map(|part| part.split_once('=').filter(|(key, _)| *key == name));
        found.map(|(_, value)| value.to_owned())
    };
    ListedChange {
        week: part("week").and_then(|week| Week::parse(&week).ok()),
        upload: part("upload").and_then(|id| id.parse().ok()),
        group: part("group"),
        account: part("account"),
        sequence: kept.sequence,
        at: kept.at,
        who: kept.who,
        what: kept.what,
        is_about_a_child: kept.is_about_a_child,
        student: kept.student,
    }
}
