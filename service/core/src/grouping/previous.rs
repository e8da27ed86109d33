//! Last week's groups in this week's: who may change the seat, and which number a group carries.
//!
//! In:  the groups of the plan before, with their numbers. Out: a home for every student who had a seat and whose group is still one
//! of the pool; how many seats may change; numbers for this week's groups.
//! A group belongs to the pool in which most of its students sit now; where there are fewer groups than before, the smallest go.
//! A student may change the seat for a gain where two sittings asked the skill that is needed first (of who lacks nothing: any skill).
//! Keeps: `few_seats_change_inside_a_cycle`, `groups_keep_their_numbers` (`properties`).
//! Source: home groups for a cycle, at most a quarter of the seats changed in a week and only on evidence in two sittings: common
//! practice, no source.

use super::needs::Needs;
use super::pools::Pool;
use super::seating::{SeatedGroup, SeatingInput};
use crate::finding::Finding;
use crate::movement::{continued_groups, kept_numbers};
use crate::numeric::Homes;
use crate::roster::StudentId;
use crate::scores::MarkState;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// Sittings that must have asked a skill before a seat changes for it.
const ENOUGH_SITTINGS: usize = 2;

/// The groups of the plan before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PreviousGroups {
    /// Monday of its week.
    pub week: Date,
    /// Its groups.
    pub groups: Vec<PreviousGroup>,
}

/// One of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PreviousGroup {
    /// The number it carried.
    pub number: usize,
    /// Who sat in it.
    pub members: Vec<StudentId>,
}

/// Where everyone sat before, by student index.
pub(super) struct PreviousSeats {
    /// Group before, as an index into the groups of the plan before.
    group_of: BTreeMap<usize, usize>,
    /// The pool that continues each group.
    pool_of: BTreeMap<usize, usize>,
    may_move: Vec<bool>,
    swap_share: f64,
}

impl PreviousSeats {
    pub(super) fn new(input: &SeatingInput<'_>, needs: &Needs, pools: &[Pool], swap_share: f64) -> Option<Self> {
        let previous = input.previous?;
        let mut group_of = BTreeMap::new();
        for (g, group) in previous.groups.iter().enumerate() {
            let known = group.members.iter().filter_map(|id| input.table.student_index(id));
            group_of.extend(known.map(|s| (s, g)));
        }
        let mut counts: BTreeMap<usize, BTreeMap<usize, usize>> = BTreeMap::new();
        for (p, pool) in pools.iter().enumerate() {
            for g in pool.seated.iter().filter_map(|s| group_of.get(s)) {
                *counts.entry(*g).or_default().entry(p).or_default() += 1;
            }
        }
        let most = |pools: &BTreeMap<usize, usize>| {
            pools.iter().max_by(|a, b| a.1.cmp(b.1).then(b.0.cmp(a.0))).map_or(0, |(pool, _)| *pool)
        };
        let pool_of = counts.iter().map(|(g, pools)| (*g, most(pools))).collect();
        let may_move = (0..input.table.n_students()).map(|s| has_evidence(input, needs, s)).collect();
        Some(PreviousSeats { group_of, pool_of, may_move, swap_share })
    }

    /// Homes of a pool's units, which are lists of students.
    pub(super) fn homes(&self, pool: usize, units: &[Vec<usize>], n_groups: usize) -> Homes {
        let labels = self.labels(pool, units, n_groups);
        let (mut n_before, mut n_away) = (0, 0);
        let mut of_unit = Vec::with_capacity(units.len());
        for unit in units {
            let before: Vec<usize> = unit.iter().filter_map(|s| self.group_of.get(s).copied()).collect();
            let homes: Vec<usize> = before.iter().filter_map(|g| labels.get(g).copied()).collect();
            n_before += before.len();
            n_away += before.len() - homes.len();
            of_unit.push(homes);
        }
        let may_move = units.iter().map(|unit| unit.iter().all(|s| self.may_move[*s])).collect();
        let n_may_change = (self.swap_share * n_before as f64 + 1e-9).floor() as usize;
        Homes { of_unit, may_move, n_may_change: n_may_change.saturating_sub(n_away) }
    }

