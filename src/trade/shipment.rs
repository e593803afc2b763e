//! A shipment as its documents describe it.

use std::collections::BTreeMap;
use std::sync::Arc;

use smol_str::SmolStr;

use super::calendar::{Date, Dates, Window, word_of};
use super::charge::{Key, TableName, Treatment};
use super::code::{Country, Lane, Port};
use super::filing::{BillOfLading, Covers, Filing};
use super::given::{GivenBox, KeptProof};
use super::marked::Marked;
use super::measure::Measure;
use super::paper::{Paper, StatedLine};
use super::payment::{Payment, PaymentDay, PaymentPart};
use super::port::CalledPort;
use super::pricing::{Least, Pricing, Step};
use super::sawing::Sawing;
use super::scope::ScopeKind;
use super::stone::{Finish, QualityId};
use super::tariffs::ExchangeUse;
use super::term::{Bearer, DeliveryTerm, Leg};
use super::wishes::LoadWishes;
use super::yard::Yard;
use crate::fault::{At, Place};
use crate::quantity::{Area, Decimal, Hours, Length, Mass, Money, Percent, Price, Sides};

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
    /// The port of loading.
    pub from: CalledPort,
    /// The port of arrival.
    pub to: CalledPort,
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
    /// The way in which it is bought, where that is not as it is written.
    pub way: Option<String>,
    /// The other ways to buy it that its file has, by their names.
    pub ways: Vec<String>,
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
    /// Its slabs, in packing-list order; those of one bundle need not be neighbours. A shipment that is tried
    /// with other dates or prices has the same.
    pub slabs: Arc<Vec<Slab>>,
    /// What the list says of slabs beside their measures, by their names, where it says anything.
    pub marked: Arc<BTreeMap<SmolStr, Marked>>,
    /// The boxes its bundles are in, where that is known.
    pub boxes: Vec<GivenBox>,
    /// How sure the load was when it was kept, where its boxes are of a plan that says so.
    pub kept: Option<KeptProof>,
    /// What it asks of its load.
    pub load: LoadWishes,
    /// The file its slabs come from.
    pub packing_file: Place,
}

impl Shipment {
    /// What a page calls it: its name, and the way in which it is bought where that is not as written.
    pub fn called(&self) -> String {
        match &self.way {
            Some(way) => format!("{}, way {way}", self.name),
            None => self.name.clone(),
        }
    }

    /// The same, where prices of suppliers serve on after they have lapsed.
    #[must_use]
    pub fn serving_on(&self) -> Self {
        let mut all = self.clone();
        for invoice in &mut all.invoices {
            invoice.price_valid.value.serves_on = true;
        }
        all
    }

    /// Whether any of it is nominal: an offer without a packing list.
    pub fn is_nominal(&self) -> bool {
        self.lines.iter().any(|line| line.nominal)
    }

    /// The days of its customs entries, each once, in their order.
    pub fn days_of_entry(&self) -> Vec<Date> {
        let mut days: Vec<Date> = self.filings.iter().map(|filing| filing.entered).collect();
        days.sort_unstable();
        days.dedup();
        days
    }

    /// The pinned offers of a table; empty where none is.
    pub fn pinned(&self, table: TableName) -> &[At<String>] {
        self.pins.iter().find(|(name, _)| *name == table).map_or(&[], |(_, offers)| offers)
    }

    /// Leaves out what suppliers made out for these lines at the prices that are written, as a way of the
    /// file does for what it is laid over: [`Invoice::BILLED`] and [`Line::BILLED`].
    /// Gives what was left out: of which invoice or line, and by which key.
    pub fn leave_out_bills(&mut self, lines: &[usize]) -> Vec<(String, &'static str)> {
        let mut left = Vec::new();
        let mut invoices: Vec<usize> = Vec::new();
        for at in lines {
            let Some(line) = self.lines.get_mut(*at) else { continue };
            invoices.push(line.invoice);
            if line.billed.take().is_some() {
                left.push((format!("line {}", line.id), Line::BILLED));
            }
        }
        for (at, invoice) in self.invoices.iter_mut().enumerate() {
            if !invoices.contains(&at) {
                continue;
            }
            let [total, rounding] = Invoice::BILLED;
            let stated = [(total, &mut invoice.total), (rounding, &mut invoice.rounding)];
            for (key, amount) in stated {
                if amount.take().is_some() {
                    left.push((format!("invoice {}", invoice.number), key));
                }
            }
        }
        left
    }

