//! What a reading is asked to do: the files, and what people said before about sheets of the same layout.
//!
//! In:  nothing but plain data, so that it can be kept and carried. Out: [`ReadRequest`].
//! A layout is known by a [`LayoutKey`], so that a choice made once holds for next week's sheet. Rows are numbered as the sheet
//! numbers them, from 1. Keeps: `words_of_uses_come_back`,
//! `the_second_sheet_of_a_layout_is_read_as_the_first_but_left_out_by_itself`.
//! Not here: what was understood (`look_over`); how choices are kept (the store).

use super::{ReadLimits, SourceFile};
use sheaf_core::roster::Student;
use sheaf_core::scores::{ItemKind, OptionMeaning};
use sheaf_core::skills::{SkillCode, SkillGraph};
use std::collections::BTreeMap;

/// Everything that one reading takes.
#[derive(Debug, Clone, Copy)]
pub struct ReadRequest<'a> {
    /// Score sheets, read together.
    pub scores: &'a [SourceFile<'a>],
    /// A file of item facts.
    pub items: Option<SourceFile<'a>>,
    /// Skills that codes are resolved by.
    pub graph: &'a SkillGraph,
    /// Limits of one file.
    pub limits: ReadLimits,
    /// How people said that sheets of a layout are to be read; the first of a layout counts.
    pub choices: &'a [SheetChoice],
    /// Facts typed once for sheets of a layout; used where the sheet itself gives none.
    pub remembered: &'a [RememberedItems],
    /// Students that are known already: a class that is missing and a grade that nobody has are told by them. May be empty.
    pub known: &'a [Student],
    /// Our own tickets that were handed out. May be empty; then form codes say nothing.
    pub tickets: &'a [KnownTicket],
    /// What it is if not one student and one item can be read.
    pub nothing_read: NothingRead,
    /// What is done with a sheet in which students may run across, where nobody chose for its layout.
    pub perhaps_across: PerhapsAcross,
}

/// What is done with a sheet in which students may run across.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PerhapsAcross {
    /// It is left out with an error, and offered.
    IsOffered,
    /// It is read so, since a person said that they do.
    IsTurned,
}

/// What it is if nothing can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NothingRead {
    /// An error.
    IsAnError,
    /// An empty reading with the first rows of the sheets, so that a person can say how they are to be read. A file that no
    /// choice could make readable is an error all the same.
    IsShown,
}

impl<'a> ReadRequest<'a> {
    /// Score sheets alone, with default limits and nothing said before.
    #[must_use]
    pub fn new(scores: &'a [SourceFile<'a>], graph: &'a SkillGraph) -> Self {
        let limits = ReadLimits::default();
        ReadRequest {
            scores,
            items: None,
            graph,
            limits,
            choices: &[],
            remembered: &[],
            known: &[],
            tickets: &[],
            nothing_read: NothingRead::IsAnError,
            perhaps_across: PerhapsAcross::IsOffered,
        }
    }
}

/// Knows a layout again, and which of several sheets of one layout in a file it is: the same headings give the same key, whatever the date, the week or the number of questions.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LayoutKey(pub String);

/// Stands between a layout's key and the number of the sheet among those of that layout in its file.
const BEFORE_NUMBER: char = '-';

impl LayoutKey {
    /// The key of the `number`-th sheet of this layout in a file, from 1.
    #[must_use]
    pub fn numbered(self, number: usize) -> Self {
        if number > 1 { LayoutKey(format!("{}{BEFORE_NUMBER}{number}", self.0)) } else { self }
    }

    /// The key of the first sheet of this layout.
    #[must_use]
    pub fn first(&self) -> LayoutKey {
        LayoutKey(self.0.split(BEFORE_NUMBER).next().unwrap_or_default().to_owned())
    }
}

/// The choice for a sheet: its own, else that for the first sheet of its layout, but for leaving it out, which is said of one sheet.
#[must_use]
pub fn choice_for(choices: &[SheetChoice], layout: &LayoutKey) -> Option<SheetChoice> {
    let of = |key: &LayoutKey| choices.iter().find(|c| c.layout == *key).cloned();
    of(layout).or_else(|| {
        let first = of(&layout.first())?;
        Some(SheetChoice { layout: layout.clone(), standing: Standing::Read, ..first })
    })
}

/// Facts for a sheet with exactly these items, by the same rule.
#[must_use]
pub fn remembered_for<'a>(
    remembered: &'a [RememberedItems],
    layout: &LayoutKey,
    has_these: impl Fn(&RememberedItems) -> bool,
) -> Option<&'a RememberedItems> {
    let of = |key: &LayoutKey| remembered.iter().find(|r| r.layout == *key && has_these(r));
    of(layout).or_else(|| of(&layout.first()))
}

/// How a person said that sheets of one layout are to be read. What is left open is judged as ever.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetChoice {
    /// The layout.
    pub layout: LayoutKey,
    /// Whether such sheets are read at all.
    pub standing: Standing,
    /// Number of the row of headings (as the sheet numbers rows; the column's number in a sheet with students across).
    pub header_row: Option<u32>,
    /// What a column holds, by its heading as shown in [`super::ColumnReading::label`].
    pub uses: BTreeMap<String, ColumnUse>,
    /// Which way students run.
    pub orientation: Option<Orientation>,
}

