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

/// A plain decimal as a regular expression.
pub(crate) const FIGURE: &str = r"[+-]?\d+(\.\d+)?";

/// A figure and one of some units, which a bar parts, as a regular expression.
pub(crate) fn pattern(units: &str) -> String {
    format!(r"^\s*{FIGURE}\s*({units})\s*$")
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
    Decimal::from_str_exact(text).ok()
}

/// `a * b`, refused where the product has more digits than can be held (`rust_decimal` would
/// round it without a word).
pub(crate) fn product(a: Decimal, b: Decimal, what: &'static str) -> Result<Decimal, Overflow> {
    let result = a.checked_mul(b).ok_or(Overflow { what })?;
    if a.is_zero() || b.is_zero() || result.scale() == a.scale() + b.scale() {
        return Ok(result);
    }
    // Trailing zeros may have cost the digits: once more without them, before giving up.
    let (a, b) = (a.normalize(), b.normalize());
    let result = a.checked_mul(b).ok_or(Overflow { what })?;
    if result.scale() == a.scale() + b.scale() { Ok(result) } else { Err(Overflow { what }) }
}

/// `a * b / 10^places`, refused where digits would be lost.
pub(super) fn scaled_product(
    a: Decimal,
    b: Decimal,
    places: Decimals,
    what: &'static str,
) -> Result<Decimal, Overflow> {
    let unit = Decimal::try_new(1, places).map_err(|_| Overflow { what })?;
    product(product(a, b, what)?, unit, what)
}

/// `a + b`, refused where digits would be lost.
pub(crate) fn sum(a: Decimal, b: Decimal, what: &'static str) -> Result<Decimal, Overflow> {
    let result = a.checked_add(b).ok_or(Overflow { what })?;
    // Nothing added loses no digit, even where the sum is given without its places.
    let is_whole = a.is_zero() || b.is_zero() || result.scale() >= a.scale().max(b.scale());
    if is_whole { Ok(result) } else { Err(Overflow { what }) }
}

/// The sum of many, refused where digits would be lost.
pub(crate) fn total(
    all: impl IntoIterator<Item = Result<Decimal, Overflow>>,
    what: &'static str,
) -> Result<Decimal, Overflow> {
    all.into_iter().try_fold(Decimal::ZERO, |total, one| sum(total, one?, what))
}

/// Rounds a figure that has more places, halves away from zero.
pub(super) fn nearest(value: Decimal, places: Decimals) -> Decimal {
    if value.scale() <= places { value } else { half_away(value, places) }
}

/// A figure to the nearest whole, halves away from zero, as a drawing has it. `None`: no number of 64
/// bits holds it.
pub(crate) fn nearest_whole(value: Decimal) -> Option<i64> {
    i64::try_from(half_away(value, 0).mantissa()).ok()
}

/// Rounds a figure as it is told: the one place that does.
#[expect(clippy::disallowed_methods, reason = "every rounding of a figure comes through here")]
pub(super) fn rounded(value: Decimal, places: Decimals, strategy: RoundingStrategy) -> Decimal {
    value.round_dp_with_strategy(places, strategy)
}

/// Rounds half away from zero, the rule of every rounding to a minor unit here.
pub(super) fn half_away(value: Decimal, places: Decimals) -> Decimal {
    let mut rounded = rounded(value, places, RoundingStrategy::MidpointAwayFromZero);
    rounded.rescale(places);
    unsigned_zero(rounded)
}

/// The same value; nothing has no sign, whatever it was rounded or taken from.
fn unsigned_zero(mut value: Decimal) -> Decimal {
    if value.is_zero() {
        value.set_sign_positive(true);
    }
    value
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

/// A count with its noun, as pages and faults have it: `1 slab`, `1,234 slabs`.
pub fn count_of(count: impl Into<Decimal>, noun: &str) -> String {
    let count = count.into();
    format!("{} {noun}{}", grouped(count), if count == Decimal::ONE { "" } else { "s" })
}

/// Prints a decimal with its own places and thousands marked by commas: `61,284.00`. So stand money, masses,
/// areas and counts on pages and in faults; lengths stay plain, as on drawings (common practice).
pub fn grouped(value: Decimal) -> String {
    let plain = unsigned_zero(value).to_string();
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

    #[test]
    fn a_count_has_its_thousands_marked_and_its_noun_its_plural() {
        assert_eq!(count_of(1_usize, "slab"), "1 slab");
        assert_eq!(count_of(0_usize, "slab"), "0 slabs");
        assert_eq!(count_of(1_234_567_usize, "slab"), "1,234,567 slabs");
    }
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
    fn nothing_has_no_sign() {
        let less = Decimal::new(-4, 3);
        assert_eq!(half_away(less, 2).to_string(), "0.00");
        assert_eq!(grouped(-Decimal::new(0, 2)), "0.00");
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
        fn rational_rounding_is_half_away_rounding(mantissa in any::<i64>(), scale in 0u32..12, places in 0u32..4) {
            let value = Decimal::new(mantissa, scale);
            prop_assert_eq!(round_rational(&rational(value), places, "t").unwrap(), half_away(value, places));
        }
    }
}
