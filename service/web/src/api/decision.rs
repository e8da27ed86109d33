//! A decision as a script sends it: a seat, a target or an item, in words of the plan.
//!
//! In:  the body of a request. Out: a decision for `sheaf-app`. A field that none of the three has is refused.
//! Keeps: each of the three is read, anything else is told what to send (`each_decision_is_read_and_nothing_else`).
//! Not here: whether the plan has what is named, what follows (`sheaf-app`).

use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::Decision;
use utoipa::ToSchema;

/// One of three.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(untagged)]
#[schema(example = json!({"student": "0001", "to": "g2", "reason": "works well there", "hold": true}))]
pub(crate) enum DecisionSent {
    Seat(SeatSent),
    Target(TargetSent),
    Item(ItemSent),
}

/// A child sits in another group.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SeatSent {
    /// Id of the child.
    student: String,
    /// Id of the group.
    #[schema(example = "g2")]
    to: String,
    /// Stands beside the seat.
    #[serde(default)]
    reason: String,
    /// Whether it holds for the weeks to come.
    #[serde(default)]
    hold: bool,
}

/// A group is taught another skill.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct TargetSent {
    /// Id of the group.
    group: String,
    /// Code of a skill that was measured this week.
    #[schema(example = "4.NF.A.1")]
    target_skill: String,
    /// Stands beside the target.
    #[serde(default)]
    reason: String,
}

/// Another item takes the place of one on a ticket.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ItemSent {
    /// Id of the group.
    group: String,
    /// Form of its ticket.
    #[schema(example = "A")]
    form: String,
    /// Place on it.
    #[schema(minimum = 1)]
    item: usize,
    /// What to put there.
    #[schema(value_type = SwapWord)]
    swap: String,
    /// May be left out.
    #[serde(default)]
    reason: String,
}

/// Another of its kind and level, an easier, a harder one, or one of another kind.
#[derive(ToSchema)]
#[schema(rename_all = "kebab-case")]
#[allow(dead_code, reason = "only describes")]
enum SwapWord {
    Another,
    Easier,
    Harder,
    OtherKind,
}

impl DecisionSent {
    /// Reads a body.
    ///
    /// # Errors
    /// [`AppError`] of kind input where it is none of the three.
    pub(crate) fn parse(body: &[u8]) -> Result<Self, AppError> {
        serde_json::from_slice(body).map_err(|_| {
            let what = "Send JSON such as {\"student\": \"0417\", \"to\": \"g2\", \"reason\": \"\", \"hold\": true} or \
                        {\"group\": \"g2\", \"target_skill\": \"4.NF.A.1\", \"reason\": \"\"} or \
                        {\"group\": \"g2\", \"form\": \"A\", \"item\": 3, \"swap\": \"another\"}.";
            AppError::new(ErrorKind::Input, "form-broken", what)
        })
    }
}

impl From<DecisionSent> for Decision {
    fn from(sent: DecisionSent) -> Self {
        match sent {
            DecisionSent::Seat(SeatSent { student, to, reason, hold }) => Decision::Seat { student, to, reason, hold },
            DecisionSent::Target(TargetSent { group, target_skill, reason }) => {
                Decision::Target { group, target_skill, reason }
            }
            DecisionSent::Item(ItemSent { group, form, item, swap, reason }) => {
                Decision::Item { group, form, item, swap, reason }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_decision_is_read_and_nothing_else() {
        let read = |text: &str| DecisionSent::parse(text.as_bytes()).map(Decision::from);
        let seat = read(r#"{"student": "0417", "to": "g2"}"#).unwrap();
        let wanted = Decision::Seat { student: "0417".into(), to: "g2".into(), reason: String::new(), hold: false };
        assert_eq!(seat, wanted);
        let target = read(r#"{"group": "g2", "target_skill": "4.NF.A.1", "reason": "first"}"#).unwrap();
        assert_eq!(target.reason(), "first");
        let item = read(r#"{"group": "g2", "form": "A", "item": 3, "swap": "another"}"#).unwrap();
        assert!(matches!(item, Decision::Item { item: 3, .. }));
        for bad in
            ["", "{}", "[]", r#"{"student": "0417", "to": "g2", "holds": true}"#, r#"{"student": 417, "to": "g2"}"#]
        {
            assert_eq!(read(bad).unwrap_err().code, "form-broken", "{bad}");
        }
    }
}
