//! The engine's answer as a plan, looked at twice before it is given.

use super::engine::{self, Effort, Entry, Exchanged, Grouping, Loaded, Problem, Rating, Redone};
use super::kept;
use super::kinds::by_ways;
use super::known::{Known, Searched};
use super::order::entry;
use super::plan::{Chosen, FilledBox, Misfit, Plan, Proof, Spot, Variant};
use super::preference::rating;
use super::problem::problem;
use super::unfit::Case;
use super::{stock, wishes};
use crate::quantity::{Money, Units};
use crate::trade::{Bundle, LoadWishes, Yard};

/// Loads bundles at least cost. Blocks stay together where that costs nothing. What each bundle is
/// `worth` is asked only where some must wait for want of containers. What is `known` is not searched for again,
/// nor at other costs where boxes are said to cost the same whatever is in them.
///
/// # Errors
/// The bundles that no box carries, each with the reason.
pub fn plan(
    bundles: &[Bundle],
    variants: &[Variant],
    yard: &Yard,
    wishes: &LoadWishes,
    (effort, units, known): (Effort, Units, (&Known, bool)),
    worth: &dyn Fn() -> Vec<i64>,
) -> Result<Plan, Vec<Misfit>> {
    let refused = |(at, bundle): (usize, &Bundle)| {
        let reasons = yard.refuses(bundle.limit_mass, units);
        (!reasons.is_empty()).then(|| Misfit::of(at, reasons.join("; ")))
    };
    let too_heavy: Vec<Misfit> = bundles.iter().enumerate().filter_map(refused).collect();
    if !too_heavy.is_empty() {
        return Err(too_heavy);
    }
    let (ways, variant_of) = by_ways(variants);
    let case = Case { bundles, variants: &ways, wishes, units, worth };
    let (problem, Searched { solved, exchanged }) = solve(&case, effort, known)?;
    if !engine::check(&problem, &solved.boxes, solved.cost).is_empty() {
        // The checker shares nothing with the search: where they disagree, no plan is shown.
        return Err(vec![Misfit::whole("no load was found that holds when it is checked again")]);
    }
    let currency = variants.first().map(|variant| variant.cost.currency());
    let money = |minor: i64| currency.map(|currency| Money::from_minor(minor, currency));
    let (Some(both), Some(lower_bound)) = (money(solved.cost), money(solved.lower_bound)) else {
        return Err(vec![Misfit::whole("there is no kind of box")]);
    };
    let as_boxes = |all: &[Loaded]| {
        let mut boxes: Vec<FilledBox> =
            all.iter().enumerate().map(|(index, loaded)| filled(index, loaded)).collect();
        for one in &mut boxes {
            one.variant = variant_of.get(one.variant).copied().unwrap_or(one.variant);
        }
        wishes::label(&mut boxes, &wishes.fixed);
        boxes
    };
    let mut boxes = as_boxes(&exchanged.boxes);
    for (at, one) in boxes.iter_mut().enumerate() {
        one.settled = is_settled(&exchanged, &variant_of, at);
    }
    let gathered = (exchanged.boxes != solved.boxes).then(|| as_boxes(&solved.boxes));
    let broken_wishes = kept::price(&boxes, bundles, wishes, both.currency());
    let each = boxes.iter().filter_map(|one| variants.get(one.variant));
    let caused = Money::total(both.currency(), each.map(|variant| variant.caused));
    let parts = broken_wishes.and_then(|price| {
        caused.and_then(|caused| Ok((both.minus(price)?.minus(caused)?, price, caused)))
    });
    let (cost, broken_wishes, caused) =
        parts.map_err(|overflow| vec![Misfit::whole(overflow.to_string())])?;
    let proof = match solved.proof {
        engine::Optimality::Proven => Proof::Proven,
        engine::Optimality::Gap { reason } => Proof::Gap(reason.to_owned()),
    };
    let (variants, lower_bound) = (variants.to_vec(), Some(lower_bound));
    let wishes = broken_wishes;
    Ok(Plan { variants, boxes, gathered, cost, caused, wishes, lower_bound, proof })
}

/// Whether no exchange with another box of the variant is better. Boxes whose doors look another way are kinds of
/// their own, and nothing is exchanged between them.
fn is_settled(exchanged: &Exchanged, variant_of: &[usize], at: usize) -> bool {
    let variant = |one: &Loaded| variant_of.get(one.kind);
    let own = exchanged.boxes.get(at);
    let is_alike = |other: &&Loaded| own.is_some_and(|own| variant(own) == variant(other));
    let mut alike = exchanged.boxes.iter().filter(is_alike);
    exchanged.settled.get(at).is_some_and(|settled| *settled)
        && alike.all(|other| own.is_some_and(|own| own.kind == other.kind))
}

