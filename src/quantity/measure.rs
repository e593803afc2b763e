//! Lengths, areas, volumes and masses: exact, with doors named by unit.
//!
//! Exact conversions: 1 ft = 0.3048 m, 1 in = 25.4 mm, 1 lb = 0.45359237 kg
//! (NIST Special Publication 811, 2008 edition, appendix B).

use rust_decimal::{Decimal, RoundingStrategy};

use super::bounds::{self, Bound};
use super::fraction::Fraction;
use super::number::{self, Decimals, grouped};
use super::{Malformed, Overflow, Written, ratio};

/// The system in which measures are printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// mm, m2, kg.
    #[default]
    Metric,
    /// in, ft2, lb.
    Us,
}

/// How a measure is rounded where a supplier's or a law's own rule says so (rule R6).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rounding {
    /// To the nearest, halves away from zero.
    Nearest,
    /// Towards zero.
    Down,
    /// Away from zero.
    Up,
}

impl Rounding {
    fn strategy(self) -> RoundingStrategy {
        match self {
            Self::Nearest => RoundingStrategy::MidpointAwayFromZero,
            Self::Down => RoundingStrategy::ToZero,
            Self::Up => RoundingStrategy::AwayFromZero,
        }
    }
}

/// Makes a measure: a newtype over its base unit with doors, order and exact sums.
macro_rules! measure {
    ($(#[$doc:meta])* $name:ident, $what:literal, $bound:expr, $form:literal,
     $($(#[$door_doc:meta])* $door:ident / $reader:ident = $factor:expr, [$($unit:literal),+]);+ $(;)?) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
        pub struct $name(Decimal);

        impl $name {
            /// None of it.
            pub const ZERO: Self = Self(Decimal::ZERO);

            $(
                $(#[$door_doc])*
                ///
                /// # Errors
                /// Where the figure cannot be held exactly.
                pub fn $door(value: Decimal) -> Result<Self, Overflow> {
                    number::product(value, $factor, $what).map(Self)
                }

                #[doc = concat!("The measure in the unit of [`Self::", stringify!($door), "`], to `places` places.")]
                pub fn $reader(self, places: Decimals) -> Decimal {
                    if $factor == Decimal::ONE {
                        return number::half_away(self.0, places);
                    }
                    let mut value = ratio(self.0, $factor, places).unwrap_or(self.0);
                    value.rescale(places);
                    value
                }
            )+

            /// The sum.
            ///
            /// # Errors
            /// On overflow.
            pub fn plus(self, other: Self) -> Result<Self, Overflow> {
                number::sum(self.0, other.0, $what).map(Self)
            }

            /// The difference.
            ///
            /// # Errors
            /// On overflow.
            pub fn minus(self, other: Self) -> Result<Self, Overflow> {
                number::sum(self.0, -other.0, $what).map(Self)
            }

            /// A number of times the measure.
            ///
            /// # Errors
            /// Where the figure cannot be held exactly.
            pub fn times(self, factor: Decimal) -> Result<Self, Overflow> {
                number::product(self.0, factor, $what).map(Self)
            }

            /// The sum of several.
            ///
            /// # Errors
            /// On overflow.
            pub fn total(all: impl IntoIterator<Item = Self>) -> Result<Self, Overflow> {
                number::total(all.into_iter().map(|one| Ok(one.0)), $what).map(Self)
            }

            /// Whether there is none of it, or less than none.
            pub fn is_none(self) -> bool {
                self.0 <= Decimal::ZERO
            }

            /// The figure in the base unit, for use as an exact weight.
            #[allow(dead_code, reason = "not every measure is a weight")]
            pub(crate) fn base(self) -> Decimal {
                self.0
            }
        }

        impl Written for $name {
            const FORM: &'static str = $form;

            fn read(text: &str) -> Result<Self, Malformed> {
                written(text, Self::FORM, Self::in_unit).map(|(value, _)| value)
            }

            fn most(units: Units) -> Option<String> {
                Self::shown_most(units)
            }

            fn pattern() -> Option<String> {
                let units = [$($($unit),+),+];
                Some(number::pattern(&units.join("|")))
            }

            fn is_rounded(text: &str) -> bool {
                written(text, Self::FORM, Self::in_unit).is_ok_and(|(_, is_rounded)| is_rounded)
            }
        }

        impl $name {
            /// A figure of a file in a unit, rounded to what can be measured, and whether anything was
            /// lost. `None`: no unit of it.
            ///
            /// # Errors
            /// Where it is larger than any can be.
            pub(crate) fn in_unit(
                figure: Decimal,
                unit: &str,
            ) -> Option<Result<(Self, bool), Malformed>> {
                let factor = match unit {
                    $($($unit)|+ => $factor,)+
                    _ => return None,
                };
                Some(measured(figure, factor, $bound).map(|(value, lost)| (Self(value), lost)))
            }
        }
    };
}

/// A figure in its base unit, rounded to what can be measured, and whether anything was lost.
fn measured(figure: Decimal, factor: Decimal, bound: Bound) -> Result<(Decimal, bool), Malformed> {
    if let Ok(value) = number::product(figure, factor, "a measure") {
        return bound.rounded(value);
    }
    // Finer than the product can be held: rounded once, of the fraction.
    let exact = Fraction::of(figure).times(&Fraction::of(factor));
    let value = exact.round(bound.places, "a measure").map_err(|_| bound.too_large())?;
    bound.rounded(value).map(|(value, _)| (value, true))
}

/// A measure, and whether anything of it was lost.
type Held<T> = Result<(T, bool), Malformed>;

/// Reads a figure and its unit.
fn written<T>(
    text: &str,
    form: &str,
    in_unit: fn(Decimal, &str) -> Option<Held<T>>,
) -> Result<(T, bool), Malformed> {
    let (value, unit, unit_at) = number::split_number(text, form)?;
    in_unit(value, unit).unwrap_or_else(|| Err(Malformed::new(unit_at, form)))
}

measure!(
    /// A length, exact.
    Length, "a length", bounds::LENGTH, "a length with its unit (mm, cm, m, in, ft), such as \"20 mm\"",
    /// A length in millimetres.
    mm / to_mm = Decimal::ONE, ["mm"];
    /// A length in centimetres.
    cm / to_cm = Decimal::TEN, ["cm"];
    /// A length in metres.
    m / to_m = Decimal::ONE_THOUSAND, ["m"];
    /// A length in inches of 25.4 mm.
    inches / to_inches = Decimal::from_parts(254, 0, 0, false, 1), ["in"];
    /// A length in feet of 0.3048 m.
    feet / to_feet = Decimal::from_parts(3048, 0, 0, false, 1), ["ft"];
);

measure!(
    /// An area, exact.
    Area, "an area", bounds::AREA, "an area with its unit (m2, ft2), such as \"420 m2\"",
    /// An area in square metres.
    m2 / to_m2 = Decimal::ONE, ["m2"];
    /// An area in square feet of 0.09290304 m2.
    ft2 / to_ft2 = Decimal::from_parts(9_290_304, 0, 0, false, 8), ["ft2"];
);

measure!(
    /// A volume, exact.
    Volume, "a volume", bounds::VOLUME, "a volume with its unit (m3), such as \"2.5 m3\"",
    /// A volume in cubic metres.
    m3 / to_m3 = Decimal::ONE, ["m3"];
);

measure!(
    /// A mass, exact.
    Mass, "a mass", bounds::MASS, "a mass with its unit (kg, t, lb), such as \"21.5 t\"",
    /// A mass in kilograms.
    kg / to_kg = Decimal::ONE, ["kg"];
    /// A mass in tonnes of 1,000 kg.
    t / to_t = Decimal::ONE_THOUSAND, ["t"];
    /// A mass in pounds of 0.45359237 kg.
    lb / to_lb = Decimal::from_parts(45_359_237, 0, 0, false, 8), ["lb"];
);

measure!(
    /// Mass per volume.
    Density, "a density", bounds::DENSITY, "a density with its unit (kg/m3), such as \"2700 kg/m3\"",
    /// A density in kilograms per cubic metre.
    kg_per_m3 / to_kg_per_m3 = Decimal::ONE, ["kg/m3"];
);

measure!(
    /// Mass per metre of loaded length that a container's floor carries.
    LineLoad, "a line load", bounds::LINE_LOAD, "a line load with its unit (t/m, kg/m), such as \"4.5 t/m\"",
    /// A line load in kilograms per metre.
    kg_per_m / to_kg_per_m = Decimal::ONE, ["kg/m"];
    /// A line load in tonnes per metre.
    t_per_m / to_t_per_m = Decimal::ONE_THOUSAND, ["t/m"];
);

impl LineLoad {
    /// Grams per metre, a started gram not counting: a limit.
    pub fn grams_per_m_down(self) -> i64 {
        Mass(self.0).grams_down()
    }

    /// Prints in the system asked for: tonnes per metre to two places, or whole pounds per foot.
    pub fn show(self, units: Units) -> String {
        match units {
            Units::Metric => format!("{} t/m", self.to_t_per_m(2)),
            Units::Us => {
                let foot = Length::FOOT.to_m(4);
                let per_foot = number::product(self.0, foot, "a line load");
                let pounds = per_foot.map_or(Decimal::ZERO, |kg| Mass(kg).to_lb(0));
                format!("{} lb/ft", grouped(pounds))
            }
        }
    }
}

/// The largest of measures that are shown in either system.
macro_rules! shown_most {
    ($($name:ident = $bound:ident),+) => {
        $(impl $name {
            fn shown_most(units: Units) -> Option<String> {
                Some(Self(bounds::$bound.most).show(units))
            }
        })+
    };
}

shown_most!(Length = LENGTH, Area = AREA, Mass = MASS, LineLoad = LINE_LOAD);

impl Volume {
    fn shown_most(_: Units) -> Option<String> {
        None
    }
}

impl Density {
    fn shown_most(_: Units) -> Option<String> {
        None
    }
}

/// A square millimetre is a square metre with its point so many places to the left.
const MM2: Decimals = 6;

impl Length {
    /// An international foot.
    const FOOT: Self = Self(Decimal::from_parts(3048, 0, 0, false, 1));

    /// The figure in the system asked for: millimetres to one place where it has a part, or inches to
    /// two places.
    pub fn figure(self, units: Units) -> Decimal {
        match units {
            Units::Metric => number::half_away(self.0, 1).normalize(),
            Units::Us => self.to_inches(2),
        }
    }

    /// A whole number of millimetres.
    pub fn whole_mm(mm: i64) -> Self {
        Self(Decimal::from(mm))
    }

    /// Whether it is at least and at most so many millimetres.
    pub fn is_between_mm(self, least: i64, most: i64) -> bool {
        (Decimal::from(least)..=Decimal::from(most)).contains(&self.0)
    }

    /// How many plates of a thickness are cut from it, with a kerf between two of them: there is one kerf
    /// fewer than there are plates.
    pub fn plates(self, thickness: Self, kerf: Self) -> i64 {
        let [whole, each] = [self.0, thickness.0].map(|side| Fraction::of(side + kerf.0));
        if each.is_positive() { whole.over(&each).to_i64().unwrap_or(0) } else { 0 }
    }

    /// Rounds to a multiple of `step`.
    ///
    /// # Errors
    /// Where the figure cannot be held exactly.
    pub fn stepped(self, step: Self, rounding: Rounding) -> Result<Self, Overflow> {
        if step.is_none() {
            return Ok(self);
        }
        let overflow = Overflow { what: "a length" };
        let steps = self.0.checked_div(step.0).ok_or(overflow)?;
        step.times(number::rounded(steps, 0, rounding.strategy()))
    }

    /// The length in whole millimetres, a started one counting whole: the side of a thing that
    /// must fit.
    pub fn mm_up(self) -> i64 {
        i64::try_from(self.0.ceil().mantissa()).unwrap_or(i64::MAX)
    }

    /// The length in whole millimetres, a started one not counting: the room it must fit in.
    pub fn mm_down(self) -> i64 {
        i64::try_from(self.0.floor().mantissa()).unwrap_or(0)
    }

    /// Prints in the system asked for: millimetres, or inches to two places.
    pub fn show(self, units: Units) -> String {
        match units {
            Units::Metric => format!("{} mm", self.0.normalize()),
            Units::Us => format!("{} in", self.to_inches(2).normalize()),
        }
    }
}

impl Area {
    /// The area of a rectangle.
    ///
    /// # Errors
    /// Where the figure cannot be held exactly.
    pub fn of(length: Length, height: Length) -> Result<Self, Overflow> {
        number::scaled_product(length.0, height.0, MM2, "an area").map(Self)
    }

    /// The unit of areas in a system.
    pub fn square(units: Units) -> Self {
        match units {
            Units::Metric => Self(Decimal::ONE),
            Units::Us => Self(Decimal::from_parts(9_290_304, 0, 0, false, 8)),
        }
    }

    /// Rounds the figure in square metres.
    #[must_use]
    pub fn rounded_m2(self, places: Decimals, rounding: Rounding) -> Self {
        if rounding == Rounding::Nearest {
            return Self(number::nearest(self.0, places));
        }
        Self(number::rounded(self.0, places, rounding.strategy()))
    }

    /// The figure in square feet by `factor` ft2 per m2 (10.764 in much of the trade) or, without
    /// one, by the exact foot, rounded.
    ///
    /// # Errors
    /// Where the figure cannot be held exactly.
    pub fn in_ft2(
        self,
        factor: Option<Decimal>,
        places: Decimals,
        rounding: Rounding,
    ) -> Result<Decimal, Overflow> {
        let overflow = Overflow { what: "an area" };
        let feet = match factor {
            Some(factor) => number::product(self.0, factor, "an area")?,
            None => self
                .0
                .checked_div(Decimal::from_parts(9_290_304, 0, 0, false, 8))
                .ok_or(overflow)?,
        };
        Ok(number::rounded(feet, places, rounding.strategy()))
    }

    /// The area of as many exact square feet as this one has by `factor` ft2 per m2.
    ///
    /// # Errors
    /// Where the figure cannot be held exactly.
    pub fn by_feet(self, factor: Decimal) -> Result<Self, Overflow> {
        Self::ft2(number::product(self.0, factor, "an area")?)
    }

    /// Prints in the system asked for, to `places` places, without the unit.
    pub fn figure(self, units: Units, places: Decimals) -> Decimal {
        match units {
            Units::Metric => self.to_m2(places),
            Units::Us => self.to_ft2(places),
        }
    }

    /// The figure in whole square millimetres, rounded down; for comparing, not for money.
    pub fn mm2_down(self) -> i64 {
        let mm2 = self.0.checked_mul(Decimal::from(1_000_000)).map(|mm2| mm2.floor().mantissa());
        mm2.and_then(|mm2| i64::try_from(mm2).ok()).unwrap_or(0)
    }

    /// Prints with its unit, to two places.
    pub fn show(self, units: Units) -> String {
        format!("{} {}", grouped(self.figure(units, 2)), units.area())
    }
}

impl Volume {
    /// A cubic foot, in cubic metres.
    const FT3: Decimal = Decimal::from_parts(2_547_042_816, 6, 0, false, 12);

    /// The figure in the system asked for, to `places` places: cubic metres, or cubic feet.
    pub fn figure(self, units: Units, places: Decimals) -> Decimal {
        match units {
            Units::Metric => self.to_m3(places),
            Units::Us => ratio(self.0, Self::FT3, places).unwrap_or(self.0),
        }
    }

    /// Rounds to so many places of a cubic metre, as a quarry does.
    #[must_use]
    pub fn rounded_m3(self, places: Decimals, rounding: Rounding) -> Self {
        Self(number::rounded(self.0, places, rounding.strategy()))
    }

    /// The volume of a plate.
    ///
    /// # Errors
    /// Where the figure cannot be held exactly.
    pub fn of(area: Area, thickness: Length) -> Result<Self, Overflow> {
        let metres =
            number::product(thickness.0, Decimal::from_parts(1, 0, 0, false, 3), "a volume")?;
        number::product(area.0, metres, "a volume").map(Self)
    }
}

impl Mass {
    /// The mass of a volume of stone.
    ///
    /// # Errors
    /// Where the figure cannot be held exactly.
    pub fn of(volume: Volume, density: Density) -> Result<Self, Overflow> {
        number::product(volume.0, density.0, "a mass").map(Self)
    }

    /// The mass of an area of plate of so many kilograms per square metre.
    ///
    /// # Errors
    /// Where the figure cannot be held exactly.
    pub fn of_area(area: Area, kg_per_m2: Decimal) -> Result<Self, Overflow> {
        number::product(area.0, kg_per_m2, "a mass").map(Self)
    }

    /// The mass in tonnes, exact: only the point moves.
    pub(crate) fn to_tonnes(self) -> Decimal {
        let thousandth = Decimal::from_parts(1, 0, 0, false, 3);
        self.0.checked_mul(thousandth).unwrap_or(self.0)
    }

    /// The mass rounded up to the gram: what a limit must carry.
    #[must_use]
    pub fn up_to_gram(self) -> Self {
        Self(number::rounded(self.0, 3, RoundingStrategy::AwayFromZero))
    }

    /// The mass in whole grams, a started gram counting whole: what a limit must carry.
    pub fn grams_up(self) -> i64 {
        let grams = self.0.checked_mul(Decimal::ONE_THOUSAND).map(|g| g.ceil().mantissa());
        grams.and_then(|g| i64::try_from(g).ok()).unwrap_or(i64::MAX)
    }

    /// The mass in whole grams, a started gram not counting: a limit.
    pub fn grams_down(self) -> i64 {
        let grams = self.0.checked_mul(Decimal::ONE_THOUSAND).map(|g| g.floor().mantissa());
        grams.and_then(|g| i64::try_from(g).ok()).unwrap_or(0)
    }

    /// A whole number of grams.
    pub fn grams(grams: i64) -> Self {
        Self(Decimal::new(grams, 3))
    }

    /// Prints in the system asked for, to `places` places, without the unit.
    pub fn figure(self, units: Units, places: Decimals) -> Decimal {
        match units {
            Units::Metric => self.to_kg(places),
            Units::Us => self.to_lb(places),
        }
    }

    /// Prints with its unit, in whole kilograms or pounds.
    pub fn show(self, units: Units) -> String {
        format!("{} {}", grouped(self.figure(units, 0)), units.mass())
    }

    /// Prints with its unit, in whole kilograms or pounds, a started one counting whole: what a lift must carry.
    pub fn show_up(self, units: Units) -> String {
        format!("{} {}", grouped(self.figure(units, 3).ceil()), units.mass())
    }

    /// Prints with its unit, to a tenth where there is one: what is over a limit by less than a kilogram
    /// is not over it by nothing.
    pub fn show_closely(self, units: Units) -> String {
        format!("{} {}", grouped(self.figure(units, 1).normalize()), units.mass())
    }
}

impl Units {
    /// The unit of areas.
    pub fn area(self) -> &'static str {
        match self {
            Self::Metric => "m2",
            Self::Us => "ft2",
        }
    }

    /// The unit of sides and places.
    pub fn side(self) -> &'static str {
        match self {
            Self::Metric => "mm",
            Self::Us => "in",
        }
    }

    /// The unit of volumes.
    pub fn volume(self) -> &'static str {
        match self {
            Self::Metric => "m3",
            Self::Us => "ft3",
        }
    }

    /// The unit of masses.
    pub fn mass(self) -> &'static str {
        match self {
            Self::Metric => "kg",
            Self::Us => "lb",
        }
    }
}

