//! A legal week for a school too large for the exact search: rules of thumb first, then improvement, no proof.
//!
//! In: the [`Week`] and the groups that count towards the floor. Out: [`Chosen`], marked as best found.
//! Steps: intensive groups a day at a time; then whoever has the fewest led sessions takes the block with the most
//! free members; then exchanges that even out the sessions or raise attendance, in a fixed order, a fixed number of
//! times. Rules it keeps: legal (`a_week_beyond_the_exact_size_says_best_found`); the same week twice.
//! Not here: the exact search (`stages`).

use super::Proof;
use super::limit_rows;
use super::stages::Chosen;
use super::week::{Meeting, Week};
use crate::roster::StudentId;
use std::collections::BTreeMap;

/// Rounds of improvement.
const N_ROUNDS: usize = 12;
/// Groups, those with the fewest sessions first, that may take another's place in a round.
const N_CONSIDERED: usize = 200;

/// A legal choice of led sessions.
pub(super) fn choose(week: &Week<'_>, counted: &[usize]) -> Chosen {
    let mut board = Board::new(week);
    board.serve_intensive();
    board.deal();
    for _ in 0..N_ROUNDS {
        if !board.improve() {
            break;
        }
    }
    board.chosen(counted)
}

/// Adult and room of a meeting.
type Place = (usize, Option<usize>);

struct Board<'w, 'a> {
    week: &'w Week<'a>,
    candidates: Vec<Vec<Meeting>>,
    adult_sets: Vec<Vec<(Vec<usize>, usize)>>,
    placed: BTreeMap<Meeting, Place>,
    n_led: Vec<usize>,
    /// Blocks of each student's sessions.
    students: BTreeMap<&'a StudentId, Vec<usize>>,
}

impl<'w, 'a> Board<'w, 'a> {
    fn new(week: &'w Week<'a>) -> Self {
        let mut candidates = vec![Vec::new(); week.groups.len()];
        week.candidates().into_iter().for_each(|m| candidates[m.group].push(m));
        Board {
            week,
            candidates,
            adult_sets: (0..week.school.staff.len()).map(|adult| limit_rows::adult_sets(week, adult)).collect(),
            placed: BTreeMap::new(),
            n_led: vec![0; week.groups.len()],
            students: BTreeMap::new(),
        }
    }

