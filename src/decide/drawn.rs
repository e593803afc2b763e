//! An offer of which draws are made. What no draw moves is worked out once. Its tables and prices are copied once,
//! and each draw puts its figures into that copy.

use super::change::{Change, Reach, layers};
use super::counter::Bid;
use super::lever::put_prices;
use crate::choose::{Held, Ready, Worth};
use crate::price::may_fit;
use crate::trade::{ChargeRow, Shipment, Tariffs};

/// An offer of which draws are made.
pub(super) struct Drawn<'a> {
    pub(super) bid: Bid<'a>,
    /// The tables without what no charge of it can rest on.
    tariffs: Tariffs,
    /// The loads that serve, each ready to be costed.
    loads: Vec<(&'a Held, Ready)>,
    /// The rows that each range moves, by position.
    reach: Vec<Reach>,
}

/// A copy of an offer's tables and prices that draws are put in.
pub(super) struct Draft {
    shipment: Shipment,
    tariffs: Tariffs,
}

impl<'a> Drawn<'a> {
    /// Of an offer and its loads. `ranges` has a change of each range.
    pub(super) fn of<'c>(
        bid: Bid<'a>,
        loads: &'a [Held],
        ranges: impl Iterator<Item = &'c Change>,
    ) -> Result<Self, String> {
        let tariffs = own_rows(&bid);
        let reached = ranges.map(|change| (change, change.reach(bid.shipment, &tariffs)));
        let reached: Vec<(&Change, Reach)> = reached.collect();
        let book = bid.shipment.yard.currency;
        let is_still = |row: &ChargeRow| {
            let moves =
                |(change, reach): &(&Change, Reach)| change.moves(row, reach, &tariffs, book);
            !reached.iter().any(moves)
        };
        let ready = loads.iter().map(|load| Ok((load, bid.ready(load, &tariffs, &is_still)?)));
        let loads = ready.collect::<Result<_, String>>()?;
        let reach = reached.into_iter().map(|(_, reach)| reach).collect();
        Ok(Self { bid, tariffs, loads, reach })
    }

    /// A copy to put draws in.
    pub(super) fn draft(&self) -> Draft {
        Draft { shipment: self.bid.shipment.clone(), tariffs: self.tariffs.clone() }
    }

    /// What it comes to in the cheapest of its loads, each range changed as a draw has it.
    pub(super) fn cheapest(
        &self,
        draft: &mut Draft,
        changes: &[(usize, Change)],
    ) -> Result<Worth, String> {
        let too_large = || "a figure is too large to be held".to_owned();
        let Draft { shipment, tariffs } = draft;
        let all = || changes.iter().filter_map(|(at, change)| Some((self.reach.get(*at)?, change)));
        // Two ranges may move one row, one after the other.
        for (reach, change) in all() {
            change.restore(reach, &self.tariffs, tariffs);
            if let Change::Price(..) = change {
                for (line, read) in shipment.lines.iter_mut().zip(&self.bid.shipment.lines) {
                    line.price.value = read.price.value;
                    line.pricing.clone_from(&read.pricing);
                }
            }
        }
        for (reach, change) in all() {
            change.set(reach, tariffs)?;
            let prices = change.prices(shipment).ok_or_else(too_large)?;
            if !prices.is_empty() {
                put_prices(shipment, &prices);
            }
        }
        let each = self.loads.iter().map(|load| self.bid.worth(load, (shipment, tariffs)));
        let each = each.collect::<Result<Vec<Worth>, String>>()?;
        each.into_iter().min().ok_or_else(String::new)
    }
}

/// The tables of an offer without what no charge of it can rest on: a draw copies them.
fn own_rows(bid: &Bid<'_>) -> Tariffs {
    let Bid { shipment, tariffs, .. } = *bid;
    let mut own = Tariffs {
        limits: Vec::new(),
        rigs: Vec::new(),
        roads: Vec::new(),
        ports: Vec::new(),
        selling: Vec::new(),
        exceptions: Vec::new(),
        market: Vec::new(),
        cover: Vec::new(),
        methods: Vec::new(),
        work_steps: Vec::new(),
        duties: Vec::new(),
        ..tariffs.clone()
    };
    own.charges.retain(|row| may_fit(shipment, row));
    let layers = layers(shipment, tariffs);
    let duties = layers.into_iter().filter_map(|at| tariffs.duties.get(at));
    own.duties = duties.cloned().collect();
    own
}
