//! Exit codes and places of results, command by command, as a caller of [`run`](crate::run::run) sees them.
//! Each test writes its own files into a folder of its own and leaves none behind.

use crate::run::run;
use std::path::Path;

struct Ran {
    code: u8,
    out: String,
    err: String,
}

fn sheaf<'a>(args: impl IntoIterator<Item = &'a str>) -> Ran {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let args = std::iter::once("sheaf").chain(args).map(Into::into);
    let code = run(args, &mut out, &mut err);
    Ran { code, out: String::from_utf8(out).unwrap(), err: String::from_utf8(err).unwrap() }
}

fn write(folder: &Path, name: &str, text: &str) -> String {
    let path = folder.join(name);
    std::fs::write(&path, text).unwrap();
    path.to_str().unwrap().to_owned()
}

const FEATURES: &str = "id,x,y\nb,0,0\nd,9,9\na,0,1\nc,9,8\ne,9,7\n";

#[test]
fn help_and_version_are_results() {
    for args in [["--help"], ["--version"]] {
        let ran = sheaf(args);
        assert_eq!((ran.code, ran.err.as_str()), (0, ""));
        assert!(ran.out.contains("sheaf"), "{}", ran.out);
    }
}

#[test]
fn wrong_usage_is_two() {
    let folder = tempfile::tempdir().unwrap();
    let scores = write(folder.path(), "week1.csv", "id,Q1\n1,A\n");
    let wrong: [&[&str]; 14] = [
        &[],
        &["group", &scores],
        &["plan"],
        &["plan", &scores, "--weeks", "2026-02-02"],
        &["plan", &scores, "--week", "next"],
        &["plan", &scores, "--seed", "-1"],
        &["plan", &scores, "--out", "groups.pdf"],
        &["plan", &scores, "--new-workbook"],
        &["plan", &scores, "--json", &scores],
        &["check", &scores, "--json", &scores],
        &["cluster", &scores, "--groups", "2", "--min-size", "3", "--max-size", "2"],
        &["serve", "--addr", "0.0.0.0:0"],
        &["serve", "--addr", "localhost"],
        &["serve", "--demo", "--db", "school.db"],
    ];
    for args in wrong {
        let ran = sheaf(args.iter().copied());
        assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{args:?}: {}", ran.err);
        assert!(!ran.err.is_empty());
    }
    assert_eq!(std::fs::read_to_string(&scores).unwrap(), "id,Q1\n1,A\n", "an input stays as it was");
}

fn fixture(name: &str) -> String {
    format!("{}/../fixtures/{name}", env!("CARGO_MANIFEST_DIR"))
}

