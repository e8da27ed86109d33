//! The item models at hand.
//! Files are indexed at the start and compiled when a model is first asked for, so that a command starts at once.
//! Lookup is by slug and by skill, in the order of the files.

use super::compile::compile;
use super::file::{Chunk, chunks};
use super::{ItemModel, Level};
use crate::profile::ErrorCatalogue;
use crate::skills::{SkillCode, SkillGraph};
use crate::tickets::TicketItem;
use crate::tickets::draw::{draw_item, draw_item_at, is_at};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::sync::{Arc, OnceLock};

/// Files shipped in `config/item_models/`.
pub(super) const SHIPPED: &[(&str, &str)] = &[
    ("g3_operations.toml", include_str!("../../../../../config/item_models/g3_operations.toml")),
    ("g3_base_ten.toml", include_str!("../../../../../config/item_models/g3_base_ten.toml")),
    ("g3_fractions.toml", include_str!("../../../../../config/item_models/g3_fractions.toml")),
    ("g3_measurement.toml", include_str!("../../../../../config/item_models/g3_measurement.toml")),
    ("g3_area.toml", include_str!("../../../../../config/item_models/g3_area.toml")),
    ("g3_geometry.toml", include_str!("../../../../../config/item_models/g3_geometry.toml")),
    ("g4_operations.toml", include_str!("../../../../../config/item_models/g4_operations.toml")),
    ("g4_base_ten.toml", include_str!("../../../../../config/item_models/g4_base_ten.toml")),
    ("g4_fractions.toml", include_str!("../../../../../config/item_models/g4_fractions.toml")),
    ("g4_measurement.toml", include_str!("../../../../../config/item_models/g4_measurement.toml")),
    ("g4_geometry.toml", include_str!("../../../../../config/item_models/g4_geometry.toml")),
    ("g5_operations.toml", include_str!("../../../../../config/item_models/g5_operations.toml")),
    ("g5_base_ten.toml", include_str!("../../../../../config/item_models/g5_base_ten.toml")),
    ("g5_fractions.toml", include_str!("../../../../../config/item_models/g5_fractions.toml")),
    ("g5_scaling.toml", include_str!("../../../../../config/item_models/g5_scaling.toml")),
    ("g5_measurement.toml", include_str!("../../../../../config/item_models/g5_measurement.toml")),
    ("g5_geometry.toml", include_str!("../../../../../config/item_models/g5_geometry.toml")),
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

/// Item models at hand. Cheap to clone; clones share what is compiled.
///
/// Shipped models are compiled when they are first asked for, so that a command that draws no item pays nothing.
#[derive(Debug, Clone, Default)]
pub struct ModelLibrary {
    entries: Arc<[Entry]>,
}

/// One model, compiled or still text.
#[derive(Debug, Clone)]
struct Entry {
    slug: String,
    skill: SkillCode,
    text: Option<(&'static str, Chunk<'static>)>,
    model: OnceLock<Option<ItemModel>>,
}

impl Entry {
    fn compiled(model: ItemModel) -> Self {
        let (slug, skill) = (model.slug().to_owned(), model.skill().clone());
        Entry { slug, skill, text: None, model: OnceLock::from(Some(model)) }
    }

    /// A shipped model by the two lines that name it.
    fn shipped(file: &'static str, chunk: Chunk<'static>) -> Option<Self> {
        let slug = chunk.named("slug")?.to_owned();
        let skill = SkillCode::parse(chunk.named("skill")?)?;
        Some(Entry { slug, skill, text: Some((file, chunk)), model: OnceLock::new() })
    }

    fn model(&self) -> Option<&ItemModel> {
        let compile = || self.text.as_ref().and_then(|(file, chunk)| read_model(file, chunk, &[]).ok());
        self.model.get_or_init(compile).as_ref()
    }
}

impl ModelLibrary {
    /// The models shipped in `config/item_models/`.
    ///
    /// A test holds that none of them has a fault (`every_shipped_model_compiles`).
    #[must_use]
    pub fn builtin() -> Self {
        static BUILTIN: OnceLock<ModelLibrary> = OnceLock::new();
        let entries_of = |(file, text): &(&'static str, &'static str)| {
            let file = *file;
            chunks(text).0.into_iter().filter_map(move |chunk| Entry::shipped(file, chunk))
        };
        BUILTIN.get_or_init(|| ModelLibrary { entries: SHIPPED.iter().flat_map(entries_of).collect() }).clone()
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
        (ModelLibrary { entries: models.into_iter().map(Entry::compiled).collect() }, faults)
    }

    /// With the models of other files beside its own. A model with a fault, or one named like a model that is there, is left out.
    #[must_use]
    pub fn with(&self, files: &[(&str, &str)]) -> (Self, Vec<ModelFault>) {
        let (other, mut faults) = ModelLibrary::parse(files);
        let mut entries: Vec<Entry> = self.entries.to_vec();
        for entry in other.entries.iter() {
            match (self.get(&entry.slug), entry.model()) {
                (None, Some(_)) => entries.push(entry.clone()),
                (Some(known), Some(model)) => {
                    let (first_file, first_line) = known.place();
                    let reason = format!("{first_file}, line {first_line}, has a model of that name already");
                    faults.push(fault_of(model, reason));
                }
                (_, None) => {}
            }
        }
        (ModelLibrary { entries: entries.into() }, faults)
    }

    /// Without the models of these names.
    #[must_use]
    pub fn without(&self, slugs: &BTreeSet<String>) -> Self {
        ModelLibrary { entries: self.entries.iter().filter(|e| !slugs.contains(&e.slug)).cloned().collect() }
    }

    /// Every model, in order of file and line.
    pub fn iter(&self) -> impl Iterator<Item = &ItemModel> {
        self.entries.iter().filter_map(Entry::model)
    }

    /// The model of a slug.
    #[must_use]
    pub fn get(&self, slug: &str) -> Option<&ItemModel> {
        self.entries.iter().find(|e| e.slug == slug).and_then(Entry::model)
    }

    /// Models of a skill. For a standard with lettered parts, those of its parts too: `5.NF.B.5` gives `5.NF.B.5a`.
    #[must_use]
    pub fn models_for(&self, skill: &SkillCode) -> Vec<&ItemModel> {
        let is_asked = |e: &&Entry| e.skill == *skill || is_part_of(&e.skill, skill);
        self.entries.iter().filter(is_asked).filter_map(Entry::model).collect()
    }

    /// Skills that have a model, in order of code.
    #[must_use]
    pub fn covered_skills(&self) -> BTreeSet<SkillCode> {
        self.entries.iter().map(|e| e.skill.clone()).collect()
    }

    /// How many models each skill has.
    #[must_use]
    pub fn coverage(&self) -> BTreeMap<SkillCode, usize> {
        let mut n_models = BTreeMap::new();
        for entry in self.entries.iter() {
            *n_models.entry(entry.skill.clone()).or_insert(0) += 1;
        }
        n_models
    }

    /// A fault for each model that names a wrong idea or a skill that the lists do not have.
    #[must_use]
    pub fn unknown_names(&self, catalogue: &ErrorCatalogue, graph: &SkillGraph) -> Vec<ModelFault> {
        let unknown = |model: &ItemModel| {
            let code = model.patterns().iter().find(|code| catalogue.get(code).is_none());
            let of_skill = || graph.get(model.skill()).is_none().then(|| model.skill().to_string());
            let reason = match code {
                Some(code) => format!("the wrong idea `{code}` is not in the list of wrong ideas"),
                None => format!("the skill {} is not in the list of skills", of_skill()?),
            };
            Some(fault_of(model, reason))
        };
        self.iter().filter_map(unknown).collect()
    }

    /// Draws from each model so many times, at each of its levels; a fault for each model from which some draw does not come,
    /// whose conditions for a level hold for all of its items, or which calls one item both easier and harder.
    #[must_use]
    pub fn try_draws(&self, n_draws: u64) -> Vec<ModelFault> {
        let of_draws = |model: &ItemModel| {
            let reason = draws_told(model, n_draws).err().or_else(|| level_fault(model, n_draws))?;
            Some(fault_of(model, reason))
        };
        self.iter().filter_map(of_draws).collect()
    }
}

fn fault_of(model: &ItemModel, reason: String) -> ModelFault {
    let (file, line) = model.place();
    ModelFault { file: file.to_owned(), line, slug: Some(model.slug().to_owned()), reason }
}

const LEVELS: [(Level, &str); 2] = [(Level::Easier, "easier"), (Level::Harder, "harder")];

/// Every draw comes, at every level that the model has; else why not.
fn draws_told(model: &ItemModel, n_draws: u64) -> Result<(), String> {
    (0..n_draws).try_for_each(|seed| draw_item(model, seed).map(drop)).map_err(|e| e.reason())?;
    for (level, word) in LEVELS.iter().filter(|(level, _)| model.has_level(*level)) {
        let drawn = (0..n_draws).try_for_each(|seed| draw_item_at(model, seed, *level).map(drop));
        drawn.map_err(|e| format!("of its {word} items, {}", e.reason()))?;
    }
    Ok(())
}

/// What is wrong with a level that every draw comes of.
fn level_fault(model: &ItemModel, n_draws: u64) -> Option<String> {
    let drawn: Vec<_> = (0..n_draws).filter_map(|seed| draw_item(model, seed).ok()).collect();
    let at = |level: Level| move |item: &TicketItem| is_at(model, &item.params, level).unwrap_or(false);
    for (level, word) in LEVELS {
        if !drawn.is_empty() && drawn.iter().all(at(level)) {
            return Some(format!("its conditions for {word} items hold for all of them"));
        }
    }
    let is_both = |item: &&TicketItem| at(Level::Easier)(item) && at(Level::Harder)(item);
    drawn.iter().find(is_both).map(|_| "one item can be easier and harder at once".to_owned())
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
