//! The words by which headings and rows are known, English and Spanish.
//!
//! Words compare in lower case, without accents, marks or spaces between. In: a heading or the first text of a row. Out: its role.
//! A heading that only numbers rows (`No.`) is an id where nothing better stands beside it (`is_weak_id`).
//! Keeps: `header_words_are_known_in_two_languages`, `a_total_is_known_by_one_of_its_words`.
//! Not here: words of marks (`mark_words`), labels of items (`labels`). Source: common practice, no source.

use std::collections::{HashMap, HashSet};
use std::sync::LazyLock;
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

impl Role {
    /// Whether a row with something in such a column may be a student's.
    pub fn names_a_student(self) -> bool {
        matches!(self, Role::Id | Role::Name | Role::Given | Role::Family)
    }

    /// Whether the column describes the student rather than an answer.
    pub fn is_of_a_student(self) -> bool {
        self.names_a_student() || matches!(self, Role::Grade | Role::Homeroom | Role::Supports)
    }
}

/// Headings of a role: English words, Spanish words, with a space between.
type Heading = (Role, &'static str, &'static str);

/// Headings of columns, in plain letters.
const HEADINGS: &[Heading] = &[
    (
        Role::Id,
        "id studentid studentnumber studentno sid pupilid pupilnumber idnumber idno localid schoolid \
            districtid learnerid sourcedid studentcode number no num nr",
        "matricula idalumno idestudiante iddelalumno iddelestudiante numero expediente codigo \
            codigoestudiante",
    ),
    (
        Role::Name,
        "name names student students studentname studentsname nameofstudent pupil pupils pupilname child \
            childname fullname learner learnername scholar lastfirst lastnamefirstname firstandlastname \
            namelastfirst",
        "nombre alumno alumna alumnos estudiante estudiantes nombrecompleto nombreyapellido nombreyapellidos \
            apellidosynombre apellidosynombres nombredelalumno nombredelestudiante nino",
    ),
    (Role::Given, "first firstname given givenname givennames forename fname", "nombres primernombre nombredepila"),
    (Role::Family, "last lastname family familyname surname lname", "apellido apellidos primerapellido"),
    (Role::Grade, "grade gradelevel gr year yeargroup", "grado curso nivel"),
    (
        Role::Homeroom,
        "homeroom class classroom room teacher section period hr block homeroomteacher classname classperiod",
        "clase aula salon grupo maestro maestra profesor profesora docente seccion periodo",
    ),
    (Role::Supports, "supports support accommodations", "apoyos apoyo adaptaciones"),
    (
        Role::Other,
        "notes note comment comments remarks date testdate datetaken email absences gender sex dob birthdate \
            dateofbirth birthday ell el iep ethnicity language phone parent guardian seat duration minutes \
            starttime endtime submitted timestamp group groupname formcode form status level band rank \
            percentile initials username",
        "notas comentario comentarios observaciones fecha correo sexo genero nacimiento fechadenacimiento \
            idioma telefono",
    ),
    (
        Role::Item,
        "item items question questions questionno questionnumber itemno itemnumber itemid problem problems \
            itemname",
        "pregunta preguntas reactivo reactivos ejercicio problema",
    ),
    (
        Role::Answer,
        "answer answers response responses chosen studentanswer studentresponse choice selected",
        "respuesta respuestas eleccion",
    ),
];

/// Words of item facts, as headings of columns and as labels of rows.
const FACTS: &[Heading] = &[
    (
        Role::Skill,
        "skill skills standard standards skillcode standardcode objective target ccss",
        "estandar estandares destreza destrezas habilidad habilidades objetivo",
    ),
    (
        Role::Key,
        "key answerkey correct correctanswer correctresponse rightanswer",
        "clave respuestacorrecta correcta clavederespuestas",
    ),
    (
        Role::Points,
        "points pts maxpoints maximumpoints possible pointspossible possiblepoints outof max maximum maxscore \
            worth score earned pointsearned pointvalue",
        "puntos puntaje puntosposibles puntajemaximo maximo valor sobre",
    ),
    (Role::Kind, "type itemtype questiontype", "tipo"),
    (Role::Stem, "stem text questiontext prompt", "enunciado"),
    (Role::Assessment, "assessment test quiz sheet check", "evaluacion examen prueba"),
];

