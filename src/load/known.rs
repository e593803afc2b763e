//! Loads that were searched for before: one problem is not searched twice.
//!
//! A search is a pure function of its problem and its effort, so what is kept is what it would find again.
//! Where a shipment is costed at many prices, its load hangs on few of them or on none.
//!
//! Decided on 2026-11-27. Which boxes hold which bundles hangs on no price. So a load that is known, priced
//! anew, is the cheapest wherever the cuts of the known certificates reach its cost. It need not be the one
//! that a search would find: another may cost the loader the same. So it serves only where one asks for it, by
//! [`Known::at_other_costs`], and where any load of the least cost will do: boxes cost the same whatever is in them.

use std::sync::{Mutex, PoisonError};

use super::audit::audit_cost;
use super::engine::{Certificate, Exchanged, Grouping, Infeasible, Optimality, Problem, Solved};
use super::judge::{Laid, Verdict, judge};
use super::plan::{Plan, Proof, Spot, Variant};
use super::sure::Sure;
use crate::quantity::Units;
use crate::trade::{Offers, Shipment, Tariffs};

/// More problems than are kept (a choice of ours): they are looked through one by one.
const MOST_KEPT: usize = 1_024;

/// Looks at vectors of boxes that the argument of one load may take (a choice of ours).
const LOOKS: u64 = 20_000;

/// The problems that were solved, each with its effort and what was found.
#[derive(Debug, Default)]
pub struct Known {
    kept: Mutex<Vec<Kept>>,
    /// What serves at other costs.
    settled: Vec<(Problem, u64, Searched)>,
    /// The verdicts on loads, where nothing but costs moves: no limit hangs on them.
    judged: Option<Mutex<Vec<(Load, Verdict)>>>,
}

/// A kind of box: its type, road class and offers.
type Kind = (String, Option<String>, Offers);

/// A load as limits see it: of which shipment, in which units it is told, the kinds of boxes there are, and of each box
/// its kind with what stands where in it.
type Load = (String, Units, Vec<Kind>, Vec<(Option<Kind>, Vec<usize>, Option<Vec<Spot>>)>);

fn load(plan: &Plan, shipment: &Shipment, units: Units) -> Load {
    let kind = |one: &Variant| (one.container.id.clone(), one.class.clone(), one.offers.clone());
    let mut kinds: Vec<Kind> = plan.variants.iter().map(kind).collect();
    kinds.dedup();
    let boxes = plan
        .boxes
        .iter()
        .map(|one| (plan.variant(one).map(kind), one.bundles.clone(), one.spots.clone()));
    (shipment.name.clone(), units, kinds, boxes.collect())
}

/// The load that a search found, its spare in one box, and the same after exchanges.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Searched {
    pub(super) solved: Solved,
    pub(super) exchanged: Exchanged,
}

/// A problem, how it was asked, and what was found.
type Kept = (Problem, Asked, Found);

/// The units of effort, and whether any load of the least cost will do.
type Asked = (u64, bool);

/// What a search finds.
type Found = Result<Searched, Vec<Infeasible>>;

impl Known {
    /// What is known by now, for the same shipments where nothing but costs moves: loads serve at other costs of boxes,
    /// too, if the least cost is proven of them.
    /// Which of them are kept must not hang on who came first: where there are too many, none serves.
    #[must_use]
    pub fn at_other_costs(&self) -> Self {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner).clone();
        if kept.len() >= MOST_KEPT {
            return Self {
                kept: Mutex::new(kept),
                judged: Some(Mutex::default()),
                ..Self::default()
            };
        }
        let solved = kept.iter().filter_map(|(problem, (units, _), found)| {
            let searched = found.as_ref().ok()?;
            let serves = searched.solved.proof == Optimality::Proven && !has_priced_wish(problem);
            serves.then(|| (problem.clone(), *units, searched.clone()))
        });
        let settled = solved.collect();
        Self { kept: Mutex::new(kept), settled, judged: Some(Mutex::default()) }
    }

    /// Judges a load. Where nothing but costs moves, of a load that was judged its cost alone is looked at again.
    pub fn judge(
        &self,
        plan: &Plan,
        laid: Laid,
        (shipment, tariffs): (&Shipment, &Tariffs),
        units: Units,
    ) -> Verdict {
        // Of boxes that somebody filled places are looked for, too.
        let Some(judged) = self.judged.as_ref().filter(|_| plan.proof != Proof::Given) else {
            return judge(plan, laid, (shipment, tariffs), units);
        };
        let own = load(plan, shipment, units);
        let judged = || judged.lock().unwrap_or_else(PoisonError::into_inner);
        let found = judged().iter().find(|(one, _)| *one == own).map(|(_, known)| known.clone());
        if let Some(mut known) = found {
            known.sure = Sure::of(&plan.proof, &known.unknown);
            let cost = audit_cost(plan).unwrap_or_else(|overflow| Some(overflow.to_string()));
            let cost = cost.filter(|_| known.holds());
            known.audit.extend(cost.map(|what| (what, shipment.packing_file.clone())));
            return known;
        }
        let verdict = judge(plan, laid, (shipment, tariffs), units);
        let mut judged = judged();
        // What the audit finds may be of a cost.
        if verdict.audit.is_empty() && judged.len() < MOST_KEPT {
            judged.push((own, verdict.clone()));
        }
        verdict
    }

    /// What is known of a problem at an effort of so many units, or else what a search finds. Where any load of
    /// the least cost will do, one that is known at other costs may serve.
    pub(super) fn or(
        &self,
        problem: &Problem,
        asked: Asked,
        search: impl FnOnce() -> Found,
    ) -> Found {
        let kept = || self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let same = |(other, own, _): &&Kept| *own == asked && other == problem;
        if let Some((.., found)) = kept().iter().find(same) {
            return found.clone();
        }
        let (units, any_will_do) = asked;
        if let Some(found) = any_will_do.then(|| self.priced_anew(problem, units)).flatten() {
            return Ok(found);
        }
        // Nobody waits for a search of something else.
        let found = search();
        let mut kept = kept();
        if kept.len() < MOST_KEPT && !kept.iter().any(|one| same(&one)) {
            kept.push((problem.clone(), asked, found.clone()));
        }
        found
    }

    /// The cheapest load of a problem that is known but for what its boxes cost, where no load costs less.
    fn priced_anew(&self, problem: &Problem, units: u64) -> Option<Searched> {
        let like = |(other, spent, _): &&(Problem, u64, Searched)| {
            *spent == units && is_same_but_for_costs(other, problem)
        };
        let like: Vec<&Searched> = self.settled.iter().filter(like).map(|(.., one)| one).collect();
        let priced = like.iter().filter_map(|one| Some((priced(problem, &one.solved)?, *one)));
        let (cost, best) = priced.min_by_key(|(cost, one)| (*cost, &one.solved.boxes))?;
        let certificates = || like.iter().map(|one| &one.solved.certificate);
        let cuts = certificates().flat_map(|one| &one.cuts);
        let exhausted = certificates().flat_map(|one| &one.exhausted);
        let certificate = Certificate {
            bound: cost,
            torn: 0,
            cuts: once_each(cuts),
            exhausted: once_each(exhausted),
        };
        certificate.reaches(problem, LOOKS).then(|| Searched {
            solved: Solved {
                boxes: best.solved.boxes.clone(),
                cost,
                lower_bound: cost,
                proof: Optimality::Proven,
                torn: 0,
                certificate,
            },
            exchanged: best.exchanged.clone(),
        })
    }
}

