//! Forgetting a student: out of the list, every upload, every plan and what was kept of layouts.
//!
//! In:  an id. Out: counts, and whether the school's own setup still names the student.
//! What was read of an upload is kept without the student; its originals go where they hold the student or cannot be looked
//! through. Plans keep what they say of the others. A setup kept with a plan gets a blank id in place of the student's.
//! Keeps: no byte of name or id stays in the records (`a_forgotten_child_leaves_no_byte_in_the_file`).
//! Not here: the setup file, downloads, prints and backups, which are the school's.

use super::Weeks;
use super::corrections::Corrections;
use super::kept_reading::to_json;
use super::who::{Who, no_such_student};
use crate::error::AppError;
use serde_json::Value;
use sheaf_core::scores::{Item, ResponseTable};
use sheaf_sheets::read::Reading;
use sheaf_store::{Forgetting, Originals, PlanText, Upload, UploadWithout};
use std::time::Instant;

/// What was forgotten.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Forgotten {
    /// Uploads that held the student.
    pub n_uploads: usize,
    /// Uploads whose originals are gone.
    pub n_originals: usize,
    /// Plans that held the student.
    pub n_plans: usize,
    /// Whether the setup in force names the student: the school changes that itself.
    pub is_in_setup: bool,
}

impl Weeks {
    /// Forgets a student, under every id that a person said to be the same child's.
    ///
    /// # Errors
    /// [`AppError`] of kind not found where the records do not hold the student, or of the records.
    pub fn forget(&self, id: &str) -> Result<Forgotten, AppError> {
        let started = Instant::now();
        let who = self.who(id)?;
        let mut uploads = Vec::new();
        for monday in self.store.mondays()? {
            for upload in self.store.uploads_of(monday)? {
                uploads.extend(self.upload_without(&upload, &who)?);
            }
        }
        let plans: Vec<PlanText> = self
            .store
            .all_plans()?
            .into_iter()
            .filter_map(|plan| plan_without(&plan, &who).transpose())
            .collect::<Result<_, _>>()?;
        if !who.is_listed && uploads.is_empty() && plans.is_empty() {
            return Err(no_such_student());
        }
        let layouts = self.layouts_naming(&who)?;
        let ids: Vec<String> = who.ids.iter().map(ToString::to_string).collect();
        self.store.forget(Forgetting { ids: &ids, uploads: &uploads, plans: &plans, layouts: &layouts })?;
        self.forget_remembered();
        let forgotten = Forgotten {
            n_uploads: uploads.len(),
            n_originals: uploads.iter().filter(|u| u.originals == Originals::Go).count(),
            n_plans: plans.len(),
            is_in_setup: who.is_in(&self.setup().toml),
        };
        tracing::info!(
            job = "forget",
            n_uploads = forgotten.n_uploads,
            n_plans = forgotten.n_plans,
            duration_ms = started.elapsed().as_millis() as u64,
        );
        Ok(forgotten)
    }

    fn upload_without(&self, upload: &Upload, who: &Who) -> Result<Option<UploadWithout>, AppError> {
        // What does not read back is a fault to be told: without it nobody can say whether the student is in it.
        let reading = self.reading_of(upload)?;
        let holds = reading.table.students().iter().any(|s| who.ids.contains(&s.id));
        let is_in_originals = holds || upload.files.iter().any(|f| who.may_be_in(&f.name, f.bytes.as_deref()));
        let names: Vec<String> = upload.files.iter().map(|f| who.blank(&f.name)).collect();
        let is_said = names.iter().zip(&upload.files).any(|(new, f)| *new != f.name)
            || who.is_in(&to_json(&reading)?)
            || who.is_in(&upload.corrections);
        if !is_in_originals && !is_said {
            return Ok(None);
        }
        let without = reading_without(reading, who)?;
        let corrections = Corrections::from_json(&who.blank_json(&upload.corrections)?)?.to_json()?;
        Ok(Some(UploadWithout {
            id: upload.id,
            reading: (without.table.n_students() > 0).then(|| to_json(&without)).transpose()?,
            corrections,
            file_names: names,
            originals: if is_in_originals { Originals::Go } else { Originals::Stay },
        }))
    }

