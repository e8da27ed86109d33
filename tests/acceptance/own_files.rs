//! A school's own item models and wrong ideas beside those that are built in, from the command line.
//!
//! In:  a file of models, one of them with a fault, and a list of ideas. Out: items of the sound model, the idea in the key, a sentence
//! with file and line for what is left out, and a plan all the same. Not here: rules for models (`sheaf-core`).

use crate::command::{root, sheaf};

const IDEAS: &str =
    "code,skills,idea,look_for,source\nour-idea,4.NF.A.1,counts lines for spaces,5 lines read as fifths,ours\n";
const MODELS: &str = r#"
[[model]]
slug = "our-lines"
version = 1
skill = "4.NF.A.1"
type = "numeric"
stem = "A ribbon of {a}/2 m is marked in fourths. {a}/2 = ▢/4. What belongs in the box?"
params = { a = "1..9" }
key = { value = "2*a" }
wrong = [{ value = "2*a + 1", pattern = "our-idea" }]
easier = "a number up to 3"
harder = "a number from 7"

[[model]]
slug = "our-slip"
version = 1
skill = "4.NF.A.1"
type = "numeric"
stem = "{a} + {b} = ?"
params = { a = "1..9" }
key = { value = "2*a" }
wrong = []
easier = "small"
harder = "large"
"#;

#[test]
fn own_models_and_ideas_count_and_a_faulty_one_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let (models, ideas) = (write("own.toml", MODELS), write("ideas.csv", IDEAS));
    let own = ["--own", &models, "--own", &ideas];
    let tickets = sheaf(["tickets", "--skill", "4.NF.A.1", "--count", "12", "--format", "html"].iter().chain(&own));
    assert_eq!(tickets.code, 0, "{}", tickets.err);
    let page = String::from_utf8(tickets.out).unwrap();
    assert!(page.contains("A ribbon of") && page.contains("counts lines for spaces"));
    let slip = tickets.err.lines().find(|l| l.contains("our-slip")).unwrap_or_default();
    assert!(slip.trim().starts_with("own.toml, line 19: model our-slip is left out, because"), "{}", tickets.err);
    let quiz = root().join("fixtures/schools/quillmere/week1_quiz.xlsx");
    let plan = sheaf(["plan", quiz.to_str().unwrap()].iter().chain(&own));
    assert_eq!(plan.code, 0, "{}", plan.err);
    assert!(plan.err.contains("our-slip"), "{}", plan.err);
    let odd = sheaf(["tickets", "--skill", "4.NF.A.1", "--own", quiz.to_str().unwrap()]);
    assert_eq!(odd.code, 3, "{}", odd.err);
}
