//! Which units are near a unit: those whose groups it looks at when there are many groups.
//! Distances are between the means of the units' members; ties go to the lower index. Time and scratch memory grow with n².

use super::Units;
use rayon::prelude::*;

/// With more groups than this, a unit looks only at groups of its nearest rows.
const ALL_GROUPS_UP_TO: usize = 12;
/// How many nearest rows that are.
const NEAREST: usize = 20;

/// For each unit its nearest others; empty where every group is looked at anyway.
pub(super) fn nearest_units(units: &Units, n_groups: usize) -> Vec<Vec<u32>> {
    let n = units.sizes.len();
    if n_groups <= ALL_GROUPS_UP_TO || n <= NEAREST + 1 {
        return Vec::new();
    }
    let mut means = units.points.clone();
    for (mut row, &size) in means.rows_mut().into_iter().zip(&units.sizes) {
        row.mapv_inplace(|x| x / size.max(1) as f64);
    }
    let of = |i: usize| {
        let own = means.row(i);
        let mut others: Vec<(f64, u32)> = (0..n)
            .filter(|&j| j != i)
            .map(|j| (own.iter().zip(means.row(j)).map(|(x, y)| (x - y) * (x - y)).sum(), j as u32))
            .collect();
        others.select_nth_unstable_by(NEAREST - 1, |a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        others.truncate(NEAREST);
        others.into_iter().map(|(_, j)| j).collect()
    };
    (0..n).into_par_iter().map(of).collect()
}
