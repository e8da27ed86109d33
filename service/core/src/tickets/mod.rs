//! Exit tickets: item models as data, items drawn from them, tickets for a group's target.
//!
//! In:  model files (`config/item_models/`), a target skill, a seed.
//! Out: [`Ticket`]s for a group ([`assemble_tickets`]), single items ([`sample_items`], [`draw_item`], [`redraw`]),
//!      and their published forms ([`published`], [`qti`], [`text`]).
//! Keeps: one right answer by value, wrong options that each carry a code (`every_model_keeps_the_rules_over_many_draws`).
//! Not here: pages and workbook (they render [`Ticket`]), scoring of results (`scores`).

mod assemble;
mod coverage;
mod draw;
pub mod drawing;
mod formula;
mod model;
pub mod published;
pub mod qti;
mod sureness;
pub mod text;

pub use assemble::{
    Evidence, PrerequisiteEvidence, Swap, TicketGap, TicketRequest, assemble_tickets, sample_items, sheet_code,
    swap_item,
};
pub use coverage::coverage_table;
pub use draw::{DrawError, draw_fingerprint, draw_item, draw_item_at, redraw};
pub use drawing::Drawing;
pub use model::{ItemModel, Level, ModelFault, ModelLibrary};

pub use sureness::{Guesser, guesser, needed, passes, right_says};

use crate::scores::ItemKind;
use std::collections::BTreeMap;

/// One option of an item.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TicketOption {
    /// `A`, `B`, …
    pub label: String,
    /// What the student reads.
    pub text: String,
    /// What choosing it may mean (none for a right option); with two codes each counts half.
    pub patterns: Vec<String>,
}

/// One row of a match grid.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct MatchRow {
    /// What the student reads.
    pub text: String,
    /// Error-pattern code of each wrong column that has one, by column text.
    pub patterns: BTreeMap<String, String>,
    /// A second code of a wrong column, where two wrong ideas give the same mark; each then counts half.
    pub also: BTreeMap<String, String>,
}

/// One item as drawn. `model` and `params` make it again.
#[derive(Debug, Clone, PartialEq)]
pub struct TicketItem {
    /// 1-based place on the ticket.
    pub number: usize,
    /// Slug of the item model.
    pub model: String,
    /// Version of the item model.
    pub version: u32,
    /// Drawn parameters by name (integers; text parameters as text).
    pub params: BTreeMap<String, ParamValue>,
    /// Skill code that a right answer shows.
    pub skill: String,
    /// How it is answered.
    pub kind: ItemKind,
    /// What the student reads, with the proper times and division signs; a fraction is written `3/4`.
    pub stem: String,
    /// Text alternative of the picture, where the item has one.
    pub picture: Option<String>,
    /// The picture itself, where it can be drawn; `picture` says it in words.
    pub drawing: Option<Drawing>,
    /// Options (choice, multi-select); empty otherwise.
    pub options: Vec<TicketOption>,
    /// Rows of a match grid; empty otherwise.
    pub rows: Vec<MatchRow>,
    /// Column texts of a match grid; empty otherwise.
    pub columns: Vec<String>,
    /// Parts of a two-part item, each like an item; empty otherwise.
    pub parts: Vec<TicketItem>,
    /// Option labels, the number typed, or for a match grid one column text a row; for a two-part item the keys of its parts in order.
    pub key: Vec<String>,
    /// Expected wrong entries of a numeric item: entry and error-pattern code.
    pub wrong_entries: Vec<(String, String)>,
    /// Points for a right answer.
    pub points: f64,
    /// How hard it is among the items of its model, where it was drawn for that.
    pub level: Level,
}

impl TicketItem {
    /// Codes of the wrong ideas that a wrong answer can show; of a two-part item those of its reason.
    #[must_use]
    pub fn codes(&self) -> std::collections::BTreeSet<&str> {
        let of_options = self.options.iter().flat_map(|o| &o.patterns);
        let of_entries = self.wrong_entries.iter().map(|(_, code)| code);
        let of_reasons = self.parts.iter().skip(1).flat_map(TicketItem::codes);
        of_options.chain(of_entries).map(String::as_str).chain(of_reasons).collect()
    }

    /// Whether a wrong answer to the item can show the wrong idea of a code.
    #[must_use]
    pub fn can_show(&self, pattern: &str) -> bool {
        let is_it = |code: &String| code == pattern;
        self.options.iter().any(|o| o.patterns.iter().any(is_it))
            || self.rows.iter().any(|r| r.patterns.values().chain(r.also.values()).any(is_it))
            || self.wrong_entries.iter().any(|(_, code)| is_it(code))
            || self.parts.iter().any(|part| part.can_show(pattern))
    }
}

/// A drawn parameter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ParamValue {
    /// A whole number.
    Int(i64),
    /// A word.
    Text(String),
}

impl std::fmt::Display for ParamValue {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            ParamValue::Int(number) => write!(f, "{number}"),
            ParamValue::Text(text) => f.write_str(text),
        }
    }
}

/// A ticket for one group.
#[derive(Debug, Clone, PartialEq)]
pub struct Ticket {
    /// Id of the group, e.g. `g1`.
    pub group: String,
    /// `A`, `B`, …
    pub form: String,
    /// Code printed on it, so that results find their way home.
    pub form_code: String,
    /// Items in order.
    pub items: Vec<TicketItem>,
}
