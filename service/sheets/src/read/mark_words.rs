//! The words and signs of marks: not taken, left blank, right, wrong; English and Spanish, and the signs of other scripts.
//!
//! In:  a cell's text, trimmed. Out: what it says, or nothing. `A` alone is an option and never "absent".
//! Keeps: `absent_is_a_word_and_a_is_not`, `signs_of_right_and_wrong_are_known_in_several_scripts`.
//! Not here: which of two readings a column's other cells speak for (`cell_marks`). Source: common practice, no source.

use super::words::{is_among, plain};

/// Words of "not taken", in plain letters: English, Spanish.
const NOT_TAKEN: [&str; 2] = [
    "abs absent ab absence ex exc excused exempt exmpt na notapplicable nottaken nottested nt inc \
            incomplete withdrawn withdrew wd moved transferred noscore makeup sick out notgiven notassigned dnt \
            didnottake suspended pending",
    "ausente aus ausencia falto justificado justificada exento exenta nopresento np pendiente enfermo \
            enferma",
];

/// Words of "left blank": English, Spanish.
const OMITTED: [&str; 2] = [
    "omit omitted blank skip skipped noanswer noresponse noattempt notattempted",
    "enblanco blanco omitido omitida sinrespuesta nocontesto",
];

// Not the small circles: a white one is right in some schools and wrong in others, so it is told as not understood.
const RIGHT_SIGNS: &str = "✓ ✔ ✔️ ☑ ☑️ √ ✅ ◯ 〇 ⭕ 👍 🙂 😀 😊 ☺ ☺️";
const WRONG_SIGNS: &str = "✗ ✘ ☒ × ❌ ✕ ✖ ✖️ ╳ 👎 🙁 ☹ ☹️ 😞";

const RIGHT_WORDS: &str =
    "right correct yes true si correcto correcta verdadero bien 对 正 正确 да верно صح نعم oui richtig";
const WRONG_WORDS: &str =
    "wrong incorrect no false incorrecto incorrecta falso mal 错 誤 错误 нет неверно خطا لا non falsch";

fn is_in(tables: [&str; 2], word: &str) -> bool {
    tables.iter().any(|t| is_among(t, word))
}

/// Whether a mark says that the item was not taken: absent, excused, exempt.
pub fn is_not_taken(text: &str) -> bool {
    ["-", "–", "—", "--", "---", "−", "―", "‐"].contains(&text) || is_in(NOT_TAKEN, &plain(text))
}

/// Whether a mark says "left blank".
pub fn is_omitted(text: &str) -> bool {
    text.chars().all(|c| c == '_') || is_in(OMITTED, &plain(text))
}

/// Whether a mark says right (`Some(true)`) or wrong.
pub fn right_or_wrong(text: &str) -> Option<bool> {
    if is_among(RIGHT_SIGNS, text) {
        return Some(true);
    }
    if is_among(WRONG_SIGNS, text) {
        return Some(false);
    }
    let word = plain(text);
    if is_among(RIGHT_WORDS, &word) {
        Some(true)
    } else if is_among(WRONG_WORDS, &word) {
        Some(false)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn absent_is_a_word_and_a_is_not() {
        for word in ["Abs.", "n/a", "–", "EXC", "ausente", "Faltó", "Exento"] {
            assert!(is_not_taken(word), "{word}");
        }
        for word in ["A", "0", "B", "E", "12"] {
            assert!(!is_not_taken(word), "{word}");
        }
        assert!(is_omitted("Sin respuesta") && is_omitted("__") && !is_omitted("0"));
    }

    #[test]
    fn signs_of_right_and_wrong_are_known_in_several_scripts() {
        for text in ["✓", "☑", "〇", "Correcto", "верно", "صح", "对"] {
            assert_eq!(right_or_wrong(text), Some(true), "{text}");
        }
        for text in ["✗", "×", "incorrect", "нет", "خطأ", "错"] {
            assert_eq!(right_or_wrong(text), Some(false), "{text}");
        }
        for text in ["B", "○", "●"] {
            assert_eq!(right_or_wrong(text), None, "{text}");
        }
    }
}
