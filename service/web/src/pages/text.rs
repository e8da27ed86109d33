//! Words for people: dates, counts, sentences, points.
//!
//! One place, so that the pages speak alike (`words_read_as_words`). Not here: words of findings and reasons, which
//! come with them.

use sheaf_app::weeks::Week;

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// `Week of Monday 2 February 2026`.
pub(super) fn week_words(week: Week) -> String {
    let monday = week.monday();
    let month = usize::try_from(monday.month() - 1).ok().and_then(|m| MONTHS.get(m)).copied().unwrap_or_default();
    format!("Week of Monday {} {month} {}", monday.day(), monday.year())
}

/// `1 student`, `3 students`.
pub(super) fn count(n: usize, singular: &str) -> String {
    if n == 1 { format!("1 {singular}") } else { format!("{n} {singular}s") }
}

/// `1 child`, `3 children`.
pub(super) fn children(n: usize) -> String {
    if n == 1 { "1 child".to_owned() } else { format!("{n} children") }
}

/// A capital at the start, a full stop at the end. A file's name at the start stays as it is.
pub(super) fn as_sentence(message: &str) -> String {
    let message = message.trim();
    let is_file = message.split([' ', ':']).next().is_some_and(|word| word.trim_end_matches('.').contains('.'));
    let mut chars = message.chars();
    let Some(first) = chars.next() else { return String::new() };
    let text: String = if is_file { message.to_owned() } else { first.to_uppercase().chain(chars).collect() };
    if text.ends_with(['.', '!', '?']) { text } else { format!("{text}.") }
}

/// Points without a needless decimal: `3`, `2.5`.
pub(super) fn points(value: f64) -> String {
    format!("{}", (value * 100.0).round() / 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_read_as_words() {
        let sentence = |text: &str, is: &str| assert_eq!(as_sentence(text), is);
        sentence("no group", "No group.");
        sentence("quiz.csv: row 3 is empty", "quiz.csv: row 3 is empty.");
        sentence("stopped.", "Stopped.");
        assert_eq!(week_words(Week::parse("2026-02-04").unwrap()), "Week of Monday 2 February 2026");
        assert_eq!((count(1, "student"), count(0, "student")), ("1 student".into(), "0 students".into()));
        assert_eq!((children(1), children(0)), ("1 child".into(), "0 children".into()));
        assert_eq!(as_sentence("the file is empty"), "The file is empty.");
        assert_eq!((points(3.0), points(2.5), points(1.0 / 3.0)), ("3".into(), "2.5".into(), "0.33".into()));
    }
}
