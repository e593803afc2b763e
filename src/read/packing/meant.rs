//! What was meant by a figure that cannot be a side of a slab, judged by the rest of its column.

use super::super::cells::{self, Measured};
use super::super::rows;
use super::ground::Ground;
use super::layout::Column;
use super::side::{is_side, is_usual};
use crate::quantity::{Decimal, Length};

/// So many figures of a column are looked at.
const MOST: usize = 1_000;

/// What a figure is most likely meant as.
pub(super) enum Meant {
    /// The figure itself, in a column of another unit.
    Unit(&'static str),
    /// Another figure: the point has slipped.
    Figure(Decimal),
    Unknown,
}

/// The figures of a column, the first thousand of them.
pub(super) fn figures(ground: &Ground<'_>, column: Column) -> Vec<Decimal> {
    let mut all = Vec::new();
    let Some((index, _)) = ground.layout.of(column) else { return all };
    // What cannot be read is told where the rows are read.
    let _ = rows::each_row(&ground.source.text, ground.delimiter, |row| {
        if all.len() < MOST {
            all.extend(row.get(index).and_then(cells::number));
        }
    });
    all
}

/// How many figures are of such a length in a unit.
fn fitting(figures: &[Decimal], unit: &str, is: fn(Length) -> bool) -> usize {
    let length = |figure: &&Decimal| matches!(Length::of(**figure, unit), Some(Ok((length, _))) if is(length));
    figures.iter().filter(length).count()
}

/// The unit in which most figures of a column have the usual length of a slab. Among equals, the one in which
/// most can be a side at all.
pub(super) fn likely_unit(figures: &[Decimal]) -> Option<&'static str> {
    let fits =
        |unit: &&'static str| (fitting(figures, unit, is_usual), fitting(figures, unit, is_side));
    let best = Length::UNITS.iter().copied().rev().max_by_key(fits)?;
    (fitting(figures, best, is_side) > 0).then_some(best)
}

/// What was meant by a figure that cannot be a side in its header's unit. The figure is wrong where at least
/// half of the column can be sides in that unit; else the header is.
pub(super) fn meant(figure: Decimal, unit: &str, figures: &[Decimal]) -> Meant {
    let sides = |figure: &Decimal| {
        let length = Length::of(*figure, unit)?.ok()?.0;
        is_side(length).then_some(length)
    };
    let mut own: Vec<Length> = figures.iter().filter_map(sides).collect();
    if own.is_empty() || own.len() * 2 < figures.len() {
        let other = likely_unit(figures).filter(|other| *other != unit);
        return other.map_or(Meant::Unknown, Meant::Unit);
    }
    own.sort_unstable();
    let Some(middle) = own.get(own.len() / 2) else { return Meant::Unknown };
    let shifts = [Decimal::new(1, 1), Decimal::TEN, Decimal::new(1, 2), Decimal::ONE_HUNDRED];
    let shifted = shifts.iter().filter_map(|by| figure.checked_mul(*by));
    let likely = shifted.filter(|one| sides(one).is_some_and(|side| is_near(side, *middle)));
    likely.map(|one| Meant::Figure(one.normalize())).next().unwrap_or(Meant::Unknown)
}

/// Whether a side is neither below half of another nor above twice it.
pub(super) fn is_near(side: Length, other: Length) -> bool {
    let doubled = |length: Length| length.times(Decimal::TWO);
    doubled(side).is_ok_and(|twice| twice >= other)
        && doubled(other).is_ok_and(|twice| side <= twice)
}
