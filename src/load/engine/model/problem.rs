//! The loading problem in integers: grams, millimetres and minor currency units, nothing else.
//!
//! Whatever a trade rule says in kilograms per axle or percent of a length has become a
//! half plane, a payload or a gap before it arrives here, so that the search and the checker
//! argue about the same few numbers.

use super::entry::{Entry, Rectangle};

/// One bundle as it stands on the floor, in packing-list order. Never stacked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Piece {
    /// Mass in grams; it acts at the centre of the rectangle.
    pub mass: i64,
    /// Extent along the box in mm, before any turn.
    pub length: i64,
    /// Extent across the box in mm, before any turn.
    pub width: i64,
    /// Height in mm, compared with the door.
    pub height: i64,
    /// Index into [`Problem::groups`].
    pub group: Option<usize>,
    /// Whether it may stand across the box.
    pub may_turn: bool,
}

/// The most mass per length of floor that a box bears: `mass` grams on `per_length` mm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LineLoad {
    /// Grams.
    pub mass: i64,
    /// Millimetres that bear them.
    pub per_length: i64,
}

/// `mass_coefficient * M + moment_x_coefficient * Mx + moment_y_coefficient * My <= bound`,
/// where M is the cargo mass in g, Mx and My its moments in g mm about the front end and the
/// left wall of the box. Centre-of-gravity windows, axle groups and bridge formulas all have
/// this form, because they are linear in mass and moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HalfPlane {
    /// Factor of the cargo mass.
    pub mass_coefficient: i64,
    /// Factor of the lengthwise moment.
    pub moment_x_coefficient: i64,
    /// Factor of the crosswise moment.
    pub moment_y_coefficient: i64,
    /// Right-hand side.
    pub bound: i128,
}

impl HalfPlane {
    /// How far the load exceeds the bound, doubled: positive means broken. Moments come
    /// doubled because the centre of an odd length lies on half a millimetre.
    pub fn excess(&self, mass: i128, twice_moment_x: i128, twice_moment_y: i128) -> i128 {
        2 * i128::from(self.mass_coefficient) * mass
            + i128::from(self.moment_x_coefficient) * twice_moment_x
            + i128::from(self.moment_y_coefficient) * twice_moment_y
            - 2 * self.bound
    }

    /// The two half planes that keep the centre of gravity within `permille` of the box's
    /// length (a tolerance of 50 is 5 % of the length) on either side of its middle.
    pub fn window_along(length: i64, permille: i64) -> [HalfPlane; 2] {
        let [(low, one), (high, other)] = window(length, permille);
        let plane = |mass, moment| HalfPlane {
            mass_coefficient: mass,
            moment_x_coefficient: moment,
            moment_y_coefficient: 0,
            bound: 0,
        };
        [plane(low, one), plane(high, other)]
    }

    /// The same across the box: within `permille` of its width from the middle.
    pub fn window_across(width: i64, permille: i64) -> [HalfPlane; 2] {
        HalfPlane::window_along(width, permille).map(|plane| HalfPlane {
            moment_x_coefficient: 0,
            moment_y_coefficient: plane.moment_x_coefficient,
            ..plane
        })
    }
}

/// From |x - E/2| <= t E / 1000, times 2000 M: the pairs (factor of M, factor of Mx).
fn window(extent: i64, permille: i64) -> [(i64, i64); 2] {
    [(extent * (1000 - 2 * permille), -2000), (-extent * (1000 + 2 * permille), 2000)]
}

/// A kind of box that may be had: a container type under one set of limits at one cost.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BoxKind {
    /// Inside length, mm.
    pub length: i64,
    /// Inside width, mm.
    pub width: i64,
    /// Height of the door or of whatever opening the bundles pass, mm.
    pub door_height: i64,
    /// Width of the door, mm; bundles enter lengthwise.
    pub door_width: i64,
    /// The most cargo, grams.
    pub payload: i64,
    /// Cost of one such box in minor currency units.
    pub cost: i64,
    /// How many there are; `None` means any number.
    pub available: Option<u32>,
    /// The most mass per length at every station, if the floor limits it.
    pub line_load: Option<LineLoad>,
    /// Kept free at each of the two ends for bracing, mm.
    pub gap_end: i64,
    /// Kept free at each of the two side walls for bracing, mm.
    pub gap_side: i64,
    /// Centre-of-gravity windows, axle groups, bridge formulas.
    pub limits: Vec<HalfPlane>,
}

impl BoxKind {
    /// Length of floor between the bracing gaps, mm.
    pub fn floor_length(&self) -> i64 {
        self.length - 2 * self.gap_end
    }

    /// Width of floor between the bracing gaps, mm.
    pub fn floor_width(&self) -> i64 {
        self.width - 2 * self.gap_side
    }

    /// The most cargo, grams: by the payload, by the line load over the whole floor, and by the
    /// half planes wherever the moment lies.
    pub fn mass_capacity(&self) -> i128 {
        let length = i128::from(self.floor_length());
        let line =
            self.line_load.map(|line| i128::from(line.mass) * length / i128::from(line.per_length));
        let own = i128::from(self.payload).min(self.mass_by_planes());
        line.map_or(own, |line| own.min(line))
    }

