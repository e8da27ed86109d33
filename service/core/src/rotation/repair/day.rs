//! Who leads which group in which room on one day, as near as can be to what was printed for it.
//!
//! In:  the [`Week`] as it is while somebody is out, the day, what was printed for it ([`Printed`]), and how often each group is
//! led on the other days. Out: [`Settled`], and whether it is proved.
//! The wishes in order, none at the cost of one before it: (1) intensive groups keep their led sessions, (2) as many led
//! sessions as can be are kept, (3) those of groups that have none on another day, (4) the fewest sessions change at all,
//! (5) a change of room rather than of adult, of adult rather than of time, (6) the furthest behind keep theirs.
//! Rules it keeps: no group gets more than was printed for it; the fewest changes are proved (`a_repair_changes_as_little_as_trying_everything`).
//! Not here: practice (`practice`), what changed in words (`change`).

use super::super::limit_rows;
use super::super::program::{Answer, Limit, Program};
use super::super::stages::MOST_SWITCHES;
use super::super::week::{Meeting, Week};
use crate::roster::{Day, StudentId};
use crate::rotation::Proof;
use std::collections::BTreeMap;

/// Relaxations allowed for one wish.
const N_STEPS: usize = 400;

/// A led session as it was printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Printed {
    pub meeting: Meeting,
    /// `None` where the setup no longer knows the adult.
    pub adult: Option<usize>,
    pub room: Option<usize>,
}

/// A led session as it is to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Settled {
    pub meeting: Meeting,
    pub adult: usize,
    pub room: Option<usize>,
}

/// The led sessions of the day.
///
/// `n_elsewhere` counts the led sessions of each group on other days; `practice_rooms` are the rooms, by block, that printed
/// practice uses, which a led session takes last.
pub(super) fn settle(
    week: &Week<'_>,
    day: Day,
    printed: &[Printed],
    n_elsewhere: &[usize],
    practice_rooms: &[(usize, usize)],
) -> (Vec<Settled>, Proof) {
    let mut choice = Choice::new(week, day, printed);
    let mut on = choice.start(n_elsewhere);
    let mut proof = Proof::Optimal;
    if choice.program.n_switches() > MOST_SWITCHES {
        return (choice.settled(&on), Proof::BestFound);
    }
    let same = choice.add_same_switches(&mut on);
    for weights in choice.wishes(n_elsewhere, &same, practice_rooms) {
        if weights.iter().all(|weight| *weight == 0) {
            continue;
        }
        match choice.program.highest(&weights, Some(&on), N_STEPS) {
            Answer::Found { on: better, total, bound } => {
                on = better;
                if total < bound {
                    proof = Proof::BestFound;
                }
                let terms = weights.iter().copied().enumerate().filter(|(_, weight)| *weight != 0).collect();
                choice.program.add_row(terms, Limit::AtLeast(total));
            }
            Answer::Impossible | Answer::Unknown => proof = Proof::BestFound,
        }
    }
    (choice.settled(&on), proof)
}

/// A switch for an adult, or for a room, at a meeting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Use {
    meeting: Meeting,
    /// Position of the adult or room.
    what: usize,
    switch: usize,
}

struct Choice<'w, 'a> {
    week: &'w Week<'a>,
    printed: &'w [Printed],
    meetings: Vec<Meeting>,
    program: Program,
    adults: Vec<Use>,
    rooms: Vec<Use>,
}

impl<'w, 'a> Choice<'w, 'a> {
    fn new(week: &'w Week<'a>, day: Day, printed: &'w [Printed]) -> Self {
        let may_meet = |m: &Meeting| week.day(m.block) == day && printed.iter().any(|p| p.meeting.group == m.group);
        let meetings: Vec<Meeting> = week.candidates().into_iter().filter(may_meet).collect();
        let (mut program, mut adults, mut rooms) = (Program::default(), Vec::new(), Vec::new());
        for &meeting in &meetings {
            for &what in &week.leaders[meeting.block] {
                adults.push(Use { meeting, what, switch: program.add_switch() });
            }
        }
        for &meeting in &meetings {
            let seats = |room: &&usize| week.school.rooms[**room].seats >= week.n_expected(meeting);
            for &what in week.rooms[meeting.block].iter().filter(seats) {
                rooms.push(Use { meeting, what, switch: program.add_switch() });
            }
        }
        let mut choice = Choice { week, printed, meetings, program, adults, rooms };
        choice.add_meeting_rows();
        choice.add_adult_rows();
        choice.add_room_rows();
        choice.add_student_rows(day);
        choice
    }

