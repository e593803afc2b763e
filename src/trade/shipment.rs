//! A shipment as its documents describe it.

use smol_str::SmolStr;

use super::calendar::{Dates, Window, word_of};
use super::charge::{Key, TableName, Treatment};
use super::code::{Country, Lane};
use super::container::ContainerNumber;
use super::filing::{BillOfLading, Filing};
use super::measure::Measure;
use super::offer::AskedOffers;
use super::paper::{Paper, StatedLine};
use super::payment::Payment;
use super::scope::ScopeKind;
use super::stock::SharedStock;
use super::tariffs::ExchangeUse;
use super::term::{Bearer, DeliveryTerm, Leg};
use super::yard::Yard;
use crate::fault::{At, Place};
use crate::quantity::{Area, Hours, Length, Mass, Money, Percent, Price};

/// Goods that travel under one set of documents.
#[derive(Debug, Clone)]
pub struct Shipment {
    /// The name of its folder.
    pub name: String,
    /// What it is called in tables.
    pub title: String,
    /// The yard it goes to.
    pub yard: Yard,
    /// The lane it sails.
    pub lane: Lane,
    /// Its dates.
    pub dates: Dates,
    /// Hours that bills count, by their name: of waiting, of a crane.
    pub hours: Vec<(At<String>, Hours)>,
    /// Container types it may use; empty means every type that has a rate.
    pub containers: Vec<At<String>>,
    /// The road class it is pinned to.
    pub class: Option<At<String>>,
    /// Offers it is pinned to, by table: of several, each box may go by any.
    pub pins: Vec<(TableName, Vec<At<String>>)>,
    /// Where it departs from the rules for a charge.
    pub policy: Vec<PolicyRule>,
    /// What papers state of it as a whole.
    pub papers: Vec<Paper>,
    /// Its invoices.
    pub invoices: Vec<Invoice>,
    /// The lines of all its invoices.
    pub lines: Vec<Line>,
    /// Its bills of lading; one over all of it unless stated.
    pub bills: Vec<BillOfLading>,
    /// Its customs entries; one over all of it unless stated.
    pub filings: Vec<Filing>,
    /// Its bundles, in packing-list order.
    pub bundles: Vec<Bundle>,
    /// Its slabs, in packing-list order; those of one bundle need not be neighbours.
    pub slabs: Vec<Slab>,
    /// The boxes its bundles are in, where that is known.
    pub boxes: Vec<GivenBox>,
    /// What it asks of its load.
    pub load: LoadWishes,
    /// The file its slabs come from.
    pub packing_file: Place,
}

impl Shipment {
    /// Whether any of it is nominal: an offer without a packing list.
    pub fn is_nominal(&self) -> bool {
        self.lines.iter().any(|line| line.nominal)
    }

    /// The pinned offers of a table; empty where none is.
    pub fn pinned(&self, table: TableName) -> &[At<String>] {
        self.pins.iter().find(|(name, _)| *name == table).map_or(&[], |(_, offers)| offers)
    }
}

impl Invoice {
    /// Whether it leaves a leg to the importer: the matrix of the delivery term, with what the invoice
    /// says it includes and how packing is paid. A leg that depends on the contract of carriage falls
    /// to the importer unless the invoice includes it.
    pub fn leaves(&self, leg: Leg) -> bool {
        if self.includes.contains(&leg) {
            return false;
        }
        if leg == Leg::ExportPacking {
            return matches!(self.packing, PackingTerms::Apart(_));
        }
        self.term.bearer(leg) != Bearer::Seller
    }
}

/// A seller's or an agent's commission.
#[derive(Debug, Clone)]
pub struct Commission {
    /// The percentage of the goods.
    pub rate: At<Percent>,
    /// Whether it is paid to the seller's agent: then it is part of the customs value.
    pub selling: bool,
}

/// How export packing is paid for.
#[derive(Debug, Clone)]
pub enum PackingTerms {
    /// In the price.
    InPrice,
    /// Apart, at this amount on the invoice.
    Invoiced(At<Money>),
    /// Apart, at the rates of the crating table.
    Apart(Place),
}

/// Where the tax on import lies under a price delivered duty paid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ImportTax {
    /// Inside the price, as the rule has it.
    InPrice,
    /// Apart from it, on the importer: the contract says "excluding VAT".
    Apart,
}

