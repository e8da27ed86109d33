//! What a type of the description is called on the page, with a link where it is a shape of its own.
//!
//! In:  a schema. Out: pieces of text, some of them names of shapes; of a named schema its fields.
//! Keeps: `a_type_is_told_in_words`, `back_quotes_are_read`. Not here: which call takes or gives it.

use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{AdditionalProperties, ArrayItems, Object, Schema, SchemaType, Type};

/// A piece of a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Piece {
    /// Words.
    Plain(String),
    /// What is typed as it stands.
    Code(String),
    /// The name of a shape.
    Shape(String),
}

impl Piece {
    /// Words.
    pub(super) fn plain(text: impl Into<String>) -> Self {
        Piece::Plain(text.into())
    }
}

/// A sentence of the description: what stands in back quotes is typed as it stands.
pub(super) fn sentence(text: &str) -> Vec<Piece> {
    let parts = text.split('`').enumerate().filter(|(_, part)| !part.is_empty());
    parts.map(|(n, part)| if n % 2 == 0 { Piece::plain(part) } else { Piece::Code(part.to_owned()) }).collect()
}

/// A named schema.
pub(super) struct Shape {
    pub(super) name: String,
    pub(super) words: Vec<Piece>,
    /// What it is, where it has no fields.
    pub(super) kind: Vec<Piece>,
    pub(super) fields: Vec<Field>,
}

/// A field of a shape.
pub(super) struct Field {
    pub(super) name: String,
    pub(super) is_always: bool,
    pub(super) kind: Vec<Piece>,
    pub(super) words: Vec<Piece>,
}

/// A named schema with its fields.
pub(super) fn shape_of(name: &str, schema: &RefOr<Schema>) -> Shape {
    let fields = match schema {
        RefOr::T(Schema::Object(object)) => fields_of(object),
        _ => Vec::new(),
    };
    Shape {
        name: name.to_owned(),
        words: sentence(&description_of(schema)),
        kind: if fields.is_empty() { pieces(schema) } else { Vec::new() },
        fields,
    }
}

fn fields_of(object: &Object) -> Vec<Field> {
    let field = |(name, schema): (&String, &RefOr<Schema>)| Field {
        name: name.clone(),
        is_always: object.required.contains(name),
        kind: pieces(schema),
        words: sentence(&description_of(schema)),
    };
    object.properties.iter().map(field).collect()
}

/// What stands beside a type in the description.
fn description_of(schema: &RefOr<Schema>) -> String {
    let words = match schema {
        RefOr::Ref(place) => return place.description.clone(),
        RefOr::T(Schema::Object(object)) => &object.description,
        RefOr::T(Schema::Array(list)) => &list.description,
        RefOr::T(Schema::OneOf(one)) => &one.description,
        RefOr::T(_) => &None,
    };
    words.clone().unwrap_or_default()
}

/// A type in words.
pub(super) fn pieces(schema: &RefOr<Schema>) -> Vec<Piece> {
    match schema {
        RefOr::Ref(place) => {
            let name = place.ref_location.rsplit('/').next().unwrap_or_default();
            vec![Piece::Shape(name.to_owned())]
        }
        RefOr::T(Schema::Array(list)) => match &list.items {
            ArrayItems::RefOrSchema(items) => after("list of ", pieces(items)),
            _ => vec![Piece::plain("list")],
        },
        RefOr::T(Schema::OneOf(one)) => alternatives(&one.items),
        RefOr::T(Schema::Object(object)) => object_words(object),
        RefOr::T(_) => vec![Piece::plain("anything")],
    }
}

fn after(words: &str, mut rest: Vec<Piece>) -> Vec<Piece> {
    rest.insert(0, Piece::plain(words));
    rest
}

/// `A or B or null`: null last.
fn alternatives(items: &[RefOr<Schema>]) -> Vec<Piece> {
    let is_null = |item: &&RefOr<Schema>| matches!(item, RefOr::T(Schema::Object(o)) if o.schema_type == SchemaType::Type(Type::Null));
    let (nulls, others): (Vec<_>, Vec<_>) = items.iter().partition(is_null);
    let mut all = Vec::new();
    for item in others.into_iter().chain(nulls) {
        if !all.is_empty() {
            all.push(Piece::plain(" or "));
        }
        all.extend(pieces(item));
    }
    all
}

