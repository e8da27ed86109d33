//! The shape of one student's whole record: the list entry, every mark that counts, the entry in every week's plan.
//!
//! Written by the app; these types are never made and only describe it.
//! Keeps: a record of the demo school is as described (acceptance test `every_answer_of_the_demo_school_is_as_described`).
#![allow(dead_code, reason = "types that only describe")]

use utoipa::ToSchema;
use utoipa::openapi::schema::{OneOfBuilder, Schema, Type};
use utoipa::openapi::{ObjectBuilder, Ref, RefOr};

/// What the records hold of one student.
#[derive(ToSchema)]
pub(crate) struct StudentRecord {
    /// As in the list of students, else as asked for.
    id: String,
    /// Every id that a person said to be this child's.
    ids: Vec<String>,
    name: String,
    /// Null where the student is on no list.
    #[schema(required)]
    grade: Option<String>,
    /// Null where the student is on no list.
    #[schema(required)]
    homeroom: Option<String>,
    /// What the list says that the child is entitled to.
    supports: Vec<String>,
    /// Weeks with marks or a plan.
    weeks: Vec<RecordWeek>,
}

/// One week of the record.
#[derive(ToSchema)]
struct RecordWeek {
    /// Its Monday.
    #[schema(format = Date)]
    week: String,
    /// Every mark.
    scores: Vec<RecordMark>,
    /// What the plan says of the student, seated or not; null where it says nothing.
    #[schema(required, schema_with = plan_entry)]
    plan: (),
}

/// An entry of a plan's `students` or `unplaced`.
fn plan_entry() -> RefOr<Schema> {
    OneOfBuilder::new()
        .item(ObjectBuilder::new().schema_type(Type::Null))
        .item(Ref::from_schema_name("PlanStudent"))
        .item(Ref::from_schema_name("Unplaced"))
        .into()
}

/// One mark with where it came from.
#[derive(ToSchema)]
struct RecordMark {
    /// The check that the item was given in.
    check: String,
    item: String,
    skills: Vec<String>,
    /// Scored, left blank, or not taken; never merged.
    state: MarkState,
    /// As given; null where the sheet holds points alone.
    #[schema(required)]
    answer: Option<String>,
    /// Null unless scored.
    #[schema(required)]
    points: Option<f64>,
    #[schema(required)]
    key: Option<String>,
    #[schema(minimum = 0)]
    points_possible: f64,
    /// Id of the upload.
    upload: i64,
    /// Names of its files.
    files: String,
    /// Its sheet, where it has one.
    sheet: String,
    /// Codes of wrong ideas that its options may show.
    ideas_offered: Vec<String>,
    /// Codes of those that the answer may show.
    ideas_shown: Vec<String>,
}

#[derive(ToSchema)]
#[schema(rename_all = "kebab-case")]
enum MarkState {
    Scored,
    Omitted,
    NotTaken,
}
