//! Floor and attendance of tiny weeks found by trying every choice of group, block, adult and room.
//!
//! It reads the setup by itself and uses the public check for nothing but the final look.

use super::random::{Extras, week};
use crate::roster::{Block, School};
use crate::rotation::{GroupToPlace, Member, Proof, Rotation, plan_rotation};
use proptest::prelude::*;
use std::collections::BTreeMap;

/// One way to hold one meeting.
#[derive(Debug, Clone, Copy)]
struct Held {
    group: usize,
    block: usize,
    adult: usize,
    room: Option<usize>,
}

struct Tried<'a> {
    school: &'a School,
    groups: &'a [GroupToPlace],
    /// Group and block pairs with the number of free members.
    pairs: Vec<(usize, usize, usize)>,
    held: Vec<Held>,
    /// Floor and attendance, the best so far.
    best: (usize, usize),
    counted: Vec<usize>,
}

fn n_free(school: &School, group: &GroupToPlace, block: &Block) -> usize {
    group.members.iter().filter(|m| !school.is_busy(&m.id, &m.homeroom, block)).count()
}

impl Tried<'_> {
    fn block(&self, idx: usize) -> &Block {
        &self.school.blocks[idx]
    }

    /// Minutes between two blocks of one day, negative where they overlap; `None` on different days.
    fn gap(&self, a: usize, b: usize) -> Option<i32> {
        let (a, b) = (self.block(a).time, self.block(b).time);
        let later = i32::from(a.start.0.max(b.start.0));
        (a.day == b.day).then(|| later - i32::from(a.end.0.min(b.end.0)))
    }

    fn allows(&self, new: Held, n_students: usize) -> bool {
        let limits = &self.school.limits;
        let overlaps = |h: &Held| self.gap(h.block, new.block).is_some_and(|gap| gap < 0);
        let walk = i32::from(limits.walk_minutes.unwrap_or(0));
        let too_near = |h: &Held| self.gap(h.block, new.block).is_some_and(|gap| gap < walk);
        let members = |h: &Held| &self.groups[h.group].members;
        let is_out = |m: &Member, h: &Held| !self.school.is_busy(&m.id, &m.homeroom, self.block(h.block));
        let shares = |h: &Held| members(h).iter().any(|m| members(&new).contains(m) && is_out(m, h) && is_out(m, &new));
        let clashes = |h: &Held| {
            (overlaps(h) && shares(h))
                || (overlaps(h)
                    && (h.group == new.group || h.adult == new.adult || (h.room.is_some() && h.room == new.room)))
                || (h.adult == new.adult && too_near(h))
        };
        let seats = new.room.is_none_or(|r| self.school.rooms[r].seats >= n_students);
        seats && !self.held.iter().any(clashes) && self.keeps_student_limits(new) && self.keeps_runs(new)
    }

    fn keeps_student_limits(&self, new: Held) -> bool {
        let all: Vec<Held> = self.held.iter().copied().chain([new]).collect();
        let limits = &self.school.limits;
        let mut a_day: BTreeMap<(&str, usize), usize> = BTreeMap::new();
        for h in &all {
            let (group, block) = (&self.groups[h.group], self.block(h.block));
            for m in group.members.iter().filter(|m| !self.school.is_busy(&m.id, &m.homeroom, block)) {
                *a_day.entry((m.id.as_str(), block.time.day as usize)).or_default() += 1;
            }
        }
        let pullouts = limits.max_pullouts.is_none_or(|most| a_day.values().all(|n| *n <= most));
        pullouts
            && limits.max_departures.is_none_or(|most| all.iter().all(|h| self.out_at_start(&all, h.block) <= most))
    }

    /// The largest number of students out of one homeroom when this block starts.
    fn out_at_start(&self, all: &[Held], start: usize) -> usize {
        let moment = self.block(start).time;
        let mut out: BTreeMap<&str, usize> = BTreeMap::new();
        for h in all {
            let (group, block) = (&self.groups[h.group], self.block(h.block));
            if block.time.day == moment.day && block.time.start <= moment.start && moment.start < block.time.end {
                for m in group.members.iter().filter(|m| !self.school.is_busy(&m.id, &m.homeroom, block)) {
                    *out.entry(&m.homeroom).or_default() += 1;
                }
            }
        }
        out.values().copied().max().unwrap_or(0)
    }

    fn keeps_runs(&self, new: Held) -> bool {
        let Some(most) = self.school.limits.max_in_a_row else { return true };
        let adult = &self.school.staff[new.adult];
        let time = |idx: usize| self.block(idx).time;
        let mut led: Vec<usize> =
            self.held.iter().chain([&new]).filter(|h| h.adult == new.adult).map(|h| h.block).collect();
        led.sort_by_key(|&b| (time(b).day, time(b).start));
        let is_break = |a: usize, b: usize| {
            self.school.blocks.iter().any(|m| {
                let free = adult.blocks.contains(&m.id) && m.time.day == time(a).day;
                free && m.time.start >= time(a).end && m.time.end <= time(b).start
            })
        };
        let is_run = |run: &[usize]| run.windows(2).all(|w| time(w[0]).day == time(w[1]).day && !is_break(w[0], w[1]));
        !led.windows(most + 1).any(is_run)
    }

    fn go(&mut self, idx: usize) {
        let Some(&(group, block, n_students)) = self.pairs.get(idx) else { return self.score() };
        self.go(idx + 1);
        let n_held = self.held.iter().filter(|h| h.group == group).count();
        if n_held >= self.groups[group].sessions_wanted.unwrap_or(usize::MAX) {
            return;
        }
        let id = &self.block(block).id;
        let adults: Vec<usize> = (0..self.school.staff.len())
            .filter(|&a| self.school.staff[a].leads && self.school.staff[a].blocks.contains(id))
            .collect();
        let free = |r: &usize| self.school.rooms[*r].blocks.is_empty() || self.school.rooms[*r].blocks.contains(id);
        let mut rooms: Vec<Option<usize>> = (0..self.school.rooms.len()).filter(free).map(Some).collect();
        if self.school.rooms.is_empty() {
            rooms.push(None);
        }
        for &adult in &adults {
            for &room in &rooms {
                let new = Held { group, block, adult, room };
                if self.allows(new, n_students) {
                    self.held.push(new);
                    self.go(idx + 1);
                    self.held.pop();
                }
            }
        }
    }

    fn score(&mut self) {
        let n_led = |g: usize| self.held.iter().filter(|h| h.group == g).count();
        let most = self.counted.iter().map(|&g| self.wants(g)).max().unwrap_or(0);
        let short = self.counted.iter().filter(|&&g| n_led(g) < self.wants(g)).map(|&g| n_led(g)).min();
        let attended = self.held.iter().map(|h| n_free(self.school, &self.groups[h.group], self.block(h.block))).sum();
        self.best = self.best.max((short.unwrap_or(most), attended));
    }

    fn wants(&self, group: usize) -> usize {
        self.groups[group].sessions_wanted.unwrap_or(usize::MAX).min(self.school.blocks.len())
    }
}