    fn layouts_naming(&self, who: &Who) -> Result<Vec<String>, AppError> {
        let choices =
            self.store.kept_choices()?.into_iter().filter(|(l, c)| who.is_in(l) || who.is_in(c)).map(|(l, _)| l);
        let items = self
            .store
            .kept_items()?
            .into_iter()
            .filter(|k| who.is_in(&k.layout) || who.is_in(&k.labels))
            .map(|k| k.layout);
        Ok(choices.chain(items).collect())
    }
}

fn reading_without(reading: Reading, who: &Who) -> Result<Reading, AppError> {
    let old = &reading.table;
    let mut table = ResponseTable::new();
    old.assessments().iter().for_each(|a| {
        table.add_dated_assessment(&who.blank(&a.name), a.week);
    });
    old.items().iter().for_each(|item| {
        table.add_item(Item { label: who.blank(&item.label), ..item.clone() });
    });
    for (from, student) in old.students().iter().enumerate().filter(|(_, s)| !who.ids.contains(&s.id)) {
        let to = table.add_student(student.clone());
        for item in 0..old.n_items() {
            table.set(to, item, old.mark(from, item).clone()).map_err(AppError::our_fault)?;
        }
    }
    let mut findings = reading.findings;
    findings.retain(|f| ![&f.message, &f.action, &f.cell].into_iter().any(|text| who.is_in(text)));
    for finding in &mut findings {
        finding.file = who.blank(&finding.file);
        finding.sheet = who.blank(&finding.sheet);
    }
    let mut inputs = reading.inputs;
    for input in &mut inputs {
        input.file = who.blank(&input.file);
        input.sheet = who.blank(&input.sheet);
    }
    Ok(Reading { inputs, findings, table, week: reading.week, ..Reading::default() })
}

/// The plan without the student; `None` where it does not hold the student.
fn plan_without(plan: &PlanText, who: &Who) -> Result<Option<PlanText>, AppError> {
    let mut published: Value = serde_json::from_str(&plan.published).map_err(AppError::our_fault)?;
    for list in ["students", "unplaced"] {
        if let Some(entries) = published.get_mut(list).and_then(Value::as_array_mut) {
            entries.retain(|entry| !entry.get("id").is_some_and(|id| who.is_one(id)));
        }
    }
    for group in published.get_mut("groups").and_then(Value::as_array_mut).into_iter().flatten() {
        if let Some(members) = group.get_mut("members").and_then(Value::as_array_mut) {
            members.retain(|member| !who.is_one(member));
        }
    }
    if let Some(findings) = published.get_mut("findings").and_then(Value::as_array_mut) {
        findings.retain(|f| !who.is_in(&f.to_string()));
    }
    drop_from_sessions(&mut published, who);
    // Tickets and items hold numbers that may look like an id; they name nobody.
    for part in ["input", "students", "unplaced", "groups", "rotation", "rotation_notes", "setup", "repairs"] {
        if let Some(value) = published.get_mut(part) {
            who.blank_value(value);
        }
    }
    let mut repairs: Value = serde_json::from_str(&plan.repairs).map_err(AppError::our_fault)?;
    for list in [&mut repairs, published.get_mut("repairs").unwrap_or(&mut Value::Null)] {
        list.as_array_mut().into_iter().flatten().for_each(|repair| drop_from_repair(repair, who));
    }
    who.blank_value(&mut repairs);
    let decided: Value = serde_json::from_str(&plan.overrules).map_err(AppError::our_fault)?;
    let mut overrules = decided.clone();
    for list in ["done", "undone"] {
        if let Some(decisions) = overrules.get_mut(list).and_then(Value::as_array_mut) {
            decisions.retain(|d| !d.get("student").is_some_and(|id| who.is_one(id)));
        }
    }
    who.blank_value(&mut overrules);
    let mut holds: Value = serde_json::from_str(&plan.holds).map_err(AppError::our_fault)?;
    for set in holds.as_array_mut().into_iter().flatten() {
        if let Some(ids) = set.as_array_mut() {
            ids.retain(|id| !who.is_one(id));
        }
    }
    let mut attended: Value = serde_json::from_str(&plan.attended).map_err(AppError::our_fault)?;
    if let Some(rows) = attended.as_array_mut() {
        rows.retain(|row| !row.get(0).is_some_and(|id| who.is_one(id)));
    }
    let without = PlanText {
        attended: serde_json::to_string(&attended).map_err(AppError::our_fault)?,
        setup: setup_without(&plan.setup, who),
        holds: serde_json::to_string(&holds).map_err(AppError::our_fault)?,
        overrules: serde_json::to_string(&overrules).map_err(AppError::our_fault)?,
        repairs: serde_json::to_string(&repairs).map_err(AppError::our_fault)?,
        published: serde_json::to_string(&published).map_err(AppError::our_fault)?,
        ..plan.clone()
    };
    let before: Value = serde_json::from_str(&plan.published).map_err(AppError::our_fault)?;
    let is_same = before == published
        && without.attended == plan.attended
        && without.holds == plan.holds
        && without.repairs == plan.repairs
        && decided == overrules
        && without.setup == plan.setup;
    Ok((!is_same).then_some(without))
}

