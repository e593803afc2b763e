//! The whole: a problem in, a plan with its proof out.

use super::bounds::certificate::Certificate;
use super::bounds::measure::conditions;
use super::model::deck::Position;
use super::model::effort::Effort;
use super::model::misfit::{Cause, Infeasible, misfits, whole};
use super::model::problem::{Loaded, Placed, Problem};
use super::model::task::Task;
use super::model::validate::validate;
use super::search::soft_groups::{Outcome, plan};

/// A plan with its cost and how much of it is proven.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Solved {
    /// The boxes, by kind and then by their first piece.
    pub boxes: Vec<Loaded>,
    /// Boxes and broken wishes, in minor currency units.
    pub cost: i64,
    /// No plan costs less.
    pub lower_bound: i64,
    /// Whether the bound reaches the cost.
    pub proof: Optimality,
    /// The price of the wishes that every plan breaks: it is part of the bound.
    pub torn: i64,
    /// The argument for the bound, the price of wishes left out.
    pub certificate: Certificate,
}

/// What is known of the plan's cost.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Optimality {
    /// It is the least possible.
    Proven,
    /// A cheaper plan is not excluded. The reason is a sentence for people.
    Gap {
        /// Why the bound does not reach the cost.
        reason: &'static str,
    },
}

/// Solves the problem within the effort, or says what cannot be loaded and why.
///
/// # Errors
/// The flaws of the problem, the pieces that fit no kind, or all of them where the boxes to be
/// had do not suffice.
pub fn solve(problem: &Problem, effort: &Effort) -> Result<Solved, Vec<Infeasible>> {
    let flaws = validate(problem);
    if !flaws.is_empty() {
        return Err(flaws.into_iter().map(|flaw| whole(&[], Cause::Flawed(flaw))).collect());
    }
    let conditions = conditions(problem);
    let task = Task::new(problem, &conditions, &|_| false);
    let misfits = misfits(problem, &task);
    if !misfits.is_empty() {
        return Err(misfits);
    }
    let outcome = plan(problem, &conditions, &task, effort)?;
    Ok(assemble(problem, outcome))
}

/// The outcome in the order of the kinds, places measured from the corner of the box.
fn assemble(problem: &Problem, outcome: Outcome) -> Solved {
    let Outcome { boxes, cost, bound, torn, certificate } = outcome;
    let mut boxes: Vec<Loaded> = boxes
        .into_iter()
        .map(|(kind, spots)| {
            let own = &problem.kinds[kind];
            let place = |(piece, spot): (usize, Position)| spot.placed(piece, own);
            let mut places: Vec<Placed> = spots.into_iter().map(place).collect();
            places.sort_unstable();
            Loaded { kind, places }
        })
        .collect();
    boxes.sort();
    let proof = if bound < cost {
        Optimality::Gap { reason: "the effort ran out before plan and bound met" }
    } else {
        Optimality::Proven
    };
    Solved { boxes, cost, lower_bound: bound, proof, torn, certificate }
}