/// Floor and attendance by trying everything; groups without intensive support only.
fn by_trying(school: &School, groups: &[GroupToPlace]) -> (usize, usize) {
    let pairs = (0..groups.len()).flat_map(|g| (0..school.blocks.len()).map(move |b| (g, b)));
    let free = pairs.map(|(g, b)| (g, b, n_free(school, &groups[g], &school.blocks[b]))).filter(|p| p.2 > 0);
    let mut tried =
        Tried { school, groups, pairs: free.collect(), held: Vec::new(), best: (0, 0), counted: Vec::new() };
    tried.counted = (0..groups.len()).filter(|&g| tried.can_be_led(g)).collect();
    tried.go(0);
    tried.best
}

impl Tried<'_> {
    /// Whether the group could be led somewhere if it were alone.
    fn can_be_led(&self, group: usize) -> bool {
        let alone = [self.groups[group].clone()];
        let pairs = self.pairs.iter().filter(|p| p.0 == group).map(|&(_, b, n)| (0, b, n)).collect();
        let mut one =
            Tried { school: self.school, groups: &alone, pairs, held: Vec::new(), best: (0, 0), counted: Vec::new() };
        one.go(0);
        one.best.1 > 0
    }
}

fn compare(school: &School, groups: &[GroupToPlace]) -> Result<(), TestCaseError> {
    let Rotation { floor, attended, proof, .. } = plan_rotation(school, groups);
    prop_assert_eq!(proof, Proof::Optimal);
    prop_assert_eq!((floor, attended), by_trying(school, groups));
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(250))]

    #[test]
    fn floor_and_attendance_equal_an_exhaustive_search(seed in any::<u64>()) {
        let (mut school, mut groups) = week(seed, Extras::Everything, 4, 3);
        groups.iter_mut().for_each(|g| g.is_intensive = false);
        // The search tries every adult and room for every meeting, so both stay few.
        school.staff.truncate(2);
        school.rooms.truncate(2);
        compare(&school, &groups)?;
        let (mut plain, groups) = week(seed, Extras::Plain, 4, 3);
        plain.staff.truncate(2);
        plain.rooms.truncate(2);
        compare(&plain, &groups)?;
    }
}
