//! Invents score sheets of a given size: the header first, then label rows (key, skill, points), then one row a student.
//!
//! In:  a size. Out: `NAME.xlsx` in the work folder, the same content every time.
//! How: each student has a level and, from it, holds each skill or not; who holds an item's skill answers right nine times
//! in ten, who does not has a favourite wrong option for the skill, so that error profiles have something to find.
//! Every fifth item gives 0 to 2 points instead of options; one cell in seventy is left out, one student in fifty is absent.
//! Source: invented; the rates are round numbers without a source.

use crate::sizes::Size;
use rand::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256Plus;
use rust_xlsxwriter::{Workbook, Worksheet};
use std::path::{Path, PathBuf};

/// Skills asked for, each with item models of its own.
const SKILLS: [&str; 8] =
    ["3.OA.A.3", "3.NF.A.3d", "4.NBT.B.5", "4.NF.A.1", "4.NF.B.3c", "5.NF.A.1", "5.NF.B.5a", "5.NBT.B.7"];
const OPTIONS: [&str; 4] = ["A", "B", "C", "D"];
/// Columns before the first item.
const N_FACTS: usize = 4;
const N_LABEL_ROWS: usize = 4;
const CLASS_SIZE: usize = 25;
const GIVEN: [&str; 12] =
    ["Ara", "Bo", "Cemal", "Dilnaz", "Eun", "Fia", "Goran", "Hana", "Ilse", "Jomo", "Kiri", "Lúa"];
const FAMILY: [&str; 10] =
    ["Abbot", "Brandt", "Castel", "D'Orsa", "Ekman", "Farouk", "Grove", "Hýll", "Ives-Lane", "Jarosz"];

/// One item of the invented check.
struct InventedItem {
    skill_idx: usize,
    /// Index of the right option; `None` where it gives 0 to 2 points.
    key: Option<usize>,
    /// Option that those who lack the skill like.
    lure: usize,
}

/// Writes the sheet, if it is not there yet, and gives its place.
pub fn make(size: &Size, folder: &Path) -> PathBuf {
    let path = folder.join(format!("{}.xlsx", size.name));
    if path.exists() {
        return path;
    }
    let mut rng = Xoshiro256Plus::seed_from_u64(size.n_students as u64);
    let items = invent_items(size.n_items, &mut rng);
    let mut workbook = Workbook::new();
    let sheet = workbook.add_worksheet_with_low_memory().unwrap();
    sheet.set_name("Scores").unwrap();
    write_labels(sheet, &items);
    for student_idx in 0..size.n_students {
        write_student(sheet, student_idx, &items, &mut rng);
    }
    workbook.save(&path).unwrap();
    path
}

fn invent_items(n_items: usize, rng: &mut Xoshiro256Plus) -> Vec<InventedItem> {
    let invent = |item_idx: usize| {
        let key = rng.gen_range(0..OPTIONS.len());
        let lure = (key + rng.gen_range(1..OPTIONS.len())) % OPTIONS.len();
        InventedItem { skill_idx: item_idx % SKILLS.len(), key: (item_idx % 5 != 4).then_some(key), lure }
    };
    (0..n_items).map(invent).collect()
}

fn write_labels(sheet: &mut Worksheet, items: &[InventedItem]) {
    let facts = [
        ["Student ID", "Name", "Grade", "Homeroom"],
        ["", "", "", "Key"],
        ["", "", "", "Skill"],
        ["", "", "", "Points"],
    ];
    for (row, row_facts) in facts.iter().enumerate() {
        for (column, text) in row_facts.iter().enumerate().filter(|(_, text)| !text.is_empty()) {
            put(sheet, row, column, *text);
        }
        for (item_idx, item) in items.iter().enumerate() {
            write_label(sheet, row, item_idx, item);
        }
    }
}

fn write_label(sheet: &mut Worksheet, row: usize, item_idx: usize, item: &InventedItem) {
    let column = N_FACTS + item_idx;
    match (row, item.key) {
        (0, _) => put(sheet, row, column, format!("Q{}", item_idx + 1)),
        (1, Some(key)) => put(sheet, row, column, OPTIONS[key]),
        (1, None) => {}
        (2, _) => put(sheet, row, column, SKILLS[item.skill_idx]),
        (_, key) => put(sheet, row, column, if key.is_some() { 1.0 } else { 2.0 }),
    }
}

fn write_student(sheet: &mut Worksheet, student_idx: usize, items: &[InventedItem], rng: &mut Xoshiro256Plus) {
    let row = N_LABEL_ROWS + student_idx;
    let room = student_idx / CLASS_SIZE;
    let grade = 3 + room % 3;
    put(sheet, row, 0, format!("{:06}", 1000 + student_idx * 3));
    put(sheet, row, 1, invented_name(student_idx));
    put(sheet, row, 2, grade as f64);
    put(sheet, row, 3, format!("{grade}-{room:03}"));
    let level: f64 = rng.gen_range(0.1..0.9);
    let holds: [bool; SKILLS.len()] = std::array::from_fn(|_| rng.r#gen::<f64>() < level);
    if rng.gen_ratio(1, 50) {
        put(sheet, row, N_FACTS, "abs");
        return;
    }
    for (item_idx, item) in items.iter().enumerate() {
        write_answer(sheet, row, N_FACTS + item_idx, item, holds[item.skill_idx], rng);
    }
}

fn write_answer(
    sheet: &mut Worksheet,
    row: usize,
    column: usize,
    item: &InventedItem,
    is_held: bool,
    rng: &mut Xoshiro256Plus,
) {
    if rng.gen_ratio(1, 70) {
        return;
    }
    let is_right = rng.gen_ratio(if is_held { 9 } else { 2 }, 10);
    match item.key {
        Some(key) if is_right => put(sheet, row, column, OPTIONS[key]),
        Some(_) if rng.gen_ratio(7, 10) => put(sheet, row, column, OPTIONS[item.lure]),
        Some(key) => put(sheet, row, column, OPTIONS[(key + rng.gen_range(1..OPTIONS.len())) % OPTIONS.len()]),
        None if is_right => put(sheet, row, column, 2.0),
        None => put(sheet, row, column, f64::from(rng.gen_range(0..2u8))),
    }
}

fn invented_name(student_idx: usize) -> String {
    let given = GIVEN[student_idx % GIVEN.len()];
    let family = FAMILY[student_idx / GIVEN.len() % FAMILY.len()];
    format!("{family}, {given} {}", student_idx / (GIVEN.len() * FAMILY.len()) + 1)
}

fn put(sheet: &mut Worksheet, row: usize, column: usize, value: impl rust_xlsxwriter::IntoExcelData) {
    sheet.write(u32::try_from(row).unwrap(), u16::try_from(column).unwrap(), value).unwrap();
}
