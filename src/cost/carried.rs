//! Rates and prices that serve on after they have lapsed: each by its name and age, with what rests on it.

use crate::bill::Charge;
use crate::price::chosen_by;
use crate::quantity::{Money, Overflow};
use crate::trade::{Date, Event, Leg, Shipment, Treatment};

/// A price or a rate that has lapsed and serves on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Carried {
    /// The charge, or the rate of exchange as quoted.
    pub what: String,
    /// Its last day.
    pub until: Date,
    /// How many days before it was needed that was.
    pub days: u64,
    /// What of the landed cost rests on it, in the book currency.
    pub share: Money,
}

/// The day that a charge's row was looked up for.
fn asked_on(charge: &Charge, shipment: &Shipment) -> Date {
    let event = match &charge.table {
        Some((table, _)) => chosen_by(*table, charge.leg),
        None if charge.leg == Leg::DutyAndTax => Event::Entered,
        // The price of a supplier.
        None => Event::Quoted,
    };
    shipment.dates.of(event)
}

/// What of a charge rests on what has lapsed: its own row, or the rates of exchange of its parts.
fn of(charge: &Charge, shipment: &Shipment) -> Vec<Carried> {
    let day = asked_on(charge, shipment);
    let own = charge.valid.and_then(|valid| Some((valid.until?, valid.lapsed_for(day)?)));
    if let Some((until, days)) = own {
        return vec![Carried { what: charge.name.to_string(), until, days, share: charge.book() }];
    }
    let parts = charge.booked.parts.iter().map(|part| (&part.exchange, part.book));
    let whole = charge.exchange().filter(|_| charge.booked.parts.is_empty());
    let all = parts.chain(whole.map(|exchange| (exchange, charge.book())));
    let lapsed = all.filter_map(|(exchange, share)| {
        let (until, days) = (exchange.valid.until?, exchange.valid.lapsed_for(exchange.on)?);
        Some(Carried { what: exchange.quote.to_string(), until, days, share })
    });
    lapsed.collect()
}

/// Whether a charge rests on what has lapsed: it counts as assumed then.
pub(super) fn is_carried(charge: &Charge, shipment: &Shipment) -> bool {
    !of(charge, shipment).is_empty()
}

/// What has lapsed and serves on, in the order of the charges, each once.
///
/// # Errors
/// Where a sum cannot be held.
pub(super) fn carried(shipment: &Shipment, charges: &[Charge]) -> Result<Vec<Carried>, Overflow> {
    let mut all: Vec<Carried> = Vec::new();
    for charge in charges {
        for mut one in of(charge, shipment) {
            if charge.treatment != Treatment::Stock {
                one.share = Money::zero(one.share.currency());
            }
            let known = all.iter_mut().find(|known| known.what == one.what);
            match known {
                Some(known) => {
                    known.share = known.share.plus(one.share)?;
                    known.days = known.days.max(one.days);
                }
                None => all.push(one),
            }
        }
    }
    Ok(all)
}
