//! Which ids may be one child: a new id whose name is like that of an id that is gone.
//!
//! In:  the list before and the new one. Out: pairs to ask about. Names compare without case, accents and order of their
//! words; one slip of the finger in ten letters is let pass. Common practice, no source; the answer is a person's.
//! Keeps: two children of one name who both are on the new list are no question (`two_children_of_one_name_are_no_question`).
//! Not here: keeping questions and answers (`sheaf-store`).

use sheaf_core::roster::{Student, StudentId};
use std::collections::BTreeSet;
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// How like two names must be, 0 to 1.
const LIKE_FROM: f64 = 0.85;

/// Pairs of a gone and a new id with like names.
pub(super) fn same_child_questions(before: &[Student], now: &[Student]) -> Vec<(StudentId, StudentId)> {
    let ids = |students: &[Student]| students.iter().map(|s| s.id.clone()).collect::<BTreeSet<_>>();
    let (ids_before, ids_now) = (ids(before), ids(now));
    let gone: Vec<(&Student, String)> =
        before.iter().filter(|s| !ids_now.contains(&s.id)).map(|s| (s, comparable(&s.name))).collect();
    let mut pairs = Vec::new();
    for new in now.iter().filter(|s| !ids_before.contains(&s.id)) {
        let name = comparable(&new.name);
        let like = gone.iter().filter(|(_, old)| is_like(old, &name));
        pairs.extend(like.map(|(old, _)| (old.id.clone(), new.id.clone())));
    }
    pairs
}

/// Words in lower case without accents and marks, in order of the alphabet.
fn comparable(name: &str) -> String {
    let plain: String = name
        .nfkd()
        .filter(|c| !is_combining_mark(*c))
        .flat_map(char::to_lowercase)
        .map(|c| if c.is_alphanumeric() { c } else { ' ' })
        .collect();
    let mut words: Vec<&str> = plain.split_whitespace().collect();
    words.sort_unstable();
    words.join(" ")
}

fn is_like(a: &str, b: &str) -> bool {
    !a.is_empty() && !b.is_empty() && strsim::normalized_damerau_levenshtein(a, b) >= LIKE_FROM
}

#[cfg(test)]
mod tests {
    use super::*;

    fn student(id: &str, name: &str) -> Student {
        Student { name: name.into(), ..Student::unnamed(StudentId::parse(id).unwrap()) }
    }

    fn asked(before: &[(&str, &str)], now: &[(&str, &str)]) -> Vec<(String, String)> {
        let list = |rows: &[(&str, &str)]| rows.iter().map(|(id, name)| student(id, name)).collect::<Vec<_>>();
        let pairs = same_child_questions(&list(before), &list(now));
        pairs.into_iter().map(|(old, new)| (old.to_string(), new.to_string())).collect()
    }

    #[test]
    fn a_changed_id_with_a_like_name_is_a_question() {
        for name in ["Núñez, José", "Jose Nunez", "JOSE NUNES"] {
            assert_eq!(asked(&[("1", "José Núñez")], &[("9", name)]), [("1".to_owned(), "9".to_owned())], "{name}");
        }
        assert_eq!(asked(&[("1", "José Núñez")], &[("9", "Ada Ash"), ("8", "")]), []);
    }

    #[test]
    fn two_children_of_one_name_are_no_question() {
        let both = [("1", "Ada Ash"), ("2", "Ada Ash")];
        assert_eq!(asked(&both, &both), []);
        assert_eq!(asked(&both[..1], &both), [], "nobody is gone");
    }
}
