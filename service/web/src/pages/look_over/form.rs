//! What a correction form means: the controls that differ from what was read, as choices and item facts.
//!
//! In:  what was typed, by control name, and the look-over it was typed on. Out: the upload's corrections with the changes
//! laid over, or what is wrong, by control. A control that shows what was read changes nothing
//! (`a_form_as_it_was_shown_changes_nothing`).
//! Not here: whether the sheets can be read so (`sheaf-app` says that).

use super::sheet_view::{shown_meanings, shown_skills};
use super::text;
use sheaf_app::error::AppError;
use sheaf_app::weeks::{
    ColumnUse, Corrections, KnownItem, LookOver, Orientation, RememberedItems, SheetChoice, SheetReading, SheetStanding,
};
use sheaf_core::scores::{Item, OptionMeaning};
use sheaf_core::skills::{SkillCode, SkillGraph};
use std::collections::BTreeMap;

/// Said at the field where the row of headings was typed.
const NO_HEADINGS_THERE: &str =
    "With the headings there, no students and items are found; give the row that names both.";

/// What was typed, by control name.
pub(super) type Typed = BTreeMap<String, String>;

/// A form that came back.
#[derive(Debug, Default)]
pub(super) struct Answers {
    pub(super) typed: Typed,
    /// What is wrong, by control name.
    pub(super) errors: BTreeMap<String, String>,
    /// What is wrong with the whole.
    pub(super) error: Option<String>,
}

impl Answers {
    /// The sheets cannot be read so: said at the changed heading row where there is one, else for the whole.
    pub(super) fn failed(look: &LookOver, typed: Typed, error: &AppError) -> Self {
        let message = text::as_sentence(&error.message);
        let is_typed = |name: &String| typed.get(name).is_some_and(|v| !v.trim().is_empty());
        let left_out = (0..look.reading.left_out.len()).map(|n| format!("out-{n}-header")).find(is_typed);
        let changed = look.reading.sheets.iter().enumerate().find_map(|(n, sheet)| {
            let name = format!("sheet-{n}-header");
            typed.get(&name).filter(|v| **v != sheet.header_row.to_string()).map(|_| name.clone())
        });
        match changed.or(left_out) {
            Some(name) => {
                let message = if error.code == "not-a-score-sheet" { NO_HEADINGS_THERE.to_owned() } else { message };
                Answers { typed, errors: BTreeMap::from([(name, message)]), error: None }
            }
            None => Answers { typed, errors: BTreeMap::new(), error: Some(message) },
        }
    }
}

/// Reads the form.
pub(super) fn read(look: &LookOver, typed: Typed, graph: &SkillGraph) -> Result<(Corrections, Typed), Answers> {
    let mut form = Form { typed: &typed, errors: BTreeMap::new() };
    let mut corrections = look.corrections.clone();
    for (n, sheet) in look.reading.sheets.iter().enumerate() {
        if let Some(choice) = form.choice(n, sheet, &look.in_force) {
            corrections.choose(choice);
        }
        if let Some(facts) = form.facts(sheet, look.reading.table.items(), graph) {
            corrections.remember(facts);
        }
    }
    for (n, sheet) in look.reading.left_out.iter().enumerate() {
        let Some(layout) = &sheet.layout else { continue };
        if let Some(choice) = form.left_out(n, SheetChoice::open(layout.clone())) {
            corrections.choose(choice);
        }
    }
    let errors = form.errors;
    if errors.is_empty() {
        return Ok((corrections, typed));
    }
    let error = Some(format!("Nothing was changed: {} below to mend.", text::count(errors.len(), "field")));
    Err(Answers { typed, errors, error })
}

struct Form<'a> {
    typed: &'a Typed,
    errors: BTreeMap<String, String>,
}

