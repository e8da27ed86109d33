//! The tree of a formula.
//! Built by `parser`, walked by `eval`; it holds no values and knows no parameters' worth.
//! Depth is limited by the parser, so that walking it never runs out of stack.

use super::functions::Function;
use super::template::Template;
use super::values::Value;

/// One node; names are already places in the scope.
#[derive(Debug, Clone)]
pub(super) enum Node {
    Constant(Value),
    Slot(usize),
    Negate(Box<Node>),
    Not(Box<Node>),
    Arithmetic(Arithmetic, Box<Node>, Box<Node>),
    /// True when each comparison of neighbours holds: `a < b < c`.
    Compare(Box<Node>, Vec<(Comparison, Node)>),
    And(Box<Node>, Box<Node>),
    Or(Box<Node>, Box<Node>),
    Choose {
        condition: Box<Node>,
        then: Box<Node>,
        otherwise: Box<Node>,
    },
    List(Vec<Node>),
    /// A list without repeats.
    Set(Vec<Node>),
    Index(Box<Node>, Box<Node>),
    Call(&'static Function, Vec<Node>),
    Template(Template),
}

/// What is done with two numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Arithmetic {
    Add,
    Subtract,
    Multiply,
    Divide,
    FloorDivide,
    Remainder,
    Power,
}

/// What is asked of two values.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Comparison {
    Less,
    LessOrSame,
    More,
    MoreOrSame,
    Same,
    Different,
    In,
    NotIn,
}
