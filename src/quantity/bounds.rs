//! The largest figure of each kind that a file may give, and the finest.
//!
//! Decided on 2026-11-27. Figures beyond these are slips of the point or the unit, and a fault where they
//! stand. They are chosen so that nothing worked out from them leaves its type: a decimal has 28 digits,
//! a whole number of 64 bits 18. The largest workspace is taken to have 1,000,000 slabs and 10,000 charges.
//!
//! - *Lengths.* 100 m is longer than a rig with its box: 10,000,000 hundredths of a millimetre. Sums and
//!   moments are in 64 and 128 bits: 100 m x 1,000,000 t are 10^17 g mm a bundle.
//! - *Areas.* A side of a slab has 6 digits (6,000.00 mm), so its face 12, of them 10 places of a square
//!   metre. A million faces have 18.
//! - *Masses.* A thickness has 5 digits (500.00 mm), a density 6 (8,000.00 kg/m3): a square metre has 11,
//!   of them 7 places of a kilogram, and a slab 23, of them 17. 11 digits are left before the point:
//!   100,000 kg a slab for a million of them. The margin of a mass for limits has 4 places, a percentage
//!   with 2: 21 places, and 7 digits are left, 10,000 t a bundle; a bundle's own is then rounded up to the
//!   gram, so that sums of bundles have 3 places.
//! - *Money.* An amount in a file has at most 12 digits of minor units. What a charge comes to has at most
//!   14: 10,000 charges have 18 and fit 64 bits. More charges, or larger sums, are summed up in decimals or
//!   checked. Exact figures are fractions that grow as they must ([`super::Exact`]).
//! - *Percentages, prices, rates of exchange* are only multiplied into such fractions. Their bounds are
//!   choices of ours, far from anything that is quoted.

use rust_decimal::Decimal;

use super::Malformed;
use super::number::{self, Decimals, grouped};

/// The range of a kind of figure.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bound {
    /// The largest figure in the base unit, on either side of nothing.
    pub(super) most: Decimal,
    /// The most places in the base unit.
    pub(super) places: Decimals,
    /// The base unit.
    pub(super) unit: &'static str,
}

const fn bound(most: u32, places: Decimals, unit: &'static str) -> Bound {
    Bound { most: Decimal::from_parts(most, 0, 0, false, 0), places, unit }
}

/// A hundredth of a millimetre: finer than any slab is measured. 1/64 in is 0.396875 mm.
pub(super) const LENGTH: Bound = bound(100_000, 2, "mm");
/// What the product of two lengths has at most.
pub(super) const AREA: Bound = bound(100_000_000, 10, "m2");
pub(super) const VOLUME: Bound = bound(100_000_000, 12, "m3");
/// A figure in pounds with four places is exact: 0.0001 lb has twelve places of a kilogram.
pub(super) const MASS: Bound = bound(1_000_000_000, 12, "kg");
pub(super) const DENSITY: Bound = bound(100_000, 2, "kg/m3");
pub(super) const LINE_LOAD: Bound = bound(1_000_000, 12, "kg/m");
pub(super) const PERCENT: Bound = bound(1_000_000, 6, "%");
pub(super) const HOURS: Bound = bound(1_000, 4, "h");
/// Currencies are quoted up to some 100,000 to one; the places serve the same the other way about.
pub(super) const QUOTE: Bound = bound(1_000_000_000, 15, "for 1");
/// Places of a price, beside which a quantity has ten.
const PRICE_PLACES: Decimals = 8;

/// The largest quantity of goods that is ordered or billed, in the unit of its price: ft2 or kg of a million
/// slabs.
pub const MOST_ORDERED: Decimal = Decimal::from_parts(4_000_000_000, 0, 0, false, 0);

/// The largest count that a file may give.
pub const MOST_COUNT: u32 = 1_000_000;

/// The most minor units that a file may give: an amount, or a price for each.
const MOST_MINOR: i64 = 999_999_999_999;

/// The most minor units that a charge may come to.
const MOST_CHARGED: i64 = 100_000_000_000_000;

/// What is too large, in words.
pub(super) const TOO_MUCH: &str =
    "an amount of money over 1,000,000,000,000.00 (in a currency with cents)";

impl Bound {
    /// A figure within the range.
    pub(super) fn held(self, figure: Decimal) -> Result<Decimal, Malformed> {
        self.within(figure)?;
        finest(figure, self.places)
    }

    /// A figure within the range, rounded half away from zero to its finest part, and whether anything
    /// was lost.
    pub(super) fn rounded(self, figure: Decimal) -> Result<(Decimal, bool), Malformed> {
        self.within(figure)?;
        let held = number::nearest(figure, self.places);
        Ok((held, held != figure))
    }

    fn within(self, figure: Decimal) -> Result<(), Malformed> {
        if figure.abs() <= self.most {
            return Ok(());
        }
        Err(self.too_large())
    }

    /// That a figure is larger than any.
    pub(super) fn too_large(self) -> Malformed {
        Malformed::out_of_range(format!("at most {} {}", grouped(self.most), self.unit))
    }
}

/// An amount of money that a file may give, or a price for each, in a currency of so many digits.
pub(super) fn money(amount: Decimal, digits: Decimals, currency: &str) -> Result<(), Malformed> {
    let most = Decimal::new(MOST_MINOR, digits);
    if amount.abs() <= most {
        return Ok(());
    }
    Err(Malformed::out_of_range(format!("at most {} {currency}", grouped(most))))
}

/// A price, or a rate for each of something.
pub(super) fn price(
    amount: Decimal,
    digits: Decimals,
    currency: &str,
) -> Result<Decimal, Malformed> {
    money(amount, digits, currency)?;
    finest(amount, PRICE_PLACES)
}

fn finest(figure: Decimal, places: Decimals) -> Result<Decimal, Malformed> {
    if figure.normalize().scale() <= places {
        return Ok(figure);
    }
    Err(Malformed::out_of_range(format!("at most {places} decimals")))
}

/// Whether a charge may come to so much, in a currency of so many digits.
pub(super) fn is_charge(amount: Decimal, digits: Decimals) -> bool {
    amount.abs() <= Decimal::new(MOST_CHARGED, digits)
}
