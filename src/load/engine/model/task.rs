//! One destination's part of the problem, with what must travel together made into units.

use std::collections::{BTreeMap, BTreeSet};

use super::deck::{Deck, Item};
use super::problem::{Grouping, Problem};
use crate::load::engine::bounds::measure::{Measure, all_measures};

/// Pieces that travel as one.
#[derive(Clone, Debug)]
pub(crate) struct Unit {
    /// Indices into the problem, ascending.
    pub(crate) pieces: Vec<usize>,
    pub(crate) mass: i64,
    /// By kind of the task: whether a box of it could carry the unit alone.
    pub(crate) allowed: Vec<bool>,
    /// Equal units share a class.
    pub(crate) class: usize,
    /// Groups of its pieces that wish to stay together, each with the price of a box more.
    pub(crate) wishes: Vec<(usize, i64)>,
}

/// A necessary condition with its numbers at hand.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    pub(crate) capacity: i64,
    /// By unit.
    pub(crate) weights: Vec<i64>,
    /// Whether it counts by steps: a condition like any other, but no measure of size.
    pub(crate) stepped: bool,
}

/// A kind of box as the search sees it.
#[derive(Clone, Debug)]
pub(crate) struct Kind {
    /// Index into the problem.
    pub(crate) index: usize,
    pub(crate) cost: i64,
    pub(crate) available: usize,
    /// Mass first.
    pub(crate) rows: Vec<Row>,
    pub(crate) deck: Deck,
    /// The same without balance: whatever stands there still does with less or smaller on it.
    pub(crate) bare: Deck,
    /// Kinds whose floors answer alike share the oracle's memory.
    pub(crate) floor: usize,
    /// Everything would stand in one lane and nothing needs balance: rows decide alone.
    pub(crate) open: bool,
    /// The row that fills first.
    pub(crate) lead: usize,
}

/// Equal units and how many.
#[derive(Clone, Debug)]
pub(crate) struct Class {
    pub(crate) units: Vec<usize>,
}

/// A loading problem for one destination.
#[derive(Clone, Debug)]
pub(crate) struct Task {
    pub(crate) units: Vec<Unit>,
    pub(crate) kinds: Vec<Kind>,
    pub(crate) classes: Vec<Class>,
    /// By unit: those that may not share its box.
    pub(crate) apart: Vec<Vec<usize>>,
    pub(crate) max_boxes: usize,
    /// Kinds of which there are only so many together.
    pub(crate) stocks: Vec<(Vec<usize>, usize)>,
    /// By piece of the problem; pieces of other destinations are there but unused.
    pub(crate) items: Vec<Item>,
}

/// Nodes an exact floor search may take for one question.
const FLOOR_NODES: u32 = 3000;

impl Task {
    /// Builds the task of `destination`; groups for which `joined` holds travel as one unit.
    pub(crate) fn new(
        problem: &Problem,
        destination: usize,
        joined: &dyn Fn(usize) -> bool,
        max_boxes: usize,
    ) -> Self {
        let measures = all_measures(&problem.kinds, &problem.pieces);
        Self::by(problem, &measures, destination, joined, max_boxes)
    }

    /// The same by the measures of each kind, which take a while to choose.
    pub(crate) fn by(
        problem: &Problem,
        measures: &[Vec<Measure>],
        destination: usize,
        joined: &dyn Fn(usize) -> bool,
        max_boxes: usize,
    ) -> Self {
        let pieces: Vec<usize> = (0..problem.pieces.len())
            .filter(|&piece| problem.pieces[piece].destination == destination)
            .collect();
        let items: Vec<Item> = problem
            .pieces
            .iter()
            .map(|piece| Item {
                length: piece.length,
                width: piece.width,
                mass: piece.mass,
                may_turn: piece.may_turn,
            })
            .collect();
        let bundles = bind(problem, &pieces, joined);
        let mut units: Vec<Unit> = bundles
            .into_iter()
            .map(|pieces| Unit {
                mass: pieces.iter().map(|&piece| problem.pieces[piece].mass).sum(),
                wishes: wishes(problem, &pieces),
                pieces,
                allowed: Vec::new(),
                class: 0,
            })
            .collect();
        let size = |unit: &Unit| {
            let area = |piece: &usize| items[*piece].length * items[*piece].width;
            (unit.mass, unit.pieces.iter().map(area).sum::<i64>())
        };
        units.sort_by(|a, b| size(b).cmp(&size(a)).then(a.pieces.cmp(&b.pieces)));
        let mut task = Task {
            apart: apartness(problem, &units),
            units,
            kinds: Vec::new(),
            classes: Vec::new(),
            max_boxes,
            stocks: Vec::new(),
            items,
        };
        task.add_kinds(problem, measures, destination);
        task.add_stocks(problem);
        task.allow(problem);
        task.classify(problem);
        task
    }

