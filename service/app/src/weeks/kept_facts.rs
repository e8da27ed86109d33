//! The text in which the records keep what a week says of one child: a JSON list, short, as a year of a school has tens of thousands.
//!
//! In / out: a [`ChildFacts`] and its text. Keeps: what comes back is what was kept (`facts_come_back`); a text that is damaged or of
//! another form is told apart, and then made again (`another_form_is_no_facts`).
//! Not here: when facts are made and dropped (`facts`, `sheaf-store`).

use crate::error::AppError;
use serde::{Deserialize, Serialize};
use sheaf_core::movement::{Check, ChildFacts, FreshAnswers, GivenSeat, PeoplesWord, Stay, TimeReceived};
use sheaf_core::plan::SkillState;
use sheaf_core::roster::{Student, StudentId};
use sheaf_core::skills::SkillCode;
use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// The way of counting: the form of the text and the program that counted. Facts of another one are made again.
pub(super) const BASIS: &str = concat!("1/", env!("CARGO_PKG_VERSION"));

/// One child, in this order.
#[derive(Serialize, Deserialize)]
struct Kept<'a>(
    #[serde(borrow)] Who<'a>,
    #[serde(borrow)] Option<Seat<'a>>,
    #[serde(borrow)] Vec<Skill<'a>>,
    /// Whether answers look guessed.
    bool,
    /// Sessions noted, sessions there, minutes planned, minutes received.
    (usize, usize, u32, u32),
    #[serde(borrow)] Word<'a>,
);

/// Name, grade, homeroom, supports, as the sheets have them.
type Who<'a> = (Text<'a>, Text<'a>, Text<'a>, Vec<Text<'a>>);
/// Group and target.
type Seat<'a> = (Text<'a>, Text<'a>);
/// Code, state, whether it is lacked, fresh answers.
#[derive(Serialize, Deserialize)]
struct Skill<'a>(
    #[serde(borrow)] Text<'a>,
    #[serde(borrow)] Option<Text<'a>>,
    bool,
    #[serde(borrow)] Option<Fresh<'a>>,
);
/// Items, points, points possible, ideas.
type Fresh<'a> = (usize, f64, f64, Vec<(Text<'a>, f64)>);
/// Reason of the seat and whether it holds, reason of the target.
type Word<'a> = (Option<(Text<'a>, bool)>, Option<Text<'a>>);

#[derive(Serialize, Deserialize)]
struct Text<'a>(#[serde(borrow)] Cow<'a, str>);

fn text(text: &str) -> Text<'_> {
    Text(Cow::Borrowed(text))
}

/// Writes one child's facts.
pub(super) fn to_text(child: &ChildFacts) -> Result<String, AppError> {
    let Student { name, grade, homeroom, supports, .. } = &child.student;
    let seat = child.group.as_deref().zip(child.target.as_ref()).map(|(g, t)| (text(g), text(t.as_str())));
    let codes: BTreeSet<&SkillCode> = child.states.keys().chain(child.fresh.keys()).chain(&child.lacked).collect();
    let TimeReceived { n_sessions, n_there, minutes_planned, minutes_received } = child.time;
    let kept = Kept(
        (text(name), text(grade), text(homeroom), supports.iter().map(|s| text(s)).collect()),
        seat,
        codes.into_iter().map(|code| skill_of(child, code)).collect(),
        child.looks_guessed,
        (n_sessions, n_there, minutes_planned, minutes_received),
        (
            child.decided.seat.as_ref().map(|s| (text(&s.reason), s.stay == Stay::Held)),
            child.decided.target.as_deref().map(text),
        ),
    );
    serde_json::to_string(&kept).map_err(AppError::our_fault)
}

fn skill_of<'a>(child: &'a ChildFacts, code: &'a SkillCode) -> Skill<'a> {
    let fresh = child.fresh.get(code).map(|f| {
        let ideas = f.ideas.iter().map(|(code, seen)| (text(code), *seen)).collect();
        (f.n_items, f.check.points, f.check.possible, ideas)
    });
    let state = child.states.get(code).map(|s| text(s.word()));
    Skill(text(code.as_str()), state, child.lacked.contains(code), fresh)
}

/// Codes that were read, so that each is told apart once and its text is shared.
#[derive(Default)]
pub(super) struct Codes(HashMap<String, SkillCode>);