    /// The place that each group of the plan before has in this pool: the largest stay, in their order.
    fn labels(&self, pool: usize, units: &[Vec<usize>], n_groups: usize) -> BTreeMap<usize, usize> {
        let mut sizes: BTreeMap<usize, usize> = BTreeMap::new();
        for g in units.iter().flatten().filter_map(|s| self.group_of.get(s)) {
            if self.pool_of.get(g) == Some(&pool) {
                *sizes.entry(*g).or_default() += 1;
            }
        }
        let mut by_size: Vec<usize> = sizes.keys().copied().collect();
        by_size.sort_by_key(|g| (std::cmp::Reverse(sizes[g]), *g));
        by_size.truncate(n_groups);
        by_size.sort_unstable();
        by_size.into_iter().enumerate().map(|(label, g)| (g, label)).collect()
    }
}

/// Whether two sittings asked what the student needs first.
fn has_evidence(input: &SeatingInput<'_>, needs: &Needs, student: usize) -> bool {
    let skills = &input.profiles.skills;
    let items: Vec<usize> = match needs.first_target(student, skills) {
        Some(k) => skills.items_of[k].clone(),
        None => (0..input.table.n_items()).collect(),
    };
    let is_scored = |j: &&usize| input.table.mark(student, **j).state == MarkState::Scored;
    let sittings = items.iter().filter(is_scored).map(|&j| input.table.items()[j].assessment);
    sittings.filter(|a| input.profiles.timing.counts(*a)).collect::<BTreeSet<_>>().len() >= ENOUGH_SITTINGS
}

/// Sorts the groups by the numbers that they carry, and gives these.
pub(super) fn numbered(groups: &mut Vec<SeatedGroup>, input: &SeatingInput<'_>) -> Vec<usize> {
    let Some(previous) = input.previous else { return (1..=groups.len()).collect() };
    let ids = |g: &SeatedGroup| g.members.iter().map(|&s| input.table.students()[s].id.clone()).collect();
    let now: Vec<Vec<StudentId>> = groups.iter().map(ids).collect();
    let before: Vec<Vec<StudentId>> = previous.groups.iter().map(|g| g.members.clone()).collect();
    let numbers_before: Vec<usize> = previous.groups.iter().map(|g| g.number).collect();
    let numbers = kept_numbers(&continued_groups(&before, &now), &numbers_before);
    let mut order: Vec<(usize, SeatedGroup)> = numbers.into_iter().zip(groups.drain(..)).collect();
    order.sort_by_key(|(number, _)| *number);
    let (numbers, sorted): (Vec<usize>, Vec<SeatedGroup>) = order.into_iter().unzip();
    *groups = sorted;
    numbers
}

/// How many seats changed, in words.
pub(super) fn seats_changed(
    groups: &[SeatedGroup],
    numbers: &[usize],
    input: &SeatingInput<'_>,
    swap_share: f64,
) -> Option<Finding> {
    let previous = input.previous?;
    let number_before = |s: usize| {
        let id = &input.table.students()[s].id;
        previous.groups.iter().find(|g| g.members.contains(id)).map(|g| g.number)
    };
    let seats = groups.iter().zip(numbers).flat_map(|(g, number)| g.members.iter().map(move |&s| (s, *number)));
    let both: Vec<(usize, usize)> = seats.filter_map(|(s, now)| Some((number_before(s)?, now))).collect();
    let n_changed = both.iter().filter(|(before, now)| before != now).count();
    let message = format!(
        "{n_changed} of the {} children who had a seat in the week of {} sit in another group now",
        both.len(),
        previous.week
    );
    if swap_share >= 1.0 {
        return Some(Finding::note(
            "seats-changed",
            format!("{message}."),
            "a new cycle or the setup leaves seats free to change",
        ));
    }
    let most = (swap_share * both.len() as f64 + 1e-9).floor() as usize;
    let message = format!("{message}; inside a cycle at most {most} should.");
    Some(if n_changed <= most {
        Finding::note("seats-changed", message, "the others keep their group, even where another one would fit better")
    } else {
        Finding::warning("more-seats-changed", message, "sizes, pairs or those who came and went left no other way")
    })
}
