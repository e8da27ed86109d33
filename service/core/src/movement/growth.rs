//! Growth of one child in one skill: first and last share, trend, and what chance alone would show.
//!
//! In:  the child's fresh checks by week, how shares of the skill are spread over the children. Out: a [`Growth`] a skill.
//! Trend: the median of slopes between the weeks that measured the skill, per week of seven days; least squares beside it. Nothing is put
//! between the points: a week that did not measure the skill is no point.
//! Keeps: `weeks_between_are_not_invented`, `chance_pulls_to_the_middle`. Not here: the line's arithmetic (`numeric::trend`).

use super::aim::{AimReading, read_beside_aim};
use super::chance::{Check, Spread, is_reliable_change};
use super::report::ChildWeeks;
use crate::numeric::{Trend, least_squares_interval, theil_sen};
use crate::skills::SkillCode;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Weeks that measured a skill from which its trend is told.
const TREND_WEEKS: usize = 3;
/// Weeks in which the cut is aimed at: the length of an intervention period. Source: 10 to 15 weeks, NCRTI 2010 (from memory).
pub const AIM_WEEKS: f64 = 12.0;

/// Growth of one child in one skill.
#[derive(Debug, Clone, PartialEq)]
pub struct Growth {
    /// Skill.
    pub skill: SkillCode,
    /// Share of points at the first check.
    pub from: f64,
    /// Share at the last.
    pub to: f64,
    /// Share expected at the last check, if nothing had been learnt.
    pub by_chance: f64,
    /// Checks in different weeks.
    pub n_checks: usize,
    /// Whether they differ by more than their own error.
    pub is_reliable: bool,
    /// Slope a week with its 95 % interval; `None` under three weeks.
    pub trend: Option<Trend>,
    /// Slope a week of least squares with its 95 % interval; `None` as `trend`.
    pub least_squares: Option<(f64, f64, f64)>,
    /// Beside the aim line to the cut, [`AIM_WEEKS`] after the first check; `None` under six checks.
    pub aim: Option<AimReading>,
}

/// Growth in every skill that was checked.
pub(super) fn growth_of<'a>(
    student: &ChildWeeks,
    weeks: &[Date],
    cut: f64,
    spread: impl Fn(&SkillCode) -> Option<&'a Spread>,
) -> Vec<Growth> {
    let mut checks: BTreeMap<&SkillCode, Vec<(f64, Check)>> = BTreeMap::new();
    let first = weeks.first().copied();
    for (week, known) in weeks.iter().zip(&student.weeks) {
        let days = first.map_or(0, |f| (*week - f).get_days());
        for (skill, check) in known.iter().flat_map(|w| &w.checks) {
            checks.entry(skill).or_default().push((f64::from(days) / 7.0, *check));
        }
    }
    checks.into_iter().filter_map(|(skill, checks)| growth_in(skill, &checks, cut, spread(skill))).collect()
}

fn growth_in(skill: &SkillCode, checks: &[(f64, Check)], cut: f64, spread: Option<&Spread>) -> Option<Growth> {
    let ((_, from), (_, to)) = (checks.first().copied()?, checks.last().copied()?);
    let points: Vec<(f64, f64)> = checks.iter().map(|(at, check)| (*at, check.share())).collect();
    let trend = (points.len() >= TREND_WEEKS).then(|| theil_sen(&points)).flatten();
    let begins = points.first().map(|p| p.0)?;
    Some(Growth {
        skill: skill.clone(),
        from: from.share(),
        to: to.share(),
        by_chance: spread.map_or(from.share(), |s| s.expected_again(from)),
        n_checks: checks.len(),
        is_reliable: checks.len() > 1 && is_reliable_change(from, to),
        least_squares: least_squares_interval(&points),
        aim: trend.and_then(|t| read_beside_aim(&points, t.slope, cut, begins + AIM_WEEKS)),
        trend,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(points: f64) -> Check {
        Check { points, possible: 5.0 }
    }

    #[test]
    fn weeks_between_are_not_invented() {
        let skill = SkillCode::parse("4.NF.A.1").unwrap();
        let growth = growth_in(&skill, &[(0.0, check(1.0)), (1.0, check(2.0)), (4.0, check(5.0))], 0.8, None).unwrap();
        assert_eq!((growth.n_checks, growth.from, growth.to), (3, 0.2, 1.0));
        assert!(
            (growth.trend.unwrap().slope - 0.2).abs() < 1e-9,
            "a fifth a week, four weeks for the last three fifths"
        );
        assert_eq!(growth_in(&skill, &[], 0.8, None), None);
    }

    #[test]
    fn chance_pulls_to_the_middle() {
        let class: Vec<Check> = (0..=5).map(f64::from).map(check).collect();
        let spread = Spread::of(&class);
        let skill = SkillCode::parse("4.NF.A.1").unwrap();
        let by_chance = |points: f64| growth_in(&skill, &[(0.0, check(points))], 0.8, Some(&spread)).unwrap().by_chance;
        assert!(by_chance(0.0) > 0.0 && by_chance(5.0) < 1.0);
        assert!((by_chance(2.5) - 0.5).abs() < 1e-9);
        assert_eq!(growth_in(&skill, &[(0.0, check(1.0))], 0.8, None).unwrap().by_chance, 0.2);
    }
}
