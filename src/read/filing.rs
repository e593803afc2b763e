//! `[[bill]]` and `[[entry]]` of a shipment: what travels and is entered together.

use std::collections::BTreeSet;

use super::keys::readable;
use super::table::{self, Table};
use crate::fault::{At, Code, Fault, Place, Report};
use crate::trade::{BillOfLading, Covers, Date, EntryKind, Filing, Mode, Shipment};

/// Bills and entries with the names they list, before those are looked up.
#[derive(Default)]
pub(super) struct NamedFilings {
    bills: Vec<NamedBill>,
    entries: Vec<NamedEntry>,
}

struct NamedBill {
    number: String,
    invoices: Vec<At<String>>,
    containers: Vec<At<String>>,
    control: Option<At<Date>>,
    place: Place,
}

struct NamedEntry {
    id: String,
    bills: Vec<At<String>>,
    invoices: Vec<At<String>>,
    entered: Option<At<Date>>,
    kind: EntryKind,
    mode: Mode,
    place: Place,
}

/// Reads the bills and entries of a shipment.
pub(super) fn filings(top: &Table<'_>, report: &mut Report) -> NamedFilings {
    let bills = readable(top, "bill", report, |row, report| {
        let number = row.required_text("number", report);
        let invoices = row.texts("invoices", report);
        let containers = row.texts("containers", report);
        let control = row.date("control", report);
        let (invoices, containers) = (invoices?, containers?);
        if invoices.is_empty() == containers.is_empty() {
            report.add(
                Fault::error(Code::MissingKey, "a bill of lading needs its invoices or its containers, not both")
                    .at(&row.place(), "expected one of the two")
                    .help("write invoices = [\"T-118\"], or containers = [\"1\", \"2\"] where the boxes are given"),
            );
        }
        let (number, control) = (number?.value, control?);
        Ok(NamedBill { number, invoices, containers, control, place: row.place() })
    });
    let entries = readable(top, "entry", report, |row, report| {
        let id = row.required_text("id", report);
        let bills = row.texts("bills", report);
        let invoices = row.texts("invoices", report);
        let entered = row.date("entered", report);
        let kind = row.word("kind", &EntryKind::ALL, report);
        let mode = row.word("mode", &Mode::ALL, report);
        let (bills, invoices) = (bills?, invoices?);
        if bills.is_empty() == invoices.is_empty() {
            report.add(
                Fault::error(
                    Code::MissingKey,
                    "an entry needs its bills or its invoices, not both",
                )
                .at(&row.place(), "expected one of the two")
                .help("write bills = [\"BL-7\"], or invoices = [\"T-118\"]"),
            );
        }
        Ok(NamedEntry {
            id: id?.value,
            bills,
            invoices,
            entered: entered?,
            kind: kind?.map_or(EntryKind::default(), |at| at.value),
            mode: mode?.map_or(Mode::default(), |at| at.value),
            place: row.place(),
        })
    });
    NamedFilings { bills, entries }
}

impl NamedFilings {
    /// Looks up what bills and entries list, and gives every shipment at least one of each.
    pub(super) fn resolve(self, shipment: &mut Shipment, report: &mut Report) {
        shipment.bills = self.bills(shipment, report);
        shipment.filings = self.entries(shipment, report);
        stated_bills(shipment, report);
        // Where all is entered on one day, that is the day of the shipment.
        let mut days = shipment.filings.iter().map(|filing| filing.entered);
        if let Some(day) = days.next().filter(|day| days.all(|other| other == *day)) {
            shipment.dates.entered = day;
        }
    }

    fn bills(&self, shipment: &Shipment, report: &mut Report) -> Vec<BillOfLading> {
        if self.bills.is_empty() {
            return vec![BillOfLading {
                number: shipment.name.clone(),
                covers: Covers::Everything,
                control: None,
                place: shipment.packing_file.clone(),
            }];
        }
        let faults = report.counts().0;
        let numbers = self.bills.iter().map(|bill| (bill.number.as_str(), &bill.place));
        no_name_twice("bills of lading", numbers, report);
        let mut bills = Vec::new();
        for bill in &self.bills {
            let covers = if bill.containers.is_empty() {
                Covers::Invoices(invoices(&bill.invoices, shipment, report))
            } else {
                Covers::Bundles(boxed(&bill.containers, shipment, report))
            };
            bills.push(BillOfLading {
                number: bill.number.clone(),
                covers,
                control: bill.control.clone(),
                place: bill.place.clone(),
            });
        }
        let covers: Vec<_> = bills.iter().map(|bill| (&bill.covers, &bill.place)).collect();
        if report.counts().0 == faults {
            each_on_one(["a bill of lading", "bills of lading"], &covers, shipment, report);
            for bill in &bills {
                one_control(bill, shipment, report);
            }
        }
        bills
    }