    fn ids(&self, meeting: Meeting) -> Vec<&'a StudentId> {
        let members = &self.week.groups[meeting.group].members;
        self.week.expected[meeting.group][meeting.block].iter().map(|&m| &members[m].id).collect()
    }

    /// Adult and room for the meeting, if every limit allows it.
    fn place_for(&self, meeting: Meeting) -> Option<Place> {
        let is_open = !self.placed.contains_key(&meeting) && self.n_led[meeting.group] < self.week.wants(meeting.group);
        let leaders = if is_open { self.week.leaders[meeting.block].as_slice() } else { &[] };
        let adult = leaders.iter().copied().find(|&adult| self.may_lead(adult, meeting.block))?;
        if !self.are_free(meeting) || !self.keeps_departures(meeting) {
            return None;
        }
        if self.week.school.rooms.is_empty() {
            return Some((adult, None));
        }
        let seats = self.week.n_expected(meeting);
        let fits =
            |&room: &usize| self.week.school.rooms[room].seats >= seats && self.is_room_free(room, meeting.block);
        self.week.rooms[meeting.block].iter().copied().find(fits).map(|room| (adult, Some(room)))
    }

    fn are_free(&self, meeting: Meeting) -> bool {
        let same_group = |m: &Meeting| m.group == meeting.group && self.week.clash(m.block, meeting.block, 0);
        let limit = self.week.school.limits.max_pullouts.unwrap_or(usize::MAX);
        let is_free = |id: &&StudentId| {
            let blocks = self.students.get(*id).map_or(&[][..], Vec::as_slice);
            let on_day = blocks.iter().filter(|&&b| self.week.day(b) == self.week.day(meeting.block)).count();
            on_day < limit && blocks.iter().all(|&b| !self.week.clash(b, meeting.block, 0))
        };
        !self.own(meeting.group).any(|m| same_group(&m)) && self.ids(meeting).iter().all(is_free)
    }

    fn own(&self, group: usize) -> impl Iterator<Item = Meeting> + '_ {
        self.candidates[group].iter().copied().filter(|m| self.placed.contains_key(m))
    }

    fn keeps_departures(&self, meeting: Meeting) -> bool {
        let Some(limit) = self.week.school.limits.max_departures else { return true };
        let homerooms = self.week.homerooms_of(meeting.group);
        let is_under_way = |block: usize, start: usize| {
            self.week.clash(block, start, 0) && self.week.blocks[block].time.start <= self.week.blocks[start].time.start
        };
        let starts = (0..self.week.blocks.len()).filter(|&start| is_under_way(meeting.block, start));
        starts.into_iter().all(|start| {
            let out: Vec<Meeting> =
                self.placed.keys().copied().filter(|m| is_under_way(m.block, start)).chain([meeting]).collect();
            homerooms.iter().all(|h| out.iter().map(|m| self.week.n_leaving(*m, h)).sum::<usize>() <= limit)
        })
    }

    fn may_lead(&self, adult: usize, block: usize) -> bool {
        let leads_in = |b: usize| self.placed.iter().any(|(m, place)| m.block == b && place.0 == adult);
        let has_room = |(blocks, most): &(Vec<usize>, usize)| {
            !blocks.contains(&block) || blocks.iter().filter(|&&b| leads_in(b)).count() < *most
        };
        !leads_in(block) && self.adult_sets[adult].iter().all(has_room)
    }

    fn is_room_free(&self, room: usize, block: usize) -> bool {
        !self.placed.iter().any(|(m, place)| place.1 == Some(room) && self.week.clash(m.block, block, 0))
    }

    fn place(&mut self, meeting: Meeting, place: Place) {
        self.placed.insert(meeting, place);
        self.n_led[meeting.group] += 1;
        for id in self.ids(meeting) {
            self.students.entry(id).or_default().push(meeting.block);
        }
    }

    fn remove(&mut self, meeting: Meeting) {
        self.placed.remove(&meeting);
        self.n_led[meeting.group] -= 1;
        for id in self.ids(meeting) {
            if let Some(blocks) = self.students.get_mut(id) {
                blocks.retain(|&b| b != meeting.block);
            }
        }
    }

    fn try_place(&mut self, meeting: Meeting) -> bool {
        let place = self.place_for(meeting);
        if let Some(place) = place {
            self.place(meeting, place);
        }
        place.is_some()
    }

    /// Day by day, one led session for each intensive group.
    fn serve_intensive(&mut self) {
        let groups: Vec<usize> = self.by_need(|board, g| board.week.groups[g].is_intensive);
        for day in crate::roster::Day::ALL {
            for &group in &groups {
                let on_day: Vec<Meeting> =
                    self.candidates[group].iter().copied().filter(|m| self.week.day(m.block) == day).collect();
                self.place_first(on_day);
            }
        }
    }

    /// Rounds in which each group, those with the fewest sessions first, takes one more.
    fn deal(&mut self) {
        loop {
            let mut groups = self.by_need(|_, _| true);
            groups.sort_by_key(|&g| self.n_led[g]);
            let before = self.placed.len();
            for group in groups {
                self.place_first(self.candidates[group].clone());
            }
            if self.placed.len() == before {
                return;
            }
        }
    }

    /// Takes the first possible of these, most members free first.
    fn place_first(&mut self, mut meetings: Vec<Meeting>) {
        meetings.sort_by_key(|m| (std::cmp::Reverse(self.week.n_expected(*m)), m.block));
        for meeting in meetings {
            if self.try_place(meeting) {
                return;
            }
        }
    }

    fn by_need(&self, holds: impl Fn(&Self, usize) -> bool) -> Vec<usize> {
        let mut groups: Vec<usize> = (0..self.week.groups.len()).filter(|&g| holds(self, g)).collect();
        let need = |g: usize| self.week.groups[g].need;
        groups.sort_by(|&a, &b| {
            need(b).total_cmp(&need(a)).then(self.candidates[a].len().cmp(&self.candidates[b].len())).then(a.cmp(&b))
        });
        groups
    }

    /// One round of exchanges; whether any was made.
    fn improve(&mut self) -> bool {
        let placed: Vec<Meeting> = self.placed.keys().copied().collect();
        let mut groups = self.by_need(|_, _| true);
        groups.sort_by_key(|&g| self.n_led[g]);
        groups.truncate(N_CONSIDERED);
        let mut is_better = false;
        for old in placed {
            if self.week.groups[old.group].is_intensive {
                continue;
            }
            let takes = groups.iter().any(|&group| self.exchange(old, Meeting { block: old.block, group }));
            is_better |= takes;
        }
        is_better
    }

    /// Gives the place of one group to another if the week is better for it.
    fn exchange(&mut self, old: Meeting, new: Meeting) -> bool {
        if old.group == new.group || !self.week.is_candidate(new) {
            return false;
        }
        let Some(&place) = self.placed.get(&old) else { return false };
        let (n_old, n_new) = (self.n_led[old.group], self.n_led[new.group]);
        let gains = self.week.n_expected(new) > self.week.n_expected(old);
        if n_new + 2 <= n_old || (gains && n_new < n_old) {
            self.remove(old);
            if self.try_place(new) {
                return true;
            }
            self.place(old, place);
        }
        self.move_over(old, new, place)
    }

    /// The new group takes the block, and the old one another block, if both can.
    fn move_over(&mut self, old: Meeting, new: Meeting, place: Place) -> bool {
        self.remove(old);
        if self.try_place(new) {
            for other in self.candidates[old.group].clone() {
                let n_lost = self.week.n_expected(old).saturating_sub(self.week.n_expected(other));
                if other != old && n_lost < self.week.n_expected(new) && self.try_place(other) {
                    return true;
                }
            }
            self.remove(new);
        }
        self.place(old, place);
        false
    }

    fn chosen(self, counted: &[usize]) -> Chosen {
        let in_block = |block: usize| self.placed.iter().filter(move |(m, _)| m.block == block);
        let blocks = 0..self.week.blocks.len();
        let served = |g: &usize| self.n_led[*g] >= self.week.wants(*g);
        let short = counted.iter().filter(|g| !served(g)).map(|&g| self.n_led[g]).min();
        let most = counted.iter().map(|&g| self.n_led[g]).max().unwrap_or(0);
        Chosen {
            led: self.placed.keys().copied().collect(),
            adults: blocks.clone().map(|b| in_block(b).map(|(_, place)| place.0).collect()).collect(),
            rooms: blocks.map(|b| self.sorted_rooms(in_block(b).filter_map(|(_, place)| place.1).collect())).collect(),
            floor: short.unwrap_or(most),
            attended: self.placed.keys().map(|&m| self.week.n_expected(m)).sum(),
            proof: Proof::BestFound,
            comfort: Proof::BestFound,
        }
    }

    fn sorted_rooms(&self, mut rooms: Vec<usize>) -> Vec<usize> {
        rooms.sort_by_key(|&r| (self.week.school.rooms[r].seats, r));
        rooms
    }
}
