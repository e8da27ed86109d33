//! Shapes that several answers share: what was noticed, which sheets were read, a file as it is sent, the day in an address.
//!
//! Most of these types are never made: what they describe is written by other crates, which know nothing of this description.
//! Keeps: what is described is what is sent (acceptance test `every_answer_of_the_demo_school_is_as_described`).
#![allow(dead_code, reason = "types that only describe")]

use serde::{Deserialize, Serialize};
use sheaf_core::plan::InputSummary;
use utoipa::{IntoParams, ToSchema};

/// Something that was noticed on the way. It never stops the work.
#[derive(ToSchema)]
pub(crate) struct Finding {
    /// How much it matters.
    severity: Severity,
    /// What was noticed, in a word that never changes its meaning.
    #[schema(example = "points-over-maximum")]
    code: String,
    /// File as it was named; empty where it is about none.
    file: String,
    /// Sheet in it; empty where it has none.
    sheet: String,
    /// Cell such as `C17`; empty where it is about none.
    cell: String,
    /// One sentence for a person.
    message: String,
    /// What was done about it.
    action: String,
}

/// How much a finding matters: to know, worth a look, left out.
#[derive(ToSchema)]
#[schema(rename_all = "lowercase")]
enum Severity {
    Note,
    Warning,
    Error,
}

/// One sheet that was read.
#[derive(Serialize, ToSchema)]
pub(crate) struct Input {
    /// File as it was named.
    file: String,
    /// Hash of its bytes.
    sha256: String,
    /// Sheet in it; empty for text files.
    sheet: String,
    /// Students in it.
    students: usize,
    /// Items in it.
    items: usize,
}

impl From<InputSummary> for Input {
    fn from(i: InputSummary) -> Self {
        Input { file: i.file, sha256: i.sha256, sheet: i.sheet, students: i.n_students, items: i.n_items }
    }
}

/// Score sheets: one file a class or a check, up to 24 files and 50 MiB together.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SheetsForm {
    /// `.xlsx .xlsm .xlsb .xls .ods .csv .tsv`, known by their content.
    #[schema(min_items = 1, max_items = 24)]
    file: Vec<SheetBytes>,
    /// Facts of the items, where the sheets do not hold them: columns `item, skill, key, points, type`.
    #[schema(required = false)]
    items: SheetBytes,
    /// Any day of the week meant, where the address does not say it.
    #[schema(format = Date, required = false)]
    week: String,
}

/// One file.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct OneFileForm {
    /// A workbook or text, known by its content.
    file: SheetBytes,
}

/// Bytes of a file.
#[derive(Deserialize, ToSchema)]
#[schema(value_type = String, format = Binary)]
pub(crate) struct SheetBytes(String);

/// The week in an address.
#[derive(IntoParams)]
#[into_params(parameter_in = Path)]
pub(crate) struct OfWeek {
    /// Any day of the school week meant, as year-month-day.
    #[param(format = Date, example = "2026-02-02")]
    date: String,
}

/// What a skill of a student stands at, the first that holds of: too little seen, met before and not now, met on enough checks, met once, the
/// range of the share spans the cut, not yet.
#[derive(ToSchema)]
#[schema(rename_all = "kebab-case")]
pub(crate) enum SkillState {
    NotEnough,
    Lost,
    Confirmed,
    MetOnce,
    Close,
    NotYet,
}

/// Kind of an item.
#[derive(ToSchema)]
#[schema(rename_all = "kebab-case")]
pub(crate) enum ItemKind {
    Choice,
    MultiSelect,
    Match,
    TwoPart,
    Numeric,
}