/// What `sheaf check` lists as sheets of scores.
fn score_sheets(book: &Path) -> Vec<String> {
    let ran = sheaf(["check", book.to_str().unwrap(), "--json", "-"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let read: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    read["input"].as_array().unwrap().iter().map(|i| i["sheet"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn the_staff_get_their_own_workbook_back_week_after_week() {
    let folder = tempfile::tempdir().unwrap();
    let mut given = fixture("schools/quillmere/week1_quiz.xlsx");
    for week in ["2026-02-02", "2026-02-09"] {
        let book = folder.path().join(format!("{week}.xlsx"));
        let ran = sheaf(["plan", &given, "--week", week, "--out", book.to_str().unwrap()]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        assert_eq!(score_sheets(&book), ["Quiz"], "Sheaf's own sheets are not read as scores");
        given = book.to_str().unwrap().to_owned();
    }
    let alone = folder.path().join("alone.xlsx");
    assert_eq!(sheaf(["plan", &given, "--out", alone.to_str().unwrap(), "--new-workbook"]).code, 0);
    assert!(std::fs::metadata(&alone).unwrap().len() < std::fs::metadata(&given).unwrap().len());
}

#[test]
fn a_workbook_with_macros_keeps_its_ending() {
    let folder = tempfile::tempdir().unwrap();
    let macros = fixture("workbooks/xlsxwriter_macros.xlsm");
    let target = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let csv = write(folder.path(), "week1.csv", "id,Q1\n1,A\n");
    for (scores, out, more) in
        [(&macros, target("a.xlsx"), ""), (&csv, target("a.xlsm"), ""), (&macros, target("b.xlsm"), "--new-workbook")]
    {
        let ran = sheaf(["plan", scores, "--out", &out].into_iter().chain(Some(more).filter(|m| !m.is_empty())));
        assert_eq!(ran.code, 2, "{out}: {}", ran.err);
        assert!(ran.err.contains("must end in ."), "{}", ran.err);
        assert!(!Path::new(&out).exists());
    }
    let ran = sheaf(["plan", &macros, "--week", "2026-02-02", "--out", &target("c.xlsm")]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert_eq!(score_sheets(&folder.path().join("c.xlsm")), ["Quiz"]);
}

#[test]
fn a_protected_workbook_is_left_alone_and_the_reason_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let (book, json) = (folder.path().join("week.xlsx"), folder.path().join("plan.json"));
    let given = fixture("workbooks/openpyxl_refused_structure_protected.xlsx");
    let (out, plan) = (book.to_str().unwrap(), json.to_str().unwrap());
    let ran = sheaf(["plan", &given, "--week", "2026-02-02", "--out", out, "--json", plan]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(
        ran.err.contains("error workbook-protected") && ran.err.contains("its structure is protected"),
        "{}",
        ran.err
    );
    let plan: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(&json).unwrap()).unwrap();
    let told = plan["findings"]
        .as_array()
        .unwrap()
        .iter()
        .any(|f| f["code"] == "workbook-protected" && f["severity"] == "error");
    assert!(told && book.is_file());
}

#[test]
fn a_missing_file_is_three_and_named_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let missing = folder.path().join("gone.xlsx");
    let target = folder.path().join("plan.json");
    for command in ["plan", "check"] {
        let ran = sheaf([command, missing.to_str().unwrap(), "--json", target.to_str().unwrap()]);
        assert_eq!((ran.code, ran.out.as_str()), (3, ""));
        assert!(ran.err.contains("gone.xlsx") && ran.err.lines().count() == 1, "{}", ran.err);
        assert!(!target.exists());
    }
}

#[test]
fn a_sheet_that_is_none_is_three_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let page = write(folder.path(), "page.html", "<!doctype html><html><p>Hello</p></html>");
    let target = folder.path().join("plan.json");
    let ran = sheaf(["plan", &page, "--json", target.to_str().unwrap()]);
    assert_eq!((ran.code, ran.out.as_str()), (3, ""));
    assert!(!target.exists());
}

#[test]
fn a_mistake_in_the_setup_is_three_with_its_line() {
    let folder = tempfile::tempdir().unwrap();
    let scores = write(folder.path(), "week1.csv", "id,Q1\n1,A\n");
    let school = write(folder.path(), "school.toml", "[groups]\nmin_siz = 3\n");
    let ran = sheaf(["plan", &scores, "--school", &school]);
    assert_eq!(ran.code, 3);
    assert_eq!(
        ran.err,
        "sheaf: school.toml, line 2: there is no key groups.min_siz; the nearest known key is groups.min_size.\n"
    );
}

#[test]
fn limits_that_clash_are_four_and_named() {
    let folder = tempfile::tempdir().unwrap();
    let scores = write(folder.path(), "week1.csv", "id,Q1\n1,A\n");
    let clash = "[groups]\nkeep_apart = [[\"1\", \"2\"]]\nkeep_together = [[\"1\", \"2\"]]\n";
    let school = write(folder.path(), "school.toml", clash);
    let ran = sheaf(["plan", &scores, "--school", &school]);
    assert_eq!(ran.code, 4);
    assert!(ran.err.contains("1 and 2 are to be kept apart"), "{}", ran.err);
}

/// Six students, two skills of three items: three lack the first, three the second.
const SCORES: &str = "Skill,,,4.NF.A.1,4.NF.A.1,4.NF.A.1,5.NF.B.5a,5.NF.B.5a,5.NF.B.5a
Points,,,1,1,1,1,1,1
Student ID,Name,Grade,Q1,Q2,Q3,Q4,Q5,Q6
0001,Ada Lund,5,0,0,0,1,1,1
0002,Bo Riis,5,0,0,1,1,1,1
0003,Cai Holm,5,0,0,0,1,1,1
0004,Dag Moe,5,1,1,1,0,0,0
0005,Eva Ness,5,1,1,1,0,0,1
0006,Finn Aas,5,1,1,1,0,0,0
";

/// The same sheet from the last student to the first.
fn shuffled() -> String {
    let mut lines: Vec<&str> = SCORES.lines().collect();
    lines[3..].reverse();
    lines.join("\n")
}

fn planned(scores: &str) -> serde_json::Value {
    let ran = sheaf(["plan", scores, "--seed", "7", "--week", "2026-02-04", "--json", "-"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    serde_json::from_str(&ran.out).unwrap()
}

#[test]
fn a_plan_seats_students_by_need_for_the_monday_of_the_week() {
    let folder = tempfile::tempdir().unwrap();
    let plan = planned(&write(folder.path(), "week1.csv", SCORES));
    assert_eq!((&plan["week"], &plan["seed"]), (&"2026-02-02".into(), &7.into()));
    let groups: Vec<(&serde_json::Value, &serde_json::Value)> =
        plan["groups"].as_array().unwrap().iter().map(|g| (&g["target_skill"], &g["members"])).collect();
    assert_eq!(groups.len(), 2);
    assert!(groups.contains(&(&"4.NF.A.1".into(), &serde_json::json!(["0001", "0002", "0003"]))), "{groups:?}");
    assert!(groups.contains(&(&"5.NF.B.5a".into(), &serde_json::json!(["0004", "0005", "0006"]))), "{groups:?}");
}

#[test]
fn the_same_input_gives_the_same_bytes_and_rows_in_another_order_the_same_groups() {
    let folder = tempfile::tempdir().unwrap();
    let scores = write(folder.path(), "week1.csv", SCORES);
    let bytes = || sheaf(["plan", &scores, "--json", "-"]).out;
    assert_eq!(bytes(), bytes());
    let other = write(folder.path(), "other.csv", &shuffled());
    assert_eq!(planned(&scores)["groups"], planned(&other)["groups"]);
}

#[test]
fn workbook_and_json_are_written_and_named() {
    let folder = tempfile::tempdir().unwrap();
    let scores = write(folder.path(), "week1.csv", SCORES);
    let (book, json) = (folder.path().join("groups.xlsx"), folder.path().join("plan.json"));
    let args = ["plan", &scores, "--out", book.to_str().unwrap(), "--json", json.to_str().unwrap()];
    let ran = sheaf(args);
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.contains("Ada Lund") && ran.out.contains(book.to_str().unwrap()), "{}", ran.out);
    assert!(std::fs::read(&book).unwrap().starts_with(b"PK"));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 3, "nothing else is left behind");
}

#[test]
fn a_list_of_students_names_those_without_scores() {
    let folder = tempfile::tempdir().unwrap();
    let scores = write(folder.path(), "week1.csv", SCORES);
    let list = write(folder.path(), "students.csv", "id,name,grade,homeroom\n0001,Ada Lund,5,5P\n0009,Gro Vik,5,5P\n");
    let ran = sheaf(["plan", &scores, "--students", &list, "--json", "-"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let plan: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let unplaced = plan["unplaced"].as_array().unwrap();
    assert!(unplaced.iter().any(|u| u["id"] == "0009" && u["kind"] == "no-scores"), "{unplaced:?}");
}

#[test]
fn no_group_at_all_is_four_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let scores = write(folder.path(), "week1.csv", SCORES);
    let school = write(folder.path(), "school.toml", "[groups]\nmin_size = 9\nmax_size = 12\n");
    let target = folder.path().join("plan.json");
    let ran = sheaf(["plan", &scores, "--school", &school, "--json", target.to_str().unwrap()]);
    assert_eq!((ran.code, ran.out.as_str()), (4, ""), "{}", ran.err);
    assert!(!target.exists());
}

#[test]
fn a_check_says_what_was_understood() {
    let folder = tempfile::tempdir().unwrap();
    let scores = write(folder.path(), "week1.csv", &SCORES.replacen("0001,Ada Lund,5,0,0", "0001,Ada Lund,5,abs,7", 1));
    let ran = sheaf(["check", &scores, "--json", "-"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let check: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let ada = &check["students"][0]["scores"];
    assert_eq!((&ada["Q1"]["state"], &ada["Q2"]["state"]), (&"not-taken".into(), &"not-taken".into()));
    let finding = check["findings"].as_array().unwrap().iter().find(|f| f["severity"] == "error").unwrap();
    assert_eq!((&finding["file"], &finding["cell"]), (&"week1.csv".into(), &"E4".into()));
    let told = sheaf(["check", &scores]);
    assert!(told.code == 0 && told.out.contains("week1.csv E4"), "{}", told.out);
}

#[test]
fn clusters_are_numbered_from_the_largest_and_listed_by_id() {
    let folder = tempfile::tempdir().unwrap();
    let features = write(folder.path(), "features.csv", FEATURES);
    let ran = sheaf(["cluster", &features, "--groups", "2", "--min-size", "1", "--max-size", "4", "--json", "-"]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let want = serde_json::json!({
        "schema": "sheaf.cluster/1", "groups": 2, "sse": 2.5,
        "labels": {"a": 1, "b": 1, "c": 0, "d": 0, "e": 0}, "sizes": [3, 2]
    });
    assert_eq!(json, want);
}

#[test]
fn rows_in_another_order_give_the_same_clusters() {
    let folder = tempfile::tempdir().unwrap();
    let shuffled = "id,x,y\ne,9,7\nc,9,8\na,0,1\nb,0,0\nd,9,9\n";
    let (one, two) = (write(folder.path(), "1.csv", FEATURES), write(folder.path(), "2.csv", shuffled));
    let of =
        |file: &str| sheaf(["cluster", file, "--groups", "2", "--min-size", "2", "--max-size", "3", "--json", "-"]).out;
    assert_eq!(of(&one), of(&two));
}

#[test]
fn sizes_that_cannot_hold_the_rows_are_four() {
    let folder = tempfile::tempdir().unwrap();
    let features = write(folder.path(), "features.csv", FEATURES);
    let target = folder.path().join("clusters.json");
    let args = ["cluster", &features, "--groups", "2", "--min-size", "1", "--max-size", "2", "--json"];
    let ran = sheaf(args.into_iter().chain([target.to_str().unwrap()]));
    assert_eq!(ran.code, 4, "{}", ran.err);
    assert!(!target.exists());
}

#[test]
fn a_table_that_holds_no_numbers_is_three_with_its_cell() {
    let folder = tempfile::tempdir().unwrap();
    let features = write(folder.path(), "features.csv", "id,x\na,1\nb,two\n");
    let ran = sheaf(["cluster", &features, "--groups", "2", "--min-size", "1", "--max-size", "2"]);
    assert_eq!(ran.code, 3);
    assert!(ran.err.contains("row 3, column 2"), "{}", ran.err);
}

#[test]
fn ticket_items_come_in_every_format() {
    let of =
        |format: &str| sheaf(["tickets", "--skill", "5.NF.B.5a", "--count", "3", "--seed", "4", "--format", format]);
    let json: serde_json::Value = serde_json::from_str(&of("json").out).unwrap();
    assert_eq!((&json["schema"], json["items"].as_array().unwrap().len()), (&"sheaf.tickets/1".into(), 3));
    let stem = json["items"][0]["stem"].as_str().unwrap();
    let text = of("text").out;
    assert!(text.contains(stem) && text.contains("Key (for staff)"), "{text}");
    assert_eq!(of("html").out.matches("<li><p>").count(), 3);
    let qti = of("qti").out;
    assert_eq!((qti.matches("<?xml").count(), qti.matches("<qti-assessment-item ").count()), (1, 3));
    assert_eq!(of("json").out, of("json").out, "the same seed gives the same bytes");
}

#[test]
fn forms_have_other_numbers() {
    let of = |form: &str| sheaf(["tickets", "--skill", "4.NF.A.1", "--form", form, "--format", "json"]).out;
    assert_ne!(of("A"), of("B"));
    assert_eq!(of("b"), of("B"));
}

#[test]
fn every_covered_skill_has_items() {
    let ran = sheaf(["tickets", "--skill", "all", "--count", "1", "--format", "json"]);
    let json: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert!(json["items"].as_array().unwrap().len() > 10);
}

#[test]
fn a_skill_without_items_is_three_and_wrong_ticket_flags_are_two() {
    assert_eq!(sheaf(["tickets", "--skill", "9.XX.1"]).code, 3);
    let wrong: [&[&str]; 5] = [
        &["tickets"],
        &["tickets", "--skill", ""],
        &["tickets", "--skill", "all", "--count", "0"],
        &["tickets", "--skill", "all", "--form", "AB"],
        &["tickets", "--skill", "all", "--format", "pdf"],
    ];
    for args in wrong {
        let ran = sheaf(args.iter().copied());
        assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{args:?}: {}", ran.err);
    }
}

#[test]
fn the_table_of_what_is_covered_is_the_one_in_the_docs() {
    let ran = sheaf(["tickets", "--coverage"]);
    assert_eq!((ran.code, ran.out.as_str()), (0, include_str!("../../config/item_models/COVERAGE.md")));
}

#[test]
fn a_file_of_item_models_is_tested() {
    let folder = tempfile::tempdir().unwrap();
    let shipped = include_str!("../../config/item_models/g5_scaling.toml");
    let sound = write(folder.path(), "sound.toml", shipped);
    let ran = sheaf(["tickets", "--check", &sound]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    assert!(ran.out.ends_with("0 faults\n"), "{}", ran.out);
    let broken = write(folder.path(), "broken.toml", &shipped.replacen("slug", "slog", 1));
    let ran = sheaf(["tickets", "--check", &broken]);
    assert_eq!(ran.code, 3);
    assert!(ran.err.contains("broken.toml, line ") && ran.out.ends_with(" 1 fault\n"), "{}{}", ran.out, ran.err);
}

/// A reader that goes away at once.
struct Gone;

impl std::io::Write for Gone {
    fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
        Err(std::io::ErrorKind::BrokenPipe.into())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[test]
fn a_reader_that_goes_away_is_no_fault() {
    let folder = tempfile::tempdir().unwrap();
    let features = write(folder.path(), "features.csv", FEATURES);
    let args = ["sheaf", "cluster", &features, "--groups", "2", "--min-size", "1", "--max-size", "4"];
    let mut err = Vec::new();
    assert_eq!(run(args.map(Into::into), &mut Gone, &mut err), 0);
    assert_eq!(String::from_utf8(err).unwrap(), "");
}

const TIMETABLE: &str = "[groups]\nsessions = 2\n[[block]]\nid = \"mon-1\"\nday = \"Mon\"\nstart = \"09:00\"\nend = \"09:30\"\n\
    [[block]]\nid = \"tue-1\"\nday = \"Tue\"\nstart = \"09:00\"\nend = \"09:30\"\n[[staff]]\nname = \"A\"\n[[staff]]\nname = \"B\"\n";

/// A plan of six children with two groups, two blocks and two adults.
fn with_two_adults(folder: &Path) -> String {
    let quiz = "student_id,student,class,Q1,Q2,Q3\n,,skill,5.NF.B.5a,5.NF.B.5a,5.NF.B.5a\n,,key,A,B,C\n\
        0001,Ada Ash,5P,B,A,A\n0002,Bo Birch,5P,B,A,B\n0003,Cy Cedar,5P,C,A,A\n0004,Di Dogwood,5P,B,C,A\n0005,Ed Elm,5P,B,A,A\n0006,Fi Fir,5P,B,C,B\n";
    let (quiz, school) = (write(folder, "quiz.csv", quiz), write(folder, "school.toml", TIMETABLE));
    let plan = folder.join("plan.json").to_str().unwrap().to_owned();
    let ran = sheaf(["plan", &quiz, "--school", &school, "--json", &plan]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    plan
}

#[test]
fn a_repair_changes_the_day_and_leaves_the_plan_that_it_read() {
    let folder = tempfile::tempdir().unwrap();
    let plan = with_two_adults(folder.path());
    let before = std::fs::read_to_string(&plan).unwrap();
    let book = folder.path().join("monday.xlsx");
    let ran = sheaf(["repair", &plan, "--without", "A@Mon", "--json", "-", "--out", book.to_str().unwrap()]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    assert!(book.metadata().unwrap().len() > 1000);
    assert_eq!(std::fs::read_to_string(&plan).unwrap(), before);
    let tuesday =
        |text: &str| text.lines().filter(|l| l.contains("\"tue-1\"") && l.starts_with("    {\"block\"")).count();
    assert!(tuesday(&before) > 0);
    assert_eq!(tuesday(&before), tuesday(&ran.out));
    let rotation = |text: &str| {
        let value: serde_json::Value = serde_json::from_str(text).unwrap();
        value["rotation"].as_array().unwrap().clone()
    };
    assert!(rotation(&ran.out).iter().all(|s| s["day"] == "Tue" || s["staff"] != "A"));
    let told = sheaf(["repair", &plan, "--without", "A@Mon"]);
    assert!(told.out.starts_with("Without A@Mon: "), "{}", told.out);
}

#[test]
fn a_repair_that_names_nobody_is_refused_with_the_known_names() {
    let folder = tempfile::tempdir().unwrap();
    let plan = with_two_adults(folder.path());
    let sheets = write(folder.path(), "week1.csv", "id,Q1\n1,A\n");
    for (args, code, said) in [
        (&["repair", &plan][..], 2, "--without"),
        (&["repair", &plan, "--without", "A"], 2, "WHO@WHEN"),
        (&["repair", &plan, "--without", "A@Mon", "--out", "monday.pdf"], 2, ".xlsx"),
        (&["repair", &plan, "--without", "A@Mon", "--json", &plan], 2, "another name"),
        (&["repair", &plan, "--without", "C@Mon"], 3, "staff A, B"),
        (&["repair", &plan, "--without", "A@noon"], 3, "blocks mon-1, tue-1"),
        (&["repair", &sheets, "--without", "A@Mon"], 3, "not a plan"),
    ] {
        let ran = sheaf(args.iter().copied());
        assert_eq!((ran.code, ran.out.as_str()), (code, ""), "{args:?}");
        assert!(ran.err.contains(said), "{args:?}: {}", ran.err);
    }
}
