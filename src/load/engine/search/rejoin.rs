//! Iterated local search (Lourenço, Martin and Stützle 2003, from memory) that makes torn groups whole: boxes of a
//! plan exchange up to two units for up to two others, as long as that tears less. Where no exchange does, a few
//! that cost nothing are made at random, and it begins again from there.
//!
//! The boxes stay what they are: whether others are worth a group is for the bounds and the other methods.

use super::bins::Bin;
use crate::load::engine::model::effort::{Dice, Purse};
use crate::load::engine::model::task::Task;
use crate::load::engine::place::oracle::Oracle;

/// An exchange: what tearing costs more by it, the two boxes, and what leaves each of them.
type Exchange = (i64, [usize; 2], [Vec<usize>; 2]);

/// Exchanges that the oracle is asked about before the boxes are shaken.
const ASKED: usize = 400;
/// Exchanges of a shake.
const SHAKES: usize = 4;

struct Search<'a> {
    task: &'a Task,
    oracle: &'a mut Oracle,
    bins: Vec<Bin>,
    /// By group: how many of its units each box has.
    units: Vec<Vec<usize>>,
}

/// The plan with fewer groups torn, or as it was.
pub(crate) fn rejoin(
    task: &Task,
    oracle: &mut Oracle,
    bins: Vec<Bin>,
    seed: u64,
    work: &mut Purse,
) -> Vec<Bin> {
    if task.groups.is_empty() || bins.len() < 2 {
        return bins;
    }
    let mut search = Search { task, oracle, units: Vec::new(), bins };
    search.count();
    let mut dice = Dice::new(seed);
    let mut best = (search.torn(), search.bins.clone());
    while best.0 > 0 && !work.dry() {
        while search.step(work) {}
        let torn = search.torn();
        if torn < best.0 {
            best = (torn, search.bins.clone());
        } else if torn > best.0 + search.dearest() {
            search.bins.clone_from(&best.1);
            search.count();
        }
        search.shake(&mut dice, work);
    }
    best.1
}

impl Search<'_> {
    fn count(&mut self) {
        self.units = vec![vec![0; self.bins.len()]; self.task.groups.len()];
        for (at, bin) in self.bins.iter().enumerate() {
            for &group in bin.units.iter().flat_map(|&unit| &self.task.units[unit].groups) {
                self.units[group][at] += 1;
            }
        }
    }

    fn dearest(&self) -> i64 {
        self.task.groups.iter().copied().max().unwrap_or(0)
    }

    /// The price of the groups that are torn, each box beyond its first.
    fn torn(&self) -> i64 {
        let torn = |(group, boxes): (usize, &Vec<usize>)| {
            let touched = boxes.iter().filter(|units| **units > 0).count().saturating_sub(1);
            self.task.groups[group] * i64::try_from(touched).unwrap_or(0)
        };
        self.units.iter().enumerate().map(torn).sum()
    }

    /// What tearing costs more where these units leave the first box, and those the second, for the other.
    fn change(&self, boxes: [usize; 2], out: [&[usize]; 2]) -> i64 {
        let mut groups: Vec<(usize, [usize; 2])> = Vec::with_capacity(4);
        for (side, units) in out.into_iter().enumerate() {
            for &group in units.iter().flat_map(|&unit| &self.task.units[unit].groups) {
                match groups.iter_mut().find(|known| known.0 == group) {
                    Some((_, gone)) => gone[side] += 1,
                    None => groups.push((group, if side == 0 { [1, 0] } else { [0, 1] })),
                }
            }
        }
        let touches = |units: usize| i64::from(units > 0);
        let change = |(group, gone): (usize, [usize; 2])| {
            let own = boxes.map(|at| self.units[group][at]);
            let after = [own[0] - gone[0] + gone[1], own[1] - gone[1] + gone[0]];
            let more =
                after.map(touches).iter().sum::<i64>() - own.map(touches).iter().sum::<i64>();
            more * self.task.groups[group]
        };
        groups.into_iter().map(change).sum()
    }

    /// Every exchange between two boxes that changes tearing by less than `below`, the best first.
    fn exchanges(&self, below: i64, work: &mut Purse) -> Vec<Exchange> {
        let sets: Vec<Vec<Vec<usize>>> =
            self.bins.iter().map(|bin| small_sets(&bin.units)).collect();
        let mut found = Vec::new();
        for one in 0..self.bins.len() {
            for other in one + 1..self.bins.len() {
                work.spend(10 * sets[one].len() * sets[other].len());
                for out in &sets[one] {
                    for into in &sets[other] {
                        let change = self.change([one, other], [out, into]);
                        if change < below && self.rows_allow([one, other], [out, into]) {
                            found.push((change, [one, other], [out.clone(), into.clone()]));
                        }
                    }
                }
            }
        }
        found.sort();
        found
    }

    fn rows_allow(&self, boxes: [usize; 2], out: [&[usize]; 2]) -> bool {
        let own = |side: usize| &self.bins[boxes[side]];
        own(0).rows_allow(self.task, out[0], out[1]) && own(1).rows_allow(self.task, out[1], out[0])
    }

    /// Makes the exchange if both boxes stand after it.
    fn make(&mut self, boxes: [usize; 2], out: [&[usize]; 2], work: &mut Purse) -> bool {
        let [one, other] = boxes;
        let stand = self.bins[one].accepts(self.task, self.oracle, out[0], out[1], work)
            && self.bins[other].accepts(self.task, self.oracle, out[1], out[0], work);
        if stand {
            self.bins[one].exchange(self.task, out[0], out[1]);
            self.bins[other].exchange(self.task, out[1], out[0]);
            self.count();
        }
        stand
    }

    /// The best exchange that tears less; whether there was one.
    fn step(&mut self, work: &mut Purse) -> bool {
        for (_, boxes, out) in self.exchanges(0, work).into_iter().take(ASKED) {
            if work.dry() {
                return false;
            }
            if self.make(boxes, [&out[0], &out[1]], work) {
                return true;
            }
        }
        false
    }

    /// A few exchanges at random that do not tear much more.
    fn shake(&mut self, dice: &mut Dice, work: &mut Purse) {
        let mut made = 0;
        for _ in 0..20 * SHAKES {
            work.spend(1000);
            let boxes = [dice.below(self.bins.len()), dice.below(self.bins.len())];
            if boxes[0] == boxes[1] {
                continue;
            }
            let mut some = |at: usize| {
                let sets = small_sets(&self.bins[at].units);
                sets[dice.below(sets.len())].clone()
            };
            let out = [some(boxes[0]), some(boxes[1])];
            let out = [&out[0][..], &out[1][..]];
            let fair = self.change(boxes, out) <= self.dearest();
            if fair && self.rows_allow(boxes, out) && self.make(boxes, out, work) {
                made += 1;
            }
            if made == SHAKES || work.dry() {
                return;
            }
        }
    }
}

/// None, one or two of these.
fn small_sets(units: &[usize]) -> Vec<Vec<usize>> {
    let mut sets = vec![Vec::new()];
    for (rank, &one) in units.iter().enumerate() {
        sets.push(vec![one]);
        sets.extend(units[rank + 1..].iter().map(|&other| vec![one, other]));
    }
    sets
}
