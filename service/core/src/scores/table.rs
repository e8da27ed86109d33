//! The table of marks, shape (n_students, n_items), row by row.
//!
//! Built in any order: add assessments, items and students, then set marks; what is not set is not taken.
//! Keeps: points are finite, not negative and never above the item's (`points_over_the_maximum_are_refused`).

use super::Item;
use crate::roster::{Student, StudentId};
use jiff::civil::Date;
use std::collections::HashMap;
use thiserror::Error;

/// One check, quiz or ticket.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assessment {
    /// A name that people recognise (the file's or the sheet's).
    pub name: String,
    /// Monday of the week it was given in, where known.
    pub week: Option<Date>,
}

/// What became of one student's answer to one item.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MarkState {
    /// Answered, with points or an answer.
    Scored,
    /// Left blank among answered items.
    Omitted,
    /// Absent, excused, or not readable.
    NotTaken,
}

impl MarkState {
    /// `scored`, `omitted` or `not-taken`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            MarkState::Scored => "scored",
            MarkState::Omitted => "omitted",
            MarkState::NotTaken => "not-taken",
        }
    }
}

/// One mark. `points` is `None` unless scored (and even then where letters came without a key).
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// What became of it.
    pub state: MarkState,
    /// The option or number as given; `None` where the sheet holds points alone.
    pub answer: Option<String>,
    /// Points, 0 to the item's points.
    pub points: Option<f64>,
}

impl Mark {
    /// Absent, excused or not readable.
    pub const NOT_TAKEN: Mark = Mark { state: MarkState::NotTaken, answer: None, points: None };
    /// Left blank among answered items.
    pub const OMITTED: Mark = Mark { state: MarkState::Omitted, answer: None, points: None };

    /// A scored mark.
    #[must_use]
    pub fn scored(answer: Option<String>, points: Option<f64>) -> Mark {
        Mark { state: MarkState::Scored, answer, points }
    }
}

/// Why a mark or student was refused.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum TableError {
    /// Points that are not a number, negative, or above the item's.
    #[error("{points} points are outside 0 to {maximum}")]
    PointsOutOfRange {
        /// What was given.
        points: f64,
        /// The item's points.
        maximum: f64,
    },
    /// An index that the table does not have.
    #[error("the table has no such student or item")]
    NoSuchPlace,
}

/// Answer and points (as bits) of a scored mark.
type MarkContent = (Option<String>, Option<u64>);

/// What becomes of students whom only the joined table knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Strangers {
    /// They are added.
    ComeIn,
    /// They are left out, with their marks.
    StayOut,
}

/// Who answered what. See the module header for its shape.
#[derive(Debug, Clone, Default)]
pub struct ResponseTable {
    assessments: Vec<Assessment>,
    items: Vec<Item>,
    /// Distinct marks of each item; index 0 is not taken, 1 omitted.
    marks: Vec<Vec<Mark>>,
    /// For each item, the index of a mark by its content.
    mark_index: Vec<HashMap<MarkContent, u32>>,
    students: Vec<Student>,
    by_id: HashMap<StudentId, usize>,
    /// Row-major, width `items.len()` at the time of reading; rows may be shorter than that (the rest is not taken).
    rows: Vec<Vec<u32>>,
}

/// All that a table holds, item by item and student by student.
#[derive(Debug, Clone, Default)]
pub struct TableParts {
    /// In order of reading.
    pub assessments: Vec<Assessment>,
    /// In order of reading.
    pub items: Vec<Item>,
    /// For each item its distinct marks, as [`ResponseTable::distinct_marks`] gives them.
    pub marks: Vec<Vec<Mark>>,
    /// In order of reading.
    pub students: Vec<Student>,
    /// For each student the places of the marks, item by item, as [`ResponseTable::mark_code`] gives them; a short row ends in
    /// marks not taken.
    pub codes: Vec<Vec<u32>>,
}

impl ResponseTable {
    /// An empty table.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Puts a table together from what another one held, so that a table can be carried elsewhere.
    ///
    /// # Errors
    /// [`TableError`] where the parts do not belong together: an item without its marks, a mark or an assessment that is not there,
    /// points outside an item's range, a student twice.
    pub fn from_parts(parts: TableParts) -> Result<Self, TableError> {
        let TableParts { assessments, items, marks, students, codes } = parts;
        if marks.len() != items.len() || codes.len() != students.len() {
            return Err(TableError::NoSuchPlace);
        }
        let mut table = ResponseTable { assessments, ..Self::default() };
        for (item, marks) in items.into_iter().zip(marks) {
            if item.assessment >= table.assessments.len() {
                return Err(TableError::NoSuchPlace);
            }
            let item_idx = table.add_item(item);
            table.take_marks(item_idx, marks)?;
        }
        for (student, row) in students.into_iter().zip(codes) {
            let n_known = |item_idx: usize| table.marks.get(item_idx).map_or(0, Vec::len);
            if row.iter().enumerate().any(|(item_idx, code)| *code as usize >= n_known(item_idx)) {
                return Err(TableError::NoSuchPlace);
            }
            // Before adding: of a student twice the rows would take each other's place.
            if table.by_id.contains_key(&student.id) {
                return Err(TableError::NoSuchPlace);
            }
            let student_idx = table.add_student(student);
            table.rows[student_idx] = row;
        }
        Ok(table)
    }

