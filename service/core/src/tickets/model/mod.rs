//! Item models: one kind of question with parameters, its key, and the wrong rule behind each wrong option.
//!
//! In:  TOML texts as in `config/item_models/README.md`.
//! Out: [`ItemModel`], compiled, and a [`ModelFault`] for everything that could not be, with file and line.
//! Keeps: a fault in one model leaves the others (`a_faulty_model_is_told_by_line_and_the_others_load`).
//! Not here: drawing (`draw`), choice of models for a ticket (`assemble`).

mod compile;
mod file;
mod library;
mod spec;

pub use library::{ModelFault, ModelLibrary};
pub(super) use spec::{Body, ChoiceSpec, Face, Lever, OptionSpec, Param, ParamRange, PartSpec, RowSpec};
pub use spec::{ItemModel, Level};

#[cfg(test)]
mod tests;
