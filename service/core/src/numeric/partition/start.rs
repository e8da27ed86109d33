//! Random partitions to start from, and whether a partition keeps its limits.
//! A placement takes the hardest units first (several members, then most pairs) and fills groups below their least size first.

use super::{Capacity, Units};
use rand::Rng;
use rand::seq::SliceRandom;
use rand_xoshiro::Xoshiro256Plus;

/// Random placements tried for one start before it is given up.
const PLACEMENT_TRIES: usize = 60;

/// Whether the labels keep sizes and pairs.
pub(super) fn is_legal(units: &Units, capacity: Capacity, labels: &[usize]) -> bool {
    if labels.len() != units.sizes.len() || labels.iter().any(|&l| l >= capacity.n_groups) {
        return false;
    }
    let mut counts = vec![0; capacity.n_groups];
    labels.iter().zip(&units.sizes).for_each(|(&l, s)| counts[l] += s);
    counts.iter().all(|c| (capacity.min_size..=capacity.max_size).contains(c))
        && units.apart.iter().enumerate().all(|(u, others)| others.iter().all(|&v| labels[u] != labels[v]))
}

/// A random partition that keeps sizes and pairs, or `None` where none was met.
pub(super) fn random_placement(units: &Units, capacity: Capacity, rng: &mut Xoshiro256Plus) -> Option<Vec<usize>> {
    let mut order: Vec<usize> = (0..units.sizes.len()).collect();
    let is_plain = units.sizes.iter().all(|&s| s == 1) && units.apart.iter().all(Vec::is_empty);
    for _ in 0..PLACEMENT_TRIES {
        order.shuffle(rng);
        if !is_plain {
            order.sort_by_key(|&u| std::cmp::Reverse((units.sizes[u], units.apart[u].len())));
        }
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
    // Groups below their least size, then groups that still take somebody.
    let (mut short, mut open): (Vec<usize>, Vec<usize>) = if capacity.min_size > 0 {
        ((0..capacity.n_groups).collect(), Vec::new())
    } else {
        (Vec::new(), (0..capacity.n_groups).collect())
    };
    for &u in order {
        let size = units.sizes[u];
        let takes = |g: usize| counts[g] + size <= capacity.max_size && units.apart[u].iter().all(|&v| labels[v] != g);
        if let Some(at) = pick(&short, takes, rng) {
            let g = short[at];
            labels[u] = g;
            counts[g] += size;
            if counts[g] >= capacity.min_size {
                open.push(short.swap_remove(at));
            }
        } else {
            let at = pick(&open, takes, rng)?;
            let g = open[at];
            labels[u] = g;
            counts[g] += size;
            if counts[g] >= capacity.max_size {
                open.swap_remove(at);
            }
        }
    }
    Some(labels)
}

/// A random place in the list whose group takes the unit: a few throws, then a look at all.
fn pick(list: &[usize], takes: impl Fn(usize) -> bool, rng: &mut Xoshiro256Plus) -> Option<usize> {
    if list.is_empty() {
        return None;
    }
    for _ in 0..4 {
        let at = rng.gen_range(0..list.len());
        if takes(list[at]) {
            return Some(at);
        }
    }
    let all: Vec<usize> = (0..list.len()).filter(|&at| takes(list[at])).collect();
    all.choose(rng).copied()
}
