//! Files that a command reads, whole, with their names without folders.
//!
//! Keeps: a file that cannot be opened is one sentence that names it (`a_missing_file_is_named`); of a huge one no more is
//! held than the reader needs to refuse it. Not here: what is in them (`sheaf-app`).

use crate::output::reason;
use crate::run::Stop;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::headless::{PerhapsAcross, ReadLimits, SourceFile};
use sheaf_app::knowledge::Knowledge;
use sheaf_app::weeks::{GivenFile, SchoolSetup};
use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

/// A file that was read.
pub struct Loaded {
    pub name: String,
    bytes: Vec<u8>,
}

impl Loaded {
    pub fn source(&self) -> SourceFile<'_> {
        SourceFile { name: &self.name, bytes: &self.bytes }
    }

    /// The file, for a job that keeps it.
    pub fn into_given(self) -> GivenFile {
        GivenFile { name: self.name, bytes: self.bytes }
    }

    /// The content of a text file.
    pub fn into_text(self) -> Result<String, Stop> {
        String::from_utf8(self.bytes)
            .map_err(|_| fault("not-a-text", format!("{} is not a text file in UTF-8; save it as one.", self.name)))
    }
}

fn fault(code: &'static str, what: String) -> Stop {
    Stop::Job(AppError::new(ErrorKind::Input, code, what))
}

/// Reads a file.
pub fn load(path: &Path) -> Result<Loaded, Stop> {
    let name = path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
    if path.is_dir() {
        return Err(fault("file-is-a-folder", format!("{} is a folder; name the file in it.", path.display())));
    }
    let bytes = read_limited(path)
        .map_err(|e| fault("file-not-opened", format!("{} cannot be opened: {}.", path.display(), reason(&e))))?;
    Ok(Loaded { name, bytes })
}

/// One byte over the limit is enough for the reader to see that it is too large.
fn read_limited(path: &Path) -> std::io::Result<Vec<u8>> {
    let most = ReadLimits::default().max_bytes as u64 + 1;
    let mut bytes = Vec::new();
    File::open(path)?.take(most).read_to_end(&mut bytes)?;
    Ok(bytes)
}

pub fn load_all(paths: &[PathBuf]) -> Result<Vec<Loaded>, Stop> {
    paths.iter().map(|p| load(p)).collect()
}

pub fn load_if_given(path: Option<&PathBuf>) -> Result<Option<Loaded>, Stop> {
    path.map(|p| load(p)).transpose()
}

/// What the option that students run across means.
pub fn across_if(is_said: bool) -> PerhapsAcross {
    if is_said { PerhapsAcross::IsTurned } else { PerhapsAcross::IsOffered }
}

/// The school's setup with its text, or the built-in one.
pub fn load_setup(path: Option<&PathBuf>) -> Result<SchoolSetup, Stop> {
    let Some(loaded) = load_if_given(path)? else { return Ok(SchoolSetup::builtin()?) };
    let name = loaded.name.clone();
    Ok(SchoolSetup::parse(&name, &loaded.into_text()?)?)
}

/// The setup, with a school's own item models and wrong ideas; what of them is left out is told.
pub fn load_setup_with(path: Option<&PathBuf>, own: &[PathBuf], err: &mut dyn Write) -> Result<SchoolSetup, Stop> {
    let setup = load_setup(path)?;
    if own.is_empty() { Ok(setup) } else { Ok(setup.knowing(load_knowledge(own, err)?)) }
}

/// What is shipped, and what a school's own files add.
pub fn load_knowledge(own: &[PathBuf], err: &mut dyn Write) -> Result<Knowledge, Stop> {
    let texts = load_all(own)?.into_iter().map(|l| Ok((l.name.clone(), l.into_text()?)));
    let (knowledge, left_out) = Knowledge::builtin()?.with_own(&texts.collect::<Result<Vec<_>, Stop>>()?)?;
    for what in left_out {
        writeln!(err, "  {what}")?;
    }
    Ok(knowledge)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message(stop: &Stop) -> String {
        assert_eq!(stop.exit_code(), 3);
        stop.message().to_owned()
    }

    #[test]
    fn a_missing_file_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("week 1.xlsx");
        let said = message(&load(&path).err().unwrap());
        assert!(said.contains("week 1.xlsx cannot be opened: no such file or directory."), "{said}");
        assert!(message(&load(folder.path()).err().unwrap()).contains("is a folder"));
    }

    #[test]
    fn a_setup_that_is_no_text_is_an_input_error() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("school.toml");
        std::fs::write(&path, [0xff, 0xfe, 0x00]).unwrap();
        assert!(message(&load_setup(Some(&path)).unwrap_err()).contains("school.toml is not a text file in UTF-8"));
    }
}
