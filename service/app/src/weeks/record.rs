//! One student's whole record: what the records hold, for whoever may see it.
//!
//! Out: JSON with the list entry, every mark in every upload that counts, and the entry in every week's plan
//! (`a_record_holds_what_was_read_and_planned`). Not here: movement across weeks (`movement`).

use super::who::{Who, no_such_student};
use super::{Week, Weeks};
use crate::error::AppError;
use serde_json::Value;
use sheaf_core::roster::StudentId;
use sheaf_core::scores::OptionMeaning;
use sheaf_sheets::read::Reading;
use sheaf_store::Upload;
use std::collections::BTreeSet;

impl Weeks {
    /// The list entry, every mark in every upload that counts, and every published plan's entry, week by week.
    ///
    /// # Errors
    /// [`AppError`] of kind not found where the records do not hold the student, or of the records.
    pub fn student_record(&self, id: &str) -> Result<Value, AppError> {
        let who = self.who(id)?;
        let listed = self.store.students()?.into_iter().find(|s| who.ids.contains(&s.id));
        let mut weeks = Vec::new();
        for monday in self.store.mondays()? {
            let mut scores = Vec::new();
            for upload in self.store.uploads_of(monday)?.iter().filter(|u| u.standing.counts()) {
                scores.extend(marks_of(&self.reading_of(upload)?, upload, &who));
            }
            let plan = self.store.plan(monday)?.map(|kept| plan_entry(&kept.published, &who)).transpose()?.flatten();
            if !scores.is_empty() || plan.is_some() {
                weeks.push(serde_json::json!({"week": Week::of(monday).to_string(), "scores": scores, "plan": plan}));
            }
        }
        if listed.is_none() && weeks.is_empty() {
            return Err(no_such_student());
        }
        let name = listed.as_ref().map(|s| s.name.clone()).or_else(|| who.names.first().cloned()).unwrap_or_default();
        Ok(serde_json::json!({
            "id": listed.as_ref().map_or(id, |s| s.id.as_str()),
            "ids": who.ids.iter().map(StudentId::as_str).collect::<Vec<_>>(),
            "name": name,
            "grade": listed.as_ref().map(|s| s.grade.as_str()),
            "homeroom": listed.as_ref().map(|s| s.homeroom.as_str()),
            "supports": listed.as_ref().map(|s| s.supports.clone()).unwrap_or_default(),
            "weeks": weeks,
        }))
    }
}

/// Each mark with where it came from: the upload, its files, and of one sheet its name.
fn marks_of(reading: &Reading, upload: &Upload, who: &Who) -> Vec<Value> {
    let table = &reading.table;
    let files: Vec<&str> = upload.files.iter().map(|f| f.name.as_str()).collect();
    let files = files.join(", ");
    let sheet = if let [one] = reading.inputs.as_slice() { one.sheet.as_str() } else { "" };
    let students = table.students().iter().enumerate().filter(|(_, s)| who.ids.contains(&s.id));
    let mut marks = Vec::new();
    for (idx, _) in students {
        for (item_idx, item) in table.items().iter().enumerate() {
            let mark = table.mark(idx, item_idx);
            let check = table.assessments().get(item.assessment).map_or("", |a| a.name.as_str());
            let chosen = |m: &&OptionMeaning| mark.answer.as_deref() == Some(m.option.as_str());
            marks.push(serde_json::json!({
                "check": check, "item": item.label, "skills": item.skills.iter().map(ToString::to_string).collect::<Vec<_>>(),
                "state": mark.state.word(), "answer": mark.answer, "points": mark.points,
                "key": item.key, "points_possible": item.points, "upload": upload.id, "files": files, "sheet": sheet,
                "ideas_offered": item.meanings.iter().flat_map(|m| &m.patterns).collect::<BTreeSet<_>>(),
                "ideas_shown": item.meanings.iter().filter(chosen).flat_map(|m| &m.patterns).collect::<BTreeSet<_>>(),
            }));
        }
    }
    marks
}

fn plan_entry(published: &str, who: &Who) -> Result<Option<Value>, AppError> {
    let plan: Value = serde_json::from_str(published).map_err(AppError::our_fault)?;
    let of = |list: &str| {
        let entries = plan.get(list).and_then(Value::as_array);
        entries.and_then(|e| e.iter().find(|s| s.get("id").is_some_and(|id| who.is_one(id)))).cloned()
    };
    Ok(of("students").or_else(|| of("unplaced")))
}
