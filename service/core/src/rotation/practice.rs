//! Practice at unstaffed stations, in blocks in which a group is not led.
//!
//! In: the [`Week`] and its led sessions. Out: the same list with practice sessions added.
//! Rules it keeps: never twice running for a group, over the whole week (`practice_is_never_twice_running`); no student
//! is in practice only (`nobody_has_practice_only`), and no intensive child on any day (`an_intensive_group_practises_only_where_it_is_led`); rooms, departures and pull-outs as for led sessions; an assistant
//! who is free holds a station, one session at a time (`an_assistant_holds_one_station_at_a_time`).
//! Groups with the least practice so far come first, then the furthest behind; a rule of thumb, not a proved best.
//! Not here: led sessions (`stages`); children's tasks there (`tickets`, group cards).

use super::Session;
use super::week::{Meeting, Week};
use crate::roster::{Station, StudentId};
use std::collections::BTreeSet;

/// Adds practice sessions where every limit allows them.
pub(super) fn add(week: &Week<'_>, sessions: &mut Vec<(Meeting, Session)>) {
    let taught: BTreeSet<&StudentId> = sessions.iter().flat_map(|(m, _)| expected(week, *m)).collect();
    let mut board = Board { week, taught, placed: std::mem::take(sessions), n_led: 0 };
    board.n_led = board.placed.len();
    for block in 0..week.blocks.len() {
        for station in week.school.stations.iter().filter(|s| !s.staffed) {
            board.fill(block, station);
        }
    }
    *sessions = board.placed;
}

/// Of the practice printed for a day, what still may be, each with its room and its assistant where those are free.
///
/// `led` are the led sessions of the whole week, `settled` the practice of its other days.
pub(super) fn keep(
    week: &Week<'_>,
    led: Vec<(Meeting, Session)>,
    settled: Vec<(Meeting, Session)>,
    printed: Vec<(Meeting, Session)>,
) -> Vec<(Meeting, Session)> {
    let taught: BTreeSet<&StudentId> = led.iter().flat_map(|(m, _)| expected(week, *m)).collect();
    let n_led = led.len();
    let mut board = Board { week, taught, placed: led.into_iter().chain(settled).collect(), n_led };
    let first = board.placed.len();
    for (meeting, session) in printed {
        board.keep(meeting, session);
    }
    board.placed.split_off(first)
}

fn expected<'a>(week: &Week<'a>, meeting: Meeting) -> impl Iterator<Item = &'a StudentId> + use<'a> {
    let members = &week.groups[meeting.group].members;
    week.expected[meeting.group][meeting.block].clone().into_iter().map(move |m| &members[m].id)
}

struct Board<'w, 'a> {
    week: &'w Week<'a>,
    /// Students with at least one led session.
    taught: BTreeSet<&'a StudentId>,
    /// Led sessions first, then practice in order of time.
    placed: Vec<(Meeting, Session)>,
    n_led: usize,
}

impl Board<'_, '_> {
    fn fill(&mut self, block: usize, station: &Station) {
        let mut order: Vec<usize> = (0..self.week.groups.len()).collect();
        order.sort_by(|&a, &b| {
            let need = |g: usize| self.week.groups[g].need;
            self.n_practices(a).cmp(&self.n_practices(b)).then(need(b).total_cmp(&need(a))).then(a.cmp(&b))
        });
        let mut n_left = self.room_at(block, station);
        for group in order {
            let meeting = Meeting { block, group };
            if n_left > 0 && self.may_practise(meeting) {
                n_left -= self.place(meeting, station);
            }
        }
    }

    /// Places left at the station: blocks that overlap share it.
    fn room_at(&self, block: usize, station: &Station) -> usize {
        let there = self.clashing(block, 0).filter(|(_, s)| s.station == station.name).count();
        station.capacity.saturating_sub(there)
    }

    fn n_practices(&self, group: usize) -> usize {
        self.placed[self.n_led..].iter().filter(|(m, _)| m.group == group).count()
    }

    /// Sessions in blocks that overlap this one, or leave fewer than `lag` minutes.
    fn clashing(&self, block: usize, lag: u16) -> impl Iterator<Item = &(Meeting, Session)> {
        self.placed.iter().filter(move |(m, _)| self.week.clash(m.block, block, lag))
    }

    fn may_practise(&self, meeting: Meeting) -> bool {
        let here: Vec<&StudentId> = expected(self.week, meeting).collect();
        !here.is_empty()
            && here.iter().all(|id| self.taught.contains(id))
            && self.clashing(meeting.block, 0).all(|(m, _)| m.group != meeting.group)
            && self.clashing(meeting.block, 0).all(|(m, _)| expected(self.week, *m).all(|id| !here.contains(&id)))
            && self.is_led_before(meeting)
            && self.is_led_that_day(meeting)
            && self.keeps_pullouts(meeting, &here)
            && self.keeps_departures(meeting)
    }

