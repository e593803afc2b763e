//! Offers are choices: every combination is costed, and the cheapest serves unless one is pinned.

use rayon::prelude::*;

use super::boxes::{Desk, Kind, billed};
use super::caused::Caused;
use super::job::{Choice, Job};
use super::landed::{Landed, Unspread, gather, landed, unspread};
use super::variants::variants;
use crate::bill::Sets;
use crate::fault::{Code, Fault, Report};
use crate::load::{self, Effort, Misfit, Plan, Proof, Variant, Verdict};
use crate::price::{may_apply, order, purposes, told_all};
use crate::quantity::{Decimal, Money};
use crate::trade::{Offers, Shipment, TableName, Tariffs};

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
}

/// A choice of offers that would serve, too.
#[derive(Debug)]
pub struct Other {
    /// The offers.
    pub choice: Choice,
    /// What it would land at.
    pub total: Money,
    /// The price of the wishes that its load would break: no part of the total.
    pub wishes: Money,
}

/// Costs a shipment. `None`: the faults are in the report. `Some(Err)`: the data is good, and some
/// bundles fit in no box.
pub fn estimate(
    shipment: &Shipment,
    tariffs: &Tariffs,
    effort: Effort,
    report: &mut Report,
) -> Option<Result<Costed, Vec<Misfit>>> {
    let offered = offered(shipment, tariffs, report)?;
    let mut choices = whole(&offered);
    choices.extend(mixed(&offered, shipment));
    let mut best: Option<Box<Candidate>> = None;
    let mut others = Vec::new();
    let mut failed: Option<Report> = None;
    let mut misfits: Option<(bool, Vec<Misfit>)> = None;
    let mut is_proven = true;
    let sets = Sets::new(shipment);
    // A few at a time, so that of many choices only the best is held.
    for some in choices.chunks(rayon::current_num_threads()) {
        let cost =
            |choice: &Choice| candidate(shipment, tariffs, choice.clone(), sets.clone(), effort);
        for outcome in some.par_iter().map(cost).collect::<Vec<_>>() {
            match outcome {
                Outcome::Sound(candidate) => {
                    let is_better = best.as_ref().is_none_or(|best| candidate.rank() < best.rank());
                    let other = if is_better { best.replace(candidate) } else { Some(candidate) };
                    others.extend(other.map(|other| {
                        let breaks = other.breaks();
                        let Candidate { choice, total, plan, .. } = *other;
                        (Other { choice, total, wishes: plan.wishes }, breaks)
                    }));
                }
                Outcome::Same => {}
                // What boxes of several offers do not carry either says more than what those of one do not.
                Outcome::Unfit(is_mixed, unfit) => {
                    is_proven &= Misfit::prove(&unfit);
                    if misfits.as_ref().is_none_or(|(known, _)| is_mixed && !known) {
                        misfits = Some((is_mixed, unfit));
                    }
                }
                Outcome::Faults(faults) => failed = failed.or(Some(faults)),
            }
        }
    }
    if let Some(best) = best {
        let breaks = best.breaks();
        let Candidate { choice, plan, verdict, unspread, report: notices, .. } = *best;
        let others = worth_telling(others, &choice, breaks);
        report.absorb(notices);
        // Only the choice that serves is spread over the slabs.
        let job = Job { shipment, tariffs, plan: &plan, choice: &choice };
        let landed = landed(job, unspread, report)?;
        return Some(Ok(Costed { plan, verdict, landed, choice, others }));
    }
    if let Some((_, unfit)) = misfits {
        return Some(Err(Misfit::in_every_way(unfit, is_proven)));
    }
    report.absorb(failed.unwrap_or_default());
    None
}

/// The other choices, each once: what would break a limit is none beside what does not, nor is a mixture
/// that comes down to another.
fn worth_telling(others: Vec<(Other, bool)>, best: &Choice, breaks: bool) -> Vec<Other> {
    let mut told: Vec<Other> = Vec::new();
    for (other, other_breaks) in others {
        if other.choice == *best || (other_breaks && !breaks) {
            continue;
        }
        match told.iter_mut().find(|known| known.choice == other.choice) {
            Some(known) if other.total.amount() < known.total.amount() => *known = other,
            Some(_) => {}
            None => told.push(other),
        }
    }
    told
}

/// A choice of offers that works, with what it comes to.
struct Candidate {
    choice: Choice,
    plan: Plan,
    verdict: Verdict,
    unspread: Unspread,
    total: Money,
    report: Report,
}

impl Candidate {
    /// What breaks no limit comes first, then what costs less, broken wishes counted.
    fn rank(&self) -> (bool, Decimal) {
        let both = self.total.amount().checked_add(self.plan.wishes.amount());
        (self.breaks(), both.unwrap_or(Decimal::MAX))
    }

    /// Whether its load breaks a limit.
    fn breaks(&self) -> bool {
        !self.verdict.keeps_limits()
    }
}

/// How a choice of offers fares.
enum Outcome {
    Sound(Box<Candidate>),
    /// Whether boxes may go by different offers, and what they do not carry.
    Unfit(bool, Vec<Misfit>),
    Faults(Report),
    /// A mixture that is none, or no better than one offer for all.
    Same,
}

