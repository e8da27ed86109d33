//! Quillmere, an invented school: its setup, its students and its first week, taken in and planned.
//! Weeks 2 to 4 are in `fixtures/schools/quillmere/` to be handed in by hand.

use sheaf_app::apart;
use sheaf_app::error::AppError;
use sheaf_app::weeks::{GivenFile, Keeping, SchoolSetup, Week, Weeks};

const SETUP: &str = include_str!("../../../fixtures/schools/quillmere/school.toml");
const STUDENTS: &[u8] = include_bytes!("../../../fixtures/schools/quillmere/students.csv");
const QUIZ: &[u8] = include_bytes!("../../../fixtures/schools/quillmere/week1_quiz.xlsx");
const TICKET: &[u8] = include_bytes!("../../../fixtures/schools/quillmere/week1_ticket.xlsx");

const FIRST_WEEK: &str = "2026-02-02";

/// The invented school in memory.
pub(crate) fn weeks() -> Result<Weeks, AppError> {
    apart::start_ahead();
    let weeks = Weeks::in_memory(SchoolSetup::parse("school.toml", SETUP)?)?;
    let file = |name: &str, bytes: &[u8]| GivenFile { name: name.to_owned(), bytes: bytes.to_vec() };
    weeks.put_students(&file("students.csv", STUDENTS))?;
    let week = Week::parse(FIRST_WEEK)?;
    let sheets = vec![file("week1_quiz.xlsx", QUIZ), file("week1_ticket.xlsx", TICKET)];
    weeks.take_in(week, sheets, None, Keeping::Keep)?;
    weeks.plan_week(week, None)?;
    Ok(weeks)
}
