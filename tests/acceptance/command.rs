//! The binary itself as a process, started at the root of the project.
//!
//! In:  arguments. Out: exit code, stdout, stderr. The binary lies beside this test program, where `cargo build` puts it.
//! Keeps: a binary that is missing, or older than the sources that cargo wrote down for it, fails at once and says what to do.
//! Not here: commands called as functions (`cli/src/tests.rs`).

use std::path::{Path, PathBuf};
use std::process::Command;

/// What a process left.
pub struct Ran {
    pub code: i32,
    pub out: Vec<u8>,
    pub err: String,
}

impl Ran {
    /// Stdout as text.
    pub fn told(&self) -> String {
        String::from_utf8(self.out.clone()).unwrap()
    }
}

/// The root of the project.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

/// Runs `sheaf` with these arguments.
pub fn sheaf<A: AsRef<std::ffi::OsStr>>(args: impl IntoIterator<Item = A>) -> Ran {
    let output = Command::new(binary()).args(args).current_dir(root()).output().unwrap();
    Ran { code: output.status.code().unwrap(), out: output.stdout, err: String::from_utf8(output.stderr).unwrap() }
}

/// The binary.
pub fn binary() -> PathBuf {
    let own = std::env::current_exe().unwrap();
    let path = own.ancestors().nth(2).unwrap().join(format!("sheaf{}", std::env::consts::EXE_SUFFIX));
    let advice = format!("{}: build it first, by `cargo build` with the profile of this test", path.display());
    let built = path.metadata().unwrap_or_else(|e| panic!("{advice} ({e})")).modified().unwrap();
    let listed = std::fs::read_to_string(path.with_extension("d")).unwrap();
    let sources = listed.split_once(": ").unwrap().1.split_whitespace();
    let is_newer = |source: &&str| Path::new(source).metadata().is_ok_and(|m| m.modified().unwrap() > built);
    if let Some(source) = sources.into_iter().find(is_newer) {
        panic!("{advice} ({source} was changed since)");
    }
    path
}
