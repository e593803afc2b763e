//! Which row of a charge table serves: by lane, port, yard, box, offer and date.
//!
//! Decided on 2026-11-26. A row for one kind of box that is counted by something else, such as the tonne, is
//! for the goods in such boxes. The loader does not weigh it, so no load beside it is called proven; of an
//! entry it is a fault.

use std::collections::BTreeSet;

use smol_str::SmolStr;

use super::legs::{event_of, importer_bears, importer_pays, is_import_tax};
use super::terms::BoxKey;
use super::why::{Reason, Why};
use crate::trade::{
    ChargeRow, Dates, Event, Invoice, Leg, LimitRow, Lookup, Matches, Offers, Shipment, TableName,
    Tariffs, in_force,
};

/// The event whose day chooses a row: sailing for freight and crating, delivery for drayage, the
/// leg's own for fees.
pub fn chosen_by(table: TableName, leg: Leg) -> Event {
    match table {
        TableName::Freight | TableName::Crating => Event::Sails,
        TableName::Drayage => Event::Delivered,
        TableName::Fees => event_of(leg),
    }
}

/// What is asked of a row for a leg, and for a box where there is one.
pub fn asked(shipment: &Shipment, leg: Leg, key: Option<&BoxKey<'_>>) -> Matches {
    let port = if leg.is_at_origin() { &shipment.lane.from } else { &shipment.lane.to };
    let place = shipment.invoices.iter().find(|invoice| importer_bears(invoice, leg));
    Matches {
        lane: Some(shipment.lane.key()),
        port: Some(port.code().into()),
        term_place: place.map(|invoice| invoice.term.named_place.as_str().into()),
        container: key.map(|key| key.container.into()),
        class: key.and_then(|key| key.class.map(SmolStr::from)),
        yard: Some(shipment.yard.id.as_str().into()),
        regime: Some(shipment.yard.regime.as_str().into()),
        stone: None,
        entry: None,
        mode: None,
    }
}

/// What serves of the rows of one purpose.
#[derive(Debug, Clone)]
pub enum Serving<'a> {
    /// The row in force.
    Row(&'a ChargeRow),
    /// No row fits.
    Nothing,
    /// Rows fit that all begin later: they do not apply yet.
    NotYet(Vec<&'a ChargeRow>),
}

/// The row in force among those of one purpose that fit what is asked. Rows that all begin later
/// do not apply yet.
///
/// # Errors
/// Where rows fit and all ended, as a charge does not vanish by itself; where two serve.
pub fn serving<'a>(
    rows: &[&'a ChargeRow],
    asked: &Matches,
    days: &Dates,
) -> Result<Serving<'a>, Why<'a>> {
    // All rows of a purpose are of one table and leg.
    let Some(first) = rows.first() else {
        return Ok(Serving::Nothing);
    };
    let fitting = rows.iter().copied().filter(|row| row.matches.fit(asked));
    let event = chosen_by(first.table, first.leg);
    let on = days.of(event);
    match in_force(fitting, |row| row.valid, on) {
        Lookup::Found(row) => Ok(Serving::Row(row)),
        Lookup::Missing => Ok(Serving::Nothing),
        Lookup::Lapsed(rows) if rows.iter().all(|row| row.valid.from > on) => {
            Ok(Serving::NotYet(rows))
        }
        Lookup::Lapsed(rows) => {
            Err(Box::new(Reason::Lapsed { rows, asked: asked.clone(), event, on }))
        }
        Lookup::Several(rows) => Err(Box::new(Reason::Several { rows, event, on })),
    }
}

/// Rows of one name in one table: one purpose, with a row for each box, date or stone.
#[derive(Debug, Clone)]
pub struct Purpose<'a> {
    /// Their name.
    pub name: &'a str,
    /// Their leg.
    pub leg: Leg,
    /// The rows.
    pub rows: Vec<&'a ChargeRow>,
}

impl Purpose<'_> {
    /// Whether the importer bears it under an invoice.
    pub fn is_borne(&self, invoice: &Invoice) -> bool {
        self.rows.first().is_some_and(|row| importer_pays(invoice, row))
    }

    /// The named places to ask rows for, one after the other, where rows tell them apart: two
    /// suppliers' goods from two works each have their own truck.
    pub fn places<'s>(&self, shipment: &'s Shipment) -> Vec<Option<&'s str>> {
        if self.rows.iter().all(|row| row.matches.term_place.is_none()) {
            return vec![None];
        }
        let bearing = shipment.invoices.iter().filter(|invoice| self.is_borne(invoice));
        let places: BTreeSet<&str> = bearing.map(|one| one.term.named_place.as_str()).collect();
        places.into_iter().map(Some).collect()
    }

    /// Whether it is the importer's own, whatever the term.
    pub fn is_own(&self) -> bool {
        self.rows.first().is_some_and(|row| row.by_importer)
    }

    /// Whether it is an import tax.
    pub fn is_import_tax(&self) -> bool {
        self.rows.first().is_some_and(|row| is_import_tax(row))
    }
}

/// The purposes that a shipment may owe: of its regime, yard and lane, in the chosen offers, on
/// legs that the importer bears.
pub fn purposes<'a>(
    shipment: &Shipment,
    tariffs: &'a Tariffs,
    offers: &[Offers],
) -> Vec<Purpose<'a>> {
    let mut all: Vec<Purpose<'a>> = Vec::new();
    for row in &tariffs.charges {
        if !offers.iter().any(|one| one.takes(row.table, row.offer.as_deref()))
            || !may_apply(shipment, row)
        {
            continue;
        }
        let known = all.iter_mut().find(|purpose| {
            let first = purpose.rows.first();
            purpose.name == row.name
                && purpose.leg == row.leg
                && first.is_some_and(|first| {
                    first.table == row.table && first.by_importer == row.by_importer
                })
        });
        match known {
            Some(purpose) => purpose.rows.push(row),
            None => all.push(Purpose { name: &row.name, leg: row.leg, rows: vec![row] }),
        }
    }
    all
}

/// Whether a row can apply to a shipment at all, whatever the box, the stone or the day.
pub fn may_apply(shipment: &Shipment, row: &ChargeRow) -> bool {
    let named = row.matches.term_place.as_deref();
    let here = |invoice: &&Invoice| named.is_none_or(|place| place == invoice.term.named_place);
    let mut bearing = shipment.invoices.iter().filter(|one| importer_pays(one, row));
    bearing.any(|invoice| here(&invoice)) && may_fit(shipment, row)
}

/// The same, whoever bears the row's leg.
pub fn may_fit(shipment: &Shipment, row: &ChargeRow) -> bool {
    may_match(shipment, row.leg, &row.matches)
}

/// Whether a limit may be one of a box of a shipment, whatever type and class it is of.
pub fn may_limit(shipment: &Shipment, row: &LimitRow) -> bool {
    let leg = if row.at_sea { Leg::MainCarriage } else { Leg::OnCarriage };
    may_match(shipment, leg, &row.matches)
}

fn may_match(shipment: &Shipment, leg: Leg, matches: &Matches) -> bool {
    let mut asked = asked(shipment, leg, None);
    asked.container.clone_from(&matches.container);
    asked.class.clone_from(&matches.class);
    asked.stone.clone_from(&matches.stone);
    asked.entry.clone_from(&matches.entry);
    asked.mode.clone_from(&matches.mode);
    asked.term_place.clone_from(&matches.term_place);
    matches.fit(&asked)
}
