//! No overlap by disjunctive pairs: any two bundles stand one behind the other, or one beside the
//! other; the search decides which, pair by pair, exactly. Pisinger and Sigurd, "Using
//! decomposition techniques and constraint programming for solving the two-dimensional bin-packing
//! problem" (INFORMS Journal on Computing 19, 2007), fill a bin by the same relations. The orders
//! along the box are gone through first ([`super::interval_orders`]), which leaves little to
//! decide, or nothing.
//!
//! The decisions so far leave each bundle a first and a last place along the box, and across it.
//! Three rules narrow that range: the order of a pair; the balance, with all others at their least
//! or most moment; and the compulsory parts, the stations that bundles cover wherever they stand,
//! which may be neither wider than the floor nor heavier than its line load. Where a layout within
//! the ranges still breaks a rule, some pair of the bundles concerned must part. The search
//! branches on the pair and the side. Every layout obeys this, so a search that runs dry proves
//! that there is none.

use super::attempt::{Attempt, Placement};
use super::balance;
use super::bits::{MOST, bit, bits};
use super::interval_orders::{Line, Walk, narrow, walk};
use crate::load::engine::model::deck::{Item, MomentWindow, Position, line_share};
use crate::load::engine::model::effort::Purse;

/// As many pieces may be either way round.
const TURNS: usize = 6;
/// Steps of a walk through the classes of orders along the box, and the work of one.
const WALK: u32 = 400_000;
const STEP: usize = 100;
/// Nodes for one class, and classes that may be left undecided.
const CLASS: u32 = 60;
const DOUBTS: u32 = 3;
/// Rounds of narrowing at one node. Bundles of some millimetres on a floor of 100 m close in on each other
/// by millimetres, and would take as many rounds.
const ROUNDS: u32 = 200;
/// The direction along the box, and the one across it.
const SIDES: [usize; 2] = [0, 1];

/// One direction of the floor.
struct Side {
    extent: i64,
    sizes: Vec<i64>,
    /// Least and most sum of mass times start.
    window: (i64, i64),
    /// Whether a layout turned end for end is as good.
    mirrors: bool,
}

/// What a station of one direction bears of the bundles that cover it.
struct Load {
    side: usize,
    capacity: i64,
    shares: Vec<i64>,
}

/// One pair parted: on this side the first stands wholly before the second.
type Parting = (usize, usize, usize);

/// The four ways in which two part.
fn partings(one: usize, two: usize) -> [Parting; 4] {
    [(0, one, two), (0, two, one), (1, one, two), (1, two, one)]
}

/// The decisions, and the places that they leave. Sets of bundles are bits.
#[derive(Clone)]
struct State {
    first: [Vec<i64>; 2],
    last: [Vec<i64>; 2],
    /// By bundle: those wholly behind it.
    after: [Vec<u32>; 2],
    /// By bundle: those known not to be wholly behind it.
    never: [Vec<u32>; 2],
}

/// How the narrowing of places ended, where each bundle is left with some.
enum Settled {
    /// Nothing moves any more.
    Still,
    /// The rounds ran out: nothing is known of this node.
    Restless,
}

struct Search<'a, 'b> {
    attempt: &'a mut Attempt<'b>,
    turned: Vec<bool>,
    masses: Vec<i64>,
    sides: [Side; 2],
    loads: Vec<Load>,
    /// By side and bundle: those that it must part from on that side, whatever their places
    /// otherwise.
    must: [Vec<u32>; 2],
    /// By bundle: its equals that come before it.
    twins: Vec<u32>,
    nodes: u32,
    doubt: bool,
    found: Option<Vec<Position>>,
}

/// Searches the orders of all pairs, for each way the bundles may be turned, within so many
/// nodes.
pub(crate) fn search(attempt: &mut Attempt<'_>, nodes: u32, work: &mut Purse) -> Placement {
    let items = attempt.items;
    let free: Vec<usize> = (0..items.len())
        .filter(|&i| items[i].may_turn && items[i].length != items[i].width)
        .collect();
    if items.len() > MOST || free.len() > TURNS {
        return Placement::Unknown;
    }
    let (mut doubt, mut nodes) = (false, nodes);
    for way in 0..1_u32 << free.len() {
        let mut turned = vec![false; items.len()];
        for (bit, &index) in free.iter().enumerate() {
            turned[index] = way >> bit & 1 == 1;
        }
        // Of equal bundles the earlier are turned first.
        let again = free
            .windows(2)
            .any(|pair| items[pair[0]] == items[pair[1]] && !turned[pair[0]] && turned[pair[1]]);
        let deck = attempt.deck;
        let stand = items.iter().zip(&turned).all(|(item, &turned)| {
            let (length, width) = item.extents(turned);
            length <= deck.length && width <= deck.width
        });
        if again || !stand {
            continue;
        }
        let Some(mut search) = Search::new(attempt, turned, nodes) else {
            return Placement::Unknown;
        };
        if !search.by_orders(work) {
            let state = search.start();
            search.decide(state, work);
        }
        if let Some(spots) = search.found {
            return Placement::Places(spots);
        }
        doubt |= search.doubt;
        nodes = search.nodes;
    }
    if doubt { Placement::Unknown } else { Placement::Never }
}

