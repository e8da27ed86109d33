//! What a ticket is asked to be, and why it could not be.
//! A gap is one sentence for staff: which skill has no model, or why no draw of its models came out.

use crate::skills::SkillCode;
use std::collections::BTreeSet;
use thiserror::Error;

/// Whether scores say something about a skill.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Evidence {
    /// Enough answers.
    Measured,
    /// No answers, or too few: the ticket probes it first.
    Unmeasured,
}

/// What is known about a prerequisite of the target.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PrerequisiteEvidence {
    /// The prerequisite.
    pub skill: SkillCode,
    /// Whether it was measured.
    pub evidence: Evidence,
}

/// What a group's tickets are asked to be.
#[derive(Debug, Clone, Copy)]
pub struct TicketRequest<'a> {
    /// Id of the group, e.g. `g1`.
    pub group: &'a str,
    /// Skill that the group was taught.
    pub target: &'a SkillCode,
    /// Wrong idea that most members share; items that can show it come first.
    pub error_pattern: Option<&'a str>,
    /// Items a ticket, 1 or more.
    pub n_items: usize,
    /// `A`, `B`, …
    pub forms: &'a [String],
    /// Seed of every draw.
    pub seed: u64,
    /// Draws that members have met of late ([`crate::tickets::draw_fingerprint`]); they come again only where none is new.
    pub met: &'a BTreeSet<u64>,
    /// What is known about prerequisites; those not named count as measured.
    pub prerequisites: &'a [PrerequisiteEvidence],
}

/// Why there is no ticket. One sentence for the person who asked.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum TicketGap {
    /// No model asks for the skill.
    #[error(
        "no item model asks for {skill}, so its exit ticket is left to the teacher; a file in config/item_models can add one"
    )]
    NoModel {
        /// The skill.
        skill: SkillCode,
    },
    /// Models there are, but none gives an item.
    #[error("no item came of the models for {skill}: {reason}")]
    NoDraw {
        /// The skill.
        skill: SkillCode,
        /// What the last model said.
        reason: String,
    },
    /// A ticket has no item of that number.
    #[error("ticket {form_code} has no item {number}")]
    NoItem {
        /// The ticket.
        form_code: String,
        /// The number asked for.
        number: usize,
    },
}

impl TicketGap {
    pub(super) fn no_model(skill: &SkillCode) -> Self {
        TicketGap::NoModel { skill: skill.clone() }
    }
}
