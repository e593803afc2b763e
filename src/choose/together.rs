//! Shipments that are stuffed in the same week and compete for the same boxes, planned together: the
//! shares of each stock for which the decision costs add up to least.
//!
//! Each shipment is planned by itself first. Where together they take more of a stock than there is,
//! each is planned again for every smaller share.
//!
//! Decided on 2026-11-26. A plan stands for every share from what it takes up to what it was asked for, so
//! that few plans cover all shares. Only where the first plans overdraw a stock is any of this done, and
//! beyond 256 plans the rest is left open.

use std::cmp::Reverse;

use super::cheapest::Costed;
use super::share::{Choices, least};
use super::stocks::{StockPool, stocks};
use super::tried::{Planned, Planner, Tried};
use crate::fault::{Report, Reported};
use crate::load::{Effort, Misfit, Sure};
use crate::quantity::{Currency, Decimal, Money};
use crate::trade::{Shipment, Tariffs};

/// Shipments planned together.
#[derive(Debug)]
pub struct Together {
    /// Each shipment's load and cost, in their order.
    pub loads: Vec<Costed>,
    /// What each comes to with every stock to itself.
    pub alone: Vec<Alone>,
    /// The stocks, and what each takes of them.
    pub stocks: Vec<Shared>,
    /// What they come to together; `None` where their books are in different currencies.
    pub sums: Option<JointSums>,
    /// How sure it is that each load has the lowest box charges by its offers, and that no other shares
    /// have a lower sum of decision costs.
    pub sure: Sure,
}

/// What a shipment comes to with every stock to itself.
#[derive(Debug, Clone, Copy)]
pub struct Alone {
    /// Its landed total.
    pub landed: Money,
    /// Its decision cost.
    pub decision: Money,
}

impl Together {
    /// The others that draw on a stock of one of them, all by position.
    pub fn sharing_with(&self, shipment: usize) -> Vec<usize> {
        let named = self.stocks.iter().map(|shared| &shared.stock.named_by);
        let own = named.filter(|all| all.iter().any(|(at, _)| *at == shipment));
        let mut others: Vec<usize> = own.flatten().map(|(at, _)| *at).collect();
        others.sort_unstable();
        others.dedup();
        others.retain(|at| *at != shipment);
        others
    }
}

