//! The life of an upload in the store: kept once, counted, replaced, taken back without a trace.
//! Each test works on a store in memory; what the rows mean is the app's affair.

use super::*;
use crate::Said;
use crate::plans::NewPlan;

fn file(kind: FileKind, content: &str) -> StoredFile {
    let bytes = Some(content.as_bytes().to_vec());
    StoredFile { kind, name: "quiz.csv".into(), sha256: "a".repeat(64), bytes }
}

fn monday(day: i8) -> Date {
    jiff::civil::date(2026, 2, day)
}

fn add(store: &Store, week: Date, digest: &str, files: &[StoredFile]) -> Added {
    let new = NewUpload { week, digest: &digest.repeat(64), files, start: Start::Counted, reading: "{}" };
    store.add_upload(new).unwrap()
}

fn add_waiting(store: &Store, digest: &str) -> i64 {
    let files = [file(FileKind::Scores, "x")];
    let digest = digest.repeat(64);
    let new = NewUpload { week: monday(2), digest: &digest, files: &files, start: Start::Waiting, reading: "{}" };
    store.add_upload(new).unwrap().id()
}

fn keep_plan(store: &Store, sources: &[i64]) -> i64 {
    let new = NewPlan {
        week: monday(2),
        seed: 1,
        setup: "",
        holds: "[]",
        repairs: "[]",
        overrules: crate::NO_OVERRULES,
        published: "{}",
        attended: &[],
        sources,
    };
    store.keep_plan(new).unwrap()
}

fn standing(store: &Store, id: i64) -> Standing {
    store.upload(id).unwrap().unwrap().standing
}

#[test]
fn an_upload_comes_back_byte_for_byte() {
    let store = Store::in_memory().unwrap();
    let files = [file(FileKind::Scores, "a,b\n\u{0}1,2"), file(FileKind::Items, "item,skill")];
    let id = add(&store, monday(2), "d", &files).id();
    let upload = store.upload(id).unwrap().unwrap();
    assert_eq!((upload.week, upload.files.as_slice()), (monday(2), &files[..]));
    assert_eq!(store.uploads_of(monday(2)).unwrap(), vec![upload]);
    assert_eq!(store.upload_list(monday(2)).unwrap()[0].file_names, vec!["quiz.csv", "quiz.csv"]);
    assert_eq!(store.upload(id + 1).unwrap(), None);
}

#[test]
fn the_same_bytes_are_kept_once_a_week() {
    let store = Store::in_memory().unwrap();
    let files = [file(FileKind::Scores, "x")];
    let first = add(&store, monday(2), "d", &files);
    assert_eq!(add(&store, monday(2), "d", &files), Added::AlreadyHere(first.id()));
    assert!(matches!(add(&store, monday(9), "d", &files), Added::New(id) if id != first.id()));
    assert_eq!(store.upload_list(monday(2)).unwrap().len(), 1);
    assert_eq!(store.other_weeks_with(&"a".repeat(64), monday(9)).unwrap(), vec![monday(2)]);
}

#[test]
fn an_upload_that_fails_half_way_leaves_nothing() {
    let store = Store::in_memory().unwrap();
    let files = [file(FileKind::Scores, "x"), file(FileKind::Scores, "")];
    let digest = "d".repeat(64);
    let new = NewUpload { week: monday(2), digest: &digest, files: &files, start: Start::Counted, reading: "{}" };
    assert!(store.add_upload(new).is_err());
    assert_eq!(store.upload_list(monday(2)).unwrap(), vec![]);
    assert_eq!(store.weeks().unwrap(), vec![]);
}

#[test]
fn an_id_is_not_used_again_after_a_take_back() {
    let store = Store::in_memory().unwrap();
    let first = add(&store, monday(2), "d", &[file(FileKind::Scores, "x")]).id();
    assert_eq!(store.remove_upload(first).unwrap(), Some(monday(2)));
    assert_eq!(store.remove_upload(first).unwrap(), None);
    assert_ne!(add(&store, monday(2), "d", &[file(FileKind::Scores, "x")]).id(), first);
}

