//! Where the bundles of a box stand, row by row, and the moment they bring.

use super::engine::rows;
use super::plan::FilledBox;
use crate::quantity::{Fraction, Mass, Overflow};
use crate::trade::Bundle;

/// One bundle in its box.
#[derive(Debug, Clone, Copy)]
pub struct Standing<'a> {
    /// The bundle.
    pub bundle: &'a Bundle,
    /// Its place from the front end and from the left wall, in mm, where it is worked out.
    pub at: Option<(i64, i64)>,
    /// Whether its length lies across the box.
    pub turned: bool,
    /// The mass of all bundles of the list up to it.
    pub running: Mass,
}

/// The bundles of a box row by row from the front end to the doors, each row from the left wall; as they are where
/// a place is not known.
///
/// # Errors
/// On overflow, or where a bundle is not there.
pub(super) fn standing<'a>(
    filled: &FilledBox,
    bundles: &'a [Bundle],
) -> Result<Vec<Standing<'a>>, Overflow> {
    let mut all = Vec::with_capacity(filled.bundles.len());
    for (bundle, at, turned) in listed(filled) {
        let bundle = bundles.get(bundle).ok_or(Overflow { what: "a load" })?;
        all.push(Standing { bundle, at, turned, running: Mass::ZERO });
    }
    let mut all = in_rows(all);
    add_up(&mut all)?;
    Ok(all)
}

/// Sets the running total of each bundle of a list.
///
/// # Errors
/// On overflow.
pub(super) fn add_up(all: &mut [Standing<'_>]) -> Result<(), Overflow> {
    let mut running = Mass::ZERO;
    for one in all {
        running = running.plus(one.bundle.limit_mass)?;
        one.running = running;
    }
    Ok(())
}

fn in_rows(all: Vec<Standing<'_>>) -> Vec<Standing<'_>> {
    let floor = all.iter().map(|one| one.at.map(|(x, y)| [x, y, one.length_along()]));
    let Some(floor) = floor.collect::<Option<Vec<_>>>() else { return all };
    let order = rows(&floor).into_iter().flatten();
    order.filter_map(|at| all.get(at).copied()).collect()
}

impl Standing<'_> {
    /// Its extent along the box, in whole mm up.
    pub fn length_along(&self) -> i64 {
        let own = if self.turned { self.bundle.width } else { self.bundle.length };
        own.mm_up()
    }

    /// Its extent across the box, in whole mm up.
    pub fn width_across(&self) -> i64 {
        let own = if self.turned { self.bundle.length } else { self.bundle.width };
        own.mm_up()
    }

    /// Whether it stands all over a stretch of the floor.
    pub(super) fn is_over(&self, (from, to): (i64, i64)) -> bool {
        self.at.is_some_and(|(x, _)| x <= from && to <= x + self.length_along())
    }

    /// What it presses on its length, evenly: grams per millimetre, which are kilograms per metre.
    pub(super) fn press(&self) -> Fraction {
        let along = Fraction::whole(self.length_along().max(1).into());
        Fraction::whole(self.bundle.limit_mass.grams_up().into()).over(&along)
    }
}

/// The stretches of the floor, from the front end, on each of which the same bundles stand; `None` where a place is
/// not known.
pub(super) fn stretches(standing: &[Standing<'_>]) -> Option<Vec<(i64, i64)>> {
    let extent = |one: &Standing<'_>| one.at.map(|(x, _)| (x, x + one.length_along()));
    let extents: Vec<(i64, i64)> = standing.iter().map(extent).collect::<Option<_>>()?;
    Some(between(extents))
}

/// The stretches of the floor between the ends of these.
pub(super) fn between(extents: impl IntoIterator<Item = (i64, i64)>) -> Vec<(i64, i64)> {
    let mut ends: Vec<i64> = extents.into_iter().flat_map(|(from, to)| [from, to]).collect();
    ends.sort_unstable();
    ends.dedup();
    ends.iter().copied().zip(ends.iter().copied().skip(1)).collect()
}

/// A bundle by position, its place from front and left, and whether it is turned.
type Placed = (usize, Option<(i64, i64)>, bool);

/// The bundles with their places, if any.
fn listed(filled: &FilledBox) -> Vec<Placed> {
    match &filled.spots {
        Some(spots) => {
            let placed =
                spots.iter().map(|spot| (spot.bundle, Some((spot.x, spot.y)), spot.turned));
            placed.collect()
        }
        None => filled.bundles.iter().map(|bundle| (*bundle, None, false)).collect(),
    }
}

/// The grams of the bundles and twice their moment about the front end; `None` without places. Lengths are
/// read to 100 m at most, and 128 bits hold the sum of any list.
pub(super) fn moment(standing: &[Standing<'_>]) -> Option<(i128, i128)> {
    moment_of(standing, |bundle| bundle.limit_mass)
}

/// The same of the masses that are expected.
pub(super) fn expected_moment(standing: &[Standing<'_>]) -> Option<(i128, i128)> {
    moment_of(standing, |bundle| bundle.mass)
}

fn moment_of(standing: &[Standing<'_>], mass_of: fn(&Bundle) -> Mass) -> Option<(i128, i128)> {
    let (mut mass, mut twice) = (0i128, 0i128);
    for one in standing {
        let grams = i128::from(mass_of(one.bundle).grams_up());
        twice += grams * i128::from(2 * one.at?.0 + one.length_along());
        mass += grams;
    }
    Some((mass, twice))
}
