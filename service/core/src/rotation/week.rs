//! The week laid out by index: who is free when, which group may be led in which block, which times exclude each other.
//!
//! In: the setup and the groups. Out: [`Week`], with blocks in order of time and members, adults and rooms by position.
//! Rules it keeps: a busy student is not expected, and a group without a free member is no candidate
//! (`a_busy_member_is_not_expected`); an adult who assists is no leader (`an_assistant_never_counts_as_a_leader`).
//! Not here: any choice (`stages`).

use super::{GroupToPlace, Session};
use crate::roster::{Block, Day, School};

/// The setup and the groups by position.
#[derive(Debug)]
pub(super) struct Week<'a> {
    pub school: &'a School,
    pub groups: &'a [GroupToPlace],
    /// Blocks in order of day, start, end, id.
    pub blocks: Vec<&'a Block>,
    /// Members expected, by group and block, as positions in the group.
    pub expected: Vec<Vec<Vec<usize>>>,
    /// Positions of the adults who may lead, by block.
    pub leaders: Vec<Vec<usize>>,
    /// Positions of the rooms that are free, by block, fewest seats first.
    pub rooms: Vec<Vec<usize>>,
    /// Names of the staffed stations; empty where the setup lists none that is staffed.
    pub staffed_stations: Vec<&'a str>,
    /// Homerooms of all members, in order, without the unknown one.
    pub homerooms: Vec<&'a str>,
}

/// A group in a block, by position.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Meeting {
    pub block: usize,
    pub group: usize,
}

impl<'a> Week<'a> {
    pub fn new(school: &'a School, groups: &'a [GroupToPlace]) -> Self {
        let mut blocks: Vec<&Block> = school.blocks.iter().collect();
        blocks.sort_by(|a, b| {
            (a.time.day, a.time.start, a.time.end, &a.id).cmp(&(b.time.day, b.time.start, b.time.end, &b.id))
        });
        let expected = groups.iter().map(|g| blocks.iter().map(|b| free_members(school, g, b)).collect()).collect();
        let leaders =
            blocks.iter().map(|b| positions(&school.staff, |s| s.leads && s.blocks.contains(&b.id))).collect();
        let rooms = blocks.iter().map(|b| rooms_in(school, b)).collect();
        Week {
            school,
            groups,
            expected,
            leaders,
            rooms,
            staffed_stations: staffed_stations(school),
            homerooms: homerooms(groups),
            blocks,
        }
    }

    /// Students expected where this group meets in this block.
    pub fn n_expected(&self, meeting: Meeting) -> usize {
        self.expected[meeting.group][meeting.block].len()
    }

    /// How many of this homeroom leave for this meeting.
    pub fn n_leaving(&self, meeting: Meeting, homeroom: &str) -> usize {
        let members = &self.groups[meeting.group].members;
        self.expected[meeting.group][meeting.block].iter().filter(|&&m| members[m].homeroom == homeroom).count()
    }

    /// Whether the group could be led in this block if nothing else met all week.
    pub fn is_candidate(&self, meeting: Meeting) -> bool {
        let n_expected = self.n_expected(meeting);
        n_expected > 0
            && !self.staffed_stations.is_empty()
            && !self.leaders[meeting.block].is_empty()
            && self.has_seats(meeting.block, n_expected)
            && self.wants(meeting.group) > 0
            && self.school.limits.max_pullouts != Some(0)
            && self.keeps_departures(meeting)
    }

    /// Every meeting that could be led, in order of block, then group.
    pub fn candidates(&self) -> Vec<Meeting> {
        let all =
            (0..self.blocks.len()).flat_map(|block| (0..self.groups.len()).map(move |group| Meeting { block, group }));
        all.filter(|&m| self.is_candidate(m)).collect()
    }

    fn has_seats(&self, block: usize, n_students: usize) -> bool {
        self.school.rooms.is_empty() || self.rooms[block].iter().any(|&r| self.school.rooms[r].seats >= n_students)
    }

    fn keeps_departures(&self, meeting: Meeting) -> bool {
        let Some(limit) = self.school.limits.max_departures else { return true };
        self.homerooms_of(meeting.group).iter().all(|homeroom| self.n_leaving(meeting, homeroom) <= limit)
    }

