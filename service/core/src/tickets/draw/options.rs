//! Options: which wrong ones are offered, and in which order.
//!
//! 1. A wrong option with the value of the key, or whose claim is true, is dropped; one with the value of an earlier
//!    wrong option gives that one its code too (an option carries two at most).
//! 2. Of those left three are taken: with as many different codes as can be, then with one value below and one above the
//!    key where that can be, then in listed order.
//! 3. Numbers stand in order of value; words are shuffled by the item's own parameters.
//!
//! A turn other than 0 moves the key, so that a ticket can spread its letters: words are turned by so many places, and of
//! numbers those three are preferred, among sets of two codes or more, that put the key at the letter of that place (1 is A).

use super::{Rejection, Scope, draw_fingerprint};
use crate::tickets::TicketItem;
use crate::tickets::formula::{Budget, Rational};
use crate::tickets::model::{ChoiceSpec, Face, OptionSpec};
use crate::tickets::{ParamValue, TicketOption};
use num_traits::Signed;
use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_xoshiro::Xoshiro256Plus;
use std::collections::{BTreeMap, BTreeSet};

/// Wrong options of a choice.
const N_WRONG: usize = 3;

/// Labels in order.
pub(super) const LABELS: [&str; 8] = ["A", "B", "C", "D", "E", "F", "G", "H"];

/// An option before it has a label.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Candidate {
    pub(super) text: String,
    pub(super) value: Option<Rational>,
    /// Whether it shows a number, which has a place in an order.
    pub(super) is_number: bool,
    pub(super) codes: Vec<String>,
}

impl Candidate {
    /// Same number, or same words where one of them has no number.
    pub(super) fn is_same(&self, other: &Candidate) -> bool {
        match (&self.value, &other.value) {
            (Some(a), Some(b)) => a == b,
            _ => self.text == other.text,
        }
    }

    fn is_negative(&self) -> bool {
        self.value.as_ref().is_some_and(Signed::is_negative)
    }
}

/// Options with labels, and the labels of the right ones.
pub(super) struct Labelled {
    pub(super) options: Vec<TicketOption>,
    pub(super) key: Vec<String>,
}

/// What an option shows for these parameters.
pub(super) fn candidate(spec: &OptionSpec, scope: &Scope, budget: &mut Budget) -> Result<Candidate, Rejection> {
    let (text, value, is_number) = match &spec.face {
        Face::Value(formula) => {
            let value = formula.value(&scope.values, budget)?;
            (value.show()?, value.number().cloned(), value.number().is_some())
        }
        Face::Text { text, worth } => {
            let worth = worth.as_ref().map(|w| w.value(&scope.values, budget)).transpose()?;
            (text.text(&scope.values, budget)?, worth.and_then(|w| w.number().cloned()), false)
        }
    };
    Ok(Candidate { text, value, is_number, codes: spec.codes.clone() })
}

/// The wrong options that may be offered beside the key.
pub(super) fn survivors(
    wrong: &[OptionSpec],
    key: &Candidate,
    scope: &Scope,
    budget: &mut Budget,
) -> Result<Vec<Candidate>, Rejection> {
    let mut kept: Vec<Candidate> = Vec::new();
    for spec in wrong {
        if !is_offered(spec, scope, budget)? {
            continue;
        }
        let found = match candidate(spec, scope, budget) {
            Ok(found) if !found.is_negative() && !found.is_same(key) => found,
            Ok(_) | Err(Rejection::Draw(_)) => continue,
            Err(fault) => return Err(fault),
        };
        match kept.iter_mut().find(|k| k.is_same(&found)) {
            Some(earlier) => add_codes(&mut earlier.codes, &found.codes),
            None => kept.push(found),
        }
    }
    Ok(kept)
}

fn is_offered(spec: &OptionSpec, scope: &Scope, budget: &mut Budget) -> Result<bool, Rejection> {
    let is_wanted = spec.when.as_ref().map_or(Ok(true), |w| w.holds(&scope.values, budget))?;
    if !is_wanted {
        return Ok(false);
    }
    let is_true = spec.claim.as_ref().map_or(Ok(false), |c| c.holds(&scope.values, budget))?;
    Ok(!is_true)
}

fn add_codes(codes: &mut Vec<String>, more: &[String]) {
    for code in more {
        if codes.len() < 2 && !codes.contains(code) {
            codes.push(code.clone());
        }
    }
}

/// The key, if what it claims is true.
pub(super) fn key_candidate(spec: &OptionSpec, scope: &Scope, budget: &mut Budget) -> Result<Candidate, Rejection> {
    let is_true = spec.claim.as_ref().map_or(Ok(true), |c| c.holds(&scope.values, budget))?;
    let key = candidate(spec, scope, budget)?;
    if !is_true || key.is_negative() {
        return Err(Rejection::Draw("a key that is not true"));
    }
    Ok(Candidate { codes: Vec::new(), ..key })
}

