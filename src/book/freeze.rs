//! A costed shipment as it is booked: every charge with its key, its slabs, their weights and whole shares.
//!
//! Decided on 2026-11-27. Charges of one row that the same slabs share by the same weights have one list of
//! shares, of all of them together. So a freeze grows with the slabs, and not with the boxes as well.

use std::collections::BTreeMap;
use std::sync::Arc;

use rustc_hash::FxHashMap;
use smol_str::SmolStr;

use crate::bill::{Charge, Object, Spreader, together};
use crate::choose::Costed;
use crate::cost::Landed;
use crate::fault::{Code, Fault, Place, Report, Reported};
use crate::price::{Payable, booked_on, event_of};
use crate::quantity::{Exact, Money, Overflow, Weights};
use crate::trade::{
    BillOfLading, Covers, Date, Event, Freeze, FrozenBox, FrozenCharge, FrozenLine, FrozenRow,
    FrozenSlab, Leg, Sharing, Shipment, Tariffs,
};

/// How a charge and its row are put into words, by those who know files and pages.
#[derive(Clone, Copy)]
pub struct Words<'a> {
    /// How an amount came about.
    pub worked: &'a dyn Fn(&Charge) -> Vec<String>,
    /// The text of the row that stands at a place.
    pub row: &'a dyn Fn(&Place) -> String,
}

/// The freeze of a costed shipment.
///
/// # Errors
/// Where the goods are not listed slab by slab, or a slab lies in no box.
pub fn freeze(
    (shipment, tariffs): (&Shipment, &Tariffs),
    costed: &Costed,
    words: Words<'_>,
    report: &mut Report,
) -> Result<Freeze, Reported> {
    if shipment.is_nominal() {
        return Err(report.error(
            Fault::error(Code::NotSupported, "goods without a packing list are not booked")
                .at(&shipment.packing_file, "slabs are made up here")
                .help("add packing.csv: books are kept slab by slab"),
        ));
    }
    let slabs = slabs(shipment, costed);
    let slabs = report.found(slabs, "the box of every slab")?;
    let mut rows = Rows { words, known: FxHashMap::default(), all: Vec::new() };
    let (sharings, parts) = sharings(shipment, &costed.landed, report)?;
    let mut keys: BTreeMap<String, usize> = BTreeMap::new();
    let mut charges = Vec::new();
    let whole = costed.landed.charges.iter().zip(parts);
    for (charge, part) in
        whole.flat_map(|(charge, all)| all.into_iter().map(move |part| (charge, part)))
    {
        let mut on = on(charge, shipment, costed);
        if let Some(bill) = part.bill.and_then(|at| shipment.bills.get(at)) {
            on = format!("{on}, bill {}", bill.number);
        }
        let key = match &*on {
            "" => charge.name.to_string(),
            on => format!("{}/{on}", charge.name),
        };
        let times = keys.entry(key.clone()).or_insert(0);
        *times += 1;
        let key = if *times > 1 { format!("{key} ({times})") } else { key };
        charges.push(FrozenCharge {
            key: key.into(),
            name: charge.name.as_str().into(),
            on,
            leg: charge.leg,
            treatment: charge.treatment,
            reason: charge.policy.as_ref().map(|(place, why)| format!("{why} ({place})")),
            basis: charge.basis,
            by: charge.key,
            payee: payee(charge, shipment).into(),
            invoice: invoice(charge, shipment).map(SmolStr::from),
            moves_no_money: charge.payable == Payable::Never,
            owed: owed(charge, &part, shipment, &costed.landed),
            worked: (words.worked)(charge),
            part: charge.booked.working.part(),
            amount: part.amount,
            book: part.book,
            rate: charge.exchange().map(|exchange| exchange.quote),
            is_planned: !charge.planned().is_empty(),
            row: rows.of(&charge.source),
            sharing: part.sharing,
            place: charge.source.clone(),
        });
    }
    let boxes = costed.plan.boxes.iter().map(|filled| FrozenBox {
        label: filled.label.clone(),
        kind: costed
            .plan
            .variant(filled)
            .map_or_else(String::new, |variant| variant.container.id.clone()),
        number: filled.number.as_ref().map(ToString::to_string),
        bill: filled.bundles.iter().find_map(|bundle| bill_of_bundle(shipment, *bundle)),
    });
    let yard = &shipment.yard;
    Ok(Freeze {
        shipment: shipment.name.clone(),
        version: env!("CARGO_PKG_VERSION").to_owned(),
        quoted: shipment.dates.quoted,
        delivered: shipment.dates.of(Event::Delivered),
        yard: yard.id.clone(),
        framework: yard.framework,
        currency: yard.currency,
        offers: costed
            .choice
            .offers()
            .into_iter()
            .map(|(table, offer)| (table.word().to_owned(), offer.to_owned()))
            .collect(),
        proof: costed.verdict.sure.word().to_owned(),
        boxes: boxes.collect(),
        lines: lines(shipment, tariffs),
        rows: rows.all,
        charges,
        sharings,
        slabs,
        place: shipment.packing_file.clone(),
    })
}