impl ImportTax {
    /// Both with their written form.
    pub const ALL: [(Self, &'static str); 2] =
        [(Self::InPrice, "in price"), (Self::Apart, "apart")];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// A leg that lies inside the price and is stated apart on the invoice.
#[derive(Debug, Clone)]
pub struct StatedLeg {
    /// The leg.
    pub leg: Leg,
    /// Where it is named.
    pub place: Place,
    /// What it comes to.
    pub amount: At<Money>,
    /// The evidence for it: a bill of lading, a freight invoice.
    pub evidence: Option<String>,
    /// The through bill of lading that covers it, where one does.
    pub through: Option<String>,
}

/// Something the customs value has beside the price: an assist, a royalty, proceeds that go back to
/// the seller. It is no charge of the shipment's: what is paid for it is booked where it is paid.
#[derive(Debug, Clone)]
pub struct Addition {
    /// What it is.
    pub name: String,
    /// What it comes to for the goods of the invoice.
    pub amount: At<Money>,
}

/// One supplier's invoice or offer.
#[derive(Debug, Clone)]
pub struct Invoice {
    /// The supplier.
    pub supplier: String,
    /// The number of the invoice or offer.
    pub number: String,
    /// The delivery term.
    pub term: At<DeliveryTerm>,
    /// How long the prices hold.
    pub price_valid: At<Window>,
    /// Legs that the price includes although the term leaves them open.
    pub includes: Vec<Leg>,
    /// Who bears the import tax where the seller bears the duty: the seller, for Incoterms 2020 puts
    /// all taxes of the import on it unless the contract says otherwise (DDP, A9 and the
    /// explanatory notes, from memory).
    pub import_tax: ImportTax,
    /// How packing is paid.
    pub packing: PackingTerms,
    /// A reduction on all lines.
    pub discount: Option<At<Discount>>,
    /// A commission on the goods.
    pub commission: Option<Commission>,
    /// Slabs given without charge.
    pub free_slabs: Vec<At<String>>,
    /// A line that makes the total round.
    pub rounding: Option<At<Money>>,
    /// The total the supplier states.
    pub total: Option<At<Money>>,
    /// Legs stated apart.
    pub stated: Vec<StatedLeg>,
    /// What the customs value has beside the price.
    pub additions: Vec<Addition>,
    /// The use of the exchange row its price is booked at.
    pub exchange: ExchangeUse,
    /// How it is paid; on the day of sailing where it does not say.
    pub payments: Vec<Payment>,
    /// Its place.
    pub place: Place,
}

/// A reduction on an invoice.
#[derive(Debug, Clone, Copy)]
pub enum Discount {
    /// A percentage of the lines.
    Percent(Percent),
    /// An amount.
    Amount(Money),
}

/// One line of an invoice: one stone in one finish and thickness at one price.
#[derive(Debug, Clone)]
pub struct Line {
    /// The invoice, by its position in [`Shipment::invoices`].
    pub invoice: usize,
    /// The line's name, unique in the shipment.
    pub id: String,
    /// The stone's name in the table of stones.
    pub stone: At<String>,
    /// The finish.
    pub finish: String,
    /// The thickness.
    pub thickness: Length,
    /// The price.
    pub price: At<Price>,
    /// How the supplier measures.
    pub measure: Measure,
    /// The country of origin.
    pub origin: Country,
    /// The form of the goods, where it is not a slab: what a tariff line may ask.
    pub form: Option<String>,
    /// Who made the goods, where a duty asks.
    pub producer: Option<String>,
    /// The programme under which it claims a preferential rate.
    pub preference: Option<String>,
    /// What the supplier bills for it, where stated.
    pub billed: Option<StatedLine>,
    /// Whether its slabs are made up from a nominal quantity.
    pub nominal: bool,
    /// Its place.
    pub place: Place,
}

/// One sawn plate.
#[derive(Debug, Clone)]
pub struct Slab {
    /// Its name, unique in the shipment.
    pub id: SmolStr,
    /// Its line, by position.
    pub line: u32,
    /// Its bundle, by position.
    pub bundle: u32,
    /// The line of the packing list it stands on; 0 for a nominal slab.
    pub row: u32,
    /// Gross area: what the mass comes from.
    pub gross_area: Area,
    /// Billed area: what price and spread come from.
    pub billed_area: Area,
    /// Gross mass of the stone: from size, thickness and density, or its share of a weighed bundle.
    pub mass: Mass,
}

/// Slabs strapped with timber, standing on edge.
#[derive(Debug, Clone)]
pub struct Bundle {
    /// Its name, unique in the shipment.
    pub id: SmolStr,
    /// The block its slabs were sawn from.
    pub block: Option<SmolStr>,
    /// How many slabs it has.
    pub slabs: usize,
    /// Mass with timber: weighed, or computed.
    pub mass: Mass,
    /// Mass that limits are checked with: as weighed, or computed with the thickness margin.
    pub limit_mass: Mass,
    /// Whether it was weighed.
    pub weighed: bool,
    /// Whether it may stand across its box.
    pub may_turn: bool,
    /// Outside length, timber included.
    pub length: Length,
    /// Outside width: thicknesses, films and side timber.
    pub width: Length,
    /// Outside height, runners included.
    pub height: Length,
    /// Where it first stands.
    pub place: Place,
}

/// A box that somebody already filled, on paper or in the yard.
#[derive(Debug, Clone)]
pub struct GivenBox {
    /// What the packing list or plan calls it.
    pub label: String,
    /// Its type, where stated.
    pub kind: Option<At<String>>,
    /// Its road class, where stated.
    pub class: Option<At<String>>,
    /// The offers it goes by, where stated.
    pub offers: AskedOffers,
    /// Its number, where known.
    pub number: Option<ContainerNumber>,
    /// Its seal, where known.
    pub seal: Option<String>,
    /// The tare marked on it, where read.
    pub tare: Option<Mass>,
    /// What its dunnage and lashing weighed, where weighed.
    pub dunnage: Option<Mass>,
    /// The bundles in it, by position.
    pub bundles: Vec<usize>,
    /// Where its bundles stand; for all of them, or for none.
    pub places: Vec<GivenPlace>,
    /// Where it is stated.
    pub place: Place,
}

impl GivenBox {
    /// A box of which no more is known than what it is called and where that is stated.
    pub fn named(label: String, place: Place) -> Self {
        Self {
            label,
            kind: None,
            class: None,
            offers: AskedOffers::new(),
            number: None,
            seal: None,
            tare: None,
            dunnage: None,
            bundles: Vec::new(),
            places: Vec::new(),
            place,
        }
    }
}

/// Where somebody put a bundle in its box.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GivenPlace {
    /// The bundle, by position.
    pub bundle: usize,
    /// From the front end to its nearer end.
    pub x: Length,
    /// From the left wall to its nearer side.
    pub y: Length,
    /// Whether its length lies across the box.
    pub turned: bool,
}

/// A departure from the rules for one charge, with its reason.
#[derive(Debug, Clone)]
pub struct PolicyRule {
    /// The charge, by name.
    pub charge: At<String>,
    /// The key to spread by.
    pub key: Option<Key>,
    /// The scope to spread over.
    pub scope: Option<At<ScopeKind>>,
    /// Where it goes.
    pub treatment: Option<Treatment>,
    /// Why.
    pub reason: String,
    /// Its place.
    pub place: Place,
}

/// How strongly bundles belong together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bond {
    /// In one container, whatever it costs.
    Rule,
    /// Each container beyond the first is worth this much.
    Wish(Money),
}

/// What a shipment asks of its load beyond the limits.
#[derive(Debug, Clone)]
pub struct LoadWishes {
    /// How strongly the bundles of one block belong together; as ties allow where not given.
    pub blocks: Option<At<Bond>>,
    /// Sets of bundles that belong together.
    pub together: Vec<(At<Vec<usize>>, Bond)>,
    /// Sets of bundles of which no two may share a container.
    pub apart: Vec<At<Vec<usize>>>,
    /// Containers that are begun: their bundles stay, and more may join them.
    pub fixed: Vec<GivenBox>,
    /// The most containers.
    pub most: Option<At<u32>>,
    /// How many containers of a type are to be had, where that is known.
    pub available: Vec<Available>,
    /// Which of those counts are of stocks that other shipments draw on, too.
    pub shared: Vec<SharedStock>,
    /// How far the centre of gravity may lie from mid-length.
    pub balance: Balance,
    /// The work that planning may take, in multiples of the usual.
    pub effort: u32,
}

/// How many containers of one kind are to be had.
#[derive(Debug, Clone)]
pub struct Available {
    /// Their type.
    pub kind: At<String>,
    /// Their road class; all classes together where not stated.
    pub class: Option<At<String>>,
    /// The offers they go by; all offers together where not stated.
    pub offers: AskedOffers,
    /// How many.
    pub count: u32,
}

impl Available {
    /// Whether it is of the same type, class and offers.
    pub fn is_same_kind(&self, other: &Self) -> bool {
        let class = |one: &Self| one.class.as_ref().map(|class| class.value.clone());
        let has = |one: &Self, of: &Self| {
            let offers = of.offers.iter();
            offers.clone().all(|(table, offer)| {
                one.offers.iter().any(|(own, name)| own == table && name.value == offer.value)
            })
        };
        self.kind.value == other.kind.value
            && class(self) == class(other)
            && has(self, other)
            && has(other, self)
    }