    fn add_kinds(&mut self, problem: &Problem, measures: &[Vec<Measure>], destination: usize) {
        for ((index, kind), measures) in problem.kinds.iter().enumerate().zip(measures) {
            if kind.destination != destination {
                continue;
            }
            let total: i64 = self
                .units
                .iter()
                .flat_map(|unit| &unit.pieces)
                .map(|&piece| self.items[piece].length)
                .fold(0, i64::saturating_add);
            let deck = Deck::of(kind, FLOOR_NODES);
            let rows = rows(problem, index, measures, &self.units);
            let lead = lead(&rows);
            let floor = self
                .kinds
                .iter()
                .find(|other| other.deck == deck)
                .map_or(self.kinds.len(), |other| other.floor);
            let available = kind
                .available
                .map_or(usize::MAX, |count| usize::try_from(count).unwrap_or(usize::MAX));
            self.kinds.push(Kind {
                index,
                cost: kind.cost,
                available: available.min(self.units.len()),
                open: deck.limits.is_empty() && deck.line.is_none() && total <= deck.length,
                rows,
                bare: Deck { limits: Vec::new(), ..deck.clone() },
                deck,
                floor,
                lead,
            });
        }
    }

    fn add_stocks(&mut self, problem: &Problem) {
        for stock in &problem.stocks {
            let own = |(_, kind): &(usize, &Kind)| stock.kinds.contains(&kind.index);
            let kinds: Vec<usize> =
                self.kinds.iter().enumerate().filter(own).map(|(at, _)| at).collect();
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

    /// Whether one more box of a kind is to be had beside those that are taken, by kind.
    pub(crate) fn is_had(&self, taken: &[usize], kind: usize) -> bool {
        let mut counts = taken.to_vec();
        counts[kind] += 1;
        self.are_had(&counts)
    }

    fn allow(&mut self, problem: &Problem) {
        for (number, unit) in self.units.iter_mut().enumerate() {
            unit.allowed = self
                .kinds
                .iter()
                .map(|kind| {
                    let passes = unit.pieces.iter().all(|&piece| {
                        let (piece, kind) = (&problem.pieces[piece], &problem.kinds[kind.index]);
                        piece.height <= kind.door_height
                            && piece.width.min(piece.length) <= kind.door_width
                    });
                    let pinned = problem.pins.iter().all(|pin| {
                        pin.kind == kind.index
                            || pin.pieces.iter().all(|p| !unit.pieces.contains(p))
                    });
                    let items: Vec<Item> =
                        unit.pieces.iter().map(|&piece| self.items[piece]).collect();
                    passes
                        && pinned
                        && kind.rows.iter().all(|row| row.weights[number] <= row.capacity)
                        && !kind.deck.refuses(&items)
                })
                .collect();
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
                self.classes.push(Class { units: Vec::new() });
            }
            self.classes[class].units.push(number);
            self.units[number].class = class;
        }
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

fn wishes(problem: &Problem, pieces: &[usize]) -> Vec<(usize, i64)> {
    let wish = |&piece: &usize| match problem.groups[problem.pieces[piece].group?] {
        Grouping::Wish { price } => Some((problem.pieces[piece].group?, price)),
        _ => None,
    };
    let wishes: BTreeSet<(usize, i64)> = pieces.iter().filter_map(wish).collect();
    wishes.into_iter().collect()
}

/// Joins pieces by rule groups, pins, ties and joined groups.
fn bind(problem: &Problem, pieces: &[usize], joined: &dyn Fn(usize) -> bool) -> Vec<Vec<usize>> {
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
    for &piece in pieces {
        if let Some(group) = problem.pieces[piece].group
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
    for &piece in pieces {
        bundles.entry(root[piece]).or_default().push(piece);
    }
    bundles.into_values().collect()
}

fn apartness(problem: &Problem, units: &[Unit]) -> Vec<Vec<usize>> {
    let mut home = vec![usize::MAX; problem.pieces.len()];
    for (number, unit) in units.iter().enumerate() {
        for &piece in &unit.pieces {
            home[piece] = number;
        }
    }
    let mut apart = vec![Vec::new(); units.len()];
    let mut part = |one: usize, other: usize| {
        let (a, b) = (home[one], home[other]);
        if a != usize::MAX && b != usize::MAX && a != b {
            apart[a].push(b);
            apart[b].push(a);
        }
    };
    for &(one, other) in &problem.apart {
        part(one, other);
    }
    for (number, pin) in problem.pins.iter().enumerate() {
        for other in &problem.pins[..number] {
            part(pin.pieces[0], other.pieces[0]);
        }
    }
    for list in &mut apart {
        list.sort_unstable();
        list.dedup();
    }
    apart
}

/// Tasks of more units do without rows by steps: what those exclude only an exhaustive search
/// feels, and every row makes the pricing of patterns slower.
const STEPPED: usize = 64;

/// The rows of a kind that can bind, divided by their common divisor.
fn rows(problem: &Problem, index: usize, measures: &[Measure], units: &[Unit]) -> Vec<Row> {
    let kind = &problem.kinds[index];
    let mut rows: Vec<Row> = Vec::new();
    let few = units.len() <= STEPPED;
    for measure in measures {
        let stepped = matches!(
            measure,
            Measure::Steps(_)
                | Measure::WideSteps(_)
                | Measure::LineSteps(_)
                | Measure::Bars(_)
                | Measure::LineBars(_)
        );
        if stepped && !few {
            continue;
        }
        let weights: Vec<i128> = units
            .iter()
            .map(|unit| {
                unit.pieces.iter().map(|&piece| measure.weigh(kind, &problem.pieces[piece])).sum()
            })
            .collect();
        let capacity = measure.capacity(kind);
        let total: i128 = weights.iter().sum();
        let loose = weights.iter().any(|&weight| weight < 0) || total <= capacity;
        if *measure != Measure::Mass && loose {
            continue;
        }
        let divisor = weights.iter().fold(0, |a, &b| num_integer::gcd(a, b)).max(1);
        let small = |value: i128| i64::try_from(value).ok();
        let reduced: Option<Vec<i64>> =
            weights.iter().map(|&weight| small(weight / divisor)).collect();
        if let (Some(weights), Some(capacity)) = (reduced, small(capacity.div_euclid(divisor)))
            && !rows.iter().any(|row| row.capacity == capacity && row.weights == weights)
        {
            rows.push(Row { capacity, weights, stepped });
        }
    }
    let keep: Vec<bool> = (0..rows.len())
        .map(|at| {
            let before = |other: usize| other < at || !covers(&rows[at], &rows[other]);
            let mut others = (0..rows.len()).filter(|&other| other != at && before(other));
            at == 0 || !few || !others.any(|other| covers(&rows[other], &rows[at]))
        })
        .collect();
    rows.into_iter().zip(keep).filter_map(|(row, keep)| keep.then_some(row)).collect()
}

/// Whether what `one` allows `other` allows too; one by steps stands in for none that is not.
fn covers(one: &Row, other: &Row) -> bool {
    let share = |weight: i64, capacity: i64| i128::from(weight) * i128::from(capacity);
    one.capacity > 0
        && one.stepped <= other.stepped
        && one
            .weights
            .iter()
            .zip(&other.weights)
            .all(|(&own, &weight)| share(weight, one.capacity) <= share(own, other.capacity))
}

fn lead(rows: &[Row]) -> usize {
    (0..rows.len())
        .filter(|&row| !rows[row].stepped)
        .max_by_key(|&row| {
            let total: i128 = rows[row].weights.iter().map(|&weight| i128::from(weight)).sum();
            (total * 1_000_000 / i128::from(rows[row].capacity.max(1)), usize::MAX - row)
        })
        .unwrap_or(0)
}
