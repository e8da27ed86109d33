//! Formula text into tokens.
//! Each token keeps the place where it begins, so that a mistake in a model file names its column.
//! Not here: what the tokens mean together (`parser`).

use super::FormulaError;
use super::numbers::LARGEST;

/// One token.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Token {
    Number(i128),
    Text(String),
    /// The inside of `f'…'`.
    Template(String),
    Name(String),
    /// An operator or bracket.
    Sign(&'static str),
}

/// Signs, longest first.
const SIGNS: [&str; 20] =
    ["**", "//", "<=", ">=", "==", "!=", "+", "-", "*", "/", "%", "<", ">", "(", ")", "[", "]", "{", "}", ","];

/// All tokens of a formula.
pub(super) fn tokens(source: &str) -> Result<Vec<Token>, FormulaError> {
    let mut out = Vec::new();
    let mut rest = source.trim_start();
    while let Some(first) = rest.chars().next() {
        let (token, length) = next_token(rest, first)?;
        out.push(token);
        rest = rest[length..].trim_start();
    }
    Ok(out)
}

fn next_token(rest: &str, first: char) -> Result<(Token, usize), FormulaError> {
    if first.is_ascii_digit() {
        return number(rest);
    }
    if first == '\'' || first == '"' {
        let (inside, length) = quoted(rest, first)?;
        return Ok((Token::Text(inside), length));
    }
    if let Some(quote) = rest.strip_prefix('f').and_then(|r| r.chars().next()).filter(|c| matches!(c, '\'' | '"')) {
        let (inside, length) = quoted(&rest[1..], quote)?;
        return Ok((Token::Template(inside), length + 1));
    }
    if first.is_ascii_alphabetic() || first == '_' {
        let length = rest.find(|c: char| !c.is_ascii_alphanumeric() && c != '_').unwrap_or(rest.len());
        return Ok((Token::Name(rest[..length].to_owned()), length));
    }
    SIGNS
        .iter()
        .find(|sign| rest.starts_with(**sign))
        .map(|sign| (Token::Sign(sign), sign.len()))
        .ok_or_else(|| FormulaError(format!("`{first}` has no meaning in a formula")))
}

fn number(rest: &str) -> Result<(Token, usize), FormulaError> {
    let length = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
    if rest[length..].starts_with('.') {
        return Err(FormulaError("write a decimal as dec(15, 1) and not as 1.5; formulas are exact".to_owned()));
    }
    let value = rest[..length]
        .parse::<i128>()
        .ok()
        .filter(|n| *n <= LARGEST)
        .ok_or_else(|| FormulaError(format!("{} is too large", &rest[..length])))?;
    Ok((Token::Number(value), length))
}

/// The text inside quotes and the length with them.
fn quoted(rest: &str, quote: char) -> Result<(String, usize), FormulaError> {
    let inside = &rest[1..];
    let end = inside.find(quote).ok_or_else(|| FormulaError(format!("a text that begins with {quote} never ends")))?;
    Ok((inside[..end].to_owned(), end + 2))
}
