//! Plain decimal numbers: strict reading, exact products and quotients, printing.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive};
use rust_decimal::{Decimal, RoundingStrategy};

use super::{Malformed, Overflow};

/// How many places a printed decimal has.
pub type Decimals = u32;

/// Splits `text` into the number it opens with and the (trimmed) rest with its offset.
pub(super) fn split_number<'a>(
    text: &'a str,
    form: &str,
) -> Result<(Decimal, &'a str, usize), Malformed> {
    let start = text.len() - text.trim_start().len();
    let body = &text[start..];
    let end = body
        .find(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-' || c == '+'))
        .unwrap_or(body.len());
    let number = parse(&body[..end]).ok_or_else(|| Malformed::new(start, form))?;
    let rest = &body[end..];
    let unit_at = start + end + (rest.len() - rest.trim_start().len());
    Ok((number, rest.trim(), unit_at))
}

/// Reads a plain decimal: digits, at most one point with digits on both sides, an optional sign.
/// Anything else (exponents, thousands marks, more than 28 digits) is `None`.
pub(crate) fn parse(text: &str) -> Option<Decimal> {
    let digits = text.strip_prefix(['-', '+']).unwrap_or(text);
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, "0"));
    let plain = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    if !plain(whole) || !plain(fraction) {
        return None;
    }
    if digits.len() <= 18 {
        return parse_short(text);
    }
    Decimal::from_str_exact(text).ok()
}

/// The same for texts of at most 18 digits, which fit an `i64`: packing lists are read by the
/// million, and this is several times faster than the general way.
fn parse_short(text: &str) -> Option<Decimal> {
    let mut mantissa: i64 = 0;
    let mut scale = 0;
    let mut after_point = false;
    for byte in text.bytes() {
        match byte {
            b'0'..=b'9' => {
                mantissa = mantissa * 10 + i64::from(byte - b'0');
                scale += u32::from(after_point);
            }
            b'.' => after_point = true,
            _ => {}
        }
    }
    let signed = if text.starts_with('-') { -mantissa } else { mantissa };
    Decimal::try_new(signed, scale).ok()
}

/// `a * b`, refused where the product has more digits than can be held (`rust_decimal` would
/// round it without a word).
pub(crate) fn product(a: Decimal, b: Decimal, what: &'static str) -> Result<Decimal, Overflow> {
    if let Some(short) = short_product(a, b) {
        return Ok(short);
    }
    let result = a.checked_mul(b).ok_or(Overflow { what })?;
    if a.is_zero() || b.is_zero() || result.scale() == a.scale() + b.scale() {
        return Ok(result);
    }
    // Trailing zeros may have cost the digits: once more without them, before giving up.
    let (a, b) = (a.normalize(), b.normalize());
    let result = a.checked_mul(b).ok_or(Overflow { what })?;
    if result.scale() == a.scale() + b.scale() { Ok(result) } else { Err(Overflow { what }) }
}

/// The product where it fits 64 bits, as nearly every one does: slabs are measured by the million.
fn short_product(a: Decimal, b: Decimal) -> Option<Decimal> {
    short_scaled_product(a, b, 0)
}

/// The same with its point so many places further to the left.
fn short_scaled_product(a: Decimal, b: Decimal, places: Decimals) -> Option<Decimal> {
    let digits = short(a)?.checked_mul(short(b)?).filter(|digits| *digits != 0)?;
    Decimal::try_new(digits, a.scale() + b.scale() + places).ok()
}

/// `a * b / 10^places`, refused where digits would be lost.
pub(super) fn scaled_product(
    a: Decimal,
    b: Decimal,
    places: Decimals,
    what: &'static str,
) -> Result<Decimal, Overflow> {
    if let Some(short) = short_scaled_product(a, b, places) {
        return Ok(short);
    }
    let unit = Decimal::try_new(1, places).map_err(|_| Overflow { what })?;
    product(product(a, b, what)?, unit, what)
}

/// The powers of ten that fit 64 bits.
const POWERS: [i64; 19] = {
    let mut powers = [1; 19];
    let mut at = 1;
    while at < powers.len() {
        powers[at] = powers[at - 1] * 10;
        at += 1;
    }
    powers
};

