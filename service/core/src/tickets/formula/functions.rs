//! The functions that a formula may call, by name and number of arguments.
//!
//! Written forms keep what is read apart from what it is worth: `q(2,4)` reads 2/4 and is worth one half.

use super::eval::{EvalError, number, order};
use super::numbers::{self, LARGEST, Rational, fraction, whole};
use super::procedures as wrong;
use super::values::Value;
use super::words;
use num_integer::Integer;
use num_traits::{Signed, Zero};
use std::cmp::Ordering;

/// A function.
#[derive(Debug)]
pub(super) struct Function {
    name: &'static str,
    arguments: (usize, usize),
    pub(super) run: fn(&[Value]) -> Result<Value, EvalError>,
}

type Outcome = Result<Value, EvalError>;

/// Longest list that `nfac` gives and number that it takes.
const LARGEST_FACTORED: i128 = 10_000;

/// The function of a name that takes so many arguments; else part of a sentence.
pub(super) fn find(name: &str, n_arguments: usize) -> Result<&'static Function, String> {
    let function = FUNCTIONS.iter().find(|f| f.name == name).ok_or_else(|| format!("there is no function `{name}`"))?;
    let (least, most) = function.arguments;
    if (least..=most).contains(&n_arguments) {
        return Ok(function);
    }
    let takes = if least == most { least.to_string() } else { format!("{least} or more") };
    Err(format!("`{name}` takes {takes} values, not {n_arguments}"))
}

const fn function(name: &'static str, n: usize, run: fn(&[Value]) -> Outcome) -> Function {
    Function { name, arguments: (n, n), run }
}

static FUNCTIONS: [Function; 50] = [
    function("F", 2, |v| Ok(Value::Num(fraction(int(v, 0)?, int(v, 1)?)?))),
    function("q", 2, written_fraction),
    function("mx", 3, mixed),
    function("dec", 2, decimal),
    function("simp", 1, |v| simplest(num(v, 0)?)),
    function("rem", 2, |v| Ok(Value::Text(format!("{} R{}", int(v, 0)?, int(v, 1)?)))),
    function("clk", 1, clock),
    function("tv", 2, |v| Ok(Value::Shown { text: text(v, 0)?, value: *num(v, 1)? })),
    function("rel", 2, |v| in_words(v, ["less", "equal", "greater"])),
    function("cmp", 2, |v| in_words(v, ["<", "=", ">"])),
    function("abs", 1, |v| Ok(Value::Num(num(v, 0)?.abs()))),
    Function { name: "min", arguments: (1, 8), run: |v| extreme(v, Ordering::Less) },
    Function { name: "max", arguments: (1, 8), run: |v| extreme(v, Ordering::Greater) },
    function("gcd", 2, |v| Ok(Value::whole(int(v, 0)?.gcd(&int(v, 1)?)))),
    function("lcm", 2, |v| {
        numbers::bounded(Some(Rational::from_integer(positive(v, 0)?.lcm(&positive(v, 1)?)))).map(Value::Num)
    }),
    function("ceil_div", 2, |v| Ok(Value::Num(numbers::divide(num(v, 0)?, num(v, 1)?)?.ceil()))),
    function("dg", 2, |v| Ok(Value::whole(digit_of(int(v, 0)?, int(v, 1)?)))),
    function("digs", 1, |v| Ok(Value::List(wrong::digits(int(v, 0)?).into_iter().map(Value::whole).collect()))),
    function("first", 1, |v| Ok(Value::whole(wrong::digits(int(v, 0)?).last().copied().unwrap_or(0)))),
    function("digsum", 1, |v| Ok(Value::whole(wrong::digits(int(v, 0)?).iter().sum()))),
    function("rnd", 2, |v| round_to(int(v, 0)?, int(v, 1)?)),
    function("str", 1, |v| at(v, 0).map(|v| Value::Text(v.plain()))),
    function("int", 1, to_whole),
    function("len", 1, length),
    function("word", 1, |v| worded(words::number_words(int(v, 0)?), v)),
    function("place", 1, |v| worded(words::place_word(int(v, 0)?).map(str::to_owned), v)),
    function("parts", 1, |v| worded(words::part_word(int(v, 0)?).map(str::to_owned), v)),
    function("repeat", 3, repeated),
    function("nfac", 1, |v| factors(int(v, 0)?)),
    function("isprime", 1, |v| Ok(Value::Truth(is_prime(int(v, 0)?)?))),
    Function { name: "lst", arguments: (1, 16), run: |v| Ok(Value::List(v.to_vec())) },
    function("add_no_carry", 2, |v| procedure(v, wrong::add_no_carry)),
    function("add_write_both", 2, |v| procedure(v, wrong::add_write_both)),
    function("add_carry_swap", 2, |v| procedure(v, wrong::add_carry_swap)),
    function("add_left_align", 2, |v| procedure(v, wrong::add_left_align)),
    function("sub_smaller", 2, |v| procedure(v, wrong::sub_smaller)),
    function("sub_no_decrement", 2, |v| procedure(v, wrong::sub_no_decrement)),
    function("sub_zero_n", 2, |v| procedure(v, wrong::sub_zero_n)),
    function("sub_zero_zero", 2, |v| procedure(v, wrong::sub_zero_zero)),
    function("sub_from_zero", 2, |v| procedure(v, wrong::sub_from_zero)),
    function("sub_stop_zero", 2, |v| procedure(v, wrong::sub_stop_zero)),
    function("sub_across_zero", 2, |v| procedure(v, wrong::sub_across_zero)),
    function("mul_no_shift", 2, |v| procedure(v, wrong::mul_no_shift)),
    function("mul_columns", 2, |v| procedure(v, wrong::mul_columns)),
    function("mul_drop_carry", 2, |v| procedure(v, wrong::mul_drop_carry)),
    function("mul_carry_first", 2, |v| procedure(v, wrong::mul_carry_first)),
    function("mul_write_both", 2, |v| procedure(v, wrong::mul_write_both)),
    function("mul_zero_as_n", 2, |v| procedure(v, wrong::mul_zero_as_n)),
    function("div_skip_zero", 2, |v| procedure(v, wrong::div_skip_zero)),
    function("div_digitwise", 2, |v| procedure(v, wrong::div_digitwise)),
];