    /// Puts an invoice under another delivery term. What is said of the written term is left out: legs that the
    /// price includes or that are stated apart, and where the import tax lies. Gives what was left out: of
    /// which invoice, by which key.
    pub fn put_under(
        &mut self,
        invoice: usize,
        term: &DeliveryTerm,
    ) -> Vec<(String, &'static str)> {
        let Some(invoice) = self.invoices.get_mut(invoice) else { return Vec::new() };
        invoice.term.value = term.clone();
        let has_own_tax = invoice.import_tax != ImportTax::InPrice;
        invoice.import_tax = ImportTax::InPrice;
        let left = [
            ("includes", !std::mem::take(&mut invoice.includes).is_empty()),
            ("stated", !std::mem::take(&mut invoice.stated).is_empty()),
            ("import-tax", has_own_tax),
        ];
        let left = left.into_iter().filter(|(_, is_left)| *is_left);
        left.map(|(key, _)| (format!("invoice {}", invoice.number), key)).collect()
    }

    /// Has an invoice paid otherwise. `false`, and nothing is changed, where an amount is in another currency
    /// than the prices of its lines.
    pub fn put_paid(&mut self, invoice: usize, payments: &[Payment]) -> bool {
        let mut lines = self.lines.iter().filter(|line| line.invoice == invoice);
        let currency = lines.next().map(|line| line.price.currency);
        let is_other = |payment: &Payment| match payment.part.value {
            PaymentPart::Amount(amount) => Some(amount.currency()) != currency,
            PaymentPart::Share(_) | PaymentPart::Rest => false,
        };
        let is_so = !payments.iter().any(is_other);
        if let Some(invoice) = self.invoices.get_mut(invoice).filter(|_| is_so) {
            invoice.payments = payments.to_vec();
        }
        is_so
    }

    /// The invoices whose goods travel as they are billed: those of blocks do not.
    pub fn carried(&self) -> impl Iterator<Item = &Invoice> {
        self.invoices.iter().filter(|invoice| !invoice.of_blocks)
    }

    /// Whether an invoice bills the slabs of a line: as its own, or as those of its block.
    pub fn bills(&self, invoice: usize, line: usize) -> bool {
        let is_of = |(at, one): (usize, &Line)| one.invoice == invoice && one.slabs_of(at) == line;
        self.lines.iter().enumerate().any(is_of)
    }

    /// Whether a slab, by its line and its bundle, is among the goods that a document covers.
    pub fn covered(&self, by: &Covers, line: u32, bundle: u32) -> bool {
        let at = |index: u32| usize::try_from(index).ok();
        match by {
            Covers::Everything => true,
            Covers::Invoices(invoices) => at(line)
                .and_then(|at| self.lines.get(at))
                .is_some_and(|line| invoices.contains(&line.invoice)),
            Covers::Bundles(bundles) => at(bundle).is_some_and(|at| bundles.contains(&at)),
        }
    }
}

impl Invoice {
    /// The keys of what is made out for the prices as they are written, and for no others.
    pub const BILLED: [&str; 2] = ["total", "rounding"];

    /// Whether it leaves a leg to the importer: the matrix of the delivery term, with what the invoice
    /// says it includes and how packing is paid. A leg that depends on the contract of carriage falls
    /// to the importer unless the invoice includes it. Of blocks no leg is left: the invoice of the works says
    /// who carries the slabs.
    pub fn leaves(&self, leg: Leg) -> bool {
        if self.of_blocks || self.includes.contains(&leg) {
            return false;
        }
        if leg == Leg::ExportPacking {
            return matches!(self.packing, PackingTerms::Apart(_));
        }
        self.term.bearer(leg) != Bearer::Seller
    }
}

