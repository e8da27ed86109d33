//! A partition of rows into groups of limited size at low cost: many seeded starts, then moves and swaps.
//!
//! In:  units (a unit is one row, or several that must stay together), pairs of units that never share a group, sizes
//!      `min..=max` for each of `n_groups` groups, and a cost of a group that depends only on its number of members and on
//!      the sums of their statistics.
//! Out: a group for every unit, or `None` where no start satisfies sizes and pairs.
//! Steps: 1. every start (given ones, then random ones) makes one pass of best moves and swaps, unit by unit;
//!        2. the cheapest finalists go on until no move or swap helps; 3. the cheapest of those wins, ties by start number.
//! Keeps: sizes and pairs hold after every step (`sizes_and_pairs_hold`); the same seed gives the same answer.
//! Time: a pass looks at n × (groups near a unit) × (size of a group) changes. With over 12 groups only those of a unit's nearest rows are looked at.
//! Not here: the exact optimum (none is claimed; the acceptance checks compare with proved ones).

use ndarray::{Array2, ArrayView2};
use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_xoshiro::Xoshiro256Plus;
use rayon::prelude::*;

/// A change must gain more than this, so that rounding never turns in circles.
const LEAST_GAIN: f64 = 1e-9;
/// With more groups than this, a unit looks only at groups of its nearest rows.
const ALL_GROUPS_UP_TO: usize = 12;
/// How many nearest rows that are.
const NEAREST: usize = 20;
/// Random placements tried for one start before it is given up.
const PLACEMENT_TRIES: usize = 60;
/// Passes after which a start stops even if something still helps.
const MOST_PASSES: usize = 200;
/// Units from which starts are spread over the cores; below, starting threads costs more than it gains.
const PARALLEL_FROM: usize = 100;

/// What is to be grouped.
#[derive(Debug)]
pub struct Units {
    /// Members of each unit, at least 1.
    pub sizes: Vec<usize>,
    /// Statistics that a group sums, shape (n_units, width); a unit of several members carries their sum.
    pub stats: Array2<f64>,
    /// Features by which "near" is judged, shape (n_units, d).
    pub features: Array2<f64>,
    /// For each unit, the units that never share its group (both directions).
    pub apart: Vec<Vec<usize>>,
}

/// How many groups, and how large.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Capacity {
    /// Groups, at least 1.
    pub n_groups: usize,
    /// Smallest group, members.
    pub min_size: usize,
    /// Largest group, members.
    pub max_size: usize,
}

/// The cost of one group.
pub trait GroupCost: Sync {
    /// Cost of a group of `n_members` whose statistics sum to `sums`; lower is better. Must be finite.
    fn cost(&self, n_members: usize, sums: &[f64]) -> f64;
}

/// Sum of squared distances to the group's mean. Statistics are the features and, last, their squared length.
#[derive(Debug, Clone, Copy)]
pub struct SumOfSquares;

impl GroupCost for SumOfSquares {
    fn cost(&self, n_members: usize, sums: &[f64]) -> f64 {
        let Some((square, sums)) = sums.split_last() else { return 0.0 };
        if n_members == 0 {
            return 0.0;
        }
        square - sums.iter().map(|s| s * s).sum::<f64>() / n_members as f64
    }
}

/// How hard to look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SearchEffort {
    /// Starts in all, at least 1.
    pub n_starts: usize,
    /// Starts that go on after the first pass, at least 1.
    pub n_finalists: usize,
}

/// Looks for a cheap partition. `given` are starts made elsewhere; those that break a limit are left out.
#[must_use]
pub fn search_partition<C: GroupCost>(
    units: &Units,
    capacity: Capacity,
    cost: &C,
    given: &[Vec<usize>],
    effort: SearchEffort,
    seed: u64,
) -> Option<Vec<usize>> {
    let n = units.sizes.len();
    if n == 0 || capacity.n_groups == 0 {
        return None;
    }
    let near = nearest_units(units.features.view(), capacity.n_groups);
    let n_starts = effort.n_starts.max(1);
    let first_pass = |start: usize| -> Option<Search<'_, C>> {
        let mut rng = Xoshiro256Plus::seed_from_u64(seed ^ (start as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15));
        let labels = match given.get(start) {
            Some(labels) if is_legal(units, capacity, labels) => labels.clone(),
            _ => random_placement(units, capacity, &mut rng)?,
        };
        let mut search = Search::new(units, capacity, cost, &near, labels, &mut rng);
        search.pass();
        Some(search)
    };
    let mut runs: Vec<(usize, Search<'_, C>)> = if n >= PARALLEL_FROM {
        (0..n_starts).into_par_iter().filter_map(|s| first_pass(s).map(|run| (s, run))).collect()
    } else {
        (0..n_starts).filter_map(|s| first_pass(s).map(|run| (s, run))).collect()
    };
    runs.sort_by(|a, b| a.1.total().total_cmp(&b.1.total()).then(a.0.cmp(&b.0)));
    runs.truncate(effort.n_finalists.max(1));
    if n >= PARALLEL_FROM {
        runs.par_iter_mut().for_each(|(_, run)| run.settle());
    } else {
        runs.iter_mut().for_each(|(_, run)| run.settle());
    }
    runs.into_iter().min_by(|a, b| a.1.total().total_cmp(&b.1.total()).then(a.0.cmp(&b.0))).map(|(_, run)| run.labels)
}

