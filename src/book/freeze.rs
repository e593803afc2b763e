//! A costed shipment as it is booked: every charge with its key, its slabs, their weights and whole shares.
//!
//! Decided on 2026-11-27. Charges of one row that the same slabs share by the same weights have one list of
//! shares, of all of them together. So a freeze grows with the slabs, and not with the boxes as well.

use std::collections::BTreeMap;
use std::sync::Arc;

use rustc_hash::FxHashMap;

use crate::bill::{Charge, Object, Spreader, together};
use crate::choose::Costed;
use crate::cost::Landed;
use crate::fault::{Code, Fault, Place, Report, Reported};
use crate::price::{Payable, booked_on, event_of};
use crate::quantity::Weights;
use crate::trade::{
    Date, Event, Freeze, FrozenBox, FrozenCharge, FrozenLine, FrozenRow, FrozenSlab, Leg, Sharing,
    Shipment, Tariffs,
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
    let (sharings, sharing_of) = sharings(shipment, &costed.landed, report)?;
    let mut keys: BTreeMap<String, usize> = BTreeMap::new();
    let mut charges = Vec::new();
    for (charge, sharing) in costed.landed.charges.iter().zip(sharing_of) {
        let on = on(charge, shipment, costed);
        let key = match &*on {
            "" => charge.name.clone(),
            on => format!("{}/{on}", charge.name),
        };
        let times = keys.entry(key.clone()).or_insert(0);
        *times += 1;
        let key = if *times > 1 { format!("{key} ({times})") } else { key };
        charges.push(FrozenCharge {
            key,
            name: charge.name.clone(),
            on,
            leg: charge.leg,
            treatment: charge.treatment,
            reason: charge.policy.as_ref().map(|(place, why)| format!("{why} ({place})")),
            basis: charge.basis,
            by: charge.key,
            payee: payee(charge, shipment),
            invoice: invoice(charge, shipment),
            moves_no_money: charge.payable == Payable::Never,
            owed: owed(charge, shipment, &costed.landed),
            worked: (words.worked)(charge),
            amount: charge.amount(),
            book: charge.book(),
            rate: charge.exchange().map(|exchange| exchange.quote),
            is_planned: !charge.planned().is_empty(),
            row: rows.of(&charge.source),
            sharing,
        });
    }
    let boxes = costed.plan.boxes.iter().map(|filled| FrozenBox {
        label: filled.label.clone(),
        kind: costed
            .plan
            .variant(filled)
            .map_or_else(String::new, |variant| variant.container.id.clone()),
        number: filled.number.as_ref().map(ToString::to_string),
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
            supplier: invoice.map_or_else(String::new, |invoice| invoice.supplier.clone()),
            stone: line.stone.value.clone(),
            finish: line.finish.id.clone(),
            thickness: format!("{} mm", line.thickness.to_mm(2).normalize()),
            normal_loss: tariffs.stone(&line.stone).and_then(|stone| stone.normal_loss),
        }
    };
    shipment.lines.iter().map(line).collect()
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

/// Who shares charges, each list of shares once; and the list of each charge.
fn sharings(
    shipment: &Shipment,
    landed: &Landed,
    report: &mut Report,
) -> Result<(Vec<Sharing>, Vec<usize>), Reported> {
    let mut spreader = Spreader::new(shipment);
    spreader.learn_goods(&landed.charges);
    let mut all = Vec::new();
    let mut of = vec![0; landed.charges.len()];
    for (list, members) in together(&landed.charges).iter().enumerate() {
        let mut by_weights: Vec<(Arc<Weights>, Vec<usize>)> = Vec::new();
        for at in members {
            let charge = report.found(landed.charges.get(*at), "a charge")?;
            let weights = spreader.weights(charge, &landed.sets, report)?;
            match by_weights.iter_mut().find(|(known, _)| Arc::ptr_eq(known, &weights)) {
                Some((_, own)) => own.push(*at),
                None => by_weights.push((weights, vec![*at])),
            }
        }
        let is_one = by_weights.len() == 1;
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
                if let Some(slot) = of.get_mut(*at) {
                    *slot = all.len();
                }
            }
            all.push(Sharing { slabs, weights: Weights::clone(&weights), shares });
        }
    }
    Ok((all, of))
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
        Some((_, Some(offer))) => offer.clone(),
        _ if charge.leg == Leg::DutyAndTax => "customs".to_owned(),
        _ => charge.name.clone(),
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
fn owed(charge: &Charge, shipment: &Shipment, landed: &Landed) -> Date {
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
    let first = landed.sets.members(charge.scope.set).next();
    let slab = first.and_then(|at| shipment.slabs.get(at));
    let covers = |bill: &&crate::trade::BillOfLading| {
        slab.is_some_and(|slab| shipment.covered(&bill.covers, slab.line, slab.bundle))
    };
    let bill = shipment.bills.iter().find(covers);
    let control = shipment.lines.get(line).and_then(|line| shipment.control(line, bill));
    control.map_or(event, |control| control.day)
}