impl<'a, 'b> Search<'a, 'b> {
    /// `None` where figures are too large for the narrow sums.
    fn new(attempt: &'a mut Attempt<'b>, turned: Vec<bool>, nodes: u32) -> Option<Self> {
        let (deck, items) = (attempt.deck, attempt.items);
        let extents: Vec<(i64, i64)> =
            items.iter().zip(&turned).map(|(item, &turned)| item.extents(turned)).collect();
        let masses: Vec<i64> = items.iter().map(|item| item.mass).collect();
        let mass: i64 = masses.iter().sum();
        let reach = deck.length + deck.width + 2 * (deck.gap_end + deck.gap_side);
        mass.checked_mul(8 * reach)?;
        let lengths: Vec<i64> = extents.iter().map(|&(length, _)| length).collect();
        let widths: Vec<i64> = extents.iter().map(|&(_, width)| width).collect();
        let windows = deck.windows(mass);
        let sides = [
            Side::new(deck.length, deck.gap_end, lengths.clone(), &masses, windows.0),
            Side::new(deck.width, deck.gap_side, widths.clone(), &masses, windows.1),
        ];
        let mut loads = vec![
            Load { side: 0, capacity: deck.width, shares: widths },
            Load { side: 1, capacity: deck.length, shares: lengths.clone() },
        ];
        if let Some(capacity) = deck.line {
            // Shares are rounded up and the limit down, each by less than one: only what
            // exceeds it even so proves anything.
            let share = |(item, &length): (&Item, &i64)| line_share(item.mass, length) - 1;
            let shares = items.iter().zip(&lengths).map(share).collect();
            loads.push(Load { side: 0, capacity, shares });
        }
        let must = SIDES.map(|side| {
            let apart = |one: usize, two: usize| {
                let mut loads = loads.iter().filter(|load| load.side == side);
                one != two && loads.any(|load| load.shares[one] + load.shares[two] > load.capacity)
            };
            let of = |one| (0..items.len()).filter(|&two| apart(one, two)).map(bit).sum();
            (0..items.len()).map(of).collect()
        });
        let equal = |one: usize, two: usize| {
            masses[one] == masses[two]
                && sides.iter().all(|side| side.sizes[one] == side.sizes[two])
        };
        let twins = (0..items.len())
            .map(|two| (0..two).filter(|&one| equal(one, two)).map(bit).sum())
            .collect();
        let (doubt, found) = (false, None);
        Some(Search { attempt, turned, masses, sides, loads, must, twins, nodes, doubt, found })
    }

    /// Nothing decided but that of equal bundles the earlier does not stand behind the later.
    fn start(&self) -> State {
        let mut state = self.free();
        state.never[0].clone_from(&self.twins);
        state
    }

    /// Nothing decided.
    fn free(&self) -> State {
        let count = self.masses.len();
        let none = || [vec![0; count], vec![0; count]];
        let last = SIDES.map(|side| {
            let own = &self.sides[side];
            own.sizes.iter().map(|size| own.extent - size).collect()
        });
        State { first: SIDES.map(|_| vec![0; count]), last, after: none(), never: none() }
    }

