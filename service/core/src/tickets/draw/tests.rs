//! Many draws of every shipped model, and facts of the trade recomputed from the parameters alone.
//! The right answer is worked out here by plain arithmetic, apart from the engine's own formulas.

use super::*;
use crate::scores::ItemKind;
use crate::tickets::{ModelLibrary, TicketOption};
use num_rational::Ratio;
use std::collections::BTreeSet;

/// A number that is read back from what a child reads: `1,200`, `3/4`, `2 1/3`, `0.75`; `None` for other words.
fn number(text: &str) -> Option<Ratio<i64>> {
    let text = text.replace(',', "");
    let whole = |t: &str| t.parse::<i64>().ok().map(Ratio::from_integer);
    let fraction = |t: &str| {
        let (top, bottom) = t.split_once('/')?;
        Some(Ratio::new(top.parse().ok()?, bottom.parse::<i64>().ok().filter(|d| *d != 0)?))
    };
    if let Some((wholes, parts)) = text.split_once('.') {
        let parts_value: i64 = parts.parse().ok()?;
        return Some(whole(wholes)? + Ratio::new(parts_value, 10_i64.pow(parts.len() as u32)));
    }
    match text.split_once(' ') {
        Some((wholes, part)) => Some(whole(wholes)? + fraction(part)?),
        None => whole(&text).or_else(|| fraction(&text)),
    }
}

fn items(slug: &str, n: u64) -> Vec<TicketItem> {
    let library = ModelLibrary::builtin();
    let model = library.get(slug).unwrap();
    (0..n).map(|seed| draw_item(model, seed).unwrap()).collect()
}

fn int(item: &TicketItem, name: &str) -> i64 {
    match item.params[name] {
        ParamValue::Int(number) => number,
        ParamValue::Text(ref text) => panic!("{name} is {text}"),
    }
}

fn right_text(item: &TicketItem) -> String {
    let right: Vec<&TicketOption> = item.options.iter().filter(|o| item.key.contains(&o.label)).collect();
    assert_eq!(right.len(), 1, "{item:?}");
    right[0].text.clone()
}

/// The rules of one choice: labels in order, one right option, different texts and values, a code on every wrong one.
fn check_choice(item: &TicketItem, is_always_shown: bool) {
    let labels: Vec<&str> = item.options.iter().map(|o| o.label.as_str()).collect();
    assert_eq!(labels, options::LABELS[..labels.len()], "{item:?}");
    let texts: BTreeSet<&str> = item.options.iter().map(|o| o.text.as_str()).collect();
    assert_eq!(texts.len(), item.options.len(), "{item:?}");
    let values: Vec<Ratio<i64>> = item.options.iter().filter_map(|o| number(&o.text)).collect();
    assert_eq!(values.iter().collect::<BTreeSet<_>>().len(), values.len(), "two options of one value: {item:?}");
    if values.len() == item.options.len() {
        assert!(values.is_sorted(), "{item:?}");
    }
    for option in &item.options {
        let is_right = item.key.contains(&option.label);
        assert!(option.patterns.len() <= 2, "{item:?}");
        assert!(!is_right || option.patterns.is_empty(), "a right option with a code: {item:?}");
        assert!(is_right || is_always_shown || !option.patterns.is_empty(), "a wrong option without a code: {item:?}");
    }
    assert_eq!(item.key.len(), 1, "{item:?}");
    let length = |is_right: bool| {
        let of = item.options.iter().filter(|o| item.key.contains(&o.label) == is_right);
        of.map(|o| o.text.chars().count()).max().unwrap()
    };
    assert!(length(true) <= length(false) * 3 / 2 + 4, "the key is the only long one: {item:?}");
}

/// A hyphen that joins no two letters stands for a minus, which is printed as such and never leads a number.
fn has_ascii_minus(text: &str) -> bool {
    let chars: Vec<char> = text.chars().collect();
    let letter = |at: Option<usize>| at.and_then(|i| chars.get(i)).is_some_and(|c| c.is_alphabetic());
    chars.iter().enumerate().any(|(i, c)| *c == '-' && !(letter(i.checked_sub(1)) && letter(Some(i + 1))))
}

