//! One supplier's goods in a shipment, as he may be told of them.

use std::collections::BTreeSet;

use super::bundle::OutgoingBundle;
use crate::quantity::Length;
use crate::trade::{Date, Line, Shipment, Slab, Tariffs};

/// One supplier's goods.
#[derive(Debug, Clone)]
pub struct Goods<'a> {
    /// The supplier.
    pub supplier: &'a str,
    /// The numbers of his invoices or offers.
    pub invoices: Vec<&'a str>,
    /// Their delivery terms, each once.
    pub terms: Vec<String>,
    /// His lines.
    pub lines: Vec<OwnLine<'a>>,
    /// His bundles; none where any of them is made up from a nominal quantity.
    pub bundles: Vec<OutgoingBundle<'a>>,
    /// Whether a packing list is still to come.
    pub is_nominal: bool,
}

/// A line of his invoices.
#[derive(Debug, Clone)]
pub struct OwnLine<'a> {
    /// Its name.
    pub id: &'a str,
    /// The trade name of its stone.
    pub stone: &'a str,
    /// Its finish.
    pub finish: &'a str,
    /// Its thickness.
    pub thickness: Length,
    /// How many slabs it has.
    pub slabs: usize,
    /// The last day of its price, where that has lapsed on the day of the calculation.
    pub lapsed: Option<Date>,
}

impl<'a> Goods<'a> {
    /// The suppliers of a shipment's slabs, each with the numbers of his invoices: works that saw a block, and not
    /// the quarry.
    pub fn suppliers(shipment: &'a Shipment) -> Vec<(&'a str, Vec<&'a str>)> {
        let mut names: Vec<&str> = Vec::new();
        for invoice in shipment.carried() {
            if !names.contains(&invoice.supplier.as_str()) {
                names.push(&invoice.supplier);
            }
        }
        names.into_iter().map(|name| (name, own_invoices(shipment, name))).collect()
    }

    /// The goods of a supplier.
    pub fn of(shipment: &'a Shipment, supplier: &'a str, tariffs: &'a Tariffs) -> Self {
        let invoices = || shipment.invoices.iter().filter(|one| one.supplier == supplier);
        let mut terms: Vec<String> = invoices().map(|one| one.term.value.to_string()).collect();
        terms.dedup();
        let own = |at: usize| is_of(shipment, at, supplier);
        let lines = shipment.lines.iter().enumerate();
        let lines = lines.filter(|(at, line)| own(*at) && line.block.is_none());
        let line = |(at, line): (usize, &'a Line)| {
            let of_it = |slab: &&Slab| usize::try_from(slab.line) == Ok(at);
            let stone = tariffs.stone(&line.stone.value);
            OwnLine {
                id: &line.id,
                stone: stone.map_or("", |stone| &stone.name),
                finish: &line.finish.id,
                thickness: line.thickness,
                slabs: shipment.slabs.iter().filter(of_it).count(),
                lapsed: lapsed(shipment, line),
            }
        };
        let lines: Vec<_> = lines.map(line).collect();
        let nominal = shipment.lines.iter().enumerate();
        let is_nominal = nominal.filter(|(at, _)| own(*at)).any(|(_, line)| line.nominal);
        let bundles = own_bundles(shipment, supplier);
        let listed = shipment.bundles.iter().filter(|one| bundles.contains(one.id.as_str()));
        let listed = listed.filter(|_| !is_nominal);
        Self {
            supplier,
            invoices: own_invoices(shipment, supplier),
            terms,
            lines,
            bundles: listed.map(OutgoingBundle::of_supplier).collect(),
            is_nominal,
        }
    }
}

/// The last day of a line's price, where that has lapsed on the day of the calculation.
fn lapsed(shipment: &Shipment, line: &Line) -> Option<Date> {
    let valid = shipment.invoices.get(line.invoice)?.price_valid.value;
    valid.until.filter(|until| *until < shipment.dates.quoted)
}

/// The numbers of one supplier's invoices, each once.
pub(super) fn own_invoices<'a>(shipment: &'a Shipment, supplier: &str) -> Vec<&'a str> {
    let own = shipment.invoices.iter().filter(|one| one.supplier == supplier);
    let mut all: Vec<&str> = own.map(|one| one.number.as_str()).collect();
    all.dedup();
    all
}

/// Whether a line is one supplier's.
fn is_of(shipment: &Shipment, line: usize, supplier: &str) -> bool {
    let line = shipment.lines.get(line);
    let invoice = line.and_then(|line| shipment.invoices.get(line.invoice));
    invoice.is_some_and(|invoice| invoice.supplier == supplier)
}

/// The names of the bundles in which every slab is one supplier's.
pub(super) fn own_bundles<'a>(shipment: &'a Shipment, supplier: &str) -> BTreeSet<&'a str> {
    let at = |index: u32| usize::try_from(index).unwrap_or(usize::MAX);
    let name = |slab: &Slab| shipment.bundles.get(at(slab.bundle)).map(|one| one.id.as_str());
    let is_own = |slab: &&Slab| is_of(shipment, at(slab.line), supplier);
    let (own, others): (Vec<&Slab>, Vec<&Slab>) = shipment.slabs.iter().partition(is_own);
    let others: BTreeSet<&str> = others.into_iter().filter_map(name).collect();
    let own = own.into_iter().filter_map(name);
    own.filter(|bundle| !others.contains(bundle)).collect()
}
