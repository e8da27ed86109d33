//! One item from one scope, by its type.
//! In:  a compiled model and the values of its parameters.
//! Out: the item as a student meets it, or why this draw is rejected.

use super::options::{self, Candidate, Labelled};
use super::{Rejection, Scope};
use crate::scores::ItemKind;
use crate::tickets::formula::{Budget, Formula, Template};
use crate::tickets::model::{Body, ItemModel, Level, OptionSpec, PartSpec, RowSpec};
use crate::tickets::{Drawing, MatchRow, ParamValue, TicketItem};
use std::collections::BTreeMap;

/// Points of an item; the parts of a two-part item share them.
const POINTS: f64 = 1.0;

type Params = BTreeMap<String, ParamValue>;

/// The item.
pub(super) fn build(
    model: &ItemModel,
    scope: &Scope,
    params: Params,
    budget: &mut Budget,
) -> Result<TicketItem, Rejection> {
    let mut item = blank(model, scope, params, budget)?;
    match &model.body {
        Body::Choice(spec) => {
            let labelled = options::choice(spec, scope, &item, budget)?;
            set_options(&mut item, labelled);
        }
        Body::MultiSelect { options, right_when } => {
            let labelled = multi_select(options, right_when, scope, &item, budget)?;
            set_options(&mut item, labelled);
        }
        Body::Match { columns, rows } => set_grid(&mut item, columns, rows, scope, budget)?,
        Body::TwoPart(parts) => set_parts(&mut item, parts, scope, budget)?,
        Body::Numeric { key, wrong } => set_entry(&mut item, key, wrong, scope, budget)?,
    }
    Ok(item)
}

fn blank(model: &ItemModel, scope: &Scope, params: Params, budget: &mut Budget) -> Result<TicketItem, Rejection> {
    let picture = model.picture.as_ref().map(|p| p.text(&scope.values, budget)).transpose()?;
    let line = model.drawing.as_ref().map(|d| d.text(&scope.values, budget)).transpose()?;
    let drawing = line.map(|l| Drawing::parse(&l.replace(',', ""))).transpose().map_err(Rejection::Model)?;
    Ok(TicketItem {
        number: 1,
        model: model.slug().to_owned(),
        version: model.version(),
        params,
        skill: model.skill().to_string(),
        kind: model.kind(),
        stem: model.stem.text(&scope.values, budget)?,
        picture,
        drawing,
        options: Vec::new(),
        rows: Vec::new(),
        columns: Vec::new(),
        parts: Vec::new(),
        key: Vec::new(),
        wrong_entries: Vec::new(),
        points: POINTS,
        level: Level::AsWritten,
    })
}

fn set_options(item: &mut TicketItem, labelled: Labelled) {
    item.options = labelled.options;
    item.key = labelled.key;
}

fn multi_select(
    specs: &[OptionSpec],
    right_when: &Formula,
    scope: &Scope,
    item: &TicketItem,
    budget: &mut Budget,
) -> Result<Labelled, Rejection> {
    let mut all = Vec::with_capacity(specs.len());
    for spec in specs {
        let candidate = options::candidate(spec, scope, budget)?;
        let is_right = is_right_option(&candidate, right_when, scope, budget)?;
        all.push((candidate, is_right));
    }
    let right: Vec<String> = all.iter().filter(|(_, right)| *right).map(|(c, _)| c.text.clone()).collect();
    if right.is_empty() || right.len() == all.len() {
        return Err(Rejection::Draw("all options right, or none"));
    }
    let mut all: Vec<Candidate> = all.into_iter().map(|(c, _)| Candidate { is_number: false, ..c }).collect();
    options::order(&mut all, &item.params, &item.model, scope.turn);
    Ok(options::label(all, |option| right.contains(&option.text)))
}

/// `right_when` with the option's number as `x`.
fn is_right_option(
    candidate: &Candidate,
    right_when: &Formula,
    scope: &Scope,
    budget: &mut Budget,
) -> Result<bool, Rejection> {
    use crate::tickets::formula::Value;
    let Some(value) = &candidate.value else {
        return Err(Rejection::Model(format!("the option `{}` has no number to compare", candidate.text)));
    };
    let mut values = scope.values.clone();
    values.push(Value::Num(*value));
    Ok(right_when.holds(&values, budget)?)
}

fn set_grid(
    item: &mut TicketItem,
    columns: &[Template],
    rows: &[RowSpec],
    scope: &Scope,
    budget: &mut Budget,
) -> Result<(), Rejection> {
    for column in columns {
        item.columns.push(column.text(&scope.values, budget)?);
    }
    for spec in rows {
        let key = spec.key.value(&scope.values, budget)?.show()?;
        if !item.columns.contains(&key) {
            return Err(Rejection::Model(format!("the key `{key}` of a row is not one of the columns")));
        }
        let row = grid_row(spec, &key, &item.columns, scope, budget)?;
        item.key.push(key);
        item.rows.push(row);
    }
    Ok(())
}

fn grid_row(
    spec: &RowSpec,
    key: &str,
    columns: &[String],
    scope: &Scope,
    budget: &mut Budget,
) -> Result<MatchRow, Rejection> {
    let mut row = MatchRow { text: spec.text.text(&scope.values, budget)?, ..MatchRow::default() };
    for wrong in &spec.wrong {
        let column = options::candidate(wrong, scope, budget)?.text;
        if column == key {
            continue;
        }
        if !columns.contains(&column) {
            return Err(Rejection::Model(format!("the wrong answer `{column}` of a row is not one of the columns")));
        }
        for code in &wrong.codes {
            if row.patterns.contains_key(&column) {
                row.also.entry(column.clone()).or_insert_with(|| code.clone());
            } else {
                row.patterns.insert(column.clone(), code.clone());
            }
        }
    }
    Ok(row)
}

fn set_parts(item: &mut TicketItem, parts: &[PartSpec], scope: &Scope, budget: &mut Budget) -> Result<(), Rejection> {
    for (part_idx, spec) in parts.iter().enumerate() {
        let labelled = options::part(&spec.choice, scope, item, budget)?;
        let stem = spec.stem.text(&scope.values, budget)?;
        item.key.extend(labelled.key.iter().cloned());
        item.parts.push(TicketItem {
            number: part_idx + 1,
            kind: ItemKind::Choice,
            stem,
            picture: None,
            drawing: None,
            options: labelled.options,
            key: labelled.key,
            parts: Vec::new(),
            points: POINTS / parts.len() as f64,
            ..item.clone()
        });
    }
    Ok(())
}

fn set_entry(
    item: &mut TicketItem,
    key: &Formula,
    wrong: &[OptionSpec],
    scope: &Scope,
    budget: &mut Budget,
) -> Result<(), Rejection> {
    let value = key.value(&scope.values, budget)?;
    value.show()?;
    let Some(number) = value.number().copied() else {
        return Err(Rejection::Model(format!("the key `{}` is not a number", value.plain())));
    };
    item.key.push(value.plain());
    let key = Candidate { text: value.plain(), value: Some(number), is_number: true, codes: Vec::new() };
    for entry in options::survivors(wrong, &key, scope, budget)? {
        let typed = entry.text.replace(',', "");
        item.wrong_entries.extend(entry.codes.into_iter().map(|code| (typed.clone(), code)));
    }
    Ok(())
}
