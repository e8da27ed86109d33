//! The published JSON of a ticket item, as plans and `sheaf.tickets/1` show it.
//!
//! A choice or multi-select item has `options`; a match item `rows` and `columns`; a two-part item `parts`, each like an item.
//! An option of two codes has the second under `also`.

use super::{ParamValue, TicketItem, TicketOption};
use serde::Serialize;
use std::collections::BTreeMap;

/// One item.
#[derive(Debug, Serialize)]
pub struct PublishedItem<'a> {
    number: usize,
    model: &'a str,
    params: BTreeMap<&'a str, PublishedParam<'a>>,
    skill: &'a str,
    #[serde(rename = "type")]
    kind: &'static str,
    stem: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    options: Option<Vec<PublishedOption<'a>>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    rows: Option<Vec<&'a str>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    columns: Option<&'a [String]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    parts: Option<Vec<PublishedItem<'a>>>,
    key: &'a [String],
    points: f64,
}

#[derive(Debug, Serialize)]
#[serde(untagged)]
enum PublishedParam<'a> {
    Int(i64),
    Text(&'a str),
}

#[derive(Debug, Serialize)]
struct PublishedOption<'a> {
    label: &'a str,
    text: &'a str,
    error_pattern: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    also: Option<&'a str>,
}

impl<'a> From<&'a TicketItem> for PublishedItem<'a> {
    fn from(item: &'a TicketItem) -> Self {
        let is_match = !item.rows.is_empty();
        let is_parts = !item.parts.is_empty();
        PublishedItem {
            number: item.number,
            model: &item.model,
            params: item.params.iter().map(|(name, value)| (name.as_str(), param(value))).collect(),
            skill: &item.skill,
            kind: item.kind.word(),
            stem: &item.stem,
            options: (!is_match && !is_parts).then(|| item.options.iter().map(option).collect()),
            rows: is_match.then(|| item.rows.iter().map(|r| r.text.as_str()).collect()),
            columns: is_match.then_some(item.columns.as_slice()),
            parts: is_parts.then(|| item.parts.iter().map(PublishedItem::from).collect()),
            key: &item.key,
            points: item.points,
        }
    }
}

fn param(value: &ParamValue) -> PublishedParam<'_> {
    match value {
        ParamValue::Int(n) => PublishedParam::Int(*n),
        ParamValue::Text(text) => PublishedParam::Text(text),
    }
}

fn option(option: &TicketOption) -> PublishedOption<'_> {
    PublishedOption {
        label: &option.label,
        text: &option.text,
        error_pattern: option.patterns.first().map(String::as_str),
        also: option.patterns.get(1).map(String::as_str),
    }
}
