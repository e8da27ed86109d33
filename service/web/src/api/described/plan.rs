//! The shape of a week's plan, `sheaf.plan/1`: who sits where and why, what each child holds, meetings, tickets, figures.
//!
//! Written by the core and sent as it was kept, byte for byte; these types are never made and only describe it.
//! Keeps: a plan of the demo school is as described (acceptance test `every_answer_of_the_demo_school_is_as_described`).
//! Not here: the timetable that a repair reads back (`timetable`), items of tickets (`ticket`).
#![allow(dead_code, reason = "types that only describe")]

use super::shared::{Finding, Input, SkillState};
use super::ticket::Ticket;
use super::timetable::{Repair, Session, Timetable};
use utoipa::ToSchema;

/// One week's plan.
#[derive(ToSchema)]
pub(crate) struct Plan {
    /// Name of this form.
    schema: PlanSchema,
    /// Monday of the week; null where no week was named.
    #[schema(format = Date, required)]
    week: Option<String>,
    /// Makes the same plan again from the same sheets.
    #[schema(format = "uint64")]
    seed: u64,
    /// Sheets that were read.
    input: Vec<Input>,
    /// What was noticed.
    findings: Vec<Finding>,
    /// Items of the sheets.
    items: Vec<PlanItem>,
    /// Every student with scores or on the list.
    students: Vec<PlanStudent>,
    /// Who has no seat, and why.
    unplaced: Vec<Unplaced>,
    /// Who sits together, with one target skill.
    groups: Vec<Group>,
    /// Who meets when, where and with whom.
    rotation: Vec<Session>,
    /// Exit tickets.
    tickets: Vec<Ticket>,
    /// Figures of the whole.
    quality: Quality,
    /// What staff should know of the rotation.
    rotation_notes: Vec<String>,
    /// The timetable that the rotation was planned from.
    setup: Timetable,
    /// Days that were issued anew; left out where none was.
    #[schema(required = false)]
    repairs: Vec<Repair>,
}

#[derive(ToSchema)]
enum PlanSchema {
    #[schema(rename = "sheaf.plan/1")]
    One,
}

/// One item of the sheets.
#[derive(ToSchema)]
struct PlanItem {
    /// Its label in the sheet.
    item: String,
    /// Codes of its skills.
    skills: Vec<String>,
    /// Students who took it.
    taken: usize,
    /// Share of points that those who answered earned.
    #[schema(required, minimum = 0, maximum = 1)]
    difficulty: Option<f64>,
    /// How far it goes with the rest of the skill, as a correlation.
    #[schema(required, minimum = -1, maximum = 1)]
    discrimination: Option<f64>,
    /// What is odd about it, in a word.
    #[schema(required)]
    flag: Option<String>,
    /// Options that were chosen.
    options: Vec<OptionChosen>,
}

/// One option of an item.
#[derive(ToSchema)]
struct OptionChosen {
    /// Its letter.
    option: String,
    /// Students who chose it.
    chosen: usize,
    /// Share of those who answered.
    #[schema(minimum = 0, maximum = 1)]
    share: f64,
    /// How far choosing it goes with the rest of the skill.
    #[schema(required, minimum = -1, maximum = 1)]
    discrimination: Option<f64>,
    /// What is odd about it, in a word.
    #[schema(required)]
    flag: Option<String>,
}

/// One student of a plan.
#[derive(ToSchema)]
pub(crate) struct PlanStudent {
    /// As the school writes it; leading zeros stay.
    #[schema(example = "0001")]
    id: String,
    /// As last entered.
    name: String,
    /// Who is taught together in core lessons.
    homeroom: String,
    /// Id of the group; null without a seat.
    #[schema(required, example = "g1")]
    group: Option<String>,
    /// Each skill that was measured.
    profile: Vec<SkillOfStudent>,
    /// What wrong answers may mean.
    error_patterns: Vec<IdeaOfStudent>,
    /// Why this seat, in a sentence.
    why: String,
    /// Id of the group that would do nearly as well.
    #[schema(required)]
    second_choice: Option<String>,
    /// How much of what the student needs the group teaches.
    #[schema(minimum = 0, maximum = 1)]
    fit: f64,
}

/// One skill of one student.
#[derive(ToSchema)]
struct SkillOfStudent {
    /// Its code.
    #[schema(example = "5.NF.B.5a")]
    skill: String,
    /// Probability that the student holds it; under one half counts as lacked.
    #[schema(minimum = 0, maximum = 1)]
    mastery: f64,
    /// Lower end of the 80 % range of the share of points.
    #[schema(minimum = 0, maximum = 1)]
    share_low: f64,
    /// Upper end of it.
    #[schema(minimum = 0, maximum = 1)]
    share_high: f64,
    /// Items that it rests on.
    evidence: usize,
    /// Where the student stands.
    state: SkillState,
}

/// A wrong idea that answers may point to.
#[derive(ToSchema)]
struct IdeaOfStudent {
    /// Its code.
    code: String,
    /// How often it showed; an answer that may mean several things counts in parts.
    #[schema(minimum = 0)]
    seen: f64,
    /// How often it could have shown.
    chances: usize,
}

/// A student without a seat.
#[derive(ToSchema)]
pub(crate) struct Unplaced {
    /// The student.
    id: String,
    /// Why, in a word.
    kind: UnplacedKind,
    /// Why, in a sentence.
    reason: String,
}

/// Needs a seat that the limits do not leave, needs none, or gave no answers.
#[derive(ToSchema)]
#[schema(rename_all = "kebab-case")]
enum UnplacedKind {
    Waits,
    NoNeed,
    NoScores,
}

/// Students who sit together this week.
#[derive(ToSchema)]
struct Group {
    /// The same from week to week while most of it stays together.
    #[schema(example = "g1")]
    id: String,
    /// What it is called.
    name: String,
    /// Ids of its students.
    members: Vec<String>,
    /// Code of what it is taught.
    target_skill: String,
    /// Code of a wrong idea that its members share.
    #[schema(required)]
    error_pattern: Option<String>,
    /// Share of its members who lack the target.
    #[schema(minimum = 0, maximum = 1)]
    need: f64,
    /// What staff should know of it.
    notes: Vec<String>,
}

/// Figures of the whole plan; null where they are not defined.
#[derive(ToSchema)]
struct Quality {
    /// Sum of squared distances of students to the middle of their group.
    #[schema(minimum = 0)]
    sse: f64,
    /// How far groups stand apart, 1 the furthest.
    #[schema(required, minimum = -1, maximum = 1)]
    silhouette: Option<f64>,
    /// Share of seated students whose group teaches a skill that they lack.
    #[schema(minimum = 0, maximum = 1)]
    need_met: f64,
    /// Reliability of the scores.
    #[schema(required, maximum = 1)]
    reliability: Option<f64>,
    /// Standard error of a total, points.
    #[schema(required, minimum = 0)]
    standard_error: Option<f64>,
}
