//! The week as it was planned, for groups whose members a person changed: who meets when, where and with whom stays.
//!
//! In:  the setup, the groups as they are now, the rotation of the groups as they were suggested. Out: the same meetings with the
//! children who are free now; `None` where a meeting would break a limit or have nobody, and the week must be planned anew.
//! Keeps: the outcome is legal (`a_kept_week_is_legal_or_not_kept`). Not here: one day anew while somebody is out (`repair`).

use super::week::{Meeting, Week};
use super::{GroupToPlace, Rotation, Session, violations};
use crate::roster::School;

/// Said with a week that was kept.
const NOTE: &str = "The times stay as they were planned before a person changed seats; who attends is counted anew.";

/// Keeps a week for changed groups. See the module header.
#[must_use]
pub fn keep_week(school: &School, groups: &[GroupToPlace], planned: &Rotation) -> Option<Rotation> {
    let week = Week::new(school, groups);
    let session = |old: &Session| {
        let block = week.blocks.iter().position(|b| b.id == old.block)?;
        let group = groups.iter().position(|g| g.id == old.group)?;
        let now = week.session(Meeting { block, group }, &old.station);
        let now = Session { staff: old.staff.clone(), room: old.room.clone(), ..now };
        (!now.expected.is_empty()).then_some(now)
    };
    let sessions: Vec<Session> = planned.sessions.iter().map(session).collect::<Option<_>>()?;
    let attended = sessions.iter().filter(|s| s.is_led(school)).map(|s| s.expected.len()).sum();
    let mut kept = Rotation { sessions, attended, ..planned.clone() };
    kept.notes.push(NOTE.to_owned());
    violations(school, groups, &kept).is_empty().then_some(kept)
}
