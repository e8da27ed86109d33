//! Who or what is out, and when: `Teacher B@mon-1`, `Lab@Tue`, `0417@Fri`.
//!
//! In:  a text `WHO@WHEN`, and the setup and groups whose names it may use. Out: an [`Out`], or a sentence that names the known
//! ones (`an_unknown_name_is_told_the_known_ones`).
//! A name is looked for among staff, then rooms, then students; a time among blocks, then days; letters' case only where
//! nothing fits as written. Not here: what follows from it (`day`).

use crate::roster::{Busy, BusyWhen, BusyWho, Day, School, StudentId};
use crate::rotation::GroupToPlace;
use std::fmt;
use thiserror::Error;

/// Who or what is out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Who {
    /// A member of staff, by name.
    Staff(String),
    /// A room, by name.
    Room(String),
    /// A student.
    Student(StudentId),
}

/// For how long.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum When {
    /// One block, by id.
    Block(String),
    /// A day.
    Day(Day),
}

/// Somebody or something that is out for a while.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Out {
    /// Who or what.
    pub who: Who,
    /// For how long.
    pub when: When,
}

/// Why a text names nothing of the plan.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum OutError {
    /// No `@`, or nothing on one side of it.
    #[error("\"{0}\" is not WHO@WHEN; write for example \"Teacher B@mon-1\" or \"Teacher B@Mon\"")]
    Form(String),
    /// Nobody of that name.
    #[error("\"{name}\" is no member of staff, room or student in a group of this plan; it knows {known}")]
    Who {
        /// As written.
        name: String,
        /// Who there is.
        known: String,
    },
    /// No such block or day.
    #[error("\"{name}\" is no block or day of this plan; it knows the days Mon to Fri and the blocks {known}")]
    When {
        /// As written.
        name: String,
        /// Which blocks there are.
        known: String,
    },
}

/// Names listed in a sentence.
const MOST_NAMES: usize = 30;
/// Ids of students given as samples.
const SAMPLE_IDS: usize = 3;

impl Out {
    /// Reads `WHO@WHEN`; a name may hold an `@` itself, a time may not.
    ///
    /// # Errors
    /// [`OutError`] where the text names nothing that the setup and the groups know.
    pub fn parse(text: &str, school: &School, groups: &[GroupToPlace]) -> Result<Self, OutError> {
        let parts = text.rsplit_once('@').map(|(who, when)| (who.trim(), when.trim()));
        let Some((who, when)) = parts.filter(|(who, when)| !who.is_empty() && !when.is_empty()) else {
            return Err(OutError::Form(text.trim().to_owned()));
        };
        Ok(Out { who: Who::parse(who, school, groups)?, when: When::parse(when, school)? })
    }

    /// Ids of the blocks for which it is out.
    #[must_use]
    pub fn blocks(&self, school: &School) -> Vec<String> {
        let is_meant = |id: &str, day: Day| match &self.when {
            When::Block(block) => block == id,
            When::Day(named) => *named == day,
        };
        school.blocks.iter().filter(|b| is_meant(&b.id, b.time.day)).map(|b| b.id.clone()).collect()
    }

    /// `Teacher B on Monday`, `Lab in block tue-1`.
    #[must_use]
    pub fn words(&self) -> String {
        let who = match &self.who {
            Who::Staff(name) | Who::Room(name) => name,
            Who::Student(id) => id.as_str(),
        };
        match &self.when {
            When::Block(id) => format!("{who} in block {id}"),
            When::Day(day) => format!("{who} on {}", day.long()),
        }
    }

    /// The day that is to be issued anew; `None` where the block is not in the setup.
    #[must_use]
    pub fn day(&self, school: &School) -> Option<Day> {
        match &self.when {
            When::Day(day) => Some(*day),
            When::Block(id) => school.blocks.iter().find(|b| &b.id == id).map(|b| b.time.day),
        }
    }
}

impl Who {
    fn parse(name: &str, school: &School, groups: &[GroupToPlace]) -> Result<Self, OutError> {
        let ids = || groups.iter().flat_map(|g| &g.members).map(|m| m.id.as_str());
        let staff = one_of(name, school.staff.iter().map(|s| s.name.as_str())).map(|n| Who::Staff(n.to_owned()));
        let room = || one_of(name, school.rooms.iter().map(|r| r.name.as_str())).map(|n| Who::Room(n.to_owned()));
        let student = || one_of(name, ids()).and_then(StudentId::parse).map(Who::Student);
        let known = || known_names(school, ids().take(SAMPLE_IDS).collect());
        staff.or_else(room).or_else(student).ok_or_else(|| OutError::Who { name: name.to_owned(), known: known() })
    }
}

impl When {
    fn parse(name: &str, school: &School) -> Result<Self, OutError> {
        let ids = || school.blocks.iter().map(|b| b.id.as_str());
        let block = one_of(name, ids()).map(|id| When::Block(id.to_owned()));
        block.or_else(|| Day::parse(name).map(When::Day)).ok_or_else(|| {
            let known = if school.blocks.is_empty() { "(none)".to_owned() } else { listed(ids().collect()) };
            OutError::When { name: name.to_owned(), known }
        })
    }
}

