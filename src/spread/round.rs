//! Controlled rounding: every share and every total of a group is its exact figure rounded down or up.
//!
//! Amounts in whole units are shared out over slabs; slabs lie in bundles, bundles in boxes. Wanted
//! are whole shares that add up to each amount, each the exact share rounded down or up, such that
//! the total of every slab, bundle and box is its exact total rounded down or up, too, whichever
//! slabs an amount is shared by (Bacharach, Matrix rounding problems, Management Science 12, 1966,
//! pages 732 to 742; Cox, A constructive procedure for unbiased controlled rounding, Journal of the
//! American Statistical Association 82, 1987, pages 520 to 524; both from memory).
//!
//! *There is such a rounding.* Amount, slab, bundle, box is a network. The exact shares flow through
//! it within its bounds, and all bounds are whole: so a whole flow exists (integrality of flows).
//!
//! *It is found.* Each amount first gives its left-over units along the slabs; that breaks few bounds.
//! While a group carries more than its bound, one unit goes another way from the group to its parent, over
//! edges that have room. There is always such a way: let R be all that can be reached from the group, and
//! suppose that the parent is not in it. Every edge out of R is full, the group's own is above its bound,
//! and every edge into R is at its least or below: more leaves R than in the exact flow. But what leaves R
//! is the same in both, as the amounts are. For too little the same way round. Each step takes one from what
//! lies beyond the bounds and adds none, so it comes to an end.
//!
//! Decided on 2026-11-26. Left-over cents of each charge alone went to the same slabs, and alike bundles
//! landed a cent a charge apart. The order of the charges is by content, so that the order of rows moves no
//! cent.
//!
//! Decided on 2026-11-27. A share is held as one bit: held whole, those of 200,000 slabs in 143 boxes took
//! 7.5 GiB. Left-over units go along the slabs with what is owed carried on, as the shades of a picture in
//! black and white (Floyd and Steinberg, An adaptive algorithm for spatial greyscale, Proceedings of the
//! Society for Information Display 17, 1976, pages 75 to 77; from memory). Given to whom most was owed, they
//! left boxes off by several units, and each way went through all slabs.

use std::cell::OnceCell;
use std::collections::VecDeque;

use rustc_hash::{FxHashMap, FxHashSet};

use super::bits::Bits;
use crate::bill::{Holding, Lists, Members};
use crate::quantity::{Cut, Decimal, Fraction, Weights};

/// A whole number of units to be shared out.
#[derive(Debug, Clone, Copy)]
pub struct Amount<'a> {
    /// How many.
    pub units: i64,
    /// By what.
    pub weights: &'a Weights,
    /// The slabs, in the order of the weights, by position among the scopes.
    pub scope: usize,
}

/// Which group everything lies in: the slabs come first, then groups, each below its own group; what
/// lies in nothing else lies in the whole.
#[derive(Debug, Clone)]
pub struct Nest {
    /// How many slabs there are.
    pub slabs: usize,
    /// The group of each slab and then of each group, by position among them all; the whole's is behind them.
    pub within: Vec<u32>,
}

impl Nest {
    /// What a slab or group lies in; the whole, which comes last, in itself.
    fn group(&self, one: usize) -> usize {
        let group = self.within.get(one).and_then(|group| usize::try_from(*group).ok());
        group.unwrap_or(self.within.len())
    }
}

/// Which shares of each amount are rounded up, by position among its slabs; the others are rounded down.
/// The amounts are taken in their order, which is a matter of taste: with one order there is one answer.
pub fn round(amounts: &[Amount<'_>], scopes: &[Members<'_>], nest: &Nest) -> Vec<Bits> {
    let mut net = Net::new(amounts, scopes, nest);
    let sums = net.deal();
    let bounds = net.bounds(sums);
    net.mend(&bounds);
    net.up
}

