//! What would be seen if nobody had learnt anything, and whether a change is more than the check's own error.
//!
//! In:  points of two checks. Out: the chance to reach the cut again without learning, the reliable change, the difference of two shares.
//! Model: each child has one share of points on the skill; shares are spread over the class as a beta distribution, fitted by moments to
//! the first check. A child chosen for a low first check then rises by itself: that is expected, and no growth.
//! Keeps: `children_chosen_for_low_scores_rise_by_themselves`, `a_change_of_few_items_is_not_reliable`,
//! `the_interval_of_a_difference_is_the_published_one`. Not here: which children are compared (`report`).

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
/// Jacobson and Truax 1991 (J. Consult. Clin. Psychol. 59:12-19) divide it, with the error of a share of points for the error of the test.
#[must_use]
pub fn is_reliable_change(from: Check, to: Check) -> bool {
    let n = from.possible + to.possible;
    if from.possible < 1.0 || to.possible < 1.0 {
        return false;
    }
    // Half a point each way, so that all right and all wrong have an error, too.
    let share = (from.points + to.points + 0.5) / (n + 1.0);
    let error = (share * (1.0 - share) * (1.0 / from.possible + 1.0 / to.possible)).sqrt();
    ((to.share() - from.share()) / error).abs() > Z_95
}

/// The smallest change that is reliable for a test of a known error: z · √2 · error of one score.
#[must_use]
pub fn smallest_reliable_change(error_of_one: f64) -> f64 {
    Z_95 * std::f64::consts::SQRT_2 * error_of_one
}

const Z_95: f64 = 1.959_963_984_540_054;

/// Difference of two shares with its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// First share less the second.
    pub difference: f64,
    /// Ends.
    pub low: f64,
    /// See `low`.
    pub high: f64,
}

/// The difference of `a` of `n_a` and `b` of `n_b`; `None` where one of them is of nobody.
///
/// Interval: Newcombe 1998, Statistics in Medicine 17:873-890, method 10 (from memory): the ends of both Wilson intervals put together.
#[must_use]
pub fn difference_of_shares(a: usize, n_a: usize, b: usize, n_b: usize) -> Option<Difference> {
    if n_a == 0 || n_b == 0 {
        return None;
    }
    let (p, q) = (a as f64 / n_a as f64, b as f64 / n_b as f64);
    let ((p_low, p_high), (q_low, q_high)) = (wilson(a, n_a), wilson(b, n_b));
    let difference = p - q;
    Some(Difference {
        difference,
        low: difference - ((p - p_low).powi(2) + (q_high - q).powi(2)).sqrt(),
        high: difference + ((p_high - p).powi(2) + (q - q_low).powi(2)).sqrt(),
    })
}

/// Wilson's interval at 95 %.
fn wilson(x: usize, n: usize) -> (f64, f64) {
    let (x, n, z2) = (x as f64, n as f64, Z_95 * Z_95);
    let (middle, half) = (x + z2 / 2.0, Z_95 * (x * (n - x) / n + z2 / 4.0).sqrt());
    ((middle - half) / (n + z2), (middle + half) / (n + z2))
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
        assert!((smallest_reliable_change(error) - 9.296_925).abs() < 1e-6);
    }

    /// Source: Newcombe 1998, table II, 56 of 70 against 48 of 80: .0524 to .3339 (from memory).
    #[test]
    fn the_interval_of_a_difference_is_the_published_one() {
        let d = difference_of_shares(56, 70, 48, 80).unwrap();
        assert!(
            (d.difference - 0.2).abs() < 1e-9 && (d.low - 0.0524).abs() < 1e-4 && (d.high - 0.3339).abs() < 1e-4,
            "{d:?}"
        );
        assert_eq!(difference_of_shares(0, 0, 1, 2), None);
    }
}