    /// Takes an item's distinct marks as they are; the first two are not taken and omitted.
    fn take_marks(&mut self, item_idx: usize, marks: Vec<Mark>) -> Result<(), TableError> {
        if marks.get(..2) != Some(&[Mark::NOT_TAKEN, Mark::OMITTED]) {
            return Err(TableError::NoSuchPlace);
        }
        for (code, mark) in marks.iter().enumerate().skip(2) {
            let maximum = self.items[item_idx].points;
            if let Some(points) = mark.points.filter(|p| !(p.is_finite() && (0.0..=maximum).contains(p))) {
                return Err(TableError::PointsOutOfRange { points, maximum });
            }
            self.mark_index[item_idx].insert((mark.answer.clone(), mark.points.map(f64::to_bits)), code as u32);
        }
        self.marks[item_idx] = marks;
        Ok(())
    }

    /// Adds an assessment and gives its index.
    pub fn add_assessment(&mut self, name: &str) -> usize {
        self.add_dated_assessment(name, None)
    }

    /// Adds an assessment that was given in the week of this Monday, where it is known, and gives its index.
    pub fn add_dated_assessment(&mut self, name: &str, week: Option<Date>) -> usize {
        self.assessments.push(Assessment { name: name.to_owned(), week });
        self.assessments.len() - 1
    }

    /// Says in which week an assessment was given. Nothing happens where there is no such assessment.
    pub fn set_week(&mut self, assessment_idx: usize, week: Date) {
        if let Some(assessment) = self.assessments.get_mut(assessment_idx) {
            assessment.week = Some(week);
        }
    }

    /// Adds an item and gives its index.
    pub fn add_item(&mut self, item: Item) -> usize {
        self.items.push(item);
        self.marks.push(vec![Mark::NOT_TAKEN, Mark::OMITTED]);
        self.mark_index.push(HashMap::new());
        self.items.len() - 1
    }

    /// Adds a student, or gives the index of the one with this id.
    pub fn add_student(&mut self, student: Student) -> usize {
        if let Some(&idx) = self.by_id.get(&student.id) {
            return idx;
        }
        let idx = self.students.len();
        self.by_id.insert(student.id.clone(), idx);
        self.students.push(student);
        self.rows.push(Vec::with_capacity(self.items.len()));
        idx
    }

    /// Sets one mark.
    ///
    /// # Errors
    /// [`TableError`] for points outside the item's range or a place that does not exist; the table is then unchanged.
    pub fn set(&mut self, student_idx: usize, item_idx: usize, mark: Mark) -> Result<(), TableError> {
        if student_idx >= self.rows.len() {
            return Err(TableError::NoSuchPlace);
        }
        let code = self.mark_place(item_idx, mark)?;
        self.set_place(student_idx, item_idx, code)
    }

    /// The place of a mark among the distinct marks of an item, for [`ResponseTable::set_place`]: many like marks are judged once.
    ///
    /// # Errors
    /// [`TableError`] for points outside the item's range or an item that does not exist; the table is then unchanged.
    pub fn mark_place(&mut self, item_idx: usize, mark: Mark) -> Result<u32, TableError> {
        let item = self.items.get(item_idx).ok_or(TableError::NoSuchPlace)?;
        Ok(match mark.state {
            MarkState::NotTaken => 0,
            MarkState::Omitted => 1,
            MarkState::Scored => {
                if let Some(points) = mark.points
                    && !(points.is_finite() && (0.0..=item.points).contains(&points))
                {
                    return Err(TableError::PointsOutOfRange { points, maximum: item.points });
                }
                let marks = &mut self.marks[item_idx];
                *self.mark_index[item_idx].entry((mark.answer.clone(), mark.points.map(f64::to_bits))).or_insert_with(
                    || {
                        marks.push(mark);
                        (marks.len() - 1) as u32
                    },
                )
            }
        })
    }

