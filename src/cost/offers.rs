//! Offers are choices: every combination is costed, and the cheapest serves unless one is pinned.

use rayon::prelude::*;

use super::heavy::Kind;
use super::job::{Choice, Job};
use super::landed::{Landed, Unspread, gather, landed, unspread};
use super::pick::may_apply;
use super::sets::Sets;
use super::variants::variants;
use crate::fault::{Code, Fault, Report};
use crate::load::{self, Effort, Misfit, Plan, Proof, Variant};
use crate::quantity::Money;
use crate::trade::{Shipment, TableName, Tariffs};

/// A shipment costed at its cheapest choice of offers.
#[derive(Debug)]
pub struct Costed {
    /// The load.
    pub plan: Plan,
    /// The landed cost.
    pub landed: Landed,
    /// The offers it rests on.
    pub choice: Choice,
    /// The other choices that would serve, with their totals.
    pub others: Vec<(Choice, Money)>,
}

/// Costs a shipment. `None`: the faults are in the report. `Some(Err)`: the data is good, and some
/// bundles fit in no box.
pub fn estimate(
    shipment: &Shipment,
    tariffs: &Tariffs,
    effort: Effort,
    report: &mut Report,
) -> Option<Result<Costed, Vec<Misfit>>> {
    let choices = choices(shipment, tariffs, report)?;
    let mut best: Option<Box<Candidate>> = None;
    let mut others = Vec::new();
    let mut failed: Option<Report> = None;
    let mut misfits = None;
    let sets = Sets::new(shipment);
    // A few at a time, so that of many choices only the best is held.
    for some in choices.chunks(rayon::current_num_threads()) {
        let cost =
            |choice: &Choice| candidate(shipment, tariffs, choice.clone(), sets.clone(), effort);
        for outcome in some.par_iter().map(cost).collect::<Vec<_>>() {
            match outcome {
                Outcome::Sound(candidate) => {
                    let is_better = best
                        .as_ref()
                        .is_none_or(|best| candidate.total.amount() < best.total.amount());
                    let other = if is_better { best.replace(candidate) } else { Some(candidate) };
                    others.extend(other.map(|other| (other.choice, other.total)));
                }
                Outcome::Unfit(unfit) => {
                    misfits = Some(match misfits {
                        Some(first) => Misfit::in_every_way(first, Misfit::prove(&unfit)),
                        None => unfit,
                    });
                }
                Outcome::Faults(faults) => failed = failed.or(Some(faults)),
            }
        }
    }
    if let Some(best) = best {
        let Candidate { choice, plan, unspread, report: notices, .. } = *best;
        report.absorb(notices);
        // Only the choice that serves is spread over the slabs.
        let job = Job { shipment, tariffs, plan: &plan, choice: &choice };
        let landed = landed(job, unspread, report)?;
        return Some(Ok(Costed { plan, landed, choice, others }));
    }
    if let Some(unfit) = misfits {
        return Some(Err(unfit));
    }
    report.absorb(failed.unwrap_or_default());
    None
}

/// A choice of offers that works, with what it comes to.
struct Candidate {
    choice: Choice,
    plan: Plan,
    unspread: Unspread,
    total: Money,
    report: Report,
}

/// How a choice of offers fares.
enum Outcome {
    Sound(Box<Candidate>),
    Unfit(Vec<Misfit>),
    Faults(Report),
}

