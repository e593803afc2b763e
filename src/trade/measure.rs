//! How a supplier measures what it bills: take-off, steps, places, the foot it uses.
//!
//! No standard fixes this; it differs from supplier to supplier and is data on the invoice line
//! (common practice: 2 to 5 cm off each side for broken edges).

use crate::quantity::{Area, Decimal, Decimals, Length, Overflow, Rounding, Size};

/// Rounding of a slab's sides before their product is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SideRounding {
    /// To a multiple of this.
    pub step: Length,
    /// Down or to the nearest.
    pub rounding: Rounding,
    /// Whether it comes before the take-off.
    pub before_take_off: bool,
}

/// The unit of the billed area.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BilledUnit {
    /// Square metres.
    M2,
    /// Square feet by this many to the square metre; by the exact foot where none is given.
    Ft2(Option<Decimal>),
}

/// What a supplier rounds to the minor unit of its currency.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MoneyRounding {
    /// The amount of each slab.
    Slab,
    /// The amount of each line.
    Line,
    /// The amount of the invoice only.
    Invoice,
}

/// A supplier's way to measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Measure {
    /// What comes off the length and off the height.
    pub take_off: Option<Size>,
    /// How the sides are rounded.
    pub side: Option<SideRounding>,
    /// The unit of the billed area.
    pub unit: BilledUnit,
    /// Places of the billed area of a slab; unrounded where none are given.
    pub places: Option<Decimals>,
    /// How the billed area is rounded.
    pub rounding: Rounding,
    /// What is rounded to the minor unit.
    pub money: MoneyRounding,
}

impl Default for Measure {
    /// The plain way: gross size, exact square metres, money rounded by the line.
    fn default() -> Self {
        Self {
            take_off: None,
            side: None,
            unit: BilledUnit::M2,
            places: None,
            rounding: Rounding::Nearest,
            money: MoneyRounding::Line,
        }
    }
}

impl Measure {
    /// The sides that are billed, from the gross sides.
    ///
    /// # Errors
    /// Where a figure cannot be held exactly.
    pub fn sides(&self, gross: Size) -> Result<Size, Overflow> {
        let mut size = gross;
        if let Some(side) = self.side.filter(|side| side.before_take_off) {
            size = round_sides(size, side)?;
        }
        if let Some(off) = self.take_off {
            size = Size {
                length: size.length.minus(off.length)?,
                height: size.height.minus(off.height)?,
            };
        }
        if let Some(side) = self.side.filter(|side| !side.before_take_off) {
            size = round_sides(size, side)?;
        }
        Ok(size)
    }

    /// The billed area of sides that are billed.
    ///
    /// # Errors
    /// Where a figure cannot be held exactly.
    pub fn billed(&self, sides: Size) -> Result<Area, Overflow> {
        self.billed_area(sides.area()?)
    }

    /// The billed area from an area that is not rounded yet.
    ///
    /// # Errors
    /// Where a figure cannot be held exactly.
    pub fn billed_area(&self, area: Area) -> Result<Area, Overflow> {
        match (self.unit, self.places) {
            (BilledUnit::M2, Some(places)) => Ok(area.rounded_m2(places, self.rounding)),
            (BilledUnit::Ft2(factor), Some(places)) => {
                Area::ft2(area.in_ft2(factor, places, self.rounding)?)
            }
            // Slabs weigh by what is billed: it is rounded only where the supplier rounds it.
            (BilledUnit::M2 | BilledUnit::Ft2(None), None) => Ok(area),
            (BilledUnit::Ft2(Some(factor)), None) => area.by_feet(factor),
        }
    }

    /// The figure the supplier multiplies its price by, from a billed area of its measure.
    pub fn figure(&self, billed: Area) -> Decimal {
        match self.unit {
            BilledUnit::M2 => billed.base(),
            // With places, a billed area is such a figure times the exact foot: nothing is lost.
            BilledUnit::Ft2(_) => billed.to_ft2(self.feet_places()),
        }
    }

    /// A figure in square feet without stated places is kept to a millionth of a foot: the
    /// quotient by the exact foot has no last digit.
    fn feet_places(&self) -> Decimals {
        self.places.unwrap_or(6)
    }
}

fn round_sides(size: Size, side: SideRounding) -> Result<Size, Overflow> {
    Ok(Size {
        length: size.length.stepped(side.step, side.rounding)?,
        height: size.height.stepped(side.step, side.rounding)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Written;

    fn size(text: &str) -> Size {
        Size::read(text).unwrap()
    }

    #[test]
    fn take_off_and_side_rounding_do_not_commute() {
        // By hand: 312.7 x 188.4 cm, 5 and 4 cm off, sides down to whole 2 cm.
        let side = |before_take_off| SideRounding {
            step: Length::read("2 cm").unwrap(),
            rounding: Rounding::Down,
            before_take_off,
        };
        let measure = |before| Measure {
            take_off: Some(size("5 x 4 cm")),
            side: Some(side(before)),
            places: Some(3),
            ..Measure::default()
        };
        let gross = size("312.7 x 188.4 cm");
        assert_eq!(measure(true).sides(gross), Ok(size("307 x 184 cm")));
        assert_eq!(measure(false).sides(gross), Ok(size("306 x 184 cm")));
        let billed = measure(true).billed(size("307 x 184 cm")).unwrap();
        assert_eq!(measure(true).figure(billed).to_string(), "5.649", "5.6488 m2 to three places");
    }

    #[test]
    fn square_feet_by_the_trade_factor() {
        let measure = Measure {
            unit: BilledUnit::Ft2(Some(Decimal::new(10_764, 3))),
            places: Some(2),
            ..Measure::default()
        };
        let billed = measure.billed(size("3.20 x 1.90 m")).unwrap();
        assert_eq!(measure.figure(billed).to_string(), "65.45", "6.08 m2 x 10.764 = 65.44512");
        assert_eq!(billed, Area::read("65.45 ft2").unwrap());
    }
}
