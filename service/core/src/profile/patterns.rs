//! Wrong ideas that chosen options show, counted.
//!
//! Out: for each student and code, how often it was seen (halves where an option carries two codes), how often of these in an entry or
//! a reason, and how many answered items offered it. Checks older than one half-life are left out. A chosen option is evidence, never proof: what the counts may be called is decided where they are shown.
//! Keeps: an omitted or absent answer is no chance (`only_answered_items_are_chances`); an idea is never seen oftener than there were
//! chances (`two_letters_of_one_idea_are_one_sighting`).

use super::{IDEAS_FROM, Timing};
use crate::scores::{ItemKind, MarkState, ResponseTable};
use std::collections::{BTreeMap, BTreeSet};

/// Counts of one student and code.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PatternCount {
    /// Index into [`PatternTable::codes`].
    pub code: usize,
    /// Times chosen.
    pub seen: f64,
    /// Of these, times where a number was written or a reason given.
    pub seen_written: f64,
    /// Answered items that offered it.
    pub chances: usize,
}

/// How sure a wrong idea is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum IdeaSureness {
    /// Seen less than twice: says nothing.
    Unsure,
    /// Seen twice: possible.
    Possible,
    /// Seen three times, or twice with one of them written rather than chosen: likely.
    Likely,
}

impl PatternCount {
    /// How sure the idea is. Source: of four options with the same three ideas on four items, a guesser shows some idea twice or more
    /// 71 times in a hundred and three times or more 15 (worked out by counting); the rule itself is common practice, no source.
    #[must_use]
    pub fn sureness(&self) -> IdeaSureness {
        if self.seen >= 3.0 || (self.seen >= 2.0 && self.seen_written >= 1.0) {
            IdeaSureness::Likely
        } else if self.seen >= 2.0 {
            IdeaSureness::Possible
        } else {
            IdeaSureness::Unsure
        }
    }
}

/// Counts of a class.
#[derive(Debug, Clone, Default)]
pub struct PatternTable {
    /// Codes that the items offer, in order of code.
    pub codes: Vec<String>,
    /// For each student the codes with at least one chance, in order of code.
    pub counts: Vec<Vec<PatternCount>>,
    /// For each code, indexes of the items that offer it.
    pub items_of: Vec<Vec<usize>>,
}

/// Counts wrong ideas for every student.
#[must_use]
pub fn count_patterns(table: &ResponseTable, timing: &Timing) -> PatternTable {
    let offered: Vec<BTreeSet<&str>> = table
        .items()
        .iter()
        .map(|i| i.meanings.iter().flat_map(|m| m.patterns.iter().map(String::as_str)).collect())
        .collect();
    let codes: Vec<String> =
        offered.iter().flatten().collect::<BTreeSet<_>>().into_iter().map(|c| (*c).to_owned()).collect();
    let place: BTreeMap<&str, usize> = codes.iter().enumerate().map(|(i, c)| (c.as_str(), i)).collect();
    let items_of =
        codes.iter().map(|c| (0..offered.len()).filter(|&j| offered[j].contains(c.as_str())).collect()).collect();
    let by_mark = meanings_by_mark(table, &place);
    let counts = (0..table.n_students())
        .map(|student| {
            let mut sums: BTreeMap<usize, (f64, f64, usize)> = BTreeMap::new();
            let is_new = |item: usize| timing.weight(table.items()[item].assessment) >= IDEAS_FROM - 1e-9;
            for (item, codes) in offered.iter().enumerate().filter(|(j, c)| !c.is_empty() && is_new(*j)) {
                if table.mark(student, item).state != MarkState::Scored || table.mark(student, item).answer.is_none() {
                    continue;
                }
                let is_written = matches!(table.items()[item].kind, ItemKind::Numeric | ItemKind::TwoPart);
                codes.iter().for_each(|c| sums.entry(place[c]).or_default().2 += 1);
                for &(code, weight) in &by_mark[item][table.mark_code(student, item) as usize] {
                    let sum = sums.entry(code).or_default();
                    sum.0 += weight;
                    sum.1 += if is_written { weight } else { 0.0 };
                }
            }
            sums.into_iter()
                .map(|(code, (seen, seen_written, chances))| PatternCount { code, seen, seen_written, chances })
                .collect()
        })
        .collect();
    PatternTable { codes, counts, items_of }
}

/// For each item and distinct mark, the codes it shows with their weights. One answer shows an idea once at most, however many of its
/// letters carry it: they were not chosen independently.
fn meanings_by_mark(table: &ResponseTable, place: &BTreeMap<&str, usize>) -> Vec<Vec<Vec<(usize, f64)>>> {
    table.by_distinct_mark(|item, mark| {
        let is_wrong = mark.points.is_none_or(|p| p < item.points);
        let wrong_answer = mark.answer.iter().filter(|_| is_wrong);
        let mut shown: BTreeMap<usize, f64> = BTreeMap::new();
        for (code, weight) in wrong_answer.flat_map(|a| item.patterns_of(a)) {
            if let Some(at) = place.get(code) {
                let sum = shown.entry(*at).or_insert(0.0);
                *sum = (*sum + weight).min(1.0);
            }
        }
        shown.into_iter().collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::roster::{Student, StudentId};
    use crate::scores::{Item, Mark, OptionMeaning};

    #[test]
    fn two_letters_of_one_idea_are_one_sighting() {
        let mut table = ResponseTable::new();
        let check = table.add_assessment("check");
        let meaning = |option: &str| OptionMeaning { option: option.into(), patterns: vec!["odd-is-even".into()] };
        let meanings = ["B", "C", "D"].map(meaning).to_vec();
        let key = Some("A".to_owned());
        table.add_item(Item { key, meanings, kind: ItemKind::MultiSelect, ..Item::new("Q1", check) });
        let s = table.add_student(Student::unnamed(StudentId::parse("1").unwrap()));
        table.set(s, 0, Mark::scored(Some("B,C,D".into()), Some(0.0))).unwrap();
        let patterns = count_patterns(&table, &Timing::new(table.assessments(), None, 3.0));
        assert_eq!(patterns.counts[s], vec![PatternCount { code: 0, seen: 1.0, seen_written: 0.0, chances: 1 }]);
    }

    #[test]
    fn only_answered_items_are_chances() {
        let mut table = ResponseTable::new();
        let check = table.add_assessment("check");
        let meaning = OptionMeaning { option: "B".into(), patterns: vec!["always-bigger".into()] };
        for label in ["Q1", "Q2", "Q3"] {
            table.add_item(Item { key: Some("A".into()), meanings: vec![meaning.clone()], ..Item::new(label, check) });
        }
        let s = table.add_student(Student::unnamed(StudentId::parse("1").unwrap()));
        table.set(s, 0, Mark::scored(Some("B".into()), Some(0.0))).unwrap();
        table.set(s, 1, Mark::scored(Some("A".into()), Some(1.0))).unwrap();
        table.set(s, 2, Mark::OMITTED).unwrap();
        let patterns = count_patterns(&table, &Timing::new(table.assessments(), None, 3.0));
        assert_eq!(patterns.codes, vec!["always-bigger"]);
        assert_eq!(patterns.counts[s], vec![PatternCount { code: 0, seen: 1.0, seen_written: 0.0, chances: 2 }]);
    }
}