/// What goes to the slabs, from each to its bundle, from that to its box. A share is held as one bit.
struct Net<'a> {
    amounts: &'a [Amount<'a>],
    scopes: &'a [Members<'a>],
    nest: &'a Nest,
    /// What is known once something is to be mended.
    ways: OnceCell<Ways>,
    /// The shares of each amount that are no whole number.
    open: Vec<Bits>,
    /// The shares of each amount that are rounded up.
    up: Vec<Bits>,
    /// How many units beyond the whole ones go from each slab and group to its parent.
    flow: Vec<i64>,
}

/// Where a unit may go.
struct Ways {
    /// What lies in each group, and in the whole, which is last.
    children: Lists,
    /// The amounts of each scope.
    by_scope: Lists,
    /// The scopes that each slab lies in.
    by_slab: Holding,
}

/// What goes from a slab or group to its parent, at least and at most.
type Bounds = Vec<(i64, i64)>;

impl<'a> Net<'a> {
    fn new(amounts: &'a [Amount<'a>], scopes: &'a [Members<'a>], nest: &'a Nest) -> Self {
        let none = |amount: &Amount<'_>| Bits::none(amount.weights.len());
        let open: Vec<Bits> = amounts.iter().map(none).collect();
        Self {
            amounts,
            scopes,
            nest,
            ways: OnceCell::new(),
            up: open.clone(),
            open,
            flow: vec![0; nest.within.len() + 1],
        }
    }

    fn ways(&self) -> &Ways {
        self.ways.get_or_init(|| {
            let (nest, whole) = (self.nest, self.whole());
            let inside = (0..whole).map(|one| (nest.group(one) - nest.slabs, one));
            let amounts = self.amounts.iter().enumerate();
            Ways {
                children: Lists::new(whole + 1 - nest.slabs, inside),
                by_scope: Lists::new(
                    self.scopes.len(),
                    amounts.map(|(at, amount)| (amount.scope, at)),
                ),
                by_slab: Holding::new(self.scopes, nest.slabs),
            }
        })
    }

    fn whole(&self) -> usize {
        self.nest.within.len()
    }

    /// How many slabs and groups there are, and the whole.
    fn nodes(&self) -> usize {
        self.whole() + 1
    }

    fn parent(&self, group: usize) -> usize {
        self.nest.group(group)
    }

    /// The slabs that share an amount.
    fn scope(&self, amount: usize) -> Members<'a> {
        let scope = self.amounts.get(amount).and_then(|amount| self.scopes.get(amount.scope));
        scope.copied().unwrap_or(Members::Row(0, 0))
    }

    /// Gives out each amount's left-over units. Comes back with what lies beyond the whole shares of each slab
    /// and group together, as [`Cut::beyond`] has it, and of how many shares that is. Each is below 2^32: 64
    /// bits hold the sum of two thousand million of them, more than memory holds.
    fn deal(&mut self) -> Vec<(i64, i64)> {
        let mut sums = vec![(0, 0); self.whole()];
        let mut line: Vec<u32> = Vec::new();
        for (at, amount) in self.amounts.iter().enumerate() {
            line.clear();
            line.reserve_exact(amount.weights.len());
            let mut left = amount.units;
            for ((position, slab), own) in self.scope(at).iter().enumerate().zip(0..) {
                let Cut { floor, is_open, beyond } = amount.weights.cut(amount.units, position);
                left -= floor;
                if is_open {
                    line.push(own);
                    turn(&mut self.open, at, position);
                    add(&mut sums, slab, (beyond, 1));
                }
            }
            let group = |position: &u32| {
                let bundle = self.slab_of(at, *position).map_or(0, |(_, slab)| self.parent(slab));
                (self.parent(bundle), bundle)
            };
            // To sort takes room, and a list mostly is in order.
            if !line.is_sorted_by_key(group) {
                line.sort_by_key(group);
            }
            self.give_along(&sums, at, &line, left);
        }
        // What lies in a group comes before it.
        for one in 0..self.whole() {
            let parent = self.parent(one);
            self.put(parent, self.flow.get(one).copied().unwrap_or(0));
            let own = sums.get(one).copied().unwrap_or((0, 0));
            add(&mut sums, parent, own);
        }
        sums
    }

    /// A position of an amount, and its slab.
    fn slab_of(&self, amount: usize, position: u32) -> Option<(usize, usize)> {
        let position = usize::try_from(position).ok()?;
        Some((position, self.scope(amount).at(position)?))
    }

    /// Gives out units of an amount along its slabs, box by box and bundle by bundle: one wherever half of one
    /// or more is owed to a slab from this amount and those before it, with what was carried on from the slab
    /// before. So hardly a slab, bundle or box is off by a unit. The line has their positions, as those of a
    /// million slabs take room.
    fn give_along(&mut self, sums: &[(i64, i64)], amount: usize, line: &[u32], mut left: i64) {
        // What amounts with other slabs left owing is no part of this one's.
        let slabs = line.iter().filter_map(|position| self.slab_of(amount, *position));
        let all: i64 = slabs.map(|(_, slab)| self.owed(sums, slab)).sum();
        let count = i64::try_from(line.len()).unwrap_or(i64::MAX).max(1);
        let own = (left * Cut::WHOLE - all) / count;
        let mut carried = 0;
        for position in line {
            let Some((position, slab)) = self.slab_of(amount, *position) else { continue };
            carried += self.owed(sums, slab) + own;
            if carried >= Cut::WHOLE / 2 {
                carried -= Cut::WHOLE;
                left -= 1;
                self.give((amount, position, slab), 1);
            }
        }
        // A unit or two that did not come out even.
        for position in line.iter().rev() {
            if left == 0 {
                break;
            }
            let Some((position, slab)) = self.slab_of(amount, *position) else { continue };
            if is_set(&self.up, amount, position) == (left < 0) {
                self.give((amount, position, slab), left.signum());
                left -= left.signum();
            }
        }
    }

    /// What a slab is owed still: what lies beyond its whole shares, less the units it was given.
    fn owed(&self, sums: &[(i64, i64)], slab: usize) -> i64 {
        let beyond = sums.get(slab).map_or(0, |(beyond, _)| *beyond);
        beyond - self.flow.get(slab).copied().unwrap_or(0) * Cut::WHOLE
    }

    /// Gives a slab a unit of an amount that is owed to it, or takes it back.
    fn give(&mut self, (amount, position, slab): (usize, usize, usize), unit: i64) {
        turn(&mut self.up, amount, position);
        self.put(slab, unit);
    }

    /// The exact totals, rounded down and up. Where the parts that are counted come too near to a
    /// whole number, exact fractions decide.
    fn bounds(&self, sums: Vec<(i64, i64)>) -> Bounds {
        let bound = |(group, (beyond, count)): (usize, (i64, i64))| {
            // Each of the parts is too small by at most one.
            let (low, high) = (beyond / Cut::WHOLE, (beyond + count) / Cut::WHOLE);
            if count == 0 || (low == high && beyond % Cut::WHOLE != 0) {
                return (low, low + i64::from(count > 0));
            }
            let exact = self.exact(group);
            let up = exact.ceil().to_i64().unwrap_or(high);
            (up - i64::from(!exact.is_whole()), up)
        };
        sums.into_iter().enumerate().map(bound).collect()
    }

    /// What lies beyond the whole shares of a slab or group, exactly.
    fn exact(&self, group: usize) -> Fraction {
        let (mut slabs, mut below) = (Vec::new(), vec![group]);
        while let Some(group) = below.pop() {
            match self.inside(group) {
                None => slabs.push(group),
                Some(list) => below.extend(self.ways().children.of(list)),
            }
        }
        let scopes: FxHashSet<usize> =
            slabs.iter().flat_map(|slab| self.ways().by_slab.of(*slab)).collect();
        let own = scopes.into_iter().flat_map(|scope| self.ways().by_scope.of(scope));
        own.fold(Fraction::of(Decimal::ZERO), |sum, at| {
            let Some(Amount { units, weights, .. }) = self.amounts.get(at) else { return sum };
            let scope = self.scope(at);
            // The fewer of the two are looked through.
            sum.plus(&if slabs.len() < scope.len() {
                weights.beyond(*units, slabs.iter().filter_map(|slab| scope.position(*slab)))
            } else {
                let inside = |(_, slab): &(usize, usize)| self.lies_in(*slab, group);
                weights.beyond(*units, scope.iter().enumerate().filter(inside).map(|(at, _)| at))
            })
        })
    }

    /// Whether something is a group or lies in it.
    fn lies_in(&self, mut one: usize, group: usize) -> bool {
        while one < group {
            one = self.parent(one);
        }
        one == group
    }

    /// Takes every group into its bounds, unit by unit. Comes back with how many steps were looked at.
    fn mend(&mut self, bounds: &Bounds) -> usize {
        let mut search = Search::new();
        for (group, (least, most)) in bounds.iter().enumerate() {
            let flow = self.flow.get(group).copied().unwrap_or(0);
            for _ in *most..flow {
                search.mend(self, bounds, group, true);
            }
            for _ in flow..*least {
                search.mend(self, bounds, group, false);
            }
        }
        search.looked
    }

    /// The list of what lies in a group, by position; a slab has none.
    fn inside(&self, group: usize) -> Option<usize> {
        group.checked_sub(self.nest.slabs)
    }

    /// A slab, or the first slab of a group.
    fn first_in(&self, mut group: usize) -> usize {
        while let Some(list) = self.inside(group) {
            let Some(first) = self.ways().children.at(list, 0) else { return 0 };
            group = first;
        }
        group
    }

    /// The slab at a position of an amount, where its share is no whole number and is, or is not, rounded up.
    fn slab_at(&self, amount: usize, position: usize, is_up: bool) -> Option<usize> {
        let is_so =
            is_set(&self.open, amount, position) && is_set(&self.up, amount, position) == is_up;
        if is_so { self.scope(amount).at(position) } else { None }
    }

    /// The amounts whose share of a slab is no whole number and is, or is not, rounded up.
    fn amounts_of(&self, slab: usize, is_up: bool) -> impl Iterator<Item = usize> {
        let ways = self.ways();
        let all = ways.by_slab.of(slab).flat_map(|scope| ways.by_scope.of(scope));
        all.filter(move |amount| {
            let position = self.scope(*amount).position(slab);
            position.is_some_and(|position| self.slab_at(*amount, position, is_up).is_some())
        })
    }

    /// Sends so many units more from a slab or group to its parent.
    fn put(&mut self, group: usize, units: i64) {
        if let Some(flow) = self.flow.get_mut(group) {
            *flow += units;
        }
    }
}

