//! Whether a cost can only rise with the prices of its goods: then a search by halves finds what a scan of
//! every step would find.
//!
//! Decided on 2026-11-27. The condition is sufficient, not necessary. Where it does not hold, every step is
//! costed. The reasons, each with what it asks:
//!
//! - The goods are all of the shipment. Then its cost is a sum of whole charges. A part of a shipment bears
//!   shares, and a share that is cut to the cent may fall while its charge rises.
//! - The load is the same at every price. It is where the boxes are given; else no bill of a box may hang on
//!   the value of goods, and no floor or cap of a premium may switch what freight causes. Of a fixed load
//!   and fixed offers each cost below rises; the least of costs that all rise, rises.
//! - Every percentage of what hangs on the price is nothing or more. Floors, caps, parts counted whole and
//!   one rounding at the end keep the order. A discount of at most 100 % does, too: a rounded part of an
//!   amount never grows by more than the amount does.
//! - All goods are of one customs line on one entry, and the importer pays the duty. Then value and duty
//!   hang on the sum of the goods alone. Between lines, additions shared by price would move; a price
//!   delivered duty paid is solved for its value. An informal entry above its limit is a fault, and so is
//!   every price above that one.
//! - An invoice has at most two payments, and its goods pass on one day. The last payment takes what
//!   rounding leaves: of two it can only rise, of three it may fall by a cent.

use crate::price::{by_box, importer_pays, may_apply};
use crate::quantity::{Decimal, Money};
use crate::trade::{ChargeRow, Discount, DutyRate, Leg, Line, Rate, Shipment, Tariffs, WhatOf};

/// Whether the cost of all of a shipment can only rise with the prices of its goods.
pub(super) fn rises(shipment: &Shipment, tariffs: &Tariffs) -> bool {
    let rows = || tariffs.charges.iter().filter(|row| may_apply(shipment, row));
    let is_part = |name: &str| rows().any(|row| row.name == name && row.rate.value.of().is_some());
    one_entry(shipment, tariffs)
        && paid_simply(shipment)
        && rows().all(|row| !falls(row))
        && (!shipment.boxes.is_empty() || rows().all(|row| !moves_load(row, shipment, &is_part)))
}

/// Whether a row may come to less where goods come to more.
fn falls(row: &ChargeRow) -> bool {
    let is_less = |money: &Money| money.is_negative();
    match &row.rate.value {
        Rate::Amount(_) | Rate::Tiers(_) => false,
        Rate::Each { amount, .. } => is_less(amount),
        rate => rate.percent().is_none_or(|percent| percent.hundredths() < Decimal::ZERO),
    }
}

/// Whether which load is the cheapest may hang on what goods come to through a row.
fn moves_load(row: &ChargeRow, shipment: &Shipment, is_part: &dyn Fn(&str) -> bool) -> bool {
    let is_bounded = row.minimum.is_some() || row.maximum.is_some();
    let hangs = match row.rate.value.of() {
        None => false,
        Some(WhatOf::Leg(leg)) => matches!(leg, Leg::Goods | Leg::Insurance | Leg::DutyAndTax),
        Some(WhatOf::Charge(name)) => is_part(name),
        Some(_) => true,
    };
    match row.rate.value {
        Rate::Premium { .. } => {
            let is_ours = shipment.invoices.iter().any(|one| importer_pays(one, row));
            is_ours && (is_bounded || by_box(row, shipment))
        }
        _ => hangs && by_box(row, shipment),
    }
}

/// Whether all goods are of one customs line on one entry of the importer's, whatever they come to.
fn one_entry(shipment: &Shipment, tariffs: &Tariffs) -> bool {
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
    let is_negative = |rate: &DutyRate| match rate {
        DutyRate::Percent(percent) => percent.hundredths() < Decimal::ZERO,
        DutyRate::Specific(_) => false,
    };
    lines.all(is_alike)
        && shipment.filings.len() < 2
        && shipment.invoices.iter().all(|invoice| invoice.leaves(Leg::DutyAndTax))
        && tariffs.duties.iter().all(|row| !is_negative(&row.rate))
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
