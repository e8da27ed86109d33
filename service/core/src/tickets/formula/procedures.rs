//! Wrong ways of written arithmetic, digit by digit, as children do them.
//!
//! In:  whole numbers from 0; the shorter number is padded with zeros on the left unless said otherwise.
//! Out: what the child writes.
//! Each is checked against worked answers (`each_wrong_procedure_gives_its_worked_answer`).
//! Source: Buswell & John 1926 and VanLehn 1990 for the subtraction procedures, else common practice.

use super::EvalError;
use super::numbers::LARGEST;

/// Digits, ones first; at least one.
pub(super) fn digits(number: i128) -> Vec<i128> {
    let mut rest = number.max(0);
    let mut out = vec![rest % 10];
    rest /= 10;
    while rest > 0 {
        out.push(rest % 10);
        rest /= 10;
    }
    out
}

/// Ones-first digits (or longer written pieces) put side by side as one number.
fn written(pieces: &[i128]) -> Result<i128, EvalError> {
    let text: String = pieces.iter().rev().map(ToString::to_string).collect();
    text.parse().ok().filter(|n| *n <= LARGEST).ok_or(EvalError::TooLarge)
}

/// The columns of two numbers, ones first.
fn columns(a: i128, b: i128) -> Vec<(i128, i128)> {
    let (a, b) = (digits(a), digits(b));
    let digit = |d: &[i128], k: usize| d.get(k).copied().unwrap_or(0);
    (0..a.len().max(b.len())).map(|k| (digit(&a, k), digit(&b, k))).collect()
}

/// Every column sum without its ten.
pub(super) fn add_no_carry(a: i128, b: i128) -> Result<i128, EvalError> {
    written(&columns(a, b).iter().map(|(x, y)| (x + y) % 10).collect::<Vec<_>>())
}

/// Every column sum in full, side by side.
pub(super) fn add_write_both(a: i128, b: i128) -> Result<i128, EvalError> {
    written(&columns(a, b).iter().map(|(x, y)| x + y).collect::<Vec<_>>())
}

/// Of a two-digit column sum the tens digit is written and the ones digit carried; the last column is written in full.
pub(super) fn add_carry_swap(a: i128, b: i128) -> Result<i128, EvalError> {
    let columns = columns(a, b);
    let mut pieces = Vec::with_capacity(columns.len());
    let mut carried = 0;
    for (k, (x, y)) in columns.iter().enumerate() {
        let sum = x + y + carried;
        let is_swapped = sum > 9 && k + 1 < columns.len();
        carried = if is_swapped { sum % 10 } else { 0 };
        pieces.push(if is_swapped { sum / 10 } else { sum });
    }
    written(&pieces)
}

/// The shorter number is padded with zeros on the right.
pub(super) fn add_left_align(a: i128, b: i128) -> Result<i128, EvalError> {
    let length = digits(a).len().max(digits(b).len());
    let padded = |n: i128| (digits(n).len()..length).try_fold(n, |n, _| n.checked_mul(10));
    let sum = padded(a).zip(padded(b)).and_then(|(a, b)| a.checked_add(b));
    sum.filter(|n| *n <= LARGEST).ok_or(EvalError::TooLarge)
}

/// The smaller digit from the larger in every column.
pub(super) fn sub_smaller(a: i128, b: i128) -> Result<i128, EvalError> {
    written(&columns(a, b).iter().map(|(x, y)| (x - y).abs()).collect::<Vec<_>>())
}

/// Ten is added where needed, and no column is ever reduced.
pub(super) fn sub_no_decrement(a: i128, b: i128) -> Result<i128, EvalError> {
    written(&columns(a, b).iter().map(|(x, y)| if x < y { x + 10 - y } else { x - y }).collect::<Vec<_>>())
}

/// A column with a zero on top gives the bottom digit; other columns are right.
pub(super) fn sub_zero_n(a: i128, b: i128) -> Result<i128, EvalError> {
    with_zero_columns(a, b, |bottom| bottom)
}

/// A column with a zero on top gives zero; other columns are right.
pub(super) fn sub_zero_zero(a: i128, b: i128) -> Result<i128, EvalError> {
    with_zero_columns(a, b, |_| 0)
}

fn with_zero_columns(a: i128, b: i128, answer: impl Fn(i128) -> i128) -> Result<i128, EvalError> {
    let right = digits((a - b).max(0));
    let pieces = columns(a, b)
        .into_iter()
        .enumerate()
        .map(|(k, (top, bottom))| if top == 0 { answer(bottom) } else { right.get(k).copied().unwrap_or(0) });
    written(&pieces.collect::<Vec<_>>())
}

/// What a child does with the columns to the left when one column needs ten more.
type Borrow = fn(top: &mut [i128], from: usize);

