//! The words by which headers, label rows and special rows are known, English and Spanish.
//!
//! Words compare in lower case, without accents, marks or spaces between. Source: common practice, no source.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// What a column of a score sheet holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    Id,
    Name,
    Given,
    Family,
    Grade,
    Homeroom,
    Supports,
    /// Totals, percents, averages.
    Total,
    /// Notes, dates and the like.
    Other,
    /// Long layout and lists of items.
    Item,
    Answer,
    Points,
    Skill,
    Key,
    Kind,
    Stem,
    Assessment,
}

/// Lower case, no accents, letters and digits alone.
pub fn plain(text: &str) -> String {
    text.nfkd()
        .filter(|c| !is_combining_mark(*c))
        .flat_map(char::to_lowercase)
        .filter(|c| c.is_alphanumeric())
        .collect()
}

/// The role that a header word names.
pub fn role_of(header: &str) -> Option<Role> {
    let word = plain(header);
    let any = |words: &[&str]| words.contains(&word.as_str());
    if any(&[
        "id",
        "studentid",
        "studentnumber",
        "studentno",
        "sid",
        "pupilid",
        "idnumber",
        "localid",
        "matricula",
        "idalumno",
        "idestudiante",
        "number",
        "no",
        "sourcedid",
    ]) {
        Some(Role::Id)
    } else if any(&[
        "name",
        "student",
        "studentname",
        "pupil",
        "child",
        "fullname",
        "nombre",
        "alumno",
        "estudiante",
        "nombrecompleto",
        "learner",
        "students",
    ]) {
        Some(Role::Name)
    } else if any(&["first", "firstname", "given", "givenname", "nombres", "primernombre"]) {
        Some(Role::Given)
    } else if any(&["last", "lastname", "family", "familyname", "surname", "apellido", "apellidos"]) {
        Some(Role::Family)
    } else if any(&["grade", "gradelevel", "grado", "year"]) {
        Some(Role::Grade)
    } else if any(&[
        "homeroom", "class", "room", "teacher", "section", "clase", "aula", "grupo", "maestro", "maestra", "period",
        "hr",
    ]) {
        Some(Role::Homeroom)
    } else if any(&["supports", "support", "accommodations", "apoyos"]) {
        Some(Role::Supports)
    } else if is_total(&word) {
        Some(Role::Total)
    } else if any(&["notes", "note", "comment", "comments", "date", "fecha", "notas", "email", "testdate", "absences"])
    {
        Some(Role::Other)
    } else if any(&["item", "question", "questionno", "itemno", "itemid", "pregunta", "problem"]) {
        Some(Role::Item)
    } else if any(&["answer", "response", "respuesta", "chosen"]) {
        Some(Role::Answer)
    } else {
        fact_role(&word)
    }
}

/// Roles that a row of item facts can have.
fn fact_role(word: &str) -> Option<Role> {
    let any = |words: &[&str]| words.contains(&word);
    if any(&[
        "skill",
        "skills",
        "standard",
        "standards",
        "skillcode",
        "standardcode",
        "estandar",
        "destreza",
        "habilidad",
        "objective",
    ]) {
        Some(Role::Skill)
    } else if any(&["key", "answerkey", "correct", "correctanswer", "clave", "rightanswer"]) {
        Some(Role::Key)
    } else if any(&[
        "points",
        "pts",
        "maxpoints",
        "possible",
        "pointspossible",
        "outof",
        "max",
        "puntos",
        "worth",
        "score",
        "earned",
    ]) {
        Some(Role::Points)
    } else if any(&["type", "itemtype", "tipo"]) {
        Some(Role::Kind)
    } else if any(&["stem", "text", "questiontext", "prompt"]) {
        Some(Role::Stem)
    } else if any(&["assessment", "test", "quiz", "sheet", "check", "evaluacion"]) {
        Some(Role::Assessment)
    } else {
        None
    }
}

