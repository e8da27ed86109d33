//! What Sheaf knows before it sees a sheet: skills, wrong ideas and item models, as shipped in `config/`.
//! Built once at the start of a command or of the service; nothing changes it afterwards.

use crate::error::AppError;
use sheaf_core::profile::ErrorCatalogue;
use sheaf_core::skills::SkillGraph;
use sheaf_core::tickets::ModelLibrary;

/// Skills, wrong ideas and item models.
#[derive(Debug, Clone)]
pub struct Knowledge {
    /// Skills.
    pub graph: SkillGraph,
    /// Wrong ideas.
    pub catalogue: ErrorCatalogue,
    /// Item models.
    pub item_models: ModelLibrary,
}

impl Knowledge {
    /// What is shipped.
    ///
    /// # Errors
    /// [`AppError`] of kind "our fault" if a shipped file does not read; a test holds that it does.
    pub fn builtin() -> Result<Self, AppError> {
        Ok(Knowledge {
            graph: SkillGraph::builtin().map_err(AppError::our_fault)?,
            catalogue: ErrorCatalogue::builtin().map_err(AppError::our_fault)?,
            item_models: ModelLibrary::builtin(),
        })
    }
}
