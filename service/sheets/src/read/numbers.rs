//! Numbers in texts: decimal commas, digits and letters of other widths and scripts, vulgar fractions, `7 of 10`, percents.
//!
//! In:  a trimmed text and whether the comma is the decimal mark of its column. Out: a value, or nothing.
//! Keeps: `numbers_of_many_kinds_are_read`, `a_share_has_two_numbers`.
//! Not here: what a number means in its column (`cell_marks`, `marks`).

/// The zeros of digit scripts beside the ordinary one: Arabic-Indic, Persian, Devanagari, Bengali, Thai.
const ZEROS: [u32; 5] = [0x660, 0x6f0, 0x966, 0x9e6, 0xe50];

const VULGAR: [(char, f64); 10] = [
    ('½', 0.5),
    ('¼', 0.25),
    ('¾', 0.75),
    ('⅓', 1.0 / 3.0),
    ('⅔', 2.0 / 3.0),
    ('⅕', 0.2),
    ('⅛', 0.125),
    ('⅜', 0.375),
    ('⅝', 0.625),
    ('⅞', 0.875),
];

/// Full-width letters and digits, digits of other scripts and no-break spaces become their ordinary forms.
pub fn ordinary(text: &str) -> String {
    text.chars()
        .map(ordinary_char)
        .filter(|c| !matches!(c, '\u{200b}' | '\u{200c}' | '\u{200e}' | '\u{200f}' | '\u{2060}' | '\u{feff}'))
        .collect()
}

fn ordinary_char(c: char) -> char {
    let code = c as u32;
    match c {
        '\u{ff01}'..='\u{ff5e}' => char::from_u32(code - 0xfee0).unwrap_or(c),
        '\u{a0}' | '\u{3000}' | '\u{202f}' | '\u{2009}' => ' ',
        '\u{2044}' | '\u{2215}' => '/',
        '\u{66b}' => '.',
        '\u{2212}' => '-',
        _ => ZEROS
            .iter()
            .find(|zero| (**zero..**zero + 10).contains(&code))
            .and_then(|zero| char::from_digit(code - zero, 10))
            .unwrap_or(c),
    }
}

/// The value of a text that is one number.
pub fn number_of(text: &str, comma: bool) -> Option<f64> {
    if let Some(last) = text.chars().last()
        && let Some((_, part)) = VULGAR.iter().find(|(c, _)| *c == last)
    {
        let whole = text[..text.len() - last.len_utf8()].trim();
        return if whole.is_empty() { Some(*part) } else { plain_number(whole, comma).map(|w| w + part) };
    }
    plain_number(text, comma)
}

fn plain_number(text: &str, comma: bool) -> Option<f64> {
    let is_number = text.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+'))
        && text.chars().any(|c| c.is_ascii_digit());
    if !is_number || (text.contains(',') && !comma) {
        return None;
    }
    text.replace(',', ".").parse::<f64>().ok().filter(|v| v.is_finite())
}

/// `7/10`, `7 of 10`, `7 de 10`, `7 out of 10`; `85%` as 85 of 100.
pub fn out_of(text: &str, comma: bool) -> Option<(f64, f64)> {
    if let Some(percent) = text.strip_suffix('%') {
        return number_of(percent.trim(), comma).map(|p| (p, 100.0));
    }
    let (got, of) = text
        .split_once('/')
        .or_else(|| text.split_once(" out of "))
        .or_else(|| text.split_once(" of "))
        .or_else(|| text.split_once(" de "))
        .or_else(|| text.split_once(" sobre "))?;
    let (got, of) = (number_of(got.trim(), comma)?, number_of(of.trim(), comma)?);
    (of > 0.0).then_some((got, of))
}

/// A number with an exponent, as a spreadsheet leaves a long id behind.
pub fn is_scientific(text: &str) -> bool {
    let upper = text.to_uppercase();
    let Some((digits, exponent)) = upper.split_once('E') else { return false };
    let exponent = exponent.strip_prefix('+').unwrap_or(exponent);
    digits.contains(['.', ','])
        && digits.chars().all(|c| c.is_ascii_digit() || c == '.' || c == ',')
        && exponent.len() <= 3
        && !exponent.is_empty()
        && exponent.chars().all(|c| c.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_many_kinds_are_read() {
        for (text, comma, value) in [
            ("2.5", false, Some(2.5)),
            ("2,5", true, Some(2.5)),
            ("2,5", false, None),
            ("1.000,5", true, None),
            ("½", false, Some(0.5)),
            ("2½", false, Some(2.5)),
            ("１２", false, Some(12.0)),
            ("٣", false, Some(3.0)),
            ("-1", false, Some(-1.0)),
            ("", false, None),
            ("-", false, None),
        ] {
            assert_eq!(number_of(&ordinary(text), comma), value, "{text}");
        }
    }

    #[test]
    fn a_share_has_two_numbers() {
        for text in ["7/10", "7 of 10", "7 out of 10", "7 de 10", "7 sobre 10", "7⁄10"] {
            assert_eq!(out_of(&ordinary(text), false), Some((7.0, 10.0)), "{text}");
        }
        assert_eq!(out_of("85 %", false), Some((85.0, 100.0)));
        assert_eq!((out_of("7/0", false), out_of("a/b", false)), (None, None));
        assert!(is_scientific("1.0E+05") && is_scientific("1,2e7") && !is_scientific("12E3") && !is_scientific("E5"));
    }
}