/// The two sides of a slab's face: length by height.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// The long side, which stands along the container.
    pub length: Length,
    /// The side that stands up.
    pub height: Length,
}

impl Size {
    /// The area of the face.
    ///
    /// # Errors
    /// Where the figure cannot be held exactly.
    pub fn area(self) -> Result<Area, Overflow> {
        Area::of(self.length, self.height)
    }

    /// Prints in the system asked for.
    pub fn show(self, units: Units) -> String {
        format!("{} x {}", self.length.show(units), self.height.show(units))
    }
}

/// A size in so little room that a million slabs can have one each: whole hundredths of a millimetre.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sides([u32; 2]);

impl Sides {
    /// Places of a millimetre.
    const PLACES: Decimals = 2;

    /// The sides of a size as it is read; `None` where it is finer or larger.
    pub fn of(size: Size) -> Option<Self> {
        let hundredths = |side: Length| {
            let mut mm = side.0;
            mm.rescale(Self::PLACES);
            u32::try_from(mm.mantissa()).ok().filter(|_| mm == side.0)
        };
        Some(Self([hundredths(size.length)?, hundredths(size.height)?]))
    }

    /// The size.
    pub fn size(self) -> Size {
        let [length, height] = self.0.map(|side| Length(Decimal::new(side.into(), Self::PLACES)));
        Size { length, height }
    }

