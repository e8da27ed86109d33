//! How much an answer still says, by the age of the check that it comes from.
//!
//! In:  the weeks of the assessments, the week that is planned, a half-life in weeks. Out: a weight from 0 to 1 for each assessment and
//! their order in time. An answer counts half after one half-life, a quarter after two. A check without a date counts as this week's.
//! Keeps: `evidence_halves_with_the_half_life`; one week alone weighs everything 1 (`one_week_counts_in_full`).
//! Source of the half-life: half weight after two to three weeks, common practice, no source (a setting).

use crate::scores::Assessment;
use jiff::civil::Date;

/// From this weight on an answer counts as evidence: up to two half-lives.
pub const COUNTS_FROM: f64 = 0.25;
/// Whole weeks after which a check is no evidence any more.
#[must_use]
pub fn weeks_that_count(half_life_weeks: usize) -> usize {
    (half_life_weeks as f64 * -COUNTS_FROM.log2()).floor() as usize
}

/// From this weight on a wrong idea is still the child's own: up to one half-life.
pub const IDEAS_FROM: f64 = 0.5;

/// Age of every assessment.
#[derive(Debug, Clone, PartialEq)]
pub struct Timing {
    /// Weight of each assessment, above 0 to 1.
    pub weights: Vec<f64>,
    /// Place of each assessment in time, from 0: by week, then as read.
    pub places: Vec<usize>,
}

impl Timing {
    /// Works out weights. `now` left out: the latest week that an assessment carries.
    #[must_use]
    pub fn new(assessments: &[Assessment], now: Option<Date>, half_life_weeks: f64) -> Self {
        let latest = assessments.iter().filter_map(|a| a.week).max();
        let weight = |a: &Assessment| match (a.week, now.or(latest)) {
            (Some(week), Some(now)) => 0.5_f64.powf(weeks_between(week, now) / half_life_weeks.max(1e-3)),
            _ => 1.0,
        };
        // A check without a date is as new as the newest.
        let mut order: Vec<usize> = (0..assessments.len()).collect();
        order.sort_by_key(|&i| (assessments[i].week.or(now).or(latest), i));
        let mut places = vec![0; assessments.len()];
        order.iter().enumerate().for_each(|(place, &i)| places[i] = place);
        Timing { weights: assessments.iter().map(weight).collect(), places }
    }

    /// Whether answers of an assessment count as evidence.
    #[must_use]
    pub fn counts(&self, assessment: usize) -> bool {
        self.weight(assessment) >= COUNTS_FROM
    }

    /// The weight of an assessment.
    #[must_use]
    pub fn weight(&self, assessment: usize) -> f64 {
        self.weights.get(assessment).copied().unwrap_or(1.0)
    }
}

/// Whole and part weeks from one date to a later one; 0 where it is not later.
fn weeks_between(from: Date, to: Date) -> f64 {
    let days = from.until(to).map_or(0, |span| span.get_days());
    f64::from(days.max(0)) / 7.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn assessment(week: Option<Date>) -> Assessment {
        Assessment { name: "check".into(), week }
    }

    #[test]
    fn evidence_halves_with_the_half_life() {
        let checks = [assessment(Some(date(2026, 2, 23))), assessment(Some(date(2026, 2, 2))), assessment(None)];
        let timing = Timing::new(&checks, None, 3.0);
        assert!((timing.weights[0] - 1.0).abs() < 1e-12 && (timing.weights[1] - 0.5).abs() < 1e-12);
        assert_eq!(timing.weights[2].to_bits(), 1.0_f64.to_bits());
        assert_eq!(timing.places, [1, 0, 2]);
        let later = Timing::new(&checks, Some(date(2026, 3, 16)), 3.0);
        assert!((later.weights[1] - 0.25).abs() < 1e-12 && later.counts(1));
        assert!(!Timing::new(&checks, Some(date(2026, 3, 23)), 3.0).counts(1));
    }

    #[test]
    fn evidence_counts_as_long_as_its_weight_says() {
        for half_life in [1, 3, 5] {
            let oldest = weeks_that_count(half_life) as f64;
            let weight = |weeks: f64| 0.5_f64.powf(weeks / half_life as f64);
            assert!(weight(oldest) >= COUNTS_FROM && weight(oldest + 1.0) < COUNTS_FROM, "{half_life}");
        }
    }

    #[test]
    fn one_week_counts_in_full() {
        for week in [None, Some(date(2026, 2, 2))] {
            let timing = Timing::new(&[assessment(week), assessment(week)], None, 3.0);
            assert_eq!((timing.weights, timing.places), (vec![1.0, 1.0], vec![0, 1]));
        }
        // A plan for an earlier week than the sheets say does not count them more than in full.
        let timing = Timing::new(&[assessment(Some(date(2026, 2, 9)))], Some(date(2026, 2, 2)), 3.0);
        assert_eq!(timing.weights, [1.0]);
    }
}