impl SheetChoice {
    /// A choice that leaves everything open.
    #[must_use]
    pub fn open(layout: LayoutKey) -> Self {
        SheetChoice { layout, standing: Standing::Read, header_row: None, uses: BTreeMap::new(), orientation: None }
    }
}

/// Whether a sheet counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// It is read.
    Read,
    /// It is left out.
    LeftOut,
}

/// Which way students run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Orientation {
    /// A row a student.
    StudentsDown,
    /// A column a student.
    StudentsAcross,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ColumnUse {
    /// The student's id.
    Id,
    /// The whole name.
    Name,
    /// The given name.
    Given,
    /// The family name.
    Family,
    /// The grade.
    Grade,
    /// The homeroom or class.
    Homeroom,
    /// Supports, separated by `;`.
    Supports,
    /// Marks of one item.
    Item,
    /// A sum, percent or average; left out, and compared with the items.
    Total,
    /// Nothing that is read.
    LeftOut,
    /// Long sheets: which item the row is about.
    ItemName,
    /// Long sheets: the answer.
    Answer,
    /// Long sheets: the points.
    Points,
    /// Long sheets: the item's skill.
    Skill,
    /// Long sheets: the item's key.
    Key,
    /// Long sheets: the item's kind.
    Kind,
}

impl ColumnUse {
    /// All of them, in the order of a list to choose from.
    pub const ALL: [ColumnUse; 16] = [
        ColumnUse::Id,
        ColumnUse::Name,
        ColumnUse::Given,
        ColumnUse::Family,
        ColumnUse::Grade,
        ColumnUse::Homeroom,
        ColumnUse::Supports,
        ColumnUse::Item,
        ColumnUse::Total,
        ColumnUse::LeftOut,
        ColumnUse::ItemName,
        ColumnUse::Answer,
        ColumnUse::Points,
        ColumnUse::Skill,
        ColumnUse::Key,
        ColumnUse::Kind,
    ];

    /// A word for files and forms, in kebab case.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            ColumnUse::Id => "id",
            ColumnUse::Name => "name",
            ColumnUse::Given => "given",
            ColumnUse::Family => "family",
            ColumnUse::Grade => "grade",
            ColumnUse::Homeroom => "homeroom",
            ColumnUse::Supports => "supports",
            ColumnUse::Item => "item",
            ColumnUse::Total => "total",
            ColumnUse::LeftOut => "left-out",
            ColumnUse::ItemName => "item-name",
            ColumnUse::Answer => "answer",
            ColumnUse::Points => "points",
            ColumnUse::Skill => "skill",
            ColumnUse::Key => "key",
            ColumnUse::Kind => "kind",
        }
    }

    /// The use of a word.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        ColumnUse::ALL.into_iter().find(|u| u.word() == word)
    }
}

/// Facts typed once for sheets of one layout.
#[derive(Debug, Clone, PartialEq)]
pub struct RememberedItems {
    /// The layout.
    pub layout: LayoutKey,
    /// An entry an item. They are used for a sheet that has exactly these items.
    pub items: Vec<KnownItem>,
}

/// A ticket of ours, by the code printed on it.
#[derive(Debug, Clone, PartialEq)]
pub struct KnownTicket {
    /// Its form code, such as `KTRWB-3A`.
    pub form_code: String,
    /// Its items, labelled `1`, `2`, … Parts of a two-part item have their keys in order, `B,A`, and meanings such as `2C`.
    pub items: Vec<KnownItem>,
}

/// What is known of one item.
#[derive(Debug, Clone, PartialEq)]
pub struct KnownItem {
    /// The item's label on the sheet.
    pub label: String,
    /// Skills.
    pub skills: Vec<SkillCode>,
    /// Right option labels, or the number.
    pub key: Option<String>,
    /// Points for a right answer.
    pub points: Option<f64>,
    /// How it is answered.
    pub kind: Option<ItemKind>,
    /// What wrong options may mean.
    pub meanings: Vec<OptionMeaning>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_second_sheet_of_a_layout_is_read_as_the_first_but_left_out_by_itself() {
        let first = LayoutKey("ab".into());
        let second = first.clone().numbered(2);
        let choice =
            SheetChoice { header_row: Some(3), standing: Standing::LeftOut, ..SheetChoice::open(first.clone()) };
        let found = choice_for(&[choice], &second).unwrap();
        assert_eq!((found.header_row, found.standing, &found.layout), (Some(3), Standing::Read, &second));
        let own = SheetChoice { standing: Standing::LeftOut, ..SheetChoice::open(second.clone()) };
        assert_eq!(choice_for(std::slice::from_ref(&own), &second), Some(own.clone()));
        assert_eq!(choice_for(&[own], &first), None);
        assert_eq!((first.clone().numbered(1), second.first()), (first.clone(), first));
    }

    #[test]
    fn words_of_uses_come_back() {
        for column_use in ColumnUse::ALL {
            assert_eq!(ColumnUse::parse(column_use.word()), Some(column_use));
        }
        assert_eq!(ColumnUse::parse("colour"), None);
    }
}
