//! Offers are choices: every combination is costed, and the cheapest serves unless one is pinned.
//!
//! Decided on 2026-11-26. Of choices for a given load, one that breaks no limit comes first. What it costs
//! comes second.

use rayon::prelude::*;

use super::candidates::{mixed, offered, whole};
use super::fallen::{Failed, Fallen, fallen};
use super::least::{UnderLeast, under_least};
use super::objective::Worth;
use crate::bill::Sets;
use crate::charges::{
    Caused, Charged, Choice, Desk, Job, KindOfBox, billed, charged, check_policies, check_prices,
    gather, variants,
};
use crate::cost::{Landed, landed};
use crate::fault::{Report, Reported};
use crate::load::{self, Effort, Known, Laid, Misfit, Plan, Proof, Variant, Verdict};
use crate::price::{Order, Why, order, purposes, told, told_all};
use crate::quantity::{Decimal, Money};
use crate::trade::{Shipment, Tariffs};

/// How often a load is planned anew for its timber (a choice of ours).
const MOST_PLANS: usize = 4;

/// A shipment costed at its cheapest choice of offers.
#[derive(Debug)]
pub struct Costed {
    /// The load.
    pub plan: Plan,
    /// Whether it holds.
    pub verdict: Verdict,
    /// The landed cost.
    pub landed: Landed,
    /// The offers it rests on.
    pub choice: Choice,
    /// The other choices that would serve.
    pub others: Vec<Other>,
    /// The offers that serve in no choice.
    pub fallen: Vec<Fallen>,
    /// The invoices under their supplier's least order.
    pub under_least: Vec<UnderLeast>,
    /// What reaching the next step of a price would cost, and save: where somebody asks
    /// ([`next_steps`](super::next_steps)).
    pub next_steps: Vec<String>,
}

impl Costed {
    /// What it comes to in a decision.
    pub fn worth(&self) -> Worth {
        Worth { decision: self.landed.decision, wishes: self.plan.wishes }
    }
}

/// A choice of offers that would serve, too.
#[derive(Debug)]
pub struct Other {
    /// The offers.
    pub choice: Choice,
    /// What it would come to.
    pub worth: Worth,
}

/// Costs a shipment. `Ok(Err)`: the data is good, and some bundles fit in no box.
///
/// # Errors
///
/// If the data is at fault.
pub fn estimate(
    shipment: &Shipment,
    tariffs: &Tariffs,
    effort: Effort,
    report: &mut Report,
) -> Result<Result<Costed, Vec<Misfit>>, Reported> {
    estimate_again(shipment, tariffs, (effort, &Known::default()), report)
}

/// The same for one of many like shipments: loads that are known are not searched for again.
///
/// # Errors
///
/// If the data is at fault.
pub fn estimate_again(
    shipment: &Shipment,
    tariffs: &Tariffs,
    by: (Effort, &Known),
    report: &mut Report,
) -> Result<Result<Costed, Vec<Misfit>>, Reported> {
    match chosen(shipment, tariffs, by, report)? {
        Ok(chosen) => chosen.landed(shipment, tariffs, report).map(Ok),
        Err(misfits) => Ok(Err(misfits)),
    }
}

/// The cheapest choice of offers with its charges, none of them shared over slabs.
#[derive(Debug)]
pub struct Chosen {
    /// The load.
    pub(super) plan: Plan,
    /// Whether it holds.
    pub verdict: Verdict,
    /// What it comes to in a decision.
    pub worth: Worth,
    /// The invoices under their supplier's least order.
    pub under_least: Vec<UnderLeast>,
    pub(super) choice: Choice,
    pub(super) charged: Charged,
    others: Vec<Other>,
    fallen: Vec<Fallen>,
    /// Whether prices and policies hold.
    allowed: Result<(), Reported>,
}

impl Chosen {
    /// With every charge shared over the slabs.
    fn landed(
        self,
        shipment: &Shipment,
        tariffs: &Tariffs,
        report: &mut Report,
    ) -> Result<Costed, Reported> {
        let Self { plan, verdict, choice, charged, others, fallen, under_least, .. } = self;
        let job = Job { shipment, tariffs, plan: &plan, choice: &choice };
        let landed = landed(job, charged, report)?;
        let next_steps = Vec::new();
        self.allowed.map(|()| Costed {
            plan,
            verdict,
            landed,
            choice,
            others,
            fallen,
            under_least,
            next_steps,
        })
    }

    /// Whether prices and policies hold.
    ///
    /// # Errors
    /// Where they do not: it is in the report.
    pub fn allowed(&self) -> Result<(), Reported> {
        self.allowed
    }
}

