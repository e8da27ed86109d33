//! Holds a JSON value to a schema, in the part of JSON Schema 2020-12 that the description of the API uses.
//!
//! In:  a document whose references lead within it, a schema of it, a value. Out: what is wrong, with the place in the value.
//! Keeps: a keyword that is not known here is a fault, so that nothing is passed over in silence; an object may have no field that
//! its schema does not name (`a_fault_of_each_kind_is_seen`). A second pair of eyes is schemathesis, whose validator is others' making.
//! Source: JSON Schema 2020-12, sections 6 (validation) and 10 (applying).

use serde_json::Value;

/// Words that say something to people alone.
const FOR_PEOPLE: [&str; 4] = ["description", "title", "example", "examples"];

/// What is wrong with a value; empty where nothing is.
pub fn faults(document: &Value, schema: &Value, value: &Value) -> Vec<String> {
    let mut found = Vec::new();
    hold(document, schema, value, "", &mut found);
    found
}

fn hold(document: &Value, schema: &Value, value: &Value, place: &str, found: &mut Vec<String>) {
    let Some(keywords) = schema.as_object() else {
        found.push(format!("{place}: no schema"));
        return;
    };
    for (keyword, wanted) in keywords {
        let is_met = match keyword.as_str() {
            "$ref" => {
                let there = document.pointer(wanted.as_str().unwrap().trim_start_matches('#')).unwrap_or(&Value::Null);
                hold(document, there, value, place, found);
                true
            }
            "type" => is_of_type(wanted, value),
            "enum" => wanted.as_array().unwrap().contains(value),
            "format" => fits_format(wanted.as_str().unwrap(), value),
            "minimum" => value.as_f64().is_none_or(|n| n >= wanted.as_f64().unwrap()),
            "maximum" => value.as_f64().is_none_or(|n| n <= wanted.as_f64().unwrap()),
            "minItems" => value.as_array().is_none_or(|l| l.len() as u64 >= wanted.as_u64().unwrap()),
            "maxItems" => value.as_array().is_none_or(|l| l.len() as u64 <= wanted.as_u64().unwrap()),
            "oneOf" => {
                let fits = |one: &&Value| faults(document, one, value).is_empty();
                wanted.as_array().unwrap().iter().filter(fits).count() == 1
            }
            "items" => {
                for (idx, item) in value.as_array().into_iter().flatten().enumerate() {
                    hold(document, wanted, item, &format!("{place}/{idx}"), found);
                }
                true
            }
            "required" => {
                let has = |name: &Value| value.as_object().is_none_or(|o| o.contains_key(name.as_str().unwrap()));
                wanted.as_array().unwrap().iter().all(has)
            }
            "properties" | "additionalProperties" | "propertyNames" => true,
            _ => FOR_PEOPLE.contains(&keyword.as_str()),
        };
        if !is_met {
            found.push(format!("{place}: {value} against {keyword} {wanted}"));
        }
    }
    if keywords.contains_key("properties") || keywords.contains_key("additionalProperties") {
        hold_fields(document, schema, value, place, found);
    }
}

/// Each field by its own schema, or by that of all others; a field that has neither is a fault.
fn hold_fields(document: &Value, schema: &Value, value: &Value, place: &str, found: &mut Vec<String>) {
    for (name, field) in value.as_object().into_iter().flatten() {
        let place = format!("{place}/{name}");
        match (schema["properties"].get(name), &schema["additionalProperties"]) {
            (Some(named), _) => hold(document, named, field, &place, found),
            (None, other @ Value::Object(_)) => hold(document, other, field, &place, found),
            (None, _) => found.push(format!("{place}: no such field is described")),
        }
    }
}

fn is_of_type(wanted: &Value, value: &Value) -> bool {
    let is = |word: &Value| match word.as_str().unwrap() {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "string" => value.is_string(),
        "number" => value.is_number(),
        "integer" => value.is_u64() || value.is_i64(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        _ => false,
    };
    wanted.as_array().map_or_else(|| is(wanted), |words| words.iter().any(is))
}

/// Dates are read; the formats of numbers say how wide they are.
fn fits_format(format: &str, value: &Value) -> bool {
    match (format, value) {
        ("date", Value::String(text)) => text.parse::<jiff::civil::Date>().is_ok(),
        ("date", _) | ("int32" | "int64" | "uint64" | "double", _) => true,
        _ => false,
    }
}

#[test]
fn a_fault_of_each_kind_is_seen() {
    use serde_json::json;
    let document = json!({"shapes": {"Part": {"type": "object", "required": ["a"], "properties": {"a": {"type": "integer", "minimum": 1}}}}});
    let part = json!({"$ref": "#/shapes/Part"});
    let by_name = json!({"type": "object", "additionalProperties": {"type": "string"}});
    let either = json!({"oneOf": [{"type": "null"}, part]});
    for (schema, value, n_faults) in [
        (&part, json!({"a": 1}), 0),
        (&part, json!({"a": 0}), 1),
        (&part, json!({"a": 1.5}), 1),
        (&part, json!({}), 1),
        (&part, json!({"a": 1, "b": 2}), 1),
        (&part, json!([]), 1),
        (&by_name, json!({"x": "y"}), 0),
        (&by_name, json!({"x": 1}), 1),
        (&either, json!(null), 0),
        (&either, json!(3), 1),
        (&json!({"type": "array", "items": {"enum": ["A"]}}), json!(["A", "B"]), 1),
        (&json!({"type": ["string", "null"], "format": "date"}), json!("2026-02-30"), 1),
        (&json!({"type": "string", "nullable": true}), json!("x"), 1),
        (&json!({"maximum": 1}), json!(2), 1),
    ] {
        assert_eq!(faults(&document, schema, &value).len(), n_faults, "{schema} {value}");
    }
}
