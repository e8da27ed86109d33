//! An attendance sheet: a row a student, a column a session or day.
//!
//! In:  a file of any kind that scores come in; our own `Attendance` sheet among others in a workbook is found by its name.
//! Out: sessions, marks and findings with cell addresses. A cell says present, late, absent (English, Spanish, ticks) or minutes;
//! a blank is not noted. Keeps: a mark that is not understood is not noted, with an error finding, never absent
//! (`what_is_not_understood_is_not_absence`); a column whose every number is 0 or 1 says there or not, and the reader is told
//! (`ones_and_zeros_are_there_or_not`);
//! ids are those of score sheets (`ids_are_cleaned_as_in_score_sheets`);
//! two columns with one heading are two sessions (`two_columns_of_one_heading_are_two_sessions`); a sheet over the limits is refused,
//! never cut short (`a_sheet_over_the_limits_is_refused_whole`). Not here: minutes planned, weeks (`sheaf-core`, `sheaf-app`).

use super::cell::{Cell, address, column_letters, trim};
use super::collect::tell_damage;
use super::grid::{Book, SheetName};
use super::layout::{Columns, KeptRow};
use super::notes::Notes;
use super::people::{RowStudent, StudentColumns};
use super::words::{Role, Summary, plain, role_of, summary_of};
use super::{ReadError, ReadLimits, SourceFile};
use jiff::civil::Date;
use sheaf_core::finding::Finding;
use sheaf_core::movement::{Attendance, AttendanceRow, HeldSession, Presence};
use sheaf_core::roster::{Day, Minutes, StudentId};
use std::collections::BTreeMap;

/// Most minutes of one session; more is a slip of the pen.
const MOST_MINUTES: f64 = 400.0;

/// Reads an attendance sheet.
///
/// # Errors
/// [`ReadError`] where not one student with one session could be read.
pub fn read_attendance(source: SourceFile<'_>, limits: ReadLimits) -> Result<(Attendance, Vec<Finding>), ReadError> {
    let book = super::open(source, limits)?;
    let sheets = book.sheets()?;
    let is_named = |s: &&SheetName| matches!(plain(&s.name).as_str(), "attendance" | "asistencia");
    let chosen: Vec<&SheetName> = match sheets.iter().find(is_named) {
        Some(sheet) => vec![sheet],
        None => sheets.iter().filter(|s| !s.is_hidden).collect(),
    };
    let mut all = Gathered::default();
    for sheet in chosen {
        let mut notes = Notes::new(source.name, &sheet.name);
        let rows = rows_of(&book, sheet, limits)?;
        if let Some(mut columns) = find_columns(&rows) {
            tell_twins(&mut columns, &mut notes);
            all.take(&columns, &rows, &mut notes);
            all.findings.extend(notes.into_findings());
        }
    }
    if all.rows.is_empty() || all.sessions.is_empty() {
        let message = format!(
            "{} holds no attendance; it needs a row of headings with the student's id or name and a column for each session or day.",
            source.name
        );
        return Err(ReadError { code: "not-an-attendance-sheet", message });
    }
    Ok(all.finish())
}

fn rows_of(book: &Book<'_>, sheet: &SheetName, limits: ReadLimits) -> Result<Vec<KeptRow>, ReadError> {
    let mut rows: Vec<KeptRow> = Vec::new();
    let mut too_large = None;
    book.for_each_row(sheet, &mut |number, cells| {
        if rows.len() == limits.max_rows {
            too_large = Some(format!("has more than {} rows", limits.max_rows));
        } else if cells.len() > limits.max_columns {
            too_large = Some(format!("has more than {} columns with something in them", limits.max_columns));
        } else {
            rows.push((number, cells.iter().map(|(c, v)| (*c, v.clone().into_owned())).collect()));
        }
    })?;
    match too_large {
        Some(why) => Err(super::refuse::too_large(book.file, &why)),
        None => Ok(rows),
    }
}

/// What the heading row says.
struct AttendanceColumns {
    header_row: u32,
    students: BTreeMap<u32, Role>,
    sessions: Vec<(u32, HeldSession)>,
}

impl AttendanceColumns {
    fn people(&self) -> StudentColumns {
        let (header_row, roles) = (self.header_row, self.students.clone());
        StudentColumns::of(&Columns { header_row, roles, labels: BTreeMap::new() })
    }
}

