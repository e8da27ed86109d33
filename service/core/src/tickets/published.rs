//! The published JSON of ticket items: `sheaf.tickets/1`, and the items of tickets in `sheaf.plan/1`.
//!
//! Keeps: the names and shapes of the published form (`a_choice_item_has_the_published_shape` and its kin).
//! An option with a second code has it under `also`; a match item has `rows` and `columns` instead of `options`;
//! a two-part item has `parts`, each like an item.

use super::{MatchRow, ParamValue, Ticket, TicketItem, TicketOption};
use crate::scores::ItemKind;
use serde::Serialize;
use std::collections::BTreeMap;

/// Name of the published form of items alone.
pub const TICKETS_SCHEMA: &str = "sheaf.tickets/1";

/// Items alone, as `sheaf tickets` prints them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PublishedItems {
    /// [`TICKETS_SCHEMA`].
    pub schema: &'static str,
    /// The items.
    pub items: Vec<PublishedItem>,
}

impl PublishedItems {
    /// Items under their schema.
    #[must_use]
    pub fn new(items: &[TicketItem]) -> Self {
        PublishedItems { schema: TICKETS_SCHEMA, items: items.iter().map(PublishedItem::from).collect() }
    }
}

/// A ticket, as in a plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PublishedTicket {
    /// Group id.
    pub group: String,
    /// `A`, `B`, …
    pub form: String,
    /// Code printed on it.
    pub form_code: String,
    /// Items in order.
    pub items: Vec<PublishedItem>,
}

impl From<&Ticket> for PublishedTicket {
    fn from(ticket: &Ticket) -> Self {
        PublishedTicket {
            group: ticket.group.clone(),
            form: ticket.form.clone(),
            form_code: ticket.form_code.clone(),
            items: ticket.items.iter().map(PublishedItem::from).collect(),
        }
    }
}

/// One item.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PublishedItem {
    /// 1-based place.
    pub number: usize,
    /// Slug of its model.
    pub model: String,
    /// Version of its model.
    pub version: u32,
    /// Parameters; with the model they make the item again.
    pub params: BTreeMap<String, PublishedParam>,
    /// Skill code.
    pub skill: String,
    /// `choice`, `multi-select`, `match`, `two-part`, `numeric`.
    #[serde(rename = "type")]
    pub kind: &'static str,
    /// What the student reads.
    pub stem: String,
    /// Text alternative of its picture.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub picture: Option<String>,
    /// Options; left out of match and two-part items, empty for numeric ones.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub options: Option<Vec<PublishedOption>>,
    /// Rows of a match item.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub rows: Vec<PublishedRow>,
    /// Columns of a match item.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub columns: Vec<String>,
    /// Parts of a two-part item.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<PublishedItem>,
    /// Wrong entries that a numeric item expects.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub wrong_entries: Vec<PublishedEntry>,
    /// Option labels, the number typed, or one column text a row.
    pub key: Vec<String>,
    /// Points; a whole number is written without a fraction.
    pub points: PublishedPoints,
}

/// A parameter.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum PublishedParam {
    /// A whole number.
    Int(i64),
    /// A word.
    Text(String),
}

/// Points.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(untagged)]
pub enum PublishedPoints {
    /// Whole points.
    Whole(u32),
    /// A part of a point.
    Part(f64),
}

/// An option.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PublishedOption {
    /// `A`, `B`, …
    pub label: String,
    /// What the student reads.
    pub text: String,
    /// What choosing it may mean; null for a right option.
    pub error_pattern: Option<String>,
    /// A second meaning.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub also: Option<String>,
}

/// A row of a match item.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PublishedRow {
    /// What the student reads.
    pub text: String,
    /// What a wrong column may mean, by column.
    pub error_patterns: BTreeMap<String, String>,
    /// A second meaning, by column.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub also: BTreeMap<String, String>,
}

/// A wrong entry that is expected.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PublishedEntry {
    /// What is typed.
    pub entry: String,
    /// What it may mean.
    pub error_pattern: String,
}