/// Whether the labels keep sizes and pairs.
fn is_legal(units: &Units, capacity: Capacity, labels: &[usize]) -> bool {
    if labels.len() != units.sizes.len() || labels.iter().any(|&l| l >= capacity.n_groups) {
        return false;
    }
    let mut counts = vec![0; capacity.n_groups];
    labels.iter().zip(&units.sizes).for_each(|(&l, s)| counts[l] += s);
    counts.iter().all(|c| (capacity.min_size..=capacity.max_size).contains(c))
        && units.apart.iter().enumerate().all(|(u, others)| others.iter().all(|&v| labels[u] != labels[v]))
}

/// A random partition that keeps sizes and pairs: hardest units first, groups below their least size first.
fn random_placement(units: &Units, capacity: Capacity, rng: &mut Xoshiro256Plus) -> Option<Vec<usize>> {
    let mut order: Vec<usize> = (0..units.sizes.len()).collect();
    for _ in 0..PLACEMENT_TRIES {
        order.shuffle(rng);
        order.sort_by_key(|&u| std::cmp::Reverse((units.sizes[u], units.apart[u].len())));
        if let Some(labels) = place_in_order(units, capacity, &order, rng)
            && is_legal(units, capacity, &labels)
        {
            return Some(labels);
        }
    }
    None
}

fn place_in_order(units: &Units, capacity: Capacity, order: &[usize], rng: &mut Xoshiro256Plus) -> Option<Vec<usize>> {
    let mut labels = vec![usize::MAX; order.len()];
    let mut counts = vec![0_usize; capacity.n_groups];
    for &u in order {
        let size = units.sizes[u];
        let open: Vec<usize> = (0..capacity.n_groups)
            .filter(|&g| counts[g] + size <= capacity.max_size && units.apart[u].iter().all(|&v| labels[v] != g))
            .collect();
        let short: Vec<usize> = open.iter().copied().filter(|&g| counts[g] < capacity.min_size).collect();
        let choices = if short.is_empty() { &open } else { &short };
        let g = *choices.choose(rng)?;
        labels[u] = g;
        counts[g] += size;
    }
    Some(labels)
}

/// For each unit its nearest others by feature distance; empty where every group is looked at anyway.
fn nearest_units(features: ArrayView2<'_, f64>, n_groups: usize) -> Vec<Vec<u32>> {
    let n = features.nrows();
    if n_groups <= ALL_GROUPS_UP_TO || n <= NEAREST + 1 {
        return Vec::new();
    }
    let of = |i: usize| {
        let own = features.row(i);
        let mut others: Vec<(f64, u32)> = (0..n)
            .filter(|&j| j != i)
            .map(|j| (own.iter().zip(features.row(j)).map(|(x, y)| (x - y) * (x - y)).sum(), j as u32))
            .collect();
        others.select_nth_unstable_by(NEAREST - 1, |a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        others.truncate(NEAREST);
        others.into_iter().map(|(_, j)| j).collect()
    };
    (0..n).into_par_iter().map(of).collect()
}

/// A change that helps.
#[derive(Clone, Copy)]
struct Change {
    gain: f64,
    to: usize,
    /// The unit that comes back in a swap; `None` for a move.
    back: Option<usize>,
}

/// One start on its way.
struct Search<'a, C> {
    units: &'a Units,
    capacity: Capacity,
    cost: &'a C,
    near: &'a [Vec<u32>],
    order: Vec<usize>,
    labels: Vec<usize>,
    members: Vec<Vec<usize>>,
    counts: Vec<usize>,
    /// Sums of statistics, `width` numbers a group.
    sums: Vec<f64>,
    costs: Vec<f64>,
    /// When a group last changed, and when a unit was last compared with a group: pairs that did not change are skipped.
    changed: Vec<u32>,
    compared: Vec<u32>,
    now: u32,
    scratch: Vec<f64>,
}

