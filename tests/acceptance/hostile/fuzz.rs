//! Files of the fixtures, mangled at random: whatever comes of them, reading gives a result or one error, and never a panic.
//!
//! In:  `SHEAF_FUZZ_SECONDS` (default 3), `SHEAF_FUZZ_SEED` (default 1). Out: a line with what ran; the seed and number of a file that
//! fails, which make it again. How: bytes are changed, cut out, doubled or mixed with those of another file; in every second
//! package the parts are mangled before they are packed, since a mangled package itself is mostly refused at once.
//! Each file is read in this process, in a thread whose panics are counted; one in 200 is read by a real reading process too, and
//! old workbooks by such a process alone: the library follows a mangled chain of sectors without end, which only limits stop.
//! Not here: memory (the reading process has its limits), hostile files that somebody thought of (`files`).
#![allow(clippy::print_stdout)]

use crate::command::{binary, root};
use rand::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256Plus;
use sheaf_app::apart::Reader;
use sheaf_app::headless::SourceFile;
use sheaf_core::skills::SkillGraph;
use sheaf_sheets::read::{ReadLimits, ReadRequest, is_packed, read_attendance, read_score_sheets, read_students};
use std::io::{Cursor, Read, Write};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::time::{Duration, Instant};
use zip::{ZipArchive, ZipWriter};

/// Larger files are not mangled.
const LARGEST: u64 = 200_000;
/// One file takes no longer, in a build that is not optimised.
const SLOWEST: Duration = Duration::from_secs(10);

fn from_environment(name: &str, default: u64) -> u64 {
    std::env::var(name).map_or(default, |text| text.parse().unwrap())
}

/// Every score sheet of the fixtures.
fn corpus(folder: &Path, found: &mut Vec<Vec<u8>>) {
    let mut entries: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        let ending = path.extension().and_then(|e| e.to_str()).unwrap_or_default();
        if path.is_dir() {
            corpus(&path, found);
        } else if ["xlsx", "xlsm", "xlsb", "xls", "ods", "csv", "tsv"].contains(&ending)
            && path.metadata().unwrap().len() < LARGEST
        {
            found.push(std::fs::read(&path).unwrap());
        }
    }
}

fn mangle(bytes: &mut Vec<u8>, other: &[u8], rng: &mut Xoshiro256Plus) {
    for _ in 0..rng.gen_range(1..6) {
        let at = rng.gen_range(0..=bytes.len());
        let until = (at + rng.gen_range(0..40)).min(bytes.len());
        match rng.gen_range(0..6) {
            0 if at < bytes.len() => bytes[at] = rng.r#gen(),
            1 if at < bytes.len() => bytes[at] ^= 1 << rng.gen_range(0..8),
            2 => drop(bytes.drain(at..until)),
            3 => {
                let piece = bytes[at..until].to_vec();
                bytes.splice(at..at, piece.repeat(rng.gen_range(1..50)));
            }
            4 if !other.is_empty() => {
                let from = rng.gen_range(0..other.len());
                let piece = other[from..(from + 60).min(other.len())].to_vec();
                bytes.splice(at..until, piece);
            }
            _ => {
                let words: [&[u8]; 9] = [
                    b"\0",
                    b"4294967295",
                    b"-1",
                    b"1e308",
                    b"&#0;",
                    b"\"",
                    b"<c r=\"XFD1048576\">",
                    b"NaN",
                    b"\xff\xfe",
                ];
                bytes.splice(at..until, words[rng.gen_range(0..words.len())].to_vec());
            }
        }
    }
}

/// The package with one of its parts mangled; `None` for what is no package.
fn mangled_inside(bytes: &[u8], other: &[u8], rng: &mut Xoshiro256Plus) -> Option<Vec<u8>> {
    let mut package = ZipArchive::new(Cursor::new(bytes)).ok()?;
    let chosen = rng.gen_range(0..package.len());
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    for place in 0..package.len() {
        let mut part = package.by_index(place).ok()?;
        let mut content = Vec::new();
        part.read_to_end(&mut content).ok()?;
        let name = part.name().ok()?.into_owned();
        if place == chosen {
            mangle(&mut content, other, rng);
        }
        writer.start_file(name, zip::write::SimpleFileOptions::default()).ok()?;
        writer.write_all(&content).ok()?;
    }
    Some(writer.finish().ok()?.into_inner())
}

fn read_all_ways(bytes: &[u8], graph: &SkillGraph) -> usize {
    let source = SourceFile { name: "f", bytes };
    let limits = ReadLimits::default();
    let mut n_read = 0;
    match read_score_sheets(&ReadRequest::new(&[source], graph)) {
        Ok(reading) => {
            assert!(reading.table.n_students() > 0 && reading.table.n_items() > 0);
            n_read = 1;
        }
        Err(error) => assert!(error.message.starts_with("f ") && !error.message.contains('\n'), "{}", error.message),
    }
    let sheets = [SourceFile { name: "g", bytes: b"id,name,Q1\n1,Ann,1\n" }];
    let _ = read_score_sheets(&ReadRequest { items: Some(source), ..ReadRequest::new(&sheets, graph) });
    let _ = (read_students(source, limits), read_attendance(source, limits));
    n_read
}

#[test]
fn mangled_files_give_a_reading_or_one_error() {
    let (seconds, seed) = (from_environment("SHEAF_FUZZ_SECONDS", 3), from_environment("SHEAF_FUZZ_SEED", 1));
    let mut files = Vec::new();
    corpus(&root().join("fixtures"), &mut files);
    assert!(files.len() > 20, "{} files to mangle", files.len());
    let graph = SkillGraph::builtin().unwrap();
    let apart = Reader::Apart { program: binary(), wall: Duration::from_secs(20) };
    let began = Instant::now();
    let (mut n_files, mut n_read) = (0_u64, 0);
    while began.elapsed() < Duration::from_secs(seconds) {
        let mut rng = Xoshiro256Plus::seed_from_u64(seed.wrapping_mul(1_000_000_007).wrapping_add(n_files));
        let mut bytes = files[rng.gen_range(0..files.len())].clone();
        let other = &files[rng.gen_range(0..files.len())];
        let inside = if rng.r#gen() { mangled_inside(&bytes, other, &mut rng) } else { None };
        match inside {
            Some(package) => bytes = package,
            None => mangle(&mut bytes, other, &mut rng),
        }
        if is_packed(&bytes) && !bytes.starts_with(b"PK") {
            let source = [SourceFile { name: "f", bytes: &bytes }];
            if let Err(error) = apart.scores(&ReadRequest::new(&source, &graph)) {
                assert!(error.message.starts_with('f'), "seed {seed}, file {n_files}: {}", error.message);
            }
            n_files += 1;
            continue;
        }
        let file_began = Instant::now();
        let outcome = catch_unwind(AssertUnwindSafe(|| read_all_ways(&bytes, &graph)));
        let took = file_began.elapsed();
        assert!(outcome.is_ok(), "seed {seed}, file {n_files}: a panic");
        assert!(took < SLOWEST, "seed {seed}, file {n_files}: {took:?}");
        if n_files % 200 == 0 {
            let source = [SourceFile { name: "f", bytes: &bytes }];
            if let Err(error) = apart.scores(&ReadRequest::new(&source, &graph)) {
                assert_ne!(error.code, "file-too-demanding", "seed {seed}, file {n_files}");
            }
        }
        n_read += outcome.unwrap_or_default();
        n_files += 1;
    }
    println!("seed {seed}: {n_files} files in {seconds} s, {n_read} of them read as score sheets");
    assert!(n_files > 20 && n_read > 0, "{n_files} files, {n_read} read");
}
