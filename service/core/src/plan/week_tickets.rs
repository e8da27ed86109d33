//! The week's tickets: two forms for every group, and the items that a person swapped.
//!
//! In:  groups with their targets, what their members show, what they met of late, swaps in order. Out: tickets; findings where a
//! target has no item model, or a swap cannot be.
//! Keeps: 1. no item that a member met of late comes again where another can be drawn (`items_of_the_weeks_before_do_not_come_again` of `sheaf-app`)
//!        2. where at least half of a group is far below the cut at its target one item is easier, where at least half is near or
//!           above it one is harder (`the_state_of_a_group_makes_one_item_easier_or_harder`
//!           of `sheaf-app`)
//!        3. a swap changes its item and the code of its form alone (`a_swap_changes_its_ticket_alone` of `sheaf-app`).
//! Not here: which draws were met (`sheaf-app` keeps the weeks), how an item is drawn (`tickets`).
//! Source: common practice for easier items where a group is stuck, no source.

use super::{Group, SkillState, StudentReport};
use crate::finding::Finding;
use crate::grouping::{Decided, Overrule};
use crate::profile::Profiles;
use crate::roster::StudentId;
use crate::skills::{SkillCode, SkillGraph};
use crate::tickets::{
    Evidence, Level, ModelLibrary, PrerequisiteEvidence, Ticket, TicketRequest, assemble_tickets, swap_item,
};
use std::collections::{BTreeMap, BTreeSet};

/// Draws ([`crate::tickets::draw_fingerprint`]) that each child met on tickets of late.
pub type MetItems = BTreeMap<StudentId, BTreeSet<u64>>;

/// Forms of a ticket: one for the session, one for neighbours and make-ups.
const FORMS: [&str; 2] = ["A", "B"];

/// Code of the finding on a swap that no item can take the place in.
pub const IDLE_SWAP: &str = "swap-has-no-effect";

/// Share of points at the target up to which a child is far below any cut; common practice, no source.
const FAR_BELOW: f64 = 0.25;

/// What tickets are made from, besides the groups.
pub(super) struct TicketInput<'a> {
    pub(super) item_models: &'a ModelLibrary,
    pub(super) graph: &'a SkillGraph,
    pub(super) n_items: usize,
    pub(super) met: &'a MetItems,
    pub(super) seed: u64,
}

/// Who is taught what, and what they show.
pub(super) struct Taught<'a> {
    pub(super) groups: &'a [Group],
    pub(super) students: &'a [StudentReport],
    pub(super) profiles: &'a Profiles,
}

/// Tickets for every group, with the items that a person swapped; a target without an item model is a finding, once a skill.
pub(super) fn week_tickets(
    taught: &Taught<'_>,
    decisions: &[Overrule],
    input: &TicketInput<'_>,
    findings: &mut Vec<Finding>,
) -> Vec<Ticket> {
    let mut tickets = suggested(taught, input, findings);
    for (nth, decision) in decisions.iter().enumerate() {
        if let Err(why) = swap(&mut tickets, taught, nth, decision, input) {
            findings.push(Finding::warning(
                IDLE_SWAP,
                format!("An item that was to be swapped stays: {why}."),
                "look at the ticket before it is printed",
            ));
        }
    }
    tickets
}

fn suggested(taught: &Taught<'_>, input: &TicketInput<'_>, findings: &mut Vec<Finding>) -> Vec<Ticket> {
    let forms = FORMS.map(str::to_owned);
    let mut without_model = BTreeSet::new();
    let mut tickets = Vec::new();
    for (g, group) in taught.groups.iter().enumerate() {
        let prerequisites = prerequisites_of(&group.target_skill, taught.profiles, input.graph);
        let request = TicketRequest {
            group: &group.id,
            target: &group.target_skill,
            error_pattern: group.error_pattern.as_deref(),
            n_items: input.n_items,
            forms: &forms,
            seed: input.seed.wrapping_add(g as u64),
            met: &met_by(group, taught.students, input.met),
            level: level_of(group, taught),
            prerequisites: &prerequisites,
        };
        match assemble_tickets(input.item_models, input.graph, &request) {
            Ok(made) => tickets.extend(made),
            Err(gap) if without_model.insert(group.target_skill.clone()) => {
                findings.push(Finding::warning(
                    "no-ticket",
                    format!("{}: {gap}.", group.name),
                    "no ticket for this target",
                ));
            }
            Err(_) => {}
        }
    }
    tickets
}

/// What any member met of late.
fn met_by(group: &Group, students: &[StudentReport], met: &MetItems) -> BTreeSet<u64> {
    let of_member = |s: &usize| students.get(*s).and_then(|student| met.get(&student.id));
    group.members.iter().filter_map(of_member).flatten().copied().collect()
}

/// Whether one item is to be easier or harder, by what the members show at the target.
fn level_of(group: &Group, taught: &Taught<'_>) -> Level {
    let Some(target) = taught.profiles.skills.skills.iter().position(|s| s.code == group.target_skill) else {
        return Level::AsWritten;
    };
    let at_target = |s: &usize| taught.students.get(*s)?.profile.iter().find(|report| report.skill == target);
    let reports: Vec<_> = group.members.iter().filter_map(at_target).collect();
    let is_half = |n: usize| n > 0 && 2 * n >= group.members.len();
    let n_near = reports.iter().filter(|r| is_near(r.state)).count();
    let is_far = |state: SkillState| matches!(state, SkillState::NotYet | SkillState::Lost);
    let n_far = reports.iter().filter(|r| is_far(r.state) && r.points <= FAR_BELOW * r.points_possible).count();
    match (is_half(n_far), is_half(n_near)) {
        (true, false) => Level::Easier,
        (false, true) => Level::Harder,
        _ => Level::AsWritten,
    }
}

fn is_near(state: SkillState) -> bool {
    matches!(state, SkillState::Close | SkillState::MetOnce | SkillState::Confirmed)
}

/// Puts another item in the place of one that a person swapped; other decisions change no ticket.
fn swap(
    tickets: &mut [Ticket],
    taught: &Taught<'_>,
    nth: usize,
    decision: &Overrule,
    input: &TicketInput<'_>,
) -> Result<(), String> {
    let Decided::Item { group, form, number, swap } = &decision.what else { return Ok(()) };
    let group = taught.groups.iter().find(|g| super::group_number(&g.id) == Some(*group));
    let ticket = tickets.iter_mut().find(|t| group.is_some_and(|g| g.id == t.group) && t.form == *form);
    let (Some(group), Some(ticket)) = (group, ticket) else {
        return Err(format!("there is no form {form} for its group this week"));
    };
    let met = met_by(group, taught.students, input.met);
    let seed = input.seed.wrapping_add(nth as u64);
    *ticket = swap_item(input.item_models, ticket, *number, *swap, &met, seed).map_err(|gap| gap.to_string())?;
    Ok(())
}

/// Direct prerequisites of a target, with whether the sheets measured them.
fn prerequisites_of(target: &SkillCode, profiles: &Profiles, graph: &SkillGraph) -> Vec<PrerequisiteEvidence> {
    let direct = graph.get(target).map_or(&[][..], |s| &s.prerequisites);
    let is_measured = |code: &SkillCode| {
        profiles.skills.skills.iter().any(|s| s.code == *code && s.n_items >= crate::profile::ENOUGH_ITEMS)
    };
    direct
        .iter()
        .map(|code| PrerequisiteEvidence {
            skill: code.clone(),
            evidence: if is_measured(code) { Evidence::Measured } else { Evidence::Unmeasured },
        })
        .collect()
}