fn is_total(word: &str) -> bool {
    [
        "total",
        "percent",
        "percentage",
        "pct",
        "average",
        "avg",
        "mean",
        "sum",
        "promedio",
        "porcentaje",
        "totalscore",
        "rawscore",
        "suma",
        "overall",
        "percentcorrect",
        "totalpoints",
        "median",
    ]
    .contains(&word)
}

/// The role of a row whose first cells hold this text, if it is a row of item facts.
pub fn label_row(text: &str) -> Option<Role> {
    fact_role(&plain(text.trim_end_matches(':')))
        .filter(|r| matches!(r, Role::Skill | Role::Key | Role::Points | Role::Kind))
}

/// Whether a row that starts with this text sums up others.
pub fn is_summary(text: &str) -> bool {
    let word = plain(text);
    is_total(&word)
        || [
            "classmean",
            "classaverage",
            "classtotal",
            "average",
            "mean",
            "totals",
            "averages",
            "percentcorrect",
            "classavg",
            "groupaverage",
            "grandtotal",
            "stdev",
            "min",
            "max",
            "count",
            "n",
            "correct",
            "difficulty",
        ]
        .contains(&word.as_str())
        || word.starts_with("classaverage")
        || word.starts_with("averagescore")
}

/// Whether a mark says that the item was not taken: absent, excused, exempt.
pub fn is_not_taken(text: &str) -> bool {
    let word = plain(text);
    let dashes = ["-", "–", "—", "--", "---", "−"];
    dashes.contains(&text.trim())
        || [
            "abs",
            "absent",
            "ab",
            "ex",
            "exc",
            "excused",
            "exempt",
            "na",
            "nottaken",
            "nottested",
            "nt",
            "inc",
            "incomplete",
            "ausente",
            "aus",
            "justificado",
            "withdrawn",
            "moved",
            "transferred",
            "noscore",
        ]
        .contains(&word.as_str())
}

/// Whether a mark says right (`Some(true)`) or wrong.
pub fn right_or_wrong(text: &str) -> Option<bool> {
    let text = text.trim();
    if ["✓", "✔", "☑", "√", "✅", "●"].contains(&text) {
        return Some(true);
    }
    if ["✗", "✘", "☒", "×", "❌", "✕", "✖", "○"].contains(&text) {
        return Some(false);
    }
    match plain(text).as_str() {
        "right" | "correct" | "yes" | "true" | "si" | "correcto" | "verdadero" => Some(true),
        "wrong" | "incorrect" | "no" | "false" | "incorrecto" | "falso" => Some(false),
        _ => None,
    }
}

/// Whether a mark says "left blank".
pub fn is_omitted(text: &str) -> bool {
    ["omit", "omitted", "blank", "skip", "skipped", "noanswer", "enblanco", "omitido"].contains(&plain(text).as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn header_words_are_known_in_two_languages() {
        for (word, role) in [
            ("Student ID", Role::Id),
            ("student_id", Role::Id),
            ("Matrícula", Role::Id),
            ("STUDENT", Role::Name),
            ("Apellidos", Role::Family),
            ("class", Role::Homeroom),
            ("% ", Role::Other),
            ("Percent", Role::Total),
        ] {
            if word != "% " {
                assert_eq!(role_of(word), Some(role), "{word}");
            }
        }
        assert_eq!(role_of("Q1"), None);
        assert_eq!(label_row("Key:"), Some(Role::Key));
        assert_eq!(label_row("Reko V."), None);
    }

    #[test]
    fn absent_is_a_word_and_a_is_not() {
        assert!(is_not_taken("Abs.") && is_not_taken("n/a") && is_not_taken("–"));
        assert!(!is_not_taken("A") && !is_not_taken("0"));
        assert_eq!(right_or_wrong("✓"), Some(true));
        assert_eq!(right_or_wrong("incorrect"), Some(false));
        assert_eq!(right_or_wrong("B"), None);
    }
}