/// Words of sums, percents and averages; one of them in a heading is enough.
const TOTALS: &str = "total totals subtotal percent percentage pct average averages avg mean sum overall median promedio \
            promedios porcentaje suma media totales rawscore totalscore totalpoints percentcorrect";

/// What a percent sign beside is a percent of; `Unit 3 %` alone may be an item.
const COUNTED: &str =
    "correct right score scores points pts mastery mastered correctas correctos aciertos puntos final class";

/// Words of rows that sum up a class.
const SUMMARIES: &str = "classmean classaverage classtotal classavg groupaverage grandtotal gradeaverage schoolaverage stdev \
            standarddeviation difficulty promediodelaclase promediodelgrupo classmedian numbercorrect \
            itemaverage minimum maximum numcorrect correctcount";

/// Summaries that may also be a child's name or mean nothing: they count where the row has no id.
const WEAK_SUMMARIES: &str = "min max count n correct mean sum moda mode";

/// Lower case, no accents, letters and digits alone.
pub fn plain(text: &str) -> String {
    if text.is_ascii() {
        return text.chars().filter(char::is_ascii_alphanumeric).map(|c| c.to_ascii_lowercase()).collect();
    }
    text.nfkd()
        .filter(|c| !is_combining_mark(*c))
        .flat_map(char::to_lowercase)
        .filter(|c| c.is_alphanumeric())
        .collect()
}

/// Whether a list of words has this one.
pub fn is_among(list: &str, word: &str) -> bool {
    !word.is_empty() && list.split_ascii_whitespace().any(|w| w == word)
}

/// Every word of a table with its role; of a word that stands twice the first counts.
fn by_word(table: &[Heading]) -> HashMap<&'static str, Role> {
    let mut roles = HashMap::new();
    for (role, english, spanish) in table {
        for word in english.split_ascii_whitespace().chain(spanish.split_ascii_whitespace()) {
            roles.entry(word).or_insert(*role);
        }
    }
    roles
}

// A sheet has thousands of cells that may be headings; going through the lists for each costs more than all the rest of reading.
static ROLE_OF_HEADING: LazyLock<HashMap<&'static str, Role>> = LazyLock::new(|| by_word(HEADINGS));
static ROLE_OF_FACT: LazyLock<HashMap<&'static str, Role>> = LazyLock::new(|| by_word(FACTS));
static TOTAL_WORDS: LazyLock<HashSet<&'static str>> = LazyLock::new(|| TOTALS.split_ascii_whitespace().collect());

/// The role that a heading names.
pub fn role_of(heading: &str) -> Option<Role> {
    if heading.trim() == "#" {
        return Some(Role::Id);
    }
    let word = plain(heading);
    if is_total(heading) {
        return Some(Role::Total);
    }
    let word = word.as_str();
    ROLE_OF_HEADING.get(word).or_else(|| ROLE_OF_FACT.get(word)).copied()
}

/// Whether a heading says that the date of the check stands below it.
pub fn is_date(heading: &str) -> bool {
    is_among(
        "date testdate datetaken dateadministered administered week weekof fecha semana semanadel",
        &plain(heading),
    )
}

/// Whether a heading may only number the rows.
pub fn is_weak_id(heading: &str) -> bool {
    heading.trim() == "#" || ["no", "number", "num", "nr", "numero"].contains(&plain(heading).as_str())
}

/// Whether a heading names the points possible.
pub fn is_maximum(heading: &str) -> bool {
    is_among(
        "outof possible pointspossible possiblepoints max maxpoints maximum maxscore sobre maximo",
        &plain(heading),
    )
}

/// Whether a heading in a sheet of several items names what they came to.
pub fn is_result(heading: &str) -> bool {
    let word = plain(heading);
    heading.contains('%')
        || [
            "score",
            "scores",
            "result",
            "results",
            "mark",
            "marks",
            "points",
            "pts",
            "earned",
            "pointsearned",
            "puntos",
            "puntaje",
            "calificacion",
            "nota",
            "resultado",
            "correct",
            "numbercorrect",
        ]
        .contains(&word.as_str())
}

/// Whether one of the words of a heading is that of a sum, a percent or an average.
fn is_total(heading: &str) -> bool {
    if heading.trim() == "%" || TOTAL_WORDS.contains(plain(heading).as_str()) {
        return true;
    }
    let first = heading.split_whitespace().next().unwrap_or_default();
    if super::labels::is_item_label(heading) || super::labels::is_item_label(first) {
        return false;
    }
    let words: Vec<String> =
        heading.split(|c: char| !c.is_alphanumeric()).map(plain).filter(|w| !w.is_empty()).collect();
    let is_of_marks = |w: &String| TOTAL_WORDS.contains(w.as_str()) || (heading.contains('%') && is_among(COUNTED, w));
    words.len() <= 4 && words.iter().any(is_of_marks)
}