fn subtract_with(a: i128, b: i128, borrow: Borrow) -> Result<i128, EvalError> {
    let columns = columns(a, b);
    let mut top: Vec<i128> = columns.iter().map(|(x, _)| *x).collect();
    let mut pieces = Vec::with_capacity(columns.len());
    for (k, (_, bottom)) in columns.iter().enumerate() {
        let upper = top.get(k).copied().unwrap_or(0);
        if upper < *bottom {
            borrow(&mut top, k + 1);
            pieces.push(upper + 10 - bottom);
        } else {
            pieces.push(upper - bottom);
        }
    }
    written(&pieces)
}

/// A zero to the left becomes nine and the borrowing ends there.
pub(super) fn sub_from_zero(a: i128, b: i128) -> Result<i128, EvalError> {
    subtract_with(a, b, |top, from| {
        if let Some(digit) = top.get_mut(from) {
            *digit = if *digit == 0 { 9 } else { *digit - 1 };
        }
    })
}

/// A zero to the left is left alone and nothing is reduced.
pub(super) fn sub_stop_zero(a: i128, b: i128) -> Result<i128, EvalError> {
    subtract_with(a, b, |top, from| {
        if let Some(digit) = top.get_mut(from).filter(|d| **d > 0) {
            *digit -= 1;
        }
    })
}

/// Zeros to the left are skipped and stay; the first other digit is reduced.
pub(super) fn sub_across_zero(a: i128, b: i128) -> Result<i128, EvalError> {
    subtract_with(a, b, |top, from| {
        if let Some(digit) = top.iter_mut().skip(from).find(|d| **d > 0) {
            *digit -= 1;
        }
    })
}

/// The partial products are added without a shift.
pub(super) fn mul_no_shift(a: i128, b: i128) -> Result<i128, EvalError> {
    a.checked_mul(digits(b).iter().sum()).ok_or(EvalError::TooLarge)
}

/// Ones by ones and tens by tens alone.
pub(super) fn mul_columns(a: i128, b: i128) -> Result<i128, EvalError> {
    let mut total = 0_i128;
    let mut worth = 1_i128;
    for (x, y) in columns(a, b) {
        total = worth.checked_mul(x * y).and_then(|p| total.checked_add(p)).ok_or(EvalError::TooLarge)?;
        worth = worth.checked_mul(100).ok_or(EvalError::TooLarge)?;
    }
    Ok(total)
}

/// Only the ones digit of each column product is kept, the leading product whole.
pub(super) fn mul_drop_carry(a: i128, d: i128) -> Result<i128, EvalError> {
    let digits = digits(a);
    let last = digits.len() - 1;
    written(&digits.iter().enumerate().map(|(k, x)| if k < last { x * d % 10 } else { x * d }).collect::<Vec<_>>())
}

/// The carried amount is added to the next digit before it is multiplied.
pub(super) fn mul_carry_first(a: i128, d: i128) -> Result<i128, EvalError> {
    carried_product(a, |digit, carried| (digit + carried) * d)
}

/// Zero times a number is taken as that number inside a long product.
pub(super) fn mul_zero_as_n(a: i128, d: i128) -> Result<i128, EvalError> {
    carried_product(a, |digit, carried| if digit == 0 { d + carried } else { digit * d + carried })
}

fn carried_product(a: i128, column: impl Fn(i128, i128) -> i128) -> Result<i128, EvalError> {
    let digits = digits(a);
    let mut pieces = Vec::with_capacity(digits.len());
    let mut carried = 0;
    for (k, digit) in digits.iter().enumerate() {
        let product = column(*digit, carried);
        let is_last = k + 1 == digits.len();
        pieces.push(if is_last { product } else { product % 10 });
        carried = product / 10;
    }
    written(&pieces)
}

/// Each column product in full, side by side.
pub(super) fn mul_write_both(a: i128, d: i128) -> Result<i128, EvalError> {
    written(&digits(a).iter().map(|x| x * d).collect::<Vec<_>>())
}

/// The true whole quotient without its zeros.
pub(super) fn div_skip_zero(n: i128, d: i128) -> Result<i128, EvalError> {
    let quotient = n.checked_div(d).ok_or(EvalError::ZeroDivision)?;
    let kept: Vec<i128> = digits(quotient).into_iter().filter(|digit| *digit != 0).collect();
    if kept.is_empty() { Ok(0) } else { written(&kept) }
}

/// Each digit divided by itself; what is left over is ignored.
pub(super) fn div_digitwise(n: i128, d: i128) -> Result<i128, EvalError> {
    if d == 0 {
        return Err(EvalError::ZeroDivision);
    }
    written(&digits(n).iter().map(|digit| digit / d).collect::<Vec<_>>())
}
