//! Which group meets where, when and with whom.
//!
//! In: the [`School`] (blocks, adults, rooms, stations, busy times, limits) and the groups with their members,
//! need (0 to 1) and sessions asked for. Out: a [`Rotation`]: every meeting of the week, the floor, the attended
//! places and sentences for staff.
//!
//! Rules it keeps:
//! 1. No hard limit ever breaks (`violations_are_never_found_in_random_weeks`).
//! 2. The floor and the attended places are the highest there are (`floor_and_attendance_equal_an_exhaustive_search`),
//!    unless a note says that they are the best found (`a_week_beyond_the_exact_size_says_best_found`).
//! 3. One more block never lowers the floor, one adult fewer never raises it, for groups of ordinary size that count
//!    towards it both times (`a_new_block_never_lowers_the_floor`, `losing_an_adult_never_raises_the_floor`).
//! 4. The same input gives the same meetings (`the_same_week_comes_out_the_same_twice`).
//!
//! How: `week` lays the setup out by index, `model` writes it as a 0/1 program, `program` solves that exactly,
//! `stages` asks for one wish after the other, `seating` names adults and rooms, `practice` fills unstaffed stations,
//! `violation` checks the outcome without knowing any of these.
//!
//! Not here: who is in a group (`grouping`), rosters on paper (`sheaf-sheets`, `sheaf-web`), one day anew (`repair`).

mod best_found;
mod conflict;
pub mod explain;
mod kept;
mod limit_rows;
mod model;
mod notes;
mod practice;
mod program;
pub mod repair;
mod seating;
mod stages;
mod violation;
mod week;

#[cfg(test)]
mod tests;

pub use kept::keep_week;
pub use violation::{Rule, Violation, violations};

use crate::roster::{School, StudentId, TimeSpan};
use week::Week;

/// The staffed station of a setup that lists no stations.
pub const DEFAULT_STATION: &str = "Teacher table";

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
    /// The adult who leads or, at an unstaffed station, the assistant who holds it; `None` where nobody does.
    pub staff: Option<String>,
    /// The room; `None` where the setup lists none.
    pub room: Option<String>,
    /// Skill taught or practised.
    pub skill: String,
    /// Ids of members who are expected (the rest are busy then).
    pub expected: Vec<String>,
}

impl Session {
    /// Whether an adult teaches here: every station is staffed unless the setup lists it as unstaffed.
    #[must_use]
    pub fn is_led(&self, school: &School) -> bool {
        school.stations.iter().find(|s| s.name == self.station).is_none_or(|s| s.staffed)
    }
}

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

/// How sure it is that no better week exists.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Proof {
    /// Every wish is proved to be met as well as the ones before it allow.
    #[default]
    Optimal,
    /// Legal, and the best that was found within the steps allowed.
    BestFound,
}

/// The week's meetings.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rotation {
    /// Meetings, in order of time, then group.
    pub sessions: Vec<Session>,
    /// Led sessions that every group (of ordinary size) gets at least, or all it asks for where that is fewer.
    /// Groups that cannot meet at all are left out and named in a note.
    pub floor: usize,
    /// Students expected at led sessions, added up over the week.
    pub attended: usize,
    /// Whether floor and attendance are proved to be the highest possible.
    pub proof: Proof,
    /// Sentences for staff: what did not fit and what one more staffed block would change.
    pub notes: Vec<String>,
}

/// Plans the week's meetings.
///
/// # Returns
/// The rotation; without blocks, adults or groups it is empty, and a note says what to add.
/// The same input gives the same value. Never panics.
#[must_use]
pub fn plan_rotation(school: &School, groups: &[GroupToPlace]) -> Rotation {
    if let Some(note) = notes::nothing_to_plan(school, groups) {
        return Rotation { notes: vec![note], ..Rotation::default() };
    }
    let week = Week::new(school, groups);
    let chosen = stages::choose(&week);
    let mut sessions = seating::seat(&week, &chosen);
    practice::add(&week, &mut sessions);
    let sessions = week.in_order(sessions);
    let notes = notes::about(&week, &chosen, &sessions);
    Rotation { sessions, floor: chosen.floor, attended: chosen.attended, proof: chosen.proof, notes }
}
