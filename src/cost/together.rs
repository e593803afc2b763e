//! Shipments that are stuffed in the same week and compete for the same boxes, planned together: the
//! shares of each stock for which the landed totals add up to least.
//!
//! Each shipment is planned by itself first. Where together they take more of a stock than there is,
//! each is planned again with fewer boxes. What a plan leaves over of its share does not matter to
//! it, so the next share that is asked for is one box less than a plan took; down to where no load
//! exists, these plans stand for every share there could be.

use std::cmp::Reverse;

use rayon::prelude::*;

use super::offers::{Costed, estimate};
use super::share::{Choices, least};
use super::stocks::{Stock, stocks, taken};
use crate::fault::Report;
use crate::load::{Effort, Misfit, Proof};
use crate::quantity::{Currency, Decimal, Money};
use crate::trade::{Shipment, Tariffs};

/// How many shares are planned for all shipments together, before the rest is left open.
const MOST_ESTIMATES: usize = 256;

/// Shipments planned together.
#[derive(Debug)]
pub struct Together {
    /// Each shipment's load and cost, in their order.
    pub loads: Vec<Costed>,
    /// The landed total of each with every stock to itself.
    pub alone: Vec<Money>,
    /// The stocks, and what each takes of them.
    pub stocks: Vec<Shared>,
    /// What they come to together; `None` where their books are in different currencies.
    pub sums: Option<Sums>,
    /// How sure it is that no other way to load and to share has a lower sum of landed totals.
    pub proof: Proof,
}

/// A stock that is shared out.
#[derive(Debug)]
pub struct Shared {
    /// The stock.
    pub stock: Stock,
    /// What each of those who name it takes, in their order.
    pub takes: Vec<u32>,
    /// What each would take with all of it to itself.
    pub alone: Vec<u32>,
}

impl Shared {
    /// What is left of it.
    pub fn left(&self) -> u32 {
        self.stock.count.saturating_sub(self.takes.iter().sum())
    }
}

/// What shipments come to together.
#[derive(Debug, Clone, Copy)]
pub struct Sums {
    /// Their boxes.
    pub cost: Money,
    /// The price of the wishes they break.
    pub wishes: Money,
    /// What both cannot go below, however the stocks are shared out, at the offers that serve; `None`
    /// where a given load breaks a limit.
    pub lower_bound: Option<Money>,
    /// Their landed totals.
    pub landed: Money,
    /// Their landed totals with every stock to themselves.
    pub alone: Money,
}

/// Why shipments are not planned together.
#[derive(Debug)]
pub enum Refused {
    /// Some cannot be loaded even by themselves: each by position, with the reasons.
    Alone(Vec<(usize, Vec<Misfit>)>),
    /// The stocks do not suffice.
    Short(Vec<Short>),
}

/// A stock that does not suffice, or has a part in it.
#[derive(Debug)]
pub struct Short {
    /// The stock.
    pub stock: Stock,
    /// The fewest boxes of it with which each of those who name it was found to load.
    pub least: Vec<u32>,
    /// Whether fewer are proven to be impossible.
    pub proven: bool,
}

impl Short {
    /// Whether it would suffice if there were no other stock to think of.
    pub fn is_enough(&self) -> bool {
        let needed = self.least.iter().map(|own| u64::from(*own)).sum::<u64>();
        needed <= u64::from(self.stock.count)
    }
}

