//! One start on its way down: moves and swaps of units between groups, always the best one for a unit.
//!
//! The cost of a change is worked out from sums alone: with S the sum of a group's points and Q that of their squared lengths, its
//! spread is Q - |S|²/n, so a swap needs one dot product with each of the two groups and never visits their members.
//! A unit that found nothing better is looked at again only with groups that changed since.

use super::aim::GroupAim;
use super::{Capacity, Units};
use ndarray::Array2;
use rand::seq::SliceRandom;
use rand_xoshiro::Xoshiro256Plus;

/// A change must gain more than this, so that rounding never turns in circles.
const LEAST_GAIN: f64 = 1e-9;
/// Passes after which a start stops even if something still helps.
const MOST_PASSES: usize = 200;

/// A change that helps.
#[derive(Clone, Copy)]
struct Change {
    gain: f64,
    to: usize,
    /// The unit that comes back in a swap; `None` for a move.
    back: Option<usize>,
}

/// What a group sums over its members.
struct Sums {
    n_members: usize,
    square: f64,
    points: Vec<f64>,
    worths: Vec<f64>,
}

impl Sums {
    fn empty(units: &Units) -> Self {
        Sums {
            n_members: 0,
            square: 0.0,
            points: vec![0.0; units.points.ncols()],
            worths: vec![0.0; units.worths.ncols()],
        }
    }
}

/// Rows of one width, one after the other.
#[derive(Clone, Copy)]
struct Rows<'a> {
    all: &'a [f64],
    width: usize,
}

impl<'a> Rows<'a> {
    /// Tables are built row by row; one laid out otherwise would be no slice, and counts as empty.
    fn of(table: &'a Array2<f64>) -> Self {
        Rows { all: table.as_slice().unwrap_or_default(), width: table.ncols() }
    }

    fn row(&self, unit: usize) -> &'a [f64] {
        self.all.get(unit * self.width..(unit + 1) * self.width).unwrap_or_default()
    }
}

/// The dot product, in four lanes that the compiler keeps in wide registers.
fn dot(a: &[f64], x: &[f64]) -> f64 {
    let mut lanes = [0.0; 4];
    let (heads_a, heads_x) = (a.chunks_exact(4), x.chunks_exact(4));
    let rest: f64 = heads_a.remainder().iter().zip(heads_x.remainder()).map(|(a, x)| a * x).sum();
    for (a, x) in heads_a.zip(heads_x) {
        for lane in 0..4 {
            lanes[lane] += a[lane] * x[lane];
        }
    }
    rest + (lanes[0] + lanes[1]) + (lanes[2] + lanes[3])
}

/// A group with or without the unit that is on offer: the sums that a change starts from.
struct Offer {
    points: Vec<f64>,
    worths: Vec<f64>,
    /// Squared length of `points`.
    length: f64,
}

impl Offer {
    fn empty(units: &Units) -> Self {
        Offer { points: vec![0.0; units.points.ncols()], worths: vec![0.0; units.worths.ncols()], length: 0.0 }
    }

    /// The group's sums, plus (`sign` 1) or minus (`sign` -1) a unit's.
    fn set(&mut self, group: &Sums, points: &[f64], worths: &[f64], sign: f64) {
        let combine = |into: &mut [f64], base: &[f64], unit: &[f64]| {
            into.iter_mut().zip(base).zip(unit).for_each(|((a, b), x)| *a = b + sign * x);
        };
        combine(&mut self.points, &group.points, points);
        combine(&mut self.worths, &group.worths, worths);
        self.length = dot(&self.points, &self.points);
    }
}

/// A squared length shared by `n` members; nobody has no spread.
fn per_member(length: f64, n: usize) -> f64 {
    if n == 0 { 0.0 } else { length / n as f64 }
}

/// One start on its way.
pub(super) struct Walk<'a, A> {
    units: &'a Units,
    capacity: Capacity,
    aim: &'a A,
    near: &'a [Vec<u32>],
    points: Rows<'a>,
    worths: Rows<'a>,
    order: Vec<usize>,
    labels: Vec<usize>,
    members: Vec<Vec<usize>>,
    sums: Vec<Sums>,
    costs: Vec<f64>,
    /// Squared length of each unit's summed points.
    lengths: Vec<f64>,
    /// When a group last changed, and when a unit last found nothing better anywhere.
    changed: Vec<u32>,
    content: Vec<u32>,
    now: u32,
    /// The unit's own group without it, and the group it looks at with it.
    left: Offer,
    joined: Offer,
    /// The look in which a group was last seen, so that near units of one group count once.
    seen: Vec<u64>,
    look: u64,
}

impl<'a, A: GroupAim> Walk<'a, A> {
    pub(super) fn new(
        units: &'a Units,
        capacity: Capacity,
        aim: &'a A,
        near: &'a [Vec<u32>],
        labels: Vec<usize>,
        rng: &mut Xoshiro256Plus,
    ) -> Self {
        let (n, k) = (labels.len(), capacity.n_groups);
        let mut order: Vec<usize> = (0..n).collect();
        order.shuffle(rng);
        let mut members = vec![Vec::new(); k];
        labels.iter().enumerate().for_each(|(u, &g)| members[g].push(u));
        let (points, worths) = (Rows::of(&units.points), Rows::of(&units.worths));
        let mut walk = Walk {
            units,
            capacity,
            aim,
            near,
            points,
            worths,
            order,
            labels,
            members,
            sums: (0..k).map(|_| Sums::empty(units)).collect(),
            costs: vec![0.0; k],
            lengths: (0..n).map(|u| dot(points.row(u), points.row(u))).collect(),
            changed: vec![1; k],
            content: vec![0; n],
            now: 1,
            left: Offer::empty(units),
            joined: Offer::empty(units),
            seen: vec![0; k],
            look: 0,
        };
        (0..k).for_each(|g| walk.refresh(g));
        walk
    }

