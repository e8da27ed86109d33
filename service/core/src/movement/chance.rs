//! What would be seen if nobody had learnt anything, and whether a change is more than the check's own error.
//!
//! In:  points of two checks. Out: the chance to reach the cut again without learning, whether a change is reliable.
//! Model: each child has one share of points on the skill; shares are spread over the class as a beta distribution, fitted by moments to
//! the first check. A child chosen for a low first check then rises by itself: that is expected, and no growth.
//! Keeps: `children_chosen_for_low_scores_rise_by_themselves`, `a_change_of_few_items_is_not_reliable`.
//! Not here: which children are compared (`report`).

use crate::numeric::Z_95;
use statrs::function::beta::ln_beta;

/// Points got and possible on one skill in one check.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Check {
    /// Got.
    pub points: f64,
    /// Possible, above 0.
    pub possible: f64,
}

impl Check {
    /// Share of points, 0 to 1.
    #[must_use]
    pub fn share(&self) -> f64 {
        if self.possible > 0.0 { (self.points / self.possible).clamp(0.0, 1.0) } else { 0.0 }
    }
}

/// How shares of points are spread over a class: a beta distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    right: f64,
    wrong: f64,
}

impl Spread {
    /// Fits mean and spread to checks, with the noise of each check taken out. Under three checks, or where they say nothing of a
    /// spread, the spread of Jeffreys.
    #[must_use]
    pub fn of(checks: &[Check]) -> Self {
        let checks: Vec<&Check> = checks.iter().filter(|c| c.possible > 0.0).collect();
        let n = checks.len() as f64;
        if checks.len() < 3 {
            return Spread { right: 0.5, wrong: 0.5 };
        }
        let mean = checks.iter().map(|c| c.share()).sum::<f64>() / n;
        let seen = checks.iter().map(|c| (c.share() - mean).powi(2)).sum::<f64>() / (n - 1.0);
        let at_most = mean * (1.0 - mean);
        let per_item = checks.iter().map(|c| 1.0 / c.possible).sum::<f64>() / n;
        // The spread seen is that of the shares and the noise of the items: v = m(1-m)(r + (1-r) / items).
        let alike = if at_most > 0.0 { (seen / at_most - per_item) / (1.0 - per_item).max(1e-9) } else { 0.0 };
        let alike = alike.clamp(0.02, 0.98);
        let size = (1.0 - alike) / alike;
        let mean = mean.clamp(0.01, 0.99);
        Spread { right: mean * size, wrong: (1.0 - mean) * size }
    }

    /// The share expected of a child with this first check on another one, without having learnt anything.
    #[must_use]
    pub fn expected_again(&self, first: Check) -> f64 {
        (self.right + first.points) / (self.right + self.wrong + first.possible.max(first.points))
    }

    /// The chance that a child with this first check reaches `cut` on a check of `possible` points without having learnt anything.
    #[must_use]
    pub fn reaches_again(&self, first: Check, cut: f64, possible: f64) -> f64 {
        let n = possible.round().max(1.0);
        let (a, b) = (self.right + first.points, self.wrong + (first.possible - first.points).max(0.0));
        let least = (cut * n - 1e-9).ceil().max(0.0);
        let ways = |k: f64| -(n + 1.0).ln() - ln_beta(n - k + 1.0, k + 1.0);
        let chance = |k: f64| (ways(k) + ln_beta(k + a, n - k + b) - ln_beta(a, b)).exp();
        (least as u32..=n as u32).map(|k| chance(f64::from(k))).sum::<f64>().clamp(0.0, 1.0)
    }
}

/// Whether a change is larger than the two checks' own error explains, at 95 %: the difference over its standard error, as
/// Jacobson and Truax 1991 (J. Consult. Clin. Psychol. 59:12-19) divide it, with the error of a share of points for the error of the test;
/// shares are eased as Agresti and Caffo 2000 do (The American Statistician 54:280-288, from memory).
#[must_use]
pub fn is_reliable_change(from: Check, to: Check) -> bool {
    if from.possible < 1.0 || to.possible < 1.0 {
        return false;
    }
    // One point more each way, so that all right and all wrong have an error, too, and a few items claim no more than many.
    let eased = |check: Check| (check.points + 1.0) / (check.possible + 2.0);
    let error = |check: Check| (eased(check) * (1.0 - eased(check)) / (check.possible + 2.0)).sqrt();
    (eased(to) - eased(from)).abs() > smallest_reliable_change(error(from), error(to))
}

/// The change that two scores with these errors do not explain, at 95 %.
fn smallest_reliable_change(error_before: f64, error_after: f64) -> f64 {
    Z_95 * error_before.hypot(error_after)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(points: f64, possible: f64) -> Check {
        Check { points, possible }
    }

    /// Chances add up to one, and a child with 2 of 5 reaches 4 of 5 far more often than never.
    #[test]
    fn children_chosen_for_low_scores_rise_by_themselves() {
        let class: Vec<Check> = (0..=5).flat_map(|k| std::iter::repeat_n(check(f64::from(k), 5.0), 4)).collect();
        let spread = Spread::of(&class);
        let low = spread.reaches_again(check(2.0, 5.0), 0.8, 5.0);
        assert!((0.05..0.4).contains(&low), "{low}");
        assert!(spread.reaches_again(check(0.0, 5.0), 0.8, 5.0) < low);
        assert!(spread.reaches_again(check(5.0, 5.0), 0.8, 5.0) > 0.7);
        assert!((spread.reaches_again(check(2.0, 5.0), 0.0, 5.0) - 1.0).abs() < 1e-9);
    }

    /// Exact for a flat spread: with nothing known, each number of five right is as likely as another.
    #[test]
    fn a_flat_spread_makes_every_score_equally_likely() {
        let flat = Spread { right: 1.0, wrong: 1.0 };
        let nothing = check(0.0, 0.0);
        for (cut, chance) in [(1.0, 1.0 / 6.0), (0.8, 2.0 / 6.0), (0.6, 3.0 / 6.0)] {
            assert!((flat.reaches_again(nothing, cut, 5.0) - chance).abs() < 1e-9);
        }
    }

    #[test]
    fn a_change_of_few_items_is_not_reliable() {
        assert!(!is_reliable_change(check(2.0, 5.0), check(4.0, 5.0)));
        assert!(is_reliable_change(check(4.0, 20.0), check(16.0, 20.0)));
        assert!(!is_reliable_change(check(0.0, 0.0), check(5.0, 5.0)));
    }

    /// Source: worked out from the formula; the scores 32.5 and 47.5, spread 7.5 and reliability .80 are those of Jacobson and
    /// Truax 1991 (from memory).
    #[test]
    fn the_smallest_reliable_change_is_the_published_one() {
        let error = 7.5 * (1.0_f64 - 0.80).sqrt();
        assert!((error - 3.354_102).abs() < 1e-6);
        assert!((smallest_reliable_change(error, error) - 9.296_925).abs() < 1e-6);
    }
}
