//! The shared files of the invented plan of this crate, looked at as text.
//! The dictionary is held against the files that lie beside it.

use super::*;
use crate::write::sample;
use serde_json::Value;

fn files(naming: Naming, smallest: usize) -> Vec<SharedFile> {
    shared_files(&sample::plan(), &ErrorCatalogue::default(), naming, smallest).unwrap()
}

fn text(files: &[SharedFile], name: &str) -> String {
    String::from_utf8(files.iter().find(|f| f.name == name).unwrap().bytes.clone()).unwrap()
}

fn rows(files: &[SharedFile], name: &str) -> Vec<Vec<String>> {
    let text = text(files, name);
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    reader.records().map(|r| r.unwrap().iter().map(str::to_owned).collect()).collect()
}

#[test]
fn every_child_is_in_one_row() {
    let plan = sample::plan();
    let ids: Vec<String> =
        rows(&files(Naming::Names, 5), "groups.csv").into_iter().skip(1).map(|r| r[0].clone()).collect();
    assert_eq!(ids, plan.students.iter().map(|s| s.id.to_string()).collect::<Vec<_>>());
    assert!(ids.len() > 4);
}

#[test]
fn no_name_is_in_a_file_of_ids() {
    let plan = sample::plan();
    let (named, ids) = (files(Naming::Names, 5), files(Naming::Ids, 5));
    let names: Vec<&str> = plan.students.iter().map(|s| s.name.trim()).filter(|n| n.chars().count() > 2).collect();
    assert!(!names.is_empty());
    for name in names {
        assert!(rows(&named, "groups.csv").iter().any(|r| r[1].contains(name)), "{name}");
        assert!(ids.iter().all(|f| !String::from_utf8_lossy(&f.bytes).contains(name)), "{name}");
    }
    assert!(text(&ids, "needs.csv").contains(plan.students[0].id.as_str()));
}

#[test]
fn counts_name_nobody() {
    let plan = sample::plan();
    let counts = files(Naming::Nobody, 1);
    for student in &plan.students {
        for file in ["groups.csv", "needs.csv"] {
            let cells = rows(&counts, file);
            assert!(
                cells.iter().flatten().all(|c| c != student.id.as_str() && (c != &student.name || c.is_empty())),
                "{file}"
            );
        }
    }
}

#[test]
fn a_small_count_is_an_empty_cell() {
    // Counts of the plan itself: who was measured on each skill, and who lacks it, in the one grade of the sample.
    let open = rows(&files(Naming::Nobody, 0), "needs.csv");
    let kept = rows(&files(Naming::Nobody, 3), "needs.csv");
    assert_eq!(open.len(), kept.len());
    let mut n_hidden = 0;
    for (open, kept) in open.iter().zip(&kept).skip(1) {
        let (whole, lack): (usize, usize) = (open[3].parse().unwrap(), open[4].parse().unwrap());
        assert_eq!(kept[3].is_empty(), whole < 3, "{open:?} {kept:?}");
        assert_eq!(kept[4].is_empty(), whole < 3 || lack < 3 || whole - lack < 3, "{open:?} {kept:?}");
        n_hidden += usize::from(kept[4].is_empty());
    }
    assert!(n_hidden > 0);
}

#[test]
fn no_text_is_a_formula() {
    let mut plan = sample::plan();
    plan.students[0].name = "=HYPERLINK(\"x\")".to_owned();
    plan.students[1].name = "-1+1".to_owned();
    let files = shared_files(&plan, &ErrorCatalogue::default(), Naming::Names, 5).unwrap();
    let cells = rows(&files, "groups.csv");
    assert_eq!((cells[1][1].as_str(), cells[2][1].as_str()), ("'=HYPERLINK(\"x\")", "'-1+1"));
}

#[test]
fn the_dictionary_names_every_column() {
    for naming in Naming::ALL {
        let files = files(naming, 5);
        let dictionary: Value = serde_json::from_str(&text(&files, "csv-metadata.json")).unwrap();
        let tables = dictionary["tables"].as_array().unwrap();
        assert_eq!(tables.len(), 2);
        for table in tables {
            let columns = table["tableSchema"]["columns"].as_array().unwrap();
            let titles: Vec<&str> = columns.iter().map(|c| c["titles"].as_str().unwrap()).collect();
            let header = &rows(&files, table["url"].as_str().unwrap())[0];
            assert_eq!(&titles, header, "{naming:?}");
            assert!(columns.iter().all(|c| c["dc:description"].as_str().is_some_and(|d| d.ends_with('.'))));
            for key in table["tableSchema"]["primaryKey"].as_array().unwrap() {
                assert!(titles.contains(&key.as_str().unwrap()), "{key}");
            }
        }
        assert!(dictionary["dc:description"].as_str().unwrap().contains("not a diagnosis"));
        assert_eq!(text(&files, "csv-metadata.json").contains("student information"), naming != Naming::Nobody);
    }
}
