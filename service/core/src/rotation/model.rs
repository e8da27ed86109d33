//! The week as a 0/1 program: a switch for each group in each block, and for each adult or room that must choose.
//!
//! In: the [`Week`]. Out: [`Model`]: the program with every hard limit of led sessions, and which switch is which.
//! An adult or room gets a switch a block only where its blocks exclude each other (they overlap, the walk between
//! them is too long, or a run of sessions would be too long); elsewhere it is a number in the row.
//! Rules it keeps: groups and rooms of a block can be matched exactly if for each size of group there are at least
//! as many rooms of that size or more (Hall's condition for nested choices), so rooms need no switch a group
//! (`a_large_group_takes_the_large_room`). Not here: wishes (`stages`), limits a school may leave out (`limit_rows`).

use super::limit_rows;
use super::program::{Limit, Program};
use super::week::{Meeting, Week, positions};

/// The program and the meaning of its switches.
#[derive(Debug, Clone)]
pub(super) struct Model {
    pub program: Program,
    /// Meetings that have a switch; the switch is the position.
    pub meetings: Vec<Meeting>,
    /// Switch of an adult in a block, where there is one.
    pub adult_switches: Vec<Vec<Option<usize>>>,
    /// Switch of a room in a block, where there is one.
    pub room_switches: Vec<Vec<Option<usize>>>,
}

/// An adult who is not there yet and would lead in one block of the week only.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Spare(pub usize);

impl Model {
    pub fn new(week: &Week<'_>, spare: Option<Spare>) -> Self {
        let mut meetings = week.candidates();
        // Ties go to the switch added first: earlier blocks, then those furthest behind.
        meetings.sort_by(|a, b| {
            let need = |m: &Meeting| week.groups[m.group].need;
            a.block.cmp(&b.block).then(need(b).total_cmp(&need(a))).then(a.group.cmp(&b.group))
        });
        let mut program = Program::default();
        for _ in &meetings {
            program.add_switch();
        }
        let adult_switches = adult_switches(week, spare, &mut program);
        let room_switches = room_switches(week, &mut program);
        let mut model = Model { program, meetings, adult_switches, room_switches };
        model.add_group_rows(week);
        model.add_adult_rows(week, spare);
        model.add_room_rows(week);
        limit_rows::add(week, &mut model);
        model
    }

    /// Switches of the meetings for which the claim holds, each counted once.
    pub fn terms(&self, holds: impl Fn(Meeting) -> bool) -> Vec<(usize, i64)> {
        positions(&self.meetings, |m| holds(*m)).into_iter().map(|switch| (switch, 1)).collect()
    }

    fn add_group_rows(&mut self, week: &Week<'_>) {
        for group in 0..week.groups.len() {
            let wanted = Limit::AtMost(week.wants(group) as i64);
            self.program.add_row(self.terms(|m| m.group == group), wanted);
            let blocks: Vec<usize> = self.meetings.iter().filter(|m| m.group == group).map(|m| m.block).collect();
            for clique in week.cliques(&blocks, 0) {
                let row = self.terms(|m| m.group == group && clique.contains(&m.block));
                self.program.add_row(row, Limit::AtMost(1));
            }
        }
    }

    /// As many led sessions in a block as adults who lead then; and what each adult cannot do twice.
    fn add_adult_rows(&mut self, week: &Week<'_>, spare: Option<Spare>) {
        for block in 0..week.blocks.len() {
            let mut row = self.terms(|m| m.block == block);
            let (with, without): (Vec<usize>, Vec<usize>) =
                week.leaders[block].iter().partition(|&&adult| self.adult_switches[adult][block].is_some());
            row.extend(with.iter().filter_map(|&adult| self.adult_switches[adult][block]).map(|switch| (switch, -1)));
            self.program.add_row(row, Limit::AtMost(without.len() as i64));
        }
        for adult in 0..week.school.staff.len() {
            let sets = limit_rows::adult_sets(week, adult);
            for (blocks, most) in sets {
                let row = switches_in(&self.adult_switches[adult], &blocks);
                self.program.add_row(row, Limit::AtMost(most as i64));
            }
        }
        if let Some(Spare(adult)) = spare {
            let all: Vec<usize> = (0..week.blocks.len()).collect();
            self.program.add_row(switches_in(&self.adult_switches[adult], &all), Limit::AtMost(1));
        }
    }

    /// For each number of students, no more groups of at least that size than rooms that seat it.
    fn add_room_rows(&mut self, week: &Week<'_>) {
        if week.school.rooms.is_empty() {
            return;
        }
        for block in 0..week.blocks.len() {
            let mut sizes: Vec<usize> =
                self.meetings.iter().filter(|m| m.block == block).map(|m| week.n_expected(*m)).collect();
            sizes.sort_unstable();
            sizes.dedup();
            for size in sizes {
                self.add_size_row(week, block, size);
            }
        }
        for room in 0..week.school.rooms.len() {
            let blocks = positions(&self.room_switches[room], Option::is_some);
            for clique in week.cliques(&blocks, 0) {
                self.program.add_row(switches_in(&self.room_switches[room], &clique), Limit::AtMost(1));
            }
        }
    }

    fn add_size_row(&mut self, week: &Week<'_>, block: usize, size: usize) {
        let mut row = self.terms(|m| m.block == block && week.n_expected(m) >= size);
        let mut n_rooms = 0;
        for &room in week.rooms[block].iter().filter(|&&room| week.school.rooms[room].seats >= size) {
            match self.room_switches[room][block] {
                Some(switch) => row.push((switch, -1)),
                None => n_rooms += 1,
            }
        }
        self.program.add_row(row, Limit::AtMost(n_rooms));
    }
}

fn switches_in(by_block: &[Option<usize>], blocks: &[usize]) -> Vec<(usize, i64)> {
    blocks.iter().filter_map(|&block| by_block[block]).map(|switch| (switch, 1)).collect()
}

fn adult_switches(week: &Week<'_>, spare: Option<Spare>, program: &mut Program) -> Vec<Vec<Option<usize>>> {
    let of_adult = |adult: usize| {
        let must_choose = spare == Some(Spare(adult)) || !limit_rows::adult_sets(week, adult).is_empty();
        switches(week.blocks.len(), |block| must_choose && week.leaders[block].contains(&adult), program)
    };
    (0..week.school.staff.len()).map(of_adult).collect()
}

fn room_switches(week: &Week<'_>, program: &mut Program) -> Vec<Vec<Option<usize>>> {
    let of_room = |room: usize| {
        let blocks = positions(&week.rooms, |rooms| rooms.contains(&room));
        let must_choose = !week.cliques(&blocks, 0).is_empty();
        switches(week.blocks.len(), |block| must_choose && blocks.contains(&block), program)
    };
    (0..week.school.rooms.len()).map(of_room).collect()
}

fn switches(n_blocks: usize, has_one: impl Fn(usize) -> bool, program: &mut Program) -> Vec<Option<usize>> {
    (0..n_blocks).map(|block| has_one(block).then(|| program.add_switch())).collect()
}