/// Where the student was out, what a person wrote about it goes too: it may call the student by the first name alone.
fn drop_from_repair(repair: &mut Value, who: &Who) {
    let Some(without) = repair.get_mut("without").and_then(Value::as_array_mut) else { return };
    let n_before = without.len();
    without.retain(|out| {
        !out.as_str().and_then(|o| o.rsplit_once('@')).is_some_and(|(id, _)| who.is_one(&Value::from(id)))
    });
    if without.len() < n_before
        && let Some(reason) = repair.get_mut("reason")
    {
        *reason = Value::from("");
    }
}

/// Lists of who is expected, and busy times, lose the student whole.
fn drop_from_sessions(published: &mut Value, who: &Who) {
    let is_blank = |id: &Value| who.is_one(id) || id.as_str() == Some("");
    let repairs = published.get("repairs").and_then(Value::as_array).map_or(0, Vec::len);
    let changes = |r: usize| format!("/repairs/{r}/changes");
    let mut lists = vec!["/rotation".to_owned()];
    lists.extend((0..repairs).map(changes));
    for list in lists {
        for entry in published.pointer_mut(&list).and_then(Value::as_array_mut).into_iter().flatten() {
            for at in ["/students", "/before/students", "/after/students"] {
                if let Some(ids) = entry.pointer_mut(at).and_then(Value::as_array_mut) {
                    ids.retain(|id| !is_blank(id));
                }
            }
        }
    }
    if let Some(busy) = published.pointer_mut("/setup/busy").and_then(Value::as_array_mut) {
        busy.retain(|b| !b.get("student").is_some_and(is_blank));
    }
}

/// Each id of the student in quotes becomes a blank one that no other has, so that pairs stay pairs.
fn setup_without(setup: &str, who: &Who) -> String {
    let mut text = setup.to_owned();
    for id in &who.ids {
        let free = (1..).map(|n| format!("forgotten-{n}")).find(|f| !text.contains(f.as_str())).unwrap_or_default();
        for quote in ['"', '\''] {
            text = text.replace(&format!("{quote}{id}{quote}"), &format!("{quote}{free}{quote}"));
        }
    }
    blank_words(&text, who)
}

/// Blanks names and ids in strings and comments; a number that looks like an id is a setting.
fn blank_words(toml: &str, who: &Who) -> String {
    let (mut text, mut part, mut inside) = (String::new(), String::new(), None);
    let mut is_escaped = false;
    for c in toml.chars() {
        let ends = match inside {
            Some('#') => c == '\n',
            Some(quote) => c == quote && !is_escaped,
            None => matches!(c, '"' | '\'' | '#'),
        };
        is_escaped = inside == Some('"') && c == '\\' && !is_escaped;
        if ends {
            text.push_str(&if inside.is_some() { who.blank(&part) } else { std::mem::take(&mut part) });
            part.clear();
            text.push(c);
            inside = if inside.is_some() { None } else { Some(c) };
        } else {
            part.push(c);
        }
    }
    text.push_str(&if inside.is_some() { who.blank(&part) } else { part });
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn a_setting_that_looks_like_the_id_stays_a_setting() {
        let who = Who {
            ids: sheaf_core::roster::StudentId::parse("600").into_iter().collect(),
            names: BTreeSet::from(["Ann O'Neil".to_owned()]),
            is_listed: true,
        };
        let toml =
            "# 600 and Ann O'Neil\n[groups]\nkeep_apart = [[\"600\", '6001']]\n[reading]\nmax_columns = 600 # of 600\n";
        let without = setup_without(toml, &who);
        assert!(without.contains("max_columns = 600") && without.contains("'6001'"), "{without}");
        assert!(!without.contains("\"600\"") && !without.contains("O'Neil") && !without.contains("# 600"), "{without}");
        assert!(crate::weeks::SchoolSetup::parse("school.toml", &without).is_ok(), "{without}");
    }
}
