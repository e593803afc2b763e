//! The whole: destinations one by one, bounds, first plans, repair, polish, proof.

use std::collections::BTreeSet;

use crate::load::engine::bounds::certificate::{Part, Weighing};
use crate::load::engine::bounds::measure::{Measure, all_measures};
use crate::load::engine::model::effort::{Effort, Work};
use crate::load::engine::model::misfit::{Misfit, Reason, misfits, whole};
use crate::load::engine::model::problem::{Loaded, Placed, Problem};
use crate::load::engine::model::task::Task;
use crate::load::engine::model::validate::validate;
use crate::load::engine::search::destination::{Outcome, plan};

/// A plan with its cost and how much of it is proven.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Solved {
    /// The boxes, by kind and then by their first piece.
    pub boxes: Vec<Loaded>,
    /// Boxes and broken wishes, in minor currency units.
    pub cost: i64,
    /// No plan costs less.
    pub lower_bound: i64,
    /// Whether the two meet.
    pub proof: Proof,
    /// The price of the wishes that every plan breaks: it is part of the bound.
    pub torn: i64,
    /// The argument of the bound, destination by destination, wishes aside.
    pub certificate: Vec<Part>,
}

/// What is known of the plan's cost.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Proof {
    /// It is the least possible.
    Proven,
    /// It may not be; the reason is for people.
    Gap {
        /// Why the two do not meet.
        reason: &'static str,
    },
}

/// Solves the problem within the effort, or says what cannot be loaded and why.
///
/// # Errors
/// The flaws of the problem, the pieces that fit no kind, or the destinations whose boxes do
/// not suffice.
pub fn solve(problem: &Problem, effort: &Effort) -> Result<Solved, Vec<Misfit>> {
    let flaws = validate(problem);
    if !flaws.is_empty() {
        return Err(flaws.into_iter().map(|flaw| whole(&[], Reason::Flawed(flaw))).collect());
    }
    let destinations: BTreeSet<usize> =
        problem.pieces.iter().map(|piece| piece.destination).collect();
    let most = problem
        .max_boxes
        .and_then(|most| usize::try_from(most).ok())
        .unwrap_or(problem.pieces.len());
    let measures = all_measures(&problem.kinds, &problem.pieces);
    let mut bad = Vec::new();
    for &destination in &destinations {
        let task = Task::by(problem, &measures, destination, &|_| false, most);
        bad.extend(misfits(problem, &task));
    }
    if !bad.is_empty() {
        return Err(bad);
    }
    let mut work = Work::new(effort.units);
    let mut outcomes = Vec::new();
    for (rank, &destination) in destinations.iter().enumerate() {
        let share = u64::try_from(destinations.len() - rank).unwrap_or(1);
        let mut purse = work.purse(work.left() / share);
        outcomes.push(plan((problem, &measures), destination, most, &mut purse)?);
        work.settle(&purse);
    }
    if outcomes.iter().map(|outcome| outcome.boxes.len()).sum::<usize>() > most {
        outcomes = share_boxes((problem, &measures), outcomes, most, effort.units)?;
    }
    Ok(assemble(problem, outcomes))
}

/// Takes boxes away from the destinations, one at a time where it costs least, until no more
/// than `most` are used in all. The bound stays that of the destinations alone.
fn share_boxes(
    (problem, measures): (&Problem, &[Vec<Measure>]),
    outcomes: Vec<Outcome>,
    most: usize,
    units: u64,
) -> Result<Vec<Outcome>, Vec<Misfit>> {
    let mut outcomes = outcomes;
    while outcomes.iter().map(|outcome| outcome.boxes.len()).sum::<usize>() > most {
        let mut best: Option<(i64, usize, Outcome)> = None;
        for (rank, outcome) in outcomes.iter().enumerate() {
            let fewer = outcome.boxes.len() - 1;
            let mut purse = Work::new(units / 8);
            let Ok(next) = plan((problem, measures), outcome.destination, fewer, &mut purse) else {
                continue;
            };
            let dearer = next.cost - outcome.cost;
            if best.as_ref().is_none_or(|(least, _, _)| dearer < *least) {
                best = Some((dearer, rank, next));
            }
        }
        let Some((_, rank, next)) = best else {
            let all: Vec<usize> = (0..problem.pieces.len()).collect();
            return Err(vec![whole(&all, Reason::NotEnoughBoxes(false))]);
        };
        let before = &outcomes[rank];
        let reason = Some("the most boxes allowed were shared out by steps");
        outcomes[rank] = Outcome { bound: before.bound, reason, ..next };
    }
    Ok(outcomes)
}

fn assemble(problem: &Problem, outcomes: Vec<Outcome>) -> Solved {
    let mut boxes: Vec<Loaded> = Vec::new();
    let mut certificate = Vec::new();
    let (mut cost, mut lower_bound, mut torn) = (0, 0, 0);
    let mut proof = Proof::Proven;
    for outcome in outcomes {
        cost += outcome.cost;
        lower_bound += outcome.bound;
        torn += outcome.torn;
        if let Some(reason) = outcome.reason {
            proof = Proof::Gap { reason };
        }
        certificate.push(outcome.part());
        for (kind, spots) in outcome.boxes {
            let own = &problem.kinds[kind];
            let mut places: Vec<Placed> = spots
                .into_iter()
                .map(|(piece, spot)| Placed {
                    piece,
                    x: spot.x + own.gap_end,
                    y: spot.y + own.gap_side,
                    turned: spot.turned,
                })
                .collect();
            places.sort_unstable();
            boxes.push(Loaded { kind, places });
        }
    }
    boxes.sort();
    if cost == lower_bound {
        proof = Proof::Proven;
    }
    Solved { boxes, cost, lower_bound, proof, torn, certificate }
}

impl Outcome {
    /// The proofs in terms of the problem.
    fn part(&self) -> Part {
        let (task, ledger) = &self.free;
        let index = |kind: usize| task.kinds[kind].index;
        let cuts = ledger
            .cuts
            .iter()
            .map(|cut| Weighing {
                weights: task
                    .units
                    .iter()
                    .zip(&cut.weights)
                    .map(|(unit, &weight)| (unit.pieces.clone(), weight))
                    .collect(),
                capacity: cut
                    .capacity
                    .iter()
                    .enumerate()
                    .map(|(kind, &room)| (index(kind), room))
                    .collect(),
            })
            .collect();
        let exhausted = ledger
            .refuted
            .iter()
            .map(|counts| {
                let counts = counts.iter().enumerate();
                counts
                    .map(|(kind, &count)| (index(kind), u32::try_from(count).unwrap_or(u32::MAX)))
                    .collect()
            })
            .collect();
        // Vectors are exhausted below the plan's cost.
        let bound = ledger.bound.min(self.cost);
        Part { destination: self.destination, bound, cuts, exhausted }
    }
}