/// The rows of tables, each once.
struct Rows<'a> {
    words: Words<'a>,
    known: FxHashMap<Place, usize>,
    all: Vec<FrozenRow>,
}

impl Rows<'_> {
    fn of(&mut self, place: &Place) -> usize {
        if let Some(at) = self.known.get(place) {
            return *at;
        }
        self.all.push(FrozenRow { source: place.to_string(), text: (self.words.row)(place) });
        self.known.insert(place.clone(), self.all.len() - 1);
        self.all.len() - 1
    }
}

fn lines(shipment: &Shipment, tariffs: &Tariffs) -> Vec<FrozenLine> {
    let line = |line: &crate::trade::Line| {
        let invoice = shipment.invoices.get(line.invoice);
        FrozenLine {
            id: line.id.clone(),
            invoice: invoice.map_or_else(String::new, |invoice| invoice.number.clone()),
            bill: bill_of_invoice(shipment, line.invoice),
            term: invoice.map_or_else(String::new, |invoice| invoice.term.value.to_string()),
            supplier: invoice.map_or_else(String::new, |invoice| invoice.supplier.clone()),
            stone: line.stone.value.clone(),
            finish: line.finish.id.clone(),
            thickness: format!("{} mm", line.thickness.to_mm(2).normalize()),
            normal_loss: tariffs.stone(&line.stone).and_then(|stone| stone.normal_loss),
        }
    };
    shipment.lines.iter().map(line).collect()
}

/// The bill of lading that lists the box of a bundle.
fn bill_of_bundle(shipment: &Shipment, bundle: usize) -> Option<String> {
    let lists = |bill: &&BillOfLading| matches!(&bill.covers, Covers::Bundles(all) if all.contains(&bundle));
    shipment.bills.iter().find(lists).map(|bill| bill.number.clone())
}

/// The bill of lading that lists an invoice.
fn bill_of_invoice(shipment: &Shipment, invoice: usize) -> Option<String> {
    let lists = |bill: &&BillOfLading| matches!(&bill.covers, Covers::Invoices(all) if all.contains(&invoice));
    shipment.bills.iter().find(lists).map(|bill| bill.number.clone())
}

/// The slabs, each with its box; `None`: one lies in none.
fn slabs(shipment: &Shipment, costed: &Costed) -> Option<Vec<FrozenSlab>> {
    let mut box_of: Vec<Option<usize>> = vec![None; shipment.bundles.len()];
    for (at, filled) in costed.plan.boxes.iter().enumerate() {
        for bundle in &filled.bundles {
            *box_of.get_mut(*bundle)? = Some(at);
        }
    }
    let slab = |slab: &crate::trade::Slab| {
        let at = usize::try_from(slab.bundle).ok()?;
        let bundle = shipment.bundles.get(at)?;
        Some(FrozenSlab {
            id: slab.id.clone(),
            line: usize::try_from(slab.line).ok()?,
            bundle: bundle.id.clone(),
            container: (*box_of.get(at)?)?,
            block: bundle.block.clone(),
            quality: slab.quality.as_deref().cloned(),
            gross: slab.gross_area(),
            billed: slab.billed_area,
            mass: slab.mass,
        })
    };
    shipment.slabs.iter().map(slab).collect()
}

/// A charge as it is booked, or the part of one whose goods travel under one bill of lading.
struct Part {
    /// The bill, by position, where the charge is parted by them.
    bill: Option<usize>,
    amount: Money,
    book: Money,
    /// Its list of shares.
    sharing: usize,
}

