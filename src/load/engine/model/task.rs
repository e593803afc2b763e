//! The task: the problem as the search sees it. Pieces that travel together are one unit, equal
//! units are one class, and each kind of box has its rows and its floor.

use std::collections::{BTreeMap, BTreeSet};

use super::conflicts::Conflicts;
use super::deck::{Deck, Item};
use super::problem::{Grouping, Problem};
use super::rows::{Condition, Row, lead, rows};

/// Pieces that travel as one.
#[derive(Clone, Debug)]
pub(crate) struct Unit {
    /// Indices into the problem, ascending.
    pub(crate) pieces: Vec<usize>,
    pub(crate) mass: i64,
    /// By kind: whether a box of it could carry the unit alone.
    pub(crate) allowed: Vec<bool>,
    /// Equal units share a class.
    pub(crate) class: usize,
    /// Groups of its pieces that wish to stay together, each with the price of a box more.
    pub(crate) wishes: Vec<(usize, i64)>,
    /// Those of [`Task::groups`] among them, the same for all of its class.
    pub(crate) groups: Vec<usize>,
}

/// A kind of box as the search sees it; its number is that of the problem.
#[derive(Clone, Debug)]
pub(crate) struct Kind {
    pub(crate) cost: i64,
    pub(crate) available: usize,
    /// Mass first.
    pub(crate) rows: Vec<Row>,
    pub(crate) deck: Deck,
    /// The same floor without balance, and without an order of coming in. A set that stands there still does with a piece less, or
    /// with a smaller one in its place.
    pub(crate) bare: Deck,
    /// Kinds with equal floors share this number, and the oracle's memory.
    pub(crate) floor: usize,
    /// All pieces fit in one lane, nothing needs balance, and nobody asks how they come in: the rows alone decide.
    pub(crate) open: bool,
    /// The row that fills first.
    pub(crate) lead: usize,
    /// The kind that every box of this one may be instead: then no box of it is taken.
    pub(crate) served_by: Option<usize>,
}

/// A vector packing problem with a floor behind every box.
#[derive(Clone, Debug)]
pub(crate) struct Task {
    /// Heaviest first.
    pub(crate) units: Vec<Unit>,
    pub(crate) kinds: Vec<Kind>,
    /// The units of each class, ascending.
    pub(crate) classes: Vec<Vec<usize>>,
    /// By unit: those that may not share its box.
    pub(crate) apart: Vec<Vec<usize>>,
    pub(crate) max_boxes: usize,
    /// Kinds of which there are only so many together.
    pub(crate) stocks: Vec<(Vec<usize>, usize)>,
    /// By piece of the problem.
    pub(crate) items: Vec<Item>,
    /// Groups that can be torn, those of several units: what each box beyond the first costs that one touches.
    pub(crate) groups: Vec<i64>,
}

impl Task {
    /// The task by the conditions of each kind; groups for which `joined` holds travel as one unit.
    pub(crate) fn new(
        problem: &Problem,
        conditions: &[Vec<Condition>],
        joined: &dyn Fn(usize) -> bool,
    ) -> Self {
        let items: Vec<Item> = problem.pieces.iter().map(Item::of).collect();
        let mut units: Vec<Unit> = bind(problem, joined)
            .into_iter()
            .map(|pieces| Unit {
                mass: pieces.iter().map(|&piece| problem.pieces[piece].mass).sum(),
                wishes: wishes(problem, &pieces),
                pieces,
                allowed: Vec::new(),
                class: 0,
                groups: Vec::new(),
            })
            .collect();
        let size = |unit: &Unit| {
            let area = |piece: &usize| items[*piece].length * items[*piece].width;
            (unit.mass, unit.pieces.iter().map(area).sum::<i64>())
        };
        units.sort_by(|a, b| size(b).cmp(&size(a)).then(a.pieces.cmp(&b.pieces)));
        let sets: Vec<&[usize]> = units.iter().map(|unit| &unit.pieces[..]).collect();
        let most = problem.max_boxes.and_then(|most| usize::try_from(most).ok());
        let mut task = Task {
            apart: Conflicts::of(problem).between(&sets),
            kinds: kinds(problem, conditions, &sets, &items),
            units,
            classes: Vec::new(),
            max_boxes: most.unwrap_or(problem.pieces.len()),
            stocks: Vec::new(),
            items,
            groups: Vec::new(),
        };
        task.add_stocks(problem);
        task.allow(problem);
        task.classify(problem);
        task.add_groups();
        task
    }