impl Form<'_> {
    /// What was typed, where it differs from what is shown.
    fn changed(&self, name: &str, shown: &str) -> Option<String> {
        self.typed.get(name).map(|v| v.trim().to_owned()).filter(|v| v != shown)
    }

    fn number(&mut self, name: &str) -> Option<u32> {
        let value = self.typed.get(name).map(|v| v.trim()).filter(|v| !v.is_empty())?;
        let number = value.parse().ok().filter(|n| (1..=1_048_576).contains(n));
        if number.is_none() {
            self.errors.insert(name.to_owned(), format!("{value} is not the number of a row; write it like 3."));
        }
        number
    }

    fn choice(&mut self, n: usize, sheet: &SheetReading, before: &Corrections) -> Option<SheetChoice> {
        let mut choice = before.choice(&sheet.layout).unwrap_or_else(|| SheetChoice::open(sheet.layout.clone()));
        let old = choice.clone();
        if self.changed(&format!("sheet-{n}-header"), &sheet.header_row.to_string()).is_some() {
            choice.header_row = self.number(&format!("sheet-{n}-header"));
        }
        let way = if sheet.orientation == Orientation::StudentsAcross { "across" } else { "down" };
        if let Some(word) = self.changed(&format!("sheet-{n}-way"), way) {
            let is_across = word == "across";
            choice.orientation = Some(if is_across { Orientation::StudentsAcross } else { Orientation::StudentsDown });
        }
        if self.changed(&format!("sheet-{n}-standing"), "read").is_some() {
            choice.standing = SheetStanding::LeftOut;
        }
        for column in &sheet.columns {
            let changed = self.changed(&format!("sheet-{n}-use-{}", column.column), column.column_use.word());
            if let Some(column_use) = changed.and_then(|word| ColumnUse::parse(&word)) {
                choice.uses.insert(column.label.clone(), column_use);
            }
        }
        (choice != old).then_some(choice)
    }

    /// How a sheet that was left out is to be read, if a person said so.
    fn left_out(&mut self, n: usize, mut choice: SheetChoice) -> Option<SheetChoice> {
        choice.header_row = self.number(&format!("out-{n}-header"));
        choice.orientation = match self.changed(&format!("out-{n}-way"), "").as_deref() {
            Some("across") => Some(Orientation::StudentsAcross),
            Some("down") => Some(Orientation::StudentsDown),
            _ => None,
        };
        let is_read = self.typed.get(&format!("out-{n}-standing")).is_some_and(|v| v == "read");
        (is_read || choice.header_row.is_some() || choice.orientation.is_some()).then_some(choice)
    }

    /// Facts of all items of a sheet, if one of them was changed.
    fn facts(&mut self, sheet: &SheetReading, items: &[Item], graph: &SkillGraph) -> Option<RememberedItems> {
        let mut is_changed = false;
        let mut facts = Vec::new();
        for (label, &idx) in sheet.items.iter().zip(&sheet.places) {
            let Some(item) = items.get(idx) else { continue };
            let known = self.known_item(idx, item, graph);
            is_changed |= known != as_shown(item);
            // Facts go by the sheet's own label: the table's may carry the name of this check.
            facts.push(KnownItem { label: label.clone(), ..known });
        }
        is_changed.then(|| RememberedItems { layout: sheet.layout.clone(), items: facts })
    }

    fn known_item(&mut self, idx: usize, item: &Item, graph: &SkillGraph) -> KnownItem {
        let mut known = as_shown(item);
        if let Some(skills) = self.changed(&format!("item-{idx}-skills"), &shown_skills(item)) {
            known.skills =
                skills.split([';', ',']).filter_map(SkillCode::parse).map(|code| graph.resolve(&code)).collect();
        }
        if let Some(key) = self.changed(&format!("item-{idx}-key"), item.key.as_deref().unwrap_or_default()) {
            known.key = Some(key).filter(|k| !k.is_empty());
        }
        let name = format!("item-{idx}-points");
        if let Some(points) = self.changed(&name, &text::points(item.points)) {
            let value = points.replace(',', ".").parse().ok().filter(|p: &f64| p.is_finite() && *p > 0.0);
            if value.is_none() {
                let message = format!("{points} is not a number of points; write one above 0, like 1 or 2.5.");
                self.errors.insert(name, message);
            }
            known.points = value;
        }
        let name = format!("item-{idx}-meanings");
        if let Some(typed) = self.changed(&name, &shown_meanings(item)) {
            match meanings(&typed) {
                Ok(meanings) => known.meanings = meanings,
                Err(message) => {
                    self.errors.insert(name, message);
                }
            }
        }
        known
    }
}

fn as_shown(item: &Item) -> KnownItem {
    KnownItem {
        label: item.label.clone(),
        skills: item.skills.clone(),
        key: item.key.clone(),
        points: Some(item.points),
        kind: Some(item.kind),
        meanings: item.meanings.clone(),
    }
}