/// The name as written, or else the one name that differs in case alone.
fn one_of<'a>(name: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let (mut alike, mut n_alike) = (None, 0);
    for known in names {
        if known == name {
            return Some(known);
        }
        if known.to_lowercase() == name.to_lowercase() {
            (alike, n_alike) = (Some(known), n_alike + 1);
        }
    }
    alike.filter(|_| n_alike == 1)
}

fn known_names(school: &School, ids: Vec<&str>) -> String {
    let of = |what: &str, names: Vec<&str>| {
        if names.is_empty() { format!("no {what}") } else { format!("{what} {}", listed(names)) }
    };
    let staff = of("staff", school.staff.iter().map(|s| s.name.as_str()).collect());
    let rooms = of("rooms", school.rooms.iter().map(|r| r.name.as_str()).collect());
    let students = of("students", ids);
    format!("the {staff}; {rooms}; {students} and so on, by id")
}

fn listed(names: Vec<&str>) -> String {
    let more = names.len().saturating_sub(MOST_NAMES);
    let shown = names.into_iter().take(MOST_NAMES).collect::<Vec<_>>().join(", ");
    if more == 0 { shown } else { format!("{shown} and {more} more") }
}

impl fmt::Display for Out {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let who = match &self.who {
            Who::Staff(name) | Who::Room(name) => name,
            Who::Student(id) => id.as_str(),
        };
        match &self.when {
            When::Block(id) => write!(f, "{who}@{id}"),
            When::Day(day) => write!(f, "{who}@{}", day.short()),
        }
    }
}

/// The setup as it is while these are out.
#[must_use]
pub fn school_without(school: &School, outs: &[Out]) -> School {
    let mut school = school.clone();
    for out in outs {
        let gone = out.blocks(&school);
        match &out.who {
            Who::Staff(name) => school
                .staff
                .iter_mut()
                .filter(|s| &s.name == name)
                .for_each(|s| s.blocks.retain(|block| !gone.contains(block))),
            Who::Room(name) => close_room(&mut school, name, &gone),
            Who::Student(id) => {
                school.busy.push(Busy { who: BusyWho::Student(id.clone()), when: BusyWhen::Blocks(gone) });
            }
        }
    }
    school
}

/// A room that is closed in every block seats nobody: an empty list of blocks would mean always.
fn close_room(school: &mut School, name: &str, gone: &[String]) {
    let all: Vec<String> = school.blocks.iter().map(|b| b.id.clone()).collect();
    for room in school.rooms.iter_mut().filter(|r| r.name == name) {
        if room.blocks.is_empty() {
            room.blocks.clone_from(&all);
        }
        room.blocks.retain(|block| !gone.contains(block));
        if room.blocks.is_empty() {
            room.seats = 0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rotation::tests::setups::{block, group, room, school, staff};

    fn setup() -> (School, Vec<GroupToPlace>) {
        let mut school = school(
            vec![block("Mon 09:00", 30), block("Tue 09:00", 30)],
            vec![staff("Teacher B", &["Mon 09:00"]), staff("k@home", &["Mon 09:00"])],
        );
        school.blocks[0].id = "mon-1".to_owned();
        school.rooms = vec![room("Lab", 6)];
        (school, vec![group("g1", "5P", 3, None)])
    }

    fn parsed(text: &str) -> Result<String, String> {
        let (school, groups) = setup();
        Out::parse(text, &school, &groups).map(|out| out.to_string()).map_err(|e| e.to_string())
    }

    #[test]
    fn staff_rooms_and_students_are_out_for_a_block_or_a_day() {
        for (text, want) in [
            ("Teacher B@mon-1", "Teacher B@mon-1"),
            (" teacher b @ MON-1", "Teacher B@mon-1"),
            ("Lab@tuesday", "Lab@Tue"),
            ("g1-02@Fri", "g1-02@Fri"),
            ("k@home@Mon", "k@home@Mon"),
        ] {
            assert_eq!(parsed(text), Ok(want.to_owned()));
        }
    }

    #[test]
    fn an_unknown_name_is_told_the_known_ones() {
        let who = parsed("Teacher C@Mon").unwrap_err();
        assert!(who.contains("staff Teacher B, k@home; rooms Lab; students g1-01, g1-02, g1-03"), "{who}");
        let when = parsed("Lab@Sunday").unwrap_err();
        assert!(when.contains("the days Mon to Fri and the blocks mon-1, Tue 09:00"), "{when}");
        assert!(parsed("Lab").unwrap_err().contains("WHO@WHEN"));
        assert!(parsed("@Mon").unwrap_err().contains("WHO@WHEN"));
    }

    #[test]
    fn a_room_that_is_closed_in_every_block_seats_nobody() {
        let (school, groups) = setup();
        let out = |text| Out::parse(text, &school, &groups).unwrap();
        let one = school_without(&school, &[out("Lab@Mon")]);
        assert_eq!((one.rooms[0].blocks.as_slice(), one.rooms[0].seats), (&["Tue 09:00".to_owned()][..], 6));
        assert_eq!(school_without(&school, &[out("Lab@Mon"), out("Lab@Tue")]).rooms[0].seats, 0);
    }
}
