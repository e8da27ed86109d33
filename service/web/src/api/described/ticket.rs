//! The shape of exit tickets in a plan: items with their options, keys and what wrong answers may mean.
//!
//! Written by the core; these types are never made and only describe it. A part of a two-part item is described like an item.
//! Keeps: tickets of the demo school are as described (acceptance test `every_answer_of_the_demo_school_is_as_described`).
#![allow(dead_code, reason = "types that only describe")]

use super::shared::ItemKind;
use serde::Serialize;
use std::collections::BTreeMap;
use utoipa::ToSchema;

/// One ticket.
#[derive(ToSchema)]
pub(crate) struct Ticket {
    /// Id of its group.
    group: String,
    /// Letter of its form.
    #[schema(example = "A")]
    form: String,
    /// Code that is printed on it and finds its keys again.
    form_code: String,
    /// Its items in order.
    items: Vec<TicketItem>,
}

/// One item. `model`, `version` and `params` make it again.
#[derive(ToSchema)]
struct TicketItem {
    /// Place on the ticket.
    #[schema(minimum = 1)]
    number: usize,
    /// The pattern that it was drawn from.
    #[schema(example = "g5-scale-one")]
    model: String,
    /// Version of the pattern.
    version: u32,
    /// What was drawn.
    params: BTreeMap<String, Param>,
    /// Code of its skill.
    skill: String,
    /// Its kind.
    #[schema(rename = "type")]
    kind: ItemKind,
    /// What the student reads.
    stem: String,
    /// Its picture in words; left out where it has none.
    #[schema(required = false)]
    picture: String,
    /// Options; left out of match and two-part items, empty for numbers to write.
    #[schema(required = false)]
    options: Vec<TicketOption>,
    /// Rows of a match item.
    #[schema(required = false)]
    rows: Vec<String>,
    /// Columns of a match item.
    #[schema(required = false)]
    columns: Vec<String>,
    /// Parts of a two-part item.
    #[schema(required = false, no_recursion)]
    parts: Vec<TicketItem>,
    /// Letters of right options, the number to write, or one column a row.
    key: Vec<String>,
    /// Points.
    #[schema(minimum = 0)]
    points: f64,
    /// Wrong marks of a match item that may mean something.
    #[schema(required = false)]
    wrong_marks: Vec<WrongMark>,
    /// Wrong numbers that are expected.
    #[schema(required = false)]
    wrong_entries: Vec<WrongEntry>,
    /// Where it was drawn to be another level.
    #[schema(required = false)]
    level: Level,
}

/// A number or a word.
#[derive(Serialize, ToSchema)]
#[serde(untagged)]
enum Param {
    Number(i64),
    Word(String),
}

#[derive(ToSchema)]
#[schema(rename_all = "lowercase")]
enum Level {
    Easier,
    Harder,
}

/// One option.
#[derive(ToSchema)]
struct TicketOption {
    /// Its letter.
    label: String,
    /// What the student reads.
    text: String,
    /// Code of what choosing it may mean; null for a right one.
    #[schema(required)]
    error_pattern: Option<String>,
    /// A second meaning.
    #[schema(required = false)]
    also: String,
}

/// A wrong column of a row.
#[derive(ToSchema)]
struct WrongMark {
    /// The row.
    row: String,
    /// The column.
    column: String,
    /// Code of what marking it may mean.
    error_pattern: String,
    /// A second meaning.
    #[schema(required = false)]
    also: String,
}

/// A wrong number.
#[derive(ToSchema)]
struct WrongEntry {
    /// What is written.
    entry: String,
    /// Code of what it may mean.
    error_pattern: String,
}
