//! The shipped models, and what is said of faulty ones.
//! Codes and skills of shipped models must be known to the lists that are shipped beside them.

use super::*;
use crate::profile::ErrorCatalogue;
use crate::scores::ItemKind;
use crate::skills::{SkillCode, SkillGraph};

const GOOD: &str = r#"
[[model]]
slug = "sum"
version = 1
skill = "3.OA.C.7"
type = "choice"
stem = "{a} + {b} = ?"
params = { a = "2..9", b = "{2, 3}" }
key = { value = "a+b" }
wrong = [
  { value = "a*b+1", pattern = "one" },
  { value = "a+b+1", pattern = "two" },
  { value = "a+b+10", pattern = "three" },
]
easier = "small"
harder = "large"
"#;

fn faults(text: &str) -> Vec<String> {
    ModelLibrary::parse(&[("own.toml", text)]).1.iter().map(ToString::to_string).collect()
}

#[test]
fn every_shipped_model_compiles() {
    let (library, faults) = ModelLibrary::parse(super::library::SHIPPED);
    assert_eq!(faults, Vec::new());
    let slugs = |library: &ModelLibrary| library.iter().map(|m| m.slug().to_owned()).collect::<Vec<_>>();
    assert_eq!(slugs(&ModelLibrary::builtin()), slugs(&library));
    assert_eq!(ModelLibrary::builtin().coverage(), library.coverage());
    assert!(library.iter().count() >= 100);
    for kind in ItemKind::ALL {
        assert!(library.iter().any(|m| m.kind() == kind), "{kind:?}");
    }
}

#[test]
fn every_code_and_skill_of_a_shipped_model_is_known() {
    let catalogue = ErrorCatalogue::builtin().unwrap();
    let graph = SkillGraph::builtin().unwrap();
    for model in ModelLibrary::builtin().iter() {
        assert!(graph.get(model.skill()).is_some(), "{} of {}", model.skill(), model.slug());
        for code in model.patterns() {
            assert!(catalogue.get(code).is_some(), "{code} of {}", model.slug());
        }
    }
}

/// Standards that take most of the weeks of a year in grades 3 to 5; common practice, no source.
const MOST_TAUGHT: [&str; 20] = [
    "3.OA.A.3",
    "3.OA.C.7",
    "3.OA.D.8",
    "3.NBT.A.2",
    "3.NF.A.1",
    "3.NF.A.3d",
    "3.MD.C.7b",
    "4.OA.A.3",
    "4.NBT.B.4",
    "4.NBT.B.5",
    "4.NBT.B.6",
    "4.NF.A.1",
    "4.NF.A.2",
    "4.NF.B.3c",
    "5.NBT.B.5",
    "5.NBT.B.6",
    "5.NBT.B.7",
    "5.NF.A.1",
    "5.NF.B.4a",
    "5.NF.B.5a",
];

#[test]
fn the_most_taught_standards_have_four_models_and_every_other_two() {
    let (n_models, graph) = (ModelLibrary::builtin().coverage(), SkillGraph::builtin().unwrap());
    let n_of = |code: &SkillCode| n_models.get(code).copied().unwrap_or(0);
    let code = |text: &str| SkillCode::parse(text).unwrap();
    let is_whole = |skill: &SkillCode| graph.get(&code(&format!("{skill}a"))).is_some();
    let asked: Vec<&SkillCode> =
        graph.iter().filter(|s| s.grade >= 3).map(|s| &s.code).filter(|c| !is_whole(c)).collect();
    assert_eq!(asked.len(), 101, "66 standards without letters and 35 lettered parts");
    for skill in asked {
        assert!(n_of(skill) >= 2, "{skill} has {} models", n_of(skill));
    }
    for skill in MOST_TAUGHT {
        assert!(n_of(&code(skill)) >= 4, "{skill} has {} models", n_of(&code(skill)));
    }
}

#[test]
fn a_standard_with_lettered_parts_has_the_models_of_its_parts() {
    let library = ModelLibrary::builtin();
    let n_models = |skill: &str| library.models_for(&SkillCode::parse(skill).unwrap()).len();
    assert_eq!(n_models("5.NF.B.5"), n_models("5.NF.B.5a") + n_models("5.NF.B.5b"));
    assert_eq!(n_models("5.NF.B"), 0);
}

#[test]
fn a_faulty_model_is_told_by_line_and_the_others_load() {
    let broken = GOOD.replace("sum", "broken").replace("a*b+1", "a*z+1");
    let text = format!("{broken}{GOOD}");
    let (library, faults) = ModelLibrary::parse(&[("own.toml", &text)]);
    assert_eq!(library.iter().map(ItemModel::slug).collect::<Vec<_>>(), ["sum"]);
    assert_eq!(
        faults[0].to_string(),
        "own.toml, line 11: model broken is left out, because `z` is not a parameter; known are a, b."
    );
}

#[test]
fn each_kind_of_slip_has_its_line_and_sentence() {
    let told = |from: &str, to: &str| faults(&GOOD.replace(from, to)).join(" ");
    assert!(told("type = \"choice\"", "type = \"quiz\"").starts_with("own.toml, line 6: model sum"));
    assert!(
        told("a = \"2..9\"", "a = \"9..2\"").contains("line 8: model sum is left out, because the span 9..2 is empty")
    );
    assert!(told("{a} + {b}", "{a + {b}").contains("line 7"));
    assert!(told("version = 1", "version = one").contains("line 4"));
    assert!(told("easier", "simpler").contains("unknown field `simpler`"));
    assert!(
        told(", pattern = \"two\"", "")
            .contains("line 12: model sum is left out, because a wrong option needs a `pattern`")
    );
    assert!(told("  { value = \"a+b+1\", pattern = \"two\" },\n", "").contains("three `wrong` options"));
    assert!(told("\n[[model]]", "name = 1\n[[model]]").contains("line 1: text before the first"));
    assert!(told("value = \"a+b\"", "value = \"a+b\", text = \"t\"").contains("either a `value`"));
}

#[test]
fn a_second_model_of_a_name_is_told() {
    let faults = faults(&format!("{GOOD}{GOOD}"));
    assert_eq!(faults.len(), 1);
    assert!(faults[0].contains("own.toml, line 2, has a model of that name already"), "{}", faults[0]);
}

#[test]
fn a_model_that_gives_no_item_is_told_by_trying() {
    let none = GOOD.replace("key = ", "where = [\"a > 20\"]\nkey = ");
    let (library, faults) = ModelLibrary::parse(&[("own.toml", &none)]);
    assert!(faults.is_empty());
    let tried = library.try_draws(3);
    assert_eq!(tried.len(), 1);
    assert!(tried[0].to_string().contains("draws kept its conditions"), "{}", tried[0]);
    assert_eq!(ModelLibrary::parse(&[("own.toml", GOOD)]).0.try_draws(20), Vec::new());
}
