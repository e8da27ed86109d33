//! Skills and what comes before what.
//!
//! Out: [`SkillCode`], one normal form for the many spellings of a standard's code; any other code stays as given.
//! [`SkillGraph`]: names, grades and direct prerequisites, from a CSV that a school may replace
//! (`config/skills/`); codes that the graph does not know are allowed everywhere and have no prerequisites.
//! Not here: what a student holds (`profile`).

mod code;
mod graph;

pub use code::SkillCode;
pub use graph::{Skill, SkillGraph, SkillGraphError};
