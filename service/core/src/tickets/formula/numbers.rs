//! Exact numbers: checked operations on fractions of 128-bit whole numbers, kept within a stated size.
//!
//! Numerator and denominator stay at or under [`LARGEST`], so that a product of two of them still fits 128 bits.

use super::EvalError;
use num_rational::Ratio;
use num_traits::{CheckedAdd, CheckedDiv, CheckedMul, CheckedSub, Zero};

/// An exact number, always in lowest terms with a positive denominator.
pub(crate) type Rational = Ratio<i128>;

/// Largest numerator and denominator: 10^18. School numbers stay far below; anything above is a mistake in a model.
pub(super) const LARGEST: i128 = 1_000_000_000_000_000_000;

/// The number, if it is within size.
pub(super) fn bounded(number: Option<Rational>) -> Result<Rational, EvalError> {
    number.filter(|n| n.numer().abs() <= LARGEST && *n.denom() <= LARGEST).ok_or(EvalError::TooLarge)
}

/// `n / d`.
pub(super) fn fraction(n: i128, d: i128) -> Result<Rational, EvalError> {
    if d == 0 {
        return Err(EvalError::ZeroDivision);
    }
    bounded(Some(Rational::new(n, d)))
}

pub(super) fn add(a: &Rational, b: &Rational) -> Result<Rational, EvalError> {
    bounded(a.checked_add(b))
}

pub(super) fn subtract(a: &Rational, b: &Rational) -> Result<Rational, EvalError> {
    bounded(a.checked_sub(b))
}

pub(super) fn multiply(a: &Rational, b: &Rational) -> Result<Rational, EvalError> {
    bounded(a.checked_mul(b))
}

pub(super) fn divide(a: &Rational, b: &Rational) -> Result<Rational, EvalError> {
    if b.is_zero() {
        return Err(EvalError::ZeroDivision);
    }
    bounded(a.checked_div(b))
}

/// The largest whole number that is not above `a / b`.
pub(super) fn floor_divide(a: &Rational, b: &Rational) -> Result<Rational, EvalError> {
    divide(a, b).map(|quotient| quotient.floor())
}

/// What floor division leaves.
pub(super) fn remainder(a: &Rational, b: &Rational) -> Result<Rational, EvalError> {
    subtract(a, &multiply(&floor_divide(a, b)?, b)?)
}

/// `base` to a whole power from 0 to 18.
pub(super) fn power(base: &Rational, exponent: &Rational) -> Result<Rational, EvalError> {
    let exponent = whole(exponent)?;
    if !(0..=18).contains(&exponent) {
        return Err(EvalError::Type("a power must be a whole number from 0 to 18".to_owned()));
    }
    (0..exponent).try_fold(Rational::from_integer(1), |product, _| multiply(&product, base))
}

/// The number as a whole number.
pub(super) fn whole(number: &Rational) -> Result<i128, EvalError> {
    if number.is_integer() {
        Ok(number.to_integer())
    } else {
        Err(EvalError::Type(format!("{number} is not a whole number")))
    }
}
