//! An offer of which draws are made. What no draw moves is worked out once. Its tables and prices are copied once,
//! and each draw puts its figures into that copy.

use std::borrow::Cow;

use super::change::{Change, Reach, layers};
use super::counter::Bid;
use super::lever::put_prices;
use crate::choose::{Held, Ready, Worth};
use crate::price::may_fit;
use crate::trade::{ChargeRow, Shipment, Tariffs};

/// An offer whose ranges are put anywhere.
pub(super) struct Moved<'a> {
    bid: Bid<'a>,
    /// The tables that it is costed by.
    tariffs: Cow<'a, Tariffs>,
    /// The rows that each range moves, by position.
    reach: Vec<Reach>,
}

/// An offer of which draws are made.
pub(super) struct Drawn<'a> {
    /// Its tables are without what no charge of it can rest on.
    moved: Moved<'a>,
    /// The loads that serve, each ready to be costed.
    loads: Vec<(&'a Held, Ready)>,
}

/// A copy of an offer's tables and prices that draws are put in.
pub(super) struct Draft {
    shipment: Shipment,
    tariffs: Tariffs,
}

impl<'a> Moved<'a> {
    /// Of an offer by its own tables. `ranges` has a change of each range.
    pub(super) fn of<'c>(bid: Bid<'a>, ranges: impl Iterator<Item = &'c Change>) -> Self {
        Self::by(bid, Cow::Borrowed(bid.tariffs), ranges)
    }

    fn by<'c>(
        bid: Bid<'a>,
        tariffs: Cow<'a, Tariffs>,
        ranges: impl Iterator<Item = &'c Change>,
    ) -> Self {
        let reach = ranges.map(|change| change.reach(bid.shipment, &tariffs)).collect();
        Self { bid, tariffs, reach }
    }

    /// A copy to put draws in.
    pub(super) fn draft(&self) -> Draft {
        Draft { shipment: self.bid.shipment.clone(), tariffs: (*self.tariffs).clone() }
    }

    /// Puts each range where a draw has it.
    fn put(&self, draft: &mut Draft, changes: &[(usize, Change)]) -> Result<(), String> {
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
        Ok(())
    }

    /// What it comes to where a draw puts its ranges, with its load planned anew.
    pub(super) fn anew(
        &self,
        draft: &mut Draft,
        changes: &[(usize, Change)],
    ) -> Result<Worth, String> {
        self.put(draft, changes)?;
        let bid = Bid { tariffs: &draft.tariffs, ..self.bid };
        bid.held(&draft.shipment).map(|(_, worth)| worth)
    }
}

impl<'a> Drawn<'a> {
    /// Of an offer and its loads. `ranges` has a change of each range.
    pub(super) fn of<'c>(
        bid: Bid<'a>,
        loads: &'a [Held],
        ranges: impl Iterator<Item = &'c Change> + Clone,
    ) -> Result<Self, String> {
        let moved = Moved::by(bid, Cow::Owned(own_rows(&bid)), ranges.clone());
        let Moved { tariffs, reach, .. } = &moved;
        let book = bid.shipment.yard.currency;
        let is_still = |row: &ChargeRow| {
            let mut all = ranges.clone().zip(reach);
            !all.any(|(change, reach)| change.moves(row, reach, tariffs, book))
        };
        let ready = loads.iter().map(|load| Ok((load, bid.ready(load, tariffs, &is_still)?)));
        let loads = ready.collect::<Result<_, String>>()?;
        Ok(Self { moved, loads })
    }

    /// A copy to put draws in.
    pub(super) fn draft(&self) -> Draft {
        self.moved.draft()
    }

    /// What it comes to in the cheapest of its loads, each range changed as a draw has it.
    pub(super) fn cheapest(
        &self,
        draft: &mut Draft,
        changes: &[(usize, Change)],
    ) -> Result<Worth, String> {
        self.moved.put(draft, changes)?;
        let of = (&draft.shipment, &draft.tariffs);
        let each = self.loads.iter().map(|load| self.moved.bid.worth(load, of));
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