impl Invoice {
    /// The day on which its prices end, where that is before the goods sail: they are lost to who orders
    /// later. A payment on a day on which they hold stands for the order.
    pub fn ends_before_sailing(&self, dates: Dates) -> Option<Date> {
        let valid = self.price_valid.value;
        let ordered =
            |payment: &Payment| matches!(payment.day, PaymentDay::On(day) if valid.holds(day));
        let until = valid.until.filter(|until| *until < dates.sails)?;
        (!self.payments.iter().any(ordered)).then_some(until)
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
    /// Whether it is split by price, where it lies on several lines of entries: not as it is charged.
    pub by_price: bool,
    /// The bill of lading that it is stated for; all of the invoice's goods where none is named.
    pub bill: Option<At<String>>,
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
    /// Which part of the supplier's invoice this is, where it bills goods of several shipments.
    pub part: Option<String>,
    /// The delivery term.
    pub term: At<DeliveryTerm>,
    /// How long the prices hold.
    pub price_valid: At<Window>,
    /// Whether its prices are figures to start with.
    pub is_starter: bool,
    /// Legs that the price includes although the term leaves them open.
    pub includes: Vec<Leg>,
    /// Who bears the import tax where the seller bears the duty: the seller, for Incoterms 2020 puts
    /// all taxes of the import on it unless the contract says otherwise (DDP, A9 and the
    /// explanatory notes, from memory).
    pub import_tax: ImportTax,
    /// How packing is paid.
    pub packing: PackingTerms,
    /// The least that is sold on it.
    pub least: Option<At<Least>>,
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
    /// When control of its goods passes, where not as the term has it.
    pub control: Option<At<Date>>,
    /// What a designated hedge adds to the cost of its goods.
    pub basis_adjustment: Option<BasisAdjustment>,
    /// Legs stated apart.
    pub stated: Vec<StatedLeg>,
    /// What the customs value has beside the price.
    pub additions: Vec<Addition>,
    /// The use of the exchange row at which it is paid: a contract, or the bank's rate of the day. Its
    /// goods are booked at the rate of the day, either way.
    pub exchange: ExchangeUse,
    /// How it is paid; on the day control passes where it does not say.
    pub payments: Vec<Payment>,
    /// Whether it bills blocks: its goods travel as slabs, under the term of the works that sawed them.
    pub of_blocks: bool,
    /// Its place.
    pub place: Place,
}

/// What a designated hedge of the price takes off the cost of the goods, or adds to it: one amount
/// from the accountant's hedge file, in the book currency (IFRS 9, paragraph 6.5.11(d)(i)).
#[derive(Debug, Clone)]
pub struct BasisAdjustment {
    /// What it adds; less than nothing takes off.
    pub amount: At<Money>,
    /// The paper it stands on.
    pub source: String,
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
    pub finish: Finish,
    /// The thickness.
    pub thickness: Length,
    /// Its price, or the first of several: what it is priced by, and in which currency. What the line comes
    /// to takes its steps and extras, too.
    pub price: At<Price>,
    /// Its other prices.
    pub pricing: Pricing,
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
    /// When control of its goods passes, where stated.
    pub control: Option<At<Date>>,
    /// What the supplier bills for it, where stated.
    pub billed: Option<StatedLine>,
    /// The quality of its slabs, but of those whose row on the packing list says another.
    pub quality: Option<QualityId>,
    /// Whether its slabs are made up from a nominal quantity.
    pub nominal: bool,
    /// The block that its slabs are sawn from, and how.
    pub sawing: Option<Arc<Sawing>>,
    /// What it bills, where that is a block.
    pub block: Option<BilledBlock>,
    /// Other ports at which its price holds, under a term that names the port of loading.
    pub ports: Vec<Port>,
    /// When its goods are ready, where that is stated.
    pub ready: Option<At<Ready>>,
    /// Its place.
    pub place: Place,
}

/// A block that a line bills: the slabs are those of the line that saws it.
#[derive(Debug, Clone, Copy)]
pub struct BilledBlock {
    /// That line, by its position.
    pub sawn_by: usize,
    /// How much is billed, in the unit of the price.
    pub quantity: Decimal,
}

/// When goods are ready.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ready {
    /// On a day.
    On(Date),
    /// So many days after the order, which is given on the day of the calculation.
    After(u32),
}

impl Ready {
    /// The day, of an order on the day of the calculation. `None`: it is beyond the calendar.
    pub fn day(self, quoted: Date) -> Option<Date> {
        match self {
            Self::On(day) => Some(day),
            Self::After(days) => quoted.checked_add_days(chrono::Days::new(days.into())),
        }
    }
}

impl Line {
    /// The line whose slabs it bills: itself at its own position, or the one that saws its block.
    pub fn slabs_of(&self, own: usize) -> usize {
        self.block.map_or(own, |block| block.sawn_by)
    }

    /// Whether each slab has its own quantity of what it bills: neither a block's nor a lot's have.
    pub fn is_by_the_slab(&self) -> bool {
        self.block.is_none() && self.price.by.is_by_the_slab()
    }

    /// The key of what is billed at the price as it is written, and at no other.
    pub const BILLED: &str = "billed";

    /// The form of its goods: slabs, unless it says another.
    pub fn form(&self) -> &str {
        self.form.as_deref().unwrap_or("slab")
    }

    /// The prices of its goods, each with its place: the first one, those of its qualities, its steps'.
    pub fn prices_of_goods(&self) -> impl Iterator<Item = &At<Price>> {
        // The first of the qualities has the line's price.
        let qualities = self.pricing.qualities.iter().skip(1).map(|one| &one.price);
        let steps = self.pricing.all_steps().map(|step| &step.price);
        std::iter::once(&self.price).chain(qualities).chain(steps)
    }

