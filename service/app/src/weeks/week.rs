//! A school week, known by its Monday; whatever day a person names, its week is meant.
//!
//! In:  a date, or text as year-month-day. Out: a [`Week`], which cannot hold another day than a Monday
//! (`any_day_names_its_week`). Not here: which weeks have records (`overview`), the clock (`sheaf-web`).

use crate::error::{AppError, ErrorKind};
use jiff::civil::{Date, Weekday};
use std::fmt;

/// A school week.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Week(Date);

impl Week {
    /// The week that a day lies in; Saturday and Sunday belong to the week before them.
    #[must_use]
    pub fn of(day: Date) -> Self {
        let back = i64::from(day.weekday().since(Weekday::Monday));
        Week(day.saturating_sub(jiff::Span::new().days(back)))
    }

    /// Reads a day such as `2026-02-02`, and gives its week.
    ///
    /// # Errors
    /// [`AppError`] of kind input where the text is not such a day.
    pub fn parse(text: &str) -> Result<Self, AppError> {
        let is_plain = text.len() == 10 && text.bytes().all(|b| b.is_ascii_digit() || b == b'-');
        text.parse().ok().filter(|_| is_plain).map(Week::of).ok_or_else(|| {
            AppError::new(
                ErrorKind::Input,
                "week-not-a-date",
                "The week is not a date; write the day as year-month-day, for example 2026-02-02.",
            )
        })
    }

    /// Its Monday.
    #[must_use]
    pub fn monday(self) -> Date {
        self.0
    }

    /// Weeks from this one to a later one; 0 for the same or an earlier one.
    #[must_use]
    pub fn until(self, later: Week) -> usize {
        let days = self.0.until(later.0).map_or(0, |span| span.get_days());
        usize::try_from(days / 7).unwrap_or(0)
    }

    /// The week after.
    #[must_use]
    pub fn next(self) -> Self {
        Week(self.0.saturating_add(jiff::Span::new().days(7)))
    }
}

impl fmt::Display for Week {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_day_names_its_week() {
        for day in ["2026-02-02", "2026-02-04", "2026-02-08"] {
            assert_eq!(Week::parse(day).unwrap().to_string(), "2026-02-02");
        }
        assert_eq!(Week::parse("2026-02-09").unwrap(), Week::parse("2026-02-02").unwrap().next());
    }

    #[test]
    fn weeks_are_counted_forward() {
        let week = Week::parse("2026-01-26").unwrap();
        assert_eq!(
            (week.until(Week::parse("2026-03-02").unwrap()), week.next().until(week), week.until(week)),
            (5, 0, 0)
        );
    }

    #[test]
    fn what_is_no_day_is_refused() {
        for text in ["", "next", "2026-13-01", "2026-02-30", "2026-02-02T10:00", "../../etc"] {
            assert_eq!(Week::parse(text).unwrap_err().code, "week-not-a-date", "{text}");
        }
    }
}
