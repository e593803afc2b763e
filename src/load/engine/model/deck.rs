//! The floor of one kind of box, and the cheap conditions under which nothing can stand on it.

use crate::load::engine::model::entry::{Entry, Rectangle, comes_in_alone, has_order};
use crate::load::engine::model::problem::{BoxKind, HalfPlane, Piece, Placed, Problem};

/// A piece reduced to what stands on the floor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Item {
    pub(crate) length: i64,
    pub(crate) width: i64,
    pub(crate) mass: i64,
    pub(crate) may_turn: bool,
}

impl Item {
    /// The piece's rectangle on the floor.
    pub(crate) fn of(piece: &Piece) -> Self {
        let Piece { length, width, mass, may_turn, .. } = *piece;
        Item { length, width, mass, may_turn }
    }

    /// Extents along and across the box.
    pub(crate) fn extents(&self, turned: bool) -> (i64, i64) {
        if turned { (self.width, self.length) } else { (self.length, self.width) }
    }
}

/// A place relative to the corner of the usable floor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Position {
    pub(crate) x: i64,
    pub(crate) y: i64,
    pub(crate) turned: bool,
}

impl Position {
    /// The place of a piece, measured from the corner of the box.
    pub(crate) fn placed(self, piece: usize, kind: &BoxKind) -> Placed {
        let Position { x, y, turned } = self;
        Placed { piece, x: x + kind.gap_end, y: y + kind.gap_side, turned }
    }
}

/// Usable floor and its limits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Deck {
    /// Between the bracing gaps.
    pub(crate) length: i64,
    /// Between the bracing gaps.
    pub(crate) width: i64,
    pub(crate) gap_end: i64,
    pub(crate) gap_side: i64,
    pub(crate) limits: Vec<HalfPlane>,
    /// The most that shares by [`line_share`] may add up to at a station.
    pub(crate) line: Option<i64>,
    /// How pieces come in, where they must, and the length and width inside.
    pub(crate) entry: Option<(Entry, [i64; 2])>,
}

/// Fixed-point scale of line loads: 2^24 to a gram per millimetre.
pub(crate) const LINE_SCALE: i64 = 1 << 24;

/// A piece's share of the line load, rounded up: a sum of shares within the limit is safe.
pub(crate) fn line_share(mass: i64, length: i64) -> i64 {
    (mass * LINE_SCALE + length - 1) / length
}

/// The values that twice a moment may take; `None` on a side without limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct MomentWindow {
    pub(crate) low: Option<i128>,
    pub(crate) high: Option<i128>,
}

impl MomentWindow {
    pub(crate) fn is_empty(self) -> bool {
        matches!((self.low, self.high), (Some(low), Some(high)) if low > high)
    }

    pub(crate) fn holds(self, value: i128) -> bool {
        self.low.is_none_or(|low| value >= low) && self.high.is_none_or(|high| value <= high)
    }

    pub(crate) fn clamp(self, value: i128) -> i128 {
        let value = self.high.map_or(value, |high| value.min(high));
        self.low.map_or(value, |low| value.max(low))
    }

    fn narrow(&mut self, factor: i128, room: i128) {
        // factor * value <= room
        if factor > 0 {
            let high = room.div_euclid(factor);
            self.high = Some(self.high.map_or(high, |old| old.min(high)));
        } else {
            let low = -room.div_euclid(-factor);
            self.low = Some(self.low.map_or(low, |old| old.max(low)));
        }
    }
}

impl Deck {
    pub(crate) fn of(kind: &BoxKind) -> Self {
        let line = kind.line_load.map(|line| line.mass * LINE_SCALE / line.per_length);
        Deck {
            length: kind.floor_length(),
            width: kind.floor_width(),
            gap_end: kind.gap_end,
            gap_side: kind.gap_side,
            limits: kind.limits.clone(),
            line,
            entry: None,
        }
    }

    /// The floor of a kind of the problem, where pieces come in as is asked there.
    pub(crate) fn of_kind(problem: &Problem, kind: usize) -> Self {
        let own = &problem.kinds[kind];
        let entry = problem.entries.get(kind).map(|&entry| (entry, [own.length, own.width]));
        Deck { entry, ..Deck::of(own) }
    }

    /// Whether the pieces of a layout come in one after the other, if they must.
    pub(crate) fn is_entered(&self, items: &[Item], spots: &[Position]) -> bool {
        let Some((entry, inside)) = self.entry else { return true };
        let rectangle = |(item, spot): (&Item, &Position)| {
            let (length, width) = item.extents(spot.turned);
            let (x, y) = (spot.x + self.gap_end, spot.y + self.gap_side);
            [(x, x + length), (y, y + width)]
        };
        let floor: Vec<Rectangle> = items.iter().zip(spots).map(rectangle).collect();
        has_order(inside, entry, &floor)
    }

    /// How wide bundles are at most that stand abreast behind their front ends, all together: the last of them
    /// comes in beside all others. And how far those front ends reach.
    fn abreast(&self, items: &[Item]) -> Option<(i64, i64)> {
        match self.entry {
            Some((Entry::Doors { side, nose, .. }, inside)) => {
                let across = |item: &Item| {
                    if item.may_turn { item.width.max(item.length) } else { item.width }
                };
                let widest = items.iter().map(across).max().unwrap_or(0);
                Some((widest.max(inside[1] - self.gap_side - side), nose))
            }
            _ => None,
        }
    }

