//! One start on its way down: moves and swaps of units between groups, always the best one for a unit.
//!
//! The cost of a change is worked out from sums alone: with S the sum of a group's points and Q that of their squared lengths, its
//! spread is Q - |S|²/n, so a swap needs one dot product with each of the two groups and never visits their members. Up to
//! as many units as `products` keeps, they are looked up; above they are worked out.
//! A unit that found nothing better is looked at again only with groups that changed since.

use super::aim::GroupAim;
use super::products::{GroupProducts, LookedUp, dot};
use super::sums::{Offer, Rows, Sums};
use super::{Capacity, Known, Own, Units};
use rand::seq::SliceRandom;
use rand_xoshiro::Xoshiro256Plus;

/// A change must gain more than this, so that rounding never turns in circles.
const LEAST_GAIN: f64 = 1e-9;
/// A change is ruled out unseen only where it falls short by more than rounding could.
const SURELY_LESS: f64 = 1e-7;
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

/// Takes a change where it gains more than the least that is still worth taking.
fn offer(best: &mut Option<Change>, least: &mut f64, change: Change) {
    if change.gain > *least {
        *least = change.gain;
        *best = Some(change);
    }
}

/// The sizes of the two groups after a change.
#[derive(Clone, Copy)]
struct Sizes {
    left: usize,
    joined: usize,
}

/// A unit on its way from group `g` to group `h`.
#[derive(Clone, Copy)]
struct Way {
    u: usize,
    g: usize,
    h: usize,
}

/// One start on its way.
pub(super) struct Walk<'a, A> {
    units: &'a Units,
    capacity: Capacity,
    aim: &'a A,
    points: Rows<'a>,
    worths: Rows<'a>,
    order: Vec<usize>,
    labels: Vec<usize>,
    members: Vec<Vec<usize>>,
    sums: Vec<Sums>,
    costs: Vec<f64>,
    /// Dot products, where they are looked up.
    products: Option<GroupProducts<'a>>,
    known: &'a Known,
    /// When a group last changed, and when a unit last found nothing better anywhere.
    changed: Vec<u32>,
    content: Vec<u32>,
    now: u32,
    /// The unit's own group without it and what that is worth, and the group it looks at with it.
    left: Offer,
    left_worth: f64,
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
        known: &'a Known,
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
            points,
            worths,
            order,
            labels,
            members,
            sums: (0..k).map(|_| Sums::empty(units)).collect(),
            costs: vec![0.0; k],
            products: known.products.as_ref().map(|p| GroupProducts::new(p, k)),
            known,
            changed: vec![1; k],
            content: vec![0; n],
            now: 1,
            left: Offer::empty(units),
            left_worth: 0.0,
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
        if let Some(products) = &mut self.products {
            products.sum_up(g, &self.members[g]);
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
        let length = self.products.as_ref().map(|p| p.group(g) - 2.0 * p.of(g)[u] + self.known.own[u].length);
        self.left.set(&self.sums[g], self.points.row(u), self.worths.row(u), -1.0, length);
        self.left_worth = self.aim.worth(&self.left.worths);
        let known = self.known;
        if let Some(units) = known.near.get(u) {
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
        let length = self.products.as_ref().map(|p| p.group(h) + 2.0 * p.of(h)[u] + self.known.own[u].length);
        self.joined.set(&self.sums[h], self.points.row(u), self.worths.row(u), 1.0, length);
        let square = self.aim.spread_weight() * (self.sums[g].square + self.sums[h].square);
        let before = self.costs[g] + self.costs[h] - square;
        let way = Way { u, g, h };
        let joined_worth = self.aim.worth(&self.joined.worths);
        let worth = self.left_worth + joined_worth;
        let mut least = LEAST_GAIN.max(best.map_or(0.0, |b| b.gain));
        if let Some(sizes) = self.sizes_after(way, None) {
            let lengths = self.left.length * self.inverse(sizes.left) + self.joined.length * self.inverse(sizes.joined);
            offer(
                best,
                &mut least,
                Change { gain: before + self.aim.spread_weight() * lengths + worth, to: h, back: None },
            );
        }
        // One comes for one: where all units are alike in size, sizes stay as they are.
        let as_now = Sizes { left: self.sums[g].n_members, joined: self.sums[h].n_members };
        let looked_up = self.products.as_ref().map(|p| LookedUp { left: p.of(g), joined: p.of(h), unit: p.pairs(u) });
        for &v in &self.members[h] {
            let sizes = if self.known.is_plain { Some(as_now) } else { self.sizes_after(way, Some(v)) };
            let Some(sizes) = sizes else { continue };
            let Own { length, top } = self.known.own[v];
            let (with_left, with_joined) = looked_up.as_ref().map_or_else(|| self.worked_out(v), |l| l.of(v));
            let in_g = self.left.length + 2.0 * with_left + length;
            let in_h = self.joined.length - 2.0 * with_joined + length;
            let lengths = in_g * self.inverse(sizes.left) + in_h * self.inverse(sizes.joined);
            let spread = before + self.aim.spread_weight() * lengths;
            // The group left is worth at most what it is and the unit is; the group joined, at most what it is with both.
            if spread + worth + top + SURELY_LESS > least {
                let worths = self.worths.row(v);
                let joined_without = self.aim.worth_without(&self.joined.worths, worths);
                if spread + self.left_worth + joined_without + top + SURELY_LESS > least {
                    let gain = spread + self.aim.worth_with(&self.left.worths, worths) + joined_without;
                    offer(best, &mut least, Change { gain, to: h, back: Some(v) });
                }
            }
        }
    }

    /// The sizes after a change; `None` where a limit breaks.
    fn sizes_after(&self, Way { u, g, h }: Way, back: Option<usize>) -> Option<Sizes> {
        let Capacity { min_size, max_size, .. } = self.capacity;
        let leaves = self.units.sizes[u];
        let comes = back.map_or(0, |v| self.units.sizes[v]);
        let left = self.sums[g].n_members - leaves + comes;
        let joined = self.sums[h].n_members + leaves - comes;
        let limits = min_size..=max_size;
        let is_legal = limits.contains(&left)
            && limits.contains(&joined)
            && self.may_join(u, h, back)
            && back.is_none_or(|v| self.may_join(v, g, Some(u)));
        is_legal.then_some(Sizes { left, joined })
    }

    fn inverse(&self, size: usize) -> f64 {
        self.known.inverses[size]
    }

    /// Products of `v` with the group left and the group joined, where none are kept.
    fn worked_out(&self, v: usize) -> (f64, f64) {
        let points = self.points.row(v);
        (dot(&self.left.points, points), dot(&self.joined.points, points))
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