    fn leads(&self, holds: impl Fn(&Use) -> bool) -> Vec<(usize, i64)> {
        self.adults.iter().filter(|u| holds(u)).map(|u| (u.switch, 1)).collect()
    }

    fn seats(&self, holds: impl Fn(&Use) -> bool) -> Vec<(usize, i64)> {
        self.rooms.iter().filter(|u| holds(u)).map(|u| (u.switch, 1)).collect()
    }

    fn n_printed(&self, group: usize) -> usize {
        self.printed.iter().filter(|p| p.meeting.group == group).count()
    }

    /// One adult and one room for a meeting, and no more meetings than were printed.
    fn add_meeting_rows(&mut self) {
        for meeting in self.meetings.clone() {
            self.program.add_row(self.leads(|u| u.meeting == meeting), Limit::AtMost(1));
            if !self.week.school.rooms.is_empty() {
                let mut row = self.seats(|u| u.meeting == meeting);
                row.extend(self.leads(|u| u.meeting == meeting).into_iter().map(|(switch, _)| (switch, -1)));
                self.program.add_row(row.clone(), Limit::AtMost(0));
                self.program.add_row(row, Limit::AtLeast(0));
            }
        }
        for group in 0..self.week.groups.len() {
            let most = self.n_printed(group).min(self.week.wants(group));
            self.program.add_row(self.leads(|u| u.meeting.group == group), Limit::AtMost(most as i64));
            let blocks: Vec<usize> = self.meetings.iter().filter(|m| m.group == group).map(|m| m.block).collect();
            for clique in self.week.cliques(&blocks, 0) {
                let row = self.leads(|u| u.meeting.group == group && clique.contains(&u.meeting.block));
                self.program.add_row(row, Limit::AtMost(1));
            }
        }
    }

    fn add_adult_rows(&mut self) {
        for adult in 0..self.week.school.staff.len() {
            for block in 0..self.week.blocks.len() {
                let row = self.leads(|u| u.what == adult && u.meeting.block == block);
                self.program.add_row(row, Limit::AtMost(1));
            }
            for (blocks, most) in limit_rows::adult_sets(self.week, adult) {
                let row = self.leads(|u| u.what == adult && blocks.contains(&u.meeting.block));
                self.program.add_row(row, Limit::AtMost(most as i64));
            }
        }
    }

    fn add_room_rows(&mut self) {
        for room in 0..self.week.school.rooms.len() {
            let mut blocks: Vec<usize> =
                self.rooms.iter().filter(|u| u.what == room).map(|u| u.meeting.block).collect();
            blocks.dedup();
            let single = blocks.iter().map(|&block| vec![block]);
            for clique in single.chain(self.week.cliques(&blocks, 0)) {
                let row = self.seats(|u| u.what == room && clique.contains(&u.meeting.block));
                self.program.add_row(row, Limit::AtMost(1));
            }
        }
    }

    /// One place at a time, pull-outs of the day, departures at each start.
    fn add_student_rows(&mut self, day: Day) {
        let mut of_student: BTreeMap<&StudentId, Vec<Meeting>> = BTreeMap::new();
        for &meeting in &self.meetings {
            for &member in &self.week.expected[meeting.group][meeting.block] {
                of_student.entry(&self.week.groups[meeting.group].members[member].id).or_default().push(meeting);
            }
        }
        let mut rows = Vec::new();
        for meetings in of_student.values() {
            if let Some(limit) = self.week.school.limits.max_pullouts {
                rows.push((self.leads(|u| meetings.contains(&u.meeting)), limit));
            }
            if meetings.iter().any(|m| m.group != meetings[0].group) {
                for start in meetings.iter().map(|m| m.block) {
                    rows.push((self.leads(|u| meetings.contains(&u.meeting) && self.is_under_way(u, start)), 1));
                }
            }
        }
        if let Some(limit) = self.week.school.limits.max_departures {
            rows.extend(self.departure_rows(day).into_iter().map(|row| (row, limit)));
        }
        rows.dedup();
        for (row, most) in rows {
            self.program.add_row(row, Limit::AtMost(most as i64));
        }
    }

