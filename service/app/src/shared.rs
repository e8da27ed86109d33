//! Groups and needs of a plan as text files, for those who work with other tools or outside the team.
//!
//! In:  a plan, how much is said of children, the setup's smallest count. Out: files by name, with a dictionary of their columns.
//! Not here: what stands in them (`sheaf-sheets`), where they go (`cli`).

use crate::error::AppError;
use crate::knowledge::Knowledge;
use sheaf_core::plan::Plan;
pub use sheaf_sheets::shared::{Naming, SharedFile};

/// The files of a plan.
///
/// # Errors
/// [`AppError`] of kind our fault where a writer fails.
pub fn shared_files(
    knowledge: &Knowledge,
    plan: &Plan,
    naming: Naming,
    smallest: usize,
) -> Result<Vec<SharedFile>, AppError> {
    sheaf_sheets::shared::shared_files(plan, &knowledge.catalogue, naming, smallest).map_err(AppError::our_fault)
}
