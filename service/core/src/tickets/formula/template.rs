//! Text with values in it: `{a}/{b} of {n}`.
//! Braces hold a formula; doubled braces stand for themselves; a text has a largest length.

use super::LONGEST_SOURCE;
use super::eval::{Budget, EvalError, eval};
use super::parser::{FormulaError, parse};
use super::syntax::Node;
use super::values::Value;

/// Longest text that a template may give, in bytes.
const LONGEST_TEXT: usize = 1_000;

/// A text with formulas in braces.
#[derive(Debug, Clone)]
pub(crate) struct Template {
    parts: Vec<Part>,
}

#[derive(Debug, Clone)]
enum Part {
    Words(String),
    Value(Node),
}

impl Template {
    /// Reads a text; each `{formula}` may use `names`.
    pub(crate) fn parse(source: &str, names: &[String]) -> Result<Self, FormulaError> {
        if source.len() > LONGEST_SOURCE {
            return Err(FormulaError(format!("the text is longer than {LONGEST_SOURCE} characters")));
        }
        let mut parts = Vec::new();
        let mut rest = source;
        while let Some(open) = rest.find(['{', '}']) {
            if rest[open..].starts_with('}') {
                return Err(FormulaError("a `}` closes nothing".to_owned()));
            }
            if open > 0 {
                parts.push(Part::Words(rest[..open].to_owned()));
            }
            let inside = &rest[open + 1..];
            let close = closing_brace(inside).ok_or_else(|| FormulaError("a `{` is never closed".to_owned()))?;
            parts.push(Part::Value(parse(&inside[..close], names)?));
            rest = &inside[close + 1..];
        }
        if !rest.is_empty() {
            parts.push(Part::Words(rest.to_owned()));
        }
        Ok(Template { parts })
    }

    /// The text for one scope.
    pub(crate) fn text(&self, scope: &[Value], budget: &mut Budget) -> Result<String, EvalError> {
        let mut out = String::new();
        for part in &self.parts {
            match part {
                Part::Words(words) => out.push_str(words),
                Part::Value(node) => out.push_str(&eval(node, scope, budget)?.show()?),
            }
            if out.len() > LONGEST_TEXT {
                return Err(EvalError::TooLarge);
            }
        }
        Ok(out)
    }
}

/// Where the brace closes that is open before `inside`; braces of sets and braces in quotes do not count.
fn closing_brace(inside: &str) -> Option<usize> {
    let mut depth = 0_usize;
    let mut quote = None;
    for (at, c) in inside.char_indices() {
        match (c, quote) {
            (c, Some(q)) if c == q => quote = None,
            (_, Some(_)) => {}
            ('\'' | '"', None) => quote = Some(c),
            ('{', None) => depth += 1,
            ('}', None) if depth == 0 => return Some(at),
            ('}', None) => depth -= 1,
            _ => {}
        }
    }
    None
}
