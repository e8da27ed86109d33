//! A reading process that does not do as it should: scripts stand in for it.
//! Not here: the real one (acceptance tests).
#![cfg(unix)]

use super::*;
use crate::error::ErrorKind;
use sheaf_core::skills::SkillGraph;
use std::time::Instant;

/// A program that is this shell script, in a folder that lasts as long as the test.
fn script(folder: &tempfile::TempDir, text: &str) -> PathBuf {
    let path = folder.path().join("reader");
    // Written by another process: were it open for writing here, a process that another test starts meanwhile would hold it open, too,
    // and a file that somebody may write to is not run.
    let write = "printf '#!/bin/sh\n%s\n' \"$1\" >\"$0\" && chmod 700 \"$0\"";
    let written = std::process::Command::new("/bin/sh").arg("-c").arg(write).arg(&path).arg(text).status().unwrap();
    assert!(written.success());
    path
}

fn refusal(program: PathBuf, n_bytes: usize) -> AppError {
    let reader = Reader::Apart { program, wall: Duration::from_millis(400) };
    let bytes = [&b"PK\x03\x04"[..], &vec![0; n_bytes]].concat();
    let sources = [SourceFile { name: "week 1.xlsx", bytes: &bytes }];
    reader.scores(&ReadRequest::new(&sources, &SkillGraph::default())).unwrap_err()
}

#[test]
fn a_reader_that_dies_stalls_or_babbles_is_one_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let bad = [
        "kill -ABRT $$",
        "exit 0",
        "exec /bin/cat >/dev/null",
        "exec sleep 30",
        "exec /bin/cat /dev/zero",
        "printf 'sheaf-answer-1\\n'",
        "echo hello",
    ];
    for text in bad {
        for n_bytes in [0, 1 << 20] {
            let began = Instant::now();
            let error = refusal(script(&folder, text), n_bytes);
            assert_eq!((error.kind, error.code), (ErrorKind::Input, "file-too-demanding"), "{text}");
            assert!(error.message.starts_with("week 1.xlsx: reading takes more memory or time"), "{}", error.message);
            assert!(began.elapsed() < Duration::from_secs(10), "{text} took {:?}", began.elapsed());
        }
    }
}

#[test]
fn a_reader_that_is_stopped_is_gone_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let program = script(&folder, &format!("echo $$ >{}/pid; exec sleep 60", folder.path().display()));
    let reader = Reader::Apart { program, wall: Duration::from_secs(60) };
    let sources = [SourceFile { name: "week 1.xlsx", bytes: b"PK\x03\x04" }];
    let pid = || std::fs::read_to_string(folder.path().join("pid")).unwrap_or_default().trim().to_owned();
    let began = Instant::now();
    let stopped = reader.scores_unless(&ReadRequest::new(&sources, &SkillGraph::default()), &|| !pid().is_empty());
    assert_eq!(stopped.unwrap_err(), AppError::stopped());
    assert!(began.elapsed() < Duration::from_secs(30), "{:?}", began.elapsed());
    assert!(!std::path::Path::new("/proc").join(pid()).exists(), "the process is still there");
}

#[test]
fn a_reader_that_is_not_there_is_our_fault() {
    let error = refusal(PathBuf::from("/nowhere/reader"), 0);
    assert_eq!(error.kind, ErrorKind::OurFault);
}

#[test]
fn short_texts_are_read_here() {
    let reader = Reader::Apart { program: PathBuf::from("/nowhere/reader"), wall: WALL };
    let sources = [SourceFile { name: "f.csv", bytes: b"id,name,Q1\n1,Ann,1\n" }];
    let reading = reader.scores(&ReadRequest::new(&sources, &SkillGraph::default())).unwrap();
    assert_eq!(reading.table.n_students(), 1);
    let (students, _) = reader.students(sources[0], ReadLimits::default()).unwrap();
    assert_eq!(students.len(), 1);
}

#[test]
fn a_process_started_ahead_is_used_once() {
    let folder = tempfile::tempdir().unwrap();
    let program = script(&folder, &format!("echo started >>{}/log; exec /bin/cat >/dev/null", folder.path().display()));
    let n_started = || std::fs::read_to_string(folder.path().join("log")).unwrap_or_default().lines().count();
    parent::start_ahead(&program).unwrap();
    while n_started() == 0 {
        std::thread::sleep(Duration::from_millis(5));
    }
    for expect in [1, 2] {
        assert_eq!(refusal(program.clone(), 0).code, "file-too-demanding");
        assert_eq!(n_started(), expect);
    }
}