fn check_item(item: &TicketItem) {
    for text in [&item.stem].into_iter().chain(item.options.iter().map(|o| &o.text)) {
        assert!(!text.contains(['{', '}']) && !text.contains("/0 ") && !has_ascii_minus(text), "{text} in {item:?}");
    }
    match item.kind {
        ItemKind::Choice => {
            assert_eq!(item.options.len(), 4, "{item:?}");
            check_choice(item, false);
        }
        ItemKind::MultiSelect => {
            assert!(!item.key.is_empty() && item.key.len() < item.options.len(), "{item:?}");
        }
        ItemKind::Match => {
            assert_eq!(item.key.len(), item.rows.len(), "{item:?}");
            assert!(item.key.iter().all(|k| item.columns.contains(k)), "{item:?}");
            for (row, key) in item.rows.iter().zip(&item.key) {
                assert!(!row.patterns.contains_key(key), "{item:?}");
            }
        }
        ItemKind::TwoPart => {
            assert_eq!(item.parts.len(), 2, "{item:?}");
            for part in &item.parts {
                assert_eq!(part.options.len(), 4, "{item:?}");
                let n_silent = part.options.iter().filter(|o| o.patterns.is_empty()).count();
                let is_always_shown = part.options.iter().any(|o| o.text.to_lowercase().contains("cannot be told"));
                assert!(n_silent <= if is_always_shown { 2 } else { 1 }, "{item:?}");
                check_choice(part, is_always_shown);
            }
            assert_eq!(item.key, [item.parts[0].key[0].clone(), item.parts[1].key[0].clone()]);
        }
        ItemKind::Numeric => {
            let key = number(&item.key[0]).unwrap();
            assert!(!item.wrong_entries.is_empty(), "{item:?}");
            assert!(item.wrong_entries.iter().all(|(entry, _)| number(entry).unwrap() != key), "{item:?}");
        }
    }
}

#[test]
fn every_model_keeps_the_rules_over_many_draws() {
    for model in ModelLibrary::builtin().iter() {
        for seed in 0..200 {
            let item = draw_item(model, seed).unwrap_or_else(|e| panic!("{e}"));
            assert_eq!((item.kind, item.skill.as_str()), (model.kind(), model.skill().as_str()));
            check_item(&item);
        }
    }
}

/// A child meets an item of a model now and then in four weeks, and never the same draw.
#[test]
fn every_model_has_twelve_draws_or_more() {
    let (library, mut few) = (ModelLibrary::builtin(), Vec::new());
    for model in library.iter() {
        let draws: BTreeSet<u64> = (0..400)
            .map(|seed| draw_item(model, seed).unwrap())
            .map(|item| draw_fingerprint(&item.model, &item.params))
            .collect();
        if draws.len() < 12 {
            few.push((model.slug(), draws.len()));
        }
    }
    assert_eq!(few, []);
}

#[test]
fn the_same_seed_gives_the_same_item() {
    for model in ModelLibrary::builtin().iter() {
        let first = draw_item(model, 41).unwrap();
        assert_eq!(draw_item(model, 41).unwrap(), first);
        assert_eq!(redraw(model, &first.params).unwrap(), first);
    }
}

#[test]
fn stored_parameters_outside_the_model_are_refused() {
    let library = ModelLibrary::builtin();
    let model = library.get("g5-scale-one").unwrap();
    let good = draw_item(model, 1).unwrap().params;
    let with = |name: &str, value: i64| {
        let mut params = good.clone();
        params.insert(name.to_owned(), ParamValue::Int(value));
        redraw(model, &params).unwrap_err().to_string()
    };
    assert_eq!(with("c", 99), "model g5-scale-one cannot make the item again: c = 99 is outside what it may be");
    assert_eq!(with("z", 1), "model g5-scale-one cannot make the item again: it has no parameter z");
    assert!(redraw(model, &BTreeMap::new()).is_err());
}

