//! Rows that head a section: `Period 2`, `Room 5B`, `Ms. Tan`.
//!
//! In:  the text of a row that holds one cell. Out: whether it heads a section, and the class that it names for the rows below.
//! A lone name is a child who took nothing, not a section (`a_lone_name_is_a_child`). Keeps: `sections_are_known_by_their_words`,
//! `a_sentence_below_a_table_is_no_child`.
//! Not here: rows with marks (`collect`). Source: common practice, no source.

use super::words::{is_among, plain};

/// Words of sections: English, Spanish.
const WORDS: [&str; 2] = [
    "period class room homeroom section grade group block teacher hour table week unit page absent \
            students roster continued mr mrs ms mx miss dr morning afternoon advisory",
    "periodo clase salon aula seccion grado grupo bloque maestro maestra profesor profesora sr sra semana \
            unidad",
];

/// Words of what is no class: such a section fills nothing.
const NO_CLASS: &str = "page week unit semana unidad absent students continued table group grupo";

/// Longest name of a class.
const LONGEST: usize = 40;

/// Whether a row of one cell heads a section; `has_id_column` where the sheet has one.
pub fn is_section(name: &str, id: &str, has_id_column: bool) -> bool {
    if !id.is_empty() && id != name {
        // The cell stands in the id column: an id has a digit, and a section's words say so.
        return has_word(id) || !id.chars().any(|c| c.is_ascii_digit());
    }
    has_word(name) || is_class_code(name) || (has_id_column && name.contains(':'))
}

/// Words over what explains a table.
const LEGENDS: &str = "legend legends key notes note remarks comments leyenda notas nota observaciones clave";

/// Whether a row of one cell begins a legend.
pub fn is_legend(text: &str) -> bool {
    is_among(LEGENDS, &plain(text))
}

/// Whether a row of one cell is a sentence or an explanation, and no child: `abs = absent`, `Q3 was read aloud to all.`
pub fn is_sentence(text: &str) -> bool {
    let n_words = text.split_whitespace().count();
    text.contains('=') || n_words >= 9 || (n_words >= 4 && text.ends_with(['.', '!']))
}

/// The class that a section names.
pub fn section_text(text: &str) -> Option<String> {
    let text = text.trim().trim_end_matches(':').trim();
    let words: Vec<String> = words_of(text);
    let is_class = text.chars().count() <= LONGEST
        && (has_word(text) || is_class_code(text))
        && !words.iter().any(|w| is_among(NO_CLASS, w));
    is_class.then(|| text.to_owned())
}

fn words_of(text: &str) -> Vec<String> {
    text.split(|c: char| !c.is_alphanumeric()).map(plain).filter(|w| !w.is_empty()).collect()
}

fn has_word(text: &str) -> bool {
    words_of(text).iter().any(|w| WORDS.iter().any(|t| is_among(t, w)))
}

/// `5B`, `4-P`: a grade and letters.
fn is_class_code(text: &str) -> bool {
    let word = plain(text);
    let (grade, rest) = word.split_at(word.chars().take_while(char::is_ascii_digit).count());
    (1..=2).contains(&grade.len()) && (1..=2).contains(&rest.len()) && rest.chars().all(|c| c.is_ascii_lowercase())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sections_are_known_by_their_words() {
        for text in ["Period 2", "Room 5B", "Ms. Tan", "5B", "Grupo A", "Clase de la Sra. Luna"] {
            assert!(is_section(text, text, false), "{text}");
        }
        assert!(is_section("", "Period 2", true) && is_section("", "Blue", true));
        assert_eq!(section_text("Period 2:").as_deref(), Some("Period 2"));
        assert_eq!(section_text("Page 2"), None);
    }

    #[test]
    fn a_sentence_below_a_table_is_no_child() {
        for text in ["abs = absent", "Q3 was read aloud to everybody.", "one two three four five six seven eight nine"]
        {
            assert!(is_sentence(text), "{text}");
        }
        for name in ["Reko V.", "de la Cruz y Luna Jr., Ana María", "Legend", "Ms. Tan:"] {
            assert!(!is_sentence(name), "{name}");
        }
        assert!(is_legend("Legend:") && is_legend("Notas") && !is_legend("Noah"));
    }

    #[test]
    fn a_lone_name_is_a_child() {
        for name in ["Reko V.", "Luna, José", "Max"] {
            assert!(!is_section(name, name, false), "{name}");
        }
        assert!(!is_section("", "0417", true));
    }
}
