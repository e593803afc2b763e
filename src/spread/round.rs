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
//! *It is found.* Each amount first gives the units that are left over to the slabs that are owed
//! most; that breaks few bounds. While a group carries more than its bound, one unit goes another way
//! from the group to its parent, over edges that have room. There is always such a way: let R be all
//! that can be reached from the group, and suppose that the parent is not in it. Every edge out of R
//! is full, the group's own is above its bound, and every edge into R is at its least or below: more
//! leaves R than in the exact flow. But what leaves R is the same in both, as the amounts are. For
//! too little the same way round. Each step takes one from what lies beyond the bounds and adds none,
//! so it comes to an end.
//!
//! Decided on 2026-11-26. Left-over cents of each charge alone went to the same slabs, and alike bundles
//! landed a cent a charge apart. The order of the charges is by content, so that the order of rows moves no
//! cent.

use std::cmp::Reverse;

use crate::quantity::{Cut, Decimal, Fraction, Weights};

/// A whole number of units to be shared out.
#[derive(Debug, Clone, Copy)]
pub struct Amount<'a> {
    /// How many.
    pub units: i64,
    /// By what.
    pub weights: &'a Weights,
    /// The slabs, in the order of the weights.
    pub slabs: &'a [usize],
}

/// Which group everything lies in: the slabs come first, then groups, each below its own group; what
/// lies in nothing lies in the whole.
#[derive(Debug, Clone)]
pub struct Nest {
    /// How many slabs there are.
    pub slabs: usize,
    /// The group of each slab and then of each group, by position among them all.
    pub within: Vec<Option<usize>>,
}

/// One share: the exact one rounded down, and perhaps one more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rounded {
    /// The exact share, cut.
    pub cut: Cut,
    /// Whether it is rounded up.
    pub up: bool,
}

impl Rounded {
    /// The share.
    pub fn units(self) -> i64 {
        self.cut.floor + i64::from(self.up)
    }
}

