//! Skill codes in cells: several in one, and spellings that no known skill has.
//!
//! In:  a cell's text. Out: codes; and for a code that is not known but nearly is (`5.NFB.5`, `5.0A.A.1`), a suggestion, never a change.
//! Keeps: `a_misspelt_code_is_offered_and_not_changed`, `other_skills_are_left_alone`.
//! Not here: the normal form of a code (`sheaf_core::skills`).

use super::notes::Notes;
use sheaf_core::skills::{SkillCode, SkillGraph};
use std::collections::HashSet;

/// Codes of a cell: separated by `;`, ` + `, `|`, a line break, or `,`.
pub fn skill_codes(text: &str, graph: &SkillGraph) -> Vec<SkillCode> {
    let mut codes: Vec<SkillCode> = text
        .split([';', '|', '\n', ','])
        .flat_map(|part| part.split(" + "))
        .filter_map(SkillCode::parse)
        .map(|code| graph.resolve(&code))
        .collect();
    let mut seen = HashSet::new();
    codes.retain(|c| seen.insert(c.clone()));
    codes
}

/// Offers the known skill that an unknown code may mean.
pub fn tell_typos(codes: &[SkillCode], graph: &SkillGraph, at: (u32, u32), notes: &mut Notes<'_>) {
    for code in codes.iter().filter(|c| graph.get(c).is_none()) {
        if let Some(near) = near(code, graph) {
            let message = format!("{code} is no known skill; perhaps {near} is meant.");
            let place = notes.place(at.0, at.1);
            notes.warn("skill-code-unknown", place, message, "kept as it is; correct the cell if so");
        }
    }
}

/// The one known code with the same letters and digits, where zero may stand for O.
fn near(code: &SkillCode, graph: &SkillGraph) -> Option<SkillCode> {
    let wanted = bare(code.as_str());
    if wanted.len() < 4 || !wanted.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let same: Vec<&SkillCode> = graph.iter().map(|s| &s.code).filter(|c| bare(c.as_str()) == wanted).collect();
    if let [only] = same[..] {
        return Some(only.clone());
    }
    let close: Vec<&SkillCode> =
        graph.iter().map(|s| &s.code).filter(|c| is_one_apart(&bare(c.as_str()), &wanted)).collect();
    if let [only] = close[..] { Some(only.clone()) } else { None }
}

fn bare(code: &str) -> String {
    let upper: String = code.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_uppercase).collect();
    let mut chars = upper.chars();
    let first: String = chars.next().into_iter().collect();
    // Behind the grade come letters: a zero there is an O.
    let n_domain = 2;
    let rest: String = chars.enumerate().map(|(i, c)| if i < n_domain && c == '0' { 'O' } else { c }).collect();
    first + &rest
}

/// One letter more, one less, or two neighbours in the other order.
fn is_one_apart(a: &str, b: &str) -> bool {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let (short, long) = if a.len() < b.len() { (&a, &b) } else { (&b, &a) };
    let same = short.iter().zip(long.iter()).take_while(|(x, y)| x == y).count();
    match long.len() - short.len() {
        1 => short[same..] == long[same + 1..],
        0 if same + 1 < short.len() => {
            short[same] == long[same + 1] && short[same + 1] == long[same] && short[same + 2..] == long[same + 2..]
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(code: &str) -> Vec<String> {
        let graph = SkillGraph::builtin().unwrap();
        let mut notes = Notes::new("f.csv", "");
        tell_typos(&skill_codes(code, &graph), &graph, (1, 3), &mut notes);
        notes.into_findings().into_iter().map(|f| format!("{} {}: {}", f.code, f.cell, f.message)).collect()
    }

    #[test]
    fn a_misspelt_code_is_offered_and_not_changed() {
        for (code, meant) in [("5.NFB.5", "5.NF.B.5"), ("5.0A.A.1", "5.OA.A.1"), ("4.FN.A.1", "4.NF.A.1")] {
            let told = told(code);
            assert_eq!(told.len(), 1, "{code}: {told:?}");
            assert!(told[0].starts_with("skill-code-unknown D2") && told[0].contains(meant), "{told:?}");
        }
    }

    #[test]
    fn other_skills_are_left_alone() {
        for code in ["Place value", "5.NF.5", "4.NF.A.1", "B1", "Unit 3"] {
            assert!(told(code).is_empty(), "{code}");
        }
    }
}
