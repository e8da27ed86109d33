//! What Sheaf knows before it sees a sheet: skills, wrong ideas and item models, as shipped in `config/`, and a school's own.
//! Built once at the start of a command or of the service; nothing changes it afterwards.
//!
//! Keeps: a fault in a file of a school costs its model or row alone, and is told (`a_school_adds_ideas_and_models_of_its_own`).

use crate::error::{AppError, ErrorKind};
use sheaf_core::profile::ErrorCatalogue;
use sheaf_core::skills::SkillGraph;
use sheaf_core::tickets::ModelLibrary;
use std::collections::BTreeSet;

/// Draws tried of each model of a school when the program starts.
const TRIED_DRAWS: u64 = 20;

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

    /// With a school's own files beside what is shipped: item models (`.toml`) and wrong ideas (`.csv`), each a name and its text.
    /// Gives a sentence for everything that is left out.
    ///
    /// # Errors
    /// [`AppError`] of kind input for a file of another kind, and for a list of wrong ideas that does not read.
    pub fn with_own(mut self, files: &[(String, String)]) -> Result<(Self, Vec<String>), AppError> {
        let is = |name: &str, ending: &str| name.to_lowercase().ends_with(ending);
        for (name, text) in files.iter().filter(|(name, _)| !is(name, ".toml")) {
            if !is(name, ".csv") {
                let what = format!("{name} is neither a file of item models (.toml) nor a list of wrong ideas (.csv).");
                return Err(AppError::new(ErrorKind::Input, "own-file-of-another-kind", what));
            }
            let own = ErrorCatalogue::parse(text)
                .map_err(|e| AppError::new(ErrorKind::Input, "ideas-not-read", format!("{name}: {e}.")))?;
            self.catalogue = self.catalogue.with(own);
        }
        let models: Vec<(&str, &str)> = files
            .iter()
            .filter(|(name, _)| is(name, ".toml"))
            .map(|(name, text)| (name.as_str(), text.as_str()))
            .collect();
        let (own, _) = ModelLibrary::parse(&models);
        let (library, mut faults) = self.item_models.with(&models);
        let mut unsound = own.unknown_names(&self.catalogue, &self.graph);
        unsound.extend(own.try_draws(TRIED_DRAWS));
        let shipped = |slug: &String| self.item_models.get(slug).is_some();
        let slugs: BTreeSet<String> = unsound.iter().filter_map(|f| f.slug.clone()).filter(|s| !shipped(s)).collect();
        self.item_models = library.without(&slugs);
        faults.extend(unsound);
        Ok((self, faults.iter().map(ToString::to_string).collect()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_core::skills::SkillCode;

    const IDEAS: &str =
        "code,skills,idea,look_for,source\nour-idea,4.NF.A.1,counts lines for spaces,5 lines read as fifths,ours\n";
    const MODEL: &str = r#"
[[model]]
slug = "our-model"
version = 1
skill = "4.NF.A.1"
type = "numeric"
stem = "{a}/2 = ?/4"
params = { a = "1..9" }
key = { value = "2*a" }
wrong = [{ value = "a+2", pattern = "our-idea" }]
easier = "small"
harder = "large"
"#;

    fn file(name: &str, text: &str) -> (String, String) {
        (name.to_owned(), text.to_owned())
    }

    #[test]
    fn a_school_adds_ideas_and_models_of_its_own() {
        let shipped = Knowledge::builtin().unwrap();
        let n_shipped = shipped.item_models.iter().count();
        let clash = MODEL.replace("our-model", "g4-equivalent");
        let unknown = MODEL.replace("our-model", "odd").replace("our-idea", "no-such-idea");
        let files = [file("ideas.csv", IDEAS), file("own.toml", &format!("{MODEL}{unknown}{clash}"))];
        let (own, told) = shipped.with_own(&files).unwrap();
        assert_eq!(own.catalogue.idea("our-idea"), "counts lines for spaces");
        assert_eq!(own.item_models.iter().count(), n_shipped + 1);
        let skill = SkillCode::parse("4.NF.A.1").unwrap();
        assert!(own.item_models.models_for(&skill).iter().any(|m| m.slug() == "our-model"));
        assert_eq!(told.len(), 2, "{told:?}");
        assert!(told.iter().any(|t| t.starts_with("own.toml, line 26: model g4-equivalent is left out")), "{told:?}");
        assert!(told.iter().any(|t| t.contains("`no-such-idea` is not in the list")), "{told:?}");
        for odd in [file("own.xlsx", ""), file("ideas.csv", "code,idea\nx,y\n")] {
            assert_eq!(Knowledge::builtin().unwrap().with_own(&[odd]).unwrap_err().kind, ErrorKind::Input);
        }
    }
}
