//! Slabs far smaller or larger than the others of their bundle.

use super::super::cells;
use super::draft::Draft;
use super::layout::{Column, cell_place};
use super::list::List;
use super::meant::is_near;
use crate::fault::{Code, Fault, Report};
use crate::quantity::{Decimal, Length, Size, count_of};
use crate::trade::Slab;

/// So many slabs of a bundle tell what is usual in it; of fewer, the list does.
const FEWEST: usize = 3;

/// A side that is far from the others, and what they have in the middle.
struct Odd<'s> {
    slab: &'s Slab,
    column: Column,
    side: Length,
    middle: Length,
}

/// The sides of a slab, each with its column.
fn sides(size: Size) -> [(Column, Length); 2] {
    [(Column::Length, size.length), (Column::Height, size.height)]
}

impl List<'_> {
    /// Asks about a side below half or above twice the middle one of its bundle (a choice of ours: slabs of a
    /// bundle are most often sawn from one block). The rows that are asked about.
    pub(super) fn odd_sizes(&self, report: &mut Report) -> Vec<u32> {
        let all = self.odd();
        let rows = all.iter().map(|odd| odd.slab.row).collect();
        let Some(Odd { slab, column, side, middle }) = all.first() else { return rows };
        let (source, units) = (self.reading.ground.source, report.units());
        let row = usize::try_from(slab.row).unwrap_or(0);
        let index = self.reading.ground.layout.of(*column).map_or(0, |(index, _)| index);
        let place = cell_place(source, row, index);
        let more = match all.len() - 1 {
            0 => String::new(),
            more => format!(" (and {})", count_of(more, "more such side")),
        };
        let [own, usual] = [*side, *middle].map(|length| length.show(units));
        let what = column.name();
        let message =
            format!("the {what} of slab {} is {own}, most others have {usual}{more}", slab.id);
        let cell = source.text.get(place.span.clone()).unwrap_or("").trim();
        let meant = tenfold(*side, *middle).and_then(|by| cells::number(cell)?.checked_mul(by));
        let label = meant.map_or_else(
            || "are the point and the digits right?".to_owned(),
            |meant| format!("is \"{}\" meant?", meant.normalize()),
        );
        report.add(
            Fault::warning(Code::OutOfRange, message)
                .at(&place, label)
                .help("correct the cell; if the slab has this size, nothing is to be done"),
        );
        rows
    }

    fn odd(&self) -> Vec<Odd<'_>> {
        let drafts = &self.drafts.all;
        let position = |slab: &Slab| usize::try_from(slab.bundle).unwrap_or(usize::MAX);
        // Most bundles have no such slab: only those that may are looked into.
        let varied = |least: Length, most: Length| !is_near(least, most);
        let mut groups: Vec<Vec<&Slab>> = drafts.iter().map(|_| Vec::new()).collect();
        let may = |at: usize| {
            drafts.get(at).is_some_and(|draft| {
                varied(draft.least.length, draft.length) || varied(draft.least.height, draft.height)
            })
        };
        let of_all = |least: fn(&Draft) -> Length, most: fn(&Draft) -> Length| {
            let ends = drafts.iter().map(least).min().zip(drafts.iter().map(most).max());
            ends.is_some_and(|(least, most)| varied(least, most))
        };
        let all_vary = of_all(|draft| draft.least.length, |draft| draft.length)
            || of_all(|draft| draft.least.height, |draft| draft.height);
        for slab in &self.slabs {
            let at = position(slab);
            let is_small = drafts.get(at).is_some_and(|draft| draft.slabs < FEWEST);
            let is_asked = if is_small { all_vary } else { may(at) };
            if let Some(group) = groups.get_mut(at).filter(|_| is_asked) {
                group.push(slab);
            }
        }
        let middles = |slabs: &mut dyn Iterator<Item = &Slab>| {
            let sizes: Vec<Size> = slabs.filter_map(|slab| Some(slab.sides()?.size())).collect();
            [Column::Length, Column::Height].map(|column| {
                let of = |size: &Size| sides(*size).into_iter().find(|(one, _)| *one == column);
                let mut own: Vec<Length> =
                    sizes.iter().filter_map(|size| Some(of(size)?.1)).collect();
                own.sort_unstable();
                own.get(own.len() / 2).copied()
            })
        };
        let whole = if all_vary && self.slabs.len() >= FEWEST {
            middles(&mut self.slabs.iter())
        } else {
            [None, None]
        };
        let mut odd = Vec::new();
        for group in groups.iter().filter(|group| !group.is_empty()) {
            let is_small = group.len() < FEWEST;
            let own = if is_small { whole } else { middles(&mut group.iter().copied()) };
            for (slab, size) in group.iter().filter_map(|slab| Some((*slab, slab.sides()?.size())))
            {
                for ((column, side), middle) in sides(size).into_iter().zip(own) {
                    let Some(middle) = middle else { continue };
                    let is_odd =
                        !is_near(side, middle) && (!is_small || tenfold(side, middle).is_some());
                    if is_odd {
                        odd.push(Odd { slab, column, side, middle });
                    }
                }
            }
        }
        odd.sort_by_key(|odd| odd.slab.row);
        odd
    }
}

/// By how many times a side is to be taken to be like the others, where the point has slipped: 10 or a tenth,
/// within a quarter.
fn tenfold(side: Length, middle: Length) -> Option<Decimal> {
    let is_like = |by: &Decimal| {
        let shifted = side.times(*by).ok();
        let [least, most] =
            [Decimal::new(75, 2), Decimal::new(125, 2)].map(|by| middle.times(by).ok());
        shifted.zip(least).zip(most).is_some_and(|((one, least), most)| one >= least && one <= most)
    };
    [Decimal::TEN, Decimal::new(1, 1)].into_iter().find(is_like)
}
