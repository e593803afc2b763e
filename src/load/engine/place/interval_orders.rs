//! Interval orders: which bundles stand wholly before which along the box.
//!
//! Bundles are intervals along the box, and "wholly before" is an interval order. Fekete and
//! Schepers, "A combinatorial characterization of higher-dimensional orthogonal packing" (2004),
//! search classes of packings by their interval graphs; here the maximal sets abreast are listed in
//! their order, which is the same knowledge.
//!
//! Walk along the box and note which bundles stand abreast. Each bundle comes in once and drops out
//! once. A layout is therefore a row of stages: at each stage some bundles are over, and others
//! begin wholly behind them. Along the box nothing else matters, as long as each stage bears the
//! bundles abreast in it. A row of stages is a class of layouts.
//!
//! The search skips a class that a wider one contains: a newcomer would have had room a stage
//! before, or a bundle that dropped out would have had room a stage longer. Few classes remain for
//! the bundles of one box. Pushed to the front, a class has its least moment; pushed to the rear,
//! its greatest; every moment between is possible. A class is dropped as soon as its first stages
//! show that the balance excludes its moments.
//!
//! A fluid relaxation bounds the moment of the bundles still to come. A bundle's mass spreads over
//! its length, and no station bears more than its limit. So no layout has its mass nearer to the
//! front than a liquid of that mass, poured in from the first free station up to the limit.

use num_integer::Integer;

use super::bits::{MOST, bit, bits};

/// One direction of the floor and what its stations bear.
pub(crate) struct Line {
    pub(crate) extent: i64,
    pub(crate) lengths: Vec<i64>,
    pub(crate) masses: Vec<i64>,
    /// Least and most sum of mass times start.
    pub(crate) window: (i64, i64),
    /// Whether a layout turned end for end is as good.
    pub(crate) mirrors: bool,
    /// By bundle: its equals that come before it.
    pub(crate) twins: Vec<u32>,
    pub(crate) loads: Vec<Load>,
}

/// What a station bears, and each bundle's share of it.
pub(crate) type Load = (i64, Vec<i64>);

/// The most that a station bears in figures whose sums over a floor stay narrow.
const NARROW: i64 = 1 << 38;

/// A load in narrow figures: a set within the limit stays within it when all figures are rounded
/// down to the same places.
pub(crate) fn narrow(capacity: i64, shares: &[i64]) -> Load {
    let (mut capacity, mut shares) = (capacity, shares.to_vec());
    while capacity > NARROW {
        capacity /= 2;
        for share in &mut shares {
            *share /= 2;
        }
    }
    // One more than all is as bad as any, and what weighs nothing weighs no less.
    for share in &mut shares {
        *share = (*share).clamp(0, capacity + 1);
    }
    (capacity, shares)
}

/// A stage of a class: the bundles that begin behind all that are over, and those that are over
/// after it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stage {
    pub(crate) born: u32,
    pub(crate) over: u32,
    /// The first station where the born may start.
    at: i64,
}

/// What a search of the classes came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Walk {
    /// All classes were seen.
    Whole,
    /// The visitor has enough, or the nodes ran out.
    Stopped,
}

/// The walk at one stage: the bundles that stay, are over or are still to begin, and the first
/// place of each.
struct Change {
    stay: u32,
    over: u32,
    rest: u32,
    at: i64,
}

type Visit<'a> = &'a mut dyn FnMut(&[Stage]) -> Walk;

struct Walker<'a> {
    line: &'a Line,
    /// By bundle: the first station where it may start.
    first: Vec<i64>,
    stages: Vec<Stage>,
    /// The bundle that stands in the front half of the box, one way round or the other.
    fore: Option<(usize, i64)>,
    /// By load: mass for a share on a length, the least of any bundle, as a fraction.
    thinnest: Vec<(i128, i128)>,
    /// Of twice the moments of the middles.
    window: (i64, i64),
    nodes: u32,
}

