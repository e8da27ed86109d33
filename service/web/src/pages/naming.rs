//! What a child is called on a page: by name, or by initials alone, for a wall that others see.
//!
//! In:  the plan, and `?names=initials` or nothing. Out: a label for each child, and sentences with labels in place of names and ids.
//! Keeps: 1. initials are of one child each (`initials_are_of_one_child_each`);
//!        2. a sentence under initials holds no name, no id and nothing that a person typed (`a_sentence_under_initials_names_nobody`);
//!        3. a number that looks like an id stays a number (`a_number_stays_a_number`).
//! Not here: which parts of a page are left out under initials (templates).

use serde::Deserialize;
use sheaf_core::plan::Plan;
use std::collections::BTreeMap;

/// The word of the query.
const INITIALS: &str = "initials";
/// What somebody is called whom the plan does not hold, under initials.
const SOMEBODY: &str = "a child";
/// How notes of the plan begin that list children by their ids.
const LISTS: [&str; 2] = ["Fits less well", "Different wrong ideas"];
/// Ids of fewer characters may be numbers of a sentence.
const SURE_ID: usize = 3;

/// `?names=initials`.
#[derive(Debug, Clone, Default, Deserialize)]
pub(crate) struct NamesAsked {
    #[serde(default)]
    names: String,
}

/// What each child is called.
pub(super) struct Naming {
    /// Whether initials alone are shown.
    pub(super) is_initials: bool,
    /// Label and name by id.
    children: BTreeMap<String, (String, String)>,
}

impl Naming {
    /// As asked for; full names where nothing is asked.
    pub(super) fn of(plan: &Plan, asked: &NamesAsked) -> Self {
        let is_initials = asked.names == INITIALS;
        let mut used: BTreeMap<String, usize> = BTreeMap::new();
        let label = |shown: &str, name: &str| {
            if !is_initials {
                return shown.to_owned();
            }
            let short = initials(name);
            let n = used.entry(short.clone()).or_default();
            *n += 1;
            if *n == 1 { short } else { format!("{short} {n}") }
        };
        let mut label = label;
        let child = |s: &sheaf_core::plan::StudentReport| {
            (s.id.to_string(), (label(s.shown_name(), &s.name), s.name.trim().to_owned()))
        };
        Naming { is_initials, children: plan.students.iter().map(child).collect() }
    }

    /// By full names.
    pub(super) fn full(plan: &Plan) -> Self {
        Self::of(plan, &NamesAsked::default())
    }

    /// What a link to another page that knows initials carries.
    pub(super) fn query(&self) -> &'static str {
        if self.is_initials { "?names=initials" } else { "" }
    }

    /// What a child is called.
    pub(super) fn label<'a>(&'a self, id: &'a str) -> &'a str {
        match self.children.get(id) {
            Some((label, _)) => label,
            None if self.is_initials => SOMEBODY,
            None => id,
        }
    }

    /// The id where it may be shown beside the name.
    pub(super) fn id_beside(&self, id: &str) -> String {
        let has_name = self.children.get(id).is_some_and(|(_, name)| !name.is_empty());
        if has_name && !self.is_initials { id.to_owned() } else { String::new() }
    }

    /// A sentence of the plan with labels for ids, and under initials for names too; what a person typed is left out of it then.
    pub(super) fn sentence(&self, text: &str) -> String {
        let is_list = LISTS.iter().any(|start| text.starts_with(start));
        let mut text = if self.is_initials { without_quotes(text) } else { text.to_owned() };
        if self.is_initials {
            let mut by_length: Vec<&(String, String)> = self.children.values().collect();
            by_length.sort_by_key(|(_, name)| std::cmp::Reverse(name.len()));
            for (label, name) in by_length.into_iter().filter(|(_, name)| !name.is_empty()) {
                text = replaced(&text, name, label);
            }
        }
        for (id, (label, _)) in &self.children {
            let is_sure = id.len() >= SURE_ID || id.contains(|c: char| c.is_alphabetic());
            if is_list || is_sure {
                text = replaced(&text, id, label);
            }
        }
        text
    }

    /// What a person typed; nothing under initials, as it may call a child by the first name.
    pub(super) fn typed<'a>(&self, words: &'a str) -> &'a str {
        if self.is_initials { "" } else { words }
    }
}