/// Adds a sum and its count to a group's.
fn add(sums: &mut [(i64, i64)], group: usize, (beyond, count): (i64, i64)) {
    if let Some(sum) = sums.get_mut(group) {
        *sum = (sum.0 + beyond, sum.1 + count);
    }
}

/// Whether a share of an amount is marked.
fn is_set(marks: &[Bits], amount: usize, position: usize) -> bool {
    marks.get(amount).is_some_and(|marks| marks.has(position))
}

/// Marks a share of an amount, or takes its mark away.
fn turn(marks: &mut [Bits], amount: usize, position: usize) {
    if let Some(marks) = marks.get_mut(amount) {
        marks.set(position, !marks.has(position));
    }
}

/// Ways over edges that have room, from a slab or group to its parent. Nodes are the slabs, groups and the
/// whole, then the amounts. Every node that was reached leads on in turn, by one step at a time and to what
/// lies near first: so a way is found soon, however many slabs there are.
struct Search {
    /// From where each node was reached that was: few are, of however many there are.
    reached: FxHashMap<usize, usize>,
    /// Groups and amounts that lead on.
    open: VecDeque<Open>,
    /// Where the way begins and ends.
    from: usize,
    to: usize,
    /// The slab it begins at, or the first in the group.
    near: usize,
    /// Whether a unit more goes from slab to parent all along it; otherwise one less.
    is_more: bool,
    /// How many steps were looked at in all searches.
    looked: usize,
}

