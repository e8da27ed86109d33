//! Dot products of units with each other and with the sums of groups, kept ready for a search that asks for them again and again.
//!
//! In:  the units of a search; then, group by group, who sits there. Out: products as numbers.
//! Memory grows with the square of the units, so only up to [`Products::MOST_UNITS`] of them.
//! Keeps: a sum is made anew from its members, so that no rounding piles up (`sums_are_those_of_the_members`).

use super::Units;

/// The dot product, in four lanes that the compiler keeps in wide registers.
pub(super) fn dot(a: &[f64], x: &[f64]) -> f64 {
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

/// Products of every two units, shape (n, n).
pub(super) struct Products {
    n: usize,
    pairs: Vec<f64>,
}

impl Products {
    /// Units up to which products are kept: 8 bytes for every two.
    pub(super) const MOST_UNITS: usize = 512;

    /// Of few enough units; `None` of more.
    pub(super) fn of(units: &Units) -> Option<Self> {
        let n = units.sizes.len();
        let points = units.points.as_slice()?;
        let width = units.points.ncols();
        let row = |u: usize| &points[u * width..(u + 1) * width];
        let pairs = || (0..n).flat_map(|u| (0..n).map(move |v| dot(row(u), row(v)))).collect();
        (n <= Self::MOST_UNITS).then(|| Products { n, pairs: pairs() })
    }

    fn row(&self, u: usize) -> &[f64] {
        &self.pairs[u * self.n..(u + 1) * self.n]
    }
}

/// The same with the sums of groups, shape (groups, n).
pub(super) struct GroupProducts<'a> {
    units: &'a Products,
    sums: Vec<f64>,
    /// Squared length of each group's sum.
    lengths: Vec<f64>,
}

impl<'a> GroupProducts<'a> {
    /// With nobody in any group.
    pub(super) fn new(units: &'a Products, n_groups: usize) -> Self {
        GroupProducts { units, sums: vec![0.0; units.n * n_groups], lengths: vec![0.0; n_groups] }
    }

    /// Works a group out from its members.
    pub(super) fn sum_up(&mut self, group: usize, members: &[usize]) {
        let n = self.units.n;
        let sum = &mut self.sums[group * n..(group + 1) * n];
        sum.fill(0.0);
        for &u in members {
            sum.iter_mut().zip(self.units.row(u)).for_each(|(s, x)| *s += x);
        }
        self.lengths[group] = members.iter().map(|&u| sum[u]).sum();
    }

    /// Of a unit and each unit.
    pub(super) fn pairs(&self, u: usize) -> &[f64] {
        self.units.row(u)
    }

    /// Of a group's sum and each unit.
    pub(super) fn of(&self, group: usize) -> &[f64] {
        &self.sums[group * self.units.n..(group + 1) * self.units.n]
    }

    /// Of a group's sum and itself.
    pub(super) fn group(&self, group: usize) -> f64 {
        self.lengths[group]
    }
}

/// Products of every unit with two groups as they are and with the unit between them.
pub(super) struct LookedUp<'a> {
    pub(super) left: &'a [f64],
    pub(super) joined: &'a [f64],
    pub(super) unit: &'a [f64],
}

impl LookedUp<'_> {
    /// Products of `v` with the group that the unit has left and with the one that it has joined.
    pub(super) fn of(&self, v: usize) -> (f64, f64) {
        (self.left[v] - self.unit[v], self.joined[v] + self.unit[v])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::arr2;

    #[test]
    fn sums_are_those_of_the_members() {
        let points = arr2(&[[1.0, 2.0, 0.0], [0.5, -1.0, 3.0], [2.0, 0.0, 1.0]]);
        let squares = points.rows().into_iter().map(|r| r.dot(&r)).collect();
        let worths = ndarray::Array2::zeros((3, 0));
        let units = Units { sizes: vec![1; 3], worths, points, squares, apart: vec![Vec::new(); 3] };
        let products = Products::of(&units).unwrap();
        let mut groups = GroupProducts::new(&products, 2);
        groups.sum_up(1, &[0, 2]);
        // The sum is (3, 2, 1).
        assert_eq!((groups.pairs(0)[1], groups.of(1)[0], groups.of(1)[1], groups.group(1)), (-1.5, 7.0, 2.5, 14.0));
        assert_eq!(groups.group(0), 0.0);
    }
}