    fn add_groups(&mut self) {
        let mut groups: BTreeMap<(usize, i64), Vec<usize>> = BTreeMap::new();
        for (number, unit) in self.units.iter().enumerate() {
            for &wish in unit.wishes.iter().filter(|(_, price)| *price > 0) {
                groups.entry(wish).or_default().push(number);
            }
        }
        // A group of one unit is never torn.
        groups.retain(|_, units| units.len() > 1);
        for ((_, price), units) in groups {
            for &unit in &units {
                self.units[unit].groups.push(self.groups.len());
            }
            self.groups.push(price);
        }
    }

    /// The price of all groups that one box with a pattern touches, its first box of a group included.
    pub(crate) fn touched(&self, pattern: &[(usize, usize)]) -> i64 {
        let mut groups: Vec<usize> = pattern
            .iter()
            .flat_map(|&(class, _)| self.units[self.classes[class][0]].groups.iter().copied())
            .collect();
        groups.sort_unstable();
        groups.dedup();
        groups.into_iter().map(|group| self.groups[group]).sum()
    }

    fn add_stocks(&mut self, problem: &Problem) {
        for stock in &problem.stocks {
            let kinds: Vec<usize> =
                (0..self.kinds.len()).filter(|kind| stock.kinds.contains(kind)).collect();
            let count = usize::try_from(stock.count).unwrap_or(usize::MAX);
            for &kind in &kinds {
                self.kinds[kind].available = self.kinds[kind].available.min(count);
            }
            if kinds.len() > 1 {
                self.stocks.push((kinds, count));
            }
        }
    }

    /// Whether so many boxes, by kind, are to be had.
    pub(crate) fn are_had(&self, counts: &[usize]) -> bool {
        let drawn = |kinds: &[usize]| -> usize { kinds.iter().map(|&kind| counts[kind]).sum() };
        let each = self.kinds.iter().zip(counts).all(|(kind, count)| *count <= kind.available);
        each && self.stocks.iter().all(|(kinds, count)| drawn(kinds) <= *count)
    }

    /// What so many boxes, by kind, cost.
    pub(crate) fn cost(&self, counts: &[usize]) -> i64 {
        let boxes = self.kinds.iter().zip(counts);
        boxes.map(|(kind, &count)| kind.cost * i64::try_from(count).unwrap_or(0)).sum()
    }

    /// Whether one more box of a kind is to be had beside those that are taken, by kind.
    pub(crate) fn is_had(&self, taken: &[usize], kind: usize) -> bool {
        let mut counts = taken.to_vec();
        counts[kind] += 1;
        self.are_had(&counts)
    }

    fn allow(&mut self, problem: &Problem) {
        for (number, unit) in self.units.iter_mut().enumerate() {
            let items: Vec<Item> = unit.pieces.iter().map(|&piece| self.items[piece]).collect();
            let is_allowed = |(index, kind): (usize, &Kind)| {
                let own = &problem.kinds[index];
                let passes = |&piece: &usize| own.lets_in(&problem.pieces[piece]);
                unit.pieces.iter().all(passes)
                    && !problem.pins_elsewhere(index, &unit.pieces)
                    && kind.rows.iter().all(|row| row.weights[number] <= row.capacity)
                    && !kind.deck.refuses(&items)
            };
            unit.allowed = self.kinds.iter().enumerate().map(is_allowed).collect();
        }
    }

    /// Equal single pieces without ties to others, and of the same group if that has a price, are
    /// one class.
    fn classify(&mut self, problem: &Problem) {
        let mut known: BTreeMap<_, usize> = BTreeMap::new();
        for number in 0..self.units.len() {
            let unit = &self.units[number];
            let alone = unit.pieces.len() == 1 && self.apart[number].is_empty();
            let piece = &problem.pieces[unit.pieces[0]];
            let tie = if alone { 0 } else { number + 1 };
            let priced = unit.wishes.iter().filter(|(_, price)| *price > 0);
            let key = (
                piece.mass,
                piece.length,
                piece.width,
                piece.height,
                piece.may_turn,
                unit.allowed.clone(),
                priced.copied().collect::<Vec<_>>(),
                tie,
            );
            let next = self.classes.len();
            let class = *known.entry(key).or_insert(next);
            if class == next {
                self.classes.push(Vec::new());
            }
            self.classes[class].push(number);
            self.units[number].class = class;
        }
    }