/// A group or an amount of which some is not looked at yet: what comes before one position and from another
/// on, in turn.
struct Open {
    node: usize,
    before: usize,
    from: usize,
    to: usize,
    is_before: bool,
}

impl Iterator for Open {
    type Item = usize;

    fn next(&mut self) -> Option<usize> {
        self.is_before = (!self.is_before || self.from >= self.to) && self.before > 0;
        if self.is_before {
            self.before -= 1;
            return Some(self.before);
        }
        let next = (self.from < self.to).then_some(self.from);
        self.from += usize::from(next.is_some());
        next
    }
}

impl Search {
    fn new() -> Self {
        Self {
            reached: FxHashMap::default(),
            open: VecDeque::new(),
            from: 0,
            to: 0,
            near: 0,
            is_more: false,
            looked: 0,
        }
    }

    /// Moves one unit along a way from a group to its parent, and back from that one. There is always such a
    /// way: see the head of this file.
    fn mend(&mut self, net: &mut Net<'_>, bounds: &Bounds, group: usize, is_more: bool) {
        self.reached.clear();
        self.open.clear();
        (self.from, self.to) = (group, net.parent(group));
        (self.near, self.is_more) = (net.first_in(group), is_more);
        let mut is_found = self.reach(net, bounds, group, group);
        while !is_found {
            let Some(mut open) = self.open.pop_front() else {
                debug_assert!(false, "no way from {group}");
                return;
            };
            let node = open.node;
            while let Some(at) = open.next() {
                self.looked += 1;
                if let Some(next) = self.next(net, bounds, node, at) {
                    self.open.push_back(open);
                    is_found = self.reach(net, bounds, next, node);
                    break;
                }
            }
        }
        self.follow(net);
    }