    /// Sets one mark by its place.
    ///
    /// # Errors
    /// [`TableError`] for a student, an item or a mark that does not exist; the table is then unchanged.
    pub fn set_place(&mut self, student_idx: usize, item_idx: usize, code: u32) -> Result<(), TableError> {
        if self.marks.get(item_idx).is_none_or(|marks| code as usize >= marks.len()) {
            return Err(TableError::NoSuchPlace);
        }
        let row = self.rows.get_mut(student_idx).ok_or(TableError::NoSuchPlace)?;
        if row.len() <= item_idx {
            row.resize(item_idx + 1, 0);
        }
        row[item_idx] = code;
        Ok(())
    }

    /// The mark of a student on an item (not taken where nothing was set).
    #[must_use]
    pub fn mark(&self, student_idx: usize, item_idx: usize) -> &Mark {
        static NOT_TAKEN: Mark = Mark::NOT_TAKEN;
        let code = self.mark_code(student_idx, item_idx);
        self.marks.get(item_idx).and_then(|m| m.get(code as usize)).unwrap_or(&NOT_TAKEN)
    }

    /// The place of that mark among [`ResponseTable::distinct_marks`] of the item.
    #[must_use]
    pub fn mark_code(&self, student_idx: usize, item_idx: usize) -> u32 {
        self.rows.get(student_idx).and_then(|r| r.get(item_idx)).copied().unwrap_or(0)
    }

    /// The distinct marks of an item; 0 is not taken, 1 omitted. Lets a caller judge each mark once.
    #[must_use]
    pub fn distinct_marks(&self, item_idx: usize) -> &[Mark] {
        self.marks.get(item_idx).map_or(&[], Vec::as_slice)
    }

    /// Works something out once for each distinct mark of each item: by item, then by place among its distinct marks.
    pub fn by_distinct_mark<T>(&self, of: impl Fn(&Item, &Mark) -> T) -> Vec<Vec<T>> {
        let of_item = |(item_idx, item)| self.distinct_marks(item_idx).iter().map(|mark| of(item, mark)).collect();
        self.items.iter().enumerate().map(of_item).collect()
    }

    /// Assessments, in order of reading.
    #[must_use]
    pub fn assessments(&self) -> &[Assessment] {
        &self.assessments
    }

    /// Items, in order of reading.
    #[must_use]
    pub fn items(&self) -> &[Item] {
        &self.items
    }

    /// Changes item facts (skills, meanings, key, points stay consistent only if no mark is set yet).
    pub fn items_mut(&mut self) -> &mut [Item] {
        &mut self.items
    }

    /// Students, in order of reading.
    #[must_use]
    pub fn students(&self) -> &[Student] {
        &self.students
    }

    /// Changes what is known of students; ids stay.
    pub fn student_mut(&mut self, student_idx: usize) -> Option<&mut Student> {
        self.students.get_mut(student_idx)
    }

    /// The index of a student.
    #[must_use]
    pub fn student_index(&self, id: &StudentId) -> Option<usize> {
        self.by_id.get(id).copied()
    }

    /// Number of students.
    #[must_use]
    pub fn n_students(&self) -> usize {
        self.students.len()
    }

    /// Number of items.
    #[must_use]
    pub fn n_items(&self) -> usize {
        self.items.len()
    }

    /// Adds what `other` says: its assessments, its items after the ones here (a label that is taken gets a number), its marks. Students
    /// that are not here yet come in or stay out as `strangers` says.
    ///
    /// # Errors
    /// [`TableError`] never for a table that was made by this type.
    pub fn join(&mut self, other: &ResponseTable, strangers: Strangers) -> Result<(), TableError> {
        let assessments: Vec<usize> = other
            .assessments
            .iter()
            .map(|a| {
                self.assessments.push(a.clone());
                self.assessments.len() - 1
            })
            .collect();
        let students: Vec<Option<usize>> = other
            .students
            .iter()
            .map(|s| match strangers {
                Strangers::ComeIn => Some(self.add_student(s.clone())),
                Strangers::StayOut => self.student_index(&s.id),
            })
            .collect();
        for (item_idx, item) in other.items.iter().enumerate() {
            let assessment = assessments.get(item.assessment).copied().unwrap_or(0);
            let label = self.free_label(&item.label);
            let new_idx = self.add_item(Item { assessment, label, ..item.clone() });
            for (old_student, student_idx) in students.iter().enumerate() {
                if let Some(student_idx) = *student_idx {
                    self.set(student_idx, new_idx, other.mark(old_student, item_idx).clone())?;
                }
            }
        }
        Ok(())
    }

    /// `Q1`, or `Q1 (2)`, `Q1 (3)` … where it is taken.
    fn free_label(&self, label: &str) -> String {
        let is_taken = |candidate: &str| self.items.iter().any(|i| i.label == candidate);
        if !is_taken(label) {
            return label.to_owned();
        }
        (2..).map(|n| format!("{label} ({n})")).find(|candidate| !is_taken(candidate)).unwrap_or_default()
    }