/// `B: mul-as-add; C: div-multiply, div-subtract-once`.
fn meanings(typed: &str) -> Result<Vec<OptionMeaning>, String> {
    let one = |part: &str| -> Result<OptionMeaning, String> {
        let (option, codes) = part.split_once(':').ok_or_else(|| {
            format!(
                "\u{201c}{}\u{201d} names no option; write the option, a colon and the code, like B: mul-as-add.",
                part.trim()
            )
        })?;
        let patterns: Vec<String> = codes.split(',').map(|c| c.trim().to_owned()).filter(|c| !c.is_empty()).collect();
        let option = option.trim().to_uppercase();
        if option.is_empty() || option.chars().count() > 8 || patterns.is_empty() {
            return Err(format!(
                "\u{201c}{}\u{201d} is not an option and a code; write it like B: mul-as-add.",
                part.trim()
            ));
        }
        Ok(OptionMeaning { option, patterns })
    };
    typed.split(';').filter(|part| !part.trim().is_empty()).map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_app::weeks::{ColumnReading, LayoutKey, Reading, SheetShape, Standing, Week};
    use sheaf_core::scores::ResponseTable;

    fn look() -> LookOver {
        let mut table = ResponseTable::new();
        let quiz = table.add_assessment("quiz");
        table.add_item(Item { key: Some("A".into()), ..Item::new("Q1", quiz) });
        let column = |column, label: &str, column_use| ColumnReading {
            column,
            letters: "A".into(),
            label: label.into(),
            column_use,
        };
        let sheet = SheetReading {
            file: "quiz.csv".into(),
            sheet: String::new(),
            layout: LayoutKey("a layout".into()),
            shape: SheetShape::Wide,
            header_row: 2,
            orientation: Orientation::StudentsDown,
            columns: vec![column(0, "Pupil", ColumnUse::LeftOut), column(1, "Q1", ColumnUse::Item)],
            items: vec!["Q1".into()],
            places: vec![0],
            rows: Vec::new(),
            n_students: 0,
        };
        LookOver {
            id: 1,
            week: Week::parse("2026-02-02").unwrap(),
            file_names: vec!["quiz.csv".into()],
            standing: Standing::Waiting,
            reading: Reading { table, sheets: vec![sheet], ..Reading::default() },
            corrections: Corrections::default(),
            in_force: Corrections::default(),
            has_originals: true,
            may_replace: Vec::new(),
        }
    }

    fn typed(fields: &[(&str, &str)]) -> Typed {
        fields.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect()
    }

    fn read_form(fields: &[(&str, &str)]) -> Result<Corrections, Answers> {
        read(&look(), typed(fields), &SkillGraph::default()).map(|(corrections, _)| corrections)
    }

    #[test]
    fn a_form_as_it_was_shown_changes_nothing() {
        let fields = [
            ("sheet-0-header", "2"),
            ("sheet-0-way", "down"),
            ("sheet-0-standing", "read"),
            ("sheet-0-use-0", "left-out"),
            ("sheet-0-use-1", "item"),
            ("item-0-skills", ""),
            ("item-0-key", "A"),
            ("item-0-points", "1"),
            ("item-0-meanings", ""),
        ];
        assert_eq!(read_form(&fields).unwrap(), Corrections::default());
    }

    #[test]
    fn what_differs_becomes_a_choice_and_facts() {
        let fields = [
            ("sheet-0-header", "3"),
            ("sheet-0-use-0", "name"),
            ("item-0-key", "B"),
            ("item-0-meanings", "a: mul-as-add, other; C: div-multiply"),
        ];
        let corrections = read_form(&fields).unwrap();
        let choice = &corrections.choices[0];
        assert_eq!((choice.header_row, choice.uses.get("Pupil")), (Some(3), Some(&ColumnUse::Name)));
        assert_eq!(choice.uses.len(), 1);
        let item = &corrections.items[0].items[0];
        assert_eq!((item.key.as_deref(), item.meanings.len()), (Some("B"), 2));
        assert_eq!((item.meanings[0].option.as_str(), item.meanings[0].patterns.len()), ("A", 2));
    }

    #[test]
    fn a_further_choice_begins_from_what_was_kept() {
        let mut look = look();
        let mut kept = SheetChoice::open(LayoutKey("a layout".into()));
        kept.uses.insert("Pupil".into(), ColumnUse::Name);
        look.in_force.choose(kept);
        let (corrections, _) = read(&look, typed(&[("sheet-0-header", "3")]), &SkillGraph::default()).unwrap();
        let choice = &corrections.choices[0];
        assert_eq!((choice.header_row, choice.uses.get("Pupil")), (Some(3), Some(&ColumnUse::Name)));
    }

    #[test]
    fn what_is_wrong_is_said_at_its_control() {
        for (name, value) in [
            ("sheet-0-header", "the third"),
            ("item-0-points", "-1"),
            ("item-0-points", "NaN"),
            ("item-0-meanings", "mul-as-add"),
            ("item-0-meanings", "B:"),
        ] {
            let answers = read_form(&[(name, value)]).unwrap_err();
            assert_eq!(answers.errors.keys().collect::<Vec<_>>(), [name]);
            assert_eq!(answers.typed[name], value);
        }
    }
}
