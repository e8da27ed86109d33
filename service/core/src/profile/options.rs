//! What became of each option of an item: who chose it, and whether those who know the rest did.
//!
//! In:  chosen letters and the rest score of those who chose. Out: an [`OptionReport`] for every option that is known, and whether the
//! key is probably wrong. Discrimination of an option is the correlation of having chosen it with the rest score; blanks are left out.
//! A wrong option that fewer than [`SELDOM`] choose, or that those who know the rest choose rather, does not do its work.
//! The key is probably wrong where those who know the rest miss it and rather choose one other option, which is chosen as often.
//! Keeps: `an_option_nobody_takes_is_named`, `a_wrong_key_is_suspected`, `few_answers_name_nothing`.
//! Source: under 5 % of choices or positive discrimination: Tarrant, Ware & Mohammed 2009, BMC Medical Education 9:40 (abstract);
//! the rest score as in R CTT 2.3.3 `distractorAnalysis`. The rule for the key is common practice, no source.

use crate::plan::OptionReport;
use crate::scores::{Item, ItemKind, MarkState, ResponseTable};
use std::collections::BTreeMap;

/// Share of choices under which a wrong option does no work.
const SELDOM: f64 = 0.05;
/// Answers from which an option or a key is judged.
const ENOUGH_ANSWERS: usize = 20;
/// Correlation from which those who know the rest clearly choose an option.
const CLEARLY: f64 = 0.2;

/// What became of an item's options.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct OptionsOfItem {
    /// In order of label; empty where nothing is chosen from.
    pub(super) options: Vec<OptionReport>,
    /// Whether the key is probably wrong.
    pub(super) is_key_doubtful: bool,
}

/// Rest scores of those who chose, summed: over all, and for each option.
#[derive(Default)]
struct Sums<'a> {
    n: usize,
    rest: f64,
    squares: f64,
    of_option: BTreeMap<&'a str, (usize, f64)>,
}

/// Looks at one item. `rest` gives a student's share of the other items, where there is one.
pub(super) fn options_of(table: &ResponseTable, item_idx: usize, rest: impl Fn(usize) -> Option<f64>) -> OptionsOfItem {
    let Some(item) = table.items().get(item_idx).filter(|i| i.kind == ItemKind::Choice && i.key.is_some()) else {
        return OptionsOfItem::default();
    };
    let mut sums = Sums::default();
    let known = item.meanings.iter().map(|m| m.option.as_str()).chain(item.key.as_deref());
    sums.of_option.extend(known.map(|label| (label, (0, 0.0))));
    for student in 0..table.n_students() {
        let mark = table.mark(student, item_idx);
        let answer = mark.answer.as_deref().filter(|_| mark.state == MarkState::Scored);
        if let Some((answer, rest)) = answer.zip(rest(student)) {
            sums.add(answer, rest);
        }
    }
    if sums.n == 0 {
        return OptionsOfItem::default();
    }
    let options: Vec<OptionReport> = sums.of_option.keys().map(|label| sums.report(item, label)).collect();
    let is_key_doubtful = sums.n >= ENOUGH_ANSWERS && is_key_doubtful(item, &options);
    OptionsOfItem { options, is_key_doubtful }
}

impl<'a> Sums<'a> {
    fn add(&mut self, answer: &'a str, rest: f64) {
        (self.n, self.rest, self.squares) = (self.n + 1, self.rest + rest, self.squares + rest * rest);
        let option = self.of_option.entry(answer).or_default();
        *option = (option.0 + 1, option.1 + rest);
    }

    /// Correlation of having chosen an option with the rest score; `None` where either does not vary.
    fn correlation(&self, n_chosen: usize, rest_of_choosers: f64) -> Option<f64> {
        let (n, chosen) = (self.n as f64, n_chosen as f64);
        let spread = (self.squares - self.rest * self.rest / n) * (chosen - chosen * chosen / n);
        (spread > 1e-12).then(|| ((rest_of_choosers - chosen * self.rest / n) / spread.sqrt()).clamp(-1.0, 1.0))
    }