    /// What a group or an amount leads to at a position, if it does and that was not reached.
    fn next(&self, net: &Net<'_>, bounds: &Bounds, node: usize, at: usize) -> Option<usize> {
        let next = match node.checked_sub(net.nodes()) {
            // A slab that could have a unit of the amount, or has one to give.
            Some(amount) => net.slab_at(amount, at, !self.is_more),
            None => {
                let child = net.ways().children.at(net.inside(node)?, at);
                child.filter(|one| self.has_room(net, bounds, *one, false))
            }
        };
        next.filter(|next| !self.reached.contains_key(next))
    }

    /// Whether one more may go along the way from a slab or group to its parent, or from its parent to it.
    fn has_room(&self, net: &Net<'_>, bounds: &Bounds, group: usize, is_up: bool) -> bool {
        let flow = net.flow.get(group).copied().unwrap_or(0);
        bounds.get(group).is_some_and(|(least, most)| {
            if is_up == self.is_more { flow < *most } else { flow > *least }
        })
    }

    /// Takes a node as reached from another; tells whether the end of the way is.
    fn reach(&mut self, net: &Net<'_>, bounds: &Bounds, node: usize, from: usize) -> bool {
        if self.reached.contains_key(&node) {
            return false;
        }
        self.reached.insert(node, from);
        if node == self.to {
            return true;
        }
        if let Some(amount) = node.checked_sub(net.nodes()) {
            let scope = net.scope(amount);
            let (before, to) = (scope.before(self.near), scope.len());
            self.open.push_back(Open { node, before, from: before, to, is_before: false });
            return false;
        }
        let parent = net.parent(node);
        if self.has_room(net, bounds, node, true) && self.reach(net, bounds, parent, node) {
            return true;
        }
        let Some(list) = net.inside(node) else {
            return net
                .amounts_of(node, self.is_more)
                .any(|amount| self.reach(net, bounds, net.nodes() + amount, node));
        };
        let is_last = net.parent(self.to) == node && self.has_room(net, bounds, self.to, false);
        if is_last && self.reach(net, bounds, self.to, node) {
            return true;
        }
        let to = net.ways().children.len(list);
        self.open.push_back(Open { node, before: 0, from: 0, to, is_before: false });
        false
    }

