//! Which rows of the tables begin or end between two days of sailing.
//!
//! Decided on 2026-11-27. A row counts where it may fall on the shipment, whether or not another takes its place
//! on the same day: of rows of one name, the one that begins is told.

use crate::fault::Place;
use crate::price::{chosen_by, may_apply};
use crate::trade::{
    ChargeRow, Date, Dates, DutyRow, Event, ExchangeRow, Shipment, Tariffs, Window,
};

/// A row that begins or ends.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Turn {
    /// What it is called: a charge, a duty, a rate of exchange.
    pub name: String,
    /// Whether it begins, or has ended.
    pub begins: bool,
    /// The row.
    pub place: Place,
}

/// The rows that begin or end for a shipment where it sails on the second of two days and not on the first.
pub(super) fn turns(shipment: &Shipment, tariffs: &Tariffs, sails: [Date; 2]) -> Vec<Turn> {
    let [before, after] = sails.map(|day| shipment.dates.moved(Event::Sails, day));
    let Some((before, after)) = before.zip(after) else { return Vec::new() };
    let turn = |valid: Window, event: Event| {
        let holds = |dates: &Dates| valid.holds(dates.of(event));
        (holds(&before) != holds(&after)).then(|| holds(&after))
    };
    let charges = tariffs.charges.iter().filter(|row| may_apply(shipment, row));
    let charges = charges.filter_map(|row: &ChargeRow| {
        let begins = turn(row.valid, chosen_by(row.table, row.leg))?;
        Some(Turn { name: row.name.clone(), begins, place: row.place.clone() })
    });
    let own = |row: &&DutyRow| {
        let is_from = |origin| row.origins.is_empty() || row.origins.contains(origin);
        row.regime == shipment.yard.regime
            && shipment.lines.iter().any(|line| is_from(&line.origin))
    };
    let duties = tariffs.duties.iter().filter(own).filter_map(|row| {
        let begins = turn(row.valid, Event::Entered)?;
        Some(Turn { name: row.name.clone(), begins, place: row.place.clone() })
    });
    // A rate serves on the day of whatever is converted.
    let book = shipment.yard.currency;
    let joined = tariffs.exchange.iter().filter(|row| {
        let quote = &row.quote.value;
        quote.base() == book || quote.counter() == book
    });
    let rates = joined.filter_map(|row: &ExchangeRow| {
        let begins = Event::ALL.iter().find_map(|(event, _)| turn(row.valid, *event))?;
        let name = format!("{} ({})", row.quote.value, row.used_for.word());
        Some(Turn { name, begins, place: row.place.clone() })
    });
    let all: Vec<Turn> = charges.chain(duties).chain(rates).collect();
    let is_replaced =
        |one: &Turn| !one.begins && all.iter().any(|other| other.begins && other.name == one.name);
    all.iter().filter(|one| !is_replaced(one)).cloned().collect()
}