/// The first row that names a student column and has a session beside it.
fn find_columns(rows: &[KeptRow]) -> Option<AttendanceColumns> {
    rows.iter().take(super::layout::LOOKED_AT).find_map(|(number, cells)| {
        let mut columns = AttendanceColumns { header_row: *number, students: BTreeMap::new(), sessions: Vec::new() };
        for (column, cell) in cells {
            let label = cell.shown().into_owned();
            match role_of(&label) {
                Some(role @ (Role::Id | Role::Name | Role::Given | Role::Family)) => {
                    if !columns.students.values().any(|r| *r == role) {
                        columns.students.insert(*column, role);
                    }
                }
                Some(_) => {}
                None if matches!(plain(&label).as_str(), "group" | "grupo" | "minutes" | "minutos") => {}
                None => columns.sessions.push((*column, session_of(label))),
            }
        }
        (!columns.students.is_empty() && !columns.sessions.is_empty()).then_some(columns)
    })
}

/// Two columns of one sheet with one heading are two sessions: the second gets a number.
fn tell_twins(columns: &mut AttendanceColumns, notes: &mut Notes<'_>) {
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    for (column, session) in &mut columns.sessions {
        let n = seen.entry(session.label.clone()).or_insert(0);
        *n += 1;
        if *n > 1 {
            let renamed = format!("{} ({n})", session.label);
            let message = format!("Column {} has the heading {} again.", column_letters(*column), session.label);
            let place = address(columns.header_row, *column);
            notes.warn("label-twice", place, message, &format!("taken as another session, {renamed}"));
            session.label = renamed;
        }
    }
}

/// What a heading tells: `Mon 09:00`, `Tuesday`, `2026-02-03`, `Session 2`.
fn session_of(label: String) -> HeldSession {
    let mut session = HeldSession { label, day: None, date: None, start: None };
    let words: Vec<String> =
        session.label.split([' ', ',', '(', ')', '\n', '\t']).filter(|w| !w.is_empty()).map(str::to_owned).collect();
    for word in &words {
        session.day = session.day.or_else(|| day_of(word));
        session.start = session.start.or_else(|| Minutes::parse(word.trim_end_matches('.')));
        session.date = session.date.or_else(|| word.split('T').next().and_then(|d| d.parse::<Date>().ok()));
    }
    session
}

fn day_of(word: &str) -> Option<Day> {
    let word = plain(word);
    let spanish = ["lunes", "martes", "miercoles", "jueves", "viernes"];
    let short = ["lun", "mar", "mie", "jue", "vie"];
    let other = [("tues", Day::Tue), ("weds", Day::Wed), ("thur", Day::Thu), ("thurs", Day::Thu)];
    let by_place = |words: &[&str; 5]| words.iter().position(|w| *w == word).map(|i| Day::ALL[i]);
    Day::parse(&word)
        .or_else(|| by_place(&spanish))
        .or_else(|| by_place(&short))
        .or_else(|| other.iter().find(|(w, _)| *w == word).map(|(_, day)| *day))
}

/// Sessions and rows of all sheets.
#[derive(Default)]
struct Gathered {
    sessions: Vec<HeldSession>,
    rows: BTreeMap<String, BTreeMap<usize, Presence>>,
    findings: Vec<Finding>,
}

impl Gathered {
    fn take(&mut self, columns: &AttendanceColumns, rows: &[KeptRow], notes: &mut Notes<'_>) {
        let data: Vec<&KeptRow> = rows.iter().filter(|(n, _)| *n > columns.header_row).collect();
        let unit = unit_of(columns, &data, notes);
        let places: BTreeMap<u32, usize> = columns.sessions.iter().map(|(c, s)| (*c, self.place_of(s))).collect();
        let people = columns.people();
        for (number, cells) in data {
            let Some((student, damage)) = people.student(*number, cells).filter(|(s, _)| is_a_student(s)) else {
                continue;
            };
            if let Some(damage) = damage {
                tell_damage(damage, &student, *number, people.id.unwrap_or(0), notes);
            }
            let id = student.id;
            if self.rows.contains_key(&id) && cells.iter().any(|(c, _)| places.contains_key(c)) {
                let message = "This student has a row above; attendance of a child is taken once.";
                notes.error("student-twice", address(*number, cells[0].0), message, "the first row counts");
                continue;
            }
            let marks = self.rows.entry(id).or_default();
            for (column, cell) in cells {
                let Some(place) = places.get(column) else { continue };
                match presence_of(cell, unit) {
                    Said::Mark(presence) => drop(marks.insert(*place, presence)),
                    Said::Nothing => {}
                    Said::Unclear(why) => {
                        let action = "taken as not noted; write present, late, absent or minutes";
                        notes.error("attendance-not-understood", address(*number, *column), why, action);
                    }
                }
            }
        }
    }

    fn place_of(&mut self, session: &HeldSession) -> usize {
        self.sessions.iter().position(|s| s == session).unwrap_or_else(|| {
            self.sessions.push(session.clone());
            self.sessions.len() - 1
        })
    }

