//! Where results go: a file that appears whole or not at all, or stdout; and findings in a few lines.

use crate::run::Stop;
use sheaf_core::finding::{Finding, Severity};
use std::io::Write;
use std::path::Path;

/// Findings shown in full; the rest is counted.
const SHOWN: usize = 12;

/// Writes a file by way of a neighbour, so that it is there whole or not at all.
pub fn write_whole(path: &Path, write: impl FnOnce(&mut std::fs::File) -> Result<(), Stop>) -> Result<(), Stop> {
    let folder = match path.parent() {
        Some(p) if !p.as_os_str().is_empty() => p,
        _ => Path::new("."),
    };
    let fault = |e: std::io::Error| Stop::Output(format!("{} cannot be written: {e}.", path.display()));
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(fault)?;
    write(file.as_file_mut())?;
    file.as_file_mut().sync_all().map_err(fault)?;
    file.persist(path).map_err(|e| fault(e.error))?;
    Ok(())
}

/// Writes JSON to a file, or to `out` for `-`.
pub fn write_json(
    target: &Path,
    out: &mut dyn Write,
    write: impl FnOnce(&mut dyn Write) -> std::io::Result<()>,
) -> Result<(), Stop> {
    if target == Path::new("-") {
        return Ok(write(out)?);
    }
    write_whole(target, |file| {
        let mut buffered = std::io::BufWriter::new(file);
        write(&mut buffered)?;
        Ok(buffered.flush()?)
    })
}

/// Findings, the gravest first.
pub fn tell_findings(findings: &[Finding], err: &mut dyn Write) -> std::io::Result<()> {
    let count = |s: Severity| findings.iter().filter(|f| f.severity == s).count();
    if findings.is_empty() {
        return Ok(());
    }
    writeln!(
        err,
        "Findings: {} errors, {} warnings, {} notes.",
        count(Severity::Error),
        count(Severity::Warning),
        count(Severity::Note)
    )?;
    let mut order: Vec<&Finding> = findings.iter().collect();
    order.sort_by_key(|f| std::cmp::Reverse(f.severity));
    for f in order.iter().take(SHOWN) {
        let place: Vec<&str> =
            [f.file.as_str(), f.sheet.as_str(), f.cell.as_str()].into_iter().filter(|p| !p.is_empty()).collect();
        let place = if place.is_empty() { String::new() } else { format!(" {}:", place.join(" ")) };
        writeln!(err, "  {}{place} {} ({})", f.severity.word(), f.message, f.action)?;
    }
    if order.len() > SHOWN {
        writeln!(err, "  and {} more; `sheaf check` lists them all.", order.len() - SHOWN)?;
    }
    Ok(())
}
