//! The tables of `/results/{date}`: for each group what its columns take, and for each child what stands in the fields.
//!
//! In:  a group, and what was typed of rows that were not kept. Out: a [`GroupTable`] for the template.
//! Keeps: what was typed on a form that is no longer the child's is not shown on another one's items
//! (`what_was_typed_on_another_form_is_not_shown`). Not here: keeping it (`results`).

use super::hatch::{Badge, badge};
use super::results::word;
use sheaf_app::weeks::{ChildToType, EntryFault, EntryHint, FormToType, GroupResults, ResultStanding, TypedRow};
use std::collections::BTreeMap;

/// What was typed and not kept.
pub(super) struct Typed<'a> {
    /// By id.
    pub(super) rows: BTreeMap<&'a str, &'a TypedRow>,
    pub(super) faults: &'a [EntryFault],
}

pub(super) struct Field {
    /// Sent with what is typed.
    pub(super) name: String,
    /// Id of the element; with `e-` before it, of what is wrong.
    pub(super) id: String,
    pub(super) number: usize,
    pub(super) value: String,
    pub(super) fault: Option<String>,
}

pub(super) struct FormChoice {
    pub(super) code: String,
    pub(super) is_chosen: bool,
    /// After how many characters each entry is complete, for the script; 0 where that is not certain.
    pub(super) complete: String,
}

pub(super) struct Row {
    pub(super) who: String,
    pub(super) id: String,
    /// Id of the elements of this row.
    pub(super) place: String,
    /// None where the row cannot be typed.
    pub(super) fields: Vec<Field>,
    pub(super) forms: Vec<FormChoice>,
    pub(super) is_away: bool,
    pub(super) standing: &'static str,
    pub(super) fault: Option<String>,
}

pub(super) struct GroupTable {
    pub(super) id: String,
    pub(super) badge: Badge,
    /// What each column takes.
    pub(super) columns: Vec<(usize, String)>,
    pub(super) rows: Vec<Row>,
}

/// A group's table.
pub(super) fn table(group: &GroupResults, typed: &Typed<'_>) -> GroupTable {
    let columns = columns(&group.children);
    let rows = group.children.iter().enumerate();
    GroupTable {
        id: group.group.clone(),
        badge: badge(&group.group),
        rows: rows.map(|(at, child)| row(child, format!("{}-{at}", group.group), columns.len(), typed)).collect(),
        columns,
    }
}

/// A column for each item of the longest form, with what the forms of the group take there.
fn columns(children: &[ChildToType]) -> Vec<(usize, String)> {
    let mut columns: Vec<Vec<&str>> = Vec::new();
    for EntryHint { number, hint, .. } in children.iter().flat_map(|c| &c.forms).flat_map(|f| &f.items) {
        if columns.len() < *number {
            columns.resize(*number, Vec::new());
        }
        match number.checked_sub(1).and_then(|at| columns.get_mut(at)) {
            Some(hints) if !hints.contains(&hint.as_str()) => hints.push(hint),
            _ => {}
        }
    }
    columns.into_iter().enumerate().map(|(at, hints)| (at + 1, hints.join(" or "))).collect()
}

fn row(child: &ChildToType, place: String, n_columns: usize, typed: &Typed<'_>) -> Row {
    let id = child.id.to_string();
    let is_open = matches!(child.standing, ResultStanding::Open | ResultStanding::In | ResultStanding::Away);
    let has_form = |row: &&&TypedRow| child.forms.iter().any(|f| f.form_code == row.form_code);
    let typed_row = typed.rows.get(id.as_str()).filter(has_form);
    let (form_code, entries) =
        typed_row.map_or((&child.form_code, &child.entries), |row| (&row.form_code, &row.entries));
    let fault_of = |number| {
        let is_it = |f: &&EntryFault| f.student == id && f.number == number;
        typed.faults.iter().find(is_it).map(|f| f.says.clone())
    };
    let field = |number: usize| Field {
        name: format!("a|{number}|{id}"),
        id: format!("f-{place}-{number}"),
        number,
        value: number.checked_sub(1).and_then(|at| entries.get(at)).cloned().unwrap_or_default(),
        fault: fault_of(Some(number)),
    };
    Row {
        who: child.name.clone(),
        fields: (1..=n_columns).filter(|_| is_open).map(field).collect(),
        forms: child.forms.iter().map(|form| choice(form, form_code)).collect(),
        is_away: typed_row.map_or(child.standing == ResultStanding::Away, |row| row.is_away),
        standing: word(child.standing),
        fault: fault_of(None),
        place,
        id,
    }
}

fn choice(form: &FormToType, chosen: &str) -> FormChoice {
    let complete = form.items.iter().map(|i| i.complete_after.unwrap_or(0).to_string());
    FormChoice {
        code: form.form_code.clone(),
        is_chosen: form.form_code == chosen,
        complete: complete.collect::<Vec<_>>().join(" "),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_core::roster::StudentId;

    fn form(form_code: &str, hint: &str) -> FormToType {
        let item = EntryHint { number: 1, hint: hint.to_owned(), complete_after: Some(1) };
        FormToType { form_code: form_code.to_owned(), items: vec![item] }
    }

    fn group() -> GroupResults {
        let child = ChildToType {
            id: StudentId::parse("0417").unwrap(),
            name: "Reko V.".into(),
            standing: ResultStanding::In,
            forms: vec![form("KTRWB-3A", "A–D"), form("KTRWB-3B", "number")],
            form_code: "KTRWB-3A".into(),
            entries: vec!["B".into()],
        };
        GroupResults { group: "g3".into(), children: vec![child] }
    }

    #[test]
    fn what_was_typed_on_another_form_is_not_shown() {
        let value = |form_code: &str| {
            let typed = TypedRow {
                student: "0417".into(),
                form_code: form_code.into(),
                entries: vec!["E".into()],
                is_away: false,
            };
            let fault = EntryFault { student: "0417".into(), number: Some(1), says: "no E".into() };
            let typed = Typed { rows: BTreeMap::from([("0417", &typed)]), faults: &[fault] };
            table(&group(), &typed).rows.remove(0).fields.remove(0).value
        };
        assert_eq!((value("KTRWB-3B").as_str(), value("QQQQQ-3A").as_str()), ("E", "B"));
    }

    #[test]
    fn a_column_says_what_each_form_takes_there() {
        let shown = table(&group(), &Typed { rows: BTreeMap::new(), faults: &[] });
        assert_eq!(shown.columns, [(1, "A–D or number".to_owned())]);
        let row = &shown.rows[0];
        assert_eq!((row.place.as_str(), row.fields[0].name.as_str(), row.standing), ("g3-0", "a|1|0417", "✓ in"));
        assert_eq!(row.forms.iter().map(|f| f.is_chosen).collect::<Vec<_>>(), [true, false]);
    }
}
