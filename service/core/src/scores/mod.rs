//! Who answered what: assessments, items and one mark for each student and item.
//!
//! Out: [`ResponseTable`], shape (n_students, n_items). Absent, omitted and wrong are three different marks and stay so
//! (`absent_is_not_scored_as_zero`). Each item keeps its distinct marks once and a small index per student, so that
//! 20,000 students × 60 items take about 5 MB.
//! Not here: reading cells (`sheaf-sheets`), what a mark says about a skill (`profile`).

mod item;
mod table;

pub use item::{Item, ItemKind, OptionMeaning, score_answer};
pub use table::{Assessment, Mark, MarkState, ResponseTable, Strangers, TableError, TableParts};
