//! What a person corrected on the page, and what was kept of it for the next file of that layout.
//!
//! In / out: choices and item facts of `sheaf-sheets`, and the JSON in which the records hold them.
//! Keeps: corrections of an upload come before what was kept earlier for its layout
//! (`the_uploads_own_corrections_come_first`); what is written reads back (`corrections_come_back`).
//! Not here: applying them (`sheaf-sheets`, `item_facts`).

use super::Weeks;
use crate::error::AppError;
use serde::{Deserialize, Serialize};
use sheaf_core::scores::{ItemKind, OptionMeaning};
use sheaf_core::skills::SkillCode;
use sheaf_sheets::read::{
    ColumnUse, KnownItem, LayoutKey, Orientation, RememberedItems, SheetChoice, Standing, choice_for,
};
use sheaf_store::{KeptItems, Said};
use std::collections::BTreeMap;

/// Corrections of one upload, or everything that was kept.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Corrections {
    /// How sheets are to be read, one a layout.
    pub choices: Vec<SheetChoice>,
    /// Item facts.
    pub items: Vec<RememberedItems>,
}

#[derive(Serialize, Deserialize, Default)]
struct KeptCorrections {
    #[serde(default)]
    choices: Vec<KeptChoice>,
    #[serde(default)]
    items: Vec<KeptFacts>,
}

#[derive(Serialize, Deserialize)]
struct KeptChoice {
    layout: String,
    is_left_out: bool,
    header_row: Option<u32>,
    uses: BTreeMap<String, String>,
    /// Whether students run across; left out: not chosen.
    is_across: Option<bool>,
}

#[derive(Serialize, Deserialize)]
struct KeptFacts {
    layout: String,
    items: Vec<KeptItem>,
}

#[derive(Serialize, Deserialize)]
struct KeptItem {
    label: String,
    skills: Vec<String>,
    key: Option<String>,
    points: Option<f64>,
    kind: Option<String>,
    meanings: Vec<(String, Vec<String>)>,
}

impl Corrections {
    /// The choice for a sheet, if somebody made one for it or for the first of its layout.
    #[must_use]
    pub fn choice(&self, layout: &LayoutKey) -> Option<SheetChoice> {
        choice_for(&self.choices, layout)
    }

    /// Whether anything was said of this very layout.
    fn names(&self, layout: &LayoutKey) -> bool {
        self.choices.iter().any(|c| c.layout == *layout)
    }

    /// Puts a choice in place of the last one for its layout.
    pub fn choose(&mut self, choice: SheetChoice) {
        self.choices.retain(|c| c.layout != choice.layout);
        self.choices.push(choice);
    }

    /// Puts facts in place of the last ones for these items of that layout.
    pub fn remember(&mut self, facts: RememberedItems) {
        self.items.retain(|r| r.layout != facts.layout || labels(r) != labels(&facts));
        self.items.push(facts);
    }

    /// These, then those that were kept earlier: the first of a layout counts.
    #[must_use]
    pub(super) fn then(&self, kept: &Corrections) -> Corrections {
        let mut all = self.clone();
        all.choices.extend(kept.choices.iter().filter(|c| !self.names(&c.layout)).cloned());
        let is_new =
            |r: &&RememberedItems| !self.items.iter().any(|own| own.layout == r.layout && labels(own) == labels(r));
        all.items.extend(kept.items.iter().filter(is_new).cloned());
        all
    }

    pub(super) fn to_json(&self) -> Result<String, AppError> {
        let kept = KeptCorrections {
            choices: self.choices.iter().map(kept_choice).collect(),
            items: self.items.iter().map(kept_facts).collect(),
        };
        serde_json::to_string(&kept).map_err(AppError::our_fault)
    }

    pub(super) fn from_json(json: &str) -> Result<Corrections, AppError> {
        let kept: KeptCorrections = serde_json::from_str(json).map_err(AppError::our_fault)?;
        Ok(Corrections {
            choices: kept.choices.into_iter().map(choice_from).collect(),
            items: kept.items.into_iter().map(facts_from).collect(),
        })
    }
}

impl Weeks {
    /// What was kept for layouts seen before.
    pub(super) fn kept_corrections(&self) -> Result<Corrections, AppError> {
        let mut all = Corrections::default();
        for (_, json) in self.store.kept_choices()? {
            all.choices.push(choice_from(serde_json::from_str(&json).map_err(AppError::our_fault)?));
        }
        for kept in self.store.kept_items()? {
            all.items.push(facts_from(serde_json::from_str(&kept.items).map_err(AppError::our_fault)?));
        }
        Ok(all)
    }
}