    fn entries(&self, shipment: &Shipment, report: &mut Report) -> Vec<Filing> {
        if self.entries.is_empty() {
            return vec![Filing {
                id: shipment.name.clone(),
                covers: Covers::Everything,
                entered: shipment.dates.entered,
                kind: EntryKind::default(),
                mode: Mode::default(),
                place: shipment.packing_file.clone(),
            }];
        }
        let faults = report.counts().0;
        no_name_twice(
            "entries",
            self.entries.iter().map(|entry| (entry.id.as_str(), &entry.place)),
            report,
        );
        let numbers: Vec<&str> = shipment.bills.iter().map(|bill| bill.number.as_str()).collect();
        let mut filings = Vec::new();
        for entry in &self.entries {
            let covers = if entry.bills.is_empty() {
                Covers::Invoices(invoices(&entry.invoices, shipment, report))
            } else {
                let mut all = Vec::new();
                for name in &entry.bills {
                    match shipment.bills.iter().find(|bill| bill.number == name.value) {
                        Some(bill) if !self.bills.is_empty() => all.push(&bill.covers),
                        _ => {
                            let home = "this shipment.toml";
                            table::add_unknown("bill of lading", name, home, &numbers, report);
                        }
                    }
                }
                join(&all)
            };
            let entered = entry.entered.as_ref().map_or(shipment.dates.entered, |at| at.value);
            if let Some(at) = entry.entered.as_ref().filter(|at| at.value < shipment.dates.sails) {
                let sails = shipment.dates.sails;
                let message = format!("`entered` is before `sails` ({sails})");
                report.add(
                    Fault::error(Code::OutOfRange, message).at(&at.place, "this date is too early"),
                );
            }
            filings.push(Filing {
                id: entry.id.clone(),
                covers,
                entered,
                kind: entry.kind,
                mode: entry.mode,
                place: entry.place.clone(),
            });
        }
        let covers: Vec<_> = filings.iter().map(|filing| (&filing.covers, &filing.place)).collect();
        if report.counts().0 == faults {
            each_on_one(["an entry", "entries"], &covers, shipment, report);
        }
        filings
    }
}

/// A bill and the goods on it say one thing of the day on which control passes.
fn one_control(bill: &BillOfLading, shipment: &Shipment, report: &mut Report) {
    let Some(own) = &bill.control else { return };
    let on_it = |line: u32| {
        let mut slabs = shipment.slabs.iter().filter(|slab| slab.line == line);
        slabs.any(|slab| shipment.covered(&bill.covers, slab.line, slab.bundle))
    };
    for (line, at) in shipment.lines.iter().zip(0u32..) {
        let invoice = shipment.invoices.get(line.invoice).and_then(|one| one.control.as_ref());
        let Some(other) = line.control.as_ref().or(invoice) else { continue };
        if other.value != own.value && on_it(at) {
            let message = format!(
                "control of line {} passes on {} by its invoice and on {} by its bill of lading",
                line.id, other.value, own.value
            );
            report.add(
                Fault::error(Code::Contradiction, message)
                    .at(&own.place, "the bill's")
                    .also(&other.place, "the invoice's or the line's")
                    .help("state it once: on the bill, the line or the invoice"),
            );
        }
    }
}

fn no_name_twice<'a>(
    what: &str,
    names: impl Iterator<Item = (&'a str, &'a Place)>,
    report: &mut Report,
) {
    let mut seen: Vec<(&str, &Place)> = Vec::new();
    for (name, place) in names {
        if let Some((_, first)) = seen.iter().find(|(one, _)| *one == name) {
            report.add(
                Fault::error(Code::Duplicate, format!("two {what} are called \"{name}\""))
                    .at(place, "again here")
                    .also(first, "first here"),
            );
        }
        seen.push((name, place));
    }
}

/// What several bills cover together.
fn join(all: &[&Covers]) -> Covers {
    let mut invoices = Vec::new();
    let mut bundles = Vec::new();
    for covers in all {
        match covers {
            Covers::Everything => return Covers::Everything,
            Covers::Invoices(some) => invoices.extend(some),
            Covers::Bundles(some) => bundles.extend(some),
        }
    }
    if bundles.is_empty() { Covers::Invoices(invoices) } else { Covers::Bundles(bundles) }
}

