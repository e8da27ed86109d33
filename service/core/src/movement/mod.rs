//! Who moved between groups from one week to the next, who was there, and how it went with each child's skill.
//!
//! In: the [`Seats`] of two weeks: which student sits in which group. Out: how many seats changed, the table of moves,
//! how alike the two groupings are (adjusted Rand index), and which group of this week continues which of last week,
//! so that group numbers stay.
//!
//! Rules it keeps: a student who is in one of the weeks only has joined or left, and is neither moved nor stayed
//! (`joining_and_leaving_is_not_moving`); every student is in exactly one move (`every_student_is_in_one_flow`);
//! names of groups do not matter for the agreement (`agreement_does_not_look_at_names`).
//! Growth, what chance alone would show, and who changed beside who stayed are one value, a [`Movement`].
//! Not here: weeks kept (`sheaf-store`).

mod agreement;
mod aim;
mod attendance;
mod chance;
mod continuity;
mod facts;
mod fairness;
mod growth;
mod invented;
mod memo;
mod next_step;
mod peoples_word;
mod published;
mod regrouping;
mod report;
mod seats;
mod state_changes;
mod verdict;

pub use agreement::{adjusted_rand, adjusted_rand_of_counts, cohens_kappa};
pub use aim::{AimReading, BesideAim, read_beside_aim, run_by_chance};
pub use attendance::{Attendance, AttendanceRow, HeldSession, Presence, TAUGHT_FROM, TimeReceived};
pub use chance::{Check, Spread, is_reliable_change};
pub use continuity::{continued_groups, kept_numbers};
pub use facts::{ChildFacts, FreshAnswers, WeekFacts};
pub use fairness::{CoreProblem, FEWEST_TOLD, PartKind, PartOfSchool, PartSums};
pub use growth::{AIM_WEEKS, Growth};
pub use invented::{ClaimRates, InventedClasses, Rate, claim_rates};
pub use memo::{CycleMemo, GroupMemo, GroupStep, LookBack, TeamDecision, cycle_memo};
pub use peoples_word::{Decided, GivenSeat, PeoplesWord, Stay};
pub use published::movement_json;
pub use regrouping::{ByChance, OfChanged, Regrouping};
pub use report::{ChildWeek, ChildWeeks, Movement, movement};
pub use seats::{Flow, SeatChanges, Seats, WayKind, agreement_between, flows, seat_changes};
pub use state_changes::StateChanges;
pub use verdict::{ChangedIdea, Judged, STUCK_ITEMS, STUCK_MINUTES, STUCK_WEEKS, SkillWeek, Verdict, judge};