    /// Searches the classes of orders along the box, each pair by pair; whether that settles it.
    /// A class is searched whole, so one that runs dry holds no layout.
    fn by_orders(&mut self, work: &mut Purse) -> bool {
        let (along, nodes) = (&self.sides[0], self.nodes);
        let loads = self.loads.iter().filter(|load| load.side == 0);
        let line = Line {
            extent: along.extent,
            lengths: along.sizes.clone(),
            masses: self.masses.clone(),
            window: along.window,
            mirrors: along.mirrors,
            twins: self.twins.clone(),
            loads: loads.map(|load| narrow(load.capacity, &load.shares)).collect(),
        };
        let (mut steps, mut doubts) = (WALK, 0);
        let walked = walk(&line, &mut steps, &mut |stages| {
            let mut state = self.free();
            let mut over = 0;
            for stage in stages {
                for (one, two) in
                    bits(over).flat_map(|one| bits(stage.born).map(move |two| (one, two)))
                {
                    state.part((0, one, two));
                }
                over |= stage.over;
            }
            (self.nodes, self.doubt) = (CLASS, false);
            self.decide(state, work);
            doubts += u32::from(self.doubt);
            if self.found.is_some() || doubts == DOUBTS { Walk::Stopped } else { Walk::Whole }
        });
        work.spend(usize::try_from(WALK - steps).unwrap_or(0) * STEP);
        // Where the classes are too many the pairs are as well.
        let left = if steps == 0 { nodes / 10 } else { nodes };
        (self.nodes, self.doubt) = (left, false);
        self.found.is_some() || (walked == Walk::Whole && doubts == 0)
    }

    fn decide(&mut self, state: State, work: &mut Purse) {
        if self.nodes == 0 {
            self.doubt = true;
            return;
        }
        self.nodes -= 1;
        let mut state = state;
        match self.settle(&mut state, work) {
            Some(Settled::Still) => {}
            Some(Settled::Restless) => {
                self.doubt = true;
                return;
            }
            None => return,
        }
        let starts = SIDES.map(|side| self.balanced(&state, side));
        let Some(partings) = self.conflict(&state, &starts) else {
            self.stand(&starts);
            return;
        };
        for (side, one, two) in partings {
            if state.never[side][one] & bit(two) > 0 {
                continue;
            }
            let mut next = state.clone();
            next.part((side, one, two));
            // Where nothing is decided on a side yet, its mirror image would only come again.
            let mirrored = self.sides[side].mirrors && state.untouched(side);
            self.decide(next, work);
            if self.found.is_some() {
                return;
            }
            // The branches after this one need not find what it would have found.
            state.never[side][one] |= bit(two);
            if mirrored {
                state.never[side][two] |= bit(one);
            }
        }
    }

    /// Closes first and last places in on each other until nothing moves; `None` when some
    /// bundle is left without any.
    fn settle(&self, state: &mut State, work: &mut Purse) -> Option<Settled> {
        let count = self.masses.len();
        for _ in 0..ROUNDS {
            work.spend(75 * count * count);
            let mut moved = false;
            for side in SIDES {
                moved |= self.order(state, side)?;
                moved |= self.weigh(state, side)?;
            }
            for load in &self.loads {
                moved |= self.cover(state, load)?;
            }
            moved |= self.options(state)?;
            if !moved {
                return Some(Settled::Still);
            }
        }
        Some(Settled::Restless)
    }

    /// By the orders decided and excluded.
    fn order(&self, state: &mut State, side: usize) -> Option<bool> {
        let sizes = &self.sides[side].sizes;
        let (first, last) = (&mut state.first[side], &mut state.last[side]);
        let mut moved = false;
        for one in 0..sizes.len() {
            for two in bits(state.after[side][one]) {
                let (start, stop) = (first[one] + sizes[one], last[two] - sizes[one]);
                moved |= raise(&mut first[two], start) | lower(&mut last[one], stop);
            }
            for two in bits(state.never[side][one]) {
                let (start, stop) = (first[two] - sizes[one] + 1, last[one] + sizes[one] - 1);
                moved |= raise(&mut first[one], start) | lower(&mut last[two], stop);
            }
        }
        first.iter().zip(last.iter()).all(|(first, last)| first <= last).then_some(moved)
    }

    /// By the balance: with all others at their least moment a bundle gets only so far.
    fn weigh(&self, state: &mut State, side: usize) -> Option<bool> {
        let (low, high) = self.sides[side].window;
        let least = high - moment(&self.masses, &state.first[side]);
        let most = moment(&self.masses, &state.last[side]) - low;
        if least < 0 || most < 0 || low > high {
            return None;
        }
        let mut moved = false;
        for (index, &mass) in self.masses.iter().enumerate() {
            let (first, last) = (&mut state.first[side][index], &mut state.last[side][index]);
            if mass > 0 && (*last - *first).saturating_mul(mass) > least.min(most) {
                let (nearest, farthest) = (*last - most / mass, *first + least / mass);
                moved |= raise(first, nearest);
                moved |= lower(last, farthest);
                if first > last {
                    return None;
                }
            }
        }
        Some(moved)
    }