/// Four options, one right.
pub(super) fn choice(
    spec: &ChoiceSpec,
    scope: &Scope,
    item: &TicketItem,
    budget: &mut Budget,
) -> Result<Labelled, Rejection> {
    let (key, wrong) = key_and_wrong(spec, scope, budget)?;
    if wrong.len() < N_WRONG {
        return Err(Rejection::Draw("fewer than three wrong options of different value"));
    }
    Ok(laid_out(&key, wrong, scope, item))
}

/// Options of a part: always the same four in the same order, or as in a choice.
pub(super) fn part(
    spec: &ChoiceSpec,
    scope: &Scope,
    item: &TicketItem,
    budget: &mut Budget,
) -> Result<Labelled, Rejection> {
    if spec.show.is_empty() {
        return choice(spec, scope, item, budget);
    }
    let (key, wrong) = key_and_wrong(spec, scope, budget)?;
    shown(spec, &key, &wrong, scope, budget)
}

fn key_and_wrong(
    spec: &ChoiceSpec,
    scope: &Scope,
    budget: &mut Budget,
) -> Result<(Candidate, Vec<Candidate>), Rejection> {
    let key = key_candidate(&spec.key, scope, budget)?;
    let wrong = survivors(&spec.wrong, &key, scope, budget)?;
    Ok((key, wrong))
}

/// The key among three wrong options at most, in order, with labels.
fn laid_out(key: &Candidate, wrong: Vec<Candidate>, scope: &Scope, item: &TicketItem) -> Labelled {
    let mut all = if wrong.len() > N_WRONG { best_three(key, &wrong, scope.turn) } else { wrong };
    all.push(key.clone());
    order(&mut all, &item.params, &item.model, scope.turn);
    label(all, |option| option.is_same(key))
}

fn shown(
    spec: &ChoiceSpec,
    key: &Candidate,
    wrong: &[Candidate],
    scope: &Scope,
    budget: &mut Budget,
) -> Result<Labelled, Rejection> {
    let mut all = Vec::with_capacity(spec.show.len());
    for template in &spec.show {
        let text = template.text(&scope.values, budget)?;
        let codes = wrong.iter().find(|w| w.text == text).map(|w| w.codes.clone()).unwrap_or_default();
        all.push(Candidate { text, value: None, is_number: false, codes });
    }
    if wrong.is_empty() || wrong.iter().any(|w| !all.iter().any(|a| a.text == w.text)) {
        return Err(Rejection::Draw("no wrong option, or one that is not among those shown"));
    }
    Ok(label(all, |option| option.text == key.text))
}

/// Three of at least three, by the rules in the header.
fn best_three(key: &Candidate, wrong: &[Candidate], turn: usize) -> Vec<Candidate> {
    let mut best: Option<(Worth, [usize; N_WRONG])> = None;
    for i in 0..wrong.len() {
        for j in i + 1..wrong.len() {
            for k in j + 1..wrong.len() {
                let worth = worth_of(key, [wrong.get(i), wrong.get(j), wrong.get(k)], turn);
                if best.as_ref().is_none_or(|(w, _)| worth > *w) {
                    best = Some((worth, [i, j, k]));
                }
            }
        }
    }
    let chosen = best.map_or([0, 1, 2], |(_, chosen)| chosen);
    chosen.iter().filter_map(|idx| wrong.get(*idx).cloned()).collect()
}

/// Whether two codes differ at least; whether the key stands at the place of the turn; how many codes differ; whether the
/// key lies between two of them.
type Worth = (bool, bool, usize, bool);

fn worth_of(key: &Candidate, three: [Option<&Candidate>; N_WRONG], turn: usize) -> Worth {
    let codes: BTreeSet<&String> = three.iter().flatten().filter_map(|c| c.codes.first()).collect();
    let count = |side: fn(&Rational, &Rational) -> bool| {
        three.iter().flatten().filter(|c| matches!((&c.value, &key.value), (Some(a), Some(b)) if side(a, b))).count()
    };
    let (n_below, n_above) = (count(|a, b| a < b), count(|a, b| a > b));
    (codes.len() >= 2, turn == n_below + 1, codes.len(), n_below > 0 && n_above > 0)
}

/// Numbers by value; words shuffled, then turned.
pub(super) fn order(all: &mut [Candidate], params: &BTreeMap<String, ParamValue>, slug: &str, turn: usize) {
    if all.iter().all(|c| c.is_number) {
        all.sort_by_key(|option| option.value);
        return;
    }
    let mut rng = Xoshiro256Plus::seed_from_u64(draw_fingerprint(slug, params));
    all.shuffle(&mut rng);
    let n = all.len().max(1);
    all.rotate_right(turn % n);
}

/// Labels in order; a right option loses its codes.
pub(super) fn label(all: Vec<Candidate>, is_right: impl Fn(&Candidate) -> bool) -> Labelled {
    let mut labelled = Labelled { options: Vec::new(), key: Vec::new() };
    for (candidate, name) in all.into_iter().zip(LABELS) {
        let is_right = is_right(&candidate);
        if is_right {
            labelled.key.push(name.to_owned());
        }
        let patterns = if is_right { Vec::new() } else { candidate.codes };
        labelled.options.push(TicketOption { label: name.to_owned(), text: candidate.text, patterns });
    }
    labelled
}
