//! Whether a cost can only rise with the prices of its goods: then a search by halves finds what a scan of
//! every step would find.
//!
//! Decided on 2026-11-27. The condition is sufficient, not necessary. Where it does not hold, every step is
//! costed. The reasons, each with what it asks:
//!
//! - The load is the same at every price. It is where the boxes are given; else no bill of a box may hang on
//!   the value of goods, and no floor or cap of a premium may switch what freight causes. Of a fixed load
//!   and fixed offers each cost below rises; the least of costs that all rise, rises.
//! - Every percentage of what hangs on the price is nothing or more. Floors, caps, parts counted whole and
//!   one rounding at the end keep the order. A discount of at most 100 % does, too: a rounded part of an
//!   amount never grows by more than the amount does.
//! - All goods are on one entry, and the importer pays the duty: a price delivered duty paid is solved for its
//!   value. An informal entry above its limit is a fault, and so is every price above that one.
//! - An invoice has at most two payments, and its goods pass on one day. The last payment takes what
//!   rounding leaves: of two it can only rise, of three it may fall by a cent.
//!
//! That is enough where the goods are all of the shipment and of one customs line: its cost is a sum of whole
//! charges, and value and duty hang on the sum of the goods alone. A part of a shipment bears shares. It asks
//! for more:
//!
//! - One choice of offers serves at every price, as a part may bear less under another. No offer's own charge
//!   hangs on the price or is part of a customs value, so choices keep their distance, but for cents.
//! - A share by value of what is less than nothing would fall: there is none.
//! - No line's customs value falls where another's price rises: nothing that is shared by price is added to
//!   values.
//!
//! Then a share falls by cents at the most, where the last ones go to other slabs. The slack for them is a
//! hundred minor units for each slab, many times what can be.

use crate::price::{by_box, importer_pays, may_apply};
use crate::quantity::{Currency, Decimal, Money, UnitRate};
use crate::trade::{ChargeRow, Discount, Leg, Line, Rate, Shipment, Tariffs, WhatOf};

/// How a cost goes with the prices of its goods.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Course {
    /// It never falls where they rise.
    Rises,
    /// It falls by less than the slack, as long as one choice of offers serves: one that leads by twice as much.
    RisesBut,
    /// Nothing is known of it.
    Open,
}

/// How the cost of goods goes with their prices: of all of a shipment, or of a part.
pub(super) fn course(shipment: &Shipment, tariffs: &Tariffs, is_whole: bool) -> Course {
    let rows: Vec<&ChargeRow> =
        tariffs.charges.iter().filter(|row| may_apply(shipment, row)).collect();
    let rises = one_entry(shipment)
        && paid_simply(shipment)
        && rows.iter().all(|row| !falls(row))
        && (!shipment.boxes.is_empty() || rows.iter().all(|row| !moves_load(row, shipment, &rows)));
    if rises && is_whole && one_line(shipment) {
        Course::Rises
    } else if rises && shares_rise(shipment, tariffs, &rows) {
        Course::RisesBut
    } else {
        Course::Open
    }
}

/// The slack of a number of slabs.
pub(super) fn slack(slabs: usize, currency: Currency) -> Option<Money> {
    Some(Money::from_minor(i64::try_from(slabs).ok()?.checked_mul(100)?, currency))
}

/// Whether shares of charges rise but for cents, while one choice of offers serves.
fn shares_rise(shipment: &Shipment, tariffs: &Tariffs, rows: &[&ChargeRow]) -> bool {
    let is_less = |row: &ChargeRow| match &row.rate.value {
        Rate::Amount(amount) => amount.is_negative(),
        Rate::Tiers(tiers) => tiers.tiers.iter().any(|tier| tier.amount.is_negative()),
        _ => false,
    };
    let regimes = tariffs.regimes.iter().filter(|one| one.id == shipment.yard.regime);
    let added: Vec<Leg> = regimes
        .flat_map(|one| one.adds.iter().chain(one.assumed.iter().map(|(leg, _)| leg)))
        .copied()
        .collect();
    rows.iter().all(|row| {
        let (is_offered, is_added) = (row.offer.is_some(), added.contains(&row.leg));
        let may_fall = is_less(row)
            || (is_offered && is_added)
            || ((is_offered || is_added) && hangs(row, rows));
        !may_fall
    }) && shipment.invoices.iter().all(|invoice| {
        invoice.additions.is_empty()
            && invoice.commission.is_none()
            && invoice.basis_adjustment.is_none()
    })
}

/// Whether a row may come to less where goods come to more.
fn falls(row: &ChargeRow) -> bool {
    let is_less = |amount: &UnitRate| amount.is_negative();
    match &row.rate.value {
        Rate::Amount(_) | Rate::Tiers(_) => false,
        Rate::Each { amount, .. } => is_less(amount),
        rate => rate.percent().is_none_or(|percent| percent.hundredths() < Decimal::ZERO),
    }
}

/// Whether what a row comes to may hang on what goods come to.
fn hangs(row: &ChargeRow, rows: &[&ChargeRow]) -> bool {
    let is_part =
        |name: &str| rows.iter().any(|row| row.name == name && row.rate.value.of().is_some());
    match row.rate.value.of() {
        None => false,
        Some(WhatOf::Leg(leg)) => matches!(leg, Leg::Goods | Leg::Insurance | Leg::DutyAndTax),
        Some(WhatOf::Charge(name)) => is_part(name),
        Some(_) => true,
    }
}

/// Whether which load is the cheapest may hang on what goods come to through a row.
fn moves_load(row: &ChargeRow, shipment: &Shipment, rows: &[&ChargeRow]) -> bool {
    let is_bounded = row.minimum.is_some() || row.maximum.is_some();
    match row.rate.value {
        Rate::Premium { .. } => {
            let is_ours = shipment.invoices.iter().any(|one| importer_pays(one, row));
            is_ours && (is_bounded || by_box(row, shipment))
        }
        _ => hangs(row, rows) && by_box(row, shipment),
    }
}

/// Whether all goods are of one customs line.
fn one_line(shipment: &Shipment) -> bool {
    let mut lines = shipment.lines.iter();
    let Some(first) = lines.next() else { return false };
    let is_alike = |line: &Line| {
        line.stone.value == first.stone.value
            && line.finish.id == first.finish.id
            && line.thickness == first.thickness
            && line.origin == first.origin
            && line.form == first.form
            && line.producer == first.producer
            && line.preference == first.preference
    };
    lines.all(is_alike)
}

/// Whether all goods are on one entry of the importer's, whatever they come to.
fn one_entry(shipment: &Shipment) -> bool {
    shipment.filings.len() < 2 && shipment.carried().all(|invoice| invoice.leaves(Leg::DutyAndTax))
}

/// Whether invoices are discounted and paid so that each payment can only rise.
fn paid_simply(shipment: &Shipment) -> bool {
    let is_whole = |discount: &Discount| match discount {
        Discount::Percent(percent) => percent.fraction() <= Decimal::ONE,
        Discount::Amount(_) => true,
    };
    shipment.bills.iter().all(|bill| bill.control.is_none())
        && shipment.invoices.iter().all(|invoice| {
            let commission = invoice.commission.as_ref();
            invoice.payments.len() < 3
                && invoice.discount.as_ref().is_none_or(|discount| is_whole(&discount.value))
                && commission.is_none_or(|one| one.rate.value.hundredths() >= Decimal::ZERO)
        })
}