    /// Homerooms of this group's members.
    pub fn homerooms_of(&self, group: usize) -> Vec<&'a str> {
        homerooms(&self.groups[group..=group])
    }

    /// Led sessions this group may get at most.
    pub fn wants(&self, group: usize) -> usize {
        self.groups[group].sessions_wanted.unwrap_or(usize::MAX).min(self.blocks.len())
    }

    /// Whether the two blocks overlap, or leave fewer than `lag` minutes between them, on one day.
    pub fn clash(&self, a: usize, b: usize, lag: u16) -> bool {
        let (a, b) = (self.blocks[a].time, self.blocks[b].time);
        a.day == b.day && a.start.0 < b.end.0.saturating_add(lag) && b.start.0 < a.end.0.saturating_add(lag)
    }

    /// Sets of these blocks of which only one may be used, when `lag` minutes must lie between two.
    ///
    /// Times with a lag are intervals of a line, so the sets that share a start cover every clash.
    pub fn cliques(&self, blocks: &[usize], lag: u16) -> Vec<Vec<usize>> {
        let mut sets: Vec<Vec<usize>> = Vec::new();
        for &first in blocks {
            let start = self.blocks[first].time.start;
            let here = |&b: &usize| {
                let time = self.blocks[b].time;
                time.day == self.day(first) && time.start <= start && start.0 < time.end.0.saturating_add(lag)
            };
            let set: Vec<usize> = blocks.iter().copied().filter(here).collect();
            if set.len() > 1 && !sets.contains(&set) {
                sets.push(set);
            }
        }
        sets
    }

    pub fn day(&self, block: usize) -> Day {
        self.blocks[block].time.day
    }

    /// Blocks in which this adult is free, in order of time.
    pub fn blocks_of_adult(&self, adult: usize) -> Vec<usize> {
        positions(&self.blocks, |b| self.school.staff[adult].blocks.contains(&b.id))
    }

    /// Minutes that must lie between two sessions of one adult.
    pub fn walk_minutes(&self) -> u16 {
        self.school.limits.walk_minutes.unwrap_or(0)
    }

    /// A session without adult and room.
    pub fn session(&self, meeting: Meeting, station: &str) -> Session {
        let (block, group) = (self.blocks[meeting.block], &self.groups[meeting.group]);
        let ids = self.expected[meeting.group][meeting.block].iter().map(|&m| group.members[m].id.as_str().to_owned());
        Session {
            block: block.id.clone(),
            time: block.time,
            group: group.id.clone(),
            station: station.to_owned(),
            staff: None,
            room: None,
            skill: group.skill.clone(),
            expected: ids.collect(),
        }
    }

    /// The sessions in order of time, then of the groups as given.
    pub fn in_order(&self, mut placed: Vec<(Meeting, Session)>) -> Vec<Session> {
        placed.sort_by_key(|(meeting, _)| *meeting);
        placed.into_iter().map(|(_, session)| session).collect()
    }
}

/// Positions of the elements for which the claim holds.
pub(super) fn positions<T>(all: &[T], holds: impl Fn(&T) -> bool) -> Vec<usize> {
    all.iter().enumerate().filter(|(_, element)| holds(element)).map(|(idx, _)| idx).collect()
}

fn free_members(school: &School, group: &GroupToPlace, block: &Block) -> Vec<usize> {
    positions(&group.members, |m| !school.is_busy(&m.id, &m.homeroom, block))
}

fn rooms_in(school: &School, block: &Block) -> Vec<usize> {
    let mut rooms = positions(&school.rooms, |r| r.blocks.is_empty() || r.blocks.contains(&block.id));
    rooms.sort_by_key(|&r| (school.rooms[r].seats, r));
    rooms
}

fn staffed_stations(school: &School) -> Vec<&str> {
    if school.stations.is_empty() {
        return vec![super::DEFAULT_STATION];
    }
    school.stations.iter().filter(|s| s.staffed).map(|s| s.name.as_str()).collect()
}

fn homerooms(groups: &[GroupToPlace]) -> Vec<&str> {
    let members = groups.iter().flat_map(|g| &g.members);
    let mut names: Vec<&str> = members.map(|m| m.homeroom.as_str()).filter(|h| !h.is_empty()).collect();
    names.sort_unstable();
    names.dedup();
    names
}