    /// How many units each class has.
    pub(crate) fn demand(&self) -> Vec<usize> {
        self.classes.iter().map(Vec::len).collect()
    }

    /// Whether every box is a plain knapsack: one row, and that is the mass.
    pub(crate) fn is_plain(&self) -> bool {
        self.kinds.iter().all(|kind| kind.rows.len() == 1)
    }

    /// The pieces of a set of units, ascending: the oracle's answer depends on the order, and
    /// a set must get the same answer however its pieces are joined.
    pub(crate) fn pieces(&self, units: &[usize]) -> Vec<usize> {
        let units = units.iter();
        let mut pieces: Vec<usize> =
            units.flat_map(|&unit| self.units[unit].pieces.iter().copied()).collect();
        pieces.sort_unstable();
        pieces
    }

    /// Those pieces on the floor.
    pub(crate) fn floor_items(&self, pieces: &[usize]) -> Vec<Item> {
        pieces.iter().map(|&piece| self.items[piece]).collect()
    }
}

fn kinds(
    problem: &Problem,
    conditions: &[Vec<Condition>],
    units: &[&[usize]],
    items: &[Item],
) -> Vec<Kind> {
    let total = items.iter().map(|item| item.length).fold(0, i64::saturating_add);
    let mut kinds: Vec<Kind> = Vec::new();
    let served_by = problem.served_by();
    let own = problem.kinds.iter().zip(conditions).zip(served_by).enumerate();
    for (number, ((kind, conditions), served_by)) in own {
        let deck = Deck::of_kind(problem, number);
        let rows = rows(conditions, units);
        let alike = kinds.iter().find(|other| other.deck == deck);
        let available =
            kind.available.map_or(usize::MAX, |count| usize::try_from(count).unwrap_or(usize::MAX));
        kinds.push(Kind {
            cost: kind.cost,
            available: if served_by.is_some() { 0 } else { available.min(units.len()) },
            served_by,
            open: deck.limits.is_empty()
                && deck.line.is_none()
                && deck.entry.is_none()
                && total <= deck.length,
            lead: lead(&rows),
            rows,
            floor: alike.map_or(kinds.len(), |other| other.floor),
            bare: Deck { limits: Vec::new(), entry: None, ..deck.clone() },
            deck,
        });
    }
    kinds
}

fn wishes(problem: &Problem, pieces: &[usize]) -> Vec<(usize, i64)> {
    let wish = |&piece: &usize| match problem.groups[problem.pieces[piece].group?] {
        Grouping::Wish { price } => Some((problem.pieces[piece].group?, price)),
        _ => None,
    };
    let wishes: BTreeSet<(usize, i64)> = pieces.iter().filter_map(wish).collect();
    wishes.into_iter().collect()
}

/// Joins pieces by rule groups, pins, ties and joined groups.
fn bind(problem: &Problem, joined: &dyn Fn(usize) -> bool) -> Vec<Vec<usize>> {
    let mut root: Vec<usize> = (0..problem.pieces.len()).collect();
    let mut unite = |one: usize, other: usize| {
        let (a, b) = (root[one], root[other]);
        if a != b {
            for entry in &mut root {
                if *entry == a.max(b) {
                    *entry = a.min(b);
                }
            }
        }
    };
    let mut first: BTreeMap<usize, usize> = BTreeMap::new();
    for (piece, own) in problem.pieces.iter().enumerate() {
        if let Some(group) = own.group
            && (problem.groups[group] == Grouping::Rule || joined(group))
        {
            let head = *first.entry(group).or_insert(piece);
            unite(head, piece);
        }
    }
    for set in problem.pins.iter().map(|pin| &pin.pieces).chain(&problem.ties) {
        for pair in set.windows(2) {
            unite(pair[0], pair[1]);
        }
    }
    let mut bundles: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (piece, &root) in root.iter().enumerate() {
        bundles.entry(root).or_default().push(piece);
    }
    bundles.into_values().collect()
}