    fn finish(self) -> (Attendance, Vec<Finding>) {
        let n_sessions = self.sessions.len();
        let rows = self.rows.into_iter().filter_map(|(id, marks)| {
            let marks = (0..n_sessions).map(|place| marks.get(&place).copied()).collect();
            Some(AttendanceRow { student: StudentId::parse(&id)?, marks })
        });
        (Attendance { rows: rows.collect(), sessions: self.sessions }, self.findings)
    }
}

/// Whether a row is of a student, and neither sums up others nor repeats the headings.
fn is_a_student(student: &RowStudent) -> bool {
    let is_one = |text: &str| summary_of(text) != Summary::Sure && role_of(text).is_none();
    is_one(&student.id)
        && (student.name.is_empty() || student.name == student.id || summary_of(&student.name) != Summary::Sure)
}

/// What numbers mean in a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Unit {
    Minutes,
    /// 1 is there, 0 is not.
    OneOrZero,
}

fn unit_of(columns: &AttendanceColumns, data: &[&KeptRow], notes: &mut Notes<'_>) -> Unit {
    let is_session = |column: &u32| columns.sessions.iter().any(|(c, _)| c == column);
    let numbers: Vec<f64> = data
        .iter()
        .flat_map(|(_, cells)| cells.iter().filter(|(c, _)| is_session(c)))
        .filter_map(|(_, cell)| number_of(cell))
        .collect();
    if numbers.contains(&1.0) && numbers.iter().all(|n| *n == 0.0 || *n == 1.0) {
        let place = columns.sessions.first().map_or(0, |(c, _)| *c);
        let message = "Every number in the sheet is 0 or 1.";
        notes.note("ones-and-zeros", address(columns.header_row, place), message, "1 read as there, 0 as not there");
        return Unit::OneOrZero;
    }
    Unit::Minutes
}

fn number_of(cell: &Cell<'_>) -> Option<f64> {
    match cell {
        Cell::Number { value, .. } => Some(*value),
        Cell::Text(t) => {
            let word = trim(t).to_lowercase();
            let bare = ["minutes", "mins", "min", "minutos", "m"].iter().find_map(|unit| word.strip_suffix(unit));
            bare.unwrap_or(&word).trim().replace(',', ".").parse().ok().filter(|n: &f64| n.is_finite())
        }
        _ => None,
    }
}

enum Said {
    Mark(Presence),
    Nothing,
    Unclear(String),
}

fn presence_of(cell: &Cell<'_>, unit: Unit) -> Said {
    if let Some(number) = number_of(cell) {
        return match unit {
            Unit::OneOrZero => Said::Mark(if number > 0.0 { Presence::Present } else { Presence::Absent }),
            Unit::Minutes if (0.0..=MOST_MINUTES).contains(&number) => {
                Said::Mark(Presence::Minutes(number.round() as u16))
            }
            Unit::Minutes => Said::Unclear(format!("{number} is no number of minutes of a session.")),
        };
    }
    match cell {
        Cell::Bool(true) => Said::Mark(Presence::Present),
        Cell::Bool(false) => Said::Mark(Presence::Absent),
        Cell::Text(text) => said_by(trim(text)),
        other => Said::Unclear(format!("The cell holds {}, which is no attendance.", other.shown())),
    }
}

