//! Who was there, week by week.
//!
//! Keeps: a mark given again replaces the one before, and what was not noted again stays
//! (`later_marks_replace_earlier_ones_alone`); a sheet of several weeks is kept whole or not at all
//! (`weeks_that_come_together_are_kept_together`); what is taken back is as if it had never been noted
//! (`a_session_taken_back_is_gone_with_its_marks`). Not here: what attendance comes to (`sheaf_core::movement`).

use crate::uploads::parse_date;
use crate::{About, Change, Store, StoreError};
use jiff::civil::Date;
use rusqlite::{Connection, Row, params};
use sheaf_core::movement::{Attendance, AttendanceRow, HeldSession, Presence};
use sheaf_core::roster::{Day, Minutes, StudentId};
use std::collections::BTreeMap;

impl Store {
    /// Adds attendance to weeks, each known by its Monday.
    ///
    /// # Errors
    /// [`StoreError`]; nothing of any week is kept then.
    pub fn put_attendance<'a>(
        &self,
        weeks: impl IntoIterator<Item = (Date, &'a Attendance)>,
    ) -> Result<(), StoreError> {
        let mut connection = self.lock();
        let mut weeks = weeks.into_iter().peekable();
        let about = weeks.peek().map_or_else(About::nothing, |(first, _)| About::week(*first));
        let tx = self.change(&mut connection, Change::AttendanceNoted, about)?;
        weeks.try_for_each(|(week, attendance)| put_week(&tx, &week.to_string(), attendance))?;
        tx.commit()
    }

    /// Adds attendance to a week and takes marks back, each by the heading of its session: both or neither.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is changed then.
    pub fn change_attendance(
        &self,
        week: Date,
        noted: &[Attendance],
        taken_back: &[(String, Vec<StudentId>)],
    ) -> Result<(), StoreError> {
        let mut connection = self.lock();
        let tx = self.change(&mut connection, Change::AttendanceNoted, About::week(week))?;
        let week = week.to_string();
        noted.iter().try_for_each(|attendance| put_week(&tx, &week, attendance))?;
        for (label, students) in taken_back {
            take_back(&tx, &week, label, students)?;
        }
        tx.commit()
    }

    /// A week's attendance, students in order of id; empty where none was noted.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn attendance(&self, week: Date) -> Result<Attendance, StoreError> {
        let connection = self.lock();
        let week = week.to_string();
        let sessions = sessions_of(&connection, &week)?;
        let mut rows: BTreeMap<StudentId, Vec<Option<Presence>>> = BTreeMap::new();
        let mut statement =
            connection.prepare("SELECT label, student, mark, minutes FROM attendance_mark WHERE week = ?1")?;
        let mut found = statement.query([&week])?;
        while let Some(row) = found.next()? {
            let (label, student): (String, String) = (row.get(0)?, row.get(1)?);
            let student = StudentId::parse(&student).ok_or(StoreError::Damaged("a student's id"))?;
            let place = sessions.iter().position(|s| s.label == label);
            let marks = rows.entry(student).or_insert_with(|| vec![None; sessions.len()]);
            if let Some(slot) = place.and_then(|p| marks.get_mut(p)) {
                *slot = Some(mark_from(row)?);
            }
        }
        let rows = rows.into_iter().map(|(student, marks)| AttendanceRow { student, marks }).collect();
        Ok(Attendance { sessions, rows })
    }
}

fn put_week(connection: &Connection, week: &str, attendance: &Attendance) -> Result<(), StoreError> {
    connection.execute("INSERT INTO week (monday) VALUES (?1) ON CONFLICT DO NOTHING", [week])?;
    for (place, session) in attendance.sessions.iter().enumerate() {
        put_session(connection, week, session)?;
        for row in &attendance.rows {
            if let Some(mark) = row.marks.get(place).copied().flatten() {
                put_mark(connection, week, session, &row.student, mark)?;
            }
        }
    }
    Ok(())
}

/// Takes the marks of students back, and the session where nobody has a mark of it any more.
fn take_back(connection: &Connection, week: &str, label: &str, students: &[StudentId]) -> Result<(), StoreError> {
    for student in students {
        connection.execute(
            "DELETE FROM attendance_mark WHERE week = ?1 AND label = ?2 AND student = ?3",
            params![week, label, student.as_str()],
        )?;
    }
    connection.execute(
        "DELETE FROM attendance_session WHERE week = ?1 AND label = ?2
         AND NOT EXISTS (SELECT 1 FROM attendance_mark m WHERE m.week = ?1 AND m.label = ?2)",
        params![week, label],
    )?;
    Ok(())
}

fn put_session(connection: &Connection, week: &str, session: &HeldSession) -> Result<(), StoreError> {
    connection.execute(
        "INSERT INTO attendance_session (week, label, position, day, date, start)
         VALUES (?1, ?2, (SELECT count(*) FROM attendance_session WHERE week = ?1), ?3, ?4, ?5)
         ON CONFLICT (week, label) DO UPDATE SET day = excluded.day, date = excluded.date, start = excluded.start",
        params![
            week,
            session.label,
            session.day.map(Day::short),
            session.date.map(|d| d.to_string()),
            session.start.map(|s| s.0)
        ],
    )?;
    Ok(())
}

fn put_mark(
    connection: &Connection,
    week: &str,
    session: &HeldSession,
    student: &StudentId,
    mark: Presence,
) -> Result<(), StoreError> {
    let (word, minutes) = match mark {
        Presence::Present => ("present", None),
        Presence::Late => ("late", None),
        Presence::Absent => ("absent", None),
        Presence::Minutes(minutes) => ("minutes", Some(minutes)),
    };
    connection.execute(
        "INSERT OR REPLACE INTO attendance_mark (week, label, student, mark, minutes) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![week, session.label, student.as_str(), word, minutes],
    )?;
    Ok(())
}

