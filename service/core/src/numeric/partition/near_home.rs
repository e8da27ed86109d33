//! A partition that stays near one that there was: few units change their group, and only such as may.
//!
//! In:  units, sizes, an aim, the group in which each member sat before ([`Homes`]), how many members may sit elsewhere.
//! Out: a group for every unit, or `None` where no legal partition was found near home.
//! Steps: 1. everyone at home; 2. who cannot stay for pairs or sizes stands up, and who stands is seated where it costs least;
//!        3. groups that are too small are filled; 4. moves and swaps that gain most for each changed seat, as long as they may.
//! Keeps: sizes and pairs hold, nobody who must stay moves for a gain, and no more than the allowed members sit elsewhere, unless steps
//! 2 and 3 left no other way (`few_seats_change_and_limits_hold`). Not here: what a home is (`grouping`).

use super::start::is_legal;
use super::{Capacity, GroupAim, Units};

/// A change must gain more than this, so that rounding never turns in circles.
const LEAST_GAIN: f64 = 1e-9;
/// Rounds of changes after which it stops even if something still helps.
const MOST_ROUNDS: usize = 100;

/// Where everyone sat before.
#[derive(Debug)]
pub struct Homes {
    /// For each unit the groups in which its members sat before; members without one are left out.
    pub of_unit: Vec<Vec<usize>>,
    /// For each unit whether it may move for a gain.
    pub may_move: Vec<bool>,
    /// Members who may sit elsewhere than before.
    pub n_may_change: usize,
}

impl Homes {
    /// Members of a unit who would sit elsewhere than before.
    fn n_away(&self, u: usize, group: usize) -> usize {
        self.of_unit[u].iter().filter(|h| **h != group).count()
    }

    /// The group in which most of a unit's members sat.
    fn home(&self, u: usize) -> Option<usize> {
        let count = |g: usize| self.of_unit[u].iter().filter(|h| **h == g).count();
        self.of_unit[u].iter().copied().max_by_key(|&g| (count(g), std::cmp::Reverse(g)))
    }

    /// Whether a unit may change for a gain: it has evidence, or it had no seat.
    fn is_free(&self, u: usize) -> bool {
        self.may_move[u] || self.of_unit[u].is_empty()
    }
}

/// Groups units near their homes. See the module header.
#[must_use]
pub fn partition_near_home<A: GroupAim>(
    units: &Units,
    capacity: Capacity,
    aim: &A,
    homes: &Homes,
) -> Option<Vec<usize>> {
    let mut seats = Seats::at_home(units, capacity, aim, homes);
    seats.part_those_kept_apart();
    seats.thin_out();
    seats.seat_the_standing()?;
    seats.fill_up()?;
    let labels: Option<Vec<usize>> = seats.labels.iter().copied().collect();
    if !is_legal(units, capacity, &labels?) {
        return None;
    }
    for _ in 0..MOST_ROUNDS {
        if !seats.round() {
            break;
        }
    }
    seats.labels.into_iter().collect()
}

/// A unit that goes to a group, and the one that comes back in a swap.
#[derive(Clone, Copy)]
struct Change {
    unit: usize,
    to: usize,
    back: Option<usize>,
    score: f64,
}

struct Seats<'a, A> {
    units: &'a Units,
    capacity: Capacity,
    aim: &'a A,
    homes: &'a Homes,
    labels: Vec<Option<usize>>,
    members: Vec<Vec<usize>>,
    costs: Vec<f64>,
}

impl<'a, A: GroupAim> Seats<'a, A> {
    fn at_home(units: &'a Units, capacity: Capacity, aim: &'a A, homes: &'a Homes) -> Self {
        let labels: Vec<Option<usize>> =
            (0..units.sizes.len()).map(|u| homes.home(u).filter(|g| *g < capacity.n_groups)).collect();
        let mut members = vec![Vec::new(); capacity.n_groups];
        labels.iter().enumerate().filter_map(|(u, g)| Some((u, (*g)?))).for_each(|(u, g)| members[g].push(u));
        let mut seats = Seats { units, capacity, aim, homes, labels, members, costs: vec![0.0; capacity.n_groups] };
        (0..capacity.n_groups).for_each(|g| seats.costs[g] = seats.cost(g, None, None));
        seats
    }

