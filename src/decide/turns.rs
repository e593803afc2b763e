//! Which rows of the tables begin or end between two days of sailing.
//!
//! Decided on 2026-11-27. A row counts where it may fall on the shipment, whether or not another takes its place
//! on the same day: of rows of one name, the one that begins is told.

use crate::fault::Place;
use crate::price::{chosen_by, may_apply};
use crate::quantity::Currency;
use crate::trade::{
    ChargeRow, Date, Dates, DutyRow, Event, ExchangeRow, ExchangeUse, Line, Rate, Shipment,
    Tariffs, Window,
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

impl Turn {
    /// Whether a page says the same of another.
    pub(super) fn is_as(&self, other: &Self) -> bool {
        let said = |one: &Self| (one.begins, one.place.line);
        self.name == other.name && said(self) == said(other) && self.place.file == other.place.file
    }
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
    let duties = tariffs.duties.iter().map(|row| &**row).filter(own).filter_map(|row| {
        let begins = turn(row.valid, Event::Entered)?;
        Some(Turn { name: row.name.clone(), begins, place: row.place.clone() })
    });
    // A rate serves on the day of whatever is converted.
    let (book, paid) = (shipment.yard.currency, paid_in(shipment, tariffs));
    let by_contract = shipment.invoices.iter().any(|invoice| {
        let of_payments = invoice.payments.iter().filter_map(|payment| payment.exchange);
        of_payments.chain([invoice.exchange]).any(|used_for| used_for == ExchangeUse::Contract)
    });
    let joined = tariffs.exchange.iter().filter(|row| {
        let is_used = row.used_for != ExchangeUse::Contract || by_contract;
        is_used && paid.iter().any(|currency| row.quote.joins(*currency, book))
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

/// The currencies that prices and charges of a shipment are in.
fn paid_in(shipment: &Shipment, tariffs: &Tariffs) -> Vec<Currency> {
    let prices = shipment.lines.iter().flat_map(Line::prices).map(|price| price.currency);
    let charges = tariffs.charges.iter().filter(|row| may_apply(shipment, row));
    let charges = charges.filter_map(|row| match &row.rate.value {
        Rate::Amount(amount) | Rate::Each { amount, .. } => Some(amount.currency()),
        Rate::Tiers(tiers) => tiers.tiers.first().map(|tier| tier.amount.currency()),
        Rate::Percent(..) | Rate::Premium { .. } | Rate::Interest(..) => None,
    });
    prices.chain(charges).collect()
}
