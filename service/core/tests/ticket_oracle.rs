//! Over 20,000 items of every shipped model against keys and wrong answers that Python's own arithmetic gives.
//!
//! In:  `fixtures/oracles/tickets/g3.jsonl` to `g5.jsonl`, written by `evaluate.py` beside them (`fractions`, no code shared;
//!      its head says how to run it again). Keeps: stem, picture, key, every wrong answer and its code are those worked out there.
//! Not here: which of the wrong answers are taken, and in which order.
#![allow(clippy::unwrap_used, clippy::panic)]

use serde_json::Value;
use sheaf_core::scores::ItemKind;
use sheaf_core::tickets::{ItemModel, MatchRow, ModelLibrary, ParamValue, TicketItem, TicketOption, redraw};
use std::collections::{BTreeMap, BTreeSet};

const FILES: [&str; 3] = [
    include_str!("../../../fixtures/oracles/tickets/g3.jsonl"),
    include_str!("../../../fixtures/oracles/tickets/g4.jsonl"),
    include_str!("../../../fixtures/oracles/tickets/g5.jsonl"),
];

/// A text without the commas of thousands.
fn plain(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let is_digit = |at: usize| chars.get(at).is_some_and(char::is_ascii_digit);
    let groups = |at: usize| chars[at] == ',' && at > 0 && is_digit(at - 1) && (1..=3).all(|n| is_digit(at + n));
    (0..chars.len()).filter(|at| !groups(*at)).map(|at| chars[at]).collect()
}

/// A text as the files have it.
fn short(text: &str) -> String {
    let step = |hash: u64, byte: u8| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    format!("{:06x}", plain(text).bytes().fold(0xcbf2_9ce4_8422_2325_u64, step) >> 40)
}

fn texts(value: &Value) -> Vec<String> {
    value.as_array().unwrap().iter().map(|v| v.as_str().unwrap().to_owned()).collect()
}

fn params(names: &[String], values: &Value) -> BTreeMap<String, ParamValue> {
    let value =
        |v: &Value| v.as_i64().map_or_else(|| ParamValue::Text(v.as_str().unwrap().to_owned()), ParamValue::Int);
    names.iter().cloned().zip(values.as_array().unwrap().iter().map(value)).collect()
}

fn assert_offered(answer: &str, codes: &[String], offered: &Value, item: &TicketItem) {
    let offered = texts(offered);
    let codes = if codes.is_empty() { vec![String::new()] } else { codes.to_vec() };
    for code in codes {
        let pair = format!("{}|{code}", plain(answer));
        assert!(offered.contains(&short(&pair)), "{pair} was not worked out for {item:?}");
    }
}

fn compare_options(options: &[TicketOption], key: &[String], right: &Value, offered: &Value, item: &TicketItem) {
    let (right_ones, others): (Vec<_>, Vec<_>) = options.iter().partition(|o| key.contains(&o.label));
    let mut found: Vec<String> = right_ones.iter().map(|o| short(&o.text)).collect();
    found.sort();
    assert_eq!(found, texts(right), "{item:?}");
    others.iter().for_each(|o| assert_offered(&o.text, &o.patterns, offered, item));
}

fn compare_row(row: &MatchRow, offered: &Value, item: &TicketItem) {
    for (column, code) in row.patterns.iter().chain(&row.also) {
        assert_offered(column, std::slice::from_ref(code), offered, item);
    }
}

fn compare(item: &TicketItem, key: &Value, wrong: &Value) {
    match item.kind {
        ItemKind::Choice | ItemKind::MultiSelect => compare_options(&item.options, &item.key, key, wrong, item),
        ItemKind::Match => {
            assert_eq!(item.key.iter().map(|k| short(k)).collect::<Vec<_>>(), texts(key), "{item:?}");
            item.rows.iter().enumerate().for_each(|(at, row)| compare_row(row, &wrong[at], item));
        }
        ItemKind::Numeric => {
            assert_eq!(item.key.iter().map(|k| short(k)).collect::<Vec<_>>(), texts(key), "{item:?}");
            for (entry, code) in &item.wrong_entries {
                assert_offered(entry, std::slice::from_ref(code), wrong, item);
            }
        }
        ItemKind::TwoPart => {
            for (at, part) in item.parts.iter().enumerate() {
                let right = Value::Array(vec![key[at].clone()]);
                compare_options(&part.options, &part.key, &right, &wrong[at], item);
            }
        }
    }
}

/// How many items of a model were compared.
fn compare_model(model: &ItemModel, fixture: &Value) -> usize {
    let names = texts(&fixture["names"]);
    let mut n_compared = 0;
    for kept in fixture["items"].as_array().unwrap() {
        // A draw with too few wrong answers left is none for the engine.
        let Ok(item) = redraw(model, &params(&names, &kept[0])) else { continue };
        assert_eq!(short(&item.stem), kept[1].as_str().unwrap(), "stem of {item:?}");
        assert_eq!(item.picture.as_deref().map(short).unwrap_or_default(), kept[2].as_str().unwrap(), "{item:?}");
        compare(&item, &kept[3], &kept[4]);
        n_compared += 1;
    }
    n_compared
}

#[test]
fn keys_and_wrong_answers_are_those_worked_out_apart() {
    let library = ModelLibrary::builtin();
    let (mut n_compared, mut slugs) = (0, BTreeSet::new());
    for line in FILES.iter().flat_map(|file| file.lines()) {
        let fixture: Value = serde_json::from_str(line).unwrap();
        let slug = fixture["model"].as_str().unwrap();
        let model = library.get(slug).unwrap_or_else(|| panic!("{slug} is no model now; run evaluate.py --keep"));
        let n_of_model = compare_model(model, &fixture);
        assert!(n_of_model > 0, "no item of {slug} was compared");
        n_compared += n_of_model;
        slugs.insert(slug.to_owned());
    }
    let all: BTreeSet<String> = library.iter().map(|m| m.slug().to_owned()).collect();
    assert_eq!(slugs, all, "run evaluate.py --keep");
    assert!(n_compared >= 20_000, "{n_compared}");
}
