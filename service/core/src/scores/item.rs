//! One item of an assessment: its skills, key, points, and what each wrong option may mean.
//!
//! Keeps: a choice of several options is right only as the exact set (`several_options_are_right_only_as_the_exact_set`);
//! option letters compare without case or order. Not here: items of our own tickets (`tickets`).

use crate::skills::SkillCode;

/// How an item is answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ItemKind {
    /// One option of several.
    Choice,
    /// All right options, and no other.
    MultiSelect,
    /// One mark a row of a grid.
    Match,
    /// An answer, then the reason.
    TwoPart,
    /// A number, written.
    Numeric,
}

impl ItemKind {
    /// All five.
    pub const ALL: [ItemKind; 5] =
        [ItemKind::Choice, ItemKind::MultiSelect, ItemKind::Match, ItemKind::TwoPart, ItemKind::Numeric];

    /// The word used in files: `choice`, `multi-select`, `match`, `two-part`, `numeric`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            ItemKind::Choice => "choice",
            ItemKind::MultiSelect => "multi-select",
            ItemKind::Match => "match",
            ItemKind::TwoPart => "two-part",
            ItemKind::Numeric => "numeric",
        }
    }

    /// The kind of a word, any case, with hyphens, spaces or nothing between.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let plain: String = text.chars().filter(|c| c.is_alphanumeric()).collect::<String>().to_lowercase();
        ItemKind::ALL.into_iter().find(|k| k.word().replace('-', "") == plain)
    }
}

/// What choosing one wrong option may mean.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OptionMeaning {
    /// Option label, upper case, e.g. `B`; in a two-part item with the number of its part before it, `2B`.
    pub option: String,
    /// Error-pattern codes; with two, each counts half.
    pub patterns: Vec<String>,
}

/// One item of an assessment.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// Label, unique in the table, e.g. `Q1` or `Q1 (2)`.
    pub label: String,
    /// Index of its assessment in [`super::ResponseTable::assessments`].
    pub assessment: usize,
    /// Skills that a right answer needs; may be empty.
    pub skills: Vec<SkillCode>,
    /// How it is answered.
    pub kind: ItemKind,
    /// Right option labels, or the number; `None` where the sheet gives points alone.
    pub key: Option<String>,
    /// Points for a right answer, above 0.
    pub points: f64,
    /// What wrong options may mean; empty where nobody said.
    pub meanings: Vec<OptionMeaning>,
}

impl Item {
    /// A choice item of one point with nothing else known.
    #[must_use]
    pub fn new(label: &str, assessment: usize) -> Self {
        Item {
            label: label.to_owned(),
            assessment,
            skills: Vec::new(),
            kind: ItemKind::Choice,
            key: None,
            points: 1.0,
            meanings: Vec::new(),
        }
    }

    /// Error-pattern codes of an answer, each with its weight (1, or 1/2 where the option carries two codes).
    pub fn patterns_of<'a>(&'a self, answer: &'a str) -> impl Iterator<Item = (&'a str, f64)> + 'a {
        let chosen = match self.kind {
            ItemKind::TwoPart => parts(answer).iter().zip(1..).map(|(label, part)| format!("{part}{label}")).collect(),
            _ => option_set(answer),
        };
        self.meanings.iter().filter(move |m| chosen.contains(&m.option)).flat_map(|m| {
            let weight = 1.0 / m.patterns.len().max(1) as f64;
            m.patterns.iter().map(move |p| (p.as_str(), weight))
        })
    }
}

/// Points of an answer by the item's key: all or none. `None` where the item has no key.
///
/// Options compare as sets of labels without case; those of a two-part item part by part, where the first part alone is half; anything else compares as text, and as a number where both are numbers.
#[must_use]
pub fn score_answer(item: &Item, answer: &str) -> Option<f64> {
    let key = item.key.as_deref()?;
    if item.kind == ItemKind::TwoPart {
        return Some(part_points(item.points, &parts(key), &parts(answer)));
    }
    let is_right = option_set(key) == option_set(answer)
        || matches!((key.trim().parse::<f64>(), answer.trim().parse::<f64>()), (Ok(k), Ok(a)) if k == a);
    Some(if is_right { item.points } else { 0.0 })
}

/// All parts right: all points. The first alone: half, a right answer with a weak reason. Common practice, no source.
fn part_points(points: f64, key: &[String], answer: &[String]) -> f64 {
    if key == answer {
        points
    } else if !key.is_empty() && key.first() == answer.first() {
        points / 2.0
    } else {
        0.0
    }
}

/// The labels of an answer to a two-part item, in the order of its parts: `b, A` and `BA` give `B`, `A`.
fn parts(answer: &str) -> Vec<String> {
    let letters = answer.chars().filter(|c| c.is_alphanumeric());
    letters.map(|c| c.to_uppercase().to_string()).collect()
}

/// The labels of an answer: upper case, sorted, once each. `a; C` gives `A`, `C`.
fn option_set(answer: &str) -> Vec<String> {
    let mut labels: Vec<String> = answer
        .split([',', ';', '&', '+', ' ', '\u{a0}', '|'])
        .map(|part| part.trim().to_uppercase())
        .filter(|part| !part.is_empty())
        .collect();
    labels.sort();
    labels.dedup();
    labels
}

#[cfg(test)]
mod tests {
    use super::*;

    fn item(key: &str) -> Item {
        Item { key: Some(key.to_owned()), points: 2.0, ..Item::new("Q1", 0) }
    }

    #[test]
    fn several_options_are_right_only_as_the_exact_set() {
        assert_eq!(score_answer(&item("A,C"), "c; a"), Some(2.0));
        assert_eq!(score_answer(&item("A,C"), "A"), Some(0.0));
        assert_eq!(score_answer(&item("A,C"), "A,B,C"), Some(0.0));
    }

    #[test]
    fn parts_of_a_two_part_item_keep_their_order() {
        let two = Item {
            kind: ItemKind::TwoPart,
            meanings: vec![OptionMeaning { option: "2D".into(), patterns: vec!["x".into()] }],
            ..item("B,A")
        };
        assert_eq!(
            ["B,A", "ba", "B,D", "A,B", "B"].map(|a| score_answer(&two, a)),
            [2.0, 2.0, 1.0, 0.0, 1.0].map(Some)
        );
        assert_eq!(two.patterns_of("B,D").collect::<Vec<_>>(), [("x", 1.0)]);
        assert_eq!(two.patterns_of("D,A").count(), 0);
    }

    #[test]
    fn numbers_compare_as_numbers() {
        assert_eq!(score_answer(&item("0.5"), ".50"), Some(2.0));
        assert_eq!(score_answer(&item("12"), "21"), Some(0.0));
    }

    #[test]
    fn no_key_gives_no_points() {
        assert_eq!(score_answer(&Item::new("Q1", 0), "A"), None);
    }

    #[test]
    fn an_option_with_two_codes_counts_half_for_each() {
        let mut two = item("A");
        two.meanings.push(OptionMeaning { option: "B".into(), patterns: vec!["x".into(), "y".into()] });
        assert_eq!(two.patterns_of("b").collect::<Vec<_>>(), vec![("x", 0.5), ("y", 0.5)]);
    }
}