    /// The kind, as a table shows it.
    pub fn label(&self) -> String {
        let class = self.class.iter().map(|class| class.value.as_str());
        let offers = self.offers.iter().map(|(_, offer)| offer.value.as_str());
        let all: Vec<&str> =
            std::iter::once(self.kind.value.as_str()).chain(class).chain(offers).collect();
        all.join(" ")
    }
}

/// How far the centre of gravity of a load may lie from mid-length.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Balance {
    /// In thousandths of the length.
    pub permille: i64,
    /// Why it is more than the usual, which only then is needed.
    pub reason: Option<String>,
}

impl Balance {
    /// The normal case, 5 %: CTU Code (2014), annex 7, section 3.1.4.
    pub const USUAL: i64 = 50;
    /// What may be accepted in particular cases, 10 %: the same section.
    pub const MOST: i64 = 100;
}

impl Default for Balance {
    fn default() -> Self {
        Self { permille: Self::USUAL, reason: None }
    }
}

impl Default for LoadWishes {
    fn default() -> Self {
        Self {
            blocks: None,
            together: Vec::new(),
            apart: Vec::new(),
            fixed: Vec::new(),
            most: None,
            available: Vec::new(),
            shared: Vec::new(),
            balance: Balance::default(),
            effort: 1,
        }
    }
}