    fn departure_rows(&self, day: Day) -> Vec<Vec<(usize, i64)>> {
        let starts = (0..self.week.blocks.len()).filter(|&b| self.week.day(b) == day);
        let leaving = |homeroom: &str, start: usize| -> Vec<(usize, i64)> {
            let here = self.adults.iter().filter(|u| self.is_under_way(u, start));
            here.map(|u| (u.switch, self.week.n_leaving(u.meeting, homeroom) as i64)).filter(|t| t.1 > 0).collect()
        };
        starts.flat_map(|start| self.week.homerooms.iter().map(move |h| leaving(h, start))).collect()
    }

    fn is_under_way(&self, used: &Use, start: usize) -> bool {
        let block = used.meeting.block;
        self.week.clash(block, start, 0) && self.week.blocks[block].time.start <= self.week.blocks[start].time.start
    }

    fn lead(&self, meeting: Meeting, adult: usize) -> Option<usize> {
        self.adults.iter().find(|u| u.meeting == meeting && u.what == adult).map(|u| u.switch)
    }

    fn seat(&self, meeting: Meeting, room: usize) -> Option<usize> {
        self.rooms.iter().find(|u| u.meeting == meeting && u.what == room).map(|u| u.switch)
    }

    /// The switches that a printed session stands for, if all of it is still there.
    fn switches_of(&self, printed: &Printed) -> Option<Vec<usize>> {
        let lead = self.lead(printed.meeting, printed.adult?)?;
        if self.week.school.rooms.is_empty() {
            return Some(vec![lead]);
        }
        Some(vec![lead, self.seat(printed.meeting, printed.room?)?])
    }

    /// What is left of the printed day, then each lost session wherever it fits, intensive groups first.
    fn start(&self, n_elsewhere: &[usize]) -> Vec<bool> {
        let mut on = vec![false; self.program.n_switches()];
        let mut lost: Vec<&Printed> = Vec::new();
        for printed in self.printed {
            match self.switches_of(printed) {
                Some(switches) if self.turn_on(&mut on, &switches) => {}
                _ => lost.push(printed),
            }
        }
        lost.sort_by(|a, b| {
            let group = |p: &Printed| &self.week.groups[p.meeting.group];
            let key = |p: &Printed| (!group(p).is_intensive, n_elsewhere[p.meeting.group]);
            key(a).cmp(&key(b)).then(group(b).need.total_cmp(&group(a).need)).then(a.meeting.cmp(&b.meeting))
        });
        for printed in lost {
            let is_placed = self.place(&mut on, printed);
            if !is_placed && self.week.groups[printed.meeting.group].is_intensive {
                self.place_instead(&mut on, printed, n_elsewhere);
            }
        }
        on
    }

    fn turn_on(&self, on: &mut [bool], switches: &[usize]) -> bool {
        if switches.iter().any(|&s| on[s]) {
            return false;
        }
        switches.iter().for_each(|&s| on[s] = true);
        let holds = self.program.holds(on);
        if !holds {
            switches.iter().for_each(|&s| on[s] = false);
        }
        holds
    }

    /// In its own block where that can be, else in another.
    fn place(&self, on: &mut [bool], printed: &Printed) -> bool {
        let mut options: Vec<Meeting> =
            self.meetings.iter().copied().filter(|m| m.group == printed.meeting.group).collect();
        options.sort_by_key(|m| (m.block != printed.meeting.block, m.block));
        let mut pairs = Vec::new();
        for meeting in options {
            let mut adults: Vec<&Use> = self.adults.iter().filter(|u| u.meeting == meeting).collect();
            adults.sort_by_key(|u| Some(u.what) != printed.adult);
            let mut rooms: Vec<Option<&Use>> = self.rooms.iter().filter(|u| u.meeting == meeting).map(Some).collect();
            rooms.sort_by_key(|u| u.map(|u| u.what) != printed.room);
            if self.week.school.rooms.is_empty() {
                rooms = vec![None];
            }
            for adult in adults {
                pairs.extend(rooms.iter().map(|r| r.map_or(vec![adult.switch], |r| vec![adult.switch, r.switch])));
            }
        }
        pairs.iter().any(|switches| self.turn_on(on, switches))
    }

