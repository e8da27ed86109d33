//! The published JSON of ticket items: `sheaf.tickets/1`, and the items of tickets in `sheaf.plan/1`.
//!
//! Keeps: the names, shapes and order of the published form (`a_choice_item_has_the_published_shape` and its kin); `model`,
//! `version` and `params` make the item again (`what_is_published_makes_the_item_again`).
//! An option with a second code has it under `also`; a match item has `rows` and `columns` (texts alone) instead of `options`;
//! a two-part item has `parts`, each like an item. What a wrong answer without an option may mean stands apart, after the
//! rest: `wrong_marks` of a match item, `wrong_entries` of a numeric one.

use super::{MatchRow, ParamValue, TicketItem, TicketOption};
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
    /// Row texts of a match item.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub rows: Vec<String>,
    /// Column texts of a match item.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub columns: Vec<String>,
    /// Parts of a two-part item.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<PublishedItem>,
    /// Option labels, the number typed, or one column text a row.
    pub key: Vec<String>,
    /// Points; a whole number is written without a fraction.
    pub points: PublishedPoints,
    /// Wrong marks of a match item that may mean something.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub wrong_marks: Vec<PublishedMark>,
    /// Wrong entries that a numeric item expects.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub wrong_entries: Vec<PublishedEntry>,
    /// `easier` or `harder`, where it was drawn to be.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub level: Option<&'static str>,
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

/// A wrong column of a row, and what marking it may mean.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PublishedMark {
    /// Text of the row.
    pub row: String,
    /// Text of the column.
    pub column: String,
    /// What it may mean.
    pub error_pattern: String,
    /// A second meaning.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub also: Option<String>,
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
            rows: item.rows.iter().map(|row| row.text.clone()).collect(),
            columns: item.columns.clone(),
            parts: item.parts.iter().map(PublishedItem::from).collect(),
            key: item.key.clone(),
            points: item.points.into(),
            wrong_marks: item.rows.iter().flat_map(wrong_marks).collect(),
            wrong_entries: item.wrong_entries.iter().map(PublishedEntry::from).collect(),
            level: item.level.word(),
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

fn wrong_marks(row: &MatchRow) -> impl Iterator<Item = PublishedMark> + '_ {
    row.patterns.iter().map(|(column, pattern)| PublishedMark {
        row: row.text.clone(),
        column: column.clone(),
        error_pattern: pattern.clone(),
        also: row.also.get(column).cloned(),
    })
}

impl From<&(String, String)> for PublishedEntry {
    fn from((entry, pattern): &(String, String)) -> Self {
        PublishedEntry { entry: entry.clone(), error_pattern: pattern.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tickets::{ModelLibrary, draw_item, redraw};
    use serde_json::{Value, json};

    fn drawn(slug: &str) -> TicketItem {
        draw_item(ModelLibrary::builtin().get(slug).unwrap(), 7).unwrap()
    }

    fn published(slug: &str) -> Value {
        serde_json::to_value(PublishedItem::from(&drawn(slug))).unwrap()
    }

    /// Field names, in the order in which they are written.
    fn fields(item: &PublishedItem) -> Vec<String> {
        let text = serde_json::to_string_pretty(item).unwrap();
        let own = text.lines().filter_map(|line| line.strip_prefix("  \"")?.split_once("\":"));
        own.map(|(name, _)| name.to_owned()).collect()
    }

    #[test]
    fn an_item_has_the_published_fields_in_their_order() {
        for (slug, own) in [
            ("g5-scale-one", &["options", "key", "points"][..]),
            ("g5-scale-grid", &["rows", "columns", "key", "points", "wrong_marks"]),
            ("g5-scale-explain", &["parts", "key", "points"]),
            ("g3-fact-product", &["options", "key", "points", "wrong_entries"]),
        ] {
            let mut want = vec!["number", "model", "version", "params", "skill", "type", "stem"];
            want.extend(own);
            let item = PublishedItem { picture: None, ..PublishedItem::from(&drawn(slug)) };
            assert_eq!(fields(&item), want, "{slug}");
        }
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
        assert_eq!(right, &json!({"label": key, "text": right["text"], "error_pattern": null}));
    }

    #[test]
    fn a_match_item_has_texts_of_rows_and_columns_and_a_column_a_row_as_its_key() {
        let item = published("g5-scale-grid");
        assert_eq!(item["columns"], json!(["less", "equal", "greater"]));
        let (rows, key) = (item["rows"].as_array().unwrap(), item["key"].as_array().unwrap());
        assert!(rows.iter().all(Value::is_string) && rows.len() == key.len());
        assert!(key.iter().all(|k| item["columns"].as_array().unwrap().contains(k)));
        let marks = item["wrong_marks"].as_array().unwrap();
        let twofold = marks.iter().find(|m| m["row"] == rows[3] && m["column"] == "less").unwrap();
        assert_eq!(twofold["also"], "scale-fraction-shrinks");
        let at = |mark: &Value| rows.iter().position(|r| *r == mark["row"]).unwrap();
        assert!(marks.iter().all(|m| m["column"] != key[at(m)]), "a right mark means nothing wrong");
    }

    #[test]
    fn a_two_part_item_has_parts_like_items() {
        let item = PublishedItem::from(&drawn("g5-scale-explain"));
        for part in &item.parts {
            assert_eq!((part.kind, &part.model, &part.params), ("choice", &item.model, &item.params));
            assert_eq!(fields(part), fields(&PublishedItem::from(&drawn("g5-scale-one"))));
            assert_eq!(part.points, PublishedPoints::Part(0.5));
        }
        assert_eq!(item.key, [item.parts[0].key[0].clone(), item.parts[1].key[0].clone()]);
    }

    #[test]
    fn a_numeric_item_has_the_number_as_its_key() {
        let item = published("g3-fact-product");
        let product = item["params"]["a"].as_i64().unwrap() * item["params"]["b"].as_i64().unwrap();
        assert_eq!(item["key"], json!([product.to_string()]));
        assert_eq!(item["options"], json!([]));
    }

    /// Parameters as a reader of the JSON has them.
    fn read_back(params: &Value) -> BTreeMap<String, ParamValue> {
        let value =
            |v: &Value| v.as_i64().map_or_else(|| ParamValue::Text(v.as_str().unwrap().to_owned()), ParamValue::Int);
        params.as_object().unwrap().iter().map(|(name, v)| (name.clone(), value(v))).collect()
    }

    #[test]
    fn what_is_published_makes_the_item_again() {
        let library = ModelLibrary::builtin();
        for model in library.iter() {
            let item = draw_item(model, 11).unwrap();
            let shown = serde_json::to_value(PublishedItem::from(&item)).unwrap();
            let named = library.get(shown["model"].as_str().unwrap()).unwrap();
            assert_eq!(redraw(named, &read_back(&shown["params"])).unwrap(), item, "{}", item.model);
        }
    }
}