impl Codes {
    fn get(&mut self, text: &str) -> Option<SkillCode> {
        if let Some(known) = self.0.get(text) {
            return Some(known.clone());
        }
        let code = SkillCode::parse(text)?;
        self.0.insert(text.to_owned(), code.clone());
        Some(code)
    }
}

/// Reads one child's facts; `None` where the text is not one of ours.
pub(super) fn from_text(id: StudentId, json: &str, codes: &mut Codes) -> Option<ChildFacts> {
    let Kept((name, grade, homeroom, supports), seat, skills, looks_guessed, time, word) =
        serde_json::from_str(json).ok()?;
    let (mut states, mut lacked, mut fresh) = (BTreeMap::new(), BTreeSet::new(), BTreeMap::new());
    for Skill(code, state, is_lacked, answers) in skills {
        let code = codes.get(&code.0)?;
        if let Some((n_items, points, possible, ideas)) = answers {
            let ideas = ideas.into_iter().map(|(code, seen)| (own(code), seen)).collect();
            fresh.insert(code.clone(), FreshAnswers { n_items, check: Check { points, possible }, ideas });
        }
        if is_lacked {
            lacked.insert(code.clone());
        }
        if let Some(state) = state {
            states.insert(code, SkillState::parse(&state.0)?);
        }
    }
    let (group, target) = match seat {
        Some((group, target)) => (Some(own(group)), Some(codes.get(&target.0)?)),
        None => (None, None),
    };
    let stay = |held| if held { Stay::Held } else { Stay::ThisWeek };
    let (n_sessions, n_there, minutes_planned, minutes_received) = time;
    let supports = supports.into_iter().map(own).collect();
    Some(ChildFacts {
        student: Student { id, name: own(name), grade: own(grade), homeroom: own(homeroom), supports },
        group,
        target,
        states,
        lacked,
        fresh,
        looks_guessed,
        time: TimeReceived { n_sessions, n_there, minutes_planned, minutes_received },
        decided: PeoplesWord {
            seat: word.0.map(|(reason, held)| GivenSeat { reason: own(reason), stay: stay(held) }),
            target: word.1.map(own),
        },
    })
}

fn own(text: Text<'_>) -> String {
    text.0.into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn code(text: &str) -> SkillCode {
        SkillCode::parse(text).unwrap()
    }

    fn child() -> ChildFacts {
        let fresh = FreshAnswers {
            n_items: 3,
            check: Check { points: 1.5, possible: 3.0 },
            ideas: vec![("adds-tops".to_owned(), 0.5)],
        };
        ChildFacts {
            student: Student {
                id: StudentId::parse("0007").unwrap(),
                name: "Ada \"A\" Åsh".to_owned(),
                grade: "4".to_owned(),
                homeroom: String::new(),
                supports: vec!["read aloud".to_owned()],
            },
            group: Some("g3".to_owned()),
            target: Some(code("4.NF.A.1")),
            states: BTreeMap::from([
                (code("4.NF.A.1"), SkillState::Close),
                (code("Place value"), SkillState::NotEnough),
            ]),
            lacked: BTreeSet::from([code("4.NF.A.1")]),
            fresh: BTreeMap::from([(code("3.OA.A.1"), fresh)]),
            looks_guessed: true,
            time: TimeReceived { n_sessions: 3, n_there: 2, minutes_planned: 90, minutes_received: 60 },
            decided: PeoplesWord {
                seat: Some(GivenSeat { reason: "with its \u{201c}twin\u{201d}".to_owned(), stay: Stay::Held }),
                target: Some(String::new()),
            },
        }
    }

    #[test]
    fn facts_come_back() {
        let id = || StudentId::parse("0007").unwrap();
        let bare = ChildFacts { group: None, target: None, decided: PeoplesWord::default(), ..child() };
        for facts in [child(), bare] {
            assert_eq!(from_text(id(), &to_text(&facts).unwrap(), &mut Codes::default()), Some(facts));
        }
    }

    #[test]
    fn another_form_is_no_facts() {
        let whole = to_text(&child()).unwrap();
        for text in ["", "{}", "[]", &whole[..40], &whole.replace("close", "nearly")] {
            assert_eq!(from_text(StudentId::parse("0007").unwrap(), text, &mut Codes::default()), None, "{text}");
        }
    }
}
