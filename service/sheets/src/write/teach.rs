//! A short shape of a session for a group card: show, together, alone, one question.
//!
//! In:  a skill code. Out: fixed sentences chosen by the domain letters of a standard's code; other codes get the
//! general ones (`an_unknown_code_gets_the_general_shape`). Common practice of small-group teaching (clear modelling,
//! practice with help, practice alone, a drawing that carries the idea), written for this project; no source is claimed.
//! Not here: tasks for a skill (tickets), which skill is taught (the plan).

use sheaf_core::skills::SkillCode;

/// The parts of a session.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct SessionShape {
    /// The adult shows.
    pub show: String,
    /// Everybody works with help.
    pub together: String,
    /// Each child works alone.
    pub alone: &'static str,
    /// One question to keep asking.
    pub ask: &'static str,
}

/// The shape for a skill.
pub(super) fn session_shape(code: &SkillCode) -> SessionShape {
    let drawing = drawing(code);
    SessionShape {
        show: format!("Solve one problem aloud. Draw {drawing} and say why each step is right."),
        together: format!(
            "Solve two more as a group: one child draws, one explains, all check. Keep {drawing} in sight."
        ),
        alone: "One problem each, without help. Watch first, then ask. Then the ticket.",
        ask: question(code),
    }
}

/// A drawing that carries the idea.
fn drawing(code: &SkillCode) -> &'static str {
    match domain(code) {
        "NF" => "a number line from 0 past 1",
        "OA" => "equal groups or an array",
        "NBT" => "place-value blocks or a number line",
        "MD" => "a ruler, a clock or a grid of squares, whichever fits",
        "G" => "the shape, with its sides and corners marked",
        _ => "a picture of the quantities",
    }
}

fn question(code: &SkillCode) -> &'static str {
    match domain(code) {
        "NF" => "How do you know? Could you tell, before working it out, whether it is more or less than 1?",
        "OA" => "How do you know? What does each number stand for in the story?",
        "NBT" => "How do you know? About how large must the answer be?",
        "MD" => "How do you know? What is one unit here?",
        "G" => "How do you know? What makes it one, and what does not matter?",
        _ => "How do you know?",
    }
}

/// The domain letters of a standard's code: `NF` of `5.NF.B.5a`; empty for other codes.
fn domain(code: &SkillCode) -> &str {
    if code.grade().is_none() {
        return "";
    }
    code.as_str().split('.').nth(1).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shape(code: &str) -> SessionShape {
        session_shape(&SkillCode::parse(code).unwrap())
    }

    #[test]
    fn fractions_get_a_number_line() {
        assert!(shape("5.NF.B.5a").show.contains("number line from 0 past 1"));
        assert!(shape("3.OA.A.3").together.contains("array"));
    }

    #[test]
    fn an_unknown_code_gets_the_general_shape() {
        assert!(shape("B1").show.contains("a picture of the quantities"));
        assert_eq!(shape("B1").ask, "How do you know?");
    }
}
