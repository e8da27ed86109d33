//! Tickets that were handed out, as the reader knows them again by their form codes.
//!
//! In:  the tickets of every plan that is or was a week's, as published. Out: keys, skills and what wrong answers mean, by form code.
//! Keeps: `a_published_ticket_is_known_again`. Not here: which rows of a sheet belong to which ticket (`sheaf-sheets`).

use super::Weeks;
use crate::error::AppError;
use serde::Deserialize;
use sheaf_core::scores::{ItemKind, OptionMeaning};
use sheaf_core::skills::SkillCode;
use sheaf_sheets::read::{KnownItem, KnownTicket};

#[derive(Deserialize)]
struct ReadTicket {
    /// Plans of an earlier version have none.
    form_code: Option<String>,
    items: Vec<ReadItem>,
}

#[derive(Deserialize)]
struct ReadItem {
    #[serde(default)]
    number: usize,
    #[serde(default)]
    skill: String,
    #[serde(rename = "type")]
    kind: String,
    #[serde(default)]
    options: Vec<ReadOption>,
    #[serde(default)]
    parts: Vec<ReadItem>,
    key: Vec<String>,
    points: f64,
    #[serde(default)]
    wrong_entries: Vec<ReadEntry>,
}

#[derive(Deserialize)]
struct ReadOption {
    label: String,
    error_pattern: Option<String>,
    also: Option<String>,
}

#[derive(Deserialize)]
struct ReadEntry {
    entry: String,
    error_pattern: String,
}

impl Weeks {
    /// Every ticket that was handed out.
    pub(super) fn handed_out(&self) -> Result<Vec<KnownTicket>, AppError> {
        let published = self.store.tickets()?;
        let known = published.iter().filter_map(|json| known(json).transpose());
        known.collect::<Result<_, _>>().map_err(AppError::our_fault)
    }
}

fn known(json: &str) -> serde_json::Result<Option<KnownTicket>> {
    let ticket: ReadTicket = serde_json::from_str(json)?;
    let items = ticket.items.iter().map(item).collect();
    Ok(ticket.form_code.map(|form_code| KnownTicket { form_code, items }))
}

fn item(read: &ReadItem) -> KnownItem {
    let kind = ItemKind::parse(&read.kind);
    // The results of a match item are points.
    let key = Some(read.key.join(",")).filter(|k| !k.is_empty() && kind != Some(ItemKind::Match));
    KnownItem {
        label: read.number.to_string(),
        skills: SkillCode::parse(&read.skill).into_iter().collect(),
        key,
        points: Some(read.points),
        kind,
        meanings: meanings(read, kind),
    }
}

/// What wrong answers may mean. Of a two-part item only the reason counts: the first part alone names no idea.
fn meanings(read: &ReadItem, kind: Option<ItemKind>) -> Vec<OptionMeaning> {
    if kind == Some(ItemKind::TwoPart) {
        let of_part = |(n, part): (usize, &ReadItem)| {
            let numbered = |m: OptionMeaning| OptionMeaning { option: format!("{}{}", n + 1, m.option), ..m };
            meanings(part, None).into_iter().map(numbered).collect::<Vec<_>>()
        };
        return read.parts.iter().enumerate().skip(1).flat_map(of_part).collect();
    }
    let of_option = |o: &ReadOption| {
        let patterns: Vec<String> = o.error_pattern.iter().chain(&o.also).cloned().collect();
        (!patterns.is_empty()).then(|| OptionMeaning { option: o.label.clone(), patterns })
    };
    let of_entry = |e: &ReadEntry| OptionMeaning { option: e.entry.clone(), patterns: vec![e.error_pattern.clone()] };
    read.options.iter().filter_map(of_option).chain(read.wrong_entries.iter().map(of_entry)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_published_ticket_is_known_again() {
        let json = r#"{"group":"g1","form":"A","form_code":"KTRWB-1A","items":[
            {"number":1,"skill":"4.NF.A.1","type":"choice","options":[{"label":"A","text":"x","error_pattern":null},
             {"label":"B","text":"y","error_pattern":"p","also":"q"}],"key":["A"],"points":1},
            {"number":2,"skill":"4.NF.A.1","type":"two-part","key":["B","A"],"points":2,"parts":[
             {"type":"choice","options":[{"label":"A","text":"","error_pattern":"first"}],"key":["B"],"points":1},
             {"type":"choice","options":[{"label":"D","text":"","error_pattern":"reason"}],"key":["A"],"points":1}]},
            {"number":3,"skill":"4.NF.A.1","type":"match","rows":["a"],"columns":["b"],"key":["b"],"points":1},
            {"number":4,"skill":"4.NF.A.1","type":"numeric","options":[],"key":["3/4"],"points":1,
             "wrong_entries":[{"entry":"4/3","error_pattern":"turned"}]}]}"#;
        let ticket = known(json).unwrap().unwrap();
        assert_eq!(ticket.form_code, "KTRWB-1A");
        let told: Vec<String> = ticket
            .items
            .iter()
            .map(|i| {
                let meanings: Vec<String> =
                    i.meanings.iter().map(|m| format!("{}={}", m.option, m.patterns.join("+"))).collect();
                format!("{} {} {:?} {}", i.label, i.key.as_deref().unwrap_or("-"), i.points, meanings.join(" "))
            })
            .collect();
        assert_eq!(
            told,
            ["1 A Some(1.0) B=p+q", "2 B,A Some(2.0) 2D=reason", "3 - Some(1.0) ", "4 3/4 Some(1.0) 4/3=turned"]
        );
    }
}
