//! The floor of one box as a drawing needs it, whoever it is drawn for.

use crate::load::{Blocking, BoxSummary};
use crate::quantity::{Decimal, Length, Mass, nearest_whole};

/// A box with its bundles. All figures are mm.
#[derive(Debug)]
pub(in crate::show) struct Floor<'a> {
    /// Inside length, width and height.
    pub(in crate::show) inside: [i64; 3],
    /// The bundles in loading order.
    pub(in crate::show) pieces: Vec<Piece<'a>>,
    /// The blocking between bundles and walls.
    pub(in crate::show) blocking: Vec<Blocking>,
    /// The centre of gravity from the front, the left wall and the floor.
    pub(in crate::show) centre: Option<[i64; 3]>,
    /// The window that it must lie in, along the box and across it, if the window is shown.
    pub(in crate::show) window: Option<[[i64; 2]; 2]>,
}

/// A bundle on the floor.
#[derive(Debug)]
pub(in crate::show) struct Piece<'a> {
    /// Its name.
    pub(in crate::show) id: &'a str,
    /// Its mass.
    pub(in crate::show) mass: Mass,
    /// Its corner from the front end and the left wall, where it is known.
    pub(in crate::show) at: Option<(i64, i64)>,
    /// Its extent along the box, across it, and up.
    pub(in crate::show) size: [i64; 3],
    /// Whether its length lies across the box.
    pub(in crate::show) turned: bool,
}

impl Piece<'_> {
    /// From where to where it stands, along the box and across it, where that is known.
    pub(super) fn extent(&self) -> Option<[(i64, i64); 2]> {
        let (x, y) = self.at?;
        Some([(x, x + self.size[0]), (y, y + self.size[1])])
    }
}

impl<'a> Floor<'a> {
    /// The floor as we see it ourselves.
    pub(super) fn of(one: &BoxSummary<'a>) -> Self {
        let pieces = one.standing.iter().map(|standing| Piece {
            id: &standing.bundle.id,
            mass: standing.bundle.limit_mass,
            at: standing.at,
            size: [
                standing.length_along(),
                standing.width_across(),
                standing.bundle.height.mm_up(),
            ],
            turned: standing.turned,
        });
        let centre = match (one.cog_x, one.cog_y, one.cog_z) {
            (Some(x), Some(y), Some(z)) => whole([x, y, z]),
            _ => None,
        };
        Self {
            inside: one.variant.container.inside.map(Length::mm_down),
            pieces: pieces.collect(),
            blocking: one.held.as_ref().map_or_else(Vec::new, |held| held.blocking.clone()),
            centre,
            window: Some([one.window_along(), one.window_across()]),
        }
    }
}

/// Figures in whole mm.
pub(in crate::show) fn whole(figures: [Decimal; 3]) -> Option<[i64; 3]> {
    let [x, y, z] = figures.map(nearest_whole);
    Some([x?, y?, z?])
}
