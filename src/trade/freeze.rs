//! A booked estimate: what the books keep of a shipment on the day it is booked. No edit of a rate moves it.

use smol_str::SmolStr;

use super::calendar::Date;
use super::charge::{Basis, Key, Treatment};
use super::term::Leg;
use super::yard::Framework;
use crate::fault::Place;
use crate::quantity::{Area, Currency, Mass, Money, Percent, Quote, Weights};

/// The lists of a booked estimate, each a file beside its head.
pub const FREEZE_LISTS: [&str; 4] = ["charges.csv", "workings.csv", "slabs.csv", "shares.csv"];

/// The columns of the list of charges.
pub const CHARGE_COLUMNS: [&str; 20] = [
    "key",
    "name",
    "on",
    "leg",
    "treatment",
    "reason",
    "basis",
    "by",
    "payee",
    "invoice",
    "money",
    "owed",
    "percent",
    "base",
    "amount",
    "book",
    "rate",
    "rate_is",
    "row",
    "sharing",
];

/// The estimate of one shipment as it was booked.
#[derive(Debug, Clone)]
pub struct Freeze {
    /// The shipment, by the name of its folder.
    pub shipment: String,
    /// The program's version that made it.
    pub version: String,
    /// The day of the calculation.
    pub quoted: Date,
    /// The day it is expected in the yard.
    pub delivered: Date,
    /// The yard it goes to.
    pub yard: String,
    /// By what rules the yard keeps its books.
    pub framework: Framework,
    /// The currency of the books.
    pub currency: Currency,
    /// The offers it rests on: the table of each, and its name.
    pub offers: Vec<(String, String)>,
    /// How sure the load is.
    pub proof: String,
    /// The boxes of the load.
    pub boxes: Vec<FrozenBox>,
    /// The lines of the invoices.
    pub lines: Vec<FrozenLine>,
    /// The rows of tables that charges come from, each once; none where the workings were not read.
    pub rows: Vec<FrozenRow>,
    /// Every charge.
    pub charges: Vec<FrozenCharge>,
    /// Who shares charges, by what, and what each slab bears.
    pub sharings: Vec<Sharing>,
    /// Every slab, in packing-list order.
    pub slabs: Vec<FrozenSlab>,
    /// Its file.
    pub place: Place,
}

/// A box of the load.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FrozenBox {
    /// What the plan calls it.
    pub label: String,
    /// Its type.
    pub kind: String,
    /// Its number, where it is known.
    pub number: Option<String>,
    /// The bill of lading that lists it, where one does.
    pub bill: Option<String>,
}

/// A line of an invoice.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FrozenLine {
    /// Its name.
    pub id: String,
    /// The number of its invoice.
    pub invoice: String,
    /// The bill of lading that lists its invoice, where one does.
    pub bill: Option<String>,
    /// The delivery term of its invoice, as it is written.
    pub term: String,
    /// Who sells.
    pub supplier: String,
    /// The stone.
    pub stone: String,
    /// The finish.
    pub finish: String,
    /// The thickness, as it is written in files.
    pub thickness: String,
    /// The part of its area whose loss on the way is normal, where the stone's row says so.
    pub normal_loss: Option<Percent>,
}

/// A row of a table as it read on the day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FrozenRow {
    /// The file and line.
    pub source: String,
    /// Its text.
    pub text: String,
}

/// A charge as it was estimated.
#[derive(Debug, Clone)]
pub struct FrozenCharge {
    /// Its name in the books: what it is called, and what it is counted by.
    pub key: SmolStr,
    /// What it is called.
    pub name: SmolStr,
    /// What it is counted by, such as "box 1".
    pub on: String,
    /// Its leg.
    pub leg: Leg,
    /// Where it goes.
    pub treatment: Treatment,
    /// Why, where a policy of the shipment says so.
    pub reason: Option<String>,
    /// How firm it is.
    pub basis: Basis,
    /// By what its slabs share it.
    pub by: Key,
    /// Who bills it.
    pub payee: SmolStr,
    /// The invoice that has it, where the supplier bills it with the goods.
    pub invoice: Option<SmolStr>,
    /// Whether no money moves for it: what a hedge adds to the goods.
    pub moves_no_money: bool,
    /// The day it will be owed.
    pub owed: Date,
    /// How its amount came about: quantity and rate, in words; nothing where the workings were not read.
    pub worked: Vec<String>,
    /// What it is a percentage of, and the percentage: a duty, a tax, an insurance.
    pub part: Option<(Percent, Money)>,
    /// Its amount, as it is charged.
    pub amount: Money,
    /// The same in the currency of the books.
    pub book: Money,
    /// The rate between the two, where one rate serves for all of it.
    pub rate: Option<Quote>,
    /// Whether that rate, or that of a part of it, is a planning rate.
    pub is_planned: bool,
    /// Its row, by position in [`Freeze::rows`].
    pub row: usize,
    /// Who shares it, by position in [`Freeze::sharings`].
    pub sharing: usize,
    /// Its row in the list of charges; of an estimate that is not kept yet, that of the table.
    pub place: Place,
}

/// Slabs that share some charges: by what, and how much of all these charges each slab bears.
#[derive(Debug, Clone)]
pub struct Sharing {
    /// The slabs, by position, in packing-list order.
    pub slabs: Vec<usize>,
    /// Their weights, in the same order.
    pub weights: Weights,
    /// What each bears of all charges that are shared so, in minor units of the books.
    pub shares: Vec<i64>,
}

/// A slab as it was packed.
#[derive(Debug, Clone)]
pub struct FrozenSlab {
    /// Its number on the packing list.
    pub id: SmolStr,
    /// Its line, by position in [`Freeze::lines`].
    pub line: usize,
    /// Its bundle.
    pub bundle: SmolStr,
    /// Its box, by position in [`Freeze::boxes`].
    pub container: usize,
    /// The block it was sawn from.
    pub block: Option<SmolStr>,
    /// Its quality.
    pub quality: Option<SmolStr>,
    /// Its gross area.
    pub gross: Area,
    /// Its billed area.
    pub billed: Area,
    /// Its mass.
    pub mass: Mass,
}

impl Freeze {
    /// A slab's position.
    pub fn slab(&self, id: &str) -> Option<usize> {
        self.slabs.iter().position(|slab| slab.id == id)
    }

    /// The bill of lading that a slab travels under; `None`: all goods travel under one.
    pub fn bill_of(&self, slab: &FrozenSlab) -> Option<&str> {
        let of_box = self.boxes.get(slab.container).and_then(|one| one.bill.as_deref());
        of_box.or_else(|| self.lines.get(slab.line)?.bill.as_deref())
    }

    /// The charge of a key.
    pub fn charge(&self, key: &str) -> Option<usize> {
        self.charges.iter().position(|charge| charge.key == key)
    }
}
