//! The shape of movement across weeks, `sheaf.movement/1`: verdicts, moves, growth, and what chance alone would show.
//!
//! Written by the core; these types are never made and only describe it.
//! Keeps: movement over planned weeks is as described (acceptance test `every_answer_of_the_demo_school_is_as_described`).
#![allow(dead_code, reason = "types that only describe")]

use super::shared::SkillState;
use utoipa::ToSchema;

/// The planned weeks together.
#[derive(ToSchema)]
pub(crate) struct Movement {
    /// Name of this form.
    schema: MovementSchema,
    /// Monday of the first week.
    #[schema(format = Date, required)]
    from: Option<String>,
    /// Monday of the last week.
    #[schema(format = Date, required)]
    to: Option<String>,
    /// Mondays of the planned weeks.
    #[schema(example = json!(["2026-02-02", "2026-02-09"]))]
    weeks: Vec<String>,
    /// Every child who ever had a seat.
    students: Vec<MovementStudent>,
    /// How many went from which group to which.
    flows: Vec<Flow>,
    /// How alike the groups of two weeks are.
    agreement: Vec<Agreement>,
    /// What chance alone would show.
    by_chance: ByChance,
    /// Whether those who were moved do better than those who stayed.
    regrouping: Regrouping,
    /// How steady states are from week to week.
    state_changes: Vec<StateChange>,
    /// Skills that most of a grade lack: for class lessons, not for groups.
    core_problems: Vec<CoreProblem>,
    /// Time by homeroom and support, so that nobody is left out unseen.
    fair: Vec<FairPart>,
}

#[derive(ToSchema)]
enum MovementSchema {
    #[schema(rename = "sheaf.movement/1")]
    One,
}

/// One child over the weeks.
#[derive(ToSchema)]
struct MovementStudent {
    id: String,
    /// How it went with the skill last taught.
    verdict: Verdict,
    /// Why, in a sentence.
    reason: String,
    /// What to try next; empty where nothing needs to change.
    next: String,
    /// Week by week.
    weeks: Vec<MovementWeek>,
    /// Growth by skill.
    skills: Vec<Growth>,
}

/// Met, nearly, time to change something, not taught yet, too little seen, met before and not now, no longer there.
#[derive(ToSchema)]
#[schema(rename_all = "kebab-case")]
enum Verdict {
    Met,
    Close,
    ChangeSomething,
    NotYetTaught,
    NotEnough,
    Lost,
    Left,
}

/// One child in one week.
#[derive(ToSchema)]
struct MovementWeek {
    /// Its Monday.
    #[schema(format = Date)]
    week: String,
    /// Id of the group; null without a seat.
    #[schema(required)]
    group: Option<String>,
    /// Code of what the group was taught.
    #[schema(required)]
    target_skill: Option<String>,
    /// Where the child stood with it.
    #[schema(required)]
    state: Option<SkillState>,
    /// Minutes that the plan gave.
    minutes_planned: u32,
    /// Minutes that took place with the child there.
    minutes_received: u32,
    /// Where a person gave the seat.
    #[schema(required = false)]
    seat_given: SeatGiven,
    /// Where a person set the target.
    #[schema(required = false)]
    target_set: TargetSet,
}

/// A seat that a person gave.
#[derive(ToSchema)]
struct SeatGiven {
    reason: String,
    /// Whether it holds for the weeks to come.
    hold: bool,
}

/// A target that a person set.
#[derive(ToSchema)]
struct TargetSet {
    reason: String,
}

/// Shares of points in one skill, first and last.
#[derive(ToSchema)]
struct Growth {
    skill: String,
    #[schema(minimum = 0, maximum = 1)]
    from: f64,
    #[schema(minimum = 0, maximum = 1)]
    to: f64,
    /// What the last share would be by chance if nothing had changed.
    #[schema(minimum = 0, maximum = 1)]
    by_chance: f64,
    /// Whether the change is more than chance would show.
    reliable: bool,
    /// Change a week; null from too few weeks.
    #[schema(required)]
    trend: Option<f64>,
    #[schema(required)]
    trend_low: Option<f64>,
    #[schema(required)]
    trend_high: Option<f64>,
}

/// Children who went from one group to another into a week.
#[derive(ToSchema)]
struct Flow {
    #[schema(format = Date)]
    week: String,
    /// Null: no seat before.
    #[schema(required)]
    from: Option<String>,
    /// Null: no seat after.
    #[schema(required)]
    to: Option<String>,
    students: usize,
}

/// How alike the groups are to those of the week before.
#[derive(ToSchema)]
struct Agreement {
    #[schema(format = Date)]
    week: String,
    /// Adjusted Rand index: 1 the same, 0 as by chance.
    #[schema(required, maximum = 1)]
    adjusted_rand: Option<f64>,
}

/// What chance alone would show.
#[derive(ToSchema)]
struct ByChance {
    students: usize,
    /// Share of children who were seen as met.
    #[schema(minimum = 0, maximum = 1)]
    met_observed: f64,
    /// Share who would be if nobody had learnt anything.
    #[schema(minimum = 0, maximum = 1)]
    met_expected: f64,
}

/// Those who were moved beside those who stayed.
#[derive(ToSchema)]
struct Regrouping {
    moved: usize,
    moved_met: usize,
    stayed: usize,
    stayed_met: usize,
    /// Of the two shares; null where one of them is of nobody.
    #[schema(required)]
    difference: Option<f64>,
    #[schema(required)]
    low: Option<f64>,
    #[schema(required)]
    high: Option<f64>,
    /// False where the numbers are too few to say.
    enough: bool,
}

/// How steady states are into a week.
#[derive(ToSchema)]
struct StateChange {
    #[schema(format = Date)]
    week: String,
    judged: usize,
    newly_met: usize,
    no_longer_met: usize,
    /// Agreement of the two weeks beyond chance.
    #[schema(required, maximum = 1)]
    kappa: Option<f64>,
    /// Changes that chance alone would show.
    chance: f64,
}

/// A skill that most of a grade lack.
#[derive(ToSchema)]
struct CoreProblem {
    grade: String,
    skill: String,
    /// Children who lack it.
    lack: usize,
    /// Children of the grade.
    students: usize,
}

/// One homeroom, or the children with one support; sums are null under five children.
#[derive(ToSchema)]
struct FairPart {
    by: PartBy,
    name: String,
    #[schema(required)]
    students: Option<usize>,
    /// Minutes received of those planned.
    #[schema(required, minimum = 0)]
    share_of_minutes: Option<f64>,
    /// Weeks in which a child was taught a skill that it lacked, on average.
    #[schema(required, minimum = 0)]
    weeks_on_target: Option<f64>,
}

#[derive(ToSchema)]
#[schema(rename_all = "lowercase")]
enum PartBy {
    Homeroom,
    Support,
}