/// Plans shipments together. `None`: the faults are in the report.
pub fn together(
    shipments: &[&Shipment],
    tariffs: &Tariffs,
    effort: Effort,
    report: &mut Report,
) -> Option<Result<Together, Refused>> {
    let stocks = stocks(shipments, report)?;
    let desk = Desk { shipments, tariffs, effort, stocks: &stocks };
    let mut tried = match desk.each_alone(report)? {
        Ok(tried) => tried,
        Err(unfit) => return Some(Err(Refused::Alone(unfit))),
    };
    let firsts = tried.iter().filter_map(|one| one.planned.first());
    let alone: Vec<(Money, Vec<u32>)> =
        firsts.map(|first| (first.landed(), first.taken.clone())).collect();
    let mut picks = vec![0; shipments.len()];
    let mut bounds = Some(Vec::new());
    for group in desk.groups() {
        if desk.is_overdrawn(&group, &tried) {
            desk.explore(&group, &mut tried, report)?;
        }
        let Some(own) = desk.choose(&group, &tried) else {
            return Some(Err(Refused::Short(desk.short(&group, &tried))));
        };
        for (shipment, pick) in group.shipments.iter().zip(own) {
            *picks.get_mut(*shipment)? = pick;
        }
        bounds = bounds.zip(desk.bound(&group, &tried)).map(|(mut all, bound)| {
            all.push(bound);
            all
        });
    }
    let proof = desk.proof(&tried);
    let planned = tried.into_iter().zip(&picks).map(|(one, at)| one.planned.into_iter().nth(*at));
    let planned = planned.collect::<Option<Vec<Planned>>>()?;
    let takes: Vec<&[u32]> = planned.iter().map(|one| &one.taken[..]).collect();
    let shared = stocks.iter().enumerate().map(|(at, stock)| {
        let of = |taken: &dyn Fn(usize) -> Option<u32>| {
            let all = stock.named_by.iter();
            all.map(|(shipment, _)| taken(*shipment).unwrap_or(0)).collect()
        };
        Shared {
            takes: of(&|shipment| desk.of_stock(shipment, takes.get(shipment)?, at)),
            alone: of(&|shipment| desk.of_stock(shipment, &alone.get(shipment)?.1, at)),
            stock: stock.clone(),
        }
    });
    let shared = shared.collect();
    let alone: Vec<Money> = alone.into_iter().map(|(landed, _)| landed).collect();
    let loads = planned.into_iter().map(|one| {
        report.absorb(one.report);
        one.costed
    });
    let loads: Vec<Costed> = loads.collect();
    let sums = sums(&loads, &alone, bounds);
    Some(Ok(Together { loads, alone, stocks: shared, sums, proof }))
}

/// What shipments come to; `None` where their books are in different currencies.
fn sums(loads: &[Costed], alone: &[Money], bounds: Option<Vec<Money>>) -> Option<Sums> {
    let currency = loads.first()?.landed.currency;
    let of = |figure: fn(&Costed) -> Money| Money::total(currency, loads.iter().map(figure)).ok();
    Some(Sums {
        cost: of(|one| one.plan.cost)?,
        wishes: of(|one| one.plan.wishes)?,
        lower_bound: bounds.and_then(|bounds| Money::total(currency, bounds).ok()),
        landed: of(|one| one.landed.total)?,
        alone: Money::total(currency, alone.iter().copied()).ok()?,
    })
}

/// What all of it is about.
struct Desk<'a> {
    shipments: &'a [&'a Shipment],
    tariffs: &'a Tariffs,
    effort: Effort,
    stocks: &'a [Stock],
}

/// So many boxes, at most, of each stock that a shipment names, in the shipment's own order.
struct Share {
    shipment: usize,
    most: Vec<u32>,
    /// What no load within it goes below, as far as is known before it is planned.
    bound: Option<Money>,
}

/// The plan for a share. It stands for every share from what it takes up to the whole of it.
struct Planned {
    most: Vec<u32>,
    taken: Vec<u32>,
    costed: Costed,
    report: Report,
}

impl Planned {
    fn landed(&self) -> Money {
        self.costed.landed.total
    }

    /// The boxes and broken wishes of no load within its share come to less.
    fn bound(&self) -> Option<Money> {
        self.costed.plan.lower_bound
    }
}

/// What was tried for one shipment.
#[derive(Default)]
struct Tried {
    /// The plans; the first has every stock to itself.
    planned: Vec<Planned>,
    /// Shares with which it was not loaded.
    refused: Vec<Vec<u32>>,
    /// Shares of which it is not known whether a load exists: the bound of each, and why.
    open: Vec<(Option<Money>, String)>,
}

impl Tried {
    /// Whether a share needs no plan of its own.
    fn knows(&self, most: &[u32]) -> bool {
        let planned = |one: &Planned| holds(most, &one.taken) && holds(&one.most, most);
        self.planned.iter().any(planned) || self.refused.iter().any(|more| holds(more, most))
    }
}

