//! One file a command, and the reading of files that they share.
//!
//! Files are read whole; a missing one is an input error that names it. Names are shown without folders.

pub mod check;
pub mod cluster;
pub mod plan;

use crate::run::Stop;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::headless::SourceFile;
use sheaf_app::setup::parse_school;
use sheaf_core::roster::School;
use std::path::{Path, PathBuf};

/// A file that was read.
pub struct Loaded {
    name: String,
    bytes: Vec<u8>,
}

impl Loaded {
    pub fn source(&self) -> SourceFile<'_> {
        SourceFile { name: &self.name, bytes: &self.bytes }
    }
}

/// Largest file that is opened at all; the reader has its own, lower limit and says so in its own words.
const OPENED_UP_TO: u64 = 512 * 1024 * 1024;

pub fn load(path: &Path) -> Result<Loaded, Stop> {
    let name = path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
    let fault = |code: &'static str, what: String| Stop::Job(AppError::new(ErrorKind::Input, code, what));
    let size = std::fs::metadata(path)
        .map_err(|e| fault("file-missing", format!("{} cannot be opened: {e}.", path.display())))?;
    if size.is_dir() {
        return Err(fault("file-is-a-folder", format!("{} is a folder; name the file in it.", path.display())));
    }
    if size.len() > OPENED_UP_TO {
        return Err(fault("file-too-large", format!("{name} is too large to be a score sheet.")));
    }
    let bytes =
        std::fs::read(path).map_err(|e| fault("file-missing", format!("{} cannot be opened: {e}.", path.display())))?;
    Ok(Loaded { name, bytes })
}

pub fn load_all(paths: &[PathBuf]) -> Result<Vec<Loaded>, Stop> {
    paths.iter().map(|p| load(p)).collect()
}

pub fn load_school(path: Option<&PathBuf>) -> Result<School, Stop> {
    let Some(path) = path else { return Ok(School::default()) };
    let loaded = load(path)?;
    let text = String::from_utf8(loaded.bytes).map_err(|_| {
        Stop::Job(AppError::new(
            ErrorKind::Input,
            "setup-mistake",
            format!("{} is not a text file in UTF-8; save it as one.", loaded.name),
        ))
    })?;
    Ok(parse_school(&loaded.name, &text)?)
}