fn candidate(
    shipment: &Shipment,
    tariffs: &Tariffs,
    choice: Choice,
    sets: Sets,
    effort: Effort,
) -> Outcome {
    let mut report = Report::new();
    let order = match order(purposes(shipment, tariffs, choice.each()), shipment) {
        Ok(order) => order,
        Err(why) => {
            report.add(why.fault());
            return Outcome::Faults(report);
        }
    };
    let desk = Desk { shipment, tariffs, choice: &choice, order: &order };
    let caused = Caused::of(desk, &sets);
    let Some(kinds) = variants(desk, &caused, &mut report) else {
        let (variants, boxes, proof) = (Vec::new(), Vec::new(), Proof::Given);
        let cost = Money::zero(shipment.yard.currency);
        let (wishes, caused) = (cost, cost);
        let plan = Plan { variants, boxes, cost, caused, wishes, lower_bound: None, proof };
        gather(Job { shipment, tariffs, plan: &plan, choice: &choice }, sets, &mut report);
        return Outcome::Faults(report);
    };
    if choice.is_mixed() && Choice::mixed(kinds.iter().map(|kind| &kind.variant.offers)).is_none() {
        return Outcome::Same;
    }
    let for_loader: Vec<Variant> = kinds.iter().map(Kind::for_loader).collect();
    let for_bound: Vec<Variant> = kinds.iter().map(Kind::for_bound).collect();
    let planned = |variants: &[Variant]| {
        let (bundles, yard) = (&shipment.bundles, &shipment.yard);
        load::plan(bundles, variants, yard, &shipment.load, effort, &|| billed_area(shipment))
    };
    // Where it is not sure what boxes cause, a load is cheapest that is so at the least and the most.
    let for_most: Option<Vec<Variant>> = kinds.iter().map(Kind::for_most).collect();
    let hangs_on_most = shipment.boxes.is_empty()
        && kinds.iter().any(|kind| kind.most != Some(kind.variant.caused));
    let most_bound = for_most
        .filter(|_| hangs_on_most)
        .and_then(|variants| planned(&variants).ok())
        .and_then(|plan| plan.lower_bound);
    let plans = if shipment.boxes.is_empty() {
        planned(&for_loader).map(|plan| {
            // What a box costs may hang on what is in it: then the bound is of the least it may cost.
            let hangs = kinds.iter().any(|kind| kind.least.is_some());
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
        load::given(bundles, boxes, &for_bound, &shipment.load, &mut report).map(|one| vec![one])
    };
    let plans = match plans {
        Ok(plans) => plans,
        Err(misfits) => {
            // Nor is a tier's top a reason why a bundle fits in nothing.
            let last = kinds.into_iter().filter(|kind| kind.top.is_none());
            let last: Vec<Variant> = last.map(|kind| kind.variant).collect();
            let has_tiers = last.len() < for_loader.len();
            let again = has_tiers.then(|| planned(&last).err()).flatten();
            return Outcome::Unfit(choice.is_mixed(), again.unwrap_or(misfits));
        }
    };
    // A tier's top has done its work; what limits the box are its real limits.
    let variants: Vec<Variant> = kinds.into_iter().map(|kind| kind.variant).collect();
    let mut best: Option<Plan> = None;
    for plan in plans {
        let plan = load::with_variants(plan, variants.clone());
        let Some(plan) = told_all(billed(desk, plan, &caused, most_bound), &mut report) else {
            return Outcome::Faults(report);
        };
        let weighed = |plan: &Plan| plan.weighed().map_or(Decimal::MAX, Money::amount);
        if best.as_ref().is_none_or(|best| weighed(&plan) < weighed(best)) {
            best = Some(plan);
        }
    }
    let Some(plan) = best else { return Outcome::Faults(report) };
    let choice = if choice.is_mixed() {
        let own = plan.boxes.iter().filter_map(|filled| plan.variants.get(filled.variant));
        match Choice::mixed(own.map(|variant| &variant.offers)) {
            Some(choice) => choice,
            None => return Outcome::Same,
        }
    } else {
        choice
    };
    let mut plan = plan;
    let verdict = load::judge(&mut plan, shipment, tariffs, effort);
    for warning in verdict.warnings() {
        report.add(warning);
    }
    if plan.proof == Proof::Given && !verdict.keeps_limits() {
        // No bound holds for a load that breaks a limit.
        plan.lower_bound = None;
    }
    let job = Job { shipment, tariffs, plan: &plan, choice: &choice };
    let Some(unspread) = unspread(job, sets, &mut report) else { return Outcome::Faults(report) };
    match unspread.total(shipment.yard.currency) {
        Some(total) => {
            Outcome::Sound(Box::new(Candidate { choice, plan, verdict, unspread, total, report }))
        }
        None => Outcome::Faults(report),
    }
}

/// The billed area of each bundle, in mm2.
fn billed_area(shipment: &Shipment) -> Vec<i64> {
    let mut all = vec![0i64; shipment.bundles.len()];
    for slab in &shipment.slabs {
        let bundle = usize::try_from(slab.bundle).ok().and_then(|at| all.get_mut(at));
        if let Some(all) = bundle {
            *all = all.saturating_add(slab.billed_area.mm2_down());
        }
    }
    all
}

/// More mixtures of offers than are all tried (a choice of ours).
const MOST_MIXTURES: usize = 256;

/// More bundles than are loaded in an instant: then few mixtures are tried (a choice of ours).
const FEW_BUNDLES: usize = 60;

/// The tables whose offers a box goes by: the forwarder's and the haulier's.
const BY_BOX: [TableName; 2] = [TableName::Freight, TableName::Drayage];

/// Every choice of one offer per table for the whole shipment, in file order; pins leave less choice.
pub(super) fn whole(offered: &[(TableName, Vec<&str>)]) -> Vec<Choice> {
    let each = combined(offered, |_, offers| singly(offers)).into_iter().flatten();
    each.map(Choice::whole).collect()
}

/// Choices by which boxes may go by different offers of some tables, and all of them by one of each
/// other. None where boxes that somebody filled do not say what they go by: it is not for us to book
/// them apart.
fn mixed<'o>(offered: &[(TableName, Vec<&'o str>)], shipment: &Shipment) -> Vec<Choice> {
    let is_said = shipment.boxes.iter().any(|one| !one.offers.is_empty());
    if !shipment.boxes.is_empty() && !is_said {
        return Vec::new();
    }
    // Fees beside the boxes may make two forwarders better than three: of few offers and bundles
    // every mixture is tried, of many the one of all.
    let ways = |(table, offers): &(TableName, Vec<&str>)| {
        let groups = if BY_BOX.contains(table) { 1usize << offers.len().min(16) } else { 2 };
        groups.max(offers.len())
    };
    let every = shipment.bundles.len() <= FEW_BUNDLES
        && offered.iter().map(ways).fold(1, usize::saturating_mul) <= MOST_MIXTURES;
    let lists = |table: TableName, offers: &[&'o str]| -> Vec<Vec<&'o str>> {
        let mut lists = singly(offers);
        if BY_BOX.contains(&table) && offers.len() > 1 {
            if every {
                lists = groups(offers);
            } else {
                lists.push(offers.to_vec());
            }
        }
        lists
    };
    combined(offered, lists).iter().filter_map(|some| Choice::mixed(some.iter())).collect()
}

/// Each offer by itself.
fn singly<'o>(offers: &[&'o str]) -> Vec<Vec<&'o str>> {
    offers.iter().map(|offer| vec![*offer]).collect()
}