#[test]
fn a_turn_moves_words_and_nothing_else() {
    let library = ModelLibrary::builtin();
    let model = library.get("g5-scale-one").unwrap();
    let item = draw_item(model, 9).unwrap();
    let mut params = item.params.clone();
    params.insert(TURN.to_owned(), ParamValue::Int(1));
    let turned = redraw(model, &params).unwrap();
    assert_ne!(turned.key, item.key);
    assert_eq!(right_text(&turned), right_text(&item));
    assert_eq!(turned.options[0].text, item.options[3].text);
}

#[test]
fn a_fraction_below_one_scales_down_and_above_one_up() {
    for item in items("g5-scale-one", 200) {
        let (a, b, c) = (int(&item, "a"), int(&item, "b"), int(&item, "c"));
        assert!(a * c < b * c);
        assert!(right_text(&item).ends_with(&format!("So it is below {c}.")), "{item:?}");
    }
    for item in items("g5-scale-above-one", 200) {
        let (a, b, c) = (int(&item, "a"), int(&item, "b"), int(&item, "c"));
        assert!(a * c > b * c);
        assert!(right_text(&item).ends_with(&format!("So we land above {c}.")), "{item:?}");
    }
}

/// Word for a product against the number that was scaled, by the factor's top and bottom.
fn scaled(top: i64, bottom: i64) -> &'static str {
    match top.cmp(&bottom) {
        std::cmp::Ordering::Less => "less",
        std::cmp::Ordering::Equal => "equal",
        std::cmp::Ordering::Greater => "greater",
    }
}

#[test]
fn a_fraction_equal_to_one_scales_to_the_same() {
    for item in items("g5-scale-grid", 200) {
        let [a, b, p, r, k, w] = ["a", "b", "p", "r", "k", "w"].map(|name| int(&item, name));
        let expect = [scaled(a, b), scaled(p, r), scaled(k, k), scaled(w * b + 1, b), scaled(b - 1, b)];
        assert_eq!(item.key, expect);
    }
    for item in items("g5-scale-fraction-grid", 200) {
        let [a, b, p, r, k] = ["a", "b", "p", "r", "k"].map(|name| int(&item, name));
        assert_eq!(item.key, [scaled(a, b), scaled(p, r), scaled(k, k), scaled(k, 1)]);
    }
}

#[test]
fn products_chosen_as_smaller_are_smaller_and_no_other() {
    for item in items("g5-scale-multi", 200) {
        let [c, a, b, p, r, k] = ["c", "a", "b", "p", "r", "k"].map(|name| int(&item, name));
        for option in &item.options {
            let text = &option.text;
            let (top, bottom) = if *text == format!("{a}/{b} × {c}") {
                (a, b)
            } else if *text == format!("{c} × {p}/{r}") {
                (p, r)
            } else if *text == format!("{k}/{k} × {c}") {
                (k, k)
            } else if *text == format!("{c} × 1 1/{b}") {
                (b + 1, b)
            } else {
                assert_eq!(*text, format!("{}/{b} × {c}", b - 1));
                (b - 1, b)
            };
            assert_eq!(item.key.contains(&option.label), top * c < bottom * c, "{text}");
        }
    }
    for item in items("g5-scale-missing", 200) {
        for option in &item.options {
            let factor = number(&option.text).unwrap();
            assert_eq!(item.key.contains(&option.label), factor > Ratio::from_integer(1), "{item:?}");
        }
    }
}

#[test]
fn signs_and_places_on_the_line_follow_the_factor() {
    for item in items("g5-scale-symbol", 200) {
        let sign = if int(&item, "a") < int(&item, "b") { "<" } else { ">" };
        assert_eq!(right_text(&item.parts[0]), sign);
        assert!(right_text(&item.parts[1]).ends_with(if sign == "<" { "less than 1." } else { "greater than 1." }));
    }
    for item in items("g5-scale-number-line", 200) {
        let [a, b, c] = ["a", "b", "c"].map(|name| int(&item, name));
        let place = if a < b { format!("between 0 and {c}") } else { format!("to the right of {c}") };
        assert_eq!(right_text(&item), place);
    }
}