impl<'a, C: GroupCost> Search<'a, C> {
    fn new(
        units: &'a Units,
        capacity: Capacity,
        cost: &'a C,
        near: &'a [Vec<u32>],
        labels: Vec<usize>,
        rng: &mut Xoshiro256Plus,
    ) -> Self {
        let (k, width) = (capacity.n_groups, units.stats.ncols());
        let mut order: Vec<usize> = (0..labels.len()).collect();
        order.shuffle(rng);
        let mut members = vec![Vec::new(); k];
        labels.iter().enumerate().for_each(|(u, &g)| members[g].push(u));
        let compared = vec![0; labels.len() * k];
        let mut search = Search {
            units,
            capacity,
            cost,
            near,
            order,
            labels,
            members,
            counts: vec![0; k],
            sums: vec![0.0; k * width],
            costs: vec![0.0; k],
            changed: vec![1; k],
            compared,
            now: 1,
            scratch: vec![0.0; width],
        };
        (0..k).for_each(|g| search.refresh(g));
        search
    }

    fn total(&self) -> f64 {
        self.costs.iter().sum()
    }

    /// Sums a group anew from its members, so that no rounding piles up.
    fn refresh(&mut self, g: usize) {
        let width = self.units.stats.ncols();
        let sums = &mut self.sums[g * width..(g + 1) * width];
        sums.fill(0.0);
        self.counts[g] = 0;
        for &u in &self.members[g] {
            self.counts[g] += self.units.sizes[u];
            sums.iter_mut().zip(self.units.stats.row(u)).for_each(|(s, x)| *s += x);
        }
        self.costs[g] = self.cost.cost(self.counts[g], sums);
        self.changed[g] = self.now;
    }

    fn settle(&mut self) {
        for _ in 0..MOST_PASSES {
            if !self.pass() {
                break;
            }
        }
    }

    /// One look at every unit; says whether anything changed.
    fn pass(&mut self) -> bool {
        let mut any = false;
        for at in 0..self.order.len() {
            let u = self.order[at];
            if let Some(change) = self.best_change(u) {
                self.apply(u, change);
                any = true;
            }
        }
        any
    }

    fn best_change(&mut self, u: usize) -> Option<Change> {
        let mut best: Option<Change> = None;
        if self.near.is_empty() {
            for h in 0..self.capacity.n_groups {
                self.compare(u, h, &mut best);
            }
        } else {
            let near = self.near;
            for &v in &near[u] {
                self.compare(u, self.labels[v as usize], &mut best);
            }
        }
        best
    }

    /// Looks at moving `u` to `h`, and at swapping it with each unit there.
    fn compare(&mut self, u: usize, h: usize, best: &mut Option<Change>) {
        let g = self.labels[u];
        let seen = u * self.capacity.n_groups + h;
        if h == g || self.compared[seen] > self.changed[g].max(self.changed[h]) {
            return;
        }
        let found_before = best.map_or(0.0, |b| b.gain);
        self.consider(u, g, h, None, best);
        for at in 0..self.members[h].len() {
            let v = self.members[h][at];
            self.consider(u, g, h, Some(v), best);
        }
        if best.map_or(0.0, |b| b.gain) <= found_before {
            self.compared[seen] = self.now + 1;
        }
    }

    fn consider(&mut self, u: usize, g: usize, h: usize, back: Option<usize>, best: &mut Option<Change>) {
        let Capacity { min_size, max_size, .. } = self.capacity;
        let leaves = self.units.sizes[u];
        let comes = back.map_or(0, |v| self.units.sizes[v]);
        let (n_g, n_h) = (self.counts[g] - leaves + comes, self.counts[h] + leaves - comes);
        if n_g < min_size || n_g > max_size || n_h < min_size || n_h > max_size {
            return;
        }
        if !self.may_join(u, h, back) || back.is_some_and(|v| !self.may_join(v, g, Some(u))) {
            return;
        }
        let before = self.costs[g] + self.costs[h];
        let after = self.cost_with(g, n_g, back, Some(u)) + self.cost_with(h, n_h, Some(u), back);
        let gain = before - after;
        if gain > LEAST_GAIN.max(best.map_or(0.0, |b| b.gain)) {
            *best = Some(Change { gain, to: h, back });
        }
    }