    /// By the compulsory parts: the stations that a bundle covers at every place of its range.
    fn cover(&self, state: &mut State, load: &Load) -> Option<bool> {
        let (side, sizes) = (load.side, &self.sides[load.side].sizes);
        let mut moved = false;
        for at in 0..sizes.len() {
            let (from, mut to) = (state.last[side][at], state.first[side][at] + sizes[at]);
            if from >= to {
                continue;
            }
            let (mut sum, mut standing) = (0, 0_u32);
            for (other, &size) in sizes.iter().enumerate() {
                let end = state.first[side][other] + size;
                if state.last[side][other] <= from && from < end {
                    sum += load.shares[other];
                    standing |= bit(other);
                    to = to.min(end);
                }
            }
            if sum > load.capacity {
                return None;
            }
            for (other, &size) in sizes.iter().enumerate() {
                if standing & bit(other) > 0 || sum + load.shares[other] <= load.capacity {
                    continue;
                }
                let (first, last) = (&mut state.first[side][other], &mut state.last[side][other]);
                if *first + size > from && *first < to {
                    moved |= raise(first, to);
                }
                if *last + size > from && *last < to {
                    moved |= lower(last, from - size);
                }
                if first > last {
                    return None;
                }
            }
        }
        Some(moved)
    }

    /// By pairs: a pair that can part in one way only parts so.
    fn options(&self, state: &mut State) -> Option<bool> {
        let mut moved = false;
        for two in 1..self.masses.len() {
            for one in 0..two {
                let Some(ways) = self.ways(state, one, two) else { continue };
                if ways == 0 {
                    return None;
                }
                if ways.is_power_of_two() {
                    let listed = partings(one, two);
                    state.part(listed[usize::try_from(ways.trailing_zeros()).unwrap_or(0)]);
                    moved = true;
                }
            }
        }
        Some(moved)
    }

    /// The ways in which the pair may still part, a bit for each of [`partings`]; `None` where the
    /// decisions part it already on every side where it must.
    fn ways(&self, state: &State, one: usize, two: usize) -> Option<u8> {
        let on =
            |side: usize| (state.after[side][one] >> two | state.after[side][two] >> one) & 1 == 1;
        let must = |side: usize| self.must[side][one] >> two & 1 == 1;
        let sides = match (must(0) && !on(0), must(1) && !on(1)) {
            (true, _) => 0b0011,
            (false, true) => 0b1100,
            (false, false) if on(0) || on(1) => return None,
            (false, false) => 0b1111,
        };
        let mut ways = 0;
        for (way, parting) in partings(one, two).into_iter().enumerate() {
            if sides >> way & 1 == 1 && self.may_part(state, parting) {
                ways |= 1 << way;
            }
        }
        Some(ways)
    }

    fn may_part(&self, state: &State, (side, before, behind): Parting) -> bool {
        state.never[side][before] & bit(behind) == 0
            && state.after[side][behind] & bit(before) == 0
            && state.first[side][before] + self.sides[side].sizes[before]
                <= state.last[side][behind]
    }

    /// Starts between the first and the last, with the moment as near to the middle of its window
    /// as these allow.
    fn balanced(&self, state: &State, side: usize) -> Vec<i64> {
        let (first, last) = (&state.first[side], &state.last[side]);
        let (low, high) = (moment(&self.masses, first), moment(&self.masses, last));
        let (least, most) = self.sides[side].window;
        let aim = least.max(low).midpoint(most.min(high));
        let (part, whole) = (i128::from(aim - low), i128::from(high - low));
        balance::between(first, last, part, whole)
    }