fn invoices(names: &[At<String>], shipment: &Shipment, report: &mut Report) -> Vec<usize> {
    let known: Vec<&str> = shipment.invoices.iter().map(|one| one.number.as_str()).collect();
    let mut found = Vec::new();
    for name in names {
        match known.iter().position(|number| *number == name.value) {
            Some(at) => found.push(at),
            None => {
                table::add_unknown("invoice", name, "this shipment.toml", &known, report);
            }
        }
    }
    found
}

/// The bundles in boxes that somebody filled.
fn boxed(names: &[At<String>], shipment: &Shipment, report: &mut Report) -> Vec<usize> {
    let known: Vec<&str> = shipment.boxes.iter().map(|one| one.label.as_str()).collect();
    let mut found = Vec::new();
    for name in names {
        match shipment.boxes.iter().find(|one| one.label == name.value) {
            Some(given) => found.extend(&given.bundles),
            None if known.is_empty() => report.add(
                Fault::error(Code::UnknownReference, "a bill of lading lists containers, and no bundle has one yet")
                    .at(&name.place, "no bundle is in this container")
                    .help("add a column \"container\" to packing.csv, write plan.toml, or list the bill's invoices instead"),
            ),
            None => {
                let home = "the packing list or plan.toml";
                table::add_unknown("container", name, home, &known, report);
            }
        }
    }
    found
}

/// Every invoice, or every box, lies on exactly one of the documents.
fn each_on_one(
    [one_of, several]: [&str; 2],
    covers: &[(&Covers, &Place)],
    shipment: &Shipment,
    report: &mut Report,
) {
    let by_box = covers.iter().filter(|(one, _)| matches!(one, Covers::Bundles(_))).count();
    let Some((_, first)) = covers.first() else { return };
    if by_box != 0 && by_box != covers.len() {
        report.add(
            Fault::error(
                Code::Contradiction,
                format!("of the {several} some list invoices and some containers"),
            )
            .at(first, "this is one of them")
            .help("list the invoices of every one, or the containers of every one"),
        );
        return;
    }
    let holders = |is_on: &dyn Fn(&Covers) -> usize| -> Vec<&Place> {
        let times = covers.iter().flat_map(|(one, place)| std::iter::repeat_n(*place, is_on(one)));
        times.collect()
    };
    let mut things: Vec<(String, Place, Vec<&Place>)> = Vec::new();
    if by_box == 0 {
        // A block travels as slabs, on the documents of the works that sawed it.
        let carried = shipment.invoices.iter().enumerate().filter(|(_, one)| !one.of_blocks);
        for (at, invoice) in carried {
            let on = holders(&|covers| match covers {
                Covers::Everything => 1,
                Covers::Invoices(some) => some.iter().filter(|one| **one == at).count(),
                Covers::Bundles(_) => 0,
            });
            things.push((format!("invoice {}", invoice.number), invoice.place.clone(), on));
        }
    } else {
        for given in &shipment.boxes {
            let own: BTreeSet<usize> = given.bundles.iter().copied().collect();
            let on = holders(&|covers| match covers {
                Covers::Bundles(some) => {
                    let inside = some.iter().filter(|one| own.contains(one)).count();
                    inside / own.len().max(1)
                }
                _ => 0,
            });
            things.push((format!("container {}", given.label), given.place.clone(), on));
        }
    }
    for (name, place, on) in things {
        match on[..] {
            [_] => {}
            [] => report.add(
                Fault::error(Code::Contradiction, format!("{name} is not on any of the {several}"))
                    .at(&place, "this is covered by none")
                    .also(first, format!("{one_of}, for one"))
                    .help(format!("list it on {one_of}: each is on exactly one")),
            ),
            [one, other, ..] => report.add(
                Fault::error(Code::Contradiction, format!("{name} is on two {several}"))
                    .at(other, "again here")
                    .also(one, "first here")
                    .help("list it once"),
            ),
        }
    }
}

/// Checks that each bill of lading for which an invoice states something exists.
fn stated_bills(shipment: &Shipment, report: &mut Report) {
    let numbers: Vec<&str> = shipment.bills.iter().map(|bill| bill.number.as_str()).collect();
    let stated = shipment.invoices.iter().flat_map(|invoice| &invoice.stated);
    for bill in stated.filter_map(|stated| stated.bill.as_ref()) {
        if !numbers.contains(&bill.value.as_str()) {
            report.add(table::unknown_reference("bill of lading", bill, "the shipment", &numbers));
        }
    }
}
