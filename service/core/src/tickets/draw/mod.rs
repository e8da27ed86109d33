//! Items drawn from models: parameters by seed, then key, options and checks.
//!
//! In:  a model and a seed, or a model and the parameters of an item drawn before.
//! Out: a [`TicketItem`] numbered 1; the caller numbers it.
//! Keeps: 1. the same seed, or the same parameters, give the same item (`the_same_seed_gives_the_same_item`)
//!        2. one right option by value, no two of a value (`every_model_keeps_the_rules_over_many_draws`)
//!        3. no number below zero and no denominator beyond the grade is shown (same test)
//! A draw that breaks a rule is thrown away and drawn again, at most [`MAX_TRIES`] times.
//! Not here: what a ticket is made of (`assemble`).

mod check;
mod item;
mod options;
mod params;

use super::formula::{Budget, EvalError, Formula, Value};
use super::model::{ItemModel, Level};
use super::{ParamValue, TicketItem};
use rand::SeedableRng;
use rand_xoshiro::Xoshiro256Plus;
use std::collections::BTreeMap;
use thiserror::Error;

/// Most draws of parameters before a model is given up.
const MAX_TRIES: u32 = 4_000;

/// Most steps of all formulas of one item.
const STEPS_AN_ITEM: u32 = 20_000;

/// Most steps of all draws of parameters until one gives an item: 100 for each of [`MAX_TRIES`] on average.
const STEPS_A_DRAW: u32 = 400_000;

/// Name of the parameter that turns the order of options shuffled by the engine; left out when nothing is turned.
pub(super) const TURN: &str = "turn";

/// Why no item came of a model.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum DrawError {
    /// No draw kept the rules.
    #[error("model {slug} gave no item: none of {MAX_TRIES} draws kept its conditions and the rules for options")]
    NoDraw {
        /// The model.
        slug: String,
    },
    /// A formula that cannot be computed.
    #[error("model {slug} gave no item: {reason}")]
    Formula {
        /// The model.
        slug: String,
        /// What is wrong: part of a sentence.
        reason: String,
    },
    /// The model cannot be drawn easier or harder.
    #[error("model {slug} does not say which numbers make its items easier or harder")]
    NoLevel {
        /// The model.
        slug: String,
    },
    /// Parameters that the model cannot have.
    #[error("model {slug} cannot make the item again: {reason}")]
    Params {
        /// The model.
        slug: String,
        /// What is wrong: part of a sentence.
        reason: String,
    },
}

impl DrawError {
    /// What is wrong, without the model's name: part of a sentence.
    #[must_use]
    pub fn reason(&self) -> String {
        match self {
            DrawError::NoDraw { .. } => {
                format!("none of {MAX_TRIES} draws kept its conditions and the rules for options")
            }
            DrawError::NoLevel { .. } => "it does not say which numbers make its items easier or harder".to_owned(),
            DrawError::Formula { reason, .. } | DrawError::Params { reason, .. } => reason.clone(),
        }
    }
}

