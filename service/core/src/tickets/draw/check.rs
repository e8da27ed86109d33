//! What every drawn item must keep, looked at on the finished item.
//! One right option by value, all options apart, nothing negative, denominators of the grade: else the draw is rejected.

use super::Rejection;
use crate::scores::ItemKind;
use crate::tickets::TicketItem;
use crate::tickets::model::ItemModel;
use std::collections::BTreeSet;

/// Denominators that a grade 3 stem may have.
const DENOMINATORS_3: [u32; 5] = [2, 3, 4, 6, 8];
/// Denominators that a grade 4 stem may have.
const DENOMINATORS_4: [u32; 9] = [2, 3, 4, 5, 6, 8, 10, 12, 100];

/// Rejects an item that breaks a rule.
pub(super) fn keeps_the_rules(item: &TicketItem, model: &ItemModel) -> Result<(), Rejection> {
    texts_differ(item)?;
    one_right_option(item)?;
    denominators_fit(&item.stem, model.skill().grade())?;
    if item.kind == ItemKind::Match {
        grid_separates(item)?;
    }
    item.parts.iter().try_for_each(|part| keeps_the_rules(part, model))
}

/// No two options, rows or columns read the same.
fn texts_differ(item: &TicketItem) -> Result<(), Rejection> {
    let options: BTreeSet<&String> = item.options.iter().map(|o| &o.text).collect();
    let rows: BTreeSet<&String> = item.rows.iter().map(|r| &r.text).collect();
    if options.len() == item.options.len() && rows.len() == item.rows.len() {
        return Ok(());
    }
    Err(Rejection::Draw("two options that read the same"))
}

fn one_right_option(item: &TicketItem) -> Result<(), Rejection> {
    if item.kind != ItemKind::Choice || item.key.len() == 1 {
        return Ok(());
    }
    Err(Rejection::Draw("not exactly one right option"))
}

/// Two columns at least are used, and two rows at least tell a wrong idea from the key.
fn grid_separates(item: &TicketItem) -> Result<(), Rejection> {
    let used: BTreeSet<&String> = item.key.iter().collect();
    let n_telling = item.rows.iter().filter(|r| !r.patterns.is_empty()).count();
    if used.len() >= 2 && n_telling >= 2 {
        return Ok(());
    }
    Err(Rejection::Draw("a grid that tells nothing apart"))
}

fn denominators_fit(stem: &str, grade: Option<u8>) -> Result<(), Rejection> {
    let allowed: &[u32] = match grade {
        Some(3) => &DENOMINATORS_3,
        Some(4) => &DENOMINATORS_4,
        _ => return Ok(()),
    };
    if denominators(stem).iter().all(|d| allowed.contains(d)) {
        return Ok(());
    }
    Err(Rejection::Draw("a denominator beyond the grade"))
}

/// Every d of a `n/d` in a text, with digits on both sides of the stroke.
fn denominators(text: &str) -> Vec<u32> {
    let pieces: Vec<&str> = text.split('/').collect();
    let ends_in_digit = |piece: &str| piece.chars().next_back().is_some_and(|c| c.is_ascii_digit());
    let digits = |piece: &str| piece.chars().take_while(char::is_ascii_digit).collect::<String>().parse().ok();
    pieces
        .windows(2)
        .filter_map(|pair| match pair {
            [top, bottom] if ends_in_digit(top) => digits(bottom),
            _ => None,
        })
        .collect()
}
