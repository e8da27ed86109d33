//! What a ticket is asked to be, and why it could not be.
//! A gap is one sentence for staff: which skill has no model, or why no draw of its models came out.

use crate::skills::SkillCode;
use crate::tickets::model::Level;
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
    /// How hard one of the items at the target is, by the group's state.
    pub level: Level,
    /// What is known about prerequisites; those not named count as measured.
    pub prerequisites: &'a [PrerequisiteEvidence],
}

/// What takes the place of an item that a person does not want.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Swap {
    /// Another item of the same kind of question.
    Another,
    /// An easier one of the same kind.
    Easier,
    /// A harder one of the same kind.
    Harder,
    /// Another kind of question on the same skill.
    OtherKind,
}

impl Swap {
    /// Every way, in the order shown.
    pub const ALL: [Swap; 4] = [Swap::Another, Swap::Easier, Swap::Harder, Swap::OtherKind];

    /// The word used in JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Swap::Another => "another",
            Swap::Easier => "easier",
            Swap::Harder => "harder",
            Swap::OtherKind => "other-kind",
        }
    }

    /// Reads the word.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Swap::ALL.into_iter().find(|swap| swap.word() == word)
    }

    pub(super) fn level(self) -> Level {
        match self {
            Swap::Easier => Level::Easier,
            Swap::Harder => Level::Harder,
            Swap::Another | Swap::OtherKind => Level::AsWritten,
        }
    }
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
    /// The model of the item cannot be drawn easier or harder.
    #[error("this kind of question on {skill} has no easier or harder items; another kind may do")]
    NoLevel {
        /// The skill.
        skill: SkillCode,
    },
    /// There is one kind of question only.
    #[error("there is only one kind of question on {skill}; a file in config/item_models can add one")]
    OneKind {
        /// The skill.
        skill: SkillCode,
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