    /// Moves one unit along the way that was found.
    fn follow(&self, net: &mut Net<'_>) {
        let unit = if self.is_more { 1 } else { -1 };
        net.put(self.from, -unit);
        let mut node = self.to;
        while node != self.from {
            let Some(before) = self.reached.get(&node).copied() else { return };
            // Between an amount and a slab a unit is given or taken back; between groups one more or one less
            // goes to the parent.
            let (least, most) = (node.min(before), node.max(before));
            if let Some(amount) = most.checked_sub(net.nodes()) {
                if let Some(position) = net.scope(amount).position(least) {
                    turn(&mut net.up, amount, position);
                }
            } else if net.parent(before) == node {
                net.put(before, unit);
            } else {
                net.put(node, -unit);
            }
            node = before;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Slabs in bundles, bundles in boxes.
    fn nest(bundle_of: &[usize], box_of: &[usize]) -> Nest {
        let (slabs, bundles) = (bundle_of.len(), box_of.len());
        let boxes = box_of.iter().max().map_or(0, |most| most + 1);
        let at = |group: usize| u32::try_from(group).unwrap();
        let within = bundle_of.iter().map(|bundle| at(slabs + bundle));
        let above = box_of.iter().map(|one| at(slabs + bundles + one));
        let whole = vec![at(slabs + bundles + boxes); boxes];
        Nest { slabs, within: within.chain(above).chain(whole).collect() }
    }

    /// The share of each amount at each slab, rounded; and the exact one.
    type Share = (i64, Fraction);

    fn shares(
        amounts: &[Amount<'_>],
        scopes: &[Members<'_>],
        nest: &Nest,
    ) -> Vec<Vec<(usize, Share)>> {
        let of = |(amount, up): (&Amount<'_>, Bits)| {
            let one = |(position, slab): (usize, usize)| {
                let floor = amount.weights.cut(amount.units, position).floor;
                let exact = amount.weights.beyond(amount.units, [position].into_iter());
                let exact = exact.plus(&Fraction::of(Decimal::from(floor)));
                (slab, (floor + i64::from(up.has(position)), exact))
            };
            scopes[amount.scope].iter().enumerate().map(one).collect()
        };
        amounts.iter().zip(round(amounts, scopes, nest)).map(of).collect()
    }

    /// Whether a whole number is an exact one rounded down or up.
    fn is_within(whole: i64, exact: &Fraction) -> bool {
        let up = exact.ceil().to_i64().unwrap();
        whole == up || (whole == up - 1 && !exact.is_whole())
    }

    fn check(amounts: &[Amount<'_>], scopes: &[Members<'_>], nest: &Nest) {
        let zero = || (0i64, Fraction::of(Decimal::ZERO));
        let mut totals = vec![zero(); nest.within.len() + 1];
        for (amount, of_slabs) in amounts.iter().zip(shares(amounts, scopes, nest)) {
            assert_eq!(of_slabs.iter().map(|(_, share)| share.0).sum::<i64>(), amount.units);
            for (slab, (whole, exact)) in of_slabs {
                assert!(is_within(whole, &exact));
                let mut group = slab;
                while group < nest.within.len() {
                    let sum = &mut totals[group];
                    *sum = (sum.0 + whole, sum.1.plus(&exact));
                    group = nest.group(group);
                }
            }
        }
        for (group, (whole, exact)) in totals.iter().enumerate() {
            assert!(is_within(*whole, exact), "{group}: {whole} of {exact:?}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(400))]

        #[test]
        fn every_share_and_every_total_is_rounded_down_or_up(
            bundle_of in prop::collection::vec(0usize..6, 1..24),
            box_of in prop::collection::vec(0usize..3, 6),
            keys in prop::collection::vec(prop::collection::vec(0u32..400, 24), 1..4),
            charges in prop::collection::vec(
                (-30_000i64..90_000, 0usize..4, any::<u32>(), any::<bool>()), 1..40),
        ) {
            let nest = nest(&bundle_of, &box_of);
            // Scopes that cross the bundles and boxes and each other; credits among the charges.
            let all: Vec<u32> = (0..).take(bundle_of.len()).collect();
            let scoped: Vec<(i64, Vec<u32>, Weights)> = charges
                .iter()
                .filter_map(|(units, key, mask, is_whole)| {
                    let is_in = |slab: &u32| *is_whole || mask >> (slab % 32) & 1 == 1;
                    let slabs: Vec<u32> = all.iter().copied().filter(is_in).collect();
                    let weight = |slab: &u32| {
                        let slab = usize::try_from(*slab).unwrap();
                        Decimal::from(keys[key % keys.len()][slab])
                    };
                    let weights = Weights::of(slabs.iter().map(weight)).unwrap();
                    (!weights.is_nothing()).then_some((*units, slabs, weights))
                })
                .collect();
            let amounts: Vec<Amount<'_>> = scoped
                .iter()
                .zip(0..)
                .map(|((units, _, weights), scope)| Amount { units: *units, weights, scope })
                .collect();
            let scopes: Vec<Members<'_>> =
                scoped.iter().map(|(_, slabs, _)| Members::Listed(slabs)).collect();
            check(&amounts, &scopes, &nest);
        }
    }

    #[test]
    fn left_over_units_do_not_pile_up() {
        // Three alike slabs in a bundle each, and three charges of 1.00: 33, 33, 34 each time. By
        // largest remainder the first slab had all three left-over cents (1.02, 0.99, 0.99).
        let nest = nest(&[0, 1, 2], &[0, 0, 0]);
        let weights = Weights::equal(3);
        let amounts = vec![Amount { units: 100, weights: &weights, scope: 0 }; 3];
        let mut totals = [0; 3];
        for of_slabs in shares(&amounts, &[Members::Row(0, 3)], &nest) {
            for (slab, (whole, _)) in of_slabs {
                totals[slab] += whole;
            }
        }
        assert_eq!(totals, [100, 100, 100]);
    }

    #[test]
    fn ways_are_short_however_many_slabs_there_are() {
        let looked = |slabs: usize| {
            let bundle_of: Vec<usize> = (0..slabs).map(|slab| slab / 10).collect();
            let box_of: Vec<usize> = (0..slabs / 10).map(|bundle| bundle / 20).collect();
            let nest = nest(&bundle_of, &box_of);
            let area = |slab: usize| Decimal::from(4_800 + slab * 7_919 % 1_900);
            let weights = Weights::of((0..slabs).map(area)).unwrap();
            // Forty charges that all slabs share.
            let amounts: Vec<Amount<'_>> = (0..40)
                .map(|at| Amount { units: 123_457 + at * 7_001, weights: &weights, scope: 0 })
                .collect();
            let scopes = [Members::Row(0, slabs)];
            let mut net = Net::new(&amounts, &scopes, &nest);
            let sums = net.deal();
            let bounds = net.bounds(sums);
            net.mend(&bounds)
        };
        let [few, many] = [1_000, 32_000].map(looked);
        assert!(few > 0 && few < 1_000 && many < 32_000, "{few} and {many}");
    }

    #[test]
    fn a_group_is_mended_over_charges_that_cross_it() {
        // Derived by hand. Slabs 0 and 1 are a bundle, 2 and 3 another; each charge has one unit for
        // two slabs across the bundles, and its exact shares are halves: each slab is owed 1, each
        // bundle 2.
        let nest = nest(&[0, 0, 1, 1], &[0, 1]);
        let half = Weights::equal(2);
        let amounts = [0, 1, 2, 3].map(|scope| Amount { units: 1, weights: &half, scope });
        let pairs: [&[u32]; 4] = [&[0, 2], &[0, 3], &[1, 2], &[1, 3]];
        check(&amounts, &pairs.map(Members::Listed), &nest);
    }
}
