//! What a search over partitions is after: low spread, and members who are worth much together.
//!
//! Cost of a group: spread weight × sum of squared distances to the group's mean, minus the group's worth. The worth depends only on
//! the sums of the members' statistics, so a change is looked at without visiting the members.
//! Statistics are at least 0; more of them are never worth less, and two groups together never more than each by itself
//! (`worth_grows_and_never_by_more_than_the_part` in `grouping::aim`): the search rules changes out by that.

/// How a group is judged.
pub trait GroupAim: Sync {
    /// Weight of the sum of squared distances.
    fn spread_weight(&self) -> f64;
    /// Worth of a group whose statistics sum to `sums`.
    fn worth(&self, sums: &[f64]) -> f64;
    /// Worth of a group whose statistics sum to `base + joins`.
    fn worth_with(&self, base: &[f64], joins: &[f64]) -> f64;
    /// Worth of a group whose statistics sum to `base - leaves`.
    fn worth_without(&self, base: &[f64], leaves: &[f64]) -> f64;
}

/// Spread alone: what size-limited k-means minimises.
#[derive(Debug, Clone, Copy)]
pub struct SumOfSquares;

impl GroupAim for SumOfSquares {
    fn spread_weight(&self) -> f64 {
        1.0
    }
    fn worth(&self, _sums: &[f64]) -> f64 {
        0.0
    }
    fn worth_with(&self, _base: &[f64], _joins: &[f64]) -> f64 {
        0.0
    }
    fn worth_without(&self, _base: &[f64], _leaves: &[f64]) -> f64 {
        0.0
    }
}