impl Corrections {
    /// What is kept of them for the next files of their layouts.
    pub(super) fn said(&self) -> Result<Said, AppError> {
        let json = |value: &KeptChoice| serde_json::to_string(value).map_err(AppError::our_fault);
        let choices = self
            .choices
            .iter()
            .map(|c| Ok((c.layout.0.clone(), json(&kept_choice(c))?)))
            .collect::<Result<Vec<_>, AppError>>()?;
        let items = self.items.iter().map(kept_items).collect::<Result<Vec<_>, AppError>>()?;
        Ok(Said { choices, items })
    }
}

fn labels(facts: &RememberedItems) -> Vec<&str> {
    facts.items.iter().map(|i| i.label.as_str()).collect()
}

fn kept_items(facts: &RememberedItems) -> Result<KeptItems, AppError> {
    Ok(KeptItems {
        layout: facts.layout.0.clone(),
        labels: serde_json::to_string(&labels(facts)).map_err(AppError::our_fault)?,
        items: serde_json::to_string(&kept_facts(facts)).map_err(AppError::our_fault)?,
    })
}

fn kept_choice(choice: &SheetChoice) -> KeptChoice {
    KeptChoice {
        layout: choice.layout.0.clone(),
        is_left_out: choice.standing == Standing::LeftOut,
        header_row: choice.header_row,
        uses: choice.uses.iter().map(|(label, column_use)| (label.clone(), column_use.word().to_owned())).collect(),
        is_across: choice.orientation.map(|o| o == Orientation::StudentsAcross),
    }
}

fn choice_from(kept: KeptChoice) -> SheetChoice {
    let orientation = |is_across| if is_across { Orientation::StudentsAcross } else { Orientation::StudentsDown };
    SheetChoice {
        layout: LayoutKey(kept.layout),
        standing: if kept.is_left_out { Standing::LeftOut } else { Standing::Read },
        header_row: kept.header_row,
        uses: kept.uses.into_iter().filter_map(|(label, word)| Some((label, ColumnUse::parse(&word)?))).collect(),
        orientation: kept.is_across.map(orientation),
    }
}

fn kept_facts(facts: &RememberedItems) -> KeptFacts {
    let kept = |item: &KnownItem| KeptItem {
        label: item.label.clone(),
        skills: item.skills.iter().map(ToString::to_string).collect(),
        key: item.key.clone(),
        points: item.points,
        kind: item.kind.map(|k| k.word().to_owned()),
        meanings: item.meanings.iter().map(|m| (m.option.clone(), m.patterns.clone())).collect(),
    };
    KeptFacts { layout: facts.layout.0.clone(), items: facts.items.iter().map(kept).collect() }
}

fn facts_from(kept: KeptFacts) -> RememberedItems {
    let meaning = |(option, patterns)| OptionMeaning { option, patterns };
    let known = |item: KeptItem| KnownItem {
        label: item.label,
        skills: item.skills.iter().filter_map(|s| SkillCode::parse(s)).collect(),
        key: item.key,
        points: item.points,
        kind: item.kind.and_then(|k| ItemKind::parse(&k)),
        meanings: item.meanings.into_iter().map(meaning).collect(),
    };
    RememberedItems { layout: LayoutKey(kept.layout), items: kept.items.into_iter().map(known).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn corrections(header_row: u32, key: &str) -> Corrections {
        let layout = LayoutKey("a layout".into());
        let mut choice = SheetChoice::open(layout.clone());
        choice.header_row = Some(header_row);
        choice.orientation = Some(Orientation::StudentsAcross);
        choice.uses.insert("Pupil".into(), ColumnUse::Name);
        let item = KnownItem {
            label: "Q1".into(),
            skills: vec![SkillCode::parse("5.NF.B.5a").unwrap()],
            key: Some(key.into()),
            points: Some(2.0),
            kind: Some(ItemKind::Numeric),
            meanings: vec![OptionMeaning { option: "B".into(), patterns: vec!["adds-both".into()] }],
        };
        Corrections { choices: vec![choice], items: vec![RememberedItems { layout, items: vec![item] }] }
    }

    #[test]
    fn corrections_come_back() {
        let one = corrections(3, "A");
        assert_eq!(Corrections::from_json(&one.to_json().unwrap()).unwrap(), one);
        assert_eq!(Corrections::from_json("{}").unwrap(), Corrections::default());
    }

    #[test]
    fn the_uploads_own_corrections_come_first() {
        let (own, kept) = (corrections(3, "A"), corrections(5, "B"));
        assert_eq!(own.then(&kept), own);
        assert_eq!(Corrections::default().then(&kept), kept);
    }

    #[test]
    fn the_last_correction_of_a_layout_counts() {
        let (mut all, later) = (corrections(3, "A"), corrections(5, "B"));
        all.choose(later.choices[0].clone());
        all.remember(later.items[0].clone());
        assert_eq!(all, later);
    }
}
