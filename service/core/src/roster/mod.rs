//! Who is there: students, adults, rooms, stations, times and the limits a school sets.
//!
//! In:  plain values, already read (`sheaf-sheets` for students, `sheaf-app` for the school setup).
//! Out: types that cannot hold nonsense: ids are never blank, a time ends after it begins.
//! Not here: the TOML of the setup (`sheaf-app`), who sits where (`grouping`), who meets when (`rotation`).

mod setup;
mod time;

pub use setup::{
    Block, Busy, BusyWhen, BusyWho, CoreLessons, Cycle, GroupCount, GroupSettings, Include, IntensiveSettings, Limits,
    MasterySettings, OmittedCounts, ReadingLimits, RecordSettings, Room, School, StaffMember, Station, TicketSettings,
    Within,
};
pub use time::{Day, Minutes, TimeError, TimeSpan};

use std::fmt;

/// A student's id as the sheet shows it; text, so that leading zeros stay.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct StudentId(String);

impl StudentId {
    /// Trims the text and refuses a blank one.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let trimmed = text.trim();
        (!trimmed.is_empty()).then(|| StudentId(trimmed.to_owned()))
    }

    /// The id as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for StudentId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// One student as a sheet or list names them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Student {
    /// Id, unique within a plan.
    pub id: StudentId,
    /// Name as given; may be empty.
    pub name: String,
    /// Grade as given, e.g. `5`; empty if the sheets do not say.
    pub grade: String,
    /// Homeroom as given, e.g. `5P`; empty if the sheets do not say.
    pub homeroom: String,
    /// Supports that travel with the student (read aloud, extra time); for staff only.
    pub supports: Vec<String>,
}

impl Student {
    /// A student of whom nothing but the id is known.
    #[must_use]
    pub fn unnamed(id: StudentId) -> Self {
        Student { id, name: String::new(), grade: String::new(), homeroom: String::new(), supports: Vec::new() }
    }

    /// What to call the student on paper: the name, or the id where there is none.
    #[must_use]
    pub fn shown(&self) -> &str {
        if self.name.is_empty() { self.id.as_str() } else { &self.name }
    }
}
