//! Our sheets in the staff's own workbook, everything else as it was.
//!
//! In:  the staff's .xlsx or .xlsm as bytes, and our sheets before they are packed. Out: one workbook; or the reason why theirs is
//! left alone. Only content types, the workbook part, its relationships and the styles change, by addition; each other part is
//! copied packed as it is. Sheets that this program added the week before are replaced (`mark`), and the order of
//! calculation loses their cells.
//! Keeps: 1. all other parts are the same bytes, in the same order (`only_four_parts_change` in the acceptance tests)
//!        2. a second week replaces the first and adds no formats (`a_second_week_replaces_the_first`)
//!        3. the same two workbooks give the same bytes (`the_same_workbooks_give_the_same_bytes`)
//!        4. everything is decided before the first byte is written: [`Graft::prepare`] decides, [`Graft::write`] copies
//!        5. large sheets of theirs are never unpacked, ours pass through row by row and are packed once, side by side
//! Not here: what our sheets show (`write` beside this folder), what is told to a person (`sheaf-app`).
//! Source: ECMA-376, parts 1 (18, SpreadsheetML) and 2 (packages).

mod alone;
mod attach;
mod book;
mod calc_chain;
mod coding;
mod copy;
mod error;
mod form;
mod mark;
mod names;
mod naming;
mod ours;
mod outline;
mod package;
mod prepare;
mod refuse;
mod relations;
mod retarget;
mod rewrite;
mod rows;
mod splice;
mod styles;
mod tables;
mod types;

#[cfg(test)]
mod hand_made;
#[cfg(test)]
mod tests;

pub use alone::write_alone;
pub use copy::Graft;
pub(crate) use copy::replaced;
pub use error::GraftError;
pub use form::form_by_content;
pub use mark::our_sheets;
pub use package::GraftLimits;
pub use refuse::Form;
pub(crate) use splice::escaped;