/// Shows every class within the window to `visit`, until that says to stop.
pub(crate) fn walk(line: &Line, nodes: &mut u32, visit: Visit<'_>) -> Walk {
    let count = line.lengths.len();
    let lone = |&index: &usize| {
        line.twins[index] == 0 && line.twins.iter().all(|twins| twins & bit(index) == 0)
    };
    let fore = (0..count)
        .filter(lone)
        .filter(|_| line.mirrors)
        .max_by_key(|&index| (line.masses[index], index))
        .map(|index| (index, (line.extent - line.lengths[index]) / 2));
    let thinnest = line.loads.iter().map(|(_, shares)| {
        let fractions = (0..count).map(|index| {
            let energy = i128::from(line.lengths[index]) * i128::from(shares[index].max(1));
            (i128::from(line.masses[index]), energy)
        });
        fractions.min_by(|one, two| (one.0 * two.1).cmp(&(two.0 * one.1))).unwrap_or((0, 1))
    });
    let halves: i64 = (0..count).map(|index| line.masses[index] * line.lengths[index]).sum();
    let twice = |moment: i64| 2 * moment + halves;
    let mut walker = Walker {
        line,
        first: vec![0; count],
        stages: Vec::new(),
        fore,
        thinnest: thinnest.collect(),
        window: (twice(line.window.0), twice(line.window.1)),
        nodes: *nodes,
    };
    let all = (0..count).map(bit).sum();
    let change = Change { stay: 0, over: 0, rest: all, at: 0 };
    let walk = walker.begin(&change, 0, all, visit);
    *nodes = walker.nodes;
    walk
}

