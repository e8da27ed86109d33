//! Exit-ticket items by themselves: drawn for a skill, and a file of item models put to the test.
//!
//! In:  a skill or all of them, a count, a form, a seed. Out: items numbered from 1, the same for the same input.
//! Keeps: forms have the same models in the same order and numbers of their own (`forms_differ_in_their_numbers`).
//! Not here: tickets of a group (`sheaf_core::plan`), how items look (`cli`, `sheaf-web`).

use crate::error::{AppError, ErrorKind};
use crate::knowledge::Knowledge;
use sheaf_core::skills::SkillCode;
use sheaf_core::tickets::{ModelLibrary, TicketGap, TicketItem, sample_items};
use std::collections::BTreeSet;

/// Draws tried of each model of a file.
const TRIED_DRAWS: u64 = 200;
/// Keeps the seeds of two forms apart.
const BETWEEN_FORMS: u64 = 0x9E37_79B9_7F4A_7C15;

/// Whose items.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SkillChoice {
    /// One skill's.
    One(SkillCode),
    /// Those of every skill that has an item model.
    Covered,
}

/// A form of a ticket: `A` to `Z`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Form(char);

impl Form {
    /// Reads one letter, any case.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let mut letters = text.trim().chars();
        let letter = letters.next()?.to_ascii_uppercase();
        (letters.next().is_none() && letter.is_ascii_uppercase()).then_some(Form(letter))
    }

    /// `A` to `Z`.
    #[must_use]
    pub fn letter(self) -> char {
        self.0
    }

    /// Form A draws with the seed itself.
    fn seed(self, seed: u64) -> u64 {
        let place = u64::from(u32::from(self.0) - u32::from('A'));
        seed.wrapping_add(place.wrapping_mul(BETWEEN_FORMS))
    }
}

/// Draws items, `count` a skill, numbered through.
///
/// # Errors
/// [`AppError`] of kind not found where no item model asks for the skill.
pub fn draw_items(
    knowledge: &Knowledge,
    choice: &SkillChoice,
    count: usize,
    form: Form,
    seed: u64,
) -> Result<Vec<TicketItem>, AppError> {
    let library = &knowledge.item_models;
    let skills = match choice {
        SkillChoice::One(skill) => vec![knowledge.graph.resolve(skill)],
        SkillChoice::Covered => library.covered_skills().into_iter().collect(),
    };
    let mut items = Vec::new();
    for skill in &skills {
        items.extend(sample_items(library, skill, count, form.seed(seed)).map_err(|gap| not_covered(&gap))?);
    }
    items.iter_mut().enumerate().for_each(|(at, item)| item.number = at + 1);
    Ok(items)
}

fn not_covered(gap: &TicketGap) -> AppError {
    AppError::new(ErrorKind::NotFound, "no-item-model", format!("There are no such items: {gap}."))
}

/// What became of a file of item models.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ModelCheck {
    /// Models that are well.
    pub n_sound: usize,
    /// A sentence for each fault, with its line.
    pub faults: Vec<String>,
}

/// Compiles a file of item models, looks for wrong ideas and skills that are not known, and draws from each.
///
/// # Errors
/// [`AppError`] of kind input where the file has no item model at all.
pub fn check_models(knowledge: &Knowledge, file: &str, text: &str) -> Result<ModelCheck, AppError> {
    let (library, mut faults) = ModelLibrary::parse(&[(file, text)]);
    let n_compiled = library.iter().count();
    if n_compiled == 0 && faults.is_empty() {
        let what = format!("{file} has no item model; each begins with [[model]].");
        return Err(AppError::new(ErrorKind::Input, "no-item-model", what));
    }
    let mut unsound = library.unknown_names(&knowledge.catalogue, &knowledge.graph);
    unsound.extend(library.try_draws(TRIED_DRAWS));
    let slugs: BTreeSet<&Option<String>> = unsound.iter().map(|fault| &fault.slug).collect();
    let n_sound = n_compiled - slugs.len().min(n_compiled);
    faults.extend(unsound);
    Ok(ModelCheck { n_sound, faults: faults.iter().map(ToString::to_string).collect() })
}

#[cfg(test)]
mod tests {
    use super::*;

    const SCALING: &str = include_str!("../../../config/item_models/g5_scaling.toml");

    fn draw(skill: &str, form: &str) -> Result<Vec<TicketItem>, AppError> {
        let knowledge = Knowledge::builtin().unwrap();
        let choice = SkillChoice::One(SkillCode::parse(skill).unwrap());
        draw_items(&knowledge, &choice, 3, Form::parse(form).unwrap(), 1)
    }

    #[test]
    fn the_same_seed_and_form_give_the_same_items() {
        assert_eq!(draw("5.NF.B.5a", "A").unwrap(), draw("5.nf.5a", "a").unwrap());
    }

    #[test]
    fn forms_differ_in_their_numbers() {
        let (a, b) = (draw("5.NF.B.5a", "A").unwrap(), draw("5.NF.B.5a", "B").unwrap());
        let models = |items: &[TicketItem]| items.iter().map(|i| i.model.clone()).collect::<Vec<_>>();
        assert_eq!(models(&a), models(&b));
        assert!(a.iter().zip(&b).any(|(a, b)| a.params != b.params));
    }

