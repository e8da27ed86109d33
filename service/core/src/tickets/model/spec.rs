//! A compiled item model.
//! What `compile` gives and `draw` uses: every formula read, every name known to exist.
//! Not here: how a model is written in a file (`file`).

use crate::scores::ItemKind;
use crate::skills::SkillCode;
use crate::tickets::formula::{Formula, Template, Value};

/// One kind of question.
#[derive(Debug, Clone)]
pub struct ItemModel {
    pub(in crate::tickets) slug: String,
    pub(in crate::tickets) version: u32,
    pub(in crate::tickets) skill: SkillCode,
    pub(in crate::tickets) kind: ItemKind,
    pub(in crate::tickets) stem: Template,
    pub(in crate::tickets) picture: Option<Template>,
    /// Line of the drawing; a model that has one has `picture` too.
    pub(in crate::tickets) drawing: Option<Template>,
    /// In order of name; their values are the first of the scope.
    pub(in crate::tickets) params: Vec<Param>,
    /// Values made from the parameters, in order; they follow in the scope.
    pub(in crate::tickets) lets: Vec<(String, Formula)>,
    pub(in crate::tickets) conditions: Vec<Formula>,
    pub(in crate::tickets) body: Body,
    pub(in crate::tickets) easier: Lever,
    pub(in crate::tickets) harder: Lever,
    pub(in crate::tickets) patterns: Vec<String>,
    pub(in crate::tickets) file: String,
    pub(in crate::tickets) line: usize,
}

impl ItemModel {
    /// Its name, e.g. `g5-scale-one`.
    #[must_use]
    pub fn slug(&self) -> &str {
        &self.slug
    }

    /// Its version; a change of meaning raises it.
    #[must_use]
    pub fn version(&self) -> u32 {
        self.version
    }

    /// Skill that a right answer shows.
    #[must_use]
    pub fn skill(&self) -> &SkillCode {
        &self.skill
    }

    /// How its items are answered.
    #[must_use]
    pub fn kind(&self) -> ItemKind {
        self.kind
    }

    /// Every error-pattern code that one of its items may carry, sorted.
    #[must_use]
    pub fn patterns(&self) -> &[String] {
        &self.patterns
    }

    /// What makes its items easier, in words for staff.
    #[must_use]
    pub fn easier(&self) -> &str {
        &self.easier.words
    }

    /// What makes its items harder, in words for staff.
    #[must_use]
    pub fn harder(&self) -> &str {
        &self.harder.words
    }

    /// Conditions that hold for an item of this level besides the model's own; `None` where the model cannot be drawn at it.
    pub(in crate::tickets) fn conditions_at(&self, level: Level) -> Option<&[Formula]> {
        match level {
            Level::AsWritten => Some(&[]),
            Level::Easier => self.easier.conditions(),
            Level::Harder => self.harder.conditions(),
        }
    }

    /// Whether its items can be drawn at this level.
    #[must_use]
    pub fn has_level(&self, level: Level) -> bool {
        self.conditions_at(level).is_some()
    }

    /// File and 1-based line where it is written.
    #[must_use]
    pub fn place(&self) -> (&str, usize) {
        (&self.file, self.line)
    }

    /// Whether an answer to one of its items can show the wrong idea.
    #[must_use]
    pub fn carries(&self, pattern: &str) -> bool {
        self.patterns.iter().any(|p| p == pattern)
    }
}

/// How hard an item is, among those of its model.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Level {
    /// Whatever the model draws.
    #[default]
    AsWritten,
    /// Drawn with the model's conditions for easier items.
    Easier,
    /// Drawn with its conditions for harder items.
    Harder,
}

impl Level {
    /// `easier` or `harder`; `None` for an item as it is written.
    #[must_use]
    pub fn word(self) -> Option<&'static str> {
        match self {
            Level::AsWritten => None,
            Level::Easier => Some("easier"),
            Level::Harder => Some("harder"),
        }
    }
}

/// What makes an item of a model easier, or harder.
#[derive(Debug, Clone)]
pub(in crate::tickets) struct Lever {
    pub(in crate::tickets) words: String,
    /// Empty where no choice of numbers does it.
    pub(in crate::tickets) conditions: Vec<Formula>,
}

impl Lever {
    fn conditions(&self) -> Option<&[Formula]> {
        (!self.conditions.is_empty()).then_some(self.conditions.as_slice())
    }
}

/// A parameter and what it may be.
#[derive(Debug, Clone)]
pub(in crate::tickets) struct Param {
    pub(in crate::tickets) name: String,
    pub(in crate::tickets) range: ParamRange,
}

/// What a parameter may be.
#[derive(Debug, Clone)]
pub(in crate::tickets) enum ParamRange {
    /// Whole numbers, both ends included.
    Span(i64, i64),
    /// One of several values.
    Set(Vec<Value>),
}

/// What is answered.
#[derive(Debug, Clone)]
pub(in crate::tickets) enum Body {
    Choice(Box<ChoiceSpec>),
    MultiSelect { options: Vec<OptionSpec>, right_when: Formula },
    Match { columns: Vec<Template>, rows: Vec<RowSpec> },
    TwoPart(Vec<PartSpec>),
    Numeric { key: Formula, wrong: Vec<OptionSpec> },
}

/// One right option and the wrong ones to choose from.
#[derive(Debug, Clone)]
pub(in crate::tickets) struct ChoiceSpec {
    pub(in crate::tickets) key: OptionSpec,
    pub(in crate::tickets) wrong: Vec<OptionSpec>,
    /// Every option in the order shown, where it is always the same (`<`, `=`, `>`); empty otherwise.
    pub(in crate::tickets) show: Vec<Template>,
}

/// One option.
#[derive(Debug, Clone)]
pub(in crate::tickets) struct OptionSpec {
    pub(in crate::tickets) face: Face,
    /// What it says about the numbers, where that can be computed: true for a key, false for a wrong option.
    pub(in crate::tickets) claim: Option<Formula>,
    /// Offered only when true.
    pub(in crate::tickets) when: Option<Formula>,
    /// What choosing it may mean.
    pub(in crate::tickets) codes: Vec<String>,
}

/// What an option shows.
#[derive(Debug, Clone)]
pub(in crate::tickets) enum Face {
    /// A value; numbers are put in order.
    Value(Formula),
    /// Words, with the number behind them where there is one; put in any order.
    Text { text: Template, worth: Option<Formula> },
}

/// One row of a match grid: the key's column and what wrong columns may mean.
#[derive(Debug, Clone)]
pub(in crate::tickets) struct RowSpec {
    pub(in crate::tickets) text: Template,
    pub(in crate::tickets) key: Formula,
    pub(in crate::tickets) wrong: Vec<OptionSpec>,
}

/// One part of a two-part item.
#[derive(Debug, Clone)]
pub(in crate::tickets) struct PartSpec {
    pub(in crate::tickets) stem: Template,
    pub(in crate::tickets) choice: ChoiceSpec,
}
