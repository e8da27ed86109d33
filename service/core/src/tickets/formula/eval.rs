//! A tree and a scope into a value.
//! Arithmetic is exact and checked: an overflow or a division by zero is an error of the draw, never a panic.
//! Every step costs one unit of a budget, so that no formula runs without end.

use super::numbers::{self, Rational, whole};
use super::syntax::{Arithmetic, Comparison, Node};
use super::values::Value;
use std::cmp::Ordering;
use thiserror::Error;

/// Why a formula has no value here: part of a sentence.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub(crate) enum EvalError {
    /// A division by zero or a fraction over zero; another draw may do.
    #[error("something is divided by zero")]
    ZeroDivision,
    /// A number below zero would be shown; another draw may do.
    #[error("a number below zero would be shown")]
    Negative,
    /// A number or text beyond all school sizes.
    #[error("a number or text gets too large")]
    TooLarge,
    /// More work than a formula may take.
    #[error("a formula takes too many steps")]
    OutOfSteps,
    /// An operation on the wrong kind of value.
    #[error("{0}")]
    Type(String),
}

impl EvalError {
    /// Whether other values of the same parameters may do.
    pub(crate) fn is_of_the_draw(&self) -> bool {
        matches!(self, EvalError::ZeroDivision | EvalError::Negative)
    }
}

/// Steps left.
#[derive(Debug, Clone)]
pub(crate) struct Budget {
    left: u32,
    /// Nodes that may be visited once the budget is renewed.
    kept_back: u32,
}

impl Budget {
    /// So many nodes may be visited.
    pub(crate) fn new(steps: u32) -> Self {
        Budget { left: steps, kept_back: 0 }
    }

    /// At most so many of the nodes that are left may be visited from here on; the others are kept back.
    pub(crate) fn renew(&mut self, steps: u32) {
        let whole = self.left.saturating_add(self.kept_back);
        self.left = whole.min(steps);
        self.kept_back = whole - self.left;
    }

    fn spend(&mut self) -> Result<(), EvalError> {
        self.left = self.left.checked_sub(1).ok_or(EvalError::OutOfSteps)?;
        Ok(())
    }
}

/// The value of a tree.
pub(super) fn eval(node: &Node, scope: &[Value], budget: &mut Budget) -> Result<Value, EvalError> {
    budget.spend()?;
    match node {
        Node::Constant(value) => Ok(value.clone()),
        Node::Slot(slot) => scope.get(*slot).cloned().ok_or_else(|| EvalError::Type("a name has no value".to_owned())),
        Node::Negate(inner) => negate(&eval(inner, scope, budget)?),
        Node::Not(inner) => Ok(Value::Truth(!truth(inner, scope, budget)?)),
        Node::Arithmetic(operation, left, right) => {
            arithmetic(*operation, &eval(left, scope, budget)?, &eval(right, scope, budget)?)
        }
        Node::Compare(first, rest) => compare_chain(first, rest, scope, budget),
        Node::And(left, right) => Ok(Value::Truth(truth(left, scope, budget)? && truth(right, scope, budget)?)),
        Node::Or(left, right) => Ok(Value::Truth(truth(left, scope, budget)? || truth(right, scope, budget)?)),
        Node::Choose { condition, then, otherwise } => {
            let chosen = if truth(condition, scope, budget)? { then } else { otherwise };
            eval(chosen, scope, budget)
        }
        Node::List(items) => eval_all(items, scope, budget).map(Value::List),
        Node::Set(items) => eval_all(items, scope, budget).map(|items| Value::List(without_repeats(items))),
        Node::Index(list, index) => index_into(&eval(list, scope, budget)?, &eval(index, scope, budget)?),
        Node::Call(function, arguments) => (function.run)(&eval_all(arguments, scope, budget)?),
        Node::Template(template) => template.text(scope, budget).map(Value::Text),
    }
}