    /// The station that bears too much at these starts, or the pair that overlaps, with the fewest
    /// ways out; `None` if there is neither.
    fn conflict(&self, state: &State, starts: &[Vec<i64>; 2]) -> Option<Vec<Parting>> {
        let count = self.masses.len();
        let mut fewest: Option<Vec<Parting>> = None;
        let covers = |side: usize, index: usize, station: i64| {
            let start = starts[side][index];
            start <= station && station < start + self.sides[side].sizes[index]
        };
        for two in 1..count {
            for one in 0..two {
                let near = |side: usize| {
                    covers(side, one, starts[side][two]) || covers(side, two, starts[side][one])
                };
                if near(0) && near(1) {
                    let ways = self.ways(state, one, two).unwrap_or(0);
                    let open = usize::try_from(ways.count_ones()).unwrap_or(4);
                    if fewest.as_ref().is_none_or(|old| open < old.len()) {
                        let listed = partings(one, two).into_iter().enumerate();
                        let open = listed.filter(|(way, _)| ways >> way & 1 == 1);
                        fewest = Some(open.map(|(_, parting)| parting).collect());
                    }
                }
            }
        }
        for load in &self.loads {
            for &station in &starts[load.side] {
                let mut crowd: Vec<usize> =
                    (0..count).filter(|&index| covers(load.side, index, station)).collect();
                let mut sum: i64 = crowd.iter().map(|&index| load.shares[index]).sum();
                if sum <= load.capacity {
                    continue;
                }
                // The fewest bundles that still weigh too much together: some pair of them must
                // part.
                crowd.sort_by_key(|&index| load.shares[index]);
                let mut spare = crowd.clone();
                spare.retain(|&index| {
                    let kept = sum - load.shares[index] <= load.capacity;
                    sum -= if kept { 0 } else { load.shares[index] };
                    kept
                });
                let pairs = spare.iter().flat_map(|&one| {
                    spare.iter().filter(move |&&two| two != one).map(move |&two| (one, two))
                });
                let ways = pairs.map(|(one, two)| (load.side, one, two));
                let ways: Vec<Parting> = ways.filter(|&way| self.may_part(state, way)).collect();
                if fewest.as_ref().is_none_or(|old| ways.len() < old.len()) {
                    fewest = Some(ways);
                }
            }
        }
        // Those with the most room first.
        if let Some(ways) = &mut fewest {
            ways.sort_by_key(|&(side, one, two)| {
                let sizes = &self.sides[side].sizes;
                let room = state.last[side][two] - state.first[side][one] - sizes[one];
                -room * 1000 / self.sides[side].extent
            });
        }
        fewest
    }

    /// Keeps the layout if it holds to the last unit.
    fn stand(&mut self, starts: &[Vec<i64>; 2]) {
        let (deck, items) = (self.attempt.deck, self.attempt.items);
        let spots: Vec<Position> = (0..items.len())
            .map(|i| Position { x: starts[0][i], y: starts[1][i], turned: self.turned[i] })
            .collect();
        let holds = deck.balanced(items, &spots) && deck.bears(items, &spots);
        let held = if holds { Some(spots) } else { balance::settle(deck, items, &spots) };
        self.found = held.and_then(|spots| self.attempt.entered(spots));
        self.doubt |= self.found.is_none();
    }
}

impl Side {
    fn new(extent: i64, gap: i64, sizes: Vec<i64>, masses: &[i64], window: MomentWindow) -> Self {
        // Twice the moment is the sum of mass times twice the start, gap and half size.
        let fixed: i64 =
            sizes.iter().zip(masses).map(|(&size, &mass)| mass * (2 * gap + size)).sum();
        let most: i64 = sizes.iter().zip(masses).map(|(&size, &mass)| mass * (extent - size)).sum();
        let narrow = |value: i128| {
            let value = value.clamp(-4 * i128::from(most) - 1, 4 * i128::from(most) + 1);
            i64::try_from(value).unwrap_or(0)
        };
        let low = window.low.map_or(0, |low| {
            narrow(
                (low - i128::from(fixed)).div_euclid(2) + (low - i128::from(fixed)).rem_euclid(2),
            )
        });
        let high =
            window.high.map_or(most, |high| narrow((high - i128::from(fixed)).div_euclid(2)));
        Side { extent, sizes, mirrors: low + high == most, window: (low, high) }
    }
}

impl State {
    /// Decides a pair, and what follows from it and earlier decisions.
    fn part(&mut self, (side, one, two): Parting) {
        let behind = self.after[side][two] | bit(two);
        for index in 0..self.after[side].len() {
            if index == one || self.after[side][index] & bit(one) > 0 {
                self.after[side][index] |= behind;
            }
        }
    }

    fn untouched(&self, side: usize) -> bool {
        self.after[side].iter().chain(&self.never[side]).all(|&set| set == 0)
    }
}

fn moment(masses: &[i64], starts: &[i64]) -> i64 {
    masses.iter().zip(starts).map(|(mass, start)| mass * start).sum()
}

fn raise(value: &mut i64, to: i64) -> bool {
    let moved = to > *value;
    *value = to.max(*value);
    moved
}

fn lower(value: &mut i64, to: i64) -> bool {
    let moved = to < *value;
    *value = to.min(*value);
    moved
}
