//! What a start keeps of its groups: sums over their members, and the same with or without one unit.
//!
//! In:  units, and who sits where. Out: numbers; nothing is decided here, and no group is visited member by member.

use super::Units;
use super::products::dot;
use ndarray::Array2;

/// What a group sums over its members.
pub(super) struct Sums {
    pub(super) n_members: usize,
    pub(super) square: f64,
    pub(super) points: Vec<f64>,
    pub(super) worths: Vec<f64>,
}

impl Sums {
    pub(super) fn empty(units: &Units) -> Self {
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
pub(super) struct Rows<'a> {
    all: &'a [f64],
    width: usize,
}

impl<'a> Rows<'a> {
    /// Tables are built row by row; one laid out otherwise would be no slice, and counts as empty.
    pub(super) fn of(table: &'a Array2<f64>) -> Self {
        Rows { all: table.as_slice().unwrap_or_default(), width: table.ncols() }
    }

    pub(super) fn row(&self, unit: usize) -> &'a [f64] {
        self.all.get(unit * self.width..(unit + 1) * self.width).unwrap_or_default()
    }
}

/// A group with or without the unit that is on offer: the sums that a change starts from.
pub(super) struct Offer {
    pub(super) points: Vec<f64>,
    pub(super) worths: Vec<f64>,
    /// Squared length of `points`.
    pub(super) length: f64,
}

impl Offer {
    pub(super) fn empty(units: &Units) -> Self {
        Offer { points: vec![0.0; units.points.ncols()], worths: vec![0.0; units.worths.ncols()], length: 0.0 }
    }

    /// The group's sums, plus (`sign` 1) or minus (`sign` -1) a unit's. Its points are not needed where the length is known already.
    pub(super) fn set(&mut self, group: &Sums, points: &[f64], worths: &[f64], sign: f64, length: Option<f64>) {
        let combine = |into: &mut [f64], base: &[f64], unit: &[f64]| {
            into.iter_mut().zip(base).zip(unit).for_each(|((a, b), x)| *a = b + sign * x);
        };
        combine(&mut self.worths, &group.worths, worths);
        self.length = length.unwrap_or_else(|| {
            combine(&mut self.points, &group.points, points);
            dot(&self.points, &self.points)
        });
    }
}
