//! From answers to what each student holds, with its uncertainty; wrong ideas; item quality.
//!
//! In:  a [`crate::scores::ResponseTable`], the skill graph, the school's mastery rules.
//! Out: [`Profiles`]: measured skills in teaching order, mastery per student and skill, counts, error-pattern counts;
//! item figures by [`item_reports`].
//! Answers of earlier weeks count less (`fading`); a child whose answers look guessed has no state but `not-enough` (`guessing`).
//! Rules: absent and omitted answers say nothing (omitted as wrong only where the setup says so); few answers pull an estimate
//! towards the class; a skill never measured for a student has no entry.
//! Not here: who sits with whom (`grouping`), reading sheets (`sheaf-sheets`).

mod catalogue;
mod fading;
mod guessing;
mod holds;
mod items;
mod measured;
mod options;
mod patterns;
mod shares;
mod states;
mod telling;

pub use catalogue::{CatalogueError, ErrorCatalogue, ErrorPattern};
pub use fading::{COUNTS_FROM, IDEAS_FROM, Timing, weeks_that_count};
pub use guessing::answers_look_guessed;
pub use holds::{HoldModel, Noise, SkillPrior, fit_hold_model};
pub use items::{ItemFigures, item_figures, item_reports};
pub use measured::SkillMap;
pub use patterns::{IdeaSureness, PatternCount, PatternTable, count_patterns};
pub use shares::ShareTable;
pub use states::{ENOUGH_ITEMS, SkillCount, Standing, skill_state};
pub use telling::{BlurKind, Blurred, blurred_skills};

use crate::numeric::jeffreys_interval;
use crate::plan::{SkillReport, SkillState};
use crate::roster::MasterySettings;
use crate::scores::ResponseTable;
use crate::skills::SkillGraph;
use jiff::civil::Date;
use ndarray::{Array2, ArrayView1};
use rayon::prelude::*;
use std::collections::HashMap;

/// Level of every interval that is shown.
pub const SHOWN_LEVEL: f64 = 0.80;

/// Students reported one after the other, so that most intervals are found and not worked out.
const FEWEST_IN_A_PART: usize = 64;

/// What every student shows on every measured skill.
#[derive(Debug)]
pub struct Profiles {
    /// Skills and which items need them.
    pub skills: SkillMap,
    /// Probability of holding each skill, shape (n_students, n_skills); the class's base rate where nothing was measured.
    pub mastery: Array2<f64>,
    /// Reports for each student, only of skills measured for them, in order of skill.
    pub reports: Vec<Vec<SkillReport>>,
    /// Wrong ideas seen.
    pub patterns: PatternTable,
    /// The fitted noise and base rates.
    pub model: HoldModel,
    /// How much each assessment still says.
    pub timing: Timing,
    /// For each student, whether the answers look guessed: every state is then `not-enough`.
    pub looks_guessed: Vec<bool>,
}

/// Estimates the profile of every student. Answers of earlier weeks than `now` count less; without it the latest week of the sheets
/// is now.
#[must_use]
pub fn estimate(table: &ResponseTable, graph: &SkillGraph, mastery: &MasterySettings, now: Option<Date>) -> Profiles {
    let skills = SkillMap::new(table, graph);
    let shares = ShareTable::new(table, mastery.omitted);
    let timing = Timing::new(table.assessments(), now, mastery.half_life_weeks as f64);
    let (model, holds) = fit_hold_model(table, &skills, &shares, &timing.weights);
    let patterns = count_patterns(table, &timing);
    let looks_guessed = answers_look_guessed(table, &shares, &timing, &patterns);
    let interval = IntervalCache::default();
    let reports = (0..table.n_students())
        .into_par_iter()
        .with_min_len(FEWEST_IN_A_PART)
        .map_init(
            || interval.clone(),
            |cache, student| {
                let counts = SkillCount::of_student(student, table, &skills, &shares, &timing, mastery);
                let sureness = if looks_guessed[student] { Sureness::Guessed } else { Sureness::AsCounted };
                report_student(counts, holds.row(student), mastery, sureness, cache)
            },
        )
        .collect();
    Profiles { skills, mastery: holds, reports, patterns, model, timing, looks_guessed }
}

/// Intervals already computed, by counts: a class has few distinct ones.
#[derive(Debug, Clone, Default)]
struct IntervalCache(HashMap<(u64, u64), (f64, f64)>);

impl IntervalCache {
    fn get(&mut self, got: f64, possible: f64) -> (f64, f64) {
        *self.0.entry((got.to_bits(), possible.to_bits())).or_insert_with(|| {
            let interval = jeffreys_interval(got, possible, SHOWN_LEVEL);
            (interval.low, interval.high)
        })
    }
}

/// Whether a student's counts can be taken as they are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sureness {
    AsCounted,
    /// The answers look guessed: they say too little for a state.
    Guessed,
}

fn report_student(
    counts: Vec<SkillCount>,
    holds: ArrayView1<'_, f64>,
    mastery: &MasterySettings,
    sureness: Sureness,
    cache: &mut IntervalCache,
) -> Vec<SkillReport> {
    counts
        .into_iter()
        .enumerate()
        .filter(|(_, count)| count.n_items > 0)
        .map(|(skill, count)| {
            let (share_low, share_high) = cache.get(count.faded_points, count.faded_possible);
            SkillReport {
                skill,
                mastery: holds[skill],
                share_low,
                share_high,
                n_items: count.n_items,
                points: count.points,
                points_possible: count.points_possible,
                state: match sureness {
                    Sureness::AsCounted => skill_state(&count, share_low, share_high, mastery),
                    Sureness::Guessed => SkillState::NotEnough,
                },
            }
        })
        .collect()
}