    /// What the prices after its first one are of, in the order of [`Self::prices_of_goods`].
    pub fn of_other_prices(&self) -> impl Iterator<Item = String> {
        let qualities = self.pricing.qualities.iter();
        let steps = self.pricing.steps.iter().map(|step| format!("from {}", step.from.value));
        let of_quality = qualities.clone().flat_map(|one| {
            let of = |step: &Step| format!("{} from {}", one.quality.value, step.from.value);
            one.steps.iter().map(of)
        });
        let others = qualities.skip(1).map(|one| one.quality.to_string());
        others.chain(steps).chain(of_quality)
    }

    /// Sets its price. Prices by quantity and by quality move with it, in proportion; extras stay.
    pub fn set_price(&mut self, price: Price) {
        let was = self.price.amount;
        let moved = |amount: Decimal| {
            let exact = amount.checked_mul(price.amount).and_then(|all| all.checked_div(was));
            exact.map_or(amount, |exact| exact.normalize())
        };
        let qualities = &mut self.pricing.qualities;
        for one in qualities.iter_mut() {
            one.price.value.amount = moved(one.price.amount);
        }
        let by_quality = qualities.iter_mut().flat_map(|one| &mut one.steps);
        for step in self.pricing.steps.iter_mut().chain(by_quality) {
            step.price.value.amount = moved(step.price.amount);
        }
        self.price.value = price;
    }

    /// All its prices, those of its extras among them.
    pub fn prices(&self) -> impl Iterator<Item = &At<Price>> {
        let extras = self.pricing.extras.iter().map(|extra| &extra.price);
        self.prices_of_goods().chain(extras)
    }

    /// Whether its slabs weigh by what each comes to, as no one quantity has the proportion: they have extras
    /// that may be counted otherwise, or prices of their own.
    pub fn is_composite(&self) -> bool {
        let pricing = &self.pricing;
        let is_one = pricing.extras.is_empty() && pricing.qualities.is_empty();
        self.is_by_the_slab() && !is_one
    }
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
    /// Its quality: the packing list's word, or its line's.
    pub quality: Option<QualityId>,
    /// What is known of it as sawn.
    pub sawn: Sawn,
    /// Billed area: what price and spread come from.
    pub billed_area: Area,
    /// Gross mass of the stone: from size, thickness and density, or its share of a weighed bundle.
    pub mass: Mass,
}

/// What is known of a slab as sawn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Sawn {
    /// Its sides.
    Sides(Sides),
    /// Of a made-up slab: its area, and the sides that it may be a part of; without them, the area comes from
    /// what is billed.
    MadeUp(Box<(Area, Option<Sides>)>),
}

impl Slab {
    /// The word of its quality.
    pub fn quality(&self) -> Option<&str> {
        self.quality.as_ref().map(|id| id.as_str())
    }

    /// Its sides as sawn; `None` where only what is billed is known. A made-up slab may be a part of one of
    /// these sides.
    pub fn sides(&self) -> Option<Sides> {
        match &self.sawn {
            Sawn::Sides(sides) => Some(*sides),
            Sawn::MadeUp(known) => known.1,
        }
    }

    /// Gross area: what the mass comes from; it comes from what is billed where the sides are not known.
    pub fn gross_area(&self) -> Area {
        match &self.sawn {
            Sawn::Sides(sides) => sides.area(),
            Sawn::MadeUp(known) => known.0,
        }
    }
}

/// How the mass of a bundle is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MassBasis {
    /// Computed from area, thickness, density and timber.
    Computed,
    /// On scales; beside it what would have been computed.
    Weighed {
        /// The mass by area, thickness, density and timber.
        computed: Mass,
    },
}

impl MassBasis {
    /// Whether it was weighed.
    pub fn is_weighed(self) -> bool {
        matches!(self, Self::Weighed { .. })
    }
}

/// Two beams lengthwise under a bundle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bearers {
    /// How long they are.
    pub length: Length,
    /// How far apart, from middle to middle.
    pub spread: Length,
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
    pub weighing: MassBasis,
    /// Whether it may stand across its box.
    pub may_turn: bool,
    /// Whether it is an A-frame, with slabs leaning on both of its sides: one piece with one footprint.
    pub is_a_frame: bool,
    /// The two beams lengthwise that it rests on, where that is stated; otherwise it presses evenly on its width.
    pub bearers: Option<Bearers>,
    /// Outside length, timber included.
    pub length: Length,
    /// Outside width: thicknesses, films and side timber.
    pub width: Length,
    /// Outside height, runners included.
    pub height: Length,
    /// Where it first stands.
    pub place: Place,
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