fn candidate(
    shipment: &Shipment,
    tariffs: &Tariffs,
    choice: Choice,
    sets: Sets,
    effort: Effort,
) -> Outcome {
    let mut report = Report::new();
    let Some(kinds) = variants(shipment, tariffs, &choice, &mut report) else {
        let (variants, boxes, proof) = (Vec::new(), Vec::new(), Proof::Given);
        let cost = Money::zero(shipment.yard.currency);
        let wishes = cost;
        let plan = Plan { variants, boxes, cost, wishes, lower_bound: None, proof };
        gather(Job { shipment, tariffs, plan: &plan, choice: &choice }, sets, &mut report);
        return Outcome::Faults(report);
    };
    let for_loader: Vec<Variant> = kinds.iter().map(Kind::for_loader).collect();
    let planned = |variants: &[Variant]| {
        let (bundles, yard) = (&shipment.bundles, &shipment.yard);
        load::plan(bundles, variants, yard, &shipment.load, effort, &|| billed(shipment))
    };
    let plan = if shipment.boxes.is_empty() {
        planned(&for_loader)
    } else {
        load::given(&shipment.bundles, &shipment.boxes, &for_loader, &shipment.load, &mut report)
    };
    let plan = match plan {
        // A tier's top has done its work; what limits the box are its real limits.
        Ok(plan) => load::with_variants(plan, kinds.into_iter().map(|kind| kind.variant).collect()),
        Err(misfits) => {
            // Nor is a tier's top a reason why a bundle fits in nothing.
            let last = kinds.into_iter().filter(|kind| kind.top.is_none());
            let last: Vec<Variant> = last.map(|kind| kind.variant).collect();
            let has_tiers = last.len() < for_loader.len();
            let again = has_tiers.then(|| planned(&last).err()).flatten();
            return Outcome::Unfit(again.unwrap_or(misfits));
        }
    };
    let plan = judged(plan, shipment, &mut report);
    let job = Job { shipment, tariffs, plan: &plan, choice: &choice };
    let Some(unspread) = unspread(job, sets, &mut report) else { return Outcome::Faults(report) };
    match unspread.total(shipment.yard.currency) {
        Some(total) => {
            Outcome::Sound(Box::new(Candidate { choice, plan, unspread, total, report }))
        }
        None => Outcome::Faults(report),
    }
}

/// The billed area of each bundle, in mm2.
fn billed(shipment: &Shipment) -> Vec<i64> {
    let mut all = vec![0i64; shipment.bundles.len()];
    for slab in &shipment.slabs {
        let bundle = usize::try_from(slab.bundle).ok().and_then(|at| all.get_mut(at));
        if let Some(all) = bundle {
            *all = all.saturating_add(slab.billed_area.mm2_down());
        }
    }
    all
}

/// A given load with a warning for each limit that it breaks: no bound holds for one that does.
fn judged(plan: Plan, shipment: &Shipment, report: &mut Report) -> Plan {
    if plan.proof != Proof::Given {
        return plan;
    }
    let broken = load::breaches(&plan, &shipment.bundles, &shipment.yard);
    for breach in &broken {
        report.add(breach.warning(&plan));
    }
    Plan { lower_bound: plan.lower_bound.filter(|_| broken.is_empty()), ..plan }
}

/// Every choice of one offer per table, in file order; pins leave no choice.
pub(super) fn choices(
    shipment: &Shipment,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Option<Vec<Choice>> {
    let mut all = vec![Choice::default()];
    for (table, word) in TableName::ALL {
        let mut offers: Vec<&str> = Vec::new();
        for row in tariffs.charges.iter().filter(|row| row.table == table) {
            if let Some(offer) = row.offer.as_deref()
                && may_apply(shipment, row)
                && !offers.contains(&offer)
            {
                offers.push(offer);
            }
        }
        if let Some(pin) = shipment.pin(table) {
            if !offers.contains(&pin.value.as_str()) {
                report.add(
                    Fault::error(
                        Code::UnknownReference,
                        format!(
                            "rates/{word}.toml has no offer \"{}\" for this shipment",
                            pin.value
                        ),
                    )
                    .at(&pin.place, "pinned here")
                    .help(format!("offers that would serve: {}", offers.join(", "))),
                );
                return None;
            }
            offers = vec![pin.value.as_str()];
        }
        if offers.is_empty() {
            continue;
        }
        all = all
            .iter()
            .flat_map(|choice| offers.iter().map(|offer| choice.with(table, offer)))
            .collect();
    }
    Some(all)
}
