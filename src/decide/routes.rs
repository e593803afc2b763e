//! By which ports and with which ship: every chain of origin, lane, port of discharge and yard, each with the first
//! sailing that the goods make.
//!
//! Decided on 2026-11-27. A chain moves the days of the shipment and its ports, and asks for the cost anew: every
//! rate, duty and free day is looked up on the new days. So what a chain costs is what `cost` says of files with
//! its lane and its days written in.

use std::collections::BTreeSet;

use rayon::prelude::*;

use super::change::{Change, changed};
use super::counter::{Bid, Cost};
use crate::cost::Carried;
use crate::price::may_apply;
use crate::quantity::{Exact, Money, ratio};
use crate::trade::{
    CalledPort, Clock, Date, Event, Incoterm, Lane, Port, Sailing, SailingRow, Shipment, Tariffs,
};

/// A chain.
#[derive(Debug)]
pub struct Route {
    /// The offer, by position.
    pub offer: usize,
    /// The ports.
    pub from: CalledPort,
    /// The port of discharge.
    pub to: CalledPort,
    /// The service.
    pub service: Option<String>,
    /// The ship; `None`: none is known that the goods make.
    pub sailing: Option<Sailing>,
    /// The day the slabs are in the yard.
    pub delivered: Option<Date>,
    /// Days from the day of the calculation, on which the order is given, to that day.
    pub days: Option<i64>,
    /// Free days at the port before the box is delivered: of the row that has the fewest, where one counts them.
    pub free: Option<u32>,
    /// What it comes to, or why it cannot be had so.
    pub outcome: Result<Cost, String>,
    /// The names of what is charged.
    pub charges: BTreeSet<String>,
    /// What has lapsed by then and serves on.
    pub carried: Vec<Carried>,
}

/// Offers by every chain.
#[derive(Debug)]
pub struct Routes {
    /// The chains, in the order of the offers, the ports and the table.
    pub all: Vec<Route>,
    /// For each offer: the day its goods are ready.
    pub ready: Vec<Option<Date>>,
    /// The cheapest per area, by position; of equal ones the faster.
    pub cheapest: Option<usize>,
    /// The fastest; of equal ones the cheaper.
    pub fastest: Option<usize>,
}

impl Routes {
    /// What other chains of its offer are charged and a chain is not, by name.
    pub fn lacking(&self, route: &Route) -> BTreeSet<&str> {
        let others = self.all.iter().filter(|one| one.offer == route.offer);
        let all = others.flat_map(|one| &one.charges).map(String::as_str);
        all.filter(|name| route.outcome.is_ok() && !route.charges.contains(*name)).collect()
    }

    /// What a day less costs between the cheapest and the fastest of an offer, to the minor unit. `None`: they
    /// are the same, take as long, or are of two offers.
    pub fn price_of_a_day(&self) -> Option<Money> {
        let one = |at: Option<usize>| self.all.get(at?);
        let (cheap, fast) = (one(self.cheapest)?, one(self.fastest)?);
        let saved = cheap.days?.checked_sub(fast.days?).filter(|days| *days > 0)?;
        let more = fast.outcome.as_ref().ok()?.decision;
        let more = more.minus(cheap.outcome.as_ref().ok()?.decision).ok()?;
        let each = ratio(more.amount(), saved.into(), 9)?;
        let is_one = cheap.offer == fast.offer;
        is_one.then(|| Exact::new(each, more.currency()).round().ok()).flatten()
    }
}

/// The day on which all goods of a shipment are ready.
fn ready(shipment: &Shipment) -> Option<Date> {
    let quoted = shipment.dates.quoted;
    // Where a line does not say, its goods are ready when they are collected; and that is the day it sails, where
    // nothing else is stated.
    let collected = shipment.dates.collected.unwrap_or(shipment.dates.sails);
    let each = shipment.lines.iter().map(|line| match &line.ready {
        Some(ready) => ready.day(quoted),
        None => Some(collected),
    });
    Some(each.collect::<Option<Vec<_>>>()?.into_iter().max().unwrap_or(quoted).max(quoted))
}

/// The lanes of a shipment: from each port at which all its prices hold, to each port that its yard is reached
/// from. A term that names a port of destination is for that one; under the others the seller ships from where
/// it likes.
fn lanes(shipment: &Shipment) -> Vec<Lane> {
    let terms = || shipment.invoices.iter().map(|invoice| &invoice.term.value);
    let is_to_port = terms().any(|term| {
        use Incoterm::{Exw, Fas, Fca, Fob};
        !matches!(term.rule, Exw | Fca | Fas | Fob)
    });
    let mut from = vec![shipment.lane.from.clone()];
    let mut to = vec![shipment.lane.to.clone()];
    let add = |all: &mut Vec<Port>, port: &Port| {
        if !all.contains(port) {
            all.push(port.clone());
        }
    };
    if !is_to_port {
        for port in shipment.lines.iter().flat_map(|line| &line.ports) {
            if shipment.lines.iter().all(|line| line.ports.contains(port)) {
                add(&mut from, port);
            }
        }
        for port in std::iter::once(&shipment.yard.port).chain(&shipment.yard.ports) {
            add(&mut to, port);
        }
    }
    let each = |from: &Port| {
        to.iter().map(|to| Lane { from: from.clone(), to: to.clone() }).collect::<Vec<_>>()
    };
    from.iter().flat_map(each).collect()
}