/// A power of ten, where it fits 64 bits.
fn power(exponent: Decimals) -> Option<i64> {
    POWERS.get(usize::try_from(exponent).ok()?).copied()
}

/// Whether a value is at least and at most so much, where that fits 64 bits.
pub(super) fn short_between(value: Decimal, least: i64, most: i64) -> Option<bool> {
    let (digits, unit) = (short(value)?, power(value.scale())?);
    Some(digits >= least.checked_mul(unit)? && digits <= most.checked_mul(unit)?)
}

/// The digits of a decimal, where they fit 64 bits.
fn short(value: Decimal) -> Option<i64> {
    i64::try_from(value.mantissa()).ok()
}

/// `a + b`, refused where digits would be lost.
pub(crate) fn sum(a: Decimal, b: Decimal, what: &'static str) -> Result<Decimal, Overflow> {
    if let Some(short) = short_sum(a, b) {
        return Ok(short);
    }
    let result = a.checked_add(b).ok_or(Overflow { what })?;
    // Nothing added loses no digit, even where the sum is given without its places.
    let is_whole = a.is_zero() || b.is_zero() || result.scale() >= a.scale().max(b.scale());
    if is_whole { Ok(result) } else { Err(Overflow { what }) }
}

/// The sum of many, refused where digits would be lost. Those of one scale are added as whole
/// numbers while they fit 64 bits: slabs are added up by the million.
pub(crate) fn total(
    all: impl IntoIterator<Item = Result<Decimal, Overflow>>,
    what: &'static str,
) -> Result<Decimal, Overflow> {
    let (mut total, mut run, mut scale) = (Decimal::ZERO, 0i64, 0);
    all.into_iter().try_for_each(|one| {
        let one = one?;
        let digits = short(one);
        let next = digits.filter(|_| one.scale() == scale).and_then(|d| run.checked_add(d));
        if let Some(next) = next {
            run = next;
            return Ok(());
        }
        total = sum(total, Decimal::new(run, scale), what)?;
        (run, scale) = (digits.unwrap_or(0), one.scale());
        if digits.is_none() {
            total = sum(total, one, what)?;
        }
        Ok(())
    })?;
    sum(total, Decimal::new(run, scale), what)
}

/// The sum where it fits 64 bits.
fn short_sum(a: Decimal, b: Decimal) -> Option<Decimal> {
    let scale = a.scale().max(b.scale());
    let at_scale = |value: Decimal| match scale - value.scale() {
        0 => short(value),
        up => short(value)?.checked_mul(power(up)?),
    };
    let digits = at_scale(a)?.checked_add(at_scale(b)?).filter(|digits| *digits != 0)?;
    Decimal::try_new(digits, scale).ok()
}

/// The whole part, towards zero, where the digits fit 64 bits, and whether something is left.
pub(super) fn short_whole(value: Decimal) -> Option<(i64, bool)> {
    let (digits, unit) = (short(value)?, power(value.scale())?);
    Some((digits / unit, digits % unit != 0))
}

/// Rounds a figure that has more places, halves away from zero.
pub(super) fn nearest(value: Decimal, places: Decimals) -> Decimal {
    if value.scale() <= places { value } else { half_away(value, places) }
}

/// Rounds half away from zero, the rule of every rounding to a minor unit here.
pub(super) fn half_away(value: Decimal, places: Decimals) -> Decimal {
    if value.scale() == places {
        return value;
    }
    if let Some(quick) = short_half_away(value, places) {
        return quick;
    }
    let mut rounded = value.round_dp_with_strategy(places, RoundingStrategy::MidpointAwayFromZero);
    rounded.rescale(places);
    rounded
}

/// [`half_away`] in 64 bits, where the digits fit them.
fn short_half_away(value: Decimal, places: Decimals) -> Option<Decimal> {
    let digits = short(value)?;
    let rounded = match value.scale().checked_sub(places) {
        Some(drop) => {
            let unit = power(drop)?.unsigned_abs();
            let magnitude = digits.unsigned_abs();
            let (whole, rest) = (magnitude / unit, magnitude % unit);
            let whole = i64::try_from(whole + u64::from(rest >= unit - rest)).ok()?;
            if digits < 0 { -whole } else { whole }
        }
        None => digits.checked_mul(power(places - value.scale())?)?,
    };
    Some(Decimal::new(rounded, places))
}