/// Solves for every way to choose the variants of fixed boxes and keeps the cheapest plan; no plan
/// is below the least of the bounds.
fn solve(
    case: &Case<'_>,
    effort: Effort,
    (known, any_will_do): (&Known, bool),
) -> Result<(Problem, Searched), Vec<Misfit>> {
    let Case { bundles, variants, wishes, .. } = *case;
    let terms: Vec<(Rating, Entry)> = variants
        .iter()
        .map(|variant| (rating(&variant.container), entry(&variant.container)))
        .collect();
    let mut best: Option<(Problem, Searched)> = None;
    let mut least_bound: Option<i64> = None;
    let mut failed = Vec::new();
    for pins in wishes::ways(wishes, variants)? {
        let mut problem = problem(bundles, variants);
        wishes::ask(&mut problem, wishes);
        stock::ask(&mut problem, variants, &wishes.available);
        problem.pins = pins;
        let search = || {
            let solved = proven_again(&problem, engine::solve(&problem, &effort)?);
            let exchanged = if any_will_do {
                engine::exchange(&problem, &solved.boxes, solved.cost, &terms)
            } else {
                // What a box costs may hang on what is in it.
                Exchanged::none(&solved.boxes)
            };
            Ok(Searched { solved, exchanged })
        };
        match known.or(&problem, (effort.units, any_will_do), search) {
            Ok(found) => {
                let bound = found.solved.lower_bound;
                least_bound = Some(least_bound.map_or(bound, |least| least.min(bound)));
                if best.as_ref().is_none_or(|(_, best)| found.solved.cost < best.solved.cost) {
                    best = Some((problem, found));
                }
            }
            Err(all) => {
                let proven = is_proven(&all);
                if !proven {
                    // No lower bound is known for this choice.
                    least_bound = Some(0);
                }
                failed = if failed.is_empty() {
                    case.misfits(&all, &problem)
                } else {
                    Misfit::in_every_way(failed, proven)
                };
            }
        }
    }
    let Some((problem, mut found)) = best else { return Err(failed) };
    let solved = &mut found.solved;
    solved.lower_bound = least_bound.unwrap_or(solved.lower_bound);
    if solved.lower_bound < solved.cost && solved.proof == engine::Optimality::Proven {
        solved.proof =
            engine::Optimality::Gap { reason: "another choice of classes is not excluded" };
    }
    Ok((problem, found))
}

/// Whether the engine's answer is a proof, and not that it found no load.
fn is_proven(all: &[engine::Infeasible]) -> bool {
    let is_open = |misfit: &engine::Infeasible| {
        misfit.refusals.iter().any(|one| one.reason == engine::Cause::NotEnoughBoxes(false))
    };
    all.iter().any(|misfit| !is_open(misfit))
}

/// Steps that redoing a certificate may take, over all of its questions.
const REDO_LOOKS: usize = 5_000_000;

/// Has the checker redo the argument of the bound; it shares only the measures with the search. A
/// bound that does not follow from its argument is not shown. One that the checker cannot settle in
/// its steps, or that rests on a finished search, stands.
fn proven_again(problem: &Problem, solved: engine::Solved) -> engine::Solved {
    let certificate = &solved.certificate;
    let questions = certificate.cuts.len() * problem.kinds.len();
    let looks = questions.saturating_mul(problem.pieces.len()).max(1);
    let steps = u64::try_from(REDO_LOOKS / looks).unwrap_or(0).max(100);
    // Plans that break no wish have an argument of their own; the others pay for one.
    let wish = problem.groups.iter().filter_map(|group| match group {
        Grouping::Wish { price } => Some(*price),
        _ => None,
    });
    let wish = wish.min().unwrap_or(0);
    let is_argued = solved.lower_bound <= certificate.bound.saturating_add(wish);
    if is_argued && engine::redo(problem, certificate, steps) != Redone::Fails {
        return solved;
    }
    let proof =
        engine::Optimality::Gap { reason: "the bound did not hold when it was checked again" };
    engine::Solved { proof, lower_bound: 0, ..solved }
}

fn filled(index: usize, loaded: &engine::Loaded) -> FilledBox {
    let spots: Vec<Spot> = loaded
        .places
        .iter()
        .map(|place| Spot { bundle: place.piece, x: place.x, y: place.y, turned: place.turned })
        .collect();
    FilledBox {
        label: (index + 1).to_string(),
        variant: loaded.kind,
        bundles: spots.iter().map(|spot| spot.bundle).collect(),
        spots: Some(spots),
        chosen: Chosen::BestFound,
        settled: false,
        number: None,
        seal: None,
        tare: None,
        dunnage: None,
        timber: None,
        measured: None,
    }
}