fn eval_all(nodes: &[Node], scope: &[Value], budget: &mut Budget) -> Result<Vec<Value>, EvalError> {
    nodes.iter().map(|node| eval(node, scope, budget)).collect()
}

fn truth(node: &Node, scope: &[Value], budget: &mut Budget) -> Result<bool, EvalError> {
    match eval(node, scope, budget)? {
        Value::Truth(truth) => Ok(truth),
        other => Err(EvalError::Type(format!("`{}` is neither true nor false", other.plain()))),
    }
}

/// The number behind a value, or why there is none.
pub(super) fn number(value: &Value) -> Result<&Rational, EvalError> {
    value.number().ok_or_else(|| EvalError::Type(format!("`{}` is not a number", value.plain())))
}

fn negate(value: &Value) -> Result<Value, EvalError> {
    Ok(Value::Num(-*number(value)?))
}

fn arithmetic(operation: Arithmetic, left: &Value, right: &Value) -> Result<Value, EvalError> {
    if let (Arithmetic::Add, Value::Text(a), Value::Text(b)) = (operation, left, right) {
        return Ok(Value::Text(format!("{a}{b}")));
    }
    let (a, b) = (number(left)?, number(right)?);
    let result = match operation {
        Arithmetic::Add => numbers::add(a, b),
        Arithmetic::Subtract => numbers::subtract(a, b),
        Arithmetic::Multiply => numbers::multiply(a, b),
        Arithmetic::Divide => numbers::divide(a, b),
        Arithmetic::FloorDivide => numbers::floor_divide(a, b),
        Arithmetic::Remainder => numbers::remainder(a, b),
        Arithmetic::Power => numbers::power(a, b),
    };
    result.map(Value::Num)
}

fn compare_chain(
    first: &Node,
    rest: &[(Comparison, Node)],
    scope: &[Value],
    budget: &mut Budget,
) -> Result<Value, EvalError> {
    let mut left = eval(first, scope, budget)?;
    for (comparison, node) in rest {
        let right = eval(node, scope, budget)?;
        if !holds(*comparison, &left, &right)? {
            return Ok(Value::Truth(false));
        }
        left = right;
    }
    Ok(Value::Truth(true))
}

fn holds(comparison: Comparison, left: &Value, right: &Value) -> Result<bool, EvalError> {
    Ok(match comparison {
        Comparison::Same => left.is_same(right),
        Comparison::Different => !left.is_same(right),
        Comparison::In => is_in(left, right)?,
        Comparison::NotIn => !is_in(left, right)?,
        Comparison::Less => order(left, right)? == Ordering::Less,
        Comparison::LessOrSame => order(left, right)? != Ordering::Greater,
        Comparison::More => order(left, right)? == Ordering::Greater,
        Comparison::MoreOrSame => order(left, right)? != Ordering::Less,
    })
}

/// Which of two numbers is larger.
pub(super) fn order(left: &Value, right: &Value) -> Result<Ordering, EvalError> {
    Ok(number(left)?.cmp(number(right)?))
}

fn is_in(item: &Value, list: &Value) -> Result<bool, EvalError> {
    match list {
        Value::List(items) => Ok(items.iter().any(|i| i.is_same(item))),
        other => Err(EvalError::Type(format!("`{}` is not a list", other.plain()))),
    }
}

fn without_repeats(items: Vec<Value>) -> Vec<Value> {
    let mut kept: Vec<Value> = Vec::with_capacity(items.len());
    for item in items {
        if !kept.iter().any(|k| k.is_same(&item)) {
            kept.push(item);
        }
    }
    kept
}

fn index_into(list: &Value, index: &Value) -> Result<Value, EvalError> {
    let Value::List(items) = list else {
        return Err(EvalError::Type(format!("`{}` is not a list", list.plain())));
    };
    let at = whole(number(index)?)?;
    usize::try_from(at)
        .ok()
        .and_then(|at| items.get(at).cloned())
        .ok_or_else(|| EvalError::Type(format!("a list of {} has no place {at}", items.len())))
}