/// The exact rational value of a decimal.
pub(crate) fn rational(value: Decimal) -> BigRational {
    BigRational::new(BigInt::from(value.mantissa()), BigInt::from(10).pow(value.scale()))
}

/// Rounds a rational half away from zero to a decimal of `places` places.
pub(crate) fn round_rational(
    value: &BigRational,
    places: Decimals,
    what: &'static str,
) -> Result<Decimal, Overflow> {
    let scaled = value * BigInt::from(10).pow(places);
    let doubled: BigInt = scaled.numer().abs() * 2 + scaled.denom();
    let magnitude = doubled / (scaled.denom() * BigInt::from(2));
    let signed = if scaled.is_negative() { -magnitude } else { magnitude };
    let mantissa = signed.to_i128().ok_or(Overflow { what })?;
    Decimal::try_from_i128_with_scale(mantissa, places).map_err(|_| Overflow { what })
}

/// `part` over `whole`, rounded half away from zero: for quotients that are shown and never
/// summed (unit costs, percentages). `None` where there is nothing to divide by.
pub fn ratio(part: Decimal, whole: Decimal, places: Decimals) -> Option<Decimal> {
    if whole.is_zero() {
        return None;
    }
    if let Some(quick) = short_ratio(part, whole, places) {
        return Some(quick);
    }
    round_rational(&(rational(part) / rational(whole)), places, "a quotient").ok()
}

/// [`ratio`] in 128 bits, where the digits fit them, as they nearly always do: tables print
/// quotients by the million.
fn short_ratio(part: Decimal, whole: Decimal, places: Decimals) -> Option<Decimal> {
    if let Some(narrow) = narrow_ratio(part, whole, places) {
        return Some(narrow);
    }
    let up = 10i128.checked_pow(places + whole.scale())?;
    let numerator = part.mantissa().checked_mul(up)?;
    let denominator = whole.mantissa().checked_mul(10i128.checked_pow(part.scale())?)?;
    let magnitude = match (
        u64::try_from(numerator.unsigned_abs()),
        u64::try_from(denominator.unsigned_abs()),
    ) {
        (Ok(numerator), Ok(denominator)) => {
            let (quotient, rest) = (numerator / denominator, numerator % denominator);
            u128::from(quotient) + u128::from(rest >= denominator - rest)
        }
        _ => {
            let (numerator, denominator) = (numerator.unsigned_abs(), denominator.unsigned_abs());
            let (quotient, rest) = (numerator / denominator, numerator % denominator);
            quotient + u128::from(rest >= denominator - rest)
        }
    };
    let magnitude = i128::try_from(magnitude).ok()?;
    let signed = if (numerator < 0) == (denominator < 0) { magnitude } else { -magnitude };
    Decimal::try_from_i128_with_scale(signed, places).ok()
}

/// The same in 64 bits, with the power of ten on one side only.
fn narrow_ratio(part: Decimal, whole: Decimal, places: Decimals) -> Option<Decimal> {
    let (mut numerator, mut denominator) = (short(part)?, short(whole)?);
    let up = places + whole.scale();
    match up.checked_sub(part.scale()) {
        Some(up) => numerator = numerator.checked_mul(power(up)?)?,
        None => denominator = denominator.checked_mul(power(part.scale() - up)?)?,
    }
    let (above, below) = (numerator.unsigned_abs(), denominator.unsigned_abs());
    let rest = above % below;
    let rounded = i64::try_from(above / below + u64::from(rest >= below - rest)).ok()?;
    let is_negative = (numerator < 0) != (denominator < 0);
    Decimal::try_new(if is_negative { -rounded } else { rounded }, places).ok()
}