/// Who shares charges, each list of shares once; and the parts of each charge with the list of each.
fn sharings(
    shipment: &Shipment,
    landed: &Landed,
    report: &mut Report,
) -> Result<(Vec<Sharing>, Vec<Vec<Part>>), Reported> {
    let mut spreader = Spreader::new(shipment);
    spreader.learn_goods(&landed.charges);
    let mut all = Vec::new();
    let mut of: Vec<Vec<Part>> = landed.charges.iter().map(|_| Vec::new()).collect();
    for (list, members) in together(&landed.charges).iter().enumerate() {
        let mut by_weights: Vec<(Arc<Weights>, Vec<usize>)> = Vec::new();
        for at in members {
            let charge = report.found(landed.charges.get(*at), "a charge")?;
            let weights = spreader.weights(charge, &landed.sets, report)?;
            if let Some(parts) = by_bill((shipment, landed), (*at, &weights), &mut all) {
                if let Some(slot) = of.get_mut(*at) {
                    *slot = report.fits(parts, &charge.source)?;
                }
                continue;
            }
            match by_weights.iter_mut().find(|(known, _)| Arc::ptr_eq(known, &weights)) {
                Some((_, own)) => own.push(*at),
                None => by_weights.push((weights, vec![*at])),
            }
        }
        let is_one = matches!(&by_weights[..], [(_, own)] if own.len() == members.len());
        for (weights, own) in by_weights {
            let set = own.first().and_then(|at| landed.charges.get(*at));
            let set = report.found(set, "the slabs of a charge")?.scope.set;
            let share = |position: usize| {
                if is_one {
                    return landed.shares.of(list, position).minor;
                }
                own.iter().map(|at| landed.shares.of_charge(*at, position).minor).sum()
            };
            let shares = (0..landed.sets.len(set)).map(share).collect();
            let slabs = landed.sets.members(set).collect();
            for at in &own {
                if let Some((slot, charge)) = of.get_mut(*at).zip(landed.charges.get(*at)) {
                    let (amount, book) = (charge.amount(), charge.book());
                    slot.push(Part { bill: None, amount, book, sharing: all.len() });
                }
            }
            all.push(Sharing { slabs, weights: Weights::clone(&weights), shares });
        }
    }
    Ok((all, of))
}

/// What a supplier bills for goods under several bills of lading, in parts: control of each may pass on its own day.
/// The shares of slabs stay as they were costed. `None`: its goods travel under one bill.
fn by_bill(
    (shipment, landed): (&Shipment, &Landed),
    (at, weights): (usize, &Weights),
    all: &mut Vec<Sharing>,
) -> Option<Result<Vec<Part>, Overflow>> {
    let charge = landed.charges.get(at)?;
    invoice(charge, shipment)?;
    let mut of: BTreeMap<usize, Vec<(usize, usize)>> = BTreeMap::new();
    for (position, slab) in landed.sets.members(charge.scope.set).enumerate() {
        of.entry(bill(shipment, slab)?).or_default().push((position, slab));
    }
    if of.len() < 2 {
        return None;
    }
    let share = |position: usize| landed.shares.of_charge(at, position).minor;
    let book = |own: &[(usize, usize)]| own.iter().map(|(position, _)| share(*position)).sum();
    let books: Vec<i64> = of.values().map(|own| book(own)).collect();
    let (whole, currency) = (charge.amount(), charge.book().currency());
    // In its own money each has its exact part, rounded so that they add up.
    let one = Exact::from(Money::from_minor(1, currency));
    let parts: Vec<Exact> = of
        .values()
        .map(|own| weights.share(&one, own.iter().map(|(position, _)| *position)))
        .collect();
    let amounts = if whole.currency() == currency {
        books.clone()
    } else {
        let by = Weights::of_exact(&parts).and_then(|by| by.divide(whole));
        match by {
            Ok(amounts) => amounts,
            Err(_) => return Some(Err(Overflow { what: "the parts of a charge" })),
        }
    };
    let mut made = Vec::new();
    for ((bill, own), (amount, book)) in of.into_iter().zip(amounts.into_iter().zip(books)) {
        made.push(Part {
            bill: Some(bill),
            amount: Money::from_minor(amount, whole.currency()),
            book: Money::from_minor(book, currency),
            sharing: all.len(),
        });
        all.push(Sharing {
            weights: weights.among(own.iter().map(|(position, _)| *position)),
            shares: own.iter().map(|(position, _)| share(*position)).collect(),
            slabs: own.into_iter().map(|(_, slab)| slab).collect(),
        });
    }
    Some(Ok(made))
}