/// Every choice of one of its lists for each table: what a box may go by under it.
fn combined<'o>(
    offered: &[(TableName, Vec<&'o str>)],
    lists: impl Fn(TableName, &[&'o str]) -> Vec<Vec<&'o str>>,
) -> Vec<Vec<Offers>> {
    let mut all: Vec<Vec<Offers>> = vec![vec![Offers::default()]];
    for (table, offers) in offered {
        let lists = lists(*table, offers);
        let with = |some: &Vec<Offers>, list: &Vec<&str>| -> Vec<Offers> {
            let each = |one: &Offers| list.iter().map(|offer| one.with(*table, offer)).collect();
            some.iter().flat_map(|one| -> Vec<Offers> { each(one) }).collect()
        };
        all = all.iter().flat_map(|some| lists.iter().map(|list| with(some, list))).collect();
    }
    all
}

/// Every group of some offers, the smaller ones first.
fn groups<'o>(offers: &[&'o str]) -> Vec<Vec<&'o str>> {
    let mut all: Vec<Vec<&str>> = vec![Vec::new()];
    for offer in offers {
        let with: Vec<Vec<&str>> =
            all.iter().map(|group| group.iter().copied().chain([*offer]).collect()).collect();
        all.extend(with);
    }
    all.retain(|group| !group.is_empty());
    all.sort_by_key(Vec::len);
    all
}

/// The offers of each table that has any for a shipment, in file order: the pinned ones, where some are.
pub(super) fn offered<'a>(
    shipment: &'a Shipment,
    tariffs: &'a Tariffs,
    report: &mut Report,
) -> Option<Vec<(TableName, Vec<&'a str>)>> {
    let mut all = Vec::new();
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
        let pinned = shipment.pinned(table);
        if let Some(pin) = pinned.iter().find(|pin| !offers.contains(&pin.value.as_str())) {
            let name = &pin.value;
            let message = format!("rates/{word}.toml has no offer \"{name}\" for this shipment");
            report.add(
                Fault::error(Code::UnknownReference, message).at(&pin.place, "pinned here").help(
                    if offers.is_empty() {
                        "none of its rows for this shipment is of an offer: leave it out".to_owned()
                    } else {
                        format!("offers that would serve: {}", offers.join(", "))
                    },
                ),
            );
            return None;
        }
        if !pinned.is_empty() {
            offers.retain(|offer| pinned.iter().any(|pin| pin.value == *offer));
        }
        if !offers.is_empty() {
            all.push((table, offers));
        }
    }
    Some(all)
}
