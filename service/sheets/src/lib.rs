//! Spreadsheets: score sheets in, the staff workbook out.
//!
//! Keeps: only `read/` names calamine, only `write/` rust_xlsxwriter, only `graft/` copies parts of packages (an
//! acceptance test looks). Cells become domain types here, once.
//! Not here: what the answers mean (`sheaf-core`), where files lie (`sheaf-app`).
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::panic))]

pub mod graft;
pub mod read;
pub mod shared;
pub mod write;