impl From<&TicketItem> for PublishedItem {
    fn from(item: &TicketItem) -> Self {
        let has_options = !matches!(item.kind, ItemKind::Match | ItemKind::TwoPart);
        PublishedItem {
            number: item.number,
            model: item.model.clone(),
            version: item.version,
            params: item.params.iter().map(|(name, value)| (name.clone(), value.into())).collect(),
            skill: item.skill.clone(),
            kind: item.kind.word(),
            stem: item.stem.clone(),
            picture: item.picture.clone(),
            options: has_options.then(|| item.options.iter().map(PublishedOption::from).collect()),
            rows: item.rows.iter().map(PublishedRow::from).collect(),
            columns: item.columns.clone(),
            parts: item.parts.iter().map(PublishedItem::from).collect(),
            wrong_entries: item.wrong_entries.iter().map(PublishedEntry::from).collect(),
            key: item.key.clone(),
            points: item.points.into(),
        }
    }
}

impl From<&ParamValue> for PublishedParam {
    fn from(value: &ParamValue) -> Self {
        match value {
            ParamValue::Int(number) => PublishedParam::Int(*number),
            ParamValue::Text(text) => PublishedParam::Text(text.clone()),
        }
    }
}

impl From<f64> for PublishedPoints {
    fn from(points: f64) -> Self {
        let is_whole = points.fract() == 0.0 && (0.0..=1_000.0).contains(&points);
        if is_whole { PublishedPoints::Whole(points as u32) } else { PublishedPoints::Part(points) }
    }
}

impl From<&TicketOption> for PublishedOption {
    fn from(option: &TicketOption) -> Self {
        PublishedOption {
            label: option.label.clone(),
            text: option.text.clone(),
            error_pattern: option.patterns.first().cloned(),
            also: option.patterns.get(1).cloned(),
        }
    }
}

impl From<&MatchRow> for PublishedRow {
    fn from(row: &MatchRow) -> Self {
        PublishedRow { text: row.text.clone(), error_patterns: row.patterns.clone(), also: row.also.clone() }
    }
}

impl From<&(String, String)> for PublishedEntry {
    fn from((entry, pattern): &(String, String)) -> Self {
        PublishedEntry { entry: entry.clone(), error_pattern: pattern.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tickets::{ModelLibrary, draw_item};
    use serde_json::{Value, json};

    fn published(slug: &str) -> Value {
        let library = ModelLibrary::builtin();
        let item = draw_item(library.get(slug).unwrap(), 7).unwrap();
        serde_json::to_value(PublishedItem::from(&item)).unwrap()
    }

    #[test]
    fn a_choice_item_has_the_published_shape() {
        let item = published("g5-scale-one");
        assert_eq!(item["type"], "choice");
        assert_eq!(item["points"], json!(1));
        assert_eq!(item["options"].as_array().unwrap().len(), 4);
        assert!(item["params"]["a"].is_i64());
        let key = item["key"][0].as_str().unwrap();
        let right = item["options"].as_array().unwrap().iter().find(|o| o["label"] == key).unwrap();
        assert!(right["error_pattern"].is_null());
        assert!(item.get("rows").is_none() && item.get("parts").is_none());
    }

    #[test]
    fn a_match_item_has_rows_and_columns_instead_of_options() {
        let item = published("g5-scale-grid");
        assert!(item.get("options").is_none());
        assert_eq!(item["columns"], json!(["less", "equal", "greater"]));
        assert_eq!(item["rows"].as_array().unwrap().len(), item["key"].as_array().unwrap().len());
        assert_eq!(item["rows"][3]["also"]["less"], "scale-fraction-shrinks");
    }

    #[test]
    fn a_two_part_item_has_parts_like_items() {
        let item = published("g5-scale-explain");
        assert!(item.get("options").is_none());
        assert_eq!(item["parts"][0]["type"], "choice");
        assert_eq!(item["parts"][1]["points"], json!(0.5));
        assert_eq!(item["key"], json!([item["parts"][0]["key"][0], item["parts"][1]["key"][0]]));
    }

    #[test]
    fn a_numeric_item_has_the_number_as_its_key() {
        let item = published("g3-fact-product");
        let product = item["params"]["a"].as_i64().unwrap() * item["params"]["b"].as_i64().unwrap();
        assert_eq!(item["key"], json!([product.to_string()]));
        assert_eq!(item["options"], json!([]));
    }
}