    /// The windows of twice Mx and twice My for a cargo mass, about the box's corner. A half plane
    /// on both moments narrows neither window: the finished layout is held against it. Where a half
    /// plane on the mass alone is broken, the first window is empty.
    pub(crate) fn windows(&self, mass: i64) -> (MomentWindow, MomentWindow) {
        let open = MomentWindow { low: None, high: None };
        let (mut along, mut across) = (open, open);
        for plane in &self.limits {
            let room = 2 * plane.bound - 2 * i128::from(plane.mass_coefficient) * i128::from(mass);
            match (plane.moment_x_coefficient, plane.moment_y_coefficient) {
                (0, 0) if room < 0 => along = MomentWindow { low: Some(1), high: Some(0) },
                (0, 0) => {}
                (factor, 0) => along.narrow(i128::from(factor), room),
                (0, factor) => across.narrow(i128::from(factor), room),
                _ => {}
            }
        }
        (along, across)
    }

    /// Twice the moments of a layout about the box's corner.
    pub(crate) fn moments(&self, items: &[Item], spots: &[Position]) -> (i128, i128) {
        let mut sums = (0, 0);
        for (item, spot) in items.iter().zip(spots) {
            let (length, width) = item.extents(spot.turned);
            let mass = i128::from(item.mass);
            sums.0 += mass * i128::from(2 * (self.gap_end + spot.x) + length);
            sums.1 += mass * i128::from(2 * (self.gap_side + spot.y) + width);
        }
        sums
    }

    /// Whether every half plane holds.
    pub(crate) fn balanced(&self, items: &[Item], spots: &[Position]) -> bool {
        let mass = items.iter().map(|item| i128::from(item.mass)).sum();
        let (x, y) = self.moments(items, spots);
        self.limits.iter().all(|plane| plane.excess(mass, x, y) <= 0)
    }

    /// Whether no station bears more than the line load.
    pub(crate) fn bears(&self, items: &[Item], spots: &[Position]) -> bool {
        let Some(line) = self.line else { return true };
        spots.iter().all(|station| {
            let load: i64 = items
                .iter()
                .zip(spots)
                .map(|(item, spot)| {
                    let length = item.extents(spot.turned).0;
                    let covers = spot.x <= station.x && station.x < spot.x + length;
                    if covers { line_share(item.mass, length) } else { 0 }
                })
                .sum();
            load <= line
        })
    }

    /// Whether the set breaks a necessary condition: then it is proven impossible. Bundles longer
    /// than half the floor all cross the line across its middle, so their widths add up to the
    /// floor's width at most. The same holds of wide bundles and their lengths. A bundle that may
    /// turn counts by its shorter side both ways. Where bundles come in by the doors, what stands abreast leaves
    /// room for the last of them, at every station.
    pub(crate) fn refuses(&self, items: &[Item]) -> bool {
        let mut area: i128 = 0;
        let mut long_width: i64 = 0;
        let mut wide_length: i64 = 0;
        let abreast = self.abreast(items);
        let (mut entered, mut beside): (i128, i64) = (0, 0);
        for item in items {
            let stands = |turned: bool| {
                let (length, width) = item.extents(turned);
                let comes_in = |(entry, inside)| comes_in_alone([length, width], inside, entry);
                length <= self.length && width <= self.width && self.entry.is_none_or(comes_in)
            };
            let fits = stands(false) || (item.may_turn && stands(true));
            if !fits {
                return true;
            }
            area += i128::from(item.length) * i128::from(item.width);
            let least = if item.may_turn { item.length.min(item.width) } else { item.length };
            if 2 * least > self.length {
                long_width += if item.may_turn { least } else { item.width };
            }
            if let Some((_, nose)) = abreast {
                let area = |length: i64, width: i64| {
                    i128::from((length - nose).max(0)) * i128::from(width)
                };
                let own = area(item.length, item.width);
                let turned = if item.may_turn { area(item.width, item.length) } else { own };
                entered += own.min(turned);
                if 2 * (least - nose) > self.length {
                    beside += if item.may_turn { least } else { item.width };
                }
            }
            let least = if item.may_turn { item.length.min(item.width) } else { item.width };
            if 2 * least > self.width {
                wide_length += if item.may_turn { least } else { item.length };
            }
        }
        area > i128::from(self.length) * i128::from(self.width)
            || long_width > self.width
            || abreast.is_some_and(|(most, _)| {
                beside > most || entered > i128::from(self.length) * i128::from(most)
            })
            || wide_length > self.length
            || self.unbalanceable(items)
    }

    /// Whether the moments miss their windows even with each piece where it helps most.
    fn unbalanceable(&self, items: &[Item]) -> bool {
        let mass = items.iter().map(|item| item.mass).sum();
        let (along, across) = self.windows(mass);
        let reach = |extent: i64, gap: i64, of: &dyn Fn(&Item) -> i64| {
            let mut least: i128 = 0;
            let mut most: i128 = 0;
            for item in items {
                let own = if item.may_turn { item.length.min(item.width) } else { of(item) };
                let mass = i128::from(item.mass);
                least += mass * i128::from(2 * gap + own);
                most += mass * i128::from(2 * (gap + extent) - own);
            }
            (least, most)
        };
        let misses = |window: MomentWindow, (least, most): (i128, i128)| {
            window.is_empty()
                || window.low.is_some_and(|low| low > most)
                || window.high.is_some_and(|high| high < least)
        };
        misses(along, reach(self.length, self.gap_end, &|item| item.length))
            || misses(across, reach(self.width, self.gap_side, &|item| item.width))
    }
}