    fn report(&self, item: &Item, label: &str) -> OptionReport {
        let (n_chosen, rest) = self.of_option.get(label).copied().unwrap_or_default();
        let (share, discrimination) = (n_chosen as f64 / self.n as f64, self.correlation(n_chosen, rest));
        let is_judged = item.key.as_deref() != Some(label) && self.n >= ENOUGH_ANSWERS;
        let flag = match discrimination {
            _ if is_judged && share < SELDOM => Some("seldom-chosen"),
            Some(r) if is_judged && r > 0.0 => Some("chosen-by-those-who-know-the-rest"),
            _ => None,
        };
        OptionReport { label: label.to_owned(), n_chosen, share, discrimination, flag: flag.map(str::to_owned) }
    }
}

fn is_key_doubtful(item: &Item, options: &[OptionReport]) -> bool {
    let is_key = |o: &&OptionReport| item.key.as_deref() == Some(o.label.as_str());
    let Some(key) = options.iter().find(is_key) else { return false };
    let is_missed = key.discrimination.is_none_or(|r| r <= 0.0);
    let draws = |o: &&OptionReport| o.n_chosen >= key.n_chosen && o.discrimination.is_some_and(|r| r >= CLEARLY);
    is_missed && options.iter().filter(|o| !is_key(o)).filter(draws).count() == 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::roster::{Student, StudentId};
    use crate::scores::{Mark, OptionMeaning};

    /// A letter of each student and the share of the rest.
    fn look(answers: &[(&str, f64)], key: &str) -> OptionsOfItem {
        let mut table = ResponseTable::new();
        let check = table.add_assessment("check");
        let meanings = ["A", "B", "C", "D"].map(|o| OptionMeaning { option: o.into(), patterns: vec![] }).to_vec();
        table.add_item(Item { key: Some(key.into()), meanings, ..Item::new("Q1", check) });
        for (i, (answer, _)) in answers.iter().enumerate() {
            let s = table.add_student(Student::unnamed(StudentId::parse(&i.to_string()).unwrap()));
            let points = f64::from(u8::from(*answer == key));
            table.set(s, 0, Mark::scored(Some((*answer).into()), Some(points))).unwrap();
        }
        options_of(&table, 0, |s| Some(answers[s].1))
    }

    /// Those who know most choose A, those who know least B, three in between C.
    fn class() -> Vec<(&'static str, f64)> {
        (0..24).map(|i| (["A", "A", "A", "A", "C", "B", "B", "B"][i / 3], 1.0 - i as f64 / 24.0)).collect()
    }

    fn flags(found: &OptionsOfItem) -> Vec<Option<&str>> {
        found.options.iter().map(|o| o.flag.as_deref()).collect()
    }

    #[test]
    fn an_option_nobody_takes_is_named() {
        let found = look(&class(), "A");
        assert_eq!(flags(&found), [None, None, None, Some("seldom-chosen")]);
        assert_eq!(found.options.iter().map(|o| o.n_chosen).collect::<Vec<_>>(), [12, 9, 3, 0]);
        // Chosen by the upper half of 24 equally spaced scores: half the distance of the halves over the spread (by arithmetic).
        let expect = 6.0 / ((24.0_f64 * 24.0 - 1.0) / 12.0).sqrt();
        assert!((found.options[0].discrimination.unwrap() - expect).abs() < 1e-12);
        assert!(found.options[1].discrimination.unwrap() < 0.0 && !found.is_key_doubtful);
    }

    #[test]
    fn a_wrong_key_is_suspected() {
        let found = look(&class(), "B");
        assert!(found.is_key_doubtful);
        assert_eq!(flags(&found)[0], Some("chosen-by-those-who-know-the-rest"));
    }

    #[test]
    fn few_answers_name_nothing() {
        let found = look(&class()[..19], "B");
        assert!(!found.is_key_doubtful && flags(&found).iter().all(Option::is_none));
    }
}
