//! Whatever the bytes: a reading in which every mark lies within its item's points, or one sentence that names the file.
//!
//! In:  drawn bytes, drawn texts of words and signs that sheets are made of, and mangled fixtures. Out: claims on what comes of them.
//! Not here: bounds of time and memory (acceptance tests of hostile files).

use super::*;
use proptest::prelude::*;
use proptest::test_runner::TestCaseError;
use sheaf_core::scores::MarkState;
use std::collections::HashSet;

fn check(bytes: &[u8]) -> Result<(), TestCaseError> {
    let source = SourceFile { name: "f", bytes };
    match read_score_sheets(&ReadRequest::new(&[source], &SkillGraph::default())) {
        Ok(reading) => check_reading(&reading)?,
        Err(error) => check_sentence(&error)?,
    }
    if let Err(error) = read_students(source, ReadLimits::default()) {
        check_sentence(&error)?;
    }
    Ok(())
}

fn check_sentence(error: &ReadError) -> Result<(), TestCaseError> {
    let is_one_sentence = error.message.starts_with("f ") && error.message.ends_with('.');
    prop_assert!(is_one_sentence && !error.code.is_empty(), "{error:?}");
    Ok(())
}

fn check_reading(reading: &Reading) -> Result<(), TestCaseError> {
    let table = &reading.table;
    prop_assert!(table.n_students() > 0 && table.n_items() > 0);
    let labels: HashSet<&str> = table.items().iter().map(|i| i.label.as_str()).collect();
    prop_assert_eq!(labels.len(), table.n_items(), "labels tell items apart");
    for (i, item) in table.items().iter().enumerate() {
        prop_assert!(item.points > 0.0 && item.points.is_finite(), "{item:?}");
        for mark in (0..table.n_students()).map(|s| table.mark(s, i)) {
            let is_within = mark.points.is_none_or(|p| (0.0..=item.points).contains(&p));
            let is_said = mark.state == MarkState::Scored || (mark.points.is_none() && mark.answer.is_none());
            prop_assert!(is_within && is_said, "{mark:?} of {item:?}");
        }
    }
    for finding in &reading.findings {
        prop_assert!(finding.message.ends_with('.') && !finding.action.is_empty(), "{finding:?}");
    }
    Ok(())
}

/// Words and signs that sheets are made of, and lines of them.
fn words() -> impl Strategy<Value = String> {
    let word = prop::sample::select(vec![
        "",
        "",
        "id",
        "name",
        "class",
        "item",
        "answer",
        "points",
        "key",
        "skill",
        "Total",
        "Average",
        "Max",
        "Legend",
        "Q1",
        "Q2",
        "Q3",
        "1",
        "2",
        "3",
        "0",
        "0.5",
        "1,5",
        "-1",
        "1e9",
        "45980",
        "A",
        "B",
        "C",
        "A,C",
        "x",
        "abs",
        "ex",
        "%",
        "50%",
        "3/4",
        "4-Mar",
        "#REF!",
        "✓",
        "✗",
        "P",
        "M",
        "Ana",
        "Bo",
        "Ana",
        "0101",
        "101",
        "1.0E+05",
        "Period 2",
        "A=2; B=1",
        "2026-02-02",
        "Unit 3",
        "4.NF.A.1",
        "\"",
        "\"\"",
        "'",
        "\u{feff}",
        "\u{a0}",
        "é",
        "محمد",
    ]);
    let line = prop::collection::vec(word, 1..9);
    let between = prop::sample::select(vec![",", ";", "\t", "|"]);
    let end = prop::sample::select(vec!["\n", "\r\n", "\r", "\n\n"]);
    (prop::collection::vec(line, 1..14), between, end)
        .prop_map(|(lines, between, end)| lines.iter().map(|line| line.join(between)).collect::<Vec<_>>().join(end))
}

/// Small fixtures but .xls: what the library does with a mangled one is bounded by the process that reading runs in, not here.
fn small_fixtures() -> Vec<Vec<u8>> {
    let folder = std::path::PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/broken");
    let mut paths: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let files = paths.iter().filter(|path| path.is_file()).map(|path| std::fs::read(path).unwrap());
    files.filter(|bytes| bytes.len() < 8_000 && !bytes.starts_with(b"\xD0\xCF\x11\xE0")).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn give_a_reading_or_one_sentence(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
        check(&bytes)?;
    }

    #[test]
    fn words_of_sheets_in_any_order_give_a_reading_or_one_sentence(text in words()) {
        check(text.as_bytes())?;
    }

    #[test]
    fn mangled_sheets_give_a_reading_or_one_sentence(
        file in prop::sample::select(small_fixtures()),
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
        end in any::<prop::sample::Index>(),
    ) {
        let mut bytes = file;
        for (at, byte) in changes {
            if !bytes.is_empty() {
                let at = at.index(bytes.len());
                bytes[at] = byte;
            }
        }
        check(&bytes)?;
        bytes.truncate(end.index(bytes.len() + 1));
        check(&bytes)?;
    }
}