/// A stock that is shared out.
#[derive(Debug)]
pub struct Shared {
    /// The stock.
    pub stock: StockPool,
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
pub struct JointSums {
    /// Their boxes.
    pub cost: Money,
    /// The price of the wishes they break.
    pub wishes: Money,
    /// What both cannot go below, however the stocks are shared out, at the offers that serve; `None`
    /// where a given load breaks a limit.
    pub lower_bound: Option<Money>,
    /// Their landed totals.
    pub landed: Money,
    /// Their decision costs.
    pub decision: Money,
    /// Both with every stock to themselves.
    pub alone: Alone,
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
    pub stock: StockPool,
    /// For each shipment that names it, the fewest of its boxes with which a load was found.
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

/// Plans shipments together. `Ok(Err)`: the data is good, and the boxes do not suffice.
///
/// # Errors
///
/// If the data is at fault.
pub fn together(
    shipments: &[&Shipment],
    tariffs: &Tariffs,
    effort: Effort,
    report: &mut Report,
) -> Result<Result<Together, Refused>, Reported> {
    let stocks = stocks(shipments, report)?;
    let desk = Planner { shipments, tariffs, effort, units: report.units(), stocks: &stocks };
    let mut tried = match desk.each_alone(report)? {
        Ok(tried) => tried,
        Err(unfit) => return Ok(Err(Refused::Alone(unfit))),
    };
    let firsts = tried.iter().filter_map(|one| one.planned.first());
    let of = |costed: &Costed| {
        let landed = &costed.landed;
        Alone { landed: landed.total, decision: landed.decision }
    };
    let alone: Vec<(Alone, Vec<u32>)> =
        firsts.map(|first| (of(&first.costed), first.taken.clone())).collect();
    let mut picks = vec![0; shipments.len()];
    let mut bounds = Some(Vec::new());
    for group in desk.groups() {
        if desk.is_overdrawn(&group, &tried) {
            desk.explore(&group.shipments, &mut tried, report)?;
        }
        let Some(own) = desk.choose(&group, &tried) else {
            return Ok(Err(Refused::Short(desk.short(&group, &tried))));
        };
        for (shipment, pick) in group.shipments.iter().zip(own) {
            if let Some(own) = picks.get_mut(*shipment) {
                *own = pick;
            }
        }
        bounds = bounds.zip(desk.bound_of(&group, &tried)).map(|(mut all, bound)| {
            all.push(bound);
            all
        });
    }
    let sure = desk.sure(&tried);
    let planned = tried.into_iter().zip(&picks).map(|(one, at)| one.planned.into_iter().nth(*at));
    let planned = report.found(planned.collect::<Option<Vec<Planned>>>(), "a load")?;
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
    let alone: Vec<Alone> = alone.into_iter().map(|(own, _)| own).collect();
    let loads = planned.into_iter().map(|one| {
        report.absorb(one.report);
        one.costed
    });
    let loads: Vec<Costed> = loads.collect();
    let sums = sums(&loads, &alone, bounds);
    Ok(Ok(Together { loads, alone, stocks: shared, sums, sure }))
}

/// What shipments come to; `None` where their books are in different currencies.
fn sums(loads: &[Costed], alone: &[Alone], bounds: Option<Vec<Money>>) -> Option<JointSums> {
    let currency = loads.first()?.landed.currency;
    let of = |figure: fn(&Costed) -> Money| Money::total(currency, loads.iter().map(figure)).ok();
    let caused = of(|one| one.plan.caused)?;
    let bound = bounds.and_then(|bounds| Money::total(currency, bounds).ok());
    Some(JointSums {
        cost: of(|one| one.plan.cost)?,
        wishes: of(|one| one.plan.wishes)?,
        lower_bound: bound.and_then(|bound| bound.minus(caused).ok()),
        landed: of(|one| one.landed.total)?,
        decision: of(|one| one.landed.decision)?,
        alone: Alone {
            landed: Money::total(currency, alone.iter().map(|one| one.landed)).ok()?,
            decision: Money::total(currency, alone.iter().map(|one| one.decision)).ok()?,
        },
    })
}

/// Shipments that are linked by the stocks they draw on, by position.
struct Group {
    shipments: Vec<usize>,
    stocks: Vec<usize>,
}

impl Planner<'_> {
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

    /// Which plan serves for each of a group: the least sum of decision costs, then the fewest boxes,
    /// then the larger shares for those that come first. `None`: the stocks do not suffice.
    fn choose(&self, group: &Group, tried: &[Tried]) -> Option<Vec<usize>> {
        type Sum = (Decimal, usize, Vec<Reverse<u32>>, Vec<usize>);
        let mut all: Vec<Choices<Sum>> = Vec::new();
        for shipment in &group.shipments {
            let choice = |(at, one): (usize, &Planned)| {
                let taken = self.of_group(*shipment, &one.taken, group);
                let shares = taken.iter().copied().map(Reverse).collect();
                (taken, (one.worth(), one.costed.plan.boxes.len(), shares, vec![at]))
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
    fn bound_of(&self, group: &Group, tried: &[Tried]) -> Option<Money> {
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
    fn sure(&self, tried: &[Tried]) -> Sure {
        let (mut given, mut unknown) = (Vec::new(), Vec::new());
        for (shipment, known) in self.shipments.iter().zip(tried) {
            if let Some((_, why)) = known.open.first() {
                return Sure::Open(why.clone());
            }
            for one in &known.planned {
                match &one.costed.verdict.sure {
                    Sure::Proven => {}
                    Sure::Known(names) => unknown.extend(names.iter().cloned()),
                    Sure::Open(why) => return Sure::Open(format!("{}: {why}", shipment.name)),
                    Sure::Given => given.push(&shipment.name),
                }
            }
        }
        unknown.sort_unstable();
        unknown.dedup();
        match given.first() {
            None if unknown.is_empty() => Sure::Proven,
            None => Sure::Known(unknown),
            Some(_) if given.len() == tried.len() => Sure::Given,
            Some(name) => Sure::Open(format!("the load of {name} is given")),
        }
    }
}
