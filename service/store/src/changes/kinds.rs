//! What can be told of a change: who, a code for what, and what it is about; never a child's name, a score or a reason.
//!
//! In / out: plain values. Codes are written into records that last for years, so a code never changes its meaning.
//! Keeps: no two changes share a code (`every_change_has_a_code_of_its_own`). Not here: how entries are kept (the module above), words for
//! people (`sheaf-web`).

use jiff::civil::Date;

/// Who acts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Actor {
    /// Whoever opened the launch address: the person at the machine.
    AtMachine,
    /// A script with the launch token.
    Script,
    /// The command line.
    Command,
    /// The program by itself, such as when originals go after their time.
    Program,
    /// Somebody who signed in, by the name of the account.
    Account(String),
}

impl Actor {
    /// Words that stand for somebody without an account, so no account may have them for a name.
    pub const WORDS: [&'static str; 4] = ["launch", "script", "command", "program"];

    /// As it is kept.
    #[must_use]
    pub fn word(&self) -> &str {
        let [at_machine, script, command, program] = Self::WORDS;
        match self {
            Actor::AtMachine => at_machine,
            Actor::Script => script,
            Actor::Command => command,
            Actor::Program => program,
            Actor::Account(name) => name,
        }
    }
}

macro_rules! changes {
    ($($name:ident = $code:literal, $says:literal;)*) => {
        /// What was changed.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Change { $(#[doc = $says] $name,)* }

        impl Change {
            /// All there are.
            pub const ALL: &'static [Change] = &[$(Change::$name,)*];

            /// The code that is kept.
            #[must_use]
            pub fn code(self) -> &'static str {
                match self { $(Change::$name => $code,)* }
            }
        }
    };
}

changes! {
    SheetHandedIn = "sheet-handed-in", "Score sheets came and wait to be looked over.";
    SheetTakenIn = "sheet-taken-in", "Score sheets came and count.";
    SheetCorrected = "sheet-corrected", "How waiting sheets are read was corrected.";
    SheetCounted = "sheet-counted", "Waiting sheets were confirmed and count.";
    SheetTakenBack = "sheet-taken-back", "Sheets were taken back, with the plans made from them.";
    OriginalsRemoved = "originals-removed", "Originals went after their time.";
    YearRemoved = "year-removed", "The weeks of a past school year were removed.";
    StudentsListed = "students-listed", "A list of students took the place of the last.";
    SameChildAnswered = "same-child-answered", "Whether two ids are one child was answered.";
    StudentForgotten = "student-forgotten", "A student was forgotten.";
    AttendanceNoted = "attendance-noted", "Who was there was noted.";
    PlanMade = "plan-made", "The week's plan was made.";
    DayRepaired = "day-repaired", "A day was planned anew while somebody is out.";
    RepairTakenBack = "repair-taken-back", "The last repair was taken back.";
    DecisionMade = "decision-made", "A person overruled the suggestion.";
    SeatMoved = "seat-moved", "A child was moved to another group.";
    TargetChanged = "target-changed", "A group got another target.";
    ItemSwapped = "item-swapped", "An item of a ticket was swapped.";
    DecisionUndone = "decision-undone", "The last decision was undone.";
    DecisionRedone = "decision-redone", "An undone decision was made again.";
    ResultsTyped = "results-typed", "Results of exit tickets were typed.";
    MemoDecided = "memo-decided", "The team decided on a group.";
    SetupKept = "setup-kept", "The school's setup was changed.";
    AccountAdded = "account-added", "An account was added.";
    AccountRemoved = "account-removed", "An account was removed.";
    PassphraseChanged = "passphrase-changed", "The passphrase of an account was changed.";
    SignedIn = "signed-in", "Somebody signed in.";
    SignedOut = "signed-out", "Somebody signed out.";
}

/// What a change is about.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct About {
    week: Option<Date>,
    upload: Option<i64>,
    group: Option<String>,
    account: Option<String>,
    /// The id of a student; kept as a reference, never as itself.
    pub(super) child: Option<String>,
}

impl About {
    /// Nothing in particular.
    #[must_use]
    pub fn nothing() -> Self {
        About::default()
    }

    /// A week, by its Monday.
    #[must_use]
    pub fn week(monday: Date) -> Self {
        About { week: Some(monday), ..About::default() }
    }

    /// An upload.
    #[must_use]
    pub fn upload(id: i64) -> Self {
        About { upload: Some(id), ..About::default() }
    }

    /// An account.
    #[must_use]
    pub fn account(name: &str) -> Self {
        About { account: Some(name.to_owned()), ..About::default() }
    }

    /// With a group, by its id.
    #[must_use]
    pub fn and_group(self, id: &str) -> Self {
        About { group: Some(id.to_owned()), ..self }
    }

    /// With a child, by its id; what is kept is a reference.
    #[must_use]
    pub fn and_child(self, student: &str) -> Self {
        About { child: Some(student.to_owned()), ..self }
    }

    /// With an upload.
    #[must_use]
    pub fn and_upload(self, id: i64) -> Self {
        About { upload: Some(id), ..self }
    }

    /// As it is kept, the child left out.
    pub(super) fn text(&self) -> String {
        let parts = [
            self.week.map(|week| format!("week={week}")),
            self.upload.map(|id| format!("upload={id}")),
            self.group.as_ref().map(|id| format!("group={id}")),
            self.account.as_ref().map(|name| format!("account={name}")),
        ];
        parts.into_iter().flatten().collect::<Vec<_>>().join(" ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_change_has_a_code_of_its_own() {
        let codes: BTreeSet<&str> = Change::ALL.iter().map(|c| c.code()).collect();
        assert_eq!(codes.len(), Change::ALL.len());
        assert!(codes.iter().all(|c| c.contains('-') && c.chars().all(|l| l.is_ascii_lowercase() || l == '-')));
    }
}