/// Chooses offers, and has every charge of the cheapest choice worked out. `Ok(Err)`: some bundles fit in no box.
///
/// # Errors
///
/// If the data is at fault.
pub fn chosen(
    shipment: &Shipment,
    tariffs: &Tariffs,
    (effort, known): (Effort, &Known),
    report: &mut Report,
) -> Result<Result<Chosen, Vec<Misfit>>, Reported> {
    let prices = check_prices(shipment, report);
    let allowed = prices.and(check_policies(shipment, tariffs, report));
    let offered = offered(shipment, tariffs, report)?;
    let mut choices = whole(&offered);
    choices.extend(mixed(&offered, shipment));
    let mut best: Option<(Box<Candidate>, Report)> = None;
    let mut others = Vec::new();
    let mut faults: Option<(Report, Reported)> = None;
    let mut failed: Vec<Failed> = Vec::new();
    let mut misfits: Option<(bool, Vec<Misfit>)> = None;
    let mut is_proven = true;
    let sets = Sets::new(shipment);
    let units = report.units();
    let effort = effort.times(u64::from(shipment.load.effort));
    let mut tried = 0;
    for some in choices.chunks(at_once(shipment)) {
        tried += some.len();
        tell(effort, shipment, (tried, choices.len()));
        let cost = |choice: &Choice| {
            let mut own = Report::in_units(units);
            let (choice, sets) = (choice.clone(), sets.clone());
            (candidate(shipment, tariffs, choice, sets, (effort, known), &mut own), own)
        };
        // One alone needs no other thread: each has its own heap, and gives little of it back.
        let costed: Vec<_> = match some {
            [one] => vec![cost(one)],
            _ => some.par_iter().map(cost).collect(),
        };
        for (choice, (outcome, own)) in some.iter().zip(costed) {
            match outcome {
                Ok(Outcome::Sound(candidate)) => {
                    let is_better =
                        best.as_ref().is_none_or(|(best, _)| candidate.rank() < best.rank());
                    let candidate = (candidate, own);
                    let other = if is_better { best.replace(candidate) } else { Some(candidate) };
                    others.extend(other.map(|(other, _)| {
                        let breaks = other.breaks();
                        let Candidate { choice, worth, .. } = *other;
                        (Other { choice, worth }, breaks)
                    }));
                }
                Ok(Outcome::Same) => {}
                // What boxes of several offers do not carry either says more than what those of one do not.
                Ok(Outcome::Unfit(is_mixed, unfit)) => {
                    failed.push(Failed::unfit(choice.clone(), &unfit));
                    is_proven &= Misfit::prove(&unfit);
                    if misfits.as_ref().is_none_or(|(known, _)| is_mixed && !known) {
                        misfits = Some((is_mixed, unfit));
                    }
                }
                Err(reported) => {
                    failed.push(Failed::at_fault(choice.clone(), &own));
                    // Where none serves, each says what it lacks.
                    match &mut faults {
                        None => faults = Some((own, reported)),
                        Some((all, _)) => all.absorb_errors(own),
                    }
                }
            }
        }
    }
    if let Some((best, notices)) = best {
        let breaks = best.breaks();
        let Candidate { choice, plan, verdict, charged, worth } = *best;
        let (broken, others): (Vec<_>, Vec<_>) =
            others.into_iter().partition(|(_, other_breaks)| *other_breaks && !breaks);
        failed.extend(broken.into_iter().map(|(other, _)| Failed::breaks(other.choice)));
        let others = worth_telling(others, &choice);
        report.absorb(notices);
        let serving: Vec<&Choice> =
            others.iter().map(|other| &other.choice).chain([&choice]).collect();
        let fallen = fallen(&offered, &serving, &failed);
        for lapsed in fallen.iter().filter_map(Fallen::warning) {
            report.add(lapsed);
        }
        let boxes = plan.boxes.len();
        let under_least = under_least(shipment, boxes, units, |larger| {
            let mut own = Report::in_units(units);
            let larger = chosen(larger, tariffs, (effort, known), &mut own).ok()?.ok()?;
            larger.allowed.ok().map(|()| larger.plan.boxes.len())
        });
        let under_least = report.fits(under_least, &shipment.packing_file)?;
        return Ok(Ok(Chosen {
            plan,
            verdict,
            worth,
            under_least,
            choice,
            charged,
            others,
            fallen,
            allowed,
        }));
    }
    if let Some((_, unfit)) = misfits {
        return Ok(Err(Misfit::in_every_way(unfit, is_proven)));
    }
    let (faults, reported) = report.found(faults, "what offers come to")?;
    report.absorb(faults);
    Err(reported)
}