fn at(values: &[Value], idx: usize) -> Result<&Value, EvalError> {
    values.get(idx).ok_or_else(|| EvalError::Type("a function lacks a value".to_owned()))
}

fn num(values: &[Value], idx: usize) -> Result<&Rational, EvalError> {
    number(at(values, idx)?)
}

fn int(values: &[Value], idx: usize) -> Result<i128, EvalError> {
    whole(num(values, idx)?)
}

fn positive(values: &[Value], idx: usize) -> Result<i128, EvalError> {
    let number = int(values, idx)?;
    if number > 0 { Ok(number) } else { Err(EvalError::ZeroDivision) }
}

fn text(values: &[Value], idx: usize) -> Result<String, EvalError> {
    match at(values, idx)? {
        Value::Text(text) => Ok(text.clone()),
        other => Err(EvalError::Type(format!("`{}` is not a text", other.plain()))),
    }
}

fn written_fraction(v: &[Value]) -> Outcome {
    let (n, d) = (int(v, 0)?, int(v, 1)?);
    Ok(Value::Shown { text: format!("{n}/{d}"), value: fraction(n, d)? })
}

/// A mixed number as it is typed; the top may reach the bottom.
fn mixed(v: &[Value]) -> Outcome {
    let (w, n, d) = (int(v, 0)?, int(v, 1)?, int(v, 2)?);
    let value = numbers::add(&Rational::from_integer(w), &fraction(n, d)?)?;
    if n < 0 || w < 0 {
        return Ok(Value::Num(-value.abs() - Rational::from_integer(1)));
    }
    let text = match (w, n) {
        (w, 0) => w.to_string(),
        (0, n) => format!("{n}/{d}"),
        (w, n) => format!("{w} {n}/{d}"),
    };
    Ok(Value::Shown { text, value })
}

/// A decimal with so many places.
fn decimal(v: &[Value]) -> Outcome {
    let (n, places) = (int(v, 0)?, int(v, 1)?);
    let places = usize::try_from(places).ok().filter(|p| *p <= 9);
    let places = places.ok_or_else(|| EvalError::Type("a decimal has 0 to 9 places".to_owned()))?;
    let value = numbers::divide(&Rational::from_integer(n), &Rational::from_integer(10_i128.pow(places as u32)))?;
    if n < 0 || places == 0 {
        return Ok(Value::Num(value));
    }
    let digits = format!("{n:0>width$}", width = places + 1);
    let (wholes, parts) = digits.split_at(digits.len() - places);
    Ok(Value::Shown { text: format!("{wholes}.{parts}"), value })
}

