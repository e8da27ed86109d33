//! The dictionary of the columns, as JSON that other programs read beside the files.
//!
//! In:  the tables, the week, the smallest count told. Out: `csv-metadata.json`: tables, columns, types, ranges, meanings, cautions.
//! Not here: what stands in the rows (`listed`, `counted`).

use super::{Field, Kind, Naming, SharedError, Table};
use serde_json::{Value, json};
use sheaf_core::plan::Plan;

pub(super) fn of(tables: &[Table], plan: &Plan, naming: Naming, smallest: usize) -> Result<Vec<u8>, SharedError> {
    let about = if naming == Naming::Nobody { "" } else { "Contains student information. " };
    let week = plan.week.map(|monday| monday.to_string());
    let dictionary = json!({
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "dc:title": "Groups and needs of one week",
        "dc:description": format!(
            "A suggestion from few answers: not a diagnosis, and no ground for eligibility or placement decisions. {about}An empty cell means: not measured, not given, or a count under {smallest} left out. A text that begins with \
             an apostrophe before =, +, - or @ has it so that no spreadsheet takes it for a formula."
        ),
        "dc:temporal": week,
        "tables": tables.iter().map(table).collect::<Vec<Value>>(),
    });
    let mut bytes = serde_json::to_vec_pretty(&dictionary)?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn table(table: &Table) -> Value {
    json!({
        "url": table.name,
        "dc:description": table.about,
        "dialect": {"header": true, "encoding": "utf-8"},
        "tableSchema": {
            "columns": table.fields.iter().map(|f| column(f, table.key.contains(&f.name))).collect::<Vec<Value>>(),
            "primaryKey": table.key,
        },
    })
}

fn column(field: &Field, is_key: bool) -> Value {
    json!({
        "name": field.name,
        "titles": field.name,
        "dc:description": field.about,
        "datatype": datatype(field.kind),
        "required": is_key,
    })
}

fn datatype(kind: Kind) -> Value {
    match kind {
        Kind::Text => json!("string"),
        Kind::Whole => json!("nonNegativeInteger"),
        Kind::Number => json!({"base": "decimal", "minimum": "0"}),
        Kind::Share => json!({"base": "decimal", "minimum": "0", "maximum": "1"}),
        Kind::Truth => json!("boolean"),
    }
}
