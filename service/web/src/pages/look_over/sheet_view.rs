//! The sheets as they were read, with the value and name of each control.
//!
//! In:  a look-over, and what was typed where a form came back. Out: one view a sheet (headings, uses, ten rows as the sheet
//! shows them), a view a sheet that was left out, and a row an item.
//! A control's name says where it belongs: `sheet-0-header`, `sheet-0-use-3`, `item-5-key`. Not here: reading them (`form`).

use super::form::Answers;
use super::text;
use sheaf_app::weeks::{ColumnUse, LeftOutReason, LookOver, Orientation, SheetShape, ShownRow};
use sheaf_core::scores::{Item, MarkState, ResponseTable};
use sheaf_core::skills::SkillGraph;

/// A control: its name, what stands in it, what is wrong with it.
pub(super) struct Control {
    pub(super) name: String,
    pub(super) value: String,
    pub(super) error: Option<String>,
}

impl Control {
    fn new(answers: &Answers, name: String, shown: String) -> Self {
        let value = answers.typed.get(&name).cloned().unwrap_or(shown);
        Control { error: answers.errors.get(&name).cloned(), name, value }
    }
}

/// One column.
pub(super) struct ColumnView {
    pub(super) letters: String,
    pub(super) label: String,
    pub(super) use_words: &'static str,
    pub(super) control: Control,
    /// Word, words, whether it is the one in force.
    pub(super) options: Vec<(&'static str, &'static str, bool)>,
}

/// One row as the sheet shows it.
pub(super) struct RowView {
    pub(super) number: u32,
    pub(super) cells: Vec<String>,
}

/// One sheet.
pub(super) struct SheetView {
    pub(super) number: usize,
    pub(super) file: String,
    pub(super) sheet: String,
    pub(super) n_students: String,
    pub(super) n_items: String,
    pub(super) is_across: bool,
    pub(super) header: Control,
    pub(super) way: Control,
    pub(super) standing: Control,
    pub(super) columns: Vec<ColumnView>,
    pub(super) rows: Vec<RowView>,
}

/// A sheet that was not read.
pub(super) struct LeftOutView {
    pub(super) number: usize,
    pub(super) file: String,
    pub(super) sheet: String,
    pub(super) reason: &'static str,
    /// Whether a person may say where its headings are.
    pub(super) is_open: bool,
    /// Whether a person said that it is left out.
    pub(super) is_chosen: bool,
    pub(super) header: Control,
    pub(super) way: Control,
    pub(super) standing: Control,
    pub(super) rows: Vec<RowView>,
}

/// One item.
pub(super) struct ItemRow {
    pub(super) label: String,
    pub(super) kind: &'static str,
    pub(super) skill_names: Vec<String>,
    pub(super) skills: Control,
    pub(super) key: Control,
    pub(super) points: Control,
    pub(super) meanings: Control,
    pub(super) n_scored: usize,
    pub(super) n_omitted: usize,
    pub(super) n_not_taken: usize,
}

pub(super) fn sheet_views(look: &LookOver, answers: &Answers) -> Vec<SheetView> {
    let view = |(n, sheet): (usize, &sheaf_app::weeks::SheetReading)| {
        let is_across = sheet.orientation == Orientation::StudentsAcross;
        let control = |field: &str, shown: String| Control::new(answers, format!("sheet-{n}-{field}"), shown);
        SheetView {
            number: n,
            file: sheet.file.clone(),
            sheet: sheet.sheet.clone(),
            n_students: text::count(sheet.n_students, "student"),
            n_items: text::count(sheet.items.len(), "item"),
            is_across,
            header: control("header", sheet.header_row.to_string()),
            way: control("way", if is_across { "across" } else { "down" }.to_owned()),
            standing: control("standing", "read".to_owned()),
            columns: sheet
                .columns
                .iter()
                .map(|c| {
                    let control = control(&format!("use-{}", c.column), c.column_use.word().to_owned());
                    ColumnView {
                        letters: c.letters.clone(),
                        label: c.label.clone(),
                        use_words: use_words(c.column_use),
                        options: options(sheet.shape, c.column_use, &control.value),
                        control,
                    }
                })
                .collect(),
            rows: rows(&sheet.rows),
        }
    };
    look.reading.sheets.iter().enumerate().map(view).collect()
}

