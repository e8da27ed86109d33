//! The published JSON of movement, `sheaf.movement/1`: field names and order that other programs may rely on.
//!
//! In:  a [`Movement`]. Out: its text, a line for each entry of each list. Null stands where nothing can be said; what
//! people decided stands in the weeks in which they did.
//! Keeps: `the_published_shape` (in `report`). Not here: the figures (`report`).

use super::growth::Growth;
use super::report::{ChildWeek, ChildWeeks, Movement};
use super::{Flow, GivenSeat, PartKind, PartOfSchool, StateChanges, Stay};
use crate::plan::{SkillState, write_lines};
use crate::skills::SkillCode;
use jiff::civil::Date;
use serde::Serialize;

#[derive(Serialize)]
struct Published<'a> {
    schema: &'static str,
    from: Option<String>,
    to: Option<String>,
    weeks: Vec<String>,
    students: Vec<PublishedStudent<'a>>,
    flows: Vec<PublishedFlow<'a>>,
    agreement: Vec<PublishedAgreement>,
    by_chance: PublishedChance,
    regrouping: PublishedRegrouping,
    state_changes: Vec<PublishedChanges>,
    core_problems: Vec<PublishedCoreProblem<'a>>,
    fair: Vec<PublishedPart<'a>>,
}

#[derive(Serialize)]
struct PublishedStudent<'a> {
    id: &'a str,
    verdict: &'static str,
    reason: &'a str,
    next: &'a str,
    weeks: Vec<PublishedWeek<'a>>,
    skills: Vec<PublishedSkill<'a>>,
}

#[derive(Serialize)]
struct PublishedWeek<'a> {
    week: String,
    group: Option<&'a str>,
    target_skill: Option<&'a str>,
    state: Option<&'static str>,
    minutes_planned: u32,
    minutes_received: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    seat_given: Option<PublishedSeat<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    target_set: Option<PublishedReason<'a>>,
}

/// A seat that a person gave.
#[derive(Serialize)]
struct PublishedSeat<'a> {
    reason: &'a str,
    hold: bool,
}

/// A target that a person set.
#[derive(Serialize)]
struct PublishedReason<'a> {
    reason: &'a str,
}

#[derive(Serialize)]
struct PublishedSkill<'a> {
    skill: &'a str,
    from: f64,
    to: f64,
    by_chance: f64,
    reliable: bool,
    trend: Option<f64>,
    trend_low: Option<f64>,
    trend_high: Option<f64>,
}

#[derive(Serialize)]
struct PublishedFlow<'a> {
    week: String,
    from: Option<&'a str>,
    to: Option<&'a str>,
    students: usize,
}

#[derive(Serialize)]
struct PublishedAgreement {
    week: String,
    adjusted_rand: Option<f64>,
}

#[derive(Serialize)]
struct PublishedChanges {
    week: String,
    judged: usize,
    newly_met: usize,
    no_longer_met: usize,
    kappa: Option<f64>,
    chance: f64,
}

#[derive(Serialize)]
struct PublishedCoreProblem<'a> {
    grade: &'a str,
    skill: &'a str,
    lack: usize,
    students: usize,
}

/// Sums are null under five children.
#[derive(Serialize)]
struct PublishedPart<'a> {
    by: &'static str,
    name: &'a str,
    students: Option<usize>,
    share_of_minutes: Option<f64>,
    weeks_on_target: Option<f64>,
}

#[derive(Serialize)]
struct PublishedChance {
    students: usize,
    met_observed: f64,
    met_expected: f64,
}

#[derive(Serialize)]
struct PublishedRegrouping {
    moved: usize,
    moved_met: usize,
    stayed: usize,
    stayed_met: usize,
    difference: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    enough: bool,
}

/// The published JSON, `sheaf.movement/1`.
///
/// # Errors
/// What serialisation gives, which no value of ours does.
pub fn movement_json(movement: &Movement) -> std::io::Result<String> {
    let mut bytes = Vec::new();
    write_lines(&published(movement), &mut bytes)?;
    String::from_utf8(bytes).map_err(std::io::Error::other)
}

