//! The item models at hand.

use super::ItemModel;
use super::compile::compile;
use super::file::{Chunk, chunks};
use crate::skills::SkillCode;
use crate::tickets::draw::draw_item;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::sync::{Arc, OnceLock};

/// Files shipped in `config/item_models/`.
pub(super) const SHIPPED: &[(&str, &str)] = &[
    ("g3_operations.toml", include_str!("../../../../../config/item_models/g3_operations.toml")),
    ("g3_base_ten.toml", include_str!("../../../../../config/item_models/g3_base_ten.toml")),
    ("g3_fractions.toml", include_str!("../../../../../config/item_models/g3_fractions.toml")),
    ("g4_operations.toml", include_str!("../../../../../config/item_models/g4_operations.toml")),
    ("g4_base_ten.toml", include_str!("../../../../../config/item_models/g4_base_ten.toml")),
    ("g4_fractions.toml", include_str!("../../../../../config/item_models/g4_fractions.toml")),
    ("g5_base_ten.toml", include_str!("../../../../../config/item_models/g5_base_ten.toml")),
    ("g5_fractions.toml", include_str!("../../../../../config/item_models/g5_fractions.toml")),
    ("g5_scaling.toml", include_str!("../../../../../config/item_models/g5_scaling.toml")),
];

/// What is wrong in a file of item models.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ModelFault {
    /// File name as given.
    pub file: String,
    /// 1-based line.
    pub line: usize,
    /// Slug of the model, where it could be read.
    pub slug: Option<String>,
    /// What is wrong: part of a sentence.
    pub reason: String,
}

impl fmt::Display for ModelFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, line {}: ", self.file, self.line)?;
        if let Some(slug) = &self.slug {
            write!(f, "model {slug} is left out, because ")?;
        }
        write!(f, "{}.", self.reason)
    }
}

/// Compiled item models. Cheap to clone.
#[derive(Debug, Clone, Default)]
pub struct ModelLibrary {
    models: Arc<[ItemModel]>,
}

impl ModelLibrary {
    /// The models shipped in `config/item_models/`, compiled once a process.
    ///
    /// A test holds that none of them has a fault (`every_shipped_model_compiles`).
    #[must_use]
    pub fn builtin() -> Self {
        static BUILTIN: OnceLock<ModelLibrary> = OnceLock::new();
        BUILTIN.get_or_init(|| Self::parse(SHIPPED).0).clone()
    }

    /// Compiles files, given as name and text. A model with a fault is left out; the others stay.
    ///
    /// Of two models with one slug the first is kept.
    #[must_use]
    pub fn parse(files: &[(&str, &str)]) -> (Self, Vec<ModelFault>) {
        let mut models: Vec<ItemModel> = Vec::new();
        let mut faults = Vec::new();
        for (file, text) in files {
            let (chunks, stray) = chunks(text);
            faults.extend(stray.map(|line| stray_text(file, line)));
            for chunk in &chunks {
                match read_model(file, chunk, &models) {
                    Ok(model) => models.push(model),
                    Err(fault) => faults.push(fault),
                }
            }
        }
        (ModelLibrary { models: models.into() }, faults)
    }

    /// Every model, in order of file and line.
    pub fn iter(&self) -> impl Iterator<Item = &ItemModel> {
        self.models.iter()
    }

    /// The model of a slug.
    #[must_use]
    pub fn get(&self, slug: &str) -> Option<&ItemModel> {
        self.models.iter().find(|m| m.slug() == slug)
    }

    /// Models of a skill. For a standard with lettered parts, those of its parts too: `5.NF.B.5` gives `5.NF.B.5a`.
    #[must_use]
    pub fn models_for(&self, skill: &SkillCode) -> Vec<&ItemModel> {
        self.models.iter().filter(|m| m.skill() == skill || is_part_of(m.skill(), skill)).collect()
    }

    /// Skills that have a model, in order of code.
    #[must_use]
    pub fn covered_skills(&self) -> BTreeSet<SkillCode> {
        self.models.iter().map(|m| m.skill().clone()).collect()
    }

    /// How many models each skill has.
    #[must_use]
    pub fn coverage(&self) -> BTreeMap<SkillCode, usize> {
        let mut n_models = BTreeMap::new();
        for model in self.models.iter() {
            *n_models.entry(model.skill().clone()).or_insert(0) += 1;
        }
        n_models
    }

    /// Draws from each model so many times; a fault for each model from which some draw does not come.
    #[must_use]
    pub fn try_draws(&self, n_draws: u64) -> Vec<ModelFault> {
        let fault_of = |model: &ItemModel| {
            let error = (0..n_draws).find_map(|seed| draw_item(model, seed).err())?;
            let (file, line) = model.place();
            let (file, slug) = (file.to_owned(), Some(model.slug().to_owned()));
            Some(ModelFault { file, line, slug, reason: error.reason() })
        };
        self.models.iter().filter_map(fault_of).collect()
    }
}

/// Whether one code is a lettered part of another.
fn is_part_of(part: &SkillCode, whole: &SkillCode) -> bool {
    let Some(letter) = part.as_str().strip_prefix(whole.as_str()) else { return false };
    whole.grade().is_some() && letter.len() == 1 && letter.chars().all(|c| c.is_ascii_lowercase())
}

fn stray_text(file: &str, line: usize) -> ModelFault {
    let reason = "text before the first [[model]] belongs to no model".to_owned();
    ModelFault { file: file.to_owned(), line, slug: None, reason }
}

fn read_model(file: &str, chunk: &Chunk<'_>, known: &[ItemModel]) -> Result<ItemModel, ModelFault> {
    let fault = |at: usize, slug: Option<&str>, reason: String| ModelFault {
        file: file.to_owned(),
        line: chunk.line(at),
        slug: slug.map(str::to_owned),
        reason,
    };
    let raw = chunk.read().map_err(|(span, reason)| fault(span.start, None, reason))?;
    let slug = raw.slug.get_ref();
    if let Some(first) = known.iter().find(|m| m.slug() == slug) {
        let (first_file, first_line) = first.place();
        let reason = format!("{first_file}, line {first_line}, has a model of that name already");
        return Err(fault(raw.slug.span().start, Some(slug), reason));
    }
    compile(&raw, file, chunk.line(0)).map_err(|e| fault(e.at, Some(slug), e.reason))
}
