//! Better places for the pieces of one box: a search among places by the preference, after the plan
//! is chosen.
//!
//! A layout is written as lists of pieces. As rows, pieces of a list stand side by side and each is
//! pushed to the front until it meets another; as lanes they stand one behind the other, and each is
//! pushed to the left. What is pushed together is then shifted as one, or slid, into balance. Few
//! pieces have all their layouts tried (an exhaustive enumeration of ordered partitions); of more, a
//! local search exchanges two and moves one, from the places that are there and from even rows.

use rustc_hash::FxHashMap;

use super::check::check;
use super::model::deck::{Deck, Item, MomentWindow, Position};
use super::model::effort::Purse;
use super::model::entry::{Entry, Rectangle, has_order};
use super::model::problem::{BoxKind, Loaded, Piece, Placed, Problem, rectangles};
use super::place::settle;
use super::preference::{Preference, Rating, before};

/// Pairs of pieces looked at in one box (a choice of ours): a foreman waits no longer
/// for the places than for the plan.
const LOOKS: u64 = 40_000;
/// The most pieces whose layouts are all tried.
pub(super) const FEW: usize = 5;

/// The places of a box by the preference.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Arranged {
    /// By piece, ascending; those that were there, where none better was found.
    pub places: Vec<Placed>,
    /// Whether every layout was tried; otherwise these are the best found.
    pub least: bool,
}

/// Looks for better places for the pieces of a box, such as they come in by an order; `None` where those that are
/// there break a limit. Where no places with an order are found, those that were there stay.
pub fn arrange(
    problem: &Problem,
    loaded: &Loaded,
    rating: Rating,
    entry: Entry,
) -> Option<Arranged> {
    arrange_within(problem, loaded, (rating, entry), &mut Purse::new(LOOKS))
}

/// The same within a purse, counted in pairs of pieces.
pub(super) fn arrange_within(
    problem: &Problem,
    loaded: &Loaded,
    (rating, entry): (Rating, Entry),
    work: &mut Purse,
) -> Option<Arranged> {
    if !holds(problem, loaded) {
        return None;
    }
    let kind = &problem.kinds[loaded.kind];
    let items: Vec<Item> =
        loaded.places.iter().map(|place| Item::of(&problem.pieces[place.piece])).collect();
    let stood = rectangles(&problem.pieces, &loaded.places);
    let best = if has_order([kind.length, kind.width], entry, &stood) {
        Preference::of(kind, rating, &problem.pieces, &loaded.places).list()
    } else {
        [i64::MAX; 6]
    };
    let mut search = Search {
        kind,
        rating,
        entry,
        pieces: &problem.pieces,
        own: loaded.places.iter().map(|place| place.piece).collect(),
        deck: Deck::of(kind),
        items,
        best,
        places: loaded.places.clone(),
        seen: FxHashMap::default(),
        work: work.clone(),
    };
    let all = search.items.len() <= FEW && search.try_all();
    if !all {
        search.improve(&loaded.places);
    }
    // What can be slid on its own has nothing left to gain: floor, balance and rows.
    let least = all && search.best[1] == 0 && search.best[3..5] == [0, 0];
    work.clone_from(&search.work);
    let mut places = search.places;
    places.sort_unstable();
    let found = Loaded { kind: loaded.kind, places };
    // The checker shares nothing with the search: where they disagree, nothing is moved.
    Some(if holds(problem, &found) {
        Arranged { places: found.places, least }
    } else {
        Arranged { places: loaded.places.clone(), least: false }
    })
}

/// Whether the checker finds nothing wrong in this one box.
fn holds(problem: &Problem, loaded: &Loaded) -> bool {
    let own: Vec<usize> = loaded.places.iter().map(|place| place.piece).collect();
    let pieces = own.iter().map(|&piece| Piece { group: None, ..problem.pieces[piece].clone() });
    let places = loaded.places.iter().enumerate();
    let alone = Problem {
        pieces: pieces.collect(),
        kinds: vec![problem.kinds[loaded.kind].clone()],
        ..Problem::default()
    };
    let places = places.map(|(piece, place)| Placed { piece, ..*place }).collect();
    check(&alone, &[Loaded { kind: 0, places }], problem.kinds[loaded.kind].cost).is_empty()
}

/// Which way a layout is read.
#[derive(Clone, Copy, PartialEq, Eq)]
struct Reading {
    /// Rows that are pushed along the box; otherwise lanes that are pushed across it.
    rows: bool,
    /// Whether its lists stand in the middle; otherwise all against one side.
    middle: bool,
    /// Whether they are pushed to the far end or wall.
    far: bool,
}