    /// Cost of all groups together.
    pub(super) fn total(&self) -> f64 {
        self.costs.iter().sum()
    }

    /// Where every unit sits now.
    pub(super) fn into_labels(self) -> Vec<usize> {
        self.labels
    }

    /// Goes on until nothing helps.
    pub(super) fn settle(&mut self) {
        for _ in 0..MOST_PASSES {
            if !self.pass() {
                break;
            }
        }
    }

    /// One look at every unit; says whether anything changed.
    pub(super) fn pass(&mut self) -> bool {
        let mut any = false;
        for at in 0..self.order.len() {
            let u = self.order[at];
            match self.best_change(u) {
                Some(change) => {
                    self.apply(u, change);
                    any = true;
                }
                None => self.content[u] = self.now,
            }
        }
        any
    }

    /// Sums a group anew from its members, so that no rounding piles up.
    fn refresh(&mut self, g: usize) {
        let sums = &mut self.sums[g];
        sums.points.fill(0.0);
        sums.worths.fill(0.0);
        (sums.n_members, sums.square) = (0, 0.0);
        for &u in &self.members[g] {
            sums.n_members += self.units.sizes[u];
            sums.square += self.units.squares[u];
            sums.points.iter_mut().zip(self.points.row(u)).for_each(|(s, x)| *s += x);
            sums.worths.iter_mut().zip(self.worths.row(u)).for_each(|(s, x)| *s += x);
        }
        self.costs[g] = match sums.n_members {
            0 => 0.0,
            n => {
                let spread = sums.square - dot(&sums.points, &sums.points) / n as f64;
                self.aim.spread_weight() * spread - self.aim.worth(&sums.worths)
            }
        };
        self.changed[g] = self.now;
    }

    fn best_change(&mut self, u: usize) -> Option<Change> {
        let g = self.labels[u];
        let mut best = None;
        self.left.set(&self.sums[g], self.points.row(u), self.worths.row(u), -1.0);
        let near = self.near;
        if let Some(units) = near.get(u) {
            self.look += 1;
            for &v in units {
                let h = self.labels[v as usize];
                if std::mem::replace(&mut self.seen[h], self.look) != self.look {
                    self.compare(u, h, &mut best);
                }
            }
        } else {
            (0..self.capacity.n_groups).for_each(|h| self.compare(u, h, &mut best));
        }
        best
    }

    /// Looks at moving `u` to `h`, and at swapping it with each unit there, unless neither group changed since it last found nothing.
    fn compare(&mut self, u: usize, h: usize, best: &mut Option<Change>) {
        let g = self.labels[u];
        if h == g || self.changed[g].max(self.changed[h]) <= self.content[u] {
            return;
        }
        self.joined.set(&self.sums[h], self.points.row(u), self.worths.row(u), 1.0);
        let before = self.costs[g] + self.costs[h];
        let square = self.aim.spread_weight() * (self.sums[g].square + self.sums[h].square);
        let backs = std::iter::once(None).chain(self.members[h].iter().copied().map(Some));
        for back in backs {
            let Some(after) = self.cost_after(u, g, h, back) else { continue };
            let gain = before - square - after;
            if gain > LEAST_GAIN.max(best.map_or(0.0, |b| b.gain)) {
                *best = Some(Change { gain, to: h, back });
            }
        }
    }

    /// Cost of `g` and `h` after the change, less the weighted squares, which no change between the two alters. `None` where a limit breaks.
    fn cost_after(&self, u: usize, g: usize, h: usize, back: Option<usize>) -> Option<f64> {
        let Capacity { min_size, max_size, .. } = self.capacity;
        let leaves = self.units.sizes[u];
        let comes = back.map_or(0, |v| self.units.sizes[v]);
        let n_g = self.sums[g].n_members - leaves + comes;
        let n_h = self.sums[h].n_members + leaves - comes;
        if n_g < min_size || n_g > max_size || n_h < min_size || n_h > max_size {
            return None;
        }
        if !self.may_join(u, h, back) || back.is_some_and(|v| !self.may_join(v, g, Some(u))) {
            return None;
        }
        let (left, joined) = (&self.left, &self.joined);
        let Some(v) = back else {
            let lengths = per_member(left.length, n_g) + per_member(joined.length, n_h);
            let worth = self.aim.worth(&left.worths) + self.aim.worth(&joined.worths);
            return Some(-self.aim.spread_weight() * lengths - worth);
        };
        let (point, worths, own) = (self.points.row(v), self.worths.row(v), self.lengths[v]);
        let in_g = left.length + 2.0 * dot(&left.points, point) + own;
        let in_h = joined.length - 2.0 * dot(&joined.points, point) + own;
        let worth = self.aim.worth_with(&left.worths, worths) + self.aim.worth_without(&joined.worths, worths);
        Some(-self.aim.spread_weight() * (per_member(in_g, n_g) + per_member(in_h, n_h)) - worth)
    }

    fn may_join(&self, u: usize, h: usize, except: Option<usize>) -> bool {
        self.units.apart[u].iter().all(|&w| self.labels[w] != h || Some(w) == except)
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
