//! The project's own files, read from disk: the one place of these tests that touches it.
//!
//! Out: [`SourceFile`]s with paths relative to the project's root, `/` between the parts, in order of path.
//! Keeps: build products, hidden folders and Python's caches are no part of the project and are left out.
//! Not here: any rule.

use std::fs;
use std::path::{Path, PathBuf};

/// A file of the project.
#[derive(Debug, Clone)]
pub struct SourceFile {
    /// Path from the root, e.g. `service/core/src/lib.rs`.
    pub path: String,
    /// Its text; empty where it is no text.
    pub text: String,
}

impl SourceFile {
    /// A sample, for tests of a rule.
    pub fn sample(path: &str, text: &str) -> Self {
        SourceFile { path: path.to_owned(), text: text.to_owned() }
    }

    /// Whether the name ends so.
    pub fn ends(&self, ending: &str) -> bool {
        self.path.ends_with(ending)
    }
}

/// The project's root.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// Reads one file of the project.
pub fn read(path: &str) -> SourceFile {
    let text = fs::read_to_string(root().join(path)).unwrap_or_else(|e| panic!("{path} cannot be read: {e}"));
    SourceFile { path: path.to_owned(), text }
}

/// Every file under these folders of the root.
pub fn files_under(folders: &[&str]) -> Vec<SourceFile> {
    let mut files = Vec::new();
    for folder in folders {
        walk(&root().join(folder), folder, &mut files);
    }
    files.sort_by(|a, b| a.path.cmp(&b.path));
    assert!(!files.is_empty(), "nothing lies under {folders:?}");
    files
}

/// Every Rust file that the project builds.
pub fn rust_files() -> Vec<SourceFile> {
    let mut files = files_under(&["service", "cli", "tests"]);
    files.retain(|file| file.ends(".rs"));
    files
}

fn walk(folder: &Path, shown: &str, files: &mut Vec<SourceFile>) {
    let entries = fs::read_dir(folder).unwrap_or_else(|e| panic!("{shown} cannot be listed: {e}"));
    for entry in entries {
        let entry = entry.unwrap();
        let name = entry.file_name().to_string_lossy().into_owned();
        if name.starts_with('.') || name == "target" || name == "__pycache__" {
            continue;
        }
        let path = format!("{shown}/{name}");
        if entry.file_type().unwrap().is_dir() {
            walk(&entry.path(), &path, files);
        } else {
            let text = fs::read_to_string(entry.path()).unwrap_or_default();
            files.push(SourceFile { path, text });
        }
    }
}
