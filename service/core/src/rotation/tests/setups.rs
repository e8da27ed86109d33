//! Small setups and groups, invented, for tests of the rotation.
//! Every builder gives the plainest legal thing; a test changes what it is about.

use crate::roster::{Block, Day, Minutes, Room, School, StaffMember, Station, StudentId, TimeSpan};
use crate::rotation::{GroupToPlace, Member};

/// `Mon 09:00` becomes a block of that name.
pub(in crate::rotation) fn block(when: &str, n_minutes: u16) -> Block {
    let (day, start) = when.split_once(' ').unwrap();
    let start = Minutes::parse(start).unwrap();
    let time = TimeSpan::new(Day::parse(day).unwrap(), start, Minutes(start.0 + n_minutes)).unwrap();
    Block { id: when.to_owned(), time, homerooms: Vec::new() }
}

pub(in crate::rotation) fn staff(name: &str, blocks: &[&str]) -> StaffMember {
    StaffMember { name: name.to_owned(), blocks: blocks.iter().map(|&b| b.to_owned()).collect(), leads: true }
}

pub(in crate::rotation) fn assistant(name: &str, blocks: &[&str]) -> StaffMember {
    StaffMember { leads: false, ..staff(name, blocks) }
}

pub(in crate::rotation) fn room(name: &str, seats: usize) -> Room {
    Room { name: name.to_owned(), seats, blocks: Vec::new() }
}

pub(in crate::rotation) fn station(name: &str, unstaffed_capacity: Option<usize>) -> Station {
    Station { name: name.to_owned(), staffed: unstaffed_capacity.is_none(), capacity: unstaffed_capacity.unwrap_or(1) }
}

pub(in crate::rotation) fn school(blocks: Vec<Block>, staff: Vec<StaffMember>) -> School {
    School { blocks, staff, ..School::default() }
}

/// A group of `n` members of one homeroom.
pub(in crate::rotation) fn group(id: &str, homeroom: &str, n: usize, wanted: Option<usize>) -> GroupToPlace {
    mixed(id, &[(homeroom, n)], wanted)
}

/// A group with members of several homerooms; ids are `g1-01`, `g1-02`, ….
pub(in crate::rotation) fn mixed(id: &str, from: &[(&str, usize)], wanted: Option<usize>) -> GroupToPlace {
    let homerooms = from.iter().flat_map(|&(homeroom, n)| std::iter::repeat_n(homeroom, n));
    let member = |(idx, homeroom): (usize, &str)| Member {
        id: StudentId::parse(&format!("{id}-{:02}", idx + 1)).unwrap(),
        homeroom: homeroom.to_owned(),
    };
    GroupToPlace {
        id: id.to_owned(),
        members: homerooms.enumerate().map(member).collect(),
        need: 0.5,
        is_intensive: false,
        sessions_wanted: wanted,
        skill: "5.NF.B.5".to_owned(),
    }
}

pub(in crate::rotation) fn intensive(id: &str, homeroom: &str, n: usize, wanted: usize) -> GroupToPlace {
    GroupToPlace { is_intensive: true, ..group(id, homeroom, n, Some(wanted)) }
}