/// Lowest terms, whole or mixed.
fn simplest(value: &Rational) -> Outcome {
    if value.is_negative() || value.is_integer() {
        return Ok(Value::Num(*value));
    }
    let (w, part) = (value.to_integer(), value.fract());
    let text = if w.is_zero() { part.to_string() } else { format!("{w} {part}") };
    Ok(Value::Shown { text, value: *value })
}

/// Minutes since midnight on a face of twelve hours.
fn clock(v: &[Value]) -> Outcome {
    let minutes = int(v, 0)?.rem_euclid(12 * 60);
    let hour = if minutes < 60 { 12 } else { minutes / 60 };
    Ok(Value::Shown { text: format!("{hour}:{:02}", minutes % 60), value: Rational::from_integer(minutes) })
}

fn in_words(v: &[Value], words: [&str; 3]) -> Outcome {
    let [less, same, more] = words;
    Ok(Value::text(match order(at(v, 0)?, at(v, 1)?)? {
        Ordering::Less => less,
        Ordering::Equal => same,
        Ordering::Greater => more,
    }))
}

fn extreme(values: &[Value], wanted: Ordering) -> Outcome {
    let mut best = at(values, 0)?;
    for value in values {
        if order(value, best)? == wanted {
            best = value;
        }
    }
    number(best).map(|n| Value::Num(*n))
}

fn digit_of(number: i128, place: i128) -> i128 {
    let digits = wrong::digits(number);
    usize::try_from(place).ok().and_then(|p| digits.get(p).copied()).unwrap_or(0)
}

/// The nearest multiple, half up.
fn round_to(number: i128, multiple: i128) -> Outcome {
    if multiple <= 0 {
        return Err(EvalError::ZeroDivision);
    }
    Ok(Value::whole((2 * number + multiple).div_euclid(2 * multiple) * multiple))
}

fn to_whole(v: &[Value]) -> Outcome {
    match at(v, 0)? {
        Value::Text(text) => text
            .parse::<i128>()
            .ok()
            .filter(|n| n.abs() <= LARGEST)
            .map(Value::whole)
            .ok_or_else(|| EvalError::Type(format!("`{text}` is not a whole number"))),
        other => Ok(Value::Num(number(other)?.trunc())),
    }
}

fn length(v: &[Value]) -> Outcome {
    match at(v, 0)? {
        Value::List(items) => Ok(Value::whole(items.len() as i128)),
        other => Ok(Value::whole(other.plain().chars().count() as i128)),
    }
}

fn worded(word: Option<String>, v: &[Value]) -> Outcome {
    match word {
        Some(word) => Ok(Value::Text(word)),
        None => Err(EvalError::Type(format!("no word is known for {}", at(v, 0)?.plain()))),
    }
}

/// A text so many times, with another between.
fn repeated(v: &[Value]) -> Outcome {
    let times = usize::try_from(int(v, 1)?).ok().filter(|n| *n <= 20).ok_or(EvalError::TooLarge)?;
    Ok(Value::Text(vec![text(v, 0)?; times].join(&text(v, 2)?)))
}

fn factors(number: i128) -> Outcome {
    if !(1..=LARGEST_FACTORED).contains(&number) {
        return Err(EvalError::TooLarge);
    }
    let small: Vec<i128> = (1..=number).take_while(|f| f * f <= number).filter(|f| number % f == 0).collect();
    let large = small.iter().rev().map(|f| number / f).filter(|f| f * f > number);
    Ok(Value::List(small.iter().copied().chain(large).map(Value::whole).collect()))
}

fn is_prime(number: i128) -> Result<bool, EvalError> {
    if number > LARGEST_FACTORED {
        return Err(EvalError::TooLarge);
    }
    Ok(number > 1 && (2..number).take_while(|f| f * f <= number).all(|f| number % f != 0))
}

fn procedure(v: &[Value], run: fn(i128, i128) -> Result<i128, EvalError>) -> Outcome {
    let (a, b) = (int(v, 0)?, int(v, 1)?);
    if a < 0 || b < 0 {
        return Err(EvalError::Negative);
    }
    run(a, b).map(Value::whole)
}