/// The bill of lading of a slab, by position.
fn bill(shipment: &Shipment, slab: usize) -> Option<usize> {
    let slab = shipment.slabs.get(slab)?;
    shipment.bills.iter().position(|bill| shipment.covered(&bill.covers, slab.line, slab.bundle))
}

/// What a charge is counted by, in words; empty for the shipment as a whole.
fn on(charge: &Charge, shipment: &Shipment, costed: &Costed) -> String {
    let entry = |at: usize| costed.landed.entries.get(at);
    let named = |what: &str, name: Option<&str>| {
        let name = name.unwrap_or("?");
        // A box may be called "box 1" on its list.
        if name.starts_with(&format!("{what} ")) {
            name.to_owned()
        } else {
            format!("{what} {name}")
        }
    };
    match charge.on.object {
        Object::Shipment => String::new(),
        Object::Bill(at) => named("bill", shipment.bills.get(at).map(|bill| bill.number.as_str())),
        Object::Entry(at) => named("entry", entry(at).map(|entry| entry.id.as_str())),
        Object::TariffLine(at, line) => {
            let line = entry(at).and_then(|entry| entry.lines.get(line));
            let line = line.map_or("?", |line| line.label.as_str());
            format!("{}, {line}", named("entry", entry(at).map(|entry| entry.id.as_str())))
        }
        Object::Container(at) => {
            named("box", costed.plan.boxes.get(at).map(|one| one.label.as_str()))
        }
        Object::Bundle(at) => named("bundle", shipment.bundles.get(at).map(|one| one.id.as_str())),
        Object::Invoice(at) => {
            named("invoice", shipment.invoices.get(at).map(|one| one.number.as_str()))
        }
        Object::Line(at) => named("line", shipment.lines.get(at).map(|one| one.id.as_str())),
    }
}

/// Who bills a charge: the supplier, the house whose offer it is, the customs; else nobody is known, and the
/// charge's own name stands in.
fn payee(charge: &Charge, shipment: &Shipment) -> String {
    if let Payable::ByPlan(at) = charge.payable
        && let Some(invoice) = shipment.invoices.get(at)
    {
        return invoice.supplier.clone();
    }
    match &charge.table {
        Some((_, Some(offer))) => offer.to_string(),
        _ if charge.leg == Leg::DutyAndTax => "customs".to_owned(),
        _ => charge.name.to_string(),
    }
}

/// The invoice that has a charge with its goods, or whose goods a hedge adds to.
fn invoice(charge: &Charge, shipment: &Shipment) -> Option<String> {
    let ((Payable::ByPlan(at), _) | (Payable::Never, Object::Invoice(at))) =
        (charge.payable, charge.on.object)
    else {
        return None;
    };
    shipment.invoices.get(at).map(|invoice| invoice.number.clone())
}

/// The day a charge will be owed: that of control for what the supplier bills, else that of its leg, or of its
/// payment where that comes before.
fn owed(charge: &Charge, part: &Part, shipment: &Shipment, landed: &Landed) -> Date {
    let invoice = match charge.payable {
        Payable::ByPlan(at) => Some(at),
        _ => None,
    };
    let of_goods = charge.goods_of.or_else(|| {
        let invoice = invoice?;
        shipment.lines.iter().position(|line| line.invoice == invoice)
    });
    let event = shipment.dates.of(event_of(charge.leg));
    let Some(line) = of_goods else { return booked_on(&charge.payable, event) };
    let first = || landed.sets.members(charge.scope.set).next();
    let own = part.bill.or_else(|| bill(shipment, first()?));
    let bill = own.and_then(|at| shipment.bills.get(at));
    let control = shipment.lines.get(line).and_then(|line| shipment.control(line, bill));
    control.map_or(event, |control| control.day)
}
