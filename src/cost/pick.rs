//! Which row of a charge table serves: by lane, port, yard, box, offer and date.

use super::job::Choice;
use super::terms::{event_of, importer_bears, importer_pays, is_import_tax};
use crate::fault::{Code, Fault, Report};
use crate::load::Variant;
use crate::trade::{
    ChargeRow, Date, Dates, Event, Invoice, Leg, Lookup, Matches, Shipment, TableName, Tariffs,
    in_force,
};

/// The event whose day chooses a row: sailing for freight and crating, delivery for drayage, the
/// leg's own for fees.
pub(super) fn chosen_by(table: TableName, leg: Leg) -> Event {
    match table {
        TableName::Freight | TableName::Crating => Event::Sails,
        TableName::Drayage => Event::Delivered,
        TableName::Fees => event_of(leg),
    }
}

/// What is asked of a row for a leg, and for a box where there is one.
pub(super) fn asked(shipment: &Shipment, leg: Leg, variant: Option<&Variant>) -> Matches {
    let port = if leg.is_at_origin() { &shipment.lane.from } else { &shipment.lane.to };
    let place = shipment.invoices.iter().find(|invoice| importer_bears(invoice, leg));
    Matches {
        lane: Some(shipment.lane.to_string()),
        port: Some(port.to_string()),
        term_place: place.map(|invoice| invoice.term.named_place.clone()),
        container: variant.map(|variant| variant.container.id.clone()),
        class: variant.and_then(|variant| variant.class.clone()),
        yard: Some(shipment.yard.id.clone()),
        regime: Some(shipment.yard.regime.clone()),
        stone: None,
        entry: None,
        mode: None,
    }
}

/// The outcome of looking for a purpose's row.
pub(super) enum Pick<'a> {
    /// The row in force.
    Row(&'a ChargeRow),
    /// No row applies.
    Nothing,
    /// The fault is reported.
    Fault,
}

/// The row in force among those of one purpose that fit what is asked. Rows that all begin later
/// do not apply yet; rows that all ended are a fault, as a charge does not vanish by itself.
pub(super) fn pick<'a>(
    rows: &[&'a ChargeRow],
    asked: &Matches,
    dates: &Dates,
    report: &mut Report,
) -> Pick<'a> {
    let fitting: Vec<&ChargeRow> =
        rows.iter().copied().filter(|row| row.matches.fit(asked)).collect();
    let Some(first) = fitting.first() else {
        return Pick::Nothing;
    };
    let event = chosen_by(first.table, first.leg);
    let date = dates.of(event);
    match in_force(fitting.into_iter(), |row| row.valid, date) {
        Lookup::Found(row) => Pick::Row(row),
        Lookup::Missing => Pick::Nothing,
        Lookup::Lapsed(rows) if rows.iter().all(|row| row.valid.from > date) => Pick::Nothing,
        Lookup::Lapsed(rows) => {
            report.add(lapsed(&rows, asked, event, date));
            Pick::Fault
        }
        Lookup::Several(rows) => {
            report.add(several(&rows, event, date));
            Pick::Fault
        }
    }
}

fn lapsed(rows: &[&ChargeRow], asked: &Matches, event: Event, date: Date) -> Fault {
    let name = rows.first().map_or("", |row| row.name.as_str());
    let table = rows.first().map_or("", |row| row.table.word());
    let message = format!(
        "rates/{table}.toml: \"{name}\"{} is not in force on {date} ({})",
        key(rows, asked),
        event.word()
    );
    let mut fault = Fault::error(Code::LapsedRate, message).help(
        "ask for a fresh rate and add its row; if the charge is no longer made, remove its rows",
    );
    for (index, row) in rows.iter().take(2).enumerate() {
        let label = format!("in force {}", row.valid);
        fault =
            if index == 0 { fault.at(&row.place, label) } else { fault.also(&row.place, label) };
    }
    fault
}

/// What is asked of the keys that rows tell each other apart by.
fn key(rows: &[&ChargeRow], asked: &Matches) -> String {
    let is_told =
        |name: &str| rows.iter().any(|row| row.matches.given().any(|(given, _)| given == name));
    let keys = asked.given().filter(|(name, _)| is_told(name));
    let keys: Vec<String> = keys.map(|(name, value)| format!("{name} {value}")).collect();
    if keys.is_empty() { String::new() } else { format!(" for {}", keys.join(", ")) }
}

fn several(rows: &[&ChargeRow], event: Event, date: Date) -> Fault {
    let name = rows.first().map_or("", |row| row.name.as_str());
    let message = format!("two rows for \"{name}\" serve one purpose on {date} ({})", event.word());
    let mut fault = Fault::error(Code::AmbiguousRate, message)
        .help("remove one, end the older, or tell them apart by container, yard, lane or offer");
    for (index, row) in rows.iter().enumerate() {
        fault = if index == 0 {
            fault.at(&row.place, "this row")
        } else {
            fault.also(&row.place, "and this one")
        };
    }
    fault
}

/// Rows of one name in one table: one purpose, with a row for each box, date or stone.
pub(super) struct Purpose<'a> {
    pub(super) name: &'a str,
    pub(super) leg: Leg,
    pub(super) rows: Vec<&'a ChargeRow>,
}

impl Purpose<'_> {
    /// Whether the importer bears it under an invoice.
    pub(super) fn is_borne(&self, invoice: &Invoice) -> bool {
        self.rows.first().is_some_and(|row| importer_pays(invoice, row))
    }

    /// Whether it is the importer's own, whatever the term.
    pub(super) fn is_own(&self) -> bool {
        self.rows.first().is_some_and(|row| row.by_importer)
    }

    /// Whether it is an import tax.
    pub(super) fn is_import_tax(&self) -> bool {
        self.rows.first().is_some_and(|row| is_import_tax(row))
    }
}

/// The purposes that a shipment may owe: of its regime, yard and lane, in the chosen offers, on
/// legs that the importer bears.
pub(super) fn purposes<'a>(
    shipment: &Shipment,
    tariffs: &'a Tariffs,
    choice: &Choice,
) -> Vec<Purpose<'a>> {
    let mut all: Vec<Purpose<'a>> = Vec::new();
    for row in &tariffs.charges {
        if !choice.takes(row.table, row.offer.as_deref()) || !may_apply(shipment, row) {
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
pub(super) fn may_apply(shipment: &Shipment, row: &ChargeRow) -> bool {
    let named = row.matches.term_place.as_deref();
    let here = |invoice: &&Invoice| named.is_none_or(|place| place == invoice.term.named_place);
    let mut bearing = shipment.invoices.iter().filter(|one| importer_pays(one, row));
    bearing.any(|invoice| here(&invoice)) && may_fit(shipment, row)
}

/// The same, whoever bears the row's leg.
pub(super) fn may_fit(shipment: &Shipment, row: &ChargeRow) -> bool {
    let mut asked = asked(shipment, row.leg, None);
    asked.container.clone_from(&row.matches.container);
    asked.class.clone_from(&row.matches.class);
    asked.stone.clone_from(&row.matches.stone);
    asked.entry.clone_from(&row.matches.entry);
    asked.mode.clone_from(&row.matches.mode);
    asked.term_place.clone_from(&row.matches.term_place);
    row.matches.fit(&asked)
}