#[test]
fn keys_agree_with_arithmetic_done_apart() {
    type Expect = fn(&TicketItem) -> Ratio<i64>;
    let cases: [(&str, Expect); 14] = [
        ("g5-add-unlike", |i| Ratio::new(int(i, "a"), int(i, "b")) + Ratio::new(int(i, "c"), int(i, "d"))),
        ("g5-sub-unlike", |i| Ratio::new(int(i, "a"), int(i, "b")) - Ratio::new(int(i, "c"), int(i, "d"))),
        ("g5-fraction-times-fraction", |i| Ratio::new(int(i, "a"), int(i, "b")) * Ratio::new(int(i, "c"), int(i, "d"))),
        ("g5-same-bottom-times", |i| Ratio::new(int(i, "a"), int(i, "b")) * Ratio::new(int(i, "c"), int(i, "b"))),
        ("g5-fraction-of-set", |i| Ratio::new(int(i, "a") * int(i, "b") * int(i, "k"), int(i, "b"))),
        ("g5-decimal-add", |i| Ratio::new(int(i, "a"), 10) + Ratio::new(int(i, "b"), 100)),
        ("g5-decimal-sub", |i| Ratio::from_integer(int(i, "w")) - Ratio::new(int(i, "b"), 100)),
        ("g5-decimal-mul", |i| Ratio::new(int(i, "a"), 10) * Ratio::new(int(i, "b"), 10)),
        ("g4-equivalent", |i| Ratio::from_integer(int(i, "a") * int(i, "k"))),
        ("g4-whole-times-fraction", |i| Ratio::new(int(i, "n") * int(i, "a"), int(i, "b"))),
        ("g4-mixed-subtract", |i| {
            let d = int(i, "d");
            Ratio::new(int(i, "w") * d + int(i, "n"), d) - Ratio::new(int(i, "v") * d + int(i, "m"), d)
        }),
        ("g4-add-multi", |i| Ratio::from_integer(int(i, "a") + int(i, "b"))),
        ("g3-whole-as-fraction", |i| Ratio::from_integer(int(i, "n"))),
        ("g3-line-read", |i| Ratio::new(int(i, "k"), int(i, "b"))),
    ];
    for (slug, expect) in cases {
        for item in items(slug, 200) {
            assert_eq!(number(&right_text(&item)).unwrap(), expect(&item), "{item:?}");
        }
    }
}

#[test]
fn a_number_of_four_digits_is_grouped_in_what_is_read_and_not_in_the_key() {
    let item = &items("g4-add-entry", 1)[0];
    assert!(item.stem.contains(','), "{}", item.stem);
    assert_eq!(item.key, [(int(item, "a") + int(item, "b")).to_string()]);
}

#[test]
fn an_item_of_a_level_keeps_the_conditions_of_that_level() {
    let mut n_levels = 0;
    for model in ModelLibrary::builtin().iter() {
        for level in [Level::Easier, Level::Harder].into_iter().filter(|l| model.has_level(*l)) {
            n_levels += 1;
            for seed in 0..10 {
                let item = draw_item_at(model, seed, level).unwrap();
                assert!(is_at(model, &item.params, level).unwrap(), "{} {level:?}", model.slug());
                assert_eq!(redraw(model, &item.params).unwrap(), item);
            }
        }
    }
    assert!(n_levels >= 20, "{n_levels}");
    let without = ModelLibrary::builtin().iter().find(|m| !m.has_level(Level::Easier)).cloned().unwrap();
    assert_eq!(
        draw_item_at(&without, 1, Level::Easier).unwrap_err(),
        DrawError::NoLevel { slug: without.slug().to_owned() }
    );
}