/// The shipment by another lane. A term that names the port of loading names the new one.
fn by_lane(shipment: &Shipment, lane: &Lane, tariffs: &Tariffs) -> Shipment {
    let mut other = shipment.clone();
    let was = shipment.lane.from.to_string();
    for invoice in &mut other.invoices {
        let term = &mut invoice.term.value;
        let is_loading = matches!(term.rule, Incoterm::Fca | Incoterm::Fas | Incoterm::Fob);
        if is_loading && term.named_place == was {
            term.named_place = lane.from.to_string();
        }
    }
    other.from = CalledPort::of(&lane.from, &tariffs.ports);
    other.to = CalledPort::of(&lane.to, &tariffs.ports);
    other.lane = lane.clone();
    other
}

/// The fewest free days between arrival and delivery that a row has which may apply.
fn free_days(shipment: &Shipment, tariffs: &Tariffs) -> Option<u32> {
    let rows = tariffs.charges.iter().filter(|row| may_apply(shipment, row));
    let free = rows.filter_map(|row| match &row.clock {
        Some(Clock::Days { between: (Event::Arrives, _), free, .. }) if *free > 0 => Some(*free),
        _ => None,
    });
    free.min()
}

/// Tries every chain of some offers.
pub fn routes(bids: &[Bid<'_>]) -> Routes {
    let ready: Vec<Option<Date>> = bids.iter().map(|bid| ready(bid.shipment)).collect();
    let mut chains = Vec::new();
    for (offer, bid) in bids.iter().enumerate() {
        for lane in lanes(bid.shipment) {
            let rows = bid.tariffs.sailings.iter().filter(|row| row.lane == lane);
            let before = chains.len();
            chains.extend(rows.map(|row| (offer, lane.clone(), Some(row))));
            // A lane that nobody states sailings of is told: its port may be a slip.
            if chains.len() == before {
                chains.push((offer, lane, None));
            }
        }
    }
    let all: Vec<Route> = chains
        .into_par_iter()
        .filter_map(|(offer, lane, row)| {
            let ready = ready.get(offer).copied().flatten();
            Some(route(bids.get(offer)?, offer, &lane, (row, ready)))
        })
        .collect();
    let costed = || {
        let each = all.iter().enumerate();
        each.filter_map(|(at, one)| Some((at, one.outcome.as_ref().ok()?, one.days?)))
    };
    let cheapest = costed().min_by(|(_, one, days), (_, other, more)| {
        one.per_area.cmp(&other.per_area).then(days.cmp(more))
    });
    let fastest = costed().min_by(|(_, one, days), (_, other, more)| {
        days.cmp(more).then(one.per_area.cmp(&other.per_area))
    });
    let (cheapest, fastest) = (cheapest.map(|(at, ..)| at), fastest.map(|(at, ..)| at));
    Routes { all, ready, cheapest, fastest }
}

fn route(
    bid: &Bid<'_>,
    offer: usize,
    lane: &Lane,
    (row, ready): (Option<&SailingRow>, Option<Date>),
) -> Route {
    let own = by_lane(bid.shipment, lane, bid.tariffs);
    let mut route = Route {
        offer,
        from: own.from.clone(),
        to: own.to.clone(),
        service: row.and_then(|row| row.service.clone()),
        sailing: None,
        delivered: None,
        days: None,
        free: None,
        outcome: Err(format!("rates/sailings.toml has no sailing of {lane}")),
        charges: BTreeSet::new(),
        carried: Vec::new(),
    };
    let (Some(row), Some(ready)) = (row, ready) else { return route };
    let Some(sailing) = row.first_from(ready) else {
        let known = row.valid;
        route.outcome =
            Err(format!("no sailing is known that takes goods ready on {ready} ({known})"));
        return route;
    };
    route.sailing = Some(sailing);
    let days =
        [Change::Day(Event::Sails, sailing.sails), Change::Day(Event::Arrives, sailing.arrives)];
    let days: Vec<&Change> = days.iter().collect();
    let moved = changed((&own, bid.tariffs), &days, |_| Ok(own.clone()));
    let moved = match moved {
        Ok((moved, _)) => moved,
        Err(why) => {
            route.outcome = Err(why);
            return route;
        }
    };
    route.delivered = Some(moved.dates.delivered);
    route.days = Some((moved.dates.delivered - moved.dates.quoted).num_days());
    route.free = free_days(&moved, bid.tariffs);
    match bid.estimated(&moved) {
        Ok(costed) => {
            route.outcome = bid.cost_of(None, &moved, &costed);
            let landed = costed.landed;
            let paid = landed.charges.iter().filter(|charge| !charge.book().is_zero());
            route.charges = paid.map(|charge| charge.name.to_string()).collect();
            route.carried = landed.headline.carried;
        }
        Err(why) => route.outcome = Err(why),
    }
    route
}