fn said_by(text: &str) -> Said {
    if ["✓", "✔", "☑", "√", "✅"].contains(&text) {
        return Said::Mark(Presence::Present);
    }
    if ["✗", "✘", "☒", "❌", "✕", "✖"].contains(&text) {
        return Said::Mark(Presence::Absent);
    }
    match plain(text).as_str() {
        "present" | "p" | "pr" | "pres" | "here" | "yes" | "y" | "there" | "presente" | "si" | "asistio" => {
            Said::Mark(Presence::Present)
        }
        "late" | "l" | "t" | "tardy" | "tarde" | "retraso" | "r" => Said::Mark(Presence::Late),
        "absent" | "a" | "ab" | "abs" | "no" | "n" | "ausente" | "aus" | "ex" | "excused" | "falta" | "f"
        | "justificado" => Said::Mark(Presence::Absent),
        "na" | "nomeeting" | "nosession" | "" => Said::Nothing,
        _ => Said::Unclear(format!("\u{201c}{text}\u{201d} is not understood as attendance.")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> (Attendance, Vec<Finding>) {
        let source = SourceFile { name: "attendance.csv", bytes: text.as_bytes() };
        read_attendance(source, ReadLimits::default()).unwrap()
    }

    fn marks(attendance: &Attendance, id: &str) -> Vec<Option<Presence>> {
        attendance.rows.iter().find(|r| r.student.as_str() == id).unwrap().marks.clone()
    }

    #[test]
    fn words_minutes_and_blanks_are_told_apart() {
        let text = "Attendance of group 1\n\nid,name,group,Mon 09:00,Tuesday,2026-02-04,jueves\n\
                    0007,Ana,Group 1,present,late,absent,\n0008,Bo,Group 1,25 min,0,P,n/a\nTotal,,,2,2,1,0\n";
        let (attendance, findings) = read(text);
        let days: Vec<Option<Day>> = attendance.sessions.iter().map(HeldSession::school_day).collect();
        assert_eq!(days, [Some(Day::Mon), Some(Day::Tue), Some(Day::Wed), Some(Day::Thu)]);
        assert_eq!(attendance.sessions[0].start, Minutes::parse("09:00"));
        let (present, late, absent) = (Some(Presence::Present), Some(Presence::Late), Some(Presence::Absent));
        assert_eq!(marks(&attendance, "0007"), [present, late, absent, None]);
        assert_eq!(
            marks(&attendance, "0008"),
            [Some(Presence::Minutes(25)), Some(Presence::Minutes(0)), present, None]
        );
        assert_eq!((attendance.rows.len(), findings.len()), (2, 0));
    }

    #[test]
    fn ones_and_zeros_are_there_or_not() {
        let (attendance, findings) = read("id,Session 1,Session 2\n1,1,0\n2,0,1\n");
        assert_eq!(marks(&attendance, "1"), [Some(Presence::Present), Some(Presence::Absent)]);
        assert_eq!((findings[0].code.as_str(), findings[0].cell.as_str()), ("ones-and-zeros", "B1"));
    }

    #[test]
    fn what_is_not_understood_is_not_absence() {
        let (attendance, findings) = read("id,Mon,Tue\n1,maybe,900\n2,x,P\n1,P,P\n");
        assert_eq!(marks(&attendance, "1"), [None, None]);
        assert_eq!(marks(&attendance, "2"), [None, Some(Presence::Present)], "a cross means either");
        let told: Vec<(&str, &str)> = findings.iter().map(|f| (f.code.as_str(), f.cell.as_str())).collect();
        assert_eq!(
            told,
            [
                ("attendance-not-understood", "B2"),
                ("attendance-not-understood", "C2"),
                ("attendance-not-understood", "B3"),
                ("student-twice", "A4"),
            ]
        );
    }

    #[test]
    fn a_sheet_of_something_else_is_refused() {
        for text in ["a,b\n1,2\n", "id,name\n1,Ana\n", "Mon,Tue\nP,P\n"] {
            let source = SourceFile { name: "list.csv", bytes: text.as_bytes() };
            let error = read_attendance(source, ReadLimits::default()).unwrap_err();
            assert_eq!(error.code, "not-an-attendance-sheet");
            assert!(error.message.starts_with("list.csv holds no attendance;"), "{error}");
        }
    }

    #[test]
    fn two_columns_of_one_heading_are_two_sessions() {
        let (attendance, findings) = read("id,Mon,Mon\n1,P,A\n");
        let labels: Vec<&str> = attendance.sessions.iter().map(|s| s.label.as_str()).collect();
        assert_eq!(labels, ["Mon", "Mon (2)"]);
        assert_eq!(marks(&attendance, "1"), [Some(Presence::Present), Some(Presence::Absent)]);
        assert_eq!((findings[0].code.as_str(), findings[0].cell.as_str()), ("label-twice", "C1"));
    }

    #[test]
    fn a_sheet_over_the_limits_is_refused_whole() {
        let source = SourceFile { name: "week.csv", bytes: b"id,Mon,Tue\n1,P,P\n2,P,P\n" };
        for (max_rows, max_columns) in [(2, 600), (25_000, 2)] {
            let limits = ReadLimits { max_rows, max_columns, ..ReadLimits::default() };
            let error = read_attendance(source, limits).unwrap_err();
            assert_eq!(error.code, "file-too-large");
            assert!(error.message.starts_with("week.csv has more than "), "{error}");
        }
        assert!(read_attendance(source, ReadLimits { max_rows: 3, max_columns: 3, ..ReadLimits::default() }).is_ok());
    }

    #[test]
    fn names_serve_where_there_are_no_ids() {
        let (attendance, _) = read("First,Last,Mon\nAna,Riis,P\n,,P\n");
        assert_eq!(attendance.rows.len(), 1);
        assert_eq!(attendance.rows[0].student.as_str(), "Ana Riis");
    }

    #[test]
    fn ids_are_cleaned_as_in_score_sheets() {
        let (attendance, findings) = read("id,name,Mon\n\u{a0}04\u{200b}17 ,Ana,P\n100000.0,Bo,P\n1.0E+05,Cy,P\n");
        let ids: Vec<&str> = attendance.rows.iter().map(|r| r.student.as_str()).collect();
        assert_eq!(ids, ["0417", "100000", "Cy"]);
        let told: Vec<(&str, &str)> = findings.iter().map(|f| (f.code.as_str(), f.cell.as_str())).collect();
        assert_eq!(told, [("id-damaged", "A4")]);
    }
}