    /// The area of the face, in the figures that [`Size::area`] has: it always fits.
    pub fn area(self) -> Area {
        let [length, height] = self.0.map(u64::from);
        // Of two sides in hundredths of a millimetre, in m2.
        Area(Decimal::from(length * height) * Decimal::new(1, 2 * (Self::PLACES + 3)))
    }
}

impl Written for Size {
    const FORM: &'static str = "two sides with their unit, such as \"310 x 190 cm\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let (sides, _) = read_sides::<2>(text, Self::FORM)?;
        Ok(Self { length: sides[0], height: sides[1] })
    }

    fn most(units: Units) -> Option<String> {
        Length::most(units)
    }

    fn pattern() -> Option<String> {
        Some(format!("^{}$", sides_pattern(2)))
    }

    fn is_rounded(text: &str) -> bool {
        read_sides::<2>(text, Self::FORM).is_ok_and(|(_, is_rounded)| is_rounded)
    }
}

/// The three sides of a block: length by width by height.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct BlockSize {
    /// The length.
    pub length: Length,
    /// The width.
    pub width: Length,
    /// The height.
    pub height: Length,
}

impl BlockSize {
    /// The sides in their order.
    pub fn sides(self) -> [Length; 3] {
        [self.length, self.width, self.height]
    }