/// The shares of each amount, in the order of its slabs. The amounts are taken in their order, which
/// is a matter of taste: with one order there is one answer.
pub fn round(amounts: &[Amount<'_>], nest: &Nest) -> Vec<Vec<Rounded>> {
    let mut shares: Vec<Vec<Rounded>> = Vec::with_capacity(amounts.len());
    for (at, amount) in amounts.iter().enumerate() {
        // The charges of like boxes come one after the other, and their exact shares are the same.
        let before = at.checked_sub(1).and_then(|at| amounts.get(at).zip(shares.get(at)));
        let like = before.filter(|(before, _)| {
            before.units == amount.units
                && before.slabs == amount.slabs
                && std::ptr::eq(before.weights, amount.weights)
        });
        shares.push(like.map_or_else(|| cuts(amount), |(_, cuts)| cuts.clone()));
    }
    let mut net = Net::new(amounts, &shares, nest);
    net.deal(amounts);
    let bounds = net.bounds(amounts);
    net.mend(&bounds);
    for cell in net.cells.iter().filter(|cell| cell.up) {
        let share = shares.get_mut(cell.amount).and_then(|own| own.get_mut(cell.position));
        if let Some(share) = share {
            share.up = true;
        }
    }
    shares
}

/// The exact shares of an amount, all rounded down.
fn cuts(amount: &Amount<'_>) -> Vec<Rounded> {
    let cut = |position| Rounded { cut: amount.weights.cut(amount.units, position), up: false };
    (0..amount.slabs.len()).map(cut).collect()
}

/// A share that is no whole number. What is beyond is below 2^32, so that 64 bits hold the sum of two
/// thousand million of them, more than memory holds.
struct Cell {
    amount: usize,
    /// The position in the amount.
    position: usize,
    slab: usize,
    /// What is beyond the whole units, as [`Cut::beyond`] has it.
    beyond: i64,
    /// Whether it is rounded up.
    up: bool,
}

struct Net {
    slabs: usize,
    /// The parent of each slab and group; the whole is last and has itself.
    parent: Vec<usize>,
    children: Lists,
    cells: Vec<Cell>,
    /// Where the cells of each amount begin; the end is last.
    first: Vec<usize>,
    /// The units of each amount that its whole shares leave over.
    left: Vec<usize>,
    /// The cells of each slab.
    by_slab: Lists,
    /// How many units beyond the whole ones go from each slab and group to its parent.
    flow: Vec<i64>,
}

/// Lists in one, each from where it begins.
struct Lists {
    all: Vec<usize>,
    first: Vec<usize>,
}

impl Lists {
    /// Puts each item, by position, into the list that is named for it.
    fn new(lists: usize, of: &[usize]) -> Self {
        let mut first = vec![0; lists + 1];
        for list in of {
            if let Some(count) = first.get_mut(list + 1) {
                *count += 1;
            }
        }
        let mut sum = 0;
        for count in &mut first {
            sum += *count;
            *count = sum;
        }
        let mut all = vec![0; of.len()];
        let mut next = first.clone();
        for (item, list) in of.iter().enumerate() {
            if let Some(at) = next.get_mut(*list) {
                if let Some(slot) = all.get_mut(*at) {
                    *slot = item;
                }
                *at += 1;
            }
        }
        Self { all, first }
    }

    fn of(&self, list: usize) -> &[usize] {
        let bounds = self.first.get(list).zip(self.first.get(list + 1));
        bounds.and_then(|(from, to)| self.all.get(*from..*to)).unwrap_or(&[])
    }
}

/// What goes from a slab or group to its parent, at least and at most.
type Bounds = Vec<(i64, i64)>;

impl Net {
    fn new(amounts: &[Amount<'_>], shares: &[Vec<Rounded>], nest: &Nest) -> Self {
        let whole = nest.within.len();
        let parent: Vec<usize> =
            nest.within.iter().map(|group| group.unwrap_or(whole)).chain([whole]).collect();
        let (mut cells, mut first, mut left) = (Vec::new(), vec![0], Vec::new());
        for (at, (amount, shares)) in amounts.iter().zip(shares).enumerate() {
            let mut over = amount.units;
            for (position, (slab, Rounded { cut, .. })) in
                amount.slabs.iter().zip(shares).enumerate()
            {
                over -= cut.floor;
                if cut.is_open {
                    let (slab, beyond) = (*slab, cut.beyond);
                    cells.push(Cell { amount: at, position, slab, beyond, up: false });
                }
            }
            first.push(cells.len());
            left.push(usize::try_from(over).unwrap_or(0));
        }
        let slab_of: Vec<usize> = cells.iter().map(|cell| cell.slab).collect();
        Self {
            slabs: nest.slabs,
            children: Lists::new(whole + 1, parent.get(..whole).unwrap_or(&[])),
            by_slab: Lists::new(nest.slabs, &slab_of),
            flow: vec![0; whole + 1],
            parent,
            cells,
            first,
            left,
        }
    }

    fn whole(&self) -> usize {
        self.parent.len() - 1
    }

    fn parent(&self, group: usize) -> usize {
        self.parent.get(group).copied().unwrap_or(self.whole())
    }

    /// A slab or group and all above it, without the whole.
    fn upwards(&self, from: usize) -> impl Iterator<Item = usize> + '_ {
        let whole = self.whole();
        std::iter::successors(Some(from), |group| Some(self.parent(*group)))
            .take_while(move |group| *group != whole)
    }

    fn cells_of(&self, amount: usize) -> std::ops::Range<usize> {
        let at = |amount: usize| self.first.get(amount).copied().unwrap_or(0);
        at(amount)..at(amount + 1)
    }

    /// Gives each amount's left-over units to the slabs that are owed most so far: the slab's own,
    /// and an eighth of its bundle's (the eighth is a matter of trial; any part leaves few bounds
    /// broken).
    fn deal(&mut self, amounts: &[Amount<'_>]) {
        let mut owed = vec![0i64; self.parent.len()];
        let mut order: Vec<(Reverse<i64>, usize)> = Vec::new();
        for amount in 0..amounts.len() {
            let own = self.cells_of(amount);
            for cell in self.cells.get(own.clone()).unwrap_or(&[]) {
                for group in [cell.slab, self.parent(cell.slab)] {
                    if let Some(sum) = owed.get_mut(group) {
                        *sum += cell.beyond;
                    }
                }
            }
            let owed_at = |group: usize| owed.get(group).copied().unwrap_or(0);
            order.clear();
            order.extend(own.filter_map(|at| {
                let slab = self.cells.get(at)?.slab;
                Some((Reverse(owed_at(slab) * 8 + owed_at(self.parent(slab))), at))
            }));
            let left = self.left.get(amount).copied().unwrap_or(0).min(order.len());
            if left < order.len() {
                order.select_nth_unstable(left);
            }
            for (_, at) in order.iter().take(left) {
                let Some(cell) = self.cells.get_mut(*at) else { continue };
                cell.up = true;
                let slab = cell.slab;
                for group in [slab, self.parent(slab)] {
                    if let Some(sum) = owed.get_mut(group) {
                        *sum -= Cut::WHOLE;
                    }
                }
            }
        }
        for at in 0..self.cells.len() {
            let Some(cell) = self.cells.get(at).filter(|cell| cell.up) else { continue };
            let above: Vec<usize> = self.upwards(cell.slab).collect();
            for group in above {
                if let Some(flow) = self.flow.get_mut(group) {
                    *flow += 1;
                }
            }
        }
    }

    /// The exact totals, rounded down and up. Where the parts that are counted come too near to a
    /// whole number, exact fractions decide.
    fn bounds(&self, amounts: &[Amount<'_>]) -> Bounds {
        let mut sums = vec![(0i64, 0i64); self.whole()];
        for cell in &self.cells {
            for group in self.upwards(cell.slab) {
                if let Some((beyond, count)) = sums.get_mut(group) {
                    *beyond += cell.beyond;
                    *count += 1;
                }
            }
        }
        let bound = |(group, (beyond, count)): (usize, &(i64, i64))| {
            // Each of the parts is too small by at most one.
            let (low, high) = (beyond / Cut::WHOLE, (beyond + count) / Cut::WHOLE);
            if *count == 0 || (low == high && beyond % Cut::WHOLE != 0) {
                return (low, low + i64::from(*count > 0));
            }
            let exact = self.exact(group, amounts);
            let up = exact.ceil().to_i64().unwrap_or(high);
            (up - i64::from(!exact.is_whole()), up)
        };
        sums.iter().enumerate().map(bound).collect()
    }

    /// What lies beyond the whole shares of a slab or group, exactly.
    fn exact(&self, group: usize, amounts: &[Amount<'_>]) -> Fraction {
        let mut cells: Vec<usize> = Vec::new();
        let mut open = vec![group];
        while let Some(group) = open.pop() {
            if group < self.slabs {
                cells.extend_from_slice(self.by_slab.of(group));
            } else {
                open.extend_from_slice(self.children.of(group));
            }
        }
        // Those of one amount have one denominator, and often amounts that follow each other, too.
        cells.sort_unstable();
        let zero = || Fraction::of(Decimal::ZERO);
        let (mut sum, mut like) = (zero(), zero());
        let mut weights: Option<&Weights> = None;
        for cell in cells.iter().filter_map(|at| self.cells.get(*at)) {
            let Some(amount) = amounts.get(cell.amount) else { continue };
            let is_like =
                weights.is_some_and(|known| std::ptr::eq::<Weights>(known, amount.weights));
            if !is_like {
                sum = sum.plus(&like);
                (like, weights) = (zero(), Some(amount.weights));
            }
            like = like.plus(&amount.weights.beyond(amount.units, cell.position));
        }
        sum.plus(&like)
    }

    /// Takes every group into its bounds, unit by unit.
    fn mend(&mut self, bounds: &Bounds) {
        let mut search = Search::new(self.parent.len() + self.left.len());
        for (group, (least, most)) in bounds.iter().enumerate() {
            loop {
                let flow = self.flow.get(group).copied().unwrap_or(0);
                let parent = self.parent(group);
                let (from, to, step) = match () {
                    () if flow > *most => (group, parent, -1),
                    () if flow < *least => (parent, group, 1),
                    () => break,
                };
                // There is always a way: see the head of this file.
                if !search.find(self, bounds, from, to) {
                    debug_assert!(false, "no way from {from} to {to}");
                    break;
                }
                search.follow(self, from, to);
                if let Some(flow) = self.flow.get_mut(group) {
                    *flow += step;
                }
            }
        }
    }
}

/// How a node was reached.
#[derive(Clone, Copy)]
struct Step {
    from: usize,
    /// The cell between an amount and a slab; none between groups.
    cell: Option<usize>,
}

/// Ways over edges that have room. Nodes are the slabs, groups and the whole, then the amounts.
struct Search {
    reached: Vec<Option<Step>>,
    /// Slabs and groups that were reached and not yet left.
    groups: Vec<usize>,
    /// Amounts, the same.
    amounts: Vec<usize>,
}

impl Search {
    fn new(nodes: usize) -> Self {
        Self { reached: vec![None; nodes], groups: Vec::new(), amounts: Vec::new() }
    }

    /// Looks for a way. An amount leads to hundreds of slabs: it is left when no slab or group is open.
    fn find(&mut self, net: &Net, bounds: &Bounds, from: usize, to: usize) -> bool {
        self.reached.fill(None);
        self.groups.clear();
        self.amounts.clear();
        self.reach_group(from, Step { from, cell: None });
        loop {
            if let Some(group) = self.groups.pop() {
                if group == to {
                    return true;
                }
                self.leave_group(net, bounds, group);
            } else if let Some(amount) = self.amounts.pop() {
                self.leave_amount(net, amount);
            } else {
                return false;
            }
        }
    }

    /// To the slabs that have none of an amount's units and could have one.
    fn leave_amount(&mut self, net: &Net, amount: usize) {
        let (range, from) = (net.cells_of(amount), net.parent.len() + amount);
        for (at, cell) in range.clone().zip(net.cells.get(range).unwrap_or(&[])) {
            if !cell.up {
                self.reach_group(cell.slab, Step { from, cell: Some(at) });
            }
        }
    }

    /// From a slab to the amounts that it has a unit of; from a group to its parent or to those in it,
    /// where more or less may go.
    fn leave_group(&mut self, net: &Net, bounds: &Bounds, node: usize) {
        if node < net.slabs {
            for at in net.by_slab.of(node) {
                if let Some(cell) = net.cells.get(*at).filter(|cell| cell.up) {
                    let amount = net.parent.len() + cell.amount;
                    if self.is_first(amount, Step { from: node, cell: Some(*at) }) {
                        self.amounts.push(cell.amount);
                    }
                }
            }
        }
        let step = Step { from: node, cell: None };
        let room = |group: usize| {
            let flow = net.flow.get(group).copied().unwrap_or(0);
            bounds.get(group).map_or((false, false), |(least, most)| (flow > *least, flow < *most))
        };
        for child in net.children.of(node) {
            if room(*child).0 {
                self.reach_group(*child, step);
            }
        }
        if room(node).1 {
            self.reach_group(net.parent(node), step);
        }
    }

    fn reach_group(&mut self, group: usize, step: Step) {
        if self.is_first(group, step) {
            self.groups.push(group);
        }
    }

    /// Whether a node is reached for the first time: by this step.
    fn is_first(&mut self, node: usize, step: Step) -> bool {
        let slot = self.reached.get_mut(node).filter(|slot| slot.is_none());
        slot.map(|slot| *slot = Some(step)).is_some()
    }

    /// Moves one unit along the way that was found.
    fn follow(&self, net: &mut Net, from: usize, to: usize) {
        let mut node = to;
        while node != from {
            let Some(step) = self.reached.get(node).copied().flatten() else { return };
            match step.cell {
                Some(at) => {
                    if let Some(cell) = net.cells.get_mut(at) {
                        cell.up = !cell.up;
                    }
                }
                None => {
                    let is_up = net.parent(step.from) == node;
                    let (group, step) = if is_up { (step.from, 1) } else { (node, -1) };
                    if let Some(flow) = net.flow.get_mut(group) {
                        *flow += step;
                    }
                }
            }
            node = step.from;
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
        let within = bundle_of.iter().map(|bundle| Some(slabs + bundle));
        let above = box_of.iter().map(|one| Some(slabs + bundles + one));
        Nest { slabs, within: within.chain(above).chain(vec![None; boxes]).collect() }
    }

    /// The share of each amount at each slab, rounded; and the exact one.
    type Share = (i64, Fraction);

    fn shares(amounts: &[Amount<'_>], nest: &Nest) -> Vec<Vec<(usize, Share)>> {
        let of = |(amount, shares): (&Amount<'_>, Vec<Rounded>)| {
            let one = |(position, share): (usize, &Rounded)| {
                let exact = amount.weights.beyond(amount.units, position);
                let exact = exact.plus(&Fraction::of(Decimal::from(share.cut.floor)));
                (amount.slabs[position], (share.units(), exact))
            };
            shares.iter().enumerate().map(one).collect()
        };
        amounts.iter().zip(round(amounts, nest)).map(of).collect()
    }

    /// Whether a whole number is an exact one rounded down or up.
    fn is_within(whole: i64, exact: &Fraction) -> bool {
        let up = exact.ceil().to_i64().unwrap();
        whole == up || (whole == up - 1 && !exact.is_whole())
    }

    fn check(amounts: &[Amount<'_>], nest: &Nest) {
        let zero = || (0i64, Fraction::of(Decimal::ZERO));
        let mut totals = vec![zero(); nest.within.len() + 1];
        for (amount, of_slabs) in amounts.iter().zip(shares(amounts, nest)) {
            assert_eq!(of_slabs.iter().map(|(_, share)| share.0).sum::<i64>(), amount.units);
            for (slab, (whole, exact)) in of_slabs {
                assert!(is_within(whole, &exact));
                let mut at = Some(slab);
                while let Some(group) = at {
                    let sum = &mut totals[group];
                    *sum = (sum.0 + whole, sum.1.plus(&exact));
                    at = nest.within[group];
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
            let all: Vec<usize> = (0..bundle_of.len()).collect();
            let scoped: Vec<(i64, Vec<usize>, Weights)> = charges
                .iter()
                .filter_map(|(units, key, mask, is_whole)| {
                    let is_in = |slab: &usize| *is_whole || mask >> (slab % 32) & 1 == 1;
                    let slabs: Vec<usize> = all.iter().copied().filter(is_in).collect();
                    let weight = |slab: &usize| Decimal::from(keys[key % keys.len()][*slab]);
                    let weights = Weights::of(slabs.iter().map(weight)).unwrap();
                    (!weights.is_nothing()).then_some((*units, slabs, weights))
                })
                .collect();
            let amounts: Vec<Amount<'_>> = scoped
                .iter()
                .map(|(units, slabs, weights)| Amount { units: *units, weights, slabs })
                .collect();
            check(&amounts, &nest);
        }
    }

    #[test]
    fn left_over_units_do_not_pile_up() {
        // Three alike slabs in a bundle each, and three charges of 1.00: 33, 33, 34 each time. By
        // largest remainder the first slab had all three left-over cents (1.02, 0.99, 0.99).
        let nest = nest(&[0, 1, 2], &[0, 0, 0]);
        let weights = Weights::equal(3);
        let amounts = vec![Amount { units: 100, weights: &weights, slabs: &[0, 1, 2] }; 3];
        let mut totals = [0; 3];
        for of_slabs in shares(&amounts, &nest) {
            for (slab, (whole, _)) in of_slabs {
                totals[slab] += whole;
            }
        }
        assert_eq!(totals, [100, 100, 100]);
    }

    #[test]
    fn a_group_is_mended_over_charges_that_cross_it() {
        // Derived by hand. Slabs 0 and 1 are a bundle, 2 and 3 another; each charge has one unit for
        // two slabs across the bundles, and its exact shares are halves: each slab is owed 1, each
        // bundle 2.
        let nest = nest(&[0, 0, 1, 1], &[0, 1]);
        let half = Weights::equal(2);
        let pair = |slabs: &'static [usize]| Amount { units: 1, weights: &half, slabs };
        let amounts = [pair(&[0, 2]), pair(&[0, 3]), pair(&[1, 2]), pair(&[1, 3])];
        check(&amounts, &nest);
    }
}