    /// An intensive group takes the place of another, of those led most often elsewhere first.
    fn place_instead(&self, on: &mut [bool], printed: &Printed, n_elsewhere: &[usize]) {
        let mut others: Vec<Meeting> = self.settled(on).into_iter().map(|s| s.meeting).collect();
        others.retain(|m| !self.week.groups[m.group].is_intensive);
        others.sort_by_key(|m| (std::cmp::Reverse(n_elsewhere[m.group]), *m));
        for other in others {
            let before = on.to_vec();
            let of_other = self.adults.iter().chain(&self.rooms).filter(|u| u.meeting == other);
            of_other.for_each(|u| on[u.switch] = false);
            if self.place(on, printed) {
                return;
            }
            on.copy_from_slice(&before);
        }
    }

    /// For each printed session a switch that can be on only if nothing of it changes.
    fn add_same_switches(&mut self, on: &mut Vec<bool>) -> Vec<usize> {
        let all: Vec<Vec<usize>> = self.printed.iter().filter_map(|p| self.switches_of(p)).collect();
        let mut same = Vec::new();
        for switches in all {
            let switch = self.program.add_switch();
            on.push(switches.iter().all(|&s| on[s]));
            for part in switches {
                self.program.add_row(vec![(switch, 1), (part, -1)], Limit::AtMost(0));
            }
            same.push(switch);
        }
        same
    }

    /// The weights of each wish, in order.
    fn wishes(&self, n_elsewhere: &[usize], same: &[usize], practice_rooms: &[(usize, usize)]) -> Vec<Vec<i64>> {
        let group = |u: &Use| &self.week.groups[u.meeting.group];
        let led = |weight: &dyn Fn(&Use) -> i64| {
            let mut weights = vec![0; self.program.n_switches()];
            self.adults.iter().for_each(|u| weights[u.switch] = weight(u));
            weights
        };
        let mut unchanged = vec![0; self.program.n_switches()];
        same.iter().for_each(|&switch| unchanged[switch] = 1);
        let mut alike = led(&|u| self.likeness_of_adult(u));
        self.rooms.iter().for_each(|u| alike[u.switch] = self.likeness_of_room(u, practice_rooms));
        vec![
            led(&|u| i64::from(group(u).is_intensive)),
            led(&|_| 1),
            led(&|u| i64::from(n_elsewhere[u.meeting.group] == 0)),
            unchanged,
            alike,
            led(&|u| (group(u).need.clamp(0.0, 1.0) * 100.0).round() as i64),
        ]
    }

    fn likeness_of_adult(&self, used: &Use) -> i64 {
        let at = self.printed.iter().find(|p| p.meeting == used.meeting);
        let is_own = |p: &Printed| p.meeting.group == used.meeting.group && p.adult == Some(used.what);
        match at {
            Some(p) => 8 + if p.adult == Some(used.what) { 4 } else { 0 },
            None => i64::from(self.printed.iter().any(is_own)),
        }
    }

    /// A room that practice uses then is taken last.
    fn likeness_of_room(&self, used: &Use, practice_rooms: &[(usize, usize)]) -> i64 {
        let is_same = self.printed.iter().any(|p| p.meeting == used.meeting && p.room == Some(used.what));
        let clashes = |(block, room): &(usize, usize)| {
            *room == used.what && (*block == used.meeting.block || self.week.clash(*block, used.meeting.block, 0))
        };
        match (is_same, practice_rooms.iter().any(clashes)) {
            (true, _) => 2,
            (false, false) => 0,
            (false, true) => -1,
        }
    }

    fn settled(&self, on: &[bool]) -> Vec<Settled> {
        let room = |meeting: Meeting| self.rooms.iter().find(|u| u.meeting == meeting && on[u.switch]).map(|u| u.what);
        let mut settled: Vec<Settled> = self
            .adults
            .iter()
            .filter(|u| on[u.switch])
            .map(|u| Settled { meeting: u.meeting, adult: u.what, room: room(u.meeting) })
            .collect();
        settled.sort_unstable();
        settled
    }
}
