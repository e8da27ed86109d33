//! Where results go: a file that appears whole or not at all, or stdout.
//!
//! Keeps: a file that was read is never written over, and two results never share a file (`an_input_is_never_written_over`);
//! a result that fails half-way leaves what was there (`half_a_file_never_appears`); a device, a pipe or a link that stands for the file
//! stays what it is (`what_is_no_file_is_written_to_and_not_replaced`).
//! Not here: what is written (`commands`, `summary`).

use crate::run::Stop;
use serde::Serialize;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// `-` stands for stdout.
pub fn is_stdout(target: &Path) -> bool {
    target == Path::new("-")
}

/// Writes a file by way of a neighbour, so that it is there whole or not at all; a device or a pipe is written to as it is.
pub fn write_whole(path: &Path, write: impl FnOnce(&mut std::fs::File) -> Result<(), Stop>) -> Result<(), Stop> {
    let fault = |e: std::io::Error| Stop::Output(format!("{} cannot be written: {}.", path.display(), reason(&e)));
    if std::fs::metadata(path).is_ok_and(|m| !m.is_file()) {
        return write(&mut std::fs::OpenOptions::new().write(true).open(path).map_err(fault)?);
    }
    // A link stays one: what it stands for is written.
    let real = path.canonicalize();
    let path = real.as_deref().unwrap_or(path);
    let mut file = neighbour(path).map_err(fault)?;
    write(file.as_file_mut())?;
    file.as_file_mut().sync_all().map_err(fault)?;
    file.persist(path).map_err(|e| fault(e.error))?;
    Ok(())
}

/// A file of no lasting name in the same folder, with the rights that a new file gets there.
fn neighbour(path: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".sheaf-").suffix(".part");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder)
}

/// Writes JSON to a file, or to `out` for `-`.
pub fn write_json(
    target: &Path,
    out: &mut dyn Write,
    write: impl FnOnce(&mut dyn Write) -> std::io::Result<()>,
) -> Result<(), Stop> {
    if is_stdout(target) {
        return Ok(buffered(out, write)?);
    }
    write_whole(target, |file| {
        let done = buffered(file, write);
        done.map_err(|e| Stop::Output(format!("{} cannot be written: {}.", target.display(), reason(&e))))
    })
}

/// Writes a value as JSON, laid out for reading, where one was asked for.
pub fn write_pretty(target: Option<&Path>, out: &mut dyn Write, value: &impl Serialize) -> Result<(), Stop> {
    let Some(target) = target else { return Ok(()) };
    write_json(target, out, |sink| {
        serde_json::to_writer_pretty(&mut *sink, value).map_err(std::io::Error::from)?;
        sink.write_all(b"\n")
    })
}

/// Stdout of a terminal passes on line by line; a long result goes in large pieces instead.
fn buffered(sink: &mut dyn Write, write: impl FnOnce(&mut dyn Write) -> std::io::Result<()>) -> std::io::Result<()> {
    let mut buffer = BufWriter::with_capacity(1 << 16, sink);
    write(&mut buffer)?;
    buffer.flush()
}

/// Refuses a result that would lie where an input or another result lies.
pub fn refuse_overwriting<'a>(
    targets: impl IntoIterator<Item = &'a PathBuf>,
    inputs: impl IntoIterator<Item = &'a PathBuf>,
) -> Result<(), Stop> {
    let mut taken: Vec<PathBuf> = inputs.into_iter().map(|p| place_of(p)).collect();
    for target in targets.into_iter().filter(|t| !is_stdout(t)) {
        let place = place_of(target);
        if taken.contains(&place) {
            let what = format!("{} is read or written already; choose another name for it.", target.display());
            return Err(Stop::Usage(what));
        }
        taken.push(place);
    }
    Ok(())
}

/// The one place that a path stands for, whether or not there is a file yet.
fn place_of(path: &Path) -> PathBuf {
    if let Ok(real) = path.canonicalize() {
        return real;
    }
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    match (folder.canonicalize(), path.file_name()) {
        (Ok(folder), Some(name)) => folder.join(name),
        _ => path.to_path_buf(),
    }
}

/// What the system said, without its number.
pub fn reason(error: &std::io::Error) -> String {
    let text = error.to_string();
    let text = text.split(" (os error").next().unwrap_or_default();
    match text.chars().next() {
        Some(first) => first.to_lowercase().chain(text.chars().skip(1)).collect(),
        None => "unknown reason".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_a_file_never_appears() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("plan.json");
        std::fs::write(&target, "before").unwrap();
        let stopped = write_json(&target, &mut Vec::new(), |sink| {
            sink.write_all(b"half")?;
            Err(std::io::Error::other("the power went"))
        });
        assert!(matches!(stopped, Err(Stop::Output(_))));
        assert_eq!(std::fs::read_to_string(&target).unwrap(), "before");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "nothing else is left behind");
    }

    #[test]
    fn an_input_is_never_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let input = folder.path().join("scores.csv");
        std::fs::write(&input, "id,Q1").unwrap();
        let by_another_way = folder.path().join(".").join("scores.csv");
        assert!(matches!(refuse_overwriting([&by_another_way], [&input]), Err(Stop::Usage(_))));
        let new = folder.path().join("plan.json");
        assert!(refuse_overwriting([&new], [&input]).is_ok());
        assert!(matches!(refuse_overwriting([&new, &new], [&input]), Err(Stop::Usage(_))));
        let stdout = PathBuf::from("-");
        assert!(refuse_overwriting([&stdout, &stdout], []).is_ok());
    }

    #[cfg(unix)]
    #[test]
    fn what_is_no_file_is_written_to_and_not_replaced() {
        use std::os::unix::fs::FileTypeExt;
        let folder = tempfile::tempdir().unwrap();
        let [pipe, real, link] = ["pipe", "real", "link"].map(|name| folder.path().join(name));
        assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
        let reader = {
            let pipe = pipe.clone();
            std::thread::spawn(move || std::fs::read_to_string(pipe).unwrap())
        };
        let hello = |file: &mut std::fs::File| Ok(file.write_all(b"hello")?);
        write_whole(&pipe, hello).unwrap();
        assert_eq!(reader.join().unwrap(), "hello");
        assert!(pipe.metadata().unwrap().file_type().is_fifo());
        std::fs::write(&real, "before").unwrap();
        std::os::unix::fs::symlink(&real, &link).unwrap();
        write_whole(&link, hello).unwrap();
        assert!(link.symlink_metadata().unwrap().is_symlink());
        assert_eq!(std::fs::read_to_string(&real).unwrap(), "hello");
        assert!(matches!(write_whole(folder.path(), hello), Err(Stop::Output(_))));
    }

    #[cfg(unix)]
    #[test]
    fn a_result_has_the_rights_of_a_new_file() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let rights = |name: &str| folder.path().join(name).metadata().unwrap().permissions().mode();
        write_whole(&folder.path().join("ours"), |_| Ok(())).unwrap();
        std::fs::write(folder.path().join("plain"), "").unwrap();
        assert_eq!(rights("ours"), rights("plain"));
    }
}
