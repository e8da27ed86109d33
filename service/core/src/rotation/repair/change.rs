//! What a repair changed, session by session, and in words.
//!
//! In:  the sessions of a day as printed and as repaired. Out: a [`Change`] for each session that is not the same.
//! A group's sessions are paired by block first, then in order of time. Keeps: an unchanged session is no change, and every changed
//! one is named once (`every_changed_session_is_named_once`). Not here: which sessions change (`day`).

use crate::rotation::Session;

/// One session that a repair changed or took away.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// As printed.
    pub before: Session,
    /// As it is now; `None` where it does not take place.
    pub after: Option<Session>,
    /// Why it does not take place, as a clause; empty where it does.
    pub why: String,
}

impl Change {
    /// What changed in one sentence; `group` is what the group is called.
    #[must_use]
    pub fn words(&self, group: &str) -> String {
        let before = &self.before;
        let when = format!("{} {}", before.time.day.long(), before.time.start);
        let Some(after) = &self.after else {
            let who = before.staff.as_deref().unwrap_or(&before.station);
            return format!("{group} does not meet on {when} with {who}: {}.", self.why);
        };
        let parts = parts(before, after);
        format!("{group} on {when}: {}.", parts.join("; "))
    }

    /// The parts that changed, as short clauses: for a mark beside the session.
    #[must_use]
    pub fn mark(&self) -> String {
        self.after.as_ref().map_or_else(|| "does not meet".to_owned(), |after| parts(&self.before, after).join("; "))
    }
}

fn parts(before: &Session, after: &Session) -> Vec<String> {
    let mut parts = Vec::new();
    if before.block != after.block {
        parts.push(format!("at {} instead of {}", after.time.start, before.time.start));
    }
    if before.staff != after.staff {
        let name = |staff: &Option<String>| staff.clone().unwrap_or_else(|| "nobody".to_owned());
        parts.push(format!("with {} instead of {}", name(&after.staff), name(&before.staff)));
    }
    if before.room != after.room {
        let name = |room: &Option<String>| room.clone().unwrap_or_else(|| "no room".to_owned());
        parts.push(format!("in {} instead of {}", name(&after.room), name(&before.room)));
    }
    let gone: Vec<&str> =
        before.expected.iter().filter(|id| !after.expected.contains(id)).map(String::as_str).collect();
    if !gone.is_empty() {
        parts.push(format!("without {}", gone.join(", ")));
    }
    let come: Vec<&str> =
        after.expected.iter().filter(|id| !before.expected.contains(id)).map(String::as_str).collect();
    if !come.is_empty() {
        parts.push(format!("also {}", come.join(", ")));
    }
    parts
}

/// Every session of one day that is not as it was. `why` tells why a session no longer takes place.
pub(super) fn changes(before: &[Session], after: &[Session], why: impl Fn(&Session) -> String) -> Vec<Change> {
    let mut open: Vec<&Session> = after.iter().collect();
    let mut partners: Vec<Option<&Session>> = vec![None; before.len()];
    for by_block in [true, false] {
        for (session, partner) in before.iter().zip(&mut partners).filter(|(_, p)| p.is_none()) {
            let fits = |s: &&Session| {
                s.group == session.group && s.station == session.station && (!by_block || s.block == session.block)
            };
            *partner = open.iter().position(fits).map(|at| open.remove(at));
        }
    }
    let pairs = before.iter().zip(partners).filter(|(session, partner)| *partner != Some(session));
    pairs
        .map(|(session, partner)| Change {
            before: session.clone(),
            after: partner.cloned(),
            why: if partner.is_none() { why(session) } else { String::new() },
        })
        .collect()
}
