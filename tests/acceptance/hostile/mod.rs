//! Files that would harm a careless reader, given to the binary and to the service as anybody could give them.
//!
//! Keeps: each is a reading or one sentence with exit code 3 (status 422 or 413), within its time, and the service lives on.
//! Not here: files with an honest defect (`fixtures/broken`), random bytes (`fuzz`).

mod files;
mod fuzz;

use crate::command::{binary, sheaf};
use crate::served::{Served, quillmere};
use std::path::PathBuf;
use std::process::Command;
use std::time::{Duration, Instant};

/// A file in a folder that lasts as long as the test.
fn kept(name: &str, bytes: &[u8]) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    (folder, path)
}

/// Exit code 3 and one sentence that names the file; gives the sentence and the time it took.
fn refused(name: &str, bytes: &[u8]) -> (String, Duration) {
    let (_folder, path) = kept(name, bytes);
    let began = Instant::now();
    let ran = sheaf(["check".as_ref(), path.as_os_str()]);
    let took = began.elapsed();
    let sentence = ran.err.trim().to_owned();
    assert_eq!((ran.code, sentence.lines().count()), (3, 1), "{name}: {sentence}");
    assert!(sentence.contains(name) && ran.out.is_empty(), "{name}: {sentence}");
    (sentence, took)
}

fn findings_of(name: &str, bytes: &[u8]) -> (serde_json::Value, Duration) {
    let (_folder, path) = kept(name, bytes);
    let began = Instant::now();
    let ran = sheaf(["check".as_ref(), path.as_os_str(), "--json".as_ref(), "-".as_ref()]);
    let took = began.elapsed();
    assert_eq!(ran.code, 0, "{}", ran.err);
    (serde_json::from_slice(&ran.out).unwrap(), took)
}

#[test]
fn a_bomb_is_refused_before_it_unfolds() {
    let (said, took) = refused("bomb.xlsx", &files::bomb(1_400 << 20));
    assert!(said.contains("would unpack to 1400 MB"), "{said}");
    assert!(took < Duration::from_secs(2), "{took:?}");
}

#[test]
fn a_directory_that_lies_is_a_damaged_file() {
    let (said, took) = refused("lying.xlsx", &files::lying(64 << 20));
    assert!(said.contains("damaged"), "{said}");
    assert!(took < Duration::from_secs(2), "{took:?}");
}

#[test]
fn declarations_are_refused() {
    for (name, part) in
        [("a.xlsx", "xl/worksheets/sheet1.xml"), ("b.xlsx", "xl/workbook.xml"), ("c.xlsx", "xl/styles.xml")]
    {
        let (said, _) = refused(name, &files::with_doctype(part));
        assert!(said.contains("DOCTYPE"), "{said}");
    }
}

#[test]
fn a_far_cell_is_named_and_the_rest_is_read() {
    let (check, took) = findings_of("far.xlsx", &files::with_far_cell());
    assert_eq!(check["students"].as_array().unwrap().len(), 2);
    let finding = check["findings"].as_array().unwrap().iter().find(|f| f["code"] == "far-cell").unwrap();
    assert_eq!((&finding["severity"], &finding["cell"]), (&"note".into(), &"XFD1048576".into()));
    assert!(took < Duration::from_secs(1), "{took:?}");
}

#[test]
fn a_sheet_of_blank_formatted_rows_is_read() {
    let (check, took) = findings_of("blank.xlsx", &files::blank_rows());
    assert_eq!(check["students"].as_array().unwrap().len(), 2);
    // 3 s in a release build (`tests/bench`); this build is slower.
    assert!(took < Duration::from_secs(15), "{took:?}");
}

#[test]
fn repeated_cells_of_an_ods_do_not_unfold() {
    let (check, took) = findings_of("repeats.ods", &files::repeating_ods());
    assert_eq!(check["students"].as_array().unwrap().len(), 2);
    assert!(took < Duration::from_secs(2), "{took:?}");
}

