//! Formulas of item models: exact arithmetic on whole numbers and fractions, conditions, and text with values in it.
//!
//! In:  the text of one formula or template, and the names that it may use, in order.
//! Out: a [`Formula`] or [`Template`] that gives a [`Value`] or a text for the values of those names.
//! Keeps: 1. no floating point anywhere; every operation is checked (`the_largest_number_is_kept`)
//!        2. a formula ends: size, depth and steps are limited (`a_formula_that_works_too_long_is_stopped`)
//!        3. a wrong name, function or number of arguments is told when the formula is read (`unknown_names_are_told`)
//! Own code, because the embeddable expression engines at hand compute in floats or cannot show a fraction as it is written.
//! Not here: what is drawn (`draw`), model files (`model`).

mod eval;
mod functions;
mod lexer;
mod numbers;
mod parser;
mod procedures;
mod syntax;
mod template;
mod values;
mod words;

pub(super) use eval::{Budget, EvalError};
pub(super) use numbers::Rational;
pub(super) use parser::FormulaError;
pub(super) use template::Template;
pub(super) use values::Value;

/// Longest text of a formula or template, in bytes.
const LONGEST_SOURCE: usize = 1_000;

/// One formula, ready to compute.
#[derive(Debug, Clone)]
pub(super) struct Formula {
    node: syntax::Node,
}

impl Formula {
    /// Reads a formula that may use `names`; the n-th name stands for the n-th value of the scope.
    pub(super) fn parse(source: &str, names: &[String]) -> Result<Self, FormulaError> {
        if source.len() > LONGEST_SOURCE {
            return Err(FormulaError(format!("the formula is longer than {LONGEST_SOURCE} characters")));
        }
        Ok(Formula { node: parser::parse(source, names)? })
    }

    /// Its value for one scope.
    pub(super) fn value(&self, scope: &[Value], budget: &mut Budget) -> Result<Value, EvalError> {
        eval::eval(&self.node, scope, budget)
    }

    /// Its value as yes or no.
    pub(super) fn holds(&self, scope: &[Value], budget: &mut Budget) -> Result<bool, EvalError> {
        match self.value(scope, budget)? {
            Value::Truth(truth) => Ok(truth),
            other => Err(EvalError::Type(format!("`{}` is neither true nor false", other.plain()))),
        }
    }
}

#[cfg(test)]
mod tests;
