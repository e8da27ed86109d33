//! The end of a school year: which past years the records still hold, and taking them away when somebody says so.
//!
//! In:  what day it is; the day on which the setup lets a year begin, and for how many years records stay. Out: past years, oldest first.
//! Nothing goes by itself here: a person decides by local rule. A year goes whole: sheets, plans, attendance, results, decisions.
//! Keeps: weeks of the year that runs, and of years that the setup keeps, stay (`a_past_year_goes_and_the_year_that_runs_stays`).
//! Not here: the clock (`sheaf-web`), originals that go by themselves (`care`), the list of students, which the school replaces.

use super::{Week, Weeks};
use crate::error::{AppError, ErrorKind};
use jiff::civil::Date;
use sheaf_core::roster::RecordSettings;
use std::collections::BTreeMap;

/// A school year of which the records hold weeks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PastYear {
    /// As people call it: `2025-26`.
    pub name: String,
    /// Its first day, and that of the year after.
    pub begins: Date,
    /// See `begins`.
    pub ends: Date,
    /// Weeks in the records.
    pub n_weeks: usize,
}

/// The first day of the school year that a day lies in.
fn year_of(day: Date, settings: &RecordSettings) -> Date {
    let (month, first) = settings.year_begins;
    let begins = |year: i16| Date::new(year, month, first).unwrap_or(Date::constant(year, 8, 1));
    if day >= begins(day.year()) { begins(day.year()) } else { begins(day.year() - 1) }
}

fn after(begins: Date) -> Date {
    Date::new(begins.year() + 1, begins.month(), begins.day()).unwrap_or(Date::MAX)
}

impl Weeks {
    /// School years that are over for longer than the setup keeps records, oldest first.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn past_years(&self, today: Date) -> Result<Vec<PastYear>, AppError> {
        let settings = &self.setup().school.records;
        let kept = i16::try_from(settings.keep_years).unwrap_or(i16::MAX);
        let this_year = year_of(today, settings);
        let mut years: BTreeMap<Date, usize> = BTreeMap::new();
        for monday in self.store.mondays()? {
            *years.entry(year_of(monday, settings)).or_default() += 1;
        }
        let is_over = |begins: &Date| begins.year() < this_year.year().saturating_sub(kept);
        let year = |(begins, n_weeks): (Date, usize)| {
            let ends = after(begins);
            let name = format!("{}-{:02}", begins.year(), ends.year().rem_euclid(100));
            PastYear { name, begins, ends, n_weeks }
        };
        Ok(years.into_iter().filter(|(begins, _)| is_over(begins)).map(year).collect())
    }

    /// Takes a past year's weeks out of the records, for good. Gives how many.
    ///
    /// # Errors
    /// [`AppError`] of kind not found where there is no such past year; of the records, and nothing goes then.
    pub fn remove_year(&self, name: &str, today: Date) -> Result<usize, AppError> {
        let year = self.past_years(today)?.into_iter().find(|y| y.name == name).ok_or_else(|| {
            let what = "The records hold no such past school year; look at the list of years again.";
            AppError::new(ErrorKind::NotFound, "no-such-year", what)
        })?;
        let n_weeks = self.store.remove_weeks(year.begins, year.ends)?;
        self.forget_from(Week::of(year.begins));
        tracing::info!(job = "remove_year", n_weeks);
        Ok(n_weeks)
    }
}

#[cfg(test)]
mod tests {
    use super::super::small_quiz::{QUIZ, file};
    use super::super::{Keeping, SchoolSetup};
    use super::*;
    use jiff::civil::date;

    fn weeks(setup: &str) -> Weeks {
        Weeks::in_memory(SchoolSetup::parse("s", setup).unwrap()).unwrap()
    }

    fn hand_in(weeks: &Weeks, day: Date) {
        let text = QUIZ.replace("Ada", &format!("Ada{}", day.year()));
        weeks.take_in(Week::of(day), vec![file("quiz.csv", &text)], None, Keeping::Keep).unwrap();
        weeks.plan_week(Week::of(day), None).unwrap();
    }

    fn names(weeks: &Weeks, today: Date) -> Vec<(String, usize)> {
        weeks.past_years(today).unwrap().into_iter().map(|y| (y.name, y.n_weeks)).collect()
    }

    #[test]
    fn a_past_year_goes_and_the_year_that_runs_stays() {
        let weeks = weeks("");
        let (old, older, new) = (date(2026, 5, 4), date(2024, 9, 2), date(2026, 9, 7));
        [old, date(2025, 9, 8), older, new].into_iter().for_each(|day| hand_in(&weeks, day));
        assert_eq!(names(&weeks, date(2026, 7, 31)), [("2024-25".to_owned(), 1)]);
        assert_eq!(names(&weeks, date(2026, 8, 1)), [("2024-25".to_owned(), 1), ("2025-26".to_owned(), 2)]);
        let refused = weeks.remove_year("2026-27", date(2026, 9, 9)).unwrap_err();
        assert_eq!(refused.code, "no-such-year");
        assert_eq!(weeks.remove_year("2025-26", date(2026, 9, 9)).unwrap(), 2);
        assert_eq!(names(&weeks, date(2026, 9, 9)), [("2024-25".to_owned(), 1)]);
        assert_eq!(weeks.plan(Week::of(old)).unwrap_err().kind, ErrorKind::NotFound);
        assert!(weeks.uploads(Week::of(old)).unwrap().is_empty());
        assert!(!weeks.plan(Week::of(new)).unwrap().plan.groups.is_empty());
        assert_eq!(weeks.changes(None, 1).unwrap()[0].what, "year-removed");
    }

    #[test]
    fn the_setup_says_when_a_year_begins_and_how_many_stay() {
        let kept = weeks("[records]\nkeep_years = 2\nyear_begins = \"02-01\"");
        [date(2026, 1, 26), date(2026, 2, 2), date(2022, 6, 6)].into_iter().for_each(|day| hand_in(&kept, day));
        assert_eq!(names(&kept, date(2026, 9, 9)), [("2022-23".to_owned(), 1)]);
        assert_eq!(names(&kept, date(2028, 2, 1)), [("2022-23".to_owned(), 1), ("2025-26".to_owned(), 1)]);
        for wrong in ["13-01", "02-30", "02-29", "August", "8"] {
            let error = SchoolSetup::parse("s", &format!("[records]\nyear_begins = \"{wrong}\"")).unwrap_err();
            assert!(error.message.contains("line 2") && error.message.contains("08-01"), "{wrong}: {}", error.message);
        }
    }
}