    fn n_members(&self, g: usize) -> usize {
        self.members[g].iter().map(|&u| self.units.sizes[u]).sum()
    }

    /// Cost of a group without one unit and with another.
    fn cost(&self, g: usize, without: Option<usize>, with: Option<usize>) -> f64 {
        let mut points = vec![0.0; self.units.points.ncols()];
        let mut worths = vec![0.0; self.units.worths.ncols()];
        let (mut n, mut square) = (0, 0.0);
        for u in self.members[g].iter().copied().filter(|u| Some(*u) != without).chain(with) {
            n += self.units.sizes[u];
            square += self.units.squares[u];
            points.iter_mut().zip(self.units.points.row(u)).for_each(|(s, x)| *s += x);
            worths.iter_mut().zip(self.units.worths.row(u)).for_each(|(s, x)| *s += x);
        }
        let length: f64 = points.iter().map(|x| x * x).sum();
        let spread = if n == 0 { 0.0 } else { square - length / n as f64 };
        self.aim.spread_weight() * spread - self.aim.worth(&worths)
    }

    fn is_parted(&self, u: usize, g: usize, without: Option<usize>) -> bool {
        self.units.apart[u].iter().all(|v| self.labels[*v] != Some(g) || Some(*v) == without)
    }

    fn sit(&mut self, u: usize, group: Option<usize>) {
        let touched = [self.labels[u], group];
        if let Some(from) = self.labels[u] {
            self.members[from].retain(|m| *m != u);
        }
        if let Some(to) = group {
            self.members[to].push(u);
        }
        self.labels[u] = group;
        for g in touched.into_iter().flatten() {
            self.costs[g] = self.cost(g, None, None);
        }
    }

    /// Of two who must not share a group the one who may rather move stands up.
    fn part_those_kept_apart(&mut self) {
        for u in 0..self.labels.len() {
            for v in self.units.apart[u].clone() {
                if self.labels[u].is_some() && self.labels[u] == self.labels[v] {
                    let key = |x: usize| (!self.homes.is_free(x), self.homes.of_unit[x].len());
                    let stands = if key(v) <= key(u) { v } else { u };
                    self.sit(stands, None);
                }
            }
        }
    }

    /// Who costs most beside the others stands up where a group is too large.
    fn thin_out(&mut self) {
        for g in 0..self.members.len() {
            while self.n_members(g) > self.capacity.max_size {
                let key = |u: &usize| (!self.homes.is_free(*u), self.homes.of_unit[*u].len());
                let loss = |u: &usize| self.cost(g, Some(*u), None);
                let out = self.members[g].iter().copied();
                let Some(u) = out.min_by(|a, b| key(a).cmp(&key(b)).then(loss(a).total_cmp(&loss(b))).then(a.cmp(b)))
                else {
                    break;
                };
                self.sit(u, None);
            }
        }
    }

    /// Seats who stands, the hardest first; groups that are too small come first.
    fn seat_the_standing(&mut self) -> Option<()> {
        let mut standing: Vec<usize> = (0..self.labels.len()).filter(|u| self.labels[*u].is_none()).collect();
        standing.sort_by_key(|&u| (std::cmp::Reverse((self.units.sizes[u], self.units.apart[u].len())), u));
        for u in standing {
            let fits = |g: &usize| {
                self.n_members(*g) + self.units.sizes[u] <= self.capacity.max_size && self.is_parted(u, *g, None)
            };
            let key = |g: &usize| (self.n_members(*g) >= self.capacity.min_size, self.homes.n_away(u, *g));
            let rise = |g: &usize| self.cost(*g, None, Some(u)) - self.costs[*g];
            let open = (0..self.members.len()).filter(fits);
            let to = open.min_by(|a, b| key(a).cmp(&key(b)).then(rise(a).total_cmp(&rise(b))).then(a.cmp(b)))?;
            self.sit(u, Some(to));
        }
        Some(())
    }

