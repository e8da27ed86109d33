//! The numbers of Sheaf: from who answered what to who sits with whom, where, and what ends the session.
//!
//! Data goes one way: `scores` and `roster` in, through `profile`, `grouping`, `rotation` and `tickets`,
//! to one [`plan::Plan`] that every page, print, workbook and JSON only shows.
//!
//! Keeps: no files, SQL, HTTP, clock, environment or global randomness anywhere in this crate
//! (`clippy.toml` beside this crate bans them; `the_core_names_no_outside_world` in the acceptance tests looks).
//! The same input and seed give the same value.
//!
//! Not here: cells and workbooks (`sheaf-sheets`), weeks kept (`sheaf-store`), jobs (`sheaf-app`), pages (`sheaf-web`).
#![deny(missing_docs)]
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::panic))]

pub mod finding;
pub mod grouping;
pub mod movement;
pub mod numeric;
pub mod plan;
pub mod profile;
pub mod roster;
pub mod rotation;
pub mod scores;
pub mod simulation;
pub mod skills;
pub mod tickets;

/// A table of numbers as the numerical methods take it, shape (n_rows, n_columns); `None` where the lengths do not agree.
#[must_use]
pub fn numeric_table(values: &[f64], n_rows: usize, n_columns: usize) -> Option<ndarray::ArrayView2<'_, f64>> {
    ndarray::ArrayView2::from_shape((n_rows, n_columns), values).ok()
}
