//! Numbers and parts in words.
//! English number words up to what stems of grades 3 to 5 need, and names of parts such as thirds.
//! Not here: choosing between singular and plural in a stem (the model's own formula does).

const ONES: [&str; 20] = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
];
const TENS: [&str; 10] = ["", "ten", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"];

/// A number from 0 to 999,999 in words; `None` outside.
pub(super) fn number_words(number: i128) -> Option<String> {
    let number = u32::try_from(number).ok().filter(|n| *n < 1_000_000)?;
    Some(match (number / 1000, number % 1000) {
        (0, rest) => under_thousand(rest),
        (thousands, 0) => format!("{} thousand", under_thousand(thousands)),
        (thousands, rest) => format!("{} thousand {}", under_thousand(thousands), under_thousand(rest)),
    })
}

fn under_thousand(number: u32) -> String {
    match (number / 100, number % 100) {
        (0, rest) => under_hundred(rest),
        (hundreds, 0) => format!("{} hundred", under_hundred(hundreds)),
        (hundreds, rest) => format!("{} hundred {}", under_hundred(hundreds), under_hundred(rest)),
    }
}

fn under_hundred(number: u32) -> String {
    let (tens, ones) = (number as usize / 10, number as usize % 10);
    if let Some(word) = ONES.get(number as usize) {
        return (*word).to_owned();
    }
    let tens = TENS.get(tens).copied().unwrap_or_default();
    if ones == 0 { tens.to_owned() } else { format!("{tens}-{}", ONES.get(ones).copied().unwrap_or_default()) }
}

/// The name of several parts of size one n-th: `fifths` for 5; `None` where no word is kept.
pub(super) fn part_word(parts: i128) -> Option<&'static str> {
    Some(match parts {
        2 => "halves",
        3 => "thirds",
        4 => "fourths",
        5 => "fifths",
        6 => "sixths",
        8 => "eighths",
        9 => "ninths",
        10 => "tenths",
        12 => "twelfths",
        100 => "hundredths",
        _ => return None,
    })
}

/// The place of 10^k: `hundreds` for 2; `None` beyond hundred thousands.
pub(super) fn place_word(k: i128) -> Option<&'static str> {
    const PLACES: [&str; 6] = ["ones", "tens", "hundreds", "thousands", "ten thousands", "hundred thousands"];
    usize::try_from(k).ok().and_then(|k| PLACES.get(k).copied())
}