fn object_words(object: &Object) -> Vec<Piece> {
    if let Some(values) = &object.enum_values {
        let words = values.iter().map(|v| v.as_str().map_or_else(|| v.to_string(), str::to_owned));
        return vec![Piece::plain(words.collect::<Vec<_>>().join(", "))];
    }
    if let Some(AdditionalProperties::RefOr(values)) = object.additional_properties.as_deref() {
        return after("by name: ", pieces(values));
    }
    let types = match &object.schema_type {
        SchemaType::Type(one) => std::slice::from_ref(one),
        SchemaType::Array(several) => several,
        SchemaType::AnyValue => return vec![Piece::plain("anything")],
    };
    let words: Vec<String> = types.iter().map(|t| type_word(t, object)).collect();
    vec![Piece::plain(words.join(" or "))]
}

fn type_word(one: &Type, object: &Object) -> String {
    let format = object.format.as_ref().and_then(|f| serde_json::to_value(f).ok());
    match (one, format.as_ref().and_then(|f| f.as_str())) {
        (Type::String, Some("date")) => "date".to_owned(),
        (Type::String, Some("binary")) => "file".to_owned(),
        (Type::String, _) => "text".to_owned(),
        (Type::Integer, _) => format!("whole number{}", range(object)),
        (Type::Number, _) => format!("number{}", range(object)),
        (Type::Boolean, _) => "true or false".to_owned(),
        (Type::Null, _) => "null".to_owned(),
        _ => "object".to_owned(),
    }
}

/// `, 0 to 1`; nothing where only the lower end is set and is 0, as counts have it.
fn range(object: &Object) -> String {
    let end = |end: &Option<utoipa::Number>| {
        let number = serde_json::to_value(end.as_ref()?).ok()?;
        Some(number.to_string().trim_end_matches(".0").to_owned())
    };
    match (end(&object.minimum), end(&object.maximum)) {
        (Some(low), Some(high)) => format!(", {low} to {high}"),
        (Some(low), None) if low != "0" => format!(", from {low}"),
        (None, Some(high)) => format!(", up to {high}"),
        _ => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(schema: serde_json::Value) -> String {
        let schema: RefOr<Schema> = serde_json::from_value(schema).unwrap();
        let shown = |piece| match piece {
            Piece::Shape(name) => format!("<{name}>"),
            Piece::Plain(text) | Piece::Code(text) => text,
        };
        pieces(&schema).into_iter().map(shown).collect()
    }

    #[test]
    fn back_quotes_are_read() {
        let code = |text: &str| Piece::Code(text.to_owned());
        let want = [Piece::plain("Send "), code("key"), Piece::plain(" and\n"), code("id"), Piece::plain(".")];
        assert_eq!(sentence("Send `key` and\n`id`."), want);
        assert_eq!(sentence(""), []);
    }

    #[test]
    fn a_type_is_told_in_words() {
        use serde_json::json;
        for (schema, told) in [
            (json!({"type": "string"}), "text"),
            (json!({"type": ["string", "null"], "format": "date"}), "date or null"),
            (json!({"type": "string", "format": "binary"}), "file"),
            (json!({"type": "integer", "minimum": 0}), "whole number"),
            (json!({"type": "integer", "minimum": 1}), "whole number, from 1"),
            (json!({"type": "number", "minimum": 0, "maximum": 1}), "number, 0 to 1"),
            (json!({"type": "string", "enum": ["easier", "harder"]}), "easier, harder"),
            (json!({"type": "array", "items": {"$ref": "#/components/schemas/Group"}}), "list of <Group>"),
            (json!({"oneOf": [{"type": "null"}, {"$ref": "#/components/schemas/Group"}]}), "<Group> or null"),
            (json!({"type": "object", "additionalProperties": {"type": "integer"}}), "by name: whole number"),
        ] {
            assert_eq!(words(schema), told);
        }
    }
}
