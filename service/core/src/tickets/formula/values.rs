//! What a formula gives: a number, yes or no, a text, a text with a number behind it, or a list.
//!
//! Two values are the same when their numbers are the same, whatever they look like: 2/4 and 1/2 are
//! (`written_forms_compare_by_value`). A number below zero is never shown to a child: showing it is an error of the draw.

use super::EvalError;
use super::numbers::Rational;
use num_traits::Signed;

/// A value.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Value {
    /// A number; shown as a whole number with grouped digits, or as a fraction in lowest terms.
    Num(Rational),
    /// Yes or no.
    Truth(bool),
    /// Words.
    Text(String),
    /// A number as it is written, e.g. 2/4 or 0.50.
    Shown {
        /// What is read.
        text: String,
        /// What it is worth.
        value: Rational,
    },
    /// Several values.
    List(Vec<Value>),
}

impl Value {
    /// A whole number.
    pub(crate) fn whole(number: i128) -> Value {
        Value::Num(Rational::from_integer(number))
    }

    /// A text.
    pub(crate) fn text(text: impl Into<String>) -> Value {
        Value::Text(text.into())
    }

    /// The number behind it, where there is one.
    pub(crate) fn number(&self) -> Option<&Rational> {
        match self {
            Value::Num(value) | Value::Shown { value, .. } => Some(value),
            Value::Truth(_) | Value::Text(_) | Value::List(_) => None,
        }
    }

    /// Whether two values are the same: by number where both have one, else by what they are.
    pub(crate) fn is_same(&self, other: &Value) -> bool {
        match (self, other) {
            (Value::Text(a), Value::Text(b)) => a == b,
            (Value::Truth(a), Value::Truth(b)) => a == b,
            (Value::List(a), Value::List(b)) => a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a.is_same(b)),
            _ => matches!((self.number(), other.number()), (Some(a), Some(b)) if a == b),
        }
    }

    /// As a child reads it, with digits in groups of three from 1,000 on.
    pub(crate) fn show(&self) -> Result<String, EvalError> {
        match self {
            Value::Num(number) if number.is_negative() => Err(EvalError::Negative),
            Value::Shown { value, .. } if value.is_negative() => Err(EvalError::Negative),
            Value::Num(number) if number.is_integer() => Ok(grouped(&number.to_integer().to_string())),
            _ => Ok(self.plain()),
        }
    }

    /// As it is typed: digits without groups.
    pub(crate) fn plain(&self) -> String {
        match self {
            Value::Num(number) => number.to_string(),
            Value::Truth(truth) => truth.to_string(),
            Value::Text(text) | Value::Shown { text, .. } => text.clone(),
            Value::List(items) => items.iter().map(Value::plain).collect::<Vec<_>>().join(", "),
        }
    }
}

/// Digits in groups of three: `12345` gives `12,345`.
fn grouped(digits: &str) -> String {
    let mut out = String::with_capacity(digits.len() + digits.len() / 3);
    for (idx, digit) in digits.chars().enumerate() {
        if idx > 0 && (digits.len() - idx).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}