/// Prints a decimal with its own places and thousands marked by commas: `61,284.00`.
pub fn grouped(value: Decimal) -> String {
    let plain = value.to_string();
    let (sign, digits) = plain.strip_prefix('-').map_or(("", plain.as_str()), |rest| ("-", rest));
    let (whole, fraction) = digits.split_once('.').map_or((digits, None), |(w, f)| (w, Some(f)));
    let mut text = String::from(sign);
    for (index, digit) in whole.chars().enumerate() {
        if index > 0 && (whole.len() - index).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    if let Some(fraction) = fraction {
        text.push('.');
        text.push_str(fraction);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn reads_plain_decimals_only() {
        assert_eq!(parse("46.00").map(|d| d.to_string()).as_deref(), Some("46.00"));
        assert_eq!(parse("-0.5").map(|d| d.to_string()).as_deref(), Some("-0.5"));
        for bad in ["", ".", "1.", ".5", "1e3", "1,000", "--1", "1.2.3", "0x1", "1_000"] {
            assert_eq!(parse(bad), None, "{bad:?}");
        }
        assert_eq!(parse("0.12345678901234567890123456789012345"), None, "too fine to hold");
    }

    #[test]
    fn groups_thousands() {
        let show = |s: &str| grouped(s.parse().unwrap());
        assert_eq!(show("1234567.80"), "1,234,567.80");
        assert_eq!(show("-1000"), "-1,000");
        assert_eq!(show("999.5"), "999.5");
    }

    #[test]
    fn a_product_that_loses_digits_is_refused() {
        let fine: Decimal = "0.12345678901234567".parse().unwrap();
        assert_eq!(product(fine, fine, "the test"), Err(Overflow { what: "the test" }));
        let zeros: Decimal = "2.0000000000000000000000".parse().unwrap();
        assert_eq!(
            product(zeros, zeros, "the test").map(|d| d.normalize().to_string()),
            Ok("4".into())
        );
    }

    #[test]
    fn nothing_and_nothing_with_places_is_nothing() {
        let (places, plain) = (Decimal::new(0, 2), Decimal::ZERO);
        assert_eq!(sum(places, plain, "the test"), Ok(Decimal::ZERO));
        assert_eq!(sum(plain, places, "the test"), Ok(Decimal::ZERO));
    }

    proptest! {
        #[test]
        fn short_and_general_reading_agree(mantissa in -999_999_999_999i64..999_999_999_999, scale in 0u32..9) {
            let text = Decimal::new(mantissa, scale).to_string();
            prop_assert_eq!(parse(&text), Some(Decimal::from_str_exact(&text).unwrap()));
        }

        #[test]
        fn short_and_general_products_and_sums_agree(
            a in any::<i64>(), b in any::<i64>(), shift in 17u32..62, scales in (0u32..9, 0u32..9),
        ) {
            let (a, b) = (Decimal::new(a >> shift, scales.0), Decimal::new(b >> shift, scales.1));
            let (times, plus) = (a.checked_mul(b).unwrap(), a.checked_add(b).unwrap());
            prop_assert_eq!(product(a, b, "t"), Ok(times));
            prop_assert_eq!(sum(a, b, "t"), Ok(plus));
        }

        #[test]
        fn a_total_is_the_sum_of_its_parts(
            parts in prop::collection::vec((any::<i64>(), 0u32..4, 0u32..60), 0..40),
        ) {
            let parts = parts.into_iter().map(|(digits, scale, shift)| Decimal::new(digits >> shift, scale));
            let expected: Decimal = parts.clone().sum();
            prop_assert_eq!(total(parts.map(Ok), "t"), Ok(expected));
        }

        #[test]
        fn short_and_long_quotients_agree(
            part in any::<i64>(), whole in any::<i64>(), scales in (0u32..8, 0u32..8), places in 0u32..5,
        ) {
            prop_assume!(whole != 0);
            let (part, whole) = (Decimal::new(part, scales.0), Decimal::new(whole, scales.1));
            let long = round_rational(&(rational(part) / rational(whole)), places, "t").ok();
            prop_assert_eq!(ratio(part, whole, places), long);
        }

        #[test]
        fn rational_rounding_is_half_away_rounding(mantissa in any::<i64>(), scale in 0u32..12, places in 0u32..4) {
            let value = Decimal::new(mantissa, scale);
            prop_assert_eq!(round_rational(&rational(value), places, "t").unwrap(), half_away(value, places));
        }
    }
}
