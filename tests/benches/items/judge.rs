//! Whether an item keeps the rules, by its texts alone: no formula of the engine is used.
//!
//! In:  an item as drawn. Out: the first rule that it breaks.
//! Sources: numbers of a grade from the Common Core State Standards for Mathematics (whole numbers to 1,000 in grade 3 and to
//! 1,000,000 in grade 4; bottom numbers 2, 3, 4, 6, 8 in grade 3 and 2, 3, 4, 5, 6, 8, 10, 12, 100 in grade 4); one right
//! option, a named wrong idea in every other: common practice, no source.

use sheaf_core::scores::ItemKind;
use sheaf_core::tickets::TicketItem;
use std::collections::BTreeSet;

/// A number by top and bottom.
type Number = (i128, i128);

/// The first rule that the item breaks.
pub fn fault(item: &TicketItem) -> Option<String> {
    let texts = item.options.iter().map(|o| &o.text).chain(item.rows.iter().map(|r| &r.text)).chain([&item.stem]);
    let unread = texts.chain(&item.picture).find(|t| is_unreadable(t)).map(|t| format!("`{t}` cannot be read"));
    let inner = || match item.kind {
        ItemKind::Choice => choice(item),
        ItemKind::MultiSelect => several(item),
        ItemKind::Match => grid(item),
        ItemKind::TwoPart => item.parts.iter().find_map(choice),
        ItemKind::Numeric => entry(item),
    };
    unread.or_else(|| beyond_the_grade(item)).or_else(inner)
}

/// A brace left over, a bottom of zero, or a minus in front of a number.
fn is_unreadable(text: &str) -> bool {
    let negative = text.contains("-1") || text.as_bytes().windows(2).any(|w| w[0] == b'-' && w[1].is_ascii_digit());
    text.is_empty() || text.contains(['{', '}']) || negative || fractions(text).iter().any(|(_, bottom)| *bottom == 0)
}

/// Four options, one right; every wrong one with a code, but one of those that a part always shows, to which no known
/// wrong idea may lead (an answer that is then unexplained).
fn choice(item: &TicketItem) -> Option<String> {
    if item.options.len() != 4 {
        return Some(format!("{} options", item.options.len()));
    }
    if item.key.len() != 1 {
        return Some(format!("{} right options", item.key.len()));
    }
    let is_right = |label: &String| item.key.contains(label);
    let n_silent = item.options.iter().filter(|o| !is_right(&o.label) && o.patterns.is_empty()).count();
    let is_right_with_code = item.options.iter().any(|o| is_right(&o.label) && !o.patterns.is_empty());
    let n_allowed = usize::from(item.options.iter().any(|o| o.text.to_lowercase().contains("cannot be told")));
    if is_right_with_code || n_silent > n_allowed {
        return Some("a wrong option without a code, or a right one with one".to_owned());
    }
    same_twice(item)
}

fn several(item: &TicketItem) -> Option<String> {
    if item.key.is_empty() || item.key.len() >= item.options.len() {
        return Some("all options right, or none".to_owned());
    }
    let texts: BTreeSet<&str> = item.options.iter().map(|o| o.text.as_str()).collect();
    (texts.len() != item.options.len()).then(|| "two options that read the same".to_owned())
}

fn grid(item: &TicketItem) -> Option<String> {
    let fits = item.key.len() == item.rows.len() && item.key.iter().all(|k| item.columns.contains(k));
    let telling = item.rows.iter().filter(|r| !r.patterns.is_empty()).count();
    let used: BTreeSet<&String> = item.key.iter().collect();
    let coded_key = item.rows.iter().zip(&item.key).any(|(row, key)| row.patterns.contains_key(key));
    (!fits || telling < 2 || used.len() < 2 || coded_key).then(|| "a grid that is not one mark a row".to_owned())
}

fn entry(item: &TicketItem) -> Option<String> {
    let Some(key) = item.key.first().and_then(|k| number(k)) else { return Some("a key that is no number".to_owned()) };
    let is_key = |text: &str| number(text).is_none_or(|n| n.0 * key.1 == key.0 * n.1);
    if item.wrong_entries.is_empty() {
        return Some("no wrong entry".to_owned());
    }
    item.wrong_entries.iter().any(|(text, _)| is_key(text)).then(|| "a wrong entry that is right".to_owned())
}

/// Two options of one text or of one value.
fn same_twice(item: &TicketItem) -> Option<String> {
    let values: Vec<Option<Number>> = item.options.iter().map(|o| number(&o.text)).collect();
    for (i, a) in item.options.iter().enumerate() {
        for (j, b) in item.options.iter().enumerate().skip(i + 1) {
            let same_value = matches!((values[i], values[j]), (Some(x), Some(y)) if x.0 * y.1 == y.0 * x.1);
            if same_value || a.text == b.text {
                return Some(format!("{} and {} are the same", a.text, b.text));
            }
        }
    }
    None
}

/// A bottom number or a whole number in the question, or a right answer, beyond what the grade has met.
fn beyond_the_grade(item: &TicketItem) -> Option<String> {
    let (largest, bottoms): (i128, &[i128]) = match item.skill.chars().next()? {
        '3' => (1_000, &[2, 3, 4, 6, 8]),
        '4' => (1_000_000, &[2, 3, 4, 5, 6, 8, 10, 12, 100]),
        _ => (10_000_000, &[]),
    };
    let bottom = fractions(&item.stem).into_iter().find(|(_, b)| !bottoms.is_empty() && !bottoms.contains(b));
    let right = item.options.iter().filter(|o| item.key.contains(&o.label)).filter_map(|o| number(&o.text));
    let too_large = right.chain(whole_numbers(&item.stem).into_iter().map(|n| (n, 1))).find(|(n, d)| *n > largest * d);
    bottom.map(|(_, b)| format!("bottom number {b}")).or_else(|| too_large.map(|(n, _)| format!("{n} in this grade")))
}

/// Runs of digits, with the commas of thousands taken out.
fn whole_numbers(text: &str) -> Vec<i128> {
    let plain: String = text.replace(',', "");
    plain.split(|c: char| !c.is_ascii_digit()).filter_map(|digits| digits.parse().ok()).collect()
}

/// Every `n/d` of a text.
fn fractions(text: &str) -> Vec<Number> {
    let words = text.split(|c: char| !(c.is_ascii_digit() || c == '/'));
    words.filter_map(|w| w.split_once('/')).filter_map(|(n, d)| Some((n.parse().ok()?, d.parse().ok()?))).collect()
}

/// `1,200`, `3/4`, `2 1/3` or `0.75`; nothing for other words.
fn number(text: &str) -> Option<Number> {
    let text = text.replace(',', "");
    if let Some((wholes, parts)) = text.split_once('.') {
        let bottom = 10_i128.checked_pow(u32::try_from(parts.len()).ok()?)?;
        return Some((wholes.parse::<i128>().ok()? * bottom + parts.parse::<i128>().ok()?, bottom));
    }
    let fraction = |t: &str| {
        let (n, d) = t.split_once('/')?;
        Some((n.parse::<i128>().ok()?, d.parse::<i128>().ok().filter(|d| *d != 0)?))
    };
    match text.split_once(' ') {
        Some((wholes, part)) => {
            let (n, d) = fraction(part)?;
            Some((wholes.parse::<i128>().ok()? * d + n, d))
        }
        None => text.parse().ok().map(|n| (n, 1)).or_else(|| fraction(&text)),
    }
}