    /// What it holds.
    ///
    /// # Errors
    /// Where the figure cannot be held exactly.
    pub fn volume(self) -> Result<Volume, Overflow> {
        Volume::of(Area::of(self.length, self.width)?, self.height)
    }

    /// What is left where so much comes off each side.
    ///
    /// # Errors
    /// On overflow.
    pub fn less(self, off: Self) -> Result<Self, Overflow> {
        Ok(Self {
            length: self.length.minus(off.length)?,
            width: self.width.minus(off.width)?,
            height: self.height.minus(off.height)?,
        })
    }

    /// Prints in the system asked for.
    pub fn show(self, units: Units) -> String {
        self.sides().map(|side| side.show(units)).join(" x ")
    }
}

impl Written for BlockSize {
    const FORM: &'static str =
        "length, width and height with their unit, such as \"290 x 190 x 180 cm\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let ([length, width, height], _) = read_sides::<3>(text, Self::FORM)?;
        Ok(Self { length, width, height })
    }

    fn most(units: Units) -> Option<String> {
        Length::most(units)
    }

    fn pattern() -> Option<String> {
        Some(format!("^{}$", sides_pattern(3)))
    }

    fn is_rounded(text: &str) -> bool {
        read_sides::<3>(text, Self::FORM).is_ok_and(|(_, is_rounded)| is_rounded)
    }
}