    /// Fills groups that are too small from those that can spare somebody.
    fn fill_up(&mut self) -> Option<()> {
        for g in 0..self.members.len() {
            while self.n_members(g) < self.capacity.min_size {
                let can_come = |u: &usize| {
                    let size = self.units.sizes[*u];
                    let spares =
                        self.labels[*u].is_some_and(|h| h != g && self.n_members(h) >= self.capacity.min_size + size);
                    spares && self.n_members(g) + size <= self.capacity.max_size && self.is_parted(*u, g, None)
                };
                let key = |u: &usize| (self.homes.n_away(*u, g), !self.homes.is_free(*u));
                let rise = |u: &usize| self.rise(*u, g, None);
                let all = (0..self.labels.len()).filter(can_come);
                let u = all.min_by(|a, b| key(a).cmp(&key(b)).then(rise(a).total_cmp(&rise(b))).then(a.cmp(b)))?;
                self.sit(u, Some(g));
            }
        }
        Some(())
    }

    /// What a change costs more.
    fn rise(&self, u: usize, to: usize, back: Option<usize>) -> f64 {
        let Some(from) = self.labels[u] else { return f64::INFINITY };
        self.cost(from, Some(u), back) + self.cost(to, back, Some(u)) - self.costs[from] - self.costs[to]
    }

    /// The score of a change that may be made and gains: the gain for each seat more that is not as before.
    fn score(&self, u: usize, to: usize, back: Option<usize>) -> Option<f64> {
        let from = self.labels[u]?;
        let more = |u: usize, from: usize, to: usize| {
            self.homes.n_away(u, to).cast_signed() - self.homes.n_away(u, from).cast_signed()
        };
        let n_more = more(u, from, to) + back.map_or(0, |v| more(v, to, from));
        let n_away: usize = self.labels.iter().enumerate().filter_map(|(u, g)| Some(self.homes.n_away(u, (*g)?))).sum();
        if n_more > 0 && n_away.cast_signed() + n_more > self.homes.n_may_change.cast_signed() {
            return None;
        }
        let size_back = back.map_or(0, |v| self.units.sizes[v]);
        let sizes = [
            (self.n_members(from) + size_back).checked_sub(self.units.sizes[u])?,
            (self.n_members(to) + self.units.sizes[u]).checked_sub(size_back)?,
        ];
        let is_legal = sizes.iter().all(|n| (self.capacity.min_size..=self.capacity.max_size).contains(n))
            && self.is_parted(u, to, back)
            && back.is_none_or(|v| self.is_parted(v, from, Some(u)));
        let gain = -self.rise(u, to, back);
        (is_legal && gain > LEAST_GAIN).then(|| gain / (1 + n_more.max(0)) as f64)
    }

    fn best_change(&self, unit: usize) -> Option<Change> {
        let from = self.labels[unit]?;
        let others = (0..self.members.len()).filter(|g| *g != from);
        let changes = others.flat_map(|to| {
            let swaps = self.members[to].iter().copied().filter(|v| self.homes.is_free(*v)).map(Some);
            std::iter::once(None).chain(swaps).map(move |back| (to, back))
        });
        changes
            .filter_map(|(to, back)| Some(Change { unit, to, back, score: self.score(unit, to, back)? }))
            .max_by(|a, b| a.score.total_cmp(&b.score).then((b.to, b.back).cmp(&(a.to, a.back))))
    }

    /// Makes the changes that gain most, each pair of groups once; says whether anything changed.
    fn round(&mut self) -> bool {
        let free = (0..self.labels.len()).filter(|u| self.homes.is_free(*u));
        let mut changes: Vec<Change> = free.filter_map(|u| self.best_change(u)).collect();
        changes.sort_by(|a, b| b.score.total_cmp(&a.score).then(a.unit.cmp(&b.unit)));
        let mut touched = vec![false; self.members.len()];
        let mut any = false;
        for Change { unit, to, back, .. } in changes {
            let Some(from) = self.labels[unit].filter(|g| !touched[*g] && !touched[to]) else { continue };
            if self.score(unit, to, back).is_none() {
                continue;
            }
            self.sit(unit, Some(to));
            if let Some(v) = back {
                self.sit(v, Some(from));
            }
            (touched[from], touched[to], any) = (true, true, true);
        }
        any
    }
}