/// A plan whose boxes keep their limits with the timber that their places ask for: where the dunnage that was planned
/// with is too little, another is sought with as much as it took, a few times. What was proven before holds on where
/// that one costs no more.
fn with_timber(
    mut plan: Plan,
    found: impl Fn(&[Variant]) -> Result<Plan, Vec<Misfit>>,
    shipment: &Shipment,
    tariffs: &Tariffs,
) -> Plan {
    for _ in 0..MOST_PLANS {
        let short = load::short_of_dunnage(&plan, shipment, tariffs);
        if short.is_empty() {
            break;
        }
        let mut variants = plan.variants.clone();
        for (at, dunnage) in short {
            if let Some(variant) = variants.get_mut(at) {
                *variant = load::with_dunnage(variant, dunnage);
            }
        }
        let Ok(next) = found(&variants) else { break };
        let is_as_cheap = next.weighed().ok() == plan.weighed().ok();
        let proof = if is_as_cheap {
            plan.proof
        } else {
            Proof::Gap("its timber weighs more than the dunnage of its type".to_owned())
        };
        plan = Plan { lower_bound: plan.lower_bound, proof, ..next };
    }
    plan
}

/// Says how many of how many choices are being tried.
fn tell(effort: Effort, shipment: &Shipment, tried: (usize, usize)) {
    if let Some(watch) = effort.watch {
        watch.tell(|seen| {
            seen.shipment = Some((shipment.name.clone(), shipment.yard.currency));
            seen.tried = tried;
        });
    }
}

/// How many choices are costed at a time: a few, so that of many only the best is held; of a very large
/// shipment one, as each takes room for every slab.
fn at_once(shipment: &Shipment) -> usize {
    const LARGE: usize = 100_000;
    if shipment.slabs.len() > LARGE { 1 } else { rayon::current_num_threads() }
}

/// The other choices, each once, the nearest first: a mixture in which one offer serves all is that offer's.
fn worth_telling(others: Vec<(Other, bool)>, best: &Choice) -> Vec<Other> {
    let mut told: Vec<Other> = Vec::new();
    for (other, _) in others {
        if other.choice == *best {
            continue;
        }
        match told.iter_mut().find(|known| known.choice == other.choice) {
            Some(known) if other.worth < known.worth => *known = other,
            Some(_) => {}
            None => told.push(other),
        }
    }
    told.sort_by_key(|other| other.worth);
    told
}

/// A choice of offers that works, with its cost.
struct Candidate {
    choice: Choice,
    plan: Plan,
    verdict: Verdict,
    charged: Charged,
    worth: Worth,
}

impl Candidate {
    /// What breaks no limit comes first, then what comes to less.
    fn rank(&self) -> (bool, Worth) {
        (self.breaks(), self.worth)
    }

    /// Whether its load breaks a limit.
    fn breaks(&self) -> bool {
        !self.verdict.keeps_limits()
    }
}

/// How a choice of offers fares whose data is good.
enum Outcome {
    Sound(Box<Candidate>),
    /// Whether boxes may use different offers, and the bundles left over.
    Unfit(bool, Vec<Misfit>),
    /// A mixture that is none, or no better than one offer for all.
    Same,
}