    /// Places a printed session again if it still may be.
    fn keep(&mut self, meeting: Meeting, printed: Session) {
        let is_open =
            self.week.school.stations.iter().any(|s| s.name == printed.station && self.room_at(meeting.block, s) > 0);
        if !is_open || !self.may_practise(meeting) || self.is_practice_after(meeting) {
            return;
        }
        let room = printed.room.filter(|name| self.is_room_free(meeting, name)).or_else(|| self.free_room(meeting));
        if room.is_none() && !self.week.school.rooms.is_empty() {
            return;
        }
        let assistant = printed.staff.filter(|name| self.is_assistant_free(meeting.block, name));
        let staff = assistant.or_else(|| self.free_assistant(meeting.block));
        self.placed.push((meeting, Session { room, staff, ..self.week.session(meeting, &printed.station) }));
    }

    /// Whether the group's next session is practice that stays.
    fn is_practice_after(&self, meeting: Meeting) -> bool {
        let own =
            self.placed.iter().enumerate().filter(|(_, (m, _))| m.group == meeting.group && m.block > meeting.block);
        own.min_by_key(|(_, (m, _))| m.block).is_some_and(|(idx, _)| idx >= self.n_led)
    }

    /// An intensive group practises only on days on which it is led, by each child who is there.
    fn is_led_that_day(&self, meeting: Meeting) -> bool {
        let day = self.week.day(meeting.block);
        let led: BTreeSet<&StudentId> = self.placed[..self.n_led]
            .iter()
            .filter(|(m, _)| m.group == meeting.group && self.week.day(m.block) == day)
            .flat_map(|(m, _)| expected(self.week, *m))
            .collect();
        !self.week.groups[meeting.group].is_intensive || expected(self.week, meeting).all(|id| led.contains(id))
    }

    /// Whether the session before this one is led, and the group has a led session at all.
    fn is_led_before(&self, meeting: Meeting) -> bool {
        let mut own = self.placed.iter().enumerate().filter(|(_, (m, _))| m.group == meeting.group);
        let is_led_at_all = own.clone().any(|(idx, _)| idx < self.n_led);
        let before = own.by_ref().filter(|(_, (m, _))| m.block < meeting.block).max_by_key(|(_, (m, _))| m.block);
        is_led_at_all && before.is_none_or(|(idx, _)| idx < self.n_led)
    }

    fn keeps_pullouts(&self, meeting: Meeting, here: &[&StudentId]) -> bool {
        let Some(limit) = self.week.school.limits.max_pullouts else { return true };
        let day = self.week.day(meeting.block);
        let n_out = |id: &StudentId| {
            let on_day = self.placed.iter().filter(|(m, _)| self.week.day(m.block) == day);
            on_day.filter(|(m, _)| expected(self.week, *m).any(|other| other == id)).count()
        };
        here.iter().all(|id| n_out(id) < limit)
    }

    fn keeps_departures(&self, meeting: Meeting) -> bool {
        let Some(limit) = self.week.school.limits.max_departures else { return true };
        let starts = (0..self.week.blocks.len()).filter(|&b| self.covers(meeting.block, b));
        let homerooms = self.week.homerooms_of(meeting.group);
        starts.into_iter().all(|start| {
            homerooms.iter().all(|homeroom| {
                let out = self.placed.iter().filter(|(m, _)| self.covers(m.block, start));
                let n_out: usize = out.map(|(m, _)| self.week.n_leaving(*m, homeroom)).sum();
                n_out + self.week.n_leaving(meeting, homeroom) <= limit
            })
        })
    }

    /// Whether the block is under way when the other one starts.
    fn covers(&self, block: usize, start: usize) -> bool {
        self.week.clash(block, start, 0) && self.week.blocks[block].time.start <= self.week.blocks[start].time.start
    }

    /// Places the session if a room is free; returns how many were placed.
    fn place(&mut self, meeting: Meeting, station: &Station) -> usize {
        let room = self.free_room(meeting);
        if room.is_none() && !self.week.school.rooms.is_empty() {
            return 0;
        }
        let mut session = self.week.session(meeting, &station.name);
        session.room = room;
        session.staff = self.free_assistant(meeting.block);
        self.placed.push((meeting, session));
        1
    }

    fn free_room(&self, meeting: Meeting) -> Option<String> {
        let rooms = self.week.rooms[meeting.block].iter().map(|&r| &self.week.school.rooms[r]);
        rooms.into_iter().find(|r| self.is_room_free(meeting, &r.name)).map(|r| r.name.clone())
    }

    /// Whether the room is open then, seats the group and holds nobody else.
    fn is_room_free(&self, meeting: Meeting, name: &str) -> bool {
        let seats = self.week.n_expected(meeting);
        let mut rooms = self.week.rooms[meeting.block].iter().map(|&r| &self.week.school.rooms[r]);
        rooms.any(|r| r.name == name && r.seats >= seats)
            && self.clashing(meeting.block, 0).all(|(_, s)| s.room.as_deref() != Some(name))
    }

    fn free_assistant(&self, block: usize) -> Option<String> {
        let mut assistants = self.week.school.staff.iter().map(|s| &s.name);
        assistants.find(|name| self.is_assistant_free(block, name)).cloned()
    }

    /// Whether this is an assistant who is there then and has time to walk.
    fn is_assistant_free(&self, block: usize, name: &str) -> bool {
        let id = &self.week.blocks[block].id;
        self.week.school.staff.iter().any(|s| s.name == name && !s.leads && s.blocks.contains(id))
            && self.clashing(block, self.week.walk_minutes()).all(|(_, s)| s.staff.as_deref() != Some(name))
    }
}