const READINGS: [Reading; 8] = [
    Reading { rows: true, middle: false, far: false },
    Reading { rows: false, middle: false, far: false },
    Reading { rows: true, middle: true, far: false },
    Reading { rows: false, middle: true, far: false },
    Reading { rows: true, middle: false, far: true },
    Reading { rows: false, middle: false, far: true },
    Reading { rows: true, middle: true, far: true },
    Reading { rows: false, middle: true, far: true },
];

/// Lists of pieces, by position, each with whether it is turned.
type Lists = Vec<Vec<(usize, bool)>>;

/// A layout pushed into the corner.
type Cornered = Vec<(i64, i64, bool)>;

struct Search<'a> {
    kind: &'a BoxKind,
    rating: Rating,
    entry: Entry,
    pieces: &'a [Piece],
    /// The pieces of the box, as `pieces` has them.
    own: Vec<usize>,
    deck: Deck,
    items: Vec<Item>,
    best: [i64; 6],
    places: Vec<Placed>,
    /// What layouts come to, pushed into the corner: many are read in several ways.
    seen: FxHashMap<Cornered, Option<[i64; 6]>>,
    work: Purse,
}

impl Search<'_> {
    /// Tries every layout; whether the work sufficed.
    fn try_all(&mut self) -> bool {
        READINGS.into_iter().all(|reading| self.grow(reading, &mut Vec::new(), self.items.len()))
    }

    /// Every way to add the pieces that are left to these lists.
    fn grow(&mut self, reading: Reading, lists: &mut Lists, left: usize) -> bool {
        if self.work.dry() {
            return false;
        }
        let Some(spots) = self.lay(reading, lists) else { return true };
        if left == 0 {
            self.offer(&spots);
            return true;
        }
        for item in 0..self.items.len() {
            if lists.iter().flatten().any(|&(other, _)| other == item) {
                continue;
            }
            for turned in [false, true] {
                if turned && !self.items[item].may_turn {
                    continue;
                }
                lists.push(vec![(item, turned)]);
                let mut whole = self.grow(reading, lists, left - 1);
                lists.pop();
                if let Some(last) = lists.len().checked_sub(1) {
                    lists[last].push((item, turned));
                    whole = whole && self.grow(reading, lists, left - 1);
                    lists[last].pop();
                }
                if !whole {
                    return false;
                }
            }
        }
        true
    }

    /// Places of the lists' pieces, pushed together, others at the corner; `None` where the floor is
    /// too small.
    fn lay(&self, reading: Reading, lists: &Lists) -> Option<Vec<Position>> {
        let mut spots = vec![Position { x: 0, y: 0, turned: false }; self.items.len()];
        // From where to where those before stand along the push, and across it.
        let mut before: Vec<[i64; 3]> = Vec::new();
        let Deck { length, width, .. } = self.deck;
        let most = if reading.rows { [length, width] } else { [width, length] };
        // How deep a piece is along the push, and how wide across it.
        let sides = |&(item, turned): &(usize, bool)| {
            let (along, across) = self.items[item].extents(turned);
            if reading.rows { (along, across) } else { (across, along) }
        };
        for list in lists {
            let wide: i64 = list.iter().map(|one| sides(one).1).sum();
            let mut run = if reading.middle { (most[1] - wide).max(0) / 2 } else { 0 };
            let first = before.len();
            for one in list {
                let (deep, wide) = sides(one);
                let met = before[..first].iter().filter(|one| one[1] < run + wide && run < one[2]);
                let at = met.map(|one| one[0]).max().unwrap_or(0);
                if at + deep > most[0] || run + wide > most[1] {
                    return None;
                }
                before.push([at + deep, run, run + wide]);
                let at = if reading.far { most[0] - at - deep } else { at };
                let (x, y) = if reading.rows { (at, run) } else { (run, at) };
                spots[one.0] = Position { x, y, turned: one.1 };
                run += wide;
            }
        }
        Some(spots)
    }

    /// The preference of a layout in the best of its shifts, which is kept where it beats the best.
    /// `None` where no limit holds.
    fn offer(&mut self, spots: &[Position]) -> Option<[i64; 6]> {
        let [(x, _), (y, _)] = self.free(spots);
        let key: Cornered =
            spots.iter().map(|spot| (spot.x + x, spot.y + y, spot.turned)).collect();
        if let Some(&known) = self.seen.get(&key) {
            return known;
        }
        let found = self.look(spots);
        self.seen.insert(key, found);
        found
    }

    fn look(&mut self, spots: &[Position]) -> Option<[i64; 6]> {
        // Rows that keep their line come first: of equals the first stays.
        let mut all = self.shifted(spots);
        all.extend(settle(&self.deck, &self.items, spots));
        let best = all.iter().filter_map(|spots| self.rate(spots)).min();
        // Where the floor is strained, what stands behind may stand further behind.
        if best.is_none_or(|best| best[1] > 0) {
            let apart: Vec<Vec<Position>> =
                self.parted(spots).iter().flat_map(|spots| self.shifted(spots)).collect();
            let parted = apart.iter().filter_map(|spots| self.rate(spots)).min();
            return best.into_iter().chain(parted).min();
        }
        best
    }

    /// The layout parted across the box at each start, the rear of it by half of what is free and by
    /// all of it.
    fn parted(&self, spots: &[Position]) -> Vec<Vec<Position>> {
        let [(corner, most), _] = self.free(spots);
        let free = most - corner;
        let mut cuts: Vec<i64> = spots.iter().map(|spot| spot.x).filter(|&x| x > 0).collect();
        cuts.sort_unstable();
        cuts.dedup();
        let moved = |cut: i64, by: i64| {
            let moved = |spot: &Position| Position {
                x: spot.x + corner + if spot.x < cut { 0 } else { by },
                ..*spot
            };
            spots.iter().map(moved).collect()
        };
        cuts.iter().flat_map(|&cut| [moved(cut, free / 2), moved(cut, free)]).collect()
    }

    /// The preference of places; `None` where they have no order of coming in.
    fn rate(&mut self, spots: &[Position]) -> Option<[i64; 6]> {
        self.work.spend(self.items.len() * self.items.len());
        let placed = |(&piece, spot): (&usize, &Position)| spot.placed(piece, self.kind);
        let places: Vec<Placed> = self.own.iter().zip(spots).map(placed).collect();
        let inside = [self.kind.length, self.kind.width];
        if !has_order(inside, self.entry, &rectangles(self.pieces, &places)) {
            return None;
        }
        let list = Preference::of(self.kind, self.rating, self.pieces, &places).list();
        if list < self.best {
            self.best = list;
            self.places = places;
        }
        Some(list)
    }

    /// How far the layout may be shifted as one, along and across.
    fn free(&self, spots: &[Position]) -> [(i64, i64); 2] {
        let mut ends = [(i64::MIN, i64::MIN); 2];
        for (item, spot) in self.items.iter().zip(spots) {
            let (length, width) = item.extents(spot.turned);
            for (end, (at, own)) in ends.iter_mut().zip([(spot.x, length), (spot.y, width)]) {
                *end = (end.0.max(-at), end.1.max(at + own));
            }
        }
        let [along, across] = ends;
        [(along.0, self.deck.length - along.1), (across.0, self.deck.width - across.1)]
    }

    /// The layout shifted as one, each way to the middle, and to the end or wall that more bundles face:
    /// then there is less to fill. Only shifts that hold.
    fn shifted(&self, spots: &[Position]) -> Vec<Vec<Position>> {
        let deck = &self.deck;
        let mass: i64 = self.items.iter().map(|item| item.mass).sum();
        let windows = deck.windows(mass);
        let moments = deck.moments(&self.items, spots);
        let twice = 2 * i128::from(mass.max(1));
        let shifts =
            |window: MomentWindow, moment: i128, inside: i64, free: (i64, i64), facing: i64| {
                let to = |target: i128| {
                    // To the nearest millimetre that is still within the window.
                    let off = window.clamp(target) - moment;
                    let by = match off.signum() {
                        -1 => -((-off).div_euclid(twice)),
                        _ => off.div_euclid(twice),
                    };
                    i64::try_from(by).unwrap_or(0).clamp(free.0, free.1)
                };
                let middle = to(i128::from(mass) * i128::from(inside));
                let far = i128::from(inside) * twice;
                match facing {
                    0 => vec![middle],
                    1.. => vec![middle, to(0)],
                    _ => vec![middle, to(far)],
                }
            };
        let free = self.free(spots);
        let facing = [0, 1].map(|axis| self.facing(spots, axis));
        let along = shifts(windows.0, moments.0, self.kind.length, free[0], facing[0]);
        let across = shifts(windows.1, moments.1, self.kind.width, free[1], facing[1]);
        let each = along.iter().flat_map(|x| across.iter().map(move |y| (x, y)));
        let moved = each.map(|(x, y)| -> Vec<Position> {
            let one = |spot: &Position| Position { x: spot.x + x, y: spot.y + y, ..*spot };
            spots.iter().map(one).collect()
        });
        let holds = |spots: &Vec<Position>| {
            deck.balanced(&self.items, spots) && deck.bears(&self.items, spots)
        };
        moved.filter(holds).collect()
    }

    /// How much more looks at the near end or wall than at the far one, in sides of bundles by the
    /// thousand.
    fn facing(&self, spots: &[Position], axis: usize) -> i64 {
        let rectangle = |(item, spot): (&Item, &Position)| {
            let (length, width) = item.extents(spot.turned);
            [(spot.x, spot.x + length), (spot.y, spot.y + width)]
        };
        let all: Vec<Rectangle> = self.items.iter().zip(spots).map(rectangle).collect();
        let of = |at: usize| {
            let [near, far] = [false, true].map(|far| before(&all, at, axis, far).wall);
            1000 * (near - far) / (all[at][1 - axis].1 - all[at][1 - axis].0).max(1)
        };
        (0..all.len()).map(of).sum()
    }

    /// Climbs from several layouts, the best of them first, until nothing gains or the work runs dry.
    fn improve(&mut self, there: &[Placed]) {
        let mut starts: Vec<([i64; 6], Reading, Lists)> = Vec::new();
        for (reading, lists) in self.starts(there) {
            if self.work.dry() {
                return;
            }
            let Some(spots) = self.lay(reading, &lists) else { continue };
            if let Some(list) = self.offer(&spots) {
                starts.push((list, reading, lists));
            }
        }
        starts.sort_by_key(|(list, ..)| *list);
        for (list, reading, lists) in starts {
            self.climb(list, reading, lists);
        }
    }

    /// The lists of the places that are there, and even ones in a few orders.
    fn starts(&self, there: &[Placed]) -> Vec<(Reading, Lists)> {
        let turned = |item: usize| (item, there[item].turned);
        let all = 0..self.items.len();
        let mut orders: Vec<Vec<usize>> = vec![all.clone().collect(); 4];
        orders[0].sort_by_key(|&item| (there[item].x, there[item].y));
        orders[2].sort_by_key(|&item| -self.items[item].length);
        orders[3].sort_by_key(|&item| -self.items[item].mass);
        let mut starts = Vec::new();
        for order in &orders {
            for count in 1..=self.items.len() {
                let list = |some: &[usize]| some.iter().map(|&item| turned(item)).collect();
                let rows: Lists = order.chunks(count).map(list).collect();
                // The same rows, read as lanes: the first of each, the second of each.
                let lanes = (0..count).map(|rank| {
                    rows.iter().filter_map(|row| row.get(rank)).copied().collect::<Vec<_>>()
                });
                let lanes: Lists = lanes.collect();
                for reading in READINGS {
                    starts.push((reading, if reading.rows { rows.clone() } else { lanes.clone() }));
                }
            }
        }
        starts
    }

    /// Exchanges two pieces or moves one, as long as the layout gets better.
    fn climb(&mut self, mut best: [i64; 6], reading: Reading, mut lists: Lists) {
        while let Some((list, next)) = self.step(best, reading, &lists) {
            (best, lists) = (list, next);
        }
    }

    /// The first better neighbour of a layout.
    fn step(
        &mut self,
        best: [i64; 6],
        reading: Reading,
        lists: &Lists,
    ) -> Option<([i64; 6], Lists)> {
        let spot_of = |lists: &Lists| -> Vec<(usize, usize)> {
            let each = lists.iter().enumerate();
            each.flat_map(|(row, list)| (0..list.len()).map(move |rank| (row, rank))).collect()
        };
        let all = spot_of(lists);
        let mut neighbours: Vec<Lists> = Vec::new();
        for (one, &(row, rank)) in all.iter().enumerate() {
            for &(other_row, other_rank) in &all[one + 1..] {
                let mut next = lists.clone();
                let kept = next[row][rank];
                next[row][rank] = next[other_row][other_rank];
                next[other_row][other_rank] = kept;
                neighbours.push(next);
            }
        }
        for &(row, rank) in &all {
            let mut without = lists.clone();
            let moved = without[row].remove(rank);
            for home in 0..without.len() {
                for at in 0..=without[home].len() {
                    if (home, at) != (row, rank) {
                        let mut next = without.clone();
                        next[home].insert(at, moved);
                        next.retain(|list| !list.is_empty());
                        neighbours.push(next);
                    }
                }
            }
            if self.items[moved.0].may_turn {
                let mut next = lists.clone();
                next[row][rank].1 = !moved.1;
                neighbours.push(next);
            }
        }
        for next in neighbours {
            if self.work.dry() {
                return None;
            }
            self.work.spend(next.len());
            let Some(spots) = self.lay(reading, &next) else { continue };
            if let Some(list) = self.offer(&spots).filter(|list| *list < best) {
                return Some((list, next));
            }
        }
        None
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::load::engine::model::effort::Dice;
    use crate::load::engine::model::problem::{HalfPlane, LineLoad};
    use crate::load::engine::testing::{box_kind, piece};

    /// Side of a cell of the coarse floor, mm.
    const CELL: i64 = 250;
    pub(crate) const RATING: Rating = Rating { payload: 30_000, sideways: 500 };
    /// Every piece comes in without room to spare, so that all places have an order.
    pub(crate) const ENTRY: Entry = Entry::Doors { opening: i64::MAX / 2, side: 0, nose: 0 };

    pub(crate) fn draw(dice: &mut Dice) -> Problem {
        let mut between = |least: i64, most: i64| {
            least + i64::try_from(dice.below(usize::try_from(most - least + 1).unwrap())).unwrap()
        };
        let (length, width) = (CELL * between(5, 6), CELL * between(3, 4));
        let mut kind = box_kind(1_000_000, length, width, 1);
        kind.line_load = Some(LineLoad { mass: 20 * between(700, 1500), per_length: 1000 });
        kind.limits = HalfPlane::window_along(length, 150).to_vec();
        kind.limits.extend(HalfPlane::window_across(width, 200));
        let count = between(2, 4);
        let pieces = (0..count).map(|_| {
            let mut one = piece(1000 * between(3, 6), CELL * between(1, 4), CELL * between(1, 2));
            one.height = 400;
            one.may_turn = between(0, 9) == 0;
            one
        });
        Problem { pieces: pieces.collect(), kinds: vec![kind], ..Problem::default() }
    }

    /// Every set of places on the grid that the checker passes.
    pub(crate) fn all_places(
        problem: &Problem,
        placed: &mut Vec<Placed>,
        see: &mut dyn FnMut(&[Placed]),
    ) {
        let kind = &problem.kinds[0];
        let number = placed.len();
        let Some(one) = problem.pieces.get(number) else {
            if holds(problem, &Loaded { kind: 0, places: placed.clone() }) {
                see(placed);
            }
            return;
        };
        let sides = |place: &Placed| {
            let own = &problem.pieces[place.piece];
            if place.turned { (own.width, own.length) } else { (own.length, own.width) }
        };
        for turned in [false, true].into_iter().take(1 + usize::from(one.may_turn)) {
            let (along, across) =
                if turned { (one.width, one.length) } else { (one.length, one.width) };
            for x in (0..=(kind.length - along) / CELL).map(|cell| CELL * cell) {
                for y in (0..=(kind.width - across) / CELL).map(|cell| CELL * cell) {
                    let apart = placed.iter().all(|other| {
                        let (long, wide) = sides(other);
                        other.x + long <= x
                            || x + along <= other.x
                            || other.y + wide <= y
                            || y + across <= other.y
                    });
                    if apart {
                        placed.push(Placed { piece: number, x, y, turned });
                        all_places(problem, placed, see);
                        placed.pop();
                    }
                }
            }
        }
    }

    #[test]
    fn no_places_on_a_coarse_floor_are_better_than_those_called_least() {
        let drawn = std::env::var("QUAYSTONE_DRAWN").ok().and_then(|text| text.parse().ok());
        let mut dice = Dice::new(18);
        let mut least = 0;
        for _ in 0..drawn.unwrap_or(12) {
            let problem = draw(&mut dice);
            let mut first: Option<Vec<Placed>> = None;
            let mut best: Option<([i64; 6], Vec<Placed>)> = None;
            all_places(&problem, &mut Vec::new(), &mut |places| {
                first.get_or_insert_with(|| places.to_vec());
                let list =
                    Preference::of(&problem.kinds[0], RATING, &problem.pieces, places).list();
                if best.as_ref().is_none_or(|(best, _)| list < *best) {
                    best = Some((list, places.to_vec()));
                }
            });
            let (Some(places), Some((best, at))) = (first, best) else { continue };
            let arranged = arrange(&problem, &Loaded { kind: 0, places }, RATING, ENTRY).unwrap();
            let list =
                Preference::of(&problem.kinds[0], RATING, &problem.pieces, &arranged.places).list();
            least += usize::from(arranged.least);
            assert!(
                !arranged.least || list <= best,
                "{list:?} {:?}, and {best:?} {at:?} are better: {problem:?}",
                arranged.places
            );
        }
        assert!(least > 0);
    }
}