fn candidate(
    shipment: &Shipment,
    tariffs: &Tariffs,
    choice: Choice,
    sets: Sets,
    (effort, known): (Effort, &Known),
    report: &mut Report,
) -> Result<Outcome, Reported> {
    let units = report.units();
    let order = told(ordered(shipment, tariffs, &choice), report)?;
    let desk = Desk { shipment, tariffs, choice: &choice, order: &order };
    let caused = Caused::of(desk, &sets);
    let kinds = match variants(desk, &caused, report) {
        Ok(kinds) => kinds,
        Err(reported) => {
            let plan = Plan::none(shipment.yard.currency);
            let job = Job { shipment, tariffs, plan: &plan, choice: &choice };
            gather(job, &order, sets, report);
            return Err(reported);
        }
    };
    if choice.is_mixed() && Choice::mixed(kinds.iter().map(|kind| &kind.variant.offers)).is_none() {
        return Ok(Outcome::Same);
    }
    let for_loader: Vec<Variant> = kinds.iter().map(KindOfBox::for_loader).collect();
    let for_bound: Vec<Variant> = kinds.iter().map(KindOfBox::for_bound).collect();
    // What a box costs may hang on what is in it.
    let hangs = kinds.iter().any(|kind| kind.least.is_some());
    let planned = |variants: &[Variant]| {
        let (bundles, yard) = (&shipment.bundles, &shipment.yard);
        let found = |variants: &[Variant]| {
            load::plan(
                bundles,
                variants,
                yard,
                &shipment.load,
                (effort, units, (known, !hangs)),
                &|| billed_area(shipment),
            )
        };
        found(variants).map(|plan| with_timber(plan, found, shipment, tariffs))
    };
    // Where it is not sure what boxes cause, a load is cheapest that is so at the least and the most.
    let for_most: Option<Vec<Variant>> = kinds.iter().map(KindOfBox::for_most).collect();
    let hangs_on_most = shipment.boxes.is_empty()
        && kinds.iter().any(|kind| kind.most != Some(kind.variant.caused));
    let most_bound = for_most
        .filter(|_| hangs_on_most)
        .and_then(|variants| planned(&variants).ok())
        .and_then(|plan| plan.lower_bound);
    let plans = if shipment.boxes.is_empty() {
        planned(&for_loader).map(|plan| {
            // Then the bound is of the least it may cost.
            let least = hangs.then(|| planned(&for_bound).ok()).flatten();
            let lower_bound = if hangs {
                least.as_ref().and_then(|least| least.lower_bound)
            } else {
                plan.lower_bound
            };
            let first = Plan { lower_bound, ..plan };
            [Some(first), least].into_iter().flatten().collect::<Vec<_>>()
        })
    } else {
        let (bundles, boxes) = (&shipment.bundles, &shipment.boxes);
        load::given(bundles, boxes, &for_bound, &shipment.load, report).map(|one| vec![one])
    };
    let plans = match plans {
        Ok(plans) => plans,
        Err(misfits) => {
            // Nor is a tier's top a reason why a bundle fits in nothing.
            let last = kinds.into_iter().filter(|kind| kind.top.is_none());
            let last: Vec<Variant> = last.map(|kind| kind.variant).collect();
            let has_tiers = last.len() < for_loader.len();
            let again = has_tiers.then(|| planned(&last).err()).flatten();
            return Ok(Outcome::Unfit(choice.is_mixed(), again.unwrap_or(misfits)));
        }
    };
    // A tier's top has done its work; what limits the box are its real limits.
    let variants: Vec<Variant> = kinds.into_iter().map(|kind| kind.variant).collect();
    let mut best: Option<(Plan, Laid)> = None;
    for plan in plans {
        let mut plan = load::with_variants(plan, variants.clone());
        let laid = load::lay(&mut plan, (shipment, tariffs), effort, units);
        let plan = told_all(billed(desk, plan, &caused, most_bound), report)?;
        let weighed = |plan: &Plan| plan.weighed().map_or(Decimal::MAX, Money::amount);
        if best.as_ref().is_none_or(|(best, _)| weighed(&plan) < weighed(best)) {
            best = Some((plan, laid));
        }
    }
    let (mut plan, laid) = report.found(best, "the load")?;
    let (choice, order) = if choice.is_mixed() {
        let own = plan.boxes.iter().filter_map(|filled| plan.variants.get(filled.variant));
        let Some(choice) = Choice::mixed(own.map(|variant| &variant.offers)) else {
            return Ok(Outcome::Same);
        };
        // No box goes by some of the offers.
        let order = told(ordered(shipment, tariffs, &choice), report)?;
        (choice, order)
    } else {
        (choice, order)
    };
    let verdict = known.judge(&plan, laid, (shipment, tariffs), units);
    for warning in verdict.warnings() {
        report.add(warning);
    }
    if plan.proof == Proof::Given && !verdict.keeps_limits() {
        // No bound holds for a load that breaks a limit.
        plan.lower_bound = None;
    }
    let job = Job { shipment, tariffs, plan: &plan, choice: &choice };
    let charged = charged(job, &order, sets, report)?;
    let decision = report.fits(charged.decision(shipment.yard.currency), &shipment.packing_file)?;
    let worth = Worth { decision, wishes: plan.wishes };
    Ok(Outcome::Sound(Box::new(Candidate { choice, plan, verdict, charged, worth })))
}

/// The charges of a choice of offers in their order.
///
/// # Errors
/// Where some wait for each other.
pub(super) fn ordered<'a>(
    shipment: &Shipment,
    tariffs: &'a Tariffs,
    choice: &Choice,
) -> Result<Order<'a>, Why<'a>> {
    order(purposes(shipment, tariffs, choice.each()), shipment, tariffs)
}

/// The billed area of each bundle, in mm2.
fn billed_area(shipment: &Shipment) -> Vec<i64> {
    let mut all = vec![0i64; shipment.bundles.len()];
    for slab in shipment.slabs.iter() {
        let bundle = usize::try_from(slab.bundle).ok().and_then(|at| all.get_mut(at));
        if let Some(all) = bundle {
            *all = all.saturating_add(slab.billed_area.mm2_down());
        }
    }
    all
}