/// `A. B.` of `Ana Bell` or `Bell, Ana`.
fn initials(name: &str) -> String {
    let given_first = match name.split_once(',') {
        Some((family, given)) => format!("{given} {family}"),
        None => name.to_owned(),
    };
    let letter = |word: &str| word.chars().find(|c| c.is_alphabetic()).map(|c| c.to_uppercase().to_string());
    let letters: Vec<String> = given_first.split_whitespace().filter_map(letter).collect();
    match letters.as_slice() {
        [] => "Child".to_owned(),
        [one] => format!("{one}."),
        [first, .., last] => format!("{first}. {last}."),
    }
}

/// A text without what stands in curly quotes after ` (`: reasons that a person typed.
fn without_quotes(text: &str) -> String {
    let mut kept = String::new();
    let mut rest = text;
    while let Some((before, quoted)) = rest.split_once(" (\u{201c}") {
        kept.push_str(before);
        rest = quoted.split_once("\u{201d})").map_or("", |(_, after)| after);
    }
    kept + rest
}

/// Each whole word or run of words `needle`, replaced. Part of a longer word, a code or a fraction is none.
fn replaced(text: &str, needle: &str, by: &str) -> String {
    let mut out = String::new();
    let mut at = 0;
    while let Some(found) = text[at..].find(needle) {
        let (start, end) = (at + found, at + found + needle.len());
        let goes_on = |mut chars: Box<dyn Iterator<Item = char> + '_>| match chars.next() {
            Some(c) if c.is_alphanumeric() => true,
            Some('.' | '/' | '-' | ',') => chars.next().is_some_and(char::is_alphanumeric),
            _ => false,
        };
        let is_part = goes_on(Box::new(text[..start].chars().rev())) || goes_on(Box::new(text[end..].chars()));
        out.push_str(&text[at..start]);
        out.push_str(if is_part { needle } else { by });
        at = end;
    }
    out + &text[at..]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn naming(children: &[(&str, &str, &str)]) -> Naming {
        let child =
            |(id, label, name): &(&str, &str, &str)| ((*id).to_owned(), ((*label).to_owned(), (*name).to_owned()));
        Naming { is_initials: true, children: children.iter().map(child).collect() }
    }

    #[test]
    fn initials_are_of_one_child_each() {
        for (name, short) in
            [("Ana Bell", "A. B."), ("Bell, Ana", "A. B."), ("Ana Maria Bell", "A. B."), ("élise", "É."), ("", "Child")]
        {
            assert_eq!(initials(name), short, "{name}");
        }
        let mut table = sheaf_core::scores::ResponseTable::new();
        for (id, name) in [("1", "Ana Bell"), ("2", "Amy Boon"), ("3", "Cy Dale")] {
            let id = sheaf_core::roster::StudentId::parse(id).unwrap();
            table.add_student(sheaf_core::roster::Student {
                name: name.to_owned(),
                ..sheaf_core::roster::Student::unnamed(id)
            });
        }
        let labels: Vec<String> = table.students().iter().map(|s| initials(&s.name)).collect();
        assert_eq!(labels, ["A. B.", "A. B.", "C. D."], "the plan numbers them: see the pages' test");
    }

    #[test]
    fn a_sentence_under_initials_names_nobody() {
        let naming =
            naming(&[("0417", "A. B.", "Ana Bell"), ("7", "C. D.", "Cy Dale"), ("0533", "A. M.", "Ana Bell Moss")]);
        for (text, told) in [
            (
                "Fits less well: 0417 (lacks 4.NF.A.1), 7 (lacks no measured skill).",
                "Fits less well: A. B. (lacks 4.NF.A.1), C. D. (lacks no measured skill).",
            ),
            (
                "Seated by a person (\u{201c}Ana is calmer there\u{201d}); Group 2 was suggested.",
                "Seated by a person; Group 2 was suggested.",
            ),
            ("Ana Bell Moss and Ana Bell sit here.", "A. M. and A. B. sit here."),
            ("0417 is out.", "A. B. is out."),
        ] {
            assert_eq!(naming.sentence(text), told);
        }
        assert_eq!((naming.label("0417"), naming.label("9"), naming.typed("Ana is ill")), ("A. B.", "a child", ""));
    }

    #[test]
    fn a_number_stays_a_number() {
        let naming = naming(&[("5", "A. B.", "Ana Bell"), ("600", "C. D.", "")]);
        for text in ["5 of 6 lack it.", "At 1.600 and 600/1000, 600.5 or 1,600.", "Group 5"] {
            assert_eq!(naming.sentence(text), text);
        }
        assert_eq!(naming.sentence("Fits less well: 5 (lacks 5.NF.B.5a)."), "Fits less well: A. B. (lacks 5.NF.B.5a).");
    }
}