/// Why one draw gave no item.
enum Rejection {
    /// Other parameters may do.
    Draw(&'static str),
    /// No parameters will do.
    Model(String),
}

impl From<EvalError> for Rejection {
    fn from(error: EvalError) -> Self {
        if error.is_of_the_draw() {
            Rejection::Draw("a number below zero or a division by zero")
        } else {
            Rejection::Model(error.to_string())
        }
    }
}

/// Parameters and what is made of them, in the order of the model's names.
struct Scope {
    values: Vec<Value>,
    turn: usize,
}

/// Draws an item.
///
/// # Errors
/// [`DrawError`] where no draw keeps the rules, or a formula cannot be computed.
pub fn draw_item(model: &ItemModel, seed: u64) -> Result<TicketItem, DrawError> {
    draw_item_at(model, seed, Level::AsWritten)
}

/// Draws an item that is as hard as asked for.
///
/// # Errors
/// As [`draw_item`]; [`DrawError::NoLevel`] where the model does not say which numbers make its items easier or harder.
pub fn draw_item_at(model: &ItemModel, seed: u64, level: Level) -> Result<TicketItem, DrawError> {
    let slug = || model.slug().to_owned();
    let of_level = model.conditions_at(level).ok_or_else(|| DrawError::NoLevel { slug: slug() })?;
    let mut rng = Xoshiro256Plus::seed_from_u64(seed ^ text_hash(model.slug()));
    let mut budget = Budget::new(STEPS_A_DRAW);
    for _ in 0..MAX_TRIES {
        budget.renew(STEPS_AN_ITEM);
        let scope = Scope { values: params::draw(model, &mut rng), turn: 0 };
        match attempt(model, of_level, scope, &mut budget) {
            Ok(item) => return Ok(item),
            Err(Rejection::Draw(_)) => {}
            Err(Rejection::Model(reason)) => return Err(DrawError::Formula { slug: slug(), reason }),
        }
    }
    Err(DrawError::NoDraw { slug: slug() })
}

/// Makes an item again from its parameters.
///
/// # Errors
/// [`DrawError::Params`] where a parameter is missing, unknown or outside what the model allows.
pub fn redraw(model: &ItemModel, params: &BTreeMap<String, ParamValue>) -> Result<TicketItem, DrawError> {
    let unfit = |reason: String| DrawError::Params { slug: model.slug().to_owned(), reason };
    let (values, turn) = params::from_stored(model, params).map_err(unfit)?;
    attempt(model, &[], Scope { values, turn }, &mut Budget::new(STEPS_AN_ITEM)).map_err(|rejection| match rejection {
        Rejection::Draw(reason) => unfit(reason.to_owned()),
        Rejection::Model(reason) => DrawError::Formula { slug: model.slug().to_owned(), reason },
    })
}

/// Whether an item with these parameters is one of this level; `false` for a level that the model does not have.
///
/// # Errors
/// [`DrawError`] as for [`redraw`].
pub(super) fn is_at(model: &ItemModel, params: &BTreeMap<String, ParamValue>, level: Level) -> Result<bool, DrawError> {
    let Some(of_level) = model.conditions_at(level) else { return Ok(false) };
    let slug = || model.slug().to_owned();
    let (mut values, _) =
        params::from_stored(model, params).map_err(|reason| DrawError::Params { slug: slug(), reason })?;
    let mut budget = Budget::new(STEPS_AN_ITEM);
    let mut all_hold = || {
        for (_, formula) in &model.lets {
            values.push(formula.value(&values, &mut budget)?);
        }
        of_level.iter().try_fold(true, |all, condition| Ok(all && condition.holds(&values, &mut budget)?))
    };
    all_hold().map_err(|e: EvalError| DrawError::Formula { slug: slug(), reason: e.to_string() })
}

/// An item whose parameters are drawn: what is made of them, the conditions, the item, the checks.
fn attempt(
    model: &ItemModel,
    of_level: &[Formula],
    mut scope: Scope,
    budget: &mut Budget,
) -> Result<TicketItem, Rejection> {
    let params = params::stored(model, &scope);
    for (_, formula) in &model.lets {
        let value = formula.value(&scope.values, budget)?;
        scope.values.push(value);
    }
    for condition in model.conditions.iter().chain(of_level) {
        if !condition.holds(&scope.values, budget)? {
            return Err(Rejection::Draw("its conditions"));
        }
    }
    let item = item::build(model, &scope, params, budget)?;
    check::keeps_the_rules(&item, model)?;
    Ok(item)
}

/// A number that stands for a text; the same on every machine (FNV-1a, 64 bits).
pub(super) fn text_hash(text: &str) -> u64 {
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
}

/// A number that stands for a draw: model and parameters, without the turn of the options.
#[must_use]
pub fn draw_fingerprint(model: &str, params: &BTreeMap<String, ParamValue>) -> u64 {
    let mut text = model.to_owned();
    for (name, value) in params.iter().filter(|(name, _)| *name != TURN) {
        text.push_str(&format!(";{name}={value}"));
    }
    text_hash(&text)
}

#[cfg(test)]
mod tests;