/// So many sides that share the unit at the end, as a part of a regular expression.
pub(crate) fn sides_pattern(count: usize) -> String {
    let sides = vec![number::FIGURE; count].join(r"\s*x\s*");
    format!(r"\s*{sides}\s*(mm|cm|m|in|ft)\s*")
}

/// Reads `"310 x 190 cm"`: `N` sides that share the unit at the end, and whether anything of them was lost.
pub(crate) fn read_sides<const N: usize>(
    text: &str,
    form: &str,
) -> Result<([Length; N], bool), Malformed> {
    let trimmed = text.trim_end();
    let unit_at = trimmed.rfind(|c: char| !c.is_ascii_alphabetic()).map_or(0, |at| at + 1);
    let unit = &trimmed[unit_at..];
    let mut sides = [Length::ZERO; N];
    let (mut count, mut offset, mut is_rounded) = (0, 0, false);
    for part in trimmed[..unit_at].split('x') {
        let slot = sides.get_mut(count).ok_or_else(|| Malformed::new(offset, form))?;
        let side = format!("{} {unit}", part.trim());
        let (side, lost) = written(&side, Length::FORM, Length::in_unit)
            .map_err(|fault| if fault.is_range { fault } else { Malformed::new(offset, form) })?;
        *slot = side;
        is_rounded |= lost;
        count += 1;
        offset += part.len() + 1;
    }
    if count == N { Ok((sides, is_rounded)) } else { Err(Malformed::new(unit_at, form)) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read<T: Written + std::fmt::Debug>(text: &str) -> T {
        T::read(text).unwrap()
    }

    #[test]
    fn conversions_are_the_exact_ones() {
        // NIST SP 811 (2008) appendix B; the m2 to ft2 figures also NIST Handbook 44 appendix C.
        assert_eq!(read::<Length>("1 in"), read("25.4 mm"));
        assert_eq!(read::<Length>("1 ft"), read("0.3048 m"));
        assert_eq!(read::<Mass>("1 lb"), read("0.45359237 kg"));
        assert_eq!(read::<Area>("1 ft2"), read("0.09290304 m2"));
        assert_eq!(read::<Area>("6.08 m2").to_ft2(4).to_string(), "65.4446");
        assert_eq!(read::<Area>("1 m2").to_ft2(8).to_string(), "10.76391042");
        assert_eq!(read::<Mass>("44000 lb").to_kg(2).to_string(), "19958.06");
        assert_eq!(read::<Mass>("29000 lb").to_kg(2).to_string(), "13154.18");
        assert_eq!(read::<Mass>("30480 kg").to_lb(1).to_string(), "67196.9");
    }

    #[test]
    fn masses_of_slabs_from_standard_densities() {
        // Minimum densities of ASTM C615 (granite 2,560) and C503 (marble I 2,595) as reprinted
        // in a stone institute's table; kg/m2 = density x thickness.
        for (density, thickness, per_m2) in [
            ("2560 kg/m3", "2 cm", "51.20"),
            ("2560 kg/m3", "3 cm", "76.80"),
            ("2595 kg/m3", "2 cm", "51.90"),
            ("2595 kg/m3", "3 cm", "77.85"),
        ] {
            let volume = Volume::of(read("1 m2"), read(thickness)).unwrap();
            let mass = Mass::of(volume, read(density)).unwrap();
            assert_eq!(mass.to_kg(2).to_string(), per_m2, "{density} {thickness}");
        }
        // Ten slabs of 3.20 x 1.90 m, 20 mm, 2,700 kg/m3 (handbook arithmetic): 328.32 kg each.
        let slab =
            Volume::of(read::<Size>("3.20 x 1.90 m").area().unwrap(), read("20 mm")).unwrap();
        assert_eq!(Mass::of(slab, read("2700 kg/m3")).unwrap(), read("328.32 kg"));
    }

    #[test]
    fn sizes_share_the_unit_at_their_end() {
        assert_eq!(read::<Size>("310 x 190 cm"), read("3.1x1.9 m"));
        assert_eq!(read::<Size>("122.5 x 75 in").length.to_mm(2).to_string(), "3111.50");
        for bad in ["310 cm", "310 x 190", "310 x 190 x 2 cm", "310 by 190 cm", "x cm", ""] {
            assert!(Size::read(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_bare_number_is_no_measure() {
        let fault = Length::read("20").unwrap_err();
        assert_eq!(fault.offset, 2);
        assert!(fault.expected.contains("20 mm"));
        assert!(Mass::read("20 mm").is_err());
    }

    #[test]
    fn steps_round_as_named() {
        let step = read("1 cm");
        let side: Length = read("3107 mm");
        assert_eq!(side.stepped(step, Rounding::Down), Ok(read("310 cm")));
        assert_eq!(side.stepped(step, Rounding::Nearest), Ok(read("311 cm")));
        assert_eq!(side.stepped(step, Rounding::Up), Ok(read("311 cm")));
    }

    #[test]
    fn trade_factor_and_exact_foot_differ() {
        let area: Area = read("60.8 m2");
        let trade = area.in_ft2(Some(Decimal::new(10_764, 3)), 2, Rounding::Nearest).unwrap();
        assert_eq!(trade.to_string(), "654.45");
        let exact = area.in_ft2(None, 4, Rounding::Nearest).unwrap();
        assert_eq!(exact.to_string(), "654.4458");
    }

    proptest! {
        #[test]
        fn every_unit_reads_back(hundredths in 1i64..10_000_000) {
            let value = Decimal::new(hundredths, 2);
            prop_assert_eq!(Length::inches(value).unwrap().to_inches(2), value);
            prop_assert_eq!(Length::feet(value).unwrap().to_feet(2), value);
            prop_assert_eq!(Area::ft2(value).unwrap().to_ft2(2), value);
            prop_assert_eq!(Mass::lb(value).unwrap().to_lb(2), value);
        }
    }
}