/// The role of a row whose first cells hold this text, if it is a row of item facts.
pub fn label_row(text: &str) -> Option<Role> {
    if text.len() > 40 {
        return None;
    }
    ROLE_OF_FACT
        .get(plain(text).as_str())
        .copied()
        .filter(|r| matches!(r, Role::Skill | Role::Key | Role::Points | Role::Kind))
        .or_else(|| is_key_of_a_form(text).then_some(Role::Key))
}

/// `Key A`, `Form B key`, `Answer key (form 2)`: the word, and beside it only what may name a form.
fn is_key_of_a_form(text: &str) -> bool {
    let words: Vec<String> = text.split(|c: char| !c.is_alphanumeric()).map(plain).filter(|w| !w.is_empty()).collect();
    let names_a_form =
        |w: &String| w.len() == 1 || is_among("form version test quiz check answer the forma version respuestas de", w);
    let is_key = |w: &String| is_among("key clave", w);
    (2..=5).contains(&words.len()) && words.iter().any(is_key) && words.iter().all(|w| is_key(w) || names_a_form(w))
}

/// How surely a row that starts with this text sums up others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Summary {
    /// It does.
    Sure,
    /// It does where the row has no id.
    Weak,
    /// It does not.
    No,
}

/// Whether a text is nothing but the word of a sum or an average.
pub fn is_total_word(text: &str) -> bool {
    let word = plain(text);
    is_among(TOTALS, &word) || is_among(SUMMARIES, &word)
}

/// Whether a row that starts with this text sums up others.
pub fn summary_of(text: &str) -> Summary {
    if text.is_empty() || text.len() > 60 || text.starts_with(|c: char| c.is_ascii_digit()) {
        return Summary::No;
    }
    let word = plain(text);
    if is_among(WEAK_SUMMARIES, &word) {
        return Summary::Weak;
    }
    let begins = ["classaverage", "averagescore", "classmean", "totalscore", "percentcorrect", "promediode"];
    let is_sure = TOTAL_WORDS.contains(word.as_str())
        || is_among(SUMMARIES, &word)
        || begins.iter().any(|b| word.starts_with(b))
        || (is_total(text) && !text.contains(','));
    if is_sure { Summary::Sure } else { Summary::No }
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
            ("#", Role::Id),
            ("STUDENT", Role::Name),
            ("Nombre del alumno", Role::Name),
            ("Apellidos", Role::Family),
            ("class", Role::Homeroom),
            ("Salón", Role::Homeroom),
            ("%", Role::Total),
            ("Percent", Role::Total),
            ("Fecha", Role::Other),
            ("Pregunta", Role::Item),
            ("Puntos posibles", Role::Points),
        ] {
            assert_eq!(role_of(word), Some(role), "{word}");
        }
        assert_eq!(role_of("Q1"), None);
        assert_eq!(label_row("Key:"), Some(Role::Key));
        assert_eq!(label_row("Clave"), Some(Role::Key));
        assert_eq!((label_row("Key A"), label_row("Answer key (form 2)")), (Some(Role::Key), Some(Role::Key)));
        assert_eq!((label_row("Reko V."), label_row("Key, Ana")), (None, None));
    }

    #[test]
    fn a_total_is_known_by_one_of_its_words() {
        for word in ["Total (20)", "% correct", "Class %", "Quiz total", "Promedio final", "Raw Score"] {
            assert_eq!(role_of(word), Some(Role::Total), "{word}");
        }
        assert_eq!(role_of("Q3 total"), None);
        // Beside two items or more a percent is what they came to; beside one it may be an item.
        assert!(role_of("Unit 3 %").is_none() && is_result("Unit 3 %"));
    }

    #[test]
    fn a_child_called_max_is_no_summary() {
        assert_eq!(summary_of("Max"), Summary::Weak);
        assert_eq!(summary_of("Max B."), Summary::No);
        assert_eq!(summary_of("Class average (all)"), Summary::Sure);
        assert_eq!(summary_of("Promedio"), Summary::Sure);
    }
}