fn published(m: &Movement) -> Published<'_> {
    let r = m.regrouping;
    let flows = m.flows.iter().flat_map(|(week, flows)| flows.iter().map(move |f| flow(week, f)));
    Published {
        schema: "sheaf.movement/1",
        from: m.weeks.first().map(ToString::to_string),
        to: m.weeks.last().map(ToString::to_string),
        weeks: m.weeks.iter().map(ToString::to_string).collect(),
        students: m.students.iter().zip(&m.growth).map(|(s, growth)| student(&m.weeks, s, growth)).collect(),
        flows: flows.collect(),
        agreement: m
            .agreement
            .iter()
            .map(|(week, index)| PublishedAgreement { week: week.to_string(), adjusted_rand: *index })
            .collect(),
        by_chance: PublishedChance {
            students: m.by_chance.n,
            met_observed: m.by_chance.observed,
            met_expected: m.by_chance.expected,
        },
        regrouping: PublishedRegrouping {
            moved: r.n_moved,
            moved_met: r.n_moved_met,
            stayed: r.n_stayed,
            stayed_met: r.n_stayed_met,
            difference: r.difference.map(|d| d.difference),
            low: r.difference.map(|d| d.low),
            high: r.difference.map(|d| d.high),
            enough: r.is_enough,
        },
        state_changes: m.state_changes.iter().map(changes).collect(),
        core_problems: m
            .core_problems
            .iter()
            .map(|p| PublishedCoreProblem {
                grade: &p.grade,
                skill: p.skill.as_str(),
                lack: p.n_lack,
                students: p.n_grade,
            })
            .collect(),
        fair: m.parts.iter().map(part).collect(),
    }
}

fn changes((week, c): &(Date, StateChanges)) -> PublishedChanges {
    PublishedChanges {
        week: week.to_string(),
        judged: c.n,
        newly_met: c.newly_met,
        no_longer_met: c.no_longer_met,
        kappa: c.kappa,
        chance: c.chance,
    }
}

fn part(p: &PartOfSchool) -> PublishedPart<'_> {
    PublishedPart {
        by: match p.kind {
            PartKind::Homeroom => "homeroom",
            PartKind::Support => "support",
        },
        name: &p.name,
        students: p.told.map(|t| t.n),
        share_of_minutes: p.told.and_then(|t| t.share_of_minutes),
        weeks_on_target: p.told.map(|t| t.weeks_on_target),
    }
}

fn flow<'a>(week: &Date, flow: &'a Flow) -> PublishedFlow<'a> {
    let (from, to) = (flow.from.as_deref(), flow.to.as_deref());
    PublishedFlow { week: week.to_string(), from, to, students: flow.n_students }
}

fn seat_given(seat: &GivenSeat) -> PublishedSeat<'_> {
    PublishedSeat { reason: &seat.reason, hold: seat.stay == Stay::Held }
}

fn student<'a>(weeks: &[Date], s: &'a ChildWeeks, growth: &'a [Growth]) -> PublishedStudent<'a> {
    let week = |(week, known): (&Date, &'a Option<ChildWeek>)| {
        let known = known.as_ref()?;
        Some(PublishedWeek {
            week: week.to_string(),
            group: known.group.as_deref(),
            target_skill: known.target.as_ref().map(SkillCode::as_str),
            state: known.state.map(SkillState::word),
            minutes_planned: known.time.minutes_planned,
            minutes_received: known.time.minutes_received,
            seat_given: known.decided.seat.as_ref().map(seat_given),
            target_set: known.decided.target.as_deref().map(|reason| PublishedReason { reason }),
        })
    };
    let skill = |g: &'a Growth| PublishedSkill {
        skill: g.skill.as_str(),
        from: g.from,
        to: g.to,
        by_chance: g.by_chance,
        reliable: g.is_reliable,
        trend: g.trend.map(|t| t.slope),
        trend_low: g.trend.map(|t| t.low),
        trend_high: g.trend.map(|t| t.high),
    };
    PublishedStudent {
        id: s.student.id.as_str(),
        verdict: s.judged.verdict.word(),
        reason: &s.judged.reason,
        next: &s.next,
        weeks: weeks.iter().zip(&s.weeks).filter_map(week).collect(),
        skills: growth.iter().map(skill).collect(),
    }
}