    #[test]
    fn every_covered_skill_gives_its_count_and_numbers_run_through() {
        let knowledge = Knowledge::builtin().unwrap();
        let items = draw_items(&knowledge, &SkillChoice::Covered, 2, Form('A'), 1).unwrap();
        assert_eq!(items.len(), 2 * knowledge.item_models.covered_skills().len());
        assert!(items.iter().enumerate().all(|(at, item)| item.number == at + 1));
    }

    #[test]
    fn a_skill_without_a_model_is_not_found() {
        let error = draw("9.XX.1", "A").unwrap_err();
        assert_eq!((error.kind, error.code), (ErrorKind::NotFound, "no-item-model"));
        assert!(error.message.contains("9.XX.1"), "{}", error.message);
    }

    #[test]
    fn a_form_is_one_letter() {
        for text in ["", "AB", "1", "é"] {
            assert_eq!(Form::parse(text), None, "{text}");
        }
        assert_eq!(Form::parse(" b").map(Form::letter), Some('B'));
    }

    #[test]
    fn faults_of_models_have_their_line() {
        let knowledge = Knowledge::builtin().unwrap();
        let sound = check_models(&knowledge, "g5_scaling.toml", SCALING).unwrap();
        assert!(sound.n_sound > 5 && sound.faults.is_empty(), "{:?}", sound.faults);
        let broken = SCALING.replacen("slug", "slog", 1);
        let checked = check_models(&knowledge, "mine.toml", &broken).unwrap();
        assert_eq!((checked.n_sound, checked.faults.len()), (sound.n_sound - 1, 1));
        assert!(checked.faults[0].starts_with("mine.toml, line "), "{:?}", checked.faults);
        let unknown = SCALING.replacen("scale-always-bigger", "no-such-idea", 1);
        let checked = check_models(&knowledge, "mine.toml", &unknown).unwrap();
        assert_eq!((checked.n_sound, checked.faults.len()), (sound.n_sound - 1, 1));
        assert!(checked.faults[0].contains("`no-such-idea` is not in the list"), "{:?}", checked.faults);
        assert_eq!(check_models(&knowledge, "empty.toml", "").unwrap_err().kind, ErrorKind::Input);
    }

    const OWN: &str = r#"
[[model]]
slug = "own"
version = 1
skill = "3.OA.C.7"
type = "choice"
stem = "{a} × 7 = ?"
params = { a = "2..9" }
where = ["a != 7"]
key = { value = "a*7" }
wrong = [
  { value = "a+7", pattern = "mul-as-add" },
  { value = "a*6", pattern = "mul-one-group-short" },
  { value = "a*8", pattern = "mul-one-group-over" },
]
easier = "small"
harder = "large"
"#;

    #[test]
    fn a_mistake_of_each_kind_is_one_sentence_with_file_and_line_and_costs_its_model_alone() {
        let knowledge = Knowledge::builtin().unwrap();
        let n_sound = check_models(&knowledge, "own.toml", SCALING).unwrap().n_sound;
        assert_eq!(check_models(&knowledge, "own.toml", &format!("{SCALING}{OWN}")).unwrap().n_sound, n_sound + 1);
        let endless = format!("{} > 1000", ["len(nfac(9973))"; 50].join(" + "));
        let first_line = SCALING.lines().count() + 2;
        for (right, mistake, line, says) in [
            ("\"mul-as-add\"", "\"no-such-idea\"", 0, "`no-such-idea` is not in the list of wrong ideas"),
            ("\"3.OA.C.7\"", "\"3.OA.C.99\"", 0, "the skill 3.OA.C.99 is not in the list of skills"),
            ("\"a*6\"", "\"a * 7\"", 11, "a wrong option is written as the key"),
            ("a != 7", "a > 9", 0, "none of 4000 draws"),
            ("\"a*8\"", "\"a*7 + 0\"", 0, "none of 4000 draws"),
            ("\"a*8\"", "\"a*(8\"", 12, "is missing before the end"),
            ("\"2..9\"", "\"9..2\"", 6, "the span 9..2 is empty"),
            ("a != 7", "len(nfac(a + 10**9)) > 0", 0, "too large"),
            ("a != 7", endless.as_str(), 0, "a formula takes too many steps"),
            ("a != 7", "len(repeat('a', 10**9, ',')) > 0", 0, "too large"),
            ("a*8", "(a+10)**40", 0, "a power must be a whole number from 0 to 18"),
            ("\"small\"", "\"small\"\neasier_where = [\"a < 2\"]", 0, "of its easier items, none of 4000 draws"),
            ("\"small\"", "\"small\"\neasier_where = [\"a < 99\"]", 0, "easier items hold for all of them"),
            (
                "\"large\"",
                "\"large\"\neasier_where = [\"a < 6\"]\nharder_where = [\"a > 4\"]",
                0,
                "easier and harder at once",
            ),
            ("\"large\"", "\"large\"\nharder_where = [\"k > 4\"]", 16, "`k` is not a parameter"),
        ] {
            let text = format!("{SCALING}{}", OWN.replacen(right, mistake, 1));
            let checked = check_models(&knowledge, "own.toml", &text).unwrap();
            assert_eq!((checked.n_sound, checked.faults.len()), (n_sound, 1), "{mistake}: {:?}", checked.faults);
            let place = format!("own.toml, line {}: model own is left out", first_line + line);
            assert!(checked.faults[0].starts_with(&place) && checked.faults[0].contains(says), "{:?}", checked.faults);
        }
    }
}
