//! What would change if an upload took the place of another: counts first, then each student and mark.
//!
//! Long lists are cut and say by how much; the counts are of the whole. Not here: what counts as a change (`sheaf-app`).

use super::{mark_shown, text};
use sheaf_app::weeks::Replacement;
use sheaf_core::roster::Student;

/// Lines of a list that are shown.
const N_SHOWN: usize = 60;

/// One mark that changed.
pub(super) struct MarkChange {
    pub(super) student: String,
    pub(super) item: String,
    pub(super) before: String,
    pub(super) now: String,
}

/// What would change.
pub(super) struct ChangeView {
    pub(super) id: i64,
    pub(super) files: String,
    pub(super) is_none: bool,
    /// `2 students new`, `1 mark changed` …
    pub(super) counts: Vec<String>,
    pub(super) added: String,
    pub(super) gone: String,
    pub(super) items_added: String,
    pub(super) items_gone: String,
    pub(super) facts_changed: String,
    pub(super) marks: Vec<MarkChange>,
    pub(super) n_more_marks: usize,
}

pub(super) fn change_view(replacement: &Replacement) -> ChangeView {
    let d = &replacement.difference;
    let counts = [
        (d.added.len(), "student", "new"),
        (d.gone.len(), "student", "gone"),
        (d.marks.len(), "mark", "changed"),
        (d.items_added.len(), "item", "new"),
        (d.items_gone.len(), "item", "gone"),
        (d.facts_changed.len(), "item", "with another skill, key or points"),
    ];
    ChangeView {
        id: replacement.id,
        files: replacement.file_names.join(", "),
        is_none: d.is_none(),
        counts: counts
            .into_iter()
            .filter(|(n, ..)| *n > 0)
            .map(|(n, noun, what)| format!("{} {what}", text::count(n, noun)))
            .collect(),
        added: named(&d.added),
        gone: named(&d.gone),
        items_added: d.items_added.join(", "),
        items_gone: d.items_gone.join(", "),
        facts_changed: d.facts_changed.join(", "),
        marks: d
            .marks
            .iter()
            .take(N_SHOWN)
            .map(|m| MarkChange {
                student: shown(&m.student),
                item: m.item.clone(),
                before: mark_shown(&m.before).0,
                now: mark_shown(&m.now).0,
            })
            .collect(),
        n_more_marks: d.marks.len().saturating_sub(N_SHOWN),
    }
}

fn shown(student: &Student) -> String {
    if student.name.is_empty() || student.name == student.id.as_str() {
        student.id.to_string()
    } else {
        format!("{} ({})", student.name, student.id)
    }
}

fn named(students: &[Student]) -> String {
    let mut names: Vec<String> = students.iter().take(N_SHOWN).map(shown).collect();
    if students.len() > N_SHOWN {
        names.push(format!("and {} more", students.len() - N_SHOWN));
    }
    names.join(", ")
}
