//! Option letters: one of A to J, or several; as an answer and as a key.
//!
//! In:  texts as typed. Out: one written form: `B`, `A,C`. `b`, `(B)`, `B.`, `Option B`, `opción b` are `B`; `a; C`, `C A` are `A,C`.
//! Letters run together are several options only where the item's key has several (`letters_run_together_need_a_key_of_several`).
//! Keeps: `one_letter_is_known_in_many_dresses`, `several_letters_come_in_one_order`.
//! Not here: points (`marks`); letters of other scripts, which are compared as words.

/// Words before a letter, in lower case.
const BEFORE: &[&str] = &["option", "answer", "choice", "letter", "opción", "opcion", "respuesta", "letra"];

/// Letters that an option may have.
const LAST: char = 'J';

/// The options of a text in one written form, or nothing where it is something else.
pub fn options_of(text: &str) -> Option<String> {
    let text = without_word(text);
    let mut letters: Vec<char> = Vec::new();
    for part in text.split([',', ';', '&', '+', ' ', '|', '/']).filter(|p| !p.is_empty()) {
        if matches!(part, "and" | "y" | "AND" | "Y") && !letters.is_empty() {
            continue;
        }
        letters.push(letter_of(part)?);
    }
    written(letters)
}

/// The options of letters that may run together.
pub fn options_run_together(text: &str) -> Option<String> {
    if let Some(options) = options_of(text) {
        return Some(options);
    }
    let letters: Vec<char> = text.trim().chars().map(|c| c.to_ascii_uppercase()).collect();
    let ascends = letters.windows(2).all(|w| w[0] < w[1]);
    (ascends && (2..=6).contains(&letters.len()) && letters.iter().all(|c| ('A'..=LAST).contains(c)))
        .then(|| written(letters))
        .flatten()
}

/// The options of a two-part answer in their order: `b; A` and `BA` are `B,A`. One letter is the first part alone.
pub fn parts_of(text: &str) -> Option<String> {
    let letters: Vec<char> = text
        .chars()
        .filter(|c| !c.is_whitespace() && !matches!(c, ',' | ';' | '&' | '+' | '|' | '/' | '-'))
        .map(|c| c.to_ascii_uppercase())
        .collect();
    let are_options = (1..=3).contains(&letters.len()) && letters.iter().all(|c| ('A'..=LAST).contains(c));
    are_options.then(|| letters.iter().map(char::to_string).collect::<Vec<_>>().join(","))
}

fn written(mut letters: Vec<char>) -> Option<String> {
    if letters.is_empty() || letters.len() > 10 {
        return None;
    }
    letters.sort_unstable();
    letters.dedup();
    Some(letters.iter().map(char::to_string).collect::<Vec<_>>().join(","))
}

/// Whether a text in the written form names several.
pub fn is_several(options: &str) -> bool {
    options.contains(',')
}

fn without_word(text: &str) -> &str {
    let lower = text.to_lowercase();
    for word in BEFORE {
        if let Some(rest) = lower.strip_prefix(word)
            && rest.starts_with([' ', ':'])
            && lower.len() == text.len()
        {
            return text[word.len()..].trim_start_matches([' ', ':']);
        }
    }
    text
}

/// `B`, `b`, `(B)`, `B)`, `B.`, `[b]`.
fn letter_of(part: &str) -> Option<char> {
    let bare = part.trim_start_matches(['(', '[']).trim_end_matches([')', ']', '.', ':']);
    let mut chars = bare.chars();
    let letter = chars.next()?.to_ascii_uppercase();
    (chars.next().is_none() && ('A'..=LAST).contains(&letter)).then_some(letter)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_letter_is_known_in_many_dresses() {
        for text in ["B", "b", "(B)", "B.", "b)", "Option B", "opción b", "Answer: B"] {
            assert_eq!(options_of(text).as_deref(), Some("B"), "{text}");
        }
        for text in ["K", "Bo", "", "1", "no", "И"] {
            assert_eq!(options_of(text), None, "{text}");
        }
    }

    #[test]
    fn several_letters_come_in_one_order() {
        for text in ["A,C", "c; a", "C A", "a & c", "C/A", "A and C", "A + C", "A,C,C"] {
            assert_eq!(options_of(text).as_deref(), Some("A,C"), "{text}");
        }
    }

    #[test]
    fn letters_run_together_need_a_key_of_several() {
        assert_eq!(options_of("AC"), None);
        assert_eq!(options_run_together("ac").as_deref(), Some("A,C"));
        assert_eq!(options_run_together("CAB"), None);
    }
}