fn sessions_of(connection: &Connection, week: &str) -> Result<Vec<HeldSession>, StoreError> {
    let mut statement = connection
        .prepare("SELECT label, day, date, start FROM attendance_session WHERE week = ?1 ORDER BY position, label")?;
    let mut found = statement.query([week])?;
    let mut sessions = Vec::new();
    while let Some(row) = found.next()? {
        let (day, date): (Option<String>, Option<String>) = (row.get(1)?, row.get(2)?);
        sessions.push(HeldSession {
            label: row.get(0)?,
            day: day.as_deref().and_then(Day::parse),
            date: date.as_deref().map(parse_date).transpose()?,
            start: row.get::<_, Option<u16>>(3)?.map(Minutes),
        });
    }
    Ok(sessions)
}

fn mark_from(row: &Row<'_>) -> Result<Presence, StoreError> {
    let word: String = row.get(2)?;
    match word.as_str() {
        "present" => Ok(Presence::Present),
        "late" => Ok(Presence::Late),
        "absent" => Ok(Presence::Absent),
        "minutes" => Ok(Presence::Minutes(row.get(3)?)),
        _ => Err(StoreError::Damaged("a mark of attendance")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WEEK: Date = jiff::civil::date(2026, 2, 2);

    fn session(label: &str, day: Day) -> HeldSession {
        HeldSession { label: label.into(), day: Some(day), date: None, start: Minutes::parse("09:00") }
    }

    fn sheet(sessions: &[HeldSession], rows: &[(&str, &[Option<Presence>])]) -> Attendance {
        let row = |(id, marks): &(&str, &[Option<Presence>])| AttendanceRow {
            student: StudentId::parse(id).unwrap(),
            marks: marks.to_vec(),
        };
        Attendance { sessions: sessions.to_vec(), rows: rows.iter().map(row).collect() }
    }

    #[test]
    fn attendance_comes_back_as_it_was_noted() {
        let store = Store::in_memory().unwrap();
        let dated =
            HeldSession { date: Some(jiff::civil::date(2026, 2, 3)), start: None, ..session("3 Feb", Day::Tue) };
        let marks = [Some(Presence::Late), Some(Presence::Minutes(12))];
        let noted = sheet(&[session("Mon 09:00", Day::Mon), dated], &[("0007", &marks)]);
        store.put_attendance([(WEEK, &noted)]).unwrap();
        assert_eq!(store.attendance(WEEK).unwrap(), noted);
        assert_eq!(store.attendance(jiff::civil::date(2026, 2, 9)).unwrap(), Attendance::default());
    }

    #[test]
    fn later_marks_replace_earlier_ones_alone() {
        let store = Store::in_memory().unwrap();
        let sessions = [session("Mon", Day::Mon), session("Tue", Day::Tue)];
        let (here, gone) = (Some(Presence::Present), Some(Presence::Absent));
        store.put_attendance([(WEEK, &sheet(&sessions, &[("1", &[here, here]), ("2", &[here, None])]))]).unwrap();
        store.put_attendance([(WEEK, &sheet(&sessions[1..], &[("1", &[gone])]))]).unwrap();
        let kept = store.attendance(WEEK).unwrap();
        assert_eq!(kept.sessions, sessions);
        assert_eq!(kept.rows, sheet(&sessions, &[("1", &[here, gone]), ("2", &[here, None])]).rows);
    }

    #[test]
    fn a_session_taken_back_is_gone_with_its_marks() {
        let store = Store::in_memory().unwrap();
        let (mon, tue) = (session("mon", Day::Mon), session("tue", Day::Tue));
        let there = Some(Presence::Present);
        let noted = sheet(&[mon, tue.clone()], &[("0001", &[there, there]), ("0002", &[there, there])]);
        store.put_attendance([(WEEK, &noted)]).unwrap();
        let ids = |ids: &[&str]| ids.iter().map(|id| StudentId::parse(id).unwrap()).collect::<Vec<_>>();
        store.change_attendance(WEEK, &[], &[("mon".to_owned(), ids(&["0001"]))]).unwrap();
        let left = store.attendance(WEEK).unwrap();
        assert_eq!((left.sessions.len(), left.rows[0].marks[0], left.rows[1].marks[0]), (2, None, there));
        store.change_attendance(WEEK, &[], &[("mon".to_owned(), ids(&["0002", "0009"]))]).unwrap();
        let left = store.attendance(WEEK).unwrap();
        assert_eq!(left.sessions, [tue]);
        assert_eq!(left.rows.iter().map(|r| r.marks[0]).collect::<Vec<_>>(), [there, there]);
        store.change_attendance(WEEK, &[noted], &[]).unwrap();
        assert_eq!(store.attendance(WEEK).unwrap().sessions.len(), 2);
    }

    #[test]
    fn weeks_that_come_together_are_kept_together() {
        let store = Store::in_memory().unwrap();
        let here: &[Option<Presence>] = &[Some(Presence::Present)];
        let good = sheet(&[session("Mon", Day::Mon)], &[("1", here)]);
        // A session without a heading is nonsense that the schema refuses.
        let bad = sheet(&[session("", Day::Mon)], &[("1", here)]);
        assert!(store.put_attendance([(WEEK, &good), (jiff::civil::date(2026, 2, 9), &bad)]).is_err());
        assert_eq!(store.attendance(WEEK).unwrap(), Attendance::default());
    }
}