impl Walker<'_> {
    /// Goes on from a stage: some of those abreast are over, and others begin.
    fn go_on(&mut self, abreast: u32, rest: u32, visit: Visit<'_>) -> Walk {
        if rest == 0 {
            return visit(&self.stages);
        }
        // Newcomers that find no room yet: the others would have begun before.
        let late = bits(rest).filter(|&index| !self.bears(abreast | bit(index))).map(bit).sum();
        if late == 0 {
            return Walk::Whole;
        }
        let Some(&Stage { at, .. }) = self.stages.last() else { return Walk::Whole };
        let mut over = 0_u32;
        loop {
            // The next subset of those abreast.
            over = over.wrapping_sub(abreast) & abreast;
            if over == 0 {
                return Walk::Whole;
            }
            if self.nodes == 0 {
                return Walk::Stopped;
            }
            self.nodes -= 1;
            if !self.in_turn(over, abreast) {
                continue;
            }
            let at = bits(over).map(|index| self.end(index)).fold(at, i64::max);
            if let Some(stage) = self.stages.last_mut() {
                stage.over = over;
            }
            if self.hopeless(abreast & !over, rest, at) {
                continue;
            }
            let change = Change { stay: abreast & !over, over, rest, at };
            let walk = self.begin(&change, 0, late, visit);
            if walk == Walk::Stopped {
                return walk;
            }
        }
    }

    /// Begins a stage with each set of newcomers, `born` and some of `open`, that has room beside
    /// the bundles that stay and leaves no room for those that are over.
    fn begin(&mut self, change: &Change, born: u32, open: u32, visit: Visit<'_>) -> Walk {
        let (rest, abreast) = (change.rest & !born, change.stay | born);
        if born > 0 && !bits(change.over).any(|index| self.bears(abreast | bit(index))) {
            self.stages.push(Stage { born, over: 0, at: change.at });
            let lost = rest == 0 && self.hopeless(abreast, 0, change.at);
            let walk = if lost { Walk::Whole } else { self.go_on(abreast, rest, visit) };
            self.stages.pop();
            if walk == Walk::Stopped {
                return walk;
            }
        }
        let mut open = open;
        while let Some(index) = bits(open).next() {
            open &= !bit(index);
            // Of equal bundles the earlier begins first.
            if self.line.twins[index] & rest > 0 || !self.bears(abreast | bit(index)) {
                continue;
            }
            if self.nodes == 0 {
                return Walk::Stopped;
            }
            self.nodes -= 1;
            self.first[index] = change.at;
            let walk = self.begin(change, born | bit(index), open, visit);
            if walk == Walk::Stopped {
                return walk;
            }
        }
        Walk::Whole
    }

    fn end(&self, index: usize) -> i64 {
        self.first[index] + self.line.lengths[index]
    }

    /// Whether a station bears all of the set.
    fn bears(&self, set: u32) -> bool {
        let loads = &mut self.line.loads.iter();
        loads.all(|(capacity, shares)| {
            bits(set).map(|index| shares[index]).sum::<i64>() <= *capacity
        })
    }

    /// Whether of equal bundles that began together the earlier is over first.
    fn in_turn(&self, over: u32, abreast: u32) -> bool {
        let born = |index: usize| self.stages.iter().position(|stage| stage.born & bit(index) > 0);
        bits(over).all(|two| {
            bits(self.line.twins[two] & abreast & !over).all(|one| born(one) != born(two))
        })
    }

    /// Whether the rest finds no place from that station on, beside those that stay, or none that
    /// keeps the balance.
    fn hopeless(&self, stay: u32, rest: u32, at: i64) -> bool {
        let line = self.line;
        let longest = bits(rest).map(|index| line.lengths[index]).max().unwrap_or(0);
        if at + longest > line.extent
            || self.fore.is_some_and(|(index, half)| rest & bit(index) > 0 && at > half)
        {
            return true;
        }
        // The last station at which all of the rest may begin.
        let mut latest = line.extent - longest;
        let room = line.extent - at;
        let shortest = bits(rest).map(|index| line.lengths[index]).min().unwrap_or(0);
        for (capacity, shares) in &line.loads {
            let (mut coming, mut plain, mut counted, mut halves) = (0, 0, 0, 0);
            let mut add = |length: i64, share: i64| {
                plain += length * share;
                let whole = if length > room - shortest { room } else { length };
                counted += if length < shortest { 0 } else { whole } * share;
                halves += (3 * length - 1) / room * share;
            };
            for index in bits(rest) {
                coming += line.lengths[index] * shares[index];
                add(line.lengths[index], shares[index]);
            }
            for index in bits(stay) {
                add((self.end(index) - at).clamp(0, room), shares[index]);
            }
            if plain.max(counted) > capacity * room || halves > 2 * capacity {
                return true;
            }
            latest = latest.min(line.extent - Integer::div_ceil(&coming, capacity.max(&1)));
        }
        self.least(stay, rest, at) > self.window.1 || self.most(stay, rest, latest) < self.window.0
    }

    /// No class that goes on from here has less of twice the moment.
    fn least(&self, stay: u32, rest: u32, at: i64) -> i64 {
        let line = self.line;
        let mut standing = 0;
        let mut each = 0;
        for (index, (mass, length)) in line.masses.iter().zip(&line.lengths).enumerate() {
            if rest & bit(index) > 0 {
                each += mass * (2 * at + length);
            } else {
                standing += mass * (self.first[index] + self.end(index));
            }
        }
        let poured = line.loads.iter().zip(&self.thinnest).map(|(load, thin)| {
            let poured = self.poured(load, stay, rest, at) * thin.0 / thin.1;
            i64::try_from(poured).unwrap_or(i64::MAX)
        });
        standing + poured.fold(each, i64::max)
    }

    /// Twice the moment of the rest's shares, poured in from `at` on beside the bundles that stay.
    /// These stand as far in front as they can: farther behind, their own moment grows by more than
    /// the rest could gain from the room.
    fn poured(&self, (capacity, shares): &Load, stay: u32, rest: u32, at: i64) -> i128 {
        let mut left: i64 = bits(rest).map(|index| self.line.lengths[index] * shares[index]).sum();
        let mut standing = bits(stay).filter(|&index| self.end(index) > at).map(bit).sum::<u32>();
        let (mut from, mut poured) = (at, 0);
        while left > 0 {
            let room = capacity - bits(standing).map(|index| shares[index]).sum::<i64>();
            let next = bits(standing).map(|index| self.end(index)).min();
            let taken = next.map_or(left, |to| left.min(room * (to - from)));
            poured += i128::from(taken) * i128::from(2 * from + taken / room.max(1));
            left -= taken;
            let Some(to) = next else { break };
            from = to;
            standing = bits(standing).filter(|&index| self.end(index) > to).map(bit).sum();
        }
        poured
    }

    /// No class that goes on from here has more of twice the moment; all of the rest begin before
    /// `latest` or there.
    fn most(&self, stay: u32, rest: u32, latest: i64) -> i64 {
        let line = self.line;
        let mut starts = [0; MOST];
        let before = |index: usize, end: i64| {
            let start = end - line.lengths[index];
            self.fore.filter(|(fore, _)| *fore == index).map_or(start, |(_, half)| start.min(half))
        };
        for index in bits(stay | rest) {
            starts[index] = before(index, line.extent);
        }
        let mut end = latest;
        for stage in self.stages.iter().rev() {
            for index in bits(stage.over) {
                starts[index] = before(index, end);
            }
            end = bits(stage.born).map(|index| starts[index]).fold(end, i64::min);
        }
        let twice = starts.iter().zip(&line.lengths).map(|(start, length)| 2 * start + length);
        twice.zip(&line.masses).map(|(twice, mass)| twice * mass).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::engine::model::effort::Dice;

    /// A floor of 7 with two to six bundles, some alike, some with a second load.
    fn small(dice: &mut Dice) -> Line {
        let count = 2 + dice.below(5);
        let mut side = |most: usize| i64::try_from(1 + dice.below(most)).unwrap();
        let lengths: Vec<i64> = (0..count).map(|_| side(5)).collect();
        let mut masses: Vec<i64> = (0..count).map(|_| side(4)).collect();
        let mut loads = vec![(3 + side(3), (0..count).map(|_| side(3)).collect::<Vec<i64>>())];
        if side(2) == 1 {
            // A line load: what all of it bears is the mass.
            let mass = |(length, share): (&i64, &i64)| length * share;
            masses = lengths.iter().zip(&loads[0].1).map(mass).collect();
            loads.push((4 + side(4), (0..count).map(|_| side(4)).collect()));
        }
        let least: i64 = 0;
        let most: i64 = masses.iter().zip(&lengths).map(|(mass, length)| mass * (7 - length)).sum();
        let mirrors = side(2) == 1;
        let low = (most * side(9) / 10).clamp(least, most);
        let high = if mirrors { most - low } else { low + side(3) };
        let alike = |one: usize, two: usize| {
            let same = loads.iter().all(|(_, shares)| shares[one] == shares[two]);
            same && masses[one] == masses[two] && lengths[one] == lengths[two]
        };
        let twins =
            (0..count).map(|two| (0..two).filter(|&one| alike(one, two)).map(bit).sum()).collect();
        Line { extent: 7, lengths, masses, window: (low, high), mirrors, twins, loads }
    }

    fn holds(line: &Line, starts: &[i64]) -> bool {
        starts.iter().all(|&station| {
            let covers = |&index: &usize| {
                starts[index] <= station && station < starts[index] + line.lengths[index]
            };
            line.loads.iter().all(|(capacity, shares)| {
                (0..starts.len()).filter(covers).map(|index| shares[index]).sum::<i64>()
                    <= *capacity
            })
        })
    }

    /// Every row of starts that the stations bear and the window allows.
    fn layouts(line: &Line, starts: &mut Vec<i64>, all: &mut Vec<Vec<i64>>) {
        if !holds(line, starts) {
            return;
        }
        let Some(&length) = line.lengths.get(starts.len()) else {
            let moment = line.masses.iter().zip(&*starts).map(|(mass, start)| mass * start).sum();
            if (line.window.0..=line.window.1).contains(&moment) {
                all.push(starts.clone());
            }
            return;
        };
        for start in 0..=line.extent - length {
            starts.push(start);
            layouts(line, starts, all);
            starts.pop();
        }
    }

    /// Whether the layout keeps the orders of the class.
    fn obeys(line: &Line, starts: &[i64], class: &[(u32, u32)]) -> bool {
        let mut over = 0;
        class.iter().all(|&(born, then_over)| {
            let behind =
                |one: usize| bits(born).all(|two| starts[one] + line.lengths[one] <= starts[two]);
            let kept = bits(over).all(behind);
            over |= then_over;
            kept
        })
    }

    #[test]
    fn every_layout_there_is_shows_in_some_class() {
        let mut dice = Dice::new(31);
        let (mut yes, mut no) = (0, 0);
        for _ in 0..4000 {
            let line = small(&mut dice);
            let mut all = Vec::new();
            layouts(&line, &mut Vec::new(), &mut all);
            let mut classes = Vec::new();
            let walked = walk(&line, &mut 1_000_000, &mut |stages| {
                classes
                    .push(stages.iter().map(|stage| (stage.born, stage.over)).collect::<Vec<_>>());
                Walk::Whole
            });
            assert_eq!(walked, Walk::Whole);
            // Turned end for end or with like bundles changed over they are all of some class, so
            // where there are any, one of them is of one.
            let shown = all.iter().any(|one| classes.iter().any(|class| obeys(&line, one, class)));
            assert_eq!(shown, !all.is_empty(), "{classes:?}");
            if line.twins.iter().all(|&twins| twins == 0) && !line.mirrors {
                for one in &all {
                    assert!(classes.iter().any(|class| obeys(&line, one, class)), "{one:?}");
                }
            }
            // What a class holds, pushed to the front, every station bears.
            for class in &classes {
                let mut starts = vec![0; line.lengths.len()];
                let (mut over, mut from) = (0, 0);
                for &(born, then_over) in class {
                    let ends = bits(over).map(|index| starts[index] + line.lengths[index]);
                    from = ends.fold(from, i64::max);
                    for index in bits(born) {
                        starts[index] = from;
                    }
                    over |= then_over;
                }
                assert!(holds(&line, &starts), "{class:?}");
            }
            yes += i32::from(!all.is_empty());
            no += i32::from(all.is_empty());
        }
        assert!(yes > 500 && no > 500, "{yes} {no}");
    }

    #[test]
    fn figures_made_narrow_refuse_nothing_that_holds() {
        let (capacity, shares) = narrow(5 * NARROW, &[2 * NARROW, 3 * NARROW, -1, i64::MAX]);
        assert!(capacity <= NARROW && shares[0] + shares[1] <= capacity);
        assert_eq!((shares[2], shares[3]), (0, capacity + 1));
    }
}