fn once_each<'a, T: PartialEq + Clone + 'a>(all: impl Iterator<Item = &'a T>) -> Vec<T> {
    let mut each: Vec<T> = Vec::new();
    for one in all {
        if !each.contains(one) {
            each.push(one.clone());
        }
    }
    each
}

/// What the boxes of a load cost by the prices of a problem.
fn priced(problem: &Problem, solved: &Solved) -> Option<i64> {
    let mut boxes = solved.boxes.iter();
    boxes.try_fold(0i64, |sum, one| sum.checked_add(problem.kinds.get(one.kind)?.cost))
}

/// Whether a broken wish costs something: then a vector that was searched in vain may hold a dearer load.
fn has_priced_wish(problem: &Problem) -> bool {
    problem.groups.iter().any(|group| matches!(group, Grouping::Wish { price } if *price > 0))
}

fn is_same_but_for_costs(one: &Problem, other: &Problem) -> bool {
    if one.kinds.len() != other.kinds.len() || one.pieces != other.pieces {
        return false;
    }
    let mut priced = one.clone();
    for (kind, other) in priced.kinds.iter_mut().zip(&other.kinds) {
        kind.cost = other.cost;
    }
    priced == *other
}

#[cfg(test)]
mod tests {
    use std::cell::Cell;

    use super::*;
    use crate::load::engine::testing::{box_kind, piece};
    use crate::load::engine::{Effort, solve};

    const UNITS: u64 = 1_000_000;

    fn searched(problem: &Problem) -> Found {
        let solved = solve(problem, &Effort::of(UNITS))?;
        Ok(Searched { exchanged: Exchanged::none(&solved.boxes), solved })
    }

    /// Nine pieces of 40 in boxes of 100, of 130 and of 210, at these costs.
    fn at(costs: [i64; 3]) -> Problem {
        let kind = |(payload, cost)| box_kind(payload, 400, 100, cost);
        Problem {
            pieces: vec![piece(40, 60, 60); 9],
            kinds: [100, 130, 210].into_iter().zip(costs).map(kind).collect(),
            ..Problem::default()
        }
    }

    #[test]
    fn a_load_that_is_known_at_other_costs_serves_where_it_is_the_cheapest_and_nowhere_else() {
        let known = Known::default();
        let first = at([50, 61, 100]);
        let found = known.or(&first, (UNITS, true), || searched(&first)).unwrap().solved;
        // By hand: two, three and five in a box, so three boxes of three, as two of five are 200.
        assert_eq!((found.cost, found.proof), (183, Optimality::Proven));
        let known = known.at_other_costs();
        let mut served = 0;
        let large = |small| (80..=110).step_by(3).map(move |large| [small, 61, large]);
        for costs in (36..=56).step_by(4).flat_map(large) {
            let problem = at(costs);
            let own = searched(&problem).unwrap().solved;
            let searches = Cell::new(0);
            let search = || {
                searches.set(searches.get() + 1);
                searched(&problem)
            };
            let any = known.or(&problem, (UNITS, true), search).unwrap().solved;
            assert_eq!((any.cost, any.lower_bound), (own.cost, own.lower_bound), "{costs:?}");
            served += 1 - searches.get();
            // Where any load will not do, it is the one that a search finds.
            let found = known.or(&problem, (UNITS, false), || searched(&problem)).unwrap();
            assert_eq!(found.solved, own);
        }
        assert!((20..66).contains(&served), "{served}");
    }
}
