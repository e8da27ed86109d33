//! Days of the school week and times of day, in whole minutes.
//!
//! Keeps: a span ends after it begins; two spans overlap only if they share at least one minute
//! (`touching_spans_do_not_overlap`). Not here: dates and weeks (`jiff::civil::Date`), the clock (nowhere in this crate).

use std::fmt;
use thiserror::Error;

/// A school day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Day {
    /// Monday.
    Mon,
    /// Tuesday.
    Tue,
    /// Wednesday.
    Wed,
    /// Thursday.
    Thu,
    /// Friday.
    Fri,
}

impl Day {
    /// All five, in order.
    pub const ALL: [Day; 5] = [Day::Mon, Day::Tue, Day::Wed, Day::Thu, Day::Fri];

    /// `Mon` … `Fri`, any case, also the full English word.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let lower = text.trim().to_lowercase();
        Day::ALL.into_iter().find(|d| {
            let (short, long) = d.words();
            lower == short.to_lowercase() || lower == long.to_lowercase()
        })
    }

    /// `Mon` … `Fri`.
    #[must_use]
    pub fn short(self) -> &'static str {
        self.words().0
    }

    /// `Monday` … `Friday`.
    #[must_use]
    pub fn long(self) -> &'static str {
        self.words().1
    }

    fn words(self) -> (&'static str, &'static str) {
        match self {
            Day::Mon => ("Mon", "Monday"),
            Day::Tue => ("Tue", "Tuesday"),
            Day::Wed => ("Wed", "Wednesday"),
            Day::Thu => ("Thu", "Thursday"),
            Day::Fri => ("Fri", "Friday"),
        }
    }
}

/// Minutes since midnight, 0 to 1,440.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Minutes(pub u16);

impl Minutes {
    /// Reads `09:00` or `9:00`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (hours, minutes) = text.trim().split_once(':')?;
        if hours.is_empty() || hours.len() > 2 || minutes.len() != 2 {
            return None;
        }
        let (hours, minutes): (u16, u16) = (hours.parse().ok()?, minutes.parse().ok()?);
        (hours < 24 && minutes < 60).then_some(Minutes(hours * 60 + minutes))
    }
}

impl fmt::Display for Minutes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:02}:{:02}", self.0 / 60, self.0 % 60)
    }
}

/// A time that ends before it begins.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{start} to {end} ends before it begins")]
pub struct TimeError {
    start: Minutes,
    end: Minutes,
}

/// Part of one day, from `start` up to but not including `end`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct TimeSpan {
    /// The day.
    pub day: Day,
    /// First minute.
    pub start: Minutes,
    /// First minute after.
    pub end: Minutes,
}

impl TimeSpan {
    /// # Errors
    /// [`TimeError`] where the end is not after the start.
    pub fn new(day: Day, start: Minutes, end: Minutes) -> Result<Self, TimeError> {
        if end > start { Ok(TimeSpan { day, start, end }) } else { Err(TimeError { start, end }) }
    }

    /// Whether the two share at least one minute.
    #[must_use]
    pub fn overlaps(&self, other: &TimeSpan) -> bool {
        self.day == other.day && self.start < other.end && other.start < self.end
    }

    /// Length in minutes.
    #[must_use]
    pub fn length_minutes(&self) -> u16 {
        self.end.0 - self.start.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(start: &str, end: &str) -> TimeSpan {
        TimeSpan::new(Day::Mon, Minutes::parse(start).unwrap(), Minutes::parse(end).unwrap()).unwrap()
    }

    #[test]
    fn touching_spans_do_not_overlap() {
        assert!(!span("09:00", "09:30").overlaps(&span("09:30", "10:00")));
        assert!(span("09:00", "09:31").overlaps(&span("09:30", "10:00")));
    }

    #[test]
    fn a_span_that_ends_before_it_begins_is_refused() {
        let error = TimeSpan::new(Day::Tue, Minutes(600), Minutes(540)).unwrap_err();
        assert_eq!(error.to_string(), "10:00 to 09:00 ends before it begins");
    }

    #[test]
    fn odd_times_are_not_read() {
        for text in ["", "9", "24:00", "09:60", "9:5", "nine"] {
            assert_eq!(Minutes::parse(text), None, "{text}");
        }
        assert_eq!(Minutes::parse("9:05"), Some(Minutes(545)));
    }
}
