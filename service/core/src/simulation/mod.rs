//! Invented classes whose truth is known: how well needs are recovered, and how many minutes land on lacked skills.
//!
//! In:  [`SimulationSettings`]. Out: [`SimulationFigures`]: accuracy, area under the ROC curve and calibration of mastery, beside
//! those of one who knows the true rates and the true spread of skills (no estimate can beat that on average); the share of students
//! whose group is taught a skill that they truly lack, for groups by need, by one who knows the true rates, by plain size-limited
//! k-means, by total score, at random, and at the optimum of one who knows every student's skills.
//! Every arm sees the same answers, the same estimates and the same rule for targets, so that only the grouping differs.
//! Keeps: the same settings give the same figures (`the_same_seed_gives_the_same_figures`); nobody beats the optimum
//! (`nobody_beats_the_optimum`).
//! Source: classes as in Chiu, Douglas & Li 2009, Psychometrika 74:633-665 (the ladder of levels is from memory).

mod arms;
mod invent;
mod known;
mod measures;

use crate::profile::{Profiles, estimate};
use crate::roster::{GroupCount, Include, School, Within};
use crate::skills::SkillGraph;
use arms::{Arms, serve};
use invent::{Classroom, invent};
use known::posterior_of_one_who_knows;
use measures::{Tally, paired_interval};
use rayon::prelude::*;
use thiserror::Error;

/// How many students of a class hold each skill.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BaseRates {
    /// From most students at the first skill to few at the last.
    Ladder,
    /// Half of the students, every skill.
    Half,
    /// Seven in ten, every skill.
    SevenTenths,
}

/// How far answers follow the skills.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ItemNoise {
    /// Guess and slip rates between .05 and .15.
    Low,
    /// Between .10 and .30.
    High,
}

/// What to invent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SimulationSettings {
    /// Classes, at least 1.
    pub n_classes: usize,
    /// Students of a class, 3 to 200.
    pub n_students: usize,
    /// Items of a check, at least one a skill.
    pub n_items: usize,
    /// Skills, 1 to 8.
    pub n_skills: usize,
    /// Correlation of any two skills (of the normal scores behind them), 0 to below 1.
    pub correlation: f64,
    /// Base rates.
    pub base: BaseRates,
    /// Noise.
    pub noise: ItemNoise,
    /// Smallest and largest group.
    pub sizes: (usize, usize),
    /// Seed.
    pub seed: u64,
}

/// Settings that make no class.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{0}")]
pub struct SettingsError(String);

/// How well mastery says who holds what.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Recovery {
    /// Share of students × skills judged rightly at one half.
    pub skill_accuracy: f64,
    /// Share of students judged rightly on every skill.
    pub profile_accuracy: f64,
    /// Area under the ROC curve, all students and skills together.
    pub area_under_curve: f64,
    /// Mean distance, over ten bins by size, between mastery and the share who hold the skill.
    pub calibration_error: f64,
    /// Mean squared distance of mastery from the truth.
    pub brier: f64,
}

/// Share of students whose group is taught a skill that they truly lack, by way of grouping. All 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NeedsMet {
    /// Groups by need, as Sheaf forms them.
    pub by_need: f64,
    /// The same search by one who knows the true rates.
    pub by_known_rates: f64,
    /// Plain size-limited k-means on shares of points.
    pub by_kmeans: f64,
    /// Bands of the total score.
    pub by_total_score: f64,
    /// At random.
    pub at_random: f64,
    /// The most that any grouping could do.
    pub at_best: f64,
}

/// What came out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SimulationFigures {
    /// Mastery as Sheaf estimates it.
    pub estimated: Recovery,
    /// Of one who knows the true rates.
    pub ceiling: Recovery,
    /// Needs met.
    pub needs_met: NeedsMet,
    /// Needs met by need less those by total score, class by class: mean and 95 % interval.
    pub gain_over_total_score: (f64, f64, f64),
}

/// Invents classes and measures; see the module header.
///
/// # Errors
/// [`SettingsError`] for settings that make no class.
pub fn simulate(settings: &SimulationSettings) -> Result<SimulationFigures, SettingsError> {
    check(settings)?;
    let classes: Vec<OneClass> = (0..settings.n_classes).into_par_iter().map(|c| one_class(settings, c)).collect();
    let (mut estimated, mut ceiling) = (Tally::default(), Tally::default());
    for class in &classes {
        estimated.join(&class.estimated);
        ceiling.join(&class.ceiling);
    }
    let arms: Vec<Arms> = classes.iter().map(|c| c.arms).collect();
    let gains: Vec<f64> = arms.iter().map(|a| a.0.by_need - a.0.by_total_score).collect();
    Ok(SimulationFigures {
        estimated: estimated.recovery(),
        ceiling: ceiling.recovery(),
        needs_met: Arms::mean(&arms),
        gain_over_total_score: paired_interval(&gains),
    })
}

