//! Tokens into a tree, by recursive descent; the loosest binding is on top.
//!
//! `choose := or ["if" or "else" choose]`, then `or`, `and`, `not`, comparison (may chain), sum, product, sign, power, index, atom.

use super::functions;
use super::lexer::{Token, tokens};
use super::syntax::{Arithmetic, Comparison, Node};
use super::template::Template;
use super::values::Value;
use thiserror::Error;

/// Why a text is no formula: part of a sentence, without its place.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{0}")]
pub(crate) struct FormulaError(pub(crate) String);

/// Deepest nesting of brackets, signs and choices.
const DEEPEST: usize = 40;

/// The tree of a formula.
pub(super) fn parse(source: &str, names: &[String]) -> Result<Node, FormulaError> {
    let mut parser = Parser { tokens: tokens(source)?, next: 0, names, depth: 0 };
    let node = parser.choose()?;
    match parser.peek() {
        None => Ok(node),
        Some(token) => Err(FormulaError(format!("{} stands where the formula should end", shown(token)))),
    }
}

struct Parser<'a> {
    tokens: Vec<Token>,
    next: usize,
    names: &'a [String],
    depth: usize,
}

impl Parser<'_> {
    fn peek(&self) -> Option<&Token> {
        self.tokens.get(self.next)
    }

    fn take_sign(&mut self, sign: &str) -> bool {
        let is_next = matches!(self.peek(), Some(Token::Sign(s)) if *s == sign);
        self.next += usize::from(is_next);
        is_next
    }

    fn take_word(&mut self, word: &str) -> bool {
        let is_next = matches!(self.peek(), Some(Token::Name(n)) if n == word);
        self.next += usize::from(is_next);
        is_next
    }

    fn expect(&mut self, sign: &str) -> Result<(), FormulaError> {
        if self.take_sign(sign) {
            return Ok(());
        }
        let found = self.peek().map_or_else(|| "the end".to_owned(), shown);
        Err(FormulaError(format!("`{sign}` is missing before {found}")))
    }

    fn choose(&mut self) -> Result<Node, FormulaError> {
        self.depth += 1;
        if self.depth > DEEPEST {
            return Err(FormulaError(format!("the formula is nested more than {DEEPEST} deep")));
        }
        let then = self.or()?;
        let node = if self.take_word("if") {
            let condition = Box::new(self.or()?);
            if !self.take_word("else") {
                return Err(FormulaError("`if` has no `else`".to_owned()));
            }
            Node::Choose { condition, then: Box::new(then), otherwise: Box::new(self.choose()?) }
        } else {
            then
        };
        self.depth -= 1;
        Ok(node)
    }

    fn or(&mut self) -> Result<Node, FormulaError> {
        let mut left = self.and()?;
        while self.take_word("or") {
            left = Node::Or(Box::new(left), Box::new(self.and()?));
        }
        Ok(left)
    }

    fn and(&mut self) -> Result<Node, FormulaError> {
        let mut left = self.not()?;
        while self.take_word("and") {
            left = Node::And(Box::new(left), Box::new(self.not()?));
        }
        Ok(left)
    }

    fn not(&mut self) -> Result<Node, FormulaError> {
        let mut n_nots = 0_usize;
        while self.take_word("not") {
            n_nots += 1;
        }
        let node = self.comparison()?;
        Ok(match (n_nots, n_nots % 2) {
            (0, _) => node,
            (_, 1) => Node::Not(Box::new(node)),
            _ => Node::Not(Box::new(Node::Not(Box::new(node)))),
        })
    }

    fn comparison(&mut self) -> Result<Node, FormulaError> {
        let first = self.sum()?;
        let mut rest = Vec::new();
        while let Some(comparison) = self.take_comparison()? {
            rest.push((comparison, self.sum()?));
        }
        Ok(if rest.is_empty() { first } else { Node::Compare(Box::new(first), rest) })
    }

    fn take_comparison(&mut self) -> Result<Option<Comparison>, FormulaError> {
        const SIGNS: [(&str, Comparison); 6] = [
            ("<", Comparison::Less),
            ("<=", Comparison::LessOrSame),
            (">", Comparison::More),
            (">=", Comparison::MoreOrSame),
            ("==", Comparison::Same),
            ("!=", Comparison::Different),
        ];
        if let Some((_, comparison)) = SIGNS.iter().find(|(sign, _)| self.take_sign(sign)) {
            return Ok(Some(*comparison));
        }
        if self.take_word("in") {
            return Ok(Some(Comparison::In));
        }
        if self.take_word("not") {
            return if self.take_word("in") {
                Ok(Some(Comparison::NotIn))
            } else {
                Err(FormulaError("`not` after a value must be `not in`".to_owned()))
            };
        }
        Ok(None)
    }

    fn sum(&mut self) -> Result<Node, FormulaError> {
        let mut left = self.product()?;
        loop {
            let operation = if self.take_sign("+") {
                Arithmetic::Add
            } else if self.take_sign("-") {
                Arithmetic::Subtract
            } else {
                return Ok(left);
            };
            left = Node::Arithmetic(operation, Box::new(left), Box::new(self.product()?));
        }
    }

    fn product(&mut self) -> Result<Node, FormulaError> {
        const SIGNS: [(&str, Arithmetic); 4] = [
            ("*", Arithmetic::Multiply),
            ("/", Arithmetic::Divide),
            ("//", Arithmetic::FloorDivide),
            ("%", Arithmetic::Remainder),
        ];
        let mut left = self.sign()?;
        while let Some((_, operation)) = SIGNS.iter().find(|(sign, _)| self.take_sign(sign)) {
            left = Node::Arithmetic(*operation, Box::new(left), Box::new(self.sign()?));
        }
        Ok(left)
    }

    fn sign(&mut self) -> Result<Node, FormulaError> {
        if !self.take_sign("-") {
            return self.power();
        }
        Ok(Node::Negate(Box::new(self.power()?)))
    }

    fn power(&mut self) -> Result<Node, FormulaError> {
        let base = self.indexed()?;
        if !self.take_sign("**") {
            return Ok(base);
        }
        Ok(Node::Arithmetic(Arithmetic::Power, Box::new(base), Box::new(self.indexed()?)))
    }

    fn indexed(&mut self) -> Result<Node, FormulaError> {
        let mut node = self.atom()?;
        while self.take_sign("[") {
            let index = self.choose()?;
            self.expect("]")?;
            node = Node::Index(Box::new(node), Box::new(index));
        }
        Ok(node)
    }

    fn atom(&mut self) -> Result<Node, FormulaError> {
        let Some(token) = self.peek().cloned() else {
            return Err(FormulaError("the formula ends too early".to_owned()));
        };
        self.next += 1;
        match token {
            Token::Number(number) => Ok(Node::Constant(Value::whole(number))),
            Token::Text(text) => Ok(Node::Constant(Value::Text(text))),
            Token::Template(inside) => Ok(Node::Template(Template::parse(&inside, self.names)?)),
            Token::Name(name) => self.named(&name),
            Token::Sign("(") => self.bracketed(),
            Token::Sign("[") => self.items("]").map(Node::List),
            Token::Sign("{") => self.items("}").map(Node::Set),
            token @ Token::Sign(_) => Err(FormulaError(format!("{} stands where a value should be", shown(&token)))),
        }
    }

    /// `( value )`, or `( value, … )` as a list.
    fn bracketed(&mut self) -> Result<Node, FormulaError> {
        let first = self.choose()?;
        if self.take_sign(")") {
            return Ok(first);
        }
        self.expect(",")?;
        let mut items = vec![first];
        items.extend(self.items(")")?);
        Ok(Node::List(items))
    }

    /// Values with commas between them, up to the closing sign.
    fn items(&mut self, close: &str) -> Result<Vec<Node>, FormulaError> {
        let mut items = Vec::new();
        while !self.take_sign(close) {
            items.push(self.choose()?);
            if !self.take_sign(",") {
                self.expect(close)?;
                break;
            }
        }
        Ok(items)
    }

    fn named(&mut self, name: &str) -> Result<Node, FormulaError> {
        match name {
            "True" => return Ok(Node::Constant(Value::Truth(true))),
            "False" => return Ok(Node::Constant(Value::Truth(false))),
            _ => {}
        }
        if self.take_sign("(") {
            let arguments = self.items(")")?;
            let function = functions::find(name, arguments.len()).map_err(FormulaError)?;
            return Ok(Node::Call(function, arguments));
        }
        let slot = self.names.iter().position(|n| n == name);
        slot.map(Node::Slot).ok_or_else(|| FormulaError(unknown_name(name, self.names)))
    }
}

fn unknown_name(name: &str, names: &[String]) -> String {
    if names.is_empty() {
        format!("`{name}` is not known here, where only numbers and texts may stand")
    } else {
        format!("`{name}` is not a parameter; known are {}", names.join(", "))
    }
}

fn shown(token: &Token) -> String {
    match token {
        Token::Number(number) => format!("`{number}`"),
        Token::Text(text) | Token::Template(text) => format!("the text '{text}'"),
        Token::Name(name) => format!("`{name}`"),
        Token::Sign(sign) => format!("`{sign}`"),
    }
}