pub(super) fn left_out_views(look: &LookOver, answers: &Answers) -> Vec<LeftOutView> {
    let view = |(n, sheet): (usize, &sheaf_app::weeks::SheetLeftOut)| {
        let control = |field: &str, shown: &str| Control::new(answers, format!("out-{n}-{field}"), shown.to_owned());
        LeftOutView {
            number: n,
            file: sheet.file.clone(),
            sheet: sheet.sheet.clone(),
            reason: reason_words(sheet.reason),
            is_open: sheet.layout.is_some() && !matches!(sheet.reason, LeftOutReason::Hidden | LeftOutReason::Items),
            is_chosen: sheet.reason == LeftOutReason::Chosen,
            way: control("way", ""),
            header: control("header", ""),
            standing: control("standing", "out"),
            rows: rows(&sheet.rows),
        }
    };
    look.reading.left_out.iter().enumerate().map(view).collect()
}

pub(super) fn item_rows(table: &ResponseTable, graph: &SkillGraph, answers: &Answers) -> Vec<ItemRow> {
    let row = |(idx, item): (usize, &Item)| {
        let n_in = |state| (0..table.n_students()).filter(|&s| table.mark(s, idx).state == state).count();
        let control = |field: &str, shown: String| Control::new(answers, format!("item-{idx}-{field}"), shown);
        let names = item.skills.iter().map(|c| graph.name(c).to_owned());
        ItemRow {
            label: item.label.clone(),
            kind: item.kind.word(),
            skill_names: names.zip(&item.skills).filter(|(name, c)| name != c.as_str()).map(|(name, _)| name).collect(),
            skills: control("skills", shown_skills(item)),
            key: control("key", item.key.clone().unwrap_or_default()),
            points: control("points", text::points(item.points)),
            meanings: control("meanings", shown_meanings(item)),
            n_scored: n_in(MarkState::Scored),
            n_omitted: n_in(MarkState::Omitted),
            n_not_taken: n_in(MarkState::NotTaken),
        }
    };
    table.items().iter().enumerate().map(row).collect()
}

/// `5.NF.B.5a; 4.NF.A.1`.
pub(super) fn shown_skills(item: &Item) -> String {
    item.skills.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

/// `B: mul-as-add; C: div-multiply, div-subtract-once`.
pub(super) fn shown_meanings(item: &Item) -> String {
    let one = |m: &sheaf_core::scores::OptionMeaning| format!("{}: {}", m.option, m.patterns.join(", "));
    item.meanings.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// Rows of one width, so that every cell has its border.
fn rows(shown: &[ShownRow]) -> Vec<RowView> {
    let width = shown.iter().map(|r| r.cells.len()).max().unwrap_or(0);
    let row = |r: &ShownRow| {
        let mut cells = r.cells.clone();
        cells.resize(width, String::new());
        RowView { number: r.row, cells }
    };
    shown.iter().map(row).collect()
}

/// What a column may be used as: long sheets have columns that wide ones lack.
fn options(shape: SheetShape, in_force: ColumnUse, chosen: &str) -> Vec<(&'static str, &'static str, bool)> {
    use ColumnUse::{Answer, Item, ItemName, Key, Kind, Points, Skill};
    let is_offered = |u: &ColumnUse| match shape {
        SheetShape::Wide => !matches!(u, ItemName | Answer | Points | Skill | Key | Kind),
        SheetShape::Long => *u != Item,
    };
    let offered = ColumnUse::ALL.into_iter().filter(|u| is_offered(u) || *u == in_force);
    offered.map(|u| (u.word(), use_words(u), u.word() == chosen)).collect()
}

fn use_words(column_use: ColumnUse) -> &'static str {
    match column_use {
        ColumnUse::Id => "Student id",
        ColumnUse::Name => "Name",
        ColumnUse::Given => "Given name",
        ColumnUse::Family => "Family name",
        ColumnUse::Grade => "Grade",
        ColumnUse::Homeroom => "Class",
        ColumnUse::Supports => "Supports",
        ColumnUse::Item => "Item",
        ColumnUse::Total => "Total, left out",
        ColumnUse::LeftOut => "Left out",
        ColumnUse::ItemName => "Which item",
        ColumnUse::Answer => "Answer",
        ColumnUse::Points => "Points",
        ColumnUse::Skill => "Skill",
        ColumnUse::Key => "Key",
        ColumnUse::Kind => "Type of item",
    }
}

fn reason_words(reason: LeftOutReason) -> &'static str {
    match reason {
        LeftOutReason::Hidden => {
            "Its tab is hidden; show it in the workbook and hand the file in again to have it read."
        }
        LeftOutReason::Chosen => "You said so.",
        LeftOutReason::Items => "It holds facts of items, which were used.",
        LeftOutReason::Students => {
            "It was taken for a list of students without marks. If it holds scores, give the row of their headings."
        }
        LeftOutReason::PerhapsAcross => "Students may run across here, a column each: say which way they run.",
        LeftOutReason::NoHeadings => {
            "No row of headings with students and items was found. Give the row of the headings."
        }
    }
}