    fn may_join(&self, u: usize, h: usize, except: Option<usize>) -> bool {
        self.units.apart[u].iter().all(|&w| self.labels[w] != h || Some(w) == except)
    }

    fn cost_with(&mut self, g: usize, n_members: usize, joins: Option<usize>, leaves: Option<usize>) -> f64 {
        let width = self.scratch.len();
        self.scratch.copy_from_slice(&self.sums[g * width..(g + 1) * width]);
        if let Some(u) = joins {
            self.scratch.iter_mut().zip(self.units.stats.row(u)).for_each(|(s, x)| *s += x);
        }
        if let Some(u) = leaves {
            self.scratch.iter_mut().zip(self.units.stats.row(u)).for_each(|(s, x)| *s -= x);
        }
        self.cost.cost(n_members, &self.scratch)
    }

    fn apply(&mut self, u: usize, change: Change) {
        let (g, h) = (self.labels[u], change.to);
        self.now += 1;
        self.members[g].retain(|&m| m != u);
        self.members[h].push(u);
        self.labels[u] = h;
        if let Some(v) = change.back {
            self.members[h].retain(|&m| m != v);
            self.members[g].push(v);
            self.labels[v] = g;
        }
        self.refresh(g);
        self.refresh(h);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn units_of(values: &[(f64, f64)], sizes: Vec<usize>, apart_pairs: &[(usize, usize)]) -> Units {
        let features =
            Array2::from_shape_fn((values.len(), 2), |(i, c)| if c == 0 { values[i].0 } else { values[i].1 });
        let stats = Array2::from_shape_fn((values.len(), 3), |(i, c)| match c {
            0 => values[i].0,
            1 => values[i].1,
            _ => values[i].0.powi(2) + values[i].1.powi(2),
        });
        let mut apart = vec![Vec::new(); values.len()];
        for &(a, b) in apart_pairs {
            apart[a].push(b);
            apart[b].push(a);
        }
        Units { sizes, stats, features, apart }
    }

    const EFFORT: SearchEffort = SearchEffort { n_starts: 50, n_finalists: 50 };

    #[test]
    fn matches_the_documented_example() {
        // (1,2)(1,4)(1,0)(4,2)(4,4)(4,0) in two groups of 2 to 5.
        let values = [(1.0, 2.0), (1.0, 4.0), (1.0, 0.0), (4.0, 2.0), (4.0, 4.0), (4.0, 0.0)];
        let units = units_of(&values, vec![1; 6], &[]);
        let capacity = Capacity { n_groups: 2, min_size: 2, max_size: 5 };
        let labels = search_partition(&units, capacity, &SumOfSquares, &[], EFFORT, 1).unwrap();
        assert!(labels[0] == labels[1] && labels[1] == labels[2] && labels[3] == labels[4] && labels[4] == labels[5]);
        assert_ne!(labels[0], labels[3]);
    }

    #[test]
    fn pairs_that_cannot_hold_give_nothing() {
        let values = [(0.0, 0.0), (0.0, 1.0), (1.0, 0.0)];
        let units = units_of(&values, vec![1; 3], &[(0, 1), (1, 2), (0, 2)]);
        let capacity = Capacity { n_groups: 2, min_size: 1, max_size: 3 };
        assert_eq!(search_partition(&units, capacity, &SumOfSquares, &[], EFFORT, 1), None);
    }

    proptest! {
        #[test]
        fn sizes_and_pairs_hold(
            values in prop::collection::vec((0.0..1.0_f64, 0.0..1.0_f64), 6..40),
            pair in (0_usize..6, 0_usize..6),
            seed in 0_u64..1000,
        ) {
            let n = values.len();
            let pairs: Vec<_> = if pair.0 == pair.1 { vec![] } else { vec![pair] };
            let units = units_of(&values, vec![1; n], &pairs);
            let capacity = Capacity { n_groups: n.div_ceil(5).max(2), min_size: 2, max_size: 6 };
            let effort = SearchEffort { n_starts: 5, n_finalists: 2 };
            let labels = search_partition(&units, capacity, &SumOfSquares, &[], effort, seed).unwrap();
            prop_assert!(is_legal(&units, capacity, &labels));
            let again = search_partition(&units, capacity, &SumOfSquares, &[], effort, seed).unwrap();
            prop_assert_eq!(labels, again);
        }
    }
}