#[test]
fn a_file_cut_anywhere_is_a_sentence() {
    let whole = quillmere("week1_quiz.xlsx");
    for share in 1..12 {
        refused("cut.xlsx", &whole[..whole.len() * share / 12]);
    }
    refused("one.xlsx", &whole[..1]);
    refused("almost.xlsx", &whole[..whole.len() - 1]);
}

#[test]
fn a_file_that_kills_its_reader_is_a_sentence() {
    let (said, took) = refused("greedy.xlsx", &files::greedy());
    assert!(said.contains("more memory or time"), "{said}");
    assert!(took < Duration::from_secs(20), "{took:?}");
}

#[test]
fn a_file_that_stalls_its_reader_is_a_sentence() {
    let (said, took) = refused("slow.ods", &files::slow());
    assert!(said.contains("more memory or time"), "{said}");
    assert!(took < Duration::from_secs(25), "{took:?}");
}

#[test]
fn the_service_lives_on_after_a_killed_reader() {
    let served = Served::empty();
    for (name, bytes, status) in [("greedy.xlsx", files::greedy(), 422), ("bomb.xlsx", files::bomb(700 << 20), 413)] {
        let answer = served.hand_in("week=2026-02-02", &[(name, &bytes)]);
        assert_eq!(answer.status(), status, "{name}");
        let problem: serde_json::Value = answer.json().unwrap();
        assert!(problem.to_string().contains(name), "{problem}");
    }
    let good = served.hand_in("week=2026-02-02", &[("quiz.xlsx", &quillmere("week1_quiz.xlsx"))]);
    assert_eq!(good.status(), 201);
}

#[test]
fn a_workbook_reads_alike_here_and_apart() {
    use sheaf_app::apart::Reader;
    use sheaf_app::headless::SourceFile;
    use sheaf_sheets::read::ReadRequest;
    let apart = Reader::Apart { program: binary(), wall: Duration::from_secs(20) };
    let graph = sheaf_core::skills::SkillGraph::builtin().unwrap();
    for name in ["week1_quiz.xlsx", "week1_ticket.xlsx"] {
        let bytes = quillmere(name);
        let sources = [SourceFile { name, bytes: &bytes }];
        let request = ReadRequest::new(&sources, &graph);
        let (there, here) = (apart.scores(&request).unwrap(), Reader::Here.scores(&request).unwrap());
        assert_eq!((&there.findings, &there.inputs, there.week), (&here.findings, &here.inputs, here.week));
        assert_eq!((&there.sheets, &there.left_out), (&here.sheets, &here.left_out));
        assert_eq!((there.table.items(), there.table.students()), (here.table.items(), here.table.students()));
        for student_idx in 0..here.table.n_students() {
            for item_idx in 0..here.table.n_items() {
                assert_eq!(there.table.mark(student_idx, item_idx), here.table.mark(student_idx, item_idx));
            }
        }
    }
}

#[test]
fn a_reading_process_that_is_asked_nothing_says_nothing() {
    let output = Command::new(binary()).arg("read-apart").stdin(std::process::Stdio::null()).output().unwrap();
    assert!(!output.status.success() && output.stdout.is_empty() && output.stderr.is_empty());
}

#[test]
fn the_setup_limits_what_is_read() {
    let (_folder, sheet) = kept("quiz.csv", b"id,name,Q1,Q2\n1,Ann,1,1\n2,Bo,1,0\n");
    for (limit, said) in [("max_rows = 2", "more than 2 rows"), ("max_columns = 3", "more than 3 columns")] {
        let (_other, setup) = kept("school.toml", format!("[reading]\n{limit}\n").as_bytes());
        let ran = sheaf(["plan".as_ref(), sheet.as_os_str(), "--school".as_ref(), setup.as_os_str()]);
        assert_eq!(ran.code, 3, "{}", ran.err);
        assert!(ran.err.contains(said), "{}", ran.err);
    }
}