#[test]
fn what_waits_is_corrected_and_what_counts_is_not() {
    let store = Store::in_memory().unwrap();
    let id = add_waiting(&store, "d");
    assert_eq!(standing(&store, id), Standing::Waiting);
    assert!(store.correct_upload(id, r#"{"a":1}"#, r#"{"b":2}"#).unwrap());
    assert!(store.count_upload(id, None, &Said::default()).unwrap());
    assert!(!store.correct_upload(id, "{}", "{}").unwrap());
    let upload = store.upload(id).unwrap().unwrap();
    assert_eq!((upload.corrections.as_str(), upload.reading.as_deref()), (r#"{"a":1}"#, Some(r#"{"b":2}"#)));
    assert!(!store.count_upload(id, None, &Said::default()).unwrap(), "it counts already");
}

#[test]
fn only_what_counts_in_the_same_week_is_replaced() {
    let store = Store::in_memory().unwrap();
    let elsewhere = add(&store, monday(9), "e", &[file(FileKind::Scores, "x")]).id();
    let waiting = add_waiting(&store, "w");
    let id = add_waiting(&store, "d");
    for other in [elsewhere, waiting, id, 99] {
        assert!(!store.count_upload(id, Some(other), &Said::default()).unwrap(), "{other}");
        assert_eq!(standing(&store, id), Standing::Waiting);
    }
}

#[test]
fn taking_back_restores_what_was_replaced_and_its_plan() {
    let store = Store::in_memory().unwrap();
    let first = add(&store, monday(2), "d", &[file(FileKind::Scores, "x")]).id();
    assert_eq!(keep_plan(&store, &[first]), 1);
    let before = (store.uploads_of(monday(2)).unwrap(), store.plan(monday(2)).unwrap(), store.weeks().unwrap());

    let corrected = add_waiting(&store, "c");
    assert!(store.count_upload(corrected, Some(first), &Said::default()).unwrap());
    assert_eq!(standing(&store, first), Standing::ReplacedBy(corrected));
    assert_eq!(keep_plan(&store, &[corrected]), 2);

    store.remove_upload(corrected).unwrap();
    let after = (store.uploads_of(monday(2)).unwrap(), store.plan(monday(2)).unwrap(), store.weeks().unwrap());
    assert_eq!(after, before);
}

#[test]
fn what_no_plan_was_made_from_is_written_anew() {
    let store = Store::in_memory().unwrap();
    let id = add(&store, monday(2), "d", &[file(FileKind::Scores, "x")]).id();
    let (files, digest) = ([file(FileKind::Scores, "y")], "e".repeat(64));
    let new = || NewUpload { week: monday(2), digest: &digest, files: &files, start: Start::Counted, reading: "[]" };
    assert!(store.rewrite_upload(id, new()).unwrap());
    let upload = store.upload(id).unwrap().unwrap();
    assert_eq!((upload.files.as_slice(), upload.reading.as_deref()), (&files[..], Some("[]")));
    assert!(!store.is_planned_from(id).unwrap());
    keep_plan(&store, &[id]);
    assert!(store.is_planned_from(id).unwrap());
    assert!(!store.rewrite_upload(id, new()).unwrap());
    assert!(!store.rewrite_upload(99, new()).unwrap());
}

#[test]
fn what_is_taken_back_leaves_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("records.db")).unwrap();
    let content = "Quentin Quillwright,".repeat(2_000);
    let id = add(&store, monday(2), "d", &[file(FileKind::Scores, &content)]).id();
    assert!(traces(folder.path()) > 0);
    store.remove_upload(id).unwrap();
    assert_eq!(traces(folder.path()), 0);
}

fn traces(folder: &std::path::Path) -> usize {
    let needle = b"Quentin Quillwright";
    std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| std::fs::read(entry.unwrap().path()).unwrap())
        .map(|bytes| bytes.windows(needle.len()).filter(|w| w == needle).count())
        .sum()
}
