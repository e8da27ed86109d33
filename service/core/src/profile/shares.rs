//! The share of an item's points that a mark is worth, looked up once for each distinct mark.
//!
//! Out: 0 to 1, or `None` where the mark says nothing: not taken, omitted (unless the setup counts it as wrong), or a letter without a key.
//! Keeps: `omitted_says_nothing_unless_the_setup_says_wrong`.

use crate::roster::OmittedCounts;
use crate::scores::{MarkState, ResponseTable};

/// Shares by item and mark.
#[derive(Debug)]
pub struct ShareTable {
    by_item: Vec<Vec<Option<f64>>>,
}

impl ShareTable {
    /// Looks up every distinct mark of the table.
    #[must_use]
    pub fn new(table: &ResponseTable, omitted: OmittedCounts) -> Self {
        let by_item = table.by_distinct_mark(|item, mark| match mark.state {
            MarkState::NotTaken => None,
            MarkState::Omitted => (omitted == OmittedCounts::Wrong).then_some(0.0),
            MarkState::Scored => mark.points.map(|p| (p / item.points).clamp(0.0, 1.0)),
        });
        ShareTable { by_item }
    }

    /// The share that a student got of an item, or `None`.
    #[must_use]
    pub fn share(&self, table: &ResponseTable, student: usize, item: usize) -> Option<f64> {
        self.by_item.get(item)?.get(table.mark_code(student, item) as usize).copied().flatten()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::roster::{Student, StudentId};
    use crate::scores::{Item, Mark};

    #[test]
    fn omitted_says_nothing_unless_the_setup_says_wrong() {
        let mut table = ResponseTable::new();
        let check = table.add_assessment("check");
        let item = table.add_item(Item { points: 2.0, ..Item::new("Q1", check) });
        let s = table.add_student(Student::unnamed(StudentId::parse("1").unwrap()));
        table.set(s, item, Mark::OMITTED).unwrap();
        assert_eq!(ShareTable::new(&table, OmittedCounts::Nothing).share(&table, s, item), None);
        assert_eq!(ShareTable::new(&table, OmittedCounts::Wrong).share(&table, s, item), Some(0.0));
        table.set(s, item, Mark::scored(None, Some(1.0))).unwrap();
        assert_eq!(ShareTable::new(&table, OmittedCounts::Nothing).share(&table, s, item), Some(0.5));
    }
}
