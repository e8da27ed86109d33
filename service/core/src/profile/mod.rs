//! From answers to what each student holds, with its uncertainty; wrong ideas; item quality.
//!
//! Not here: who sits with whom (`grouping`), reading sheets (`sheaf-sheets`).

mod catalogue;

pub use catalogue::{CatalogueError, ErrorCatalogue, ErrorPattern};