fn check(s: &SimulationSettings) -> Result<(), SettingsError> {
    let refuse = |what: &str| Err(SettingsError(what.to_owned()));
    if s.n_classes == 0 || !(3..=200).contains(&s.n_students) {
        return refuse("A simulation needs at least one class, of 3 to 200 students.");
    }
    if !(1..=8).contains(&s.n_skills) || s.n_items < s.n_skills || s.n_items > 200 {
        return refuse("A check needs 1 to 8 skills, at least one item for each, and at most 200 items.");
    }
    if !(0.0..0.99).contains(&s.correlation) {
        return refuse("The correlation of skills must be at least 0 and below 0.99.");
    }
    if s.sizes.0 == 0 || s.sizes.0 > s.sizes.1 || s.n_students < s.sizes.0 {
        return refuse(
            "The smallest group must be at least 1, no larger than the largest, and no larger than the class.",
        );
    }
    Ok(())
}

struct OneClass {
    estimated: Tally,
    ceiling: Tally,
    arms: Arms,
}

fn one_class(settings: &SimulationSettings, number: usize) -> OneClass {
    let seed = settings.seed.wrapping_add((number as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15));
    let class: Classroom = invent(settings, seed);
    let school = school_of(settings);
    let profiles: Profiles = estimate(&class.table, &SkillGraph::default(), &school.mastery, None);
    let known = posterior_of_one_who_knows(settings, &class);
    let (mut estimated, mut ceiling) = (Tally::default(), Tally::default());
    estimated.add(&profiles.mastery, &class.holds);
    ceiling.add(&known, &class.holds);
    let arms = serve(settings, &class, &profiles, &known, &school, seed);
    OneClass { estimated, ceiling, arms }
}

fn school_of(settings: &SimulationSettings) -> School {
    let mut school = School::default();
    school.groups.include = Include::All;
    school.groups.within = Within::All;
    school.groups.count = GroupCount::Fixed(settings.n_students.div_ceil(settings.sizes.1).max(1));
    (school.groups.min_size, school.groups.max_size) = settings.sizes;
    school
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings() -> SimulationSettings {
        SimulationSettings {
            n_classes: 6,
            n_students: 24,
            n_items: 12,
            n_skills: 4,
            correlation: 0.5,
            base: BaseRates::Ladder,
            noise: ItemNoise::Low,
            sizes: (3, 5),
            seed: 3,
        }
    }

    #[test]
    fn the_same_seed_gives_the_same_figures() {
        let once = simulate(&settings()).unwrap();
        assert_eq!(once, simulate(&settings()).unwrap());
        assert_ne!(once, simulate(&SimulationSettings { seed: 4, ..settings() }).unwrap());
    }

    #[test]
    fn nobody_beats_the_optimum() {
        let met = simulate(&settings()).unwrap().needs_met;
        for share in [met.by_need, met.by_known_rates, met.by_kmeans, met.by_total_score, met.at_random] {
            assert!(share <= met.at_best + 1e-12 && share > 0.0, "{met:?}");
        }
        assert!(met.by_need > met.at_random, "{met:?}");
    }

    /// The bars that the estimate must clear in a full run (400 classes of 30, by `sheaf simulate`), with room for fewer classes.
    #[test]
    fn mastery_comes_near_the_ceiling() {
        for (noise, most_below) in [(ItemNoise::Low, 0.012), (ItemNoise::High, 0.032)] {
            let figures = simulate(&SimulationSettings { n_classes: 60, n_students: 30, noise, ..settings() }).unwrap();
            let below = figures.ceiling.skill_accuracy - figures.estimated.skill_accuracy;
            assert!(below < most_below, "{noise:?}: {below} below; {figures:?}");
            assert!(figures.estimated.calibration_error < 0.04, "{noise:?}: {figures:?}");
        }
    }

    #[test]
    fn settings_that_make_no_class_are_refused() {
        for wrong in [
            SimulationSettings { n_classes: 0, ..settings() },
            SimulationSettings { n_items: 3, ..settings() },
            SimulationSettings { correlation: 1.0, ..settings() },
            SimulationSettings { sizes: (4, 3), ..settings() },
        ] {
            assert!(simulate(&wrong).is_err(), "{wrong:?}");
        }
    }
}