    /// Whether the student has any scored mark.
    #[must_use]
    pub fn has_scores(&self, student_idx: usize) -> bool {
        self.rows.get(student_idx).is_some_and(|row| row.iter().any(|&code| code > 1))
    }

    /// The same table with students in order of id, so that the order of rows in a sheet changes nothing.
    #[must_use]
    pub fn sorted_by_id(mut self) -> Self {
        let mut order: Vec<usize> = (0..self.students.len()).collect();
        order.sort_by(|&a, &b| self.students[a].id.cmp(&self.students[b].id));
        let mut students: Vec<Option<Student>> = self.students.into_iter().map(Some).collect();
        let mut rows: Vec<Option<Vec<u32>>> = self.rows.into_iter().map(Some).collect();
        self.students = order.iter().filter_map(|&i| students[i].take()).collect();
        self.rows = order.iter().filter_map(|&i| rows[i].take()).collect();
        self.by_id = self.students.iter().enumerate().map(|(i, s)| (s.id.clone(), i)).collect();
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn student(id: &str) -> Student {
        Student::unnamed(StudentId::parse(id).unwrap())
    }

    #[test]
    fn absent_is_not_scored_as_zero() {
        let mut table = ResponseTable::new();
        let check = table.add_assessment("check");
        let q1 = table.add_item(Item::new("Q1", check));
        let (a, b, c) =
            (table.add_student(student("1")), table.add_student(student("2")), table.add_student(student("3")));
        table.set(a, q1, Mark::scored(None, Some(0.0))).unwrap();
        table.set(b, q1, Mark::OMITTED).unwrap();
        assert_eq!(table.mark(a, q1).points, Some(0.0));
        assert_eq!(table.mark(b, q1).state, MarkState::Omitted);
        assert_eq!(table.mark(c, q1).state, MarkState::NotTaken);
        assert!(table.has_scores(a) && !table.has_scores(b));
    }

    #[test]
    fn points_over_the_maximum_are_refused() {
        let mut table = ResponseTable::new();
        let check = table.add_assessment("check");
        let q1 = table.add_item(Item::new("Q1", check));
        let a = table.add_student(student("1"));
        for points in [1.5, -1.0, f64::NAN] {
            assert!(table.set(a, q1, Mark::scored(None, Some(points))).is_err());
        }
        assert_eq!(table.mark(a, q1).state, MarkState::NotTaken);
    }

    #[test]
    fn a_table_put_together_from_its_parts_is_the_same_and_goes_on() {
        let mut table = ResponseTable::new();
        let check = table.add_assessment("check");
        let q1 = table.add_item(Item::new("Q1", check));
        let (a, _) = (table.add_student(student("1")), table.add_student(student("2")));
        table.set(a, q1, Mark::scored(Some("B".into()), Some(1.0))).unwrap();
        let parts = TableParts {
            assessments: table.assessments().to_vec(),
            items: table.items().to_vec(),
            marks: vec![table.distinct_marks(q1).to_vec()],
            students: table.students().to_vec(),
            codes: vec![vec![2], vec![]],
        };
        let mut again = ResponseTable::from_parts(parts.clone()).unwrap();
        assert_eq!(again.mark(0, 0), table.mark(0, 0));
        again.set(1, 0, Mark::scored(Some("B".into()), Some(1.0))).unwrap();
        assert_eq!((again.mark_code(1, 0), again.distinct_marks(0).len()), (2, 3));
        let refused = |parts: TableParts| ResponseTable::from_parts(parts).is_err();
        assert!(refused(TableParts { codes: vec![vec![3], vec![]], ..parts.clone() }));
        assert!(refused(TableParts { codes: vec![vec![2, 0, 0], vec![]], ..parts.clone() }));
        assert!(refused(TableParts { marks: vec![vec![]], ..parts.clone() }));
        assert!(refused(TableParts { students: vec![student("1"), student("1")], ..parts.clone() }));
        assert!(refused(TableParts { assessments: vec![], ..parts }));
    }

    #[test]
    fn sorting_keeps_each_row_with_its_student() {
        let mut table = ResponseTable::new();
        let check = table.add_assessment("check");
        let q1 = table.add_item(Item::new("Q1", check));
        for (id, points) in [("9", 1.0), ("1", 0.0)] {
            let s = table.add_student(student(id));
            table.set(s, q1, Mark::scored(None, Some(points))).unwrap();
        }
        let table = table.sorted_by_id();
        assert_eq!(table.students()[0].id.as_str(), "1");
        assert_eq!((table.mark(0, q1).points, table.mark(1, q1).points), (Some(0.0), Some(1.0)));
        assert_eq!(table.student_index(&StudentId::parse("9").unwrap()), Some(1));
    }
}
