//! Which group meets where, when and with whom.
//!
//! Not here: who is in a group (`grouping`), rosters on paper (`sheaf-sheets`, `sheaf-web`).

use crate::roster::TimeSpan;

/// One meeting of one group.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Session {
    /// Block id.
    pub block: String,
    /// When.
    pub time: TimeSpan,
    /// Group id, e.g. `g1`.
    pub group: String,
    /// Station name.
    pub station: String,
    /// The adult who leads; `None` at an unstaffed station.
    pub staff: Option<String>,
    /// The room; `None` where the setup lists none.
    pub room: Option<String>,
    /// Skill taught or practised.
    pub skill: String,
    /// Ids of members who are expected (the rest are busy then).
    pub expected: Vec<String>,
}

use crate::roster::{School, StudentId};

/// A member of a group, as the rotation needs to know them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Member {
    /// Id.
    pub id: StudentId,
    /// Homeroom; empty if unknown.
    pub homeroom: String,
}

/// A group that wants sessions.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupToPlace {
    /// Group id, e.g. `g1`.
    pub id: String,
    /// Members.
    pub members: Vec<Member>,
    /// How far behind the members are, 0 to 1; more is served first where the rest is equal.
    pub need: f64,
    /// Whether it is an intensive group.
    pub is_intensive: bool,
    /// Led sessions asked for; `None`: as many as fit.
    pub sessions_wanted: Option<usize>,
    /// Skill taught.
    pub skill: String,
}

/// The week's meetings.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rotation {
    /// Meetings, in order of time, then group.
    pub sessions: Vec<Session>,
    /// Led sessions that every group (of ordinary size) gets at least.
    pub floor: usize,
    /// Sentences for staff: what did not fit and what one more staffed block would change.
    pub notes: Vec<String>,
}

/// Plans the week's meetings.
#[must_use]
pub fn plan_rotation(_school: &School, _groups: &[GroupToPlace]) -> Rotation {
    Rotation::default()
}