#[cfg(test)]
mod tests {
    use super::super::SumOfSquares;
    use super::*;
    use ndarray::Array2;
    use proptest::prelude::*;

    fn units_of(values: &[f64], apart: (usize, usize)) -> Units {
        let n = values.len();
        let points = Array2::from_shape_fn((n, 1), |(i, _)| values[i]);
        let mut pairs = vec![Vec::new(); n];
        if apart.0 != apart.1 {
            pairs[apart.0].push(apart.1);
            pairs[apart.1].push(apart.0);
        }
        let squares = values.iter().map(|v| v * v).collect();
        Units { sizes: vec![1; n], worths: Array2::zeros((n, 0)), points, squares, apart: pairs }
    }

    fn homes(of: &[usize], n_may_change: usize) -> Homes {
        Homes { of_unit: of.iter().map(|g| vec![*g]).collect(), may_move: vec![true; of.len()], n_may_change }
    }

    const CAPACITY: Capacity = Capacity { n_groups: 2, min_size: 2, max_size: 4 };

    #[test]
    fn the_best_changes_come_first_as_far_as_they_may() {
        // The last of the first group belongs to the second and the first of the second to the first.
        let units = units_of(&[0.0, 0.1, 0.2, 9.0, 0.3, 9.1, 9.2, 9.3], (0, 0));
        let before = [0, 0, 0, 0, 1, 1, 1, 1];
        let labels = |n| partition_near_home(&units, CAPACITY, &SumOfSquares, &homes(&before, n)).unwrap();
        assert_eq!(labels(1), before, "both groups are full, so one change alone cannot be");
        assert_eq!(labels(2), [0, 0, 0, 1, 0, 1, 1, 1]);
        let mut held = homes(&before, 2);
        held.may_move[3] = false;
        assert_eq!(partition_near_home(&units, CAPACITY, &SumOfSquares, &held).unwrap()[3], 0);
    }

    #[test]
    fn who_is_new_is_seated_and_a_group_that_lost_its_members_is_filled() {
        let units = units_of(&[0.0, 0.1, 0.2, 0.3, 9.0, 8.0], (0, 0));
        let mut now = homes(&[0, 0, 0, 0, 1, 1], 0);
        now.of_unit[5] = Vec::new();
        let labels = partition_near_home(&units, CAPACITY, &SumOfSquares, &now).unwrap();
        assert_eq!(labels, [0, 0, 0, 0, 1, 1]);
        now.of_unit[4] = Vec::new();
        assert_eq!(partition_near_home(&units, CAPACITY, &SumOfSquares, &now).unwrap(), labels);
    }

    proptest! {
        #[test]
        fn few_seats_change_and_limits_hold(
            values in prop::collection::vec(0.0..1.0_f64, 12),
            turn in 0_usize..12,
            may in prop::collection::vec(any::<bool>(), 12),
            n_may_change in 0_usize..6,
            pair in (0_usize..12, 0_usize..12),
        ) {
            let units = units_of(&values, pair);
            let capacity = Capacity { n_groups: 4, min_size: 2, max_size: 4 };
            let before: Vec<usize> = (0..12).map(|i| (i + turn) % 4).collect();
            let mut now = homes(&before, n_may_change);
            now.may_move = may;
            let labels = partition_near_home(&units, capacity, &SumOfSquares, &now).unwrap();
            prop_assert!(is_legal(&units, capacity, &labels));
            let moved: Vec<usize> = (0..12).filter(|&u| labels[u] != before[u]).collect();
            let is_clash = pair.0 != pair.1 && before[pair.0] == before[pair.1];
            prop_assert!(moved.len() <= n_may_change.max(usize::from(is_clash)), "{moved:?}");
            prop_assert!(moved.iter().all(|u| now.may_move[*u] || (is_clash && (*u == pair.0 || *u == pair.1))));
        }
    }
}
