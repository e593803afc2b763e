//! The supplier's areas held against length and height.

use crate::quantity::{Decimal, ratio};

/// A side in a unit.
pub(super) type Side = (Decimal, &'static str);

/// The millimetres of a unit of length.
pub(super) fn millimetres(unit: &str) -> Option<Decimal> {
    Some(match unit {
        "mm" => Decimal::ONE,
        "cm" => Decimal::TEN,
        "m" => Decimal::ONE_THOUSAND,
        // Exact by definition: 25.4 mm (ISO 80000-3; NIST SP 811, B.6).
        "in" => Decimal::new(254, 1),
        "ft" => Decimal::new(3048, 1),
        _ => return None,
    })
}

/// The square millimetres of a unit of area.
fn square_millimetres(unit: &str) -> Option<Decimal> {
    Some(match unit {
        "m2" => Decimal::new(1_000_000, 0),
        "ft2" => Decimal::new(9_290_304, 2),
        _ => return None,
    })
}

/// The area of two sides in a unit of area, exactly or to 28 digits.
pub(super) fn area(sides: [Side; 2], unit: &str) -> Option<Decimal> {
    let [one, other] = sides;
    let mm = |(figure, unit): Side| figure.checked_mul(millimetres(unit)?);
    mm(one)?.checked_mul(mm(other)?)?.checked_div(square_millimetres(unit)?)
}

/// Whether two figures are one, rounded to so many places up, down or to the nearest.
pub(super) fn agree(one: Decimal, other: Decimal, places: u32) -> bool {
    let step = Decimal::try_new(1, places).unwrap_or(Decimal::ONE);
    one.checked_sub(other).is_some_and(|gap| gap.abs() < step)
}

/// A figure as a sentence has it, to so many places and at least two.
pub(super) fn shown(figure: Decimal, places: u32) -> String {
    ratio(figure, Decimal::ONE, places.max(2)).unwrap_or(figure).to_string()
}

/// The most places that figures have.
pub(super) fn places(figures: impl Iterator<Item = Decimal>) -> u32 {
    figures.map(|one| one.normalize().scale()).max().unwrap_or(0).min(6)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_area_is_of_one_unit_only() {
        let figure = |text: &str| text.parse::<Decimal>().unwrap();
        // 2.825 m x 1.815 m = 5.127375 m2; 119 in x 71 in = 8449 in2 = 58.673611... ft2.
        let metric = [(figure("282.5"), "cm"), (figure("181.5"), "cm")];
        assert_eq!(area(metric, "m2").map(|one| one.normalize()), Some(figure("5.127375")));
        let inches = [(figure("119"), "in"), (figure("71"), "in")];
        assert!(agree(area(inches, "ft2").unwrap(), figure("58.67"), 2));
        assert!(!agree(area(inches, "ft2").unwrap(), figure("58.66"), 2));
        assert!(agree(figure("5.127375"), figure("5.13"), 2));
        assert!(agree(figure("5.127375"), figure("5.12"), 2));
        assert!(!agree(figure("5.127375"), figure("5.14"), 2));
    }
}