/// All of every stock that a shipment names.
fn whole(shipment: &Shipment) -> Vec<u32> {
    let load = &shipment.load;
    load.shared.iter().filter_map(|one| load.counted(one)).map(|one| one.count).collect()
}

/// Whether one share has all that another has.
fn holds(one: &[u32], other: &[u32]) -> bool {
    one.iter().zip(other).all(|(one, other)| one >= other)
}

/// Shipments that are linked by the stocks they draw on, by position.
struct Group {
    shipments: Vec<usize>,
    stocks: Vec<usize>,
}

/// A share that was planned: a load, or why there is none, or neither with faults in the report.
type Estimate = (Option<Result<Costed, Vec<Misfit>>>, Report);

impl Desk<'_> {
    /// Each shipment with every stock to itself, or those that cannot be loaded even so.
    #[expect(clippy::type_complexity, reason = "a refusal is the shipment and its reasons")]
    fn each_alone(
        &self,
        report: &mut Report,
    ) -> Option<Result<Vec<Tried>, Vec<(usize, Vec<Misfit>)>>> {
        let all = self.shipments.iter().enumerate();
        let asked = all.map(|(at, own)| Share { shipment: at, most: whole(own), bound: None });
        let asked: Vec<Share> = asked.collect();
        let (mut tried, mut unfit, mut is_sound) = (Vec::new(), Vec::new(), true);
        for (share, (outcome, own)) in asked.iter().zip(self.estimates(&asked)) {
            match outcome {
                Some(Ok(costed)) => {
                    let planned = vec![self.planned(share, costed, own)?];
                    tried.push(Tried { planned, ..Tried::default() });
                    continue;
                }
                Some(Err(misfits)) => unfit.push((share.shipment, misfits)),
                None => is_sound = false,
            }
            report.absorb(own);
        }
        is_sound.then_some(if unfit.is_empty() { Ok(tried) } else { Err(unfit) })
    }

    /// Plans shares, side by side.
    fn estimates(&self, shares: &[Share]) -> Vec<Estimate> {
        let one = |share: &Share| {
            let mut report = Report::new();
            let shipment = self.shipments.get(share.shipment)?;
            let mut of = |own: &Shipment| estimate(own, self.tariffs, self.effort, &mut report);
            let costed = if share.most == whole(shipment) {
                of(shipment)
            } else {
                let load = shipment.load.with_shares(&share.most);
                of(&Shipment { load, ..(*shipment).clone() })
            };
            Some((costed, report))
        };
        shares.par_iter().filter_map(one).collect()
    }

    fn planned(&self, share: &Share, costed: Costed, report: Report) -> Option<Planned> {
        let load = &self.shipments.get(share.shipment)?.load;
        let kinds = load.shared.iter().filter_map(|one| load.counted(one)).map(|one| one.kind);
        let taken = kinds.map(|kind| taken(&costed.plan, kind)).collect();
        Some(Planned { most: share.most.clone(), taken, costed, report })
    }

    /// What a shipment takes of a stock of them all.
    fn of_stock(&self, shipment: usize, taken: &[u32], stock: usize) -> Option<u32> {
        let name = &self.stocks.get(stock)?.name;
        let own = &self.shipments.get(shipment)?.load.shared;
        let at = own.iter().position(|one| one.name.value == *name)?;
        taken.get(at).copied()
    }

    /// The same for the stocks of a group.
    fn of_group(&self, shipment: usize, taken: &[u32], group: &Group) -> Vec<u32> {
        let all = group.stocks.iter();
        all.map(|stock| self.of_stock(shipment, taken, *stock).unwrap_or(0)).collect()
    }

    fn counts(&self, group: &Group) -> Vec<u32> {
        group.stocks.iter().filter_map(|at| self.stocks.get(*at)).map(|one| one.count).collect()
    }

    /// The shipments by what links them, each in one group.
    fn groups(&self) -> Vec<Group> {
        let each = 0..self.shipments.len();
        let mut all: Vec<Group> =
            each.map(|at| Group { shipments: vec![at], stocks: Vec::new() }).collect();
        for (at, stock) in self.stocks.iter().enumerate() {
            let is_linked = |group: &mut Group| {
                stock.named_by.iter().any(|(shipment, _)| group.shipments.contains(shipment))
            };
            let mut whole = Group { shipments: Vec::new(), stocks: vec![at] };
            for linked in all.extract_if(.., is_linked) {
                whole.shipments.extend(linked.shipments);
                whole.stocks.extend(linked.stocks);
            }
            whole.shipments.sort_unstable();
            whole.stocks.sort_unstable();
            all.push(whole);
        }
        all
    }

    /// Whether the first plans take more of a stock than there is.
    fn is_overdrawn(&self, group: &Group, tried: &[Tried]) -> bool {
        let takes = group.shipments.iter().filter_map(|shipment| {
            let first = tried.get(*shipment)?.planned.first()?;
            Some(self.of_group(*shipment, &first.taken, group))
        });
        let takes: Vec<Vec<u32>> = takes.collect();
        self.counts(group).iter().enumerate().any(|(at, count)| {
            let all = takes.iter().filter_map(|one| one.get(at)).map(|own| u64::from(*own));
            all.sum::<u64>() > u64::from(*count)
        })
    }

    /// Plans every share of the group's stocks that there could be.
    fn explore(&self, group: &Group, tried: &mut [Tried], report: &mut Report) -> Option<()> {
        let mut next: Vec<Share> = Vec::new();
        for shipment in &group.shipments {
            next.extend(self.fewer(*shipment, tried.get(*shipment)?.planned.first()?));
        }
        let mut left = MOST_ESTIMATES;
        while !next.is_empty() {
            for share in next.split_off(next.len().min(left)) {
                let why = "there are too many ways to share the boxes out".to_owned();
                tried.get_mut(share.shipment)?.open.push((share.bound, why));
            }
            left -= next.len();
            let mut after: Vec<Share> = Vec::new();
            for (share, (outcome, own)) in next.iter().zip(self.estimates(&next)) {
                let known = tried.get_mut(share.shipment)?;
                match outcome {
                    Some(Ok(costed)) => {
                        let planned = self.planned(share, costed, own)?;
                        after.extend(self.fewer(share.shipment, &planned));
                        known.planned.push(planned);
                    }
                    Some(Err(misfits)) => {
                        if !Misfit::prove(&misfits) {
                            let name = &self.shipments.get(share.shipment)?.name;
                            let why = format!("no load of {name} was found with fewer boxes");
                            known.open.push((share.bound, why));
                        }
                        known.refused.push(share.most.clone());
                    }
                    None => {
                        report.absorb(own);
                        return None;
                    }
                }
            }
            next.clear();
            for share in after {
                let is_asked =
                    |other: &Share| other.shipment == share.shipment && other.most == share.most;
                let known = tried.get(share.shipment)?.knows(&share.most);
                if !known && !next.iter().any(is_asked) {
                    next.push(share);
                }
            }
        }
        Some(())
    }

    /// The shares to ask for once a plan is known: of each stock one box less than it takes. A load
    /// that is given is as it is.
    fn fewer(&self, shipment: usize, planned: &Planned) -> Vec<Share> {
        let Some(own) = self.shipments.get(shipment).filter(|own| own.boxes.is_empty()) else {
            return Vec::new();
        };
        let fewer = planned.taken.iter().zip(&own.load.shared).enumerate();
        let fewer = fewer.filter_map(|(at, (taken, stock))| {
            let share = taken.checked_sub(1)?;
            // Nothing is loaded in no container at all.
            if share == 0 && stock.row.is_none() {
                return None;
            }
            let mut most = planned.most.clone();
            *most.get_mut(at)? = share;
            Some(Share { shipment, most, bound: planned.bound() })
        });
        fewer.collect()
    }

    /// Which plan serves for each of a group: the least sum of landed totals, then the fewest boxes,
    /// then the larger shares for those that come first. `None`: the stocks do not suffice.
    fn choose(&self, group: &Group, tried: &[Tried]) -> Option<Vec<usize>> {
        type Sum = (Decimal, usize, Vec<Reverse<u32>>, Vec<usize>);
        let mut all: Vec<Choices<Sum>> = Vec::new();
        for shipment in &group.shipments {
            let choice = |(at, one): (usize, &Planned)| {
                let taken = self.of_group(*shipment, &one.taken, group);
                let shares = taken.iter().copied().map(Reverse).collect();
                (taken, (one.landed().amount(), one.costed.plan.boxes.len(), shares, vec![at]))
            };
            all.push(tried.get(*shipment)?.planned.iter().enumerate().map(choice).collect());
        }
        let join = |one: &Sum, other: &Sum| {
            let total = one.0.checked_add(other.0)?;
            let shares = [&one.2[..], &other.2].concat();
            Some((total, one.1 + other.1, shares, [&one.3[..], &other.3].concat()))
        };
        let nothing = (Decimal::ZERO, 0, Vec::new(), Vec::new());
        least(&all, &self.counts(group), nothing, join).map(|(.., picks)| picks)
    }

    /// What the boxes and broken wishes of a group cannot go below: the least sum of bounds over all
    /// shares. A share that is not settled may take nothing, as far as is known.
    fn bound(&self, group: &Group, tried: &[Tried]) -> Option<Money> {
        let mut all: Vec<Choices<Decimal>> = Vec::new();
        let mut currency: Option<Currency> = None;
        for shipment in &group.shipments {
            let known = tried.get(*shipment)?;
            let planned = known
                .planned
                .iter()
                .map(|one| Some((self.of_group(*shipment, &one.taken, group), one.bound()?)));
            let nothing = || vec![0; group.stocks.len()];
            let open = known.open.iter().map(|(bound, _)| Some((nothing(), (*bound)?)));
            let own = planned.chain(open).collect::<Option<Vec<(Vec<u32>, Money)>>>()?;
            currency = currency.or_else(|| own.first().map(|(_, bound)| bound.currency()));
            all.push(own.into_iter().map(|(taken, bound)| (taken, bound.amount())).collect());
        }
        let join = |one: &Decimal, other: &Decimal| one.checked_add(*other);
        Money::exactly(least(&all, &self.counts(group), Decimal::ZERO, join)?, currency?)
    }

    /// The stocks that do not suffice; all of the group's where it is the choice between them.
    fn short(&self, group: &Group, tried: &[Tried]) -> Vec<Short> {
        let of = |at: usize| {
            let stock = self.stocks.get(at)?;
            let known =
                || stock.named_by.iter().filter_map(|(own, _)| Some((own, tried.get(*own)?)));
            let fewest = known().map(|(shipment, known)| {
                let taken = known.planned.iter();
                taken.filter_map(|one| self.of_stock(*shipment, &one.taken, at)).min().unwrap_or(0)
            });
            let proven = known().all(|(_, known)| known.open.is_empty());
            Some(Short { least: fewest.collect(), proven, stock: stock.clone() })
        };
        let all: Vec<Short> = group.stocks.iter().filter_map(|at| of(*at)).collect();
        let (others, short): (Vec<Short>, Vec<Short>) = all.into_iter().partition(Short::is_enough);
        if short.is_empty() { others } else { short }
    }

    /// How sure the choice is: every plan it was made among is proven, and no share is left open.
    fn proof(&self, tried: &[Tried]) -> Proof {
        let mut given = Vec::new();
        for (shipment, known) in self.shipments.iter().zip(tried) {
            if let Some((_, why)) = known.open.first() {
                return Proof::Gap(why.clone());
            }
            for one in &known.planned {
                match &one.costed.plan.proof {
                    Proof::Proven => {}
                    Proof::Gap(why) => return Proof::Gap(format!("{}: {why}", shipment.name)),
                    Proof::Given => given.push(&shipment.name),
                }
            }
        }
        match given.first() {
            None => Proof::Proven,
            Some(_) if given.len() == tried.len() => Proof::Given,
            Some(name) => Proof::Gap(format!("the load of {name} is given")),
        }
    }
}