    /// The most mass that half planes alone allow: two of them with moment factors of opposite
    /// sign, added so that the moment vanishes, or one without moment.
    fn mass_by_planes(&self) -> i128 {
        let mut most = i128::MAX;
        let mut meet = |factor: i128, bound: i128| {
            if factor > 0 {
                most = most.min(bound.div_euclid(factor).max(0));
            }
        };
        for one in &self.limits {
            let (x, y) =
                (i128::from(one.moment_x_coefficient), i128::from(one.moment_y_coefficient));
            if x == 0 && y == 0 {
                meet(i128::from(one.mass_coefficient), one.bound);
            }
            for other in &self.limits {
                let (u, v) = (
                    i128::from(other.moment_x_coefficient),
                    i128::from(other.moment_y_coefficient),
                );
                let (up, down) = if y == 0 && v == 0 { (x, u) } else { (y, v) };
                let flat = (y == 0 && v == 0) || (x == 0 && u == 0);
                if flat && up > 0 && down < 0 {
                    let factor = i128::from(one.mass_coefficient) * -down
                        + i128::from(other.mass_coefficient) * up;
                    let both = one
                        .bound
                        .checked_mul(-down)
                        .zip(other.bound.checked_mul(up))
                        .and_then(|(a, b)| a.checked_add(b));
                    if let Some(bound) = both {
                        meet(factor, bound);
                    }
                }
            }
        }
        most
    }

    /// Whether the piece passes the door: upright, and its narrow side first.
    pub(crate) fn lets_in(&self, piece: &Piece) -> bool {
        piece.height <= self.door_height && piece.width.min(piece.length) <= self.door_width
    }
}

/// How strongly the pieces of a group belong together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grouping {
    /// A name only.
    Free,
    /// All in one box.
    Rule,
    /// Each box touched beyond the first costs `price` minor units.
    Wish {
        /// Minor currency units for each extra box.
        price: i64,
    },
}

/// Pieces that already share one box of a kind. Two pins are two boxes; more may join them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pin {
    /// Indices into [`Problem::pieces`].
    pub pieces: Vec<usize>,
    /// Index into [`Problem::kinds`].
    pub kind: usize,
}

/// Kinds of box of which there are only so many together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stock {
    /// Indices into [`Problem::kinds`].
    pub kinds: Vec<usize>,
    /// How many there are.
    pub count: u32,
}

/// Everything that decides a load.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Problem {
    /// In packing-list order.
    pub pieces: Vec<Piece>,
    /// In the order in which ties between kinds are broken.
    pub kinds: Vec<BoxKind>,
    /// What each group number means.
    pub groups: Vec<Grouping>,
    /// Boxes that are already begun.
    pub pins: Vec<Pin>,
    /// Sets of pieces that share one box, whatever their groups.
    pub ties: Vec<Vec<usize>>,
    /// Pairs of pieces that may not share a box.
    pub apart: Vec<(usize, usize)>,
    /// By kind, how pieces come into its boxes, one after the other; none where nobody asks.
    pub entries: Vec<Entry>,
    /// Stocks that several kinds of box share.
    pub stocks: Vec<Stock>,
    /// The most boxes in all.
    pub max_boxes: Option<u32>,
}

impl Problem {
    /// By kind: another of the same floor, doors and limits that takes as much, costs no more, and is to be had in
    /// any number. A box of the kind may always be one of the other, so no plan needs it; `None` where there is no
    /// such other, or a box of the kind is begun.
    pub(crate) fn served_by(&self) -> Vec<Option<usize>> {
        let plain =
            |kind: &BoxKind| BoxKind { payload: 0, cost: 0, available: None, ..kind.clone() };
        let plain: Vec<BoxKind> = self.kinds.iter().map(plain).collect();
        let is_free = |at: usize| {
            let stocked = self.stocks.iter().any(|stock| stock.kinds.contains(&at));
            self.kinds[at].available.is_none() && !stocked
        };
        // Cheapest first, then the one that takes most.
        let key = |at: usize| (self.kinds[at].cost, -self.kinds[at].payload, at);
        let serves = |other: usize, own: usize| {
            key(other) < key(own)
                && self.kinds[other].payload >= self.kinds[own].payload
                && plain[other] == plain[own]
                && self.entries.get(other) == self.entries.get(own)
                && is_free(other)
        };
        let all = 0..self.kinds.len();
        let best = |own: usize| all.clone().filter(|&at| serves(at, own)).min_by_key(|&at| key(at));
        let begun = |own: usize| self.pins.iter().any(|pin| pin.kind == own);
        all.clone().map(|own| if begun(own) { None } else { best(own) }).collect()
    }

    /// Whether one of these pieces is in a begun box of another kind than this.
    pub(crate) fn pins_elsewhere(&self, kind: usize, pieces: &[usize]) -> bool {
        let elsewhere =
            |pin: &Pin| pin.kind != kind && pin.pieces.iter().any(|piece| pieces.contains(piece));
        self.pins.iter().any(elsewhere)
    }
}

/// Where a piece stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Placed {
    /// Index into [`Problem::pieces`].
    pub piece: usize,
    /// From the front end of the box to the piece's nearer end, mm.
    pub x: i64,
    /// From the left wall to the piece's nearer side, mm.
    pub y: i64,
    /// Whether its length lies across the box.
    pub turned: bool,
}

/// The rectangles of places, from the front end and from the left wall.
pub(crate) fn rectangles(pieces: &[Piece], places: &[Placed]) -> Vec<Rectangle> {
    let rectangle = |place: &Placed| {
        let piece = &pieces[place.piece];
        let sides =
            if place.turned { [piece.width, piece.length] } else { [piece.length, piece.width] };
        [(place.x, place.x + sides[0]), (place.y, place.y + sides[1])]
    };
    places.iter().map(rectangle).collect()
}

/// One box of the plan.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Loaded {
    /// Index into [`Problem::kinds`].
    pub kind: usize,
    /// By piece, ascending.
    pub places: Vec<Placed>,
}
