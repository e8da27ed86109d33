//! The aim line of a child, and what three rules say of the checks beside it.
//!
//! In:  checks as (time in weeks, share), the goal and when it is to be reached. Out: an [`AimReading`].
//! The line runs from the median of the first three checks to the goal. A check is told by the median of the last three and by the trend;
//! four in a row under the line are shown with how often that happens to a child exactly on it, and never decide alone
//! (`four_in_a_row_alone_decide_nothing`).
//! Keeps: the run-of-points rates exactly (`false_alarms_are_exact`), `the_line_starts_at_the_median`.
//! Sources: aim line from the median of three, example 7, 5, 8: IRIS Center, Progress Monitoring: Mathematics, page 5. The three rules:
//! National Center on Intensive Intervention, Decision Rules for Analyzing Academic Progress Monitoring Data (wording from memory). That
//! median and trend do better than runs: Van Norman and Christ 2016 (from memory). Not here: slopes (`numeric::trend`).

/// Checks from which the line begins.
const BASELINE: usize = 3;
/// Checks in a row that are looked at together.
pub const RUN: usize = 4;

/// Beside the line, with what is told by median and trend together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BesideAim {
    /// Median and trend both under it.
    Under,
    /// Median on or over it.
    OnOrOver,
    /// They disagree.
    Unclear,
}

/// What the rules say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AimReading {
    /// The line in the middle of the last three checks.
    pub aim_now: f64,
    /// Median of the last three checks.
    pub median_of_last: f64,
    /// Told by median and trend.
    pub beside: BesideAim,
    /// Whether the last four checks lie under the line.
    pub is_four_under: bool,
    /// How often some four in a row lie under it by chance, over as many checks, for a child exactly on the line.
    pub four_by_chance: f64,
}

impl AimReading {
    /// One sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let says = match self.beside {
            BesideAim::Under => "under the aim line by median and trend",
            BesideAim::OnOrOver => "on the aim line or over it",
            BesideAim::Unclear => "median and trend disagree",
        };
        let run = if self.is_four_under {
            format!(
                "; the last four lie under it, which happens to {:.0} in 100 who are exactly on it",
                100.0 * self.four_by_chance
            )
        } else {
            String::new()
        };
        let (median, aim) = (100.0 * self.median_of_last, 100.0 * self.aim_now);
        format!("Median of the last three {median:.0} %, aim {aim:.0} %: {says}{run}.")
    }
}

/// Reads checks beside the aim line; `None` under six checks, or where the goal lies before them.
///
/// `slope` is the trend of all checks; `goal_at` is when `goal` is to be reached, in the time of the checks.
#[must_use]
pub fn read_beside_aim(checks: &[(f64, f64)], slope: f64, goal: f64, goal_at: f64) -> Option<AimReading> {
    let (first, later) = checks.split_at_checked(BASELINE)?;
    let (start_at, start) = (first.last()?.0, median_of(first));
    if later.len() < BASELINE || goal_at <= start_at {
        return None;
    }
    let rise = (goal - start) / (goal_at - start_at);
    let aim = |at: f64| start + rise * (at - start_at).min(goal_at - start_at);
    let last_three = &later[later.len() - BASELINE..];
    // The median stands for the middle of its three weeks; set beside the last one, every rising child would lag.
    let (aim_now, median_of_last) = (aim(last_three[1].0), median_of(last_three));
    let beside = match (median_of_last < aim_now, slope < rise) {
        (false, _) => BesideAim::OnOrOver,
        (true, true) => BesideAim::Under,
        (true, false) => BesideAim::Unclear,
    };
    let is_four_under = later.len() >= RUN && later[later.len() - RUN..].iter().all(|(at, share)| *share < aim(*at));
    let four_by_chance = run_by_chance(RUN, later.len());
    Some(AimReading { aim_now, median_of_last, beside, is_four_under, four_by_chance })
}

fn median_of(checks: &[(f64, f64)]) -> f64 {
    let mut shares: Vec<f64> = checks.iter().map(|c| c.1).collect();
    shares.sort_by(f64::total_cmp);
    shares.get(shares.len() / 2).copied().unwrap_or(0.0)
}

/// How often some `run` in a row of `n` checks lie under the line, each with one half.
#[must_use]
pub fn run_by_chance(run: usize, n: usize) -> f64 {
    if run == 0 {
        return 1.0;
    }
    // Chances of having had no such run, by how many under the line it ends with.
    let mut ends = vec![0.0; run];
    ends[0] = 1.0;
    for _ in 0..n {
        let none: f64 = ends.iter().sum();
        ends.rotate_right(1);
        ends.iter_mut().for_each(|chance| *chance /= 2.0);
        ends[0] = none / 2.0;
    }
    1.0 - ends.iter().sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::theil_sen;

    /// Source: exact, counted over all orders.
    #[test]
    fn false_alarms_are_exact() {
        let of_four = [(4, 1.0 / 16.0), (6, 1.0 / 8.0), (8, 3.0 / 16.0), (10, 251.0 / 1024.0), (12, 153.0 / 512.0)];
        let of_three =
            [(4, 3.0 / 16.0), (6, 5.0 / 16.0), (8, 107.0 / 256.0), (10, 65.0 / 128.0), (12, 2391.0 / 4096.0)];
        for (run, cases) in [(4, of_four), (3, of_three)] {
            for (n, chance) in cases {
                assert!((run_by_chance(run, n) - chance).abs() < 1e-12, "{run} in {n}: {}", run_by_chance(run, n));
            }
        }
        assert_eq!((run_by_chance(4, 3), run_by_chance(0, 3)), (0.0, 1.0));
    }

    fn checks(shares: &[f64]) -> Vec<(f64, f64)> {
        (0..).map(f64::from).zip(shares.iter().copied()).collect()
    }

    fn read(checks: &[(f64, f64)], goal: f64, goal_at: f64) -> Option<AimReading> {
        read_beside_aim(checks, theil_sen(checks)?.slope, goal, goal_at)
    }

    #[test]
    fn the_line_starts_at_the_median() {
        let reading = read(&checks(&[0.7, 0.5, 0.8, 0.7, 0.7, 0.7]), 0.7, 12.0).unwrap();
        assert!((reading.aim_now - 0.7).abs() < 1e-12, "a goal at the median of the first three is a level line");
        assert_eq!((reading.beside, reading.is_four_under), (BesideAim::OnOrOver, false));
        assert_eq!(read(&checks(&[0.7, 0.5, 0.8, 0.7, 0.7]), 0.8, 12.0), None, "two after the first three");
        assert_eq!(read(&checks(&[0.7; 6]), 0.8, 1.0), None, "the goal lies before");
    }

    #[test]
    fn four_in_a_row_alone_decide_nothing() {
        // Each of the last four a little under the line, but rising faster than it.
        let shares = [0.0, 0.2, 0.2, 0.22, 0.28, 0.33, 0.39];
        let reading = read(&checks(&shares), 0.4, 6.0).unwrap();
        assert!(reading.is_four_under, "{reading:?}");
        assert_eq!((reading.four_by_chance, reading.beside), (1.0 / 16.0, BesideAim::Unclear), "{reading:?}");
        assert!(reading.sentence().contains("6 in 100"), "{}", reading.sentence());
        let flat = read(&checks(&[0.2; 7]), 0.8, 10.0).unwrap();
        assert_eq!((flat.beside, flat.is_four_under), (BesideAim::Under, true));
    }
}
