//! Customs entries: which lots they hold, their tariff lines, entered values, import taxes.
//!
//! An entry line is one tariff number, one origin and one set of layers, whatever lines the
//! invoices have. Values are made from the invoices' original amounts at the customs rate, never
//! from book amounts, and are rounded once per entry line, as the regime has it.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::charge::{Charge, ChargeKind, Conversion, Customs, Priced, Scope, Working};
use super::delivered;
use super::exchange::{self, SERVICES, Target};
use super::job::Job;
use super::layers::{self, Layer};
use super::payments::duties_payable;
use super::sets::{SetId, Sets};
use super::spreader::Spreader;
use super::terms::importer_bears;
use crate::fault::{Code, Fault, Place, Report};
use crate::quantity::{Area, Currency, Decimal, Exact, Mass, Money, Overflow};
use crate::trade::{
    Basis, Country, Covers, Date, DutyRate, EntryKind, Event, ExchangeUse, Filing, Key, Leg,
    Lookup, Mode, Regime, ScopeKind, Shipment, Slab, Treatment,
};

/// A customs entry as it would be estimated. It is not a declaration: a licensed broker's is.
#[derive(Debug, Clone)]
pub struct Entry {
    /// The importer's name for it, or the shipment's.
    pub id: String,
    /// The currency of the entry.
    pub currency: Currency,
    /// The day of entry.
    pub entered_on: Date,
    /// Formal or informal.
    pub kind: EntryKind,
    /// How the goods come to the country.
    pub mode: Mode,
    /// Whether the seller makes it, at its own cost: its price is delivered duty paid.
    pub by_seller: bool,
    /// The regime's row.
    pub regime: Place,
    /// The name of the regime.
    pub regime_name: String,
    /// Its slabs.
    pub set: SetId,
    /// Its lines.
    pub lines: Vec<EntryLine>,
    /// The seller's fees, for a memo; the importer's own are charges.
    pub memo_fees: Vec<MemoFee>,
    /// Legs that the base of an import tax has beside value and duty.
    pub(super) tax_adds: Vec<Leg>,
}

/// A fee of a seller's entry: inside its price, and no cost of the importer's.
#[derive(Debug, Clone)]
pub struct MemoFee {
    /// Its name.
    pub name: String,
    /// What it comes to.
    pub amount: Money,
    /// Its row.
    pub place: Place,
}

impl Entry {
    /// The sum of the entered values of its lines.
    ///
    /// # Errors
    /// Where it cannot be held.
    pub fn entered(&self) -> Result<Money, Overflow> {
        Money::total(self.currency, self.lines.iter().map(|line| line.entered))
    }

    /// The sum of the duties of its lines.
    ///
    /// # Errors
    /// Where it cannot be held.
    pub fn duty(&self) -> Result<Money, Overflow> {
        let layers = self.lines.iter().flat_map(|line| &line.layers);
        Money::total(self.currency, layers.map(|layer| layer.amount))
    }
}

/// One line of an entry.
#[derive(Debug, Clone)]
pub struct EntryLine {
    /// What tells it apart from the other lines of the shipment's entries.
    pub label: String,
    /// The tariff number.
    pub number: String,
    /// The country of origin.
    pub origin: Country,
    /// The lines of the invoices in it, by position.
    pub lines: Vec<usize>,
    /// Its slabs.
    pub set: SetId,
    /// What its value is made of, in the currencies of the documents.
    pub parts: Vec<ValuePart>,
    /// The unrounded value.
    pub exact: Exact,
    /// The entered value.
    pub entered: Money,
    /// Net mass of its slabs.
    pub mass: Mass,
    /// Gross area of its slabs.
    pub area: Area,
    /// Its layers of duty.
    pub layers: Vec<Layer>,
    /// Where the tariff number comes from.
    pub place: Place,
}

/// A part of a customs value: added, or taken out where it is negative.
#[derive(Debug, Clone)]
pub struct ValuePart {
    /// What it is.
    pub name: String,
    /// The leg it is about.
    pub leg: Leg,
    /// Its amount, unrounded, in the currency of its document.
    pub amount: Exact,
    /// The rate it is converted at, where it needs one.
    pub exchange: Option<Conversion>,
    /// Where it is stated.
    pub place: Place,
}

impl ValuePart {
    /// The amount in the currency of the entry, unrounded.
    pub fn converted(&self) -> Option<Exact> {
        match &self.exchange {
            Some(conversion) => self.amount.converted(&conversion.quote),
            None => Some(self.amount.clone()),
        }
    }
}

/// The goods of one invoice line on one entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Lot {
    entry: usize,
    line: usize,
}

/// Which entry every slab is on.
struct Split<'a> {
    filings: Vec<(&'a Filing, bool)>,
    /// The filing of each bundle, where bills list containers.
    by_bundle: Option<Vec<usize>>,
    /// The filing of each invoice line, otherwise.
    by_line: Vec<usize>,
    /// Whether the seller enters a line.
    sellers: Vec<bool>,
    /// The lots there are.
    lots: Vec<Lot>,
}

impl<'a> Split<'a> {
    fn new(job: &Job<'a>) -> Self {
        let shipment = job.shipment;
        let filing_of_invoice = |invoice: usize| {
            let on = |filing: &Filing| match &filing.covers {
                Covers::Everything => true,
                Covers::Invoices(some) => some.contains(&invoice),
                Covers::Bundles(_) => false,
            };
            shipment.filings.iter().position(on).unwrap_or(0)
        };
        let by_line = shipment.lines.iter().map(|line| filing_of_invoice(line.invoice)).collect();
        let boxed = shipment.filings.iter().any(|one| matches!(one.covers, Covers::Bundles(_)));
        let by_bundle = boxed.then(|| {
            let on = |bundle: usize| {
                let held = |filing: &Filing| matches!(&filing.covers, Covers::Bundles(some) if some.contains(&bundle));
                shipment.filings.iter().position(held).unwrap_or(0)
            };
            (0..shipment.bundles.len()).map(on).collect()
        });
        let seller = |line: &crate::trade::Line| {
            let invoice = shipment.invoices.get(line.invoice);
            invoice.is_some_and(|invoice| !importer_bears(invoice, Leg::DutyAndTax))
        };
        let sellers: Vec<bool> = shipment.lines.iter().map(seller).collect();
        let filings = shipment.filings.iter().flat_map(|one| [(one, false), (one, true)]).collect();
        let mut split = Self { filings, by_bundle, by_line, sellers, lots: Vec::new() };
        let mut lots: Vec<Lot> = match split.by_bundle {
            None => (0..shipment.lines.len()).filter_map(|line| split.lot(line, 0)).collect(),
            Some(_) => {
                let mut seen = std::collections::BTreeSet::new();
                for slab in &shipment.slabs {
                    seen.extend(split.lot_of(slab));
                }
                seen.into_iter().collect()
            }
        };
        lots.sort_unstable();
        split.lots = lots;
        split
    }

    fn lot(&self, line: usize, bundle: usize) -> Option<Lot> {
        let filing = match &self.by_bundle {
            Some(by_bundle) => by_bundle.get(bundle)?,
            None => self.by_line.get(line)?,
        };
        let seller = usize::from(*self.sellers.get(line)?);
        Some(Lot { entry: filing * 2 + seller, line })
    }

    /// The slabs of the lots that `keep` chooses.
    fn set(
        &self,
        name: String,
        shipment: &Shipment,
        sets: &mut Sets,
        keep: impl Fn(Lot) -> bool,
    ) -> Option<SetId> {
        if self.by_bundle.is_none() {
            let kept = |line| self.lot(line, 0).is_some_and(&keep);
            return sets.of_lines(name, shipment, kept);
        }
        let kept = |slab: &Slab| self.lot_of(slab).is_some_and(&keep);
        let members = (0..).zip(&shipment.slabs).filter(|(_, slab)| kept(slab));
        let members: Vec<u32> = members.map(|(index, _)| index).collect();
        (!members.is_empty()).then(|| sets.add(name, &members))
    }

    fn lot_of(&self, slab: &Slab) -> Option<Lot> {
        self.lot(usize::try_from(slab.line).ok()?, usize::try_from(slab.bundle).ok()?)
    }
}

/// Works out every entry, the seller's own among them.
pub(super) fn enter(
    job: &Job<'_>,
    charges: &[Charge],
    sets: &mut Sets,
    spreader: &mut Spreader<'_>,
    report: &mut Report,
) -> Option<Vec<Entry>> {
    let split = Split::new(job);
    let mut entries = Vec::new();
    let mut taken: Vec<String> = Vec::new();
    for (index, (filing, by_seller)) in split.filings.iter().enumerate() {
        let lots: Vec<Lot> = split.lots.iter().copied().filter(|lot| lot.entry == index).collect();
        if lots.is_empty() {
            continue;
        }
        let stated = job.shipment.filings.len() > 1;
        if *by_seller && stated && entries.last().is_some_and(|one: &Entry| one.id == filing.id) {
            report.add(mixed(filing));
            return None;
        }
        let one = Filed { job, split: &split, filing, by_seller: *by_seller, index, lots };
        match one.entry(charges, &mut taken, sets, spreader, report) {
            Some(entry) => entries.push(entry),
            None if report.has_errors() => return None,
            // Without the rates of its regime a seller's entry has no memo; it is no cost here.
            None => {}
        }
    }
    Some(entries)
}

fn mixed(filing: &Filing) -> Fault {
    let message =
        format!("entry {} holds goods that the seller enters and goods that you enter", filing.id);
    Fault::error(Code::Contradiction, message)
        .at(&filing.place, "this entry")
        .help("goods delivered duty paid are on an entry of the seller's: list them on another")
}

/// The row of a yard's regime on a day.
fn regime<'a>(job: &Job<'a>, on: Date, report: &mut Report) -> Option<&'a Regime> {
    let yard = &job.shipment.yard;
    match job.tariffs.regime(&yard.regime, on) {
        Lookup::Found(regime) => Some(regime),
        Lookup::Lapsed(rows) => {
            let mut fault = Fault::error(
                Code::LapsedRate,
                format!("regime \"{}\" is not in force on {on}", yard.regime),
            );
            for row in rows.iter().take(1) {
                fault = fault.at(&row.place, format!("in force {}", row.valid));
            }
            report.add(fault.help("add the regime's row for that date to rates/duty.toml"));
            None
        }
        Lookup::Several(_) | Lookup::Missing => {
            report.add(
                Fault::error(
                    Code::NoRate,
                    format!("rates/duty.toml has no one regime \"{}\"", yard.regime),
                )
                .at(&yard.place, "the yard's regime"),
            );
            None
        }
    }
}

/// One entry under way.
struct Filed<'a, 's> {
    job: &'s Job<'a>,
    split: &'s Split<'a>,
    filing: &'s Filing,
    by_seller: bool,
    index: usize,
    lots: Vec<Lot>,
}

/// Lines of one tariff number, origin and set of layers.
struct Group {
    number: String,
    origin: Country,
    lines: Vec<usize>,
    place: Place,
    layers: Vec<layers::Chosen>,
}

impl Filed<'_, '_> {
    fn entry(
        &self,
        charges: &[Charge],
        taken: &mut Vec<String>,
        sets: &mut Sets,
        spreader: &mut Spreader<'_>,
        report: &mut Report,
    ) -> Option<Entry> {
        let (job, filing) = (self.job, self.filing);
        // A seller's entry is a memo: what stops it stops nothing else.
        let mut aside = Report::new();
        let faults = if self.by_seller { &mut aside } else { &mut *report };
        let regime = regime(job, filing.entered, faults)?;
        let groups = self.groups(faults)?;
        let values = self.values(regime, charges, sets, spreader, faults)?;
        let mut lines = Vec::new();
        for group in groups {
            let label = label(&group, filing, job.shipment.filings.len() > 1, taken);
            let name = format!("tariff line {label}");
            let of_line = |lot: Lot| lot.entry == self.index && group.lines.contains(&lot.line);
            let Some(set) = self.split.set(name, job.shipment, sets, of_line) else { continue };
            let (parts, exact) = self.add_up(regime, &values, &group.lines, report)?;
            let slabs = || sets.members(set).filter_map(|at| job.shipment.slabs.get(at));
            let mass = Mass::total(slabs().map(|slab| slab.mass));
            let area = Area::total(slabs().map(|slab| slab.gross_area));
            let (Ok(mass), Ok(area)) = (mass, area) else {
                report.add(too_large(&group.place));
                return None;
            };
            let of = |one| Layer::of(one, regime.currency);
            let layers = group.layers.into_iter().map(of).collect();
            lines.push(EntryLine {
                label,
                number: group.number,
                origin: group.origin,
                lines: group.lines,
                set,
                parts,
                exact,
                entered: Money::zero(regime.currency),
                mass,
                area,
                layers,
                place: group.place,
            });
        }
        let own = |lot: Lot| lot.entry == self.index;
        let whose = if self.by_seller { "seller's" } else { "own" };
        let set =
            self.split.set(format!("entry {} {whose}", filing.id), job.shipment, sets, own)?;
        let mut entry = Entry {
            id: filing.id.clone(),
            currency: regime.currency,
            entered_on: filing.entered,
            kind: filing.kind,
            mode: filing.mode,
            by_seller: self.by_seller,
            regime: regime.place.clone(),
            regime_name: regime.name.clone(),
            set,
            lines,
            memo_fees: Vec::new(),
            tax_adds: regime.tax_adds.clone(),
        };
        if self.by_seller {
            delivered::solve(job, &mut entry, report)?;
        }
        for line in &mut entry.lines {
            line.entered = entered(line, regime, report)?;
            layers::levy(line, regime, report)?;
        }
        if self.by_seller {
            delivered::fees(job, &mut entry, report)?;
        }
        check_informal(&entry, regime, filing, report);
        Some(entry)
    }

    /// Invoice lines by tariff number, origin and layers.
    fn groups(&self, report: &mut Report) -> Option<Vec<Group>> {
        let regime = &self.job.shipment.yard.regime;
        let mut groups: BTreeMap<(String, Country, Vec<usize>), Group> = BTreeMap::new();
        let mut sound = true;
        for lot in &self.lots {
            let line = self.job.shipment.lines.get(lot.line)?;
            let stone = self.job.tariffs.stone(&line.stone)?;
            let form = line.form.as_deref().unwrap_or("slab");
            let Some(row) = stone.tariff_row(regime, &line.finish, form) else {
                sound = false;
                report.add(no_tariff_line(line, stone, regime));
                continue;
            };
            let Some(layers) = layers::choose(self.job, line, &row.line, self.filing, report)
            else {
                sound = false;
                continue;
            };
            let rows = layers.iter().map(|layer| layer.index).collect();
            let group = groups.entry((row.line.clone(), line.origin.clone(), rows));
            let group = group.or_insert_with(|| Group {
                number: row.line.clone(),
                origin: line.origin.clone(),
                lines: Vec::new(),
                place: row.place.clone(),
                layers,
            });
            group.lines.push(lot.line);
        }
        sound.then(|| groups.into_values().collect())
    }
}

/// Number and origin, and what else tells a line apart from one before.
fn label(group: &Group, filing: &Filing, several: bool, taken: &mut Vec<String>) -> String {
    let plain = format!("{} {}", group.number, group.origin);
    let plain = if several { format!("{plain} on {}", filing.id) } else { plain };
    let mut label = plain.clone();
    let mut count = 1;
    while taken.contains(&label) {
        count += 1;
        label = format!("{plain} ({count})");
    }
    taken.push(label.clone());
    label
}

fn too_large(place: &Place) -> Fault {
    Fault::error(Code::Overflow, "the figures are too large").at(place, "this tariff line")
}

/// The value of a line as it is entered.
fn entered(line: &EntryLine, regime: &Regime, report: &mut Report) -> Option<Money> {
    match line.exact.round_to(regime.value_step) {
        Ok(entered) if !entered.is_negative() => Some(entered),
        Ok(_) => {
            report.add(
                Fault::error(
                    Code::OutOfRange,
                    format!("the customs value of {} is below nothing", line.number),
                )
                .at(&line.place, "this tariff line")
                .help("the deductions stated on the invoice are larger than its price"),
            );
            None
        }
        Err(overflow) => {
            report.add(
                Fault::error(Code::Overflow, overflow.to_string())
                    .at(&line.place, "this tariff line"),
            );
            None
        }
    }
}

fn check_informal(entry: &Entry, regime: &Regime, filing: &Filing, report: &mut Report) {
    if entry.kind != EntryKind::Informal {
        return;
    }
    let most = regime.informal_limit;
    let within =
        entry.entered().is_ok_and(|value| most.is_some_and(|most| value.amount() <= most.amount()));
    if !within {
        let most = most.map_or_else(|| "none".to_owned(), |most| most.to_string());
        let message =
            format!("entry {} is worth more than an informal one may be ({most})", entry.id);
        report.add(
            Fault::error(Code::OutOfRange, message)
                .at(&filing.place, "this entry")
                .also(&regime.place, "`informal-limit` of the regime")
                .help("file it as kind = \"formal\""),
        );
    }
}

fn no_tariff_line(line: &crate::trade::Line, stone: &crate::trade::Stone, regime: &str) -> Fault {
    Fault::error(
        Code::NoRate,
        format!(
            "\"{}\" has no tariff line for the finish \"{}\" under regime \"{regime}\"",
            stone.id, line.finish
        ),
    )
    .at(&line.place, "needed for this line")
    .also(&stone.place, "the stone")
    .help("add a [[stone.tariff]] row with regime, finish, line and source")
}

/// What one document's item adds to the value of each lot.
struct Value {
    name: String,
    leg: Leg,
    by_lot: BTreeMap<Lot, Exact>,
    exchange: Option<Conversion>,
    place: Place,
}

impl Filed<'_, '_> {
    /// The parts of the customs value, lot by lot.
    ///
    /// These are the price and what the buyer bears beside it: packing, a selling commission,
    /// assists and royalties (US: 19 U.S.C. 1401a(b)(1)), and the legs that the regime adds. A
    /// regime that values at export adds no freight that the importer pays itself, nor its inland
    /// freight under EXW (19 CFR 152.103(a)(5)); one that values at the border adds all carriage
    /// up to it. Legs inside the price come out only where the regime takes them out, the invoice
    /// states them apart and there is evidence; without, the whole price is the value. A leg
    /// before the ship comes out only under a through bill of lading (the same paragraph).
    fn values(
        &self,
        regime: &Regime,
        charges: &[Charge],
        sets: &Sets,
        spreader: &mut Spreader<'_>,
        report: &mut Report,
    ) -> Option<Vec<Value>> {
        let job = self.job;
        let mut values = Vec::new();
        let counts = |charge: &&Charge| {
            charge.customs == Customs::In
                || (charge.leg > Leg::Goods
                    && charge.treatment == Treatment::Stock
                    && regime.adds.contains(&charge.leg))
        };
        for charge in charges.iter().filter(counts) {
            let place = charge.sources.first()?.clone();
            let by_lot = self.by_lot(charge, sets, spreader, report)?;
            if by_lot.is_empty() {
                continue;
            }
            let currency = charge.amount().currency();
            let exchange = customs_rate(job, regime, currency, &place, report)?;
            let (name, leg) = (charge.name.clone(), charge.leg);
            values.push(Value { name, leg, by_lot, exchange, place });
        }
        for (index, invoice) in job.shipment.invoices.iter().enumerate() {
            let here = self.lots.iter().any(|lot| {
                job.shipment.lines.get(lot.line).is_some_and(|line| line.invoice == index)
            });
            if !here {
                continue;
            }
            for stated in &invoice.stated {
                // A leg that the term leaves to the importer is not in the price: nothing to take
                // out.
                let through = regime.through.contains(&stated.leg);
                let comes_out = regime.takes_out.contains(&stated.leg) || through;
                if !comes_out || importer_bears(invoice, stated.leg) {
                    continue;
                }
                if stated.evidence.is_none() || (through && stated.through.is_none()) {
                    report.add(no_evidence(stated));
                    continue;
                }
                let amount = Exact::from(stated.amount.value).negated();
                let place = stated.amount.place.clone();
                let name = format!("{} inside the price", stated.leg.word());
                let item = (name, stated.leg, amount, place);
                values
                    .push(self.beside_lines(regime, index, item, charges, sets, spreader, report)?);
            }
            for added in &invoice.additions {
                let amount = Exact::from(added.amount.value);
                let item = (added.name.clone(), Leg::Goods, amount, added.amount.place.clone());
                values
                    .push(self.beside_lines(regime, index, item, charges, sets, spreader, report)?);
            }
        }
        let assumed = self.assumed(regime, &values);
        values.extend(assumed);
        Some(values)
    }

    /// Legs of which nothing is known, as the shares that the regime takes them for.
    fn assumed(&self, regime: &Regime, values: &[Value]) -> Vec<Value> {
        let shipment = self.job.shipment;
        let bears = |lot: &Lot, leg: Leg| {
            let line = shipment.lines.get(lot.line);
            let invoice = line.and_then(|line| shipment.invoices.get(line.invoice));
            invoice.is_some_and(|invoice| importer_bears(invoice, leg))
        };
        let mut assumed = Vec::new();
        for (leg, rate) in &regime.assumed {
            if values.iter().any(|value| value.leg == *leg) {
                continue;
            }
            for value in values.iter().filter(|value| value.leg < Leg::MainCarriage) {
                let borne = value.by_lot.iter().filter(|(lot, _)| bears(lot, *leg));
                assumed.push(Value {
                    name: format!("{} taken as {rate} of {}", leg.word(), value.name),
                    leg: *leg,
                    by_lot: borne.map(|(lot, part)| (*lot, part.percent(*rate))).collect(),
                    exchange: value.exchange.clone(),
                    place: regime.place.clone(),
                });
            }
        }
        assumed.retain(|value| !value.by_lot.is_empty());
        assumed
    }

    /// A charge's amount by lot of this entry, in the charge's own currency, unrounded: as its key
    /// has it.
    fn by_lot(
        &self,
        charge: &Charge,
        sets: &Sets,
        spreader: &mut Spreader<'_>,
        report: &mut Report,
    ) -> Option<BTreeMap<Lot, Exact>> {
        let amount = Exact::from(charge.amount());
        let mut lots = self.split.lots.iter().filter(|lot| Some(lot.line) == charge.goods_of);
        if let (Some(lot), None) = (lots.next(), lots.next()) {
            let own = lot.entry == self.index;
            return Some(own.then_some((*lot, amount)).into_iter().collect());
        }
        if let [lot] = self.split.lots[..] {
            return Some(BTreeMap::from([(lot, amount)]));
        }
        let weights = spreader.weights(charge, sets, report)?;
        let mut parts: BTreeMap<Lot, u128> = BTreeMap::new();
        for (position, slab) in sets.members(charge.scope.set).enumerate() {
            let lot = self.job.shipment.slabs.get(slab).and_then(|slab| self.split.lot_of(slab))?;
            if lot.entry == self.index {
                let sum = parts.entry(lot).or_default();
                *sum = sum.checked_add(weights.at(position))?;
            }
        }
        let share = |(lot, part)| (lot, amount.weighed(part, weights.total()));
        Some(parts.into_iter().map(share).collect())
    }

    /// Something an invoice states beside its lines, divided over them by their amounts, unrounded.
    #[expect(clippy::too_many_arguments, reason = "all of what a value is made from")]
    fn beside_lines(
        &self,
        regime: &Regime,
        invoice: usize,
        (name, leg, amount, place): (String, Leg, Exact, Place),
        charges: &[Charge],
        sets: &Sets,
        spreader: &mut Spreader<'_>,
        report: &mut Report,
    ) -> Option<Value> {
        let lines = &self.job.shipment.lines;
        let mut amounts: BTreeMap<Lot, Exact> = BTreeMap::new();
        let mut whole: Option<Exact> = None;
        for charge in charges {
            let Some(at) = charge.goods_of else { continue };
            if lines.get(at).is_none_or(|line| line.invoice != invoice) {
                continue;
            }
            let goods = Exact::from(charge.amount());
            whole = Some(whole.map_or(Ok(goods.clone()), |sum| sum.plus(&goods)).ok()?);
            for (lot, part) in self.by_lot(charge, sets, spreader, report)? {
                let sum = amounts.entry(lot).or_insert_with(|| Exact::zero(part.currency()));
                *sum = sum.plus(&part).ok()?;
            }
        }
        let whole = whole?;
        if whole.is_zero() {
            report.add(
                Fault::error(
                    Code::NothingToSpread,
                    "an amount stated on an invoice cannot be divided over lines that cost nothing",
                )
                .at(&place, "stated here"),
            );
            return None;
        }
        let share = |(lot, part): (Lot, Exact)| (lot, amount.share(&part, &whole));
        let by_lot = amounts.into_iter().map(share).collect();
        let exchange = customs_rate(self.job, regime, amount.currency(), &place, report)?;
        Some(Value { name, leg, by_lot, exchange, place })
    }

    /// Adds the values of the lots of one entry line, unrounded.
    fn add_up(
        &self,
        regime: &Regime,
        values: &[Value],
        members: &[usize],
        report: &mut Report,
    ) -> Option<(Vec<ValuePart>, Exact)> {
        let mut parts = Vec::new();
        let mut exact = Exact::zero(regime.currency);
        for value in values {
            let own = members
                .iter()
                .filter_map(|line| value.by_lot.get(&Lot { entry: self.index, line: *line }));
            let own: Vec<&Exact> = own.collect();
            let Some(first) = own.first() else { continue };
            let start = Exact::zero(first.currency());
            let sum = own.iter().try_fold(start, |sum, one| sum.plus(one));
            let added = sum.and_then(|amount| {
                let part = ValuePart {
                    name: value.name.clone(),
                    leg: value.leg,
                    amount,
                    exchange: value.exchange.clone(),
                    place: value.place.clone(),
                };
                let total = part.converted().map_or(Ok(exact.clone()), |one| exact.plus(&one))?;
                Ok((part, total))
            });
            match added {
                Ok((part, total)) => {
                    exact = total;
                    parts.push(part);
                }
                Err(overflow) => {
                    report.add(
                        Fault::error(Code::Overflow, overflow.to_string())
                            .at(&value.place, "the customs value"),
                    );
                    return None;
                }
            }
        }
        Some((parts, exact))
    }
}

fn no_evidence(stated: &crate::trade::StatedLeg) -> Fault {
    let (why, help) = if stated.evidence.is_none() {
        (
            "it is stated without evidence",
            "with a bill of lading or a freight invoice that shows the actual amount, add `evidence`",
        )
    } else {
        (
            "no through bill of lading covers it",
            "name the through bill of lading with `through`, where the goods were placed with a carrier for through shipment",
        )
    };
    let message = format!("\"{}\" stays in the customs value: {why}", stated.leg.word());
    Fault::warning(Code::Notice, message).at(&stated.amount.place, "stated here").help(help)
}

/// The customs rate of a currency on the day of export (19 CFR 159.32); the inner `None`: the
/// regime's own currency needs none.
#[expect(clippy::option_option, reason = "the outer one says that a fault is in the report")]
fn customs_rate(
    job: &Job<'_>,
    regime: &Regime,
    currency: Currency,
    place: &Place,
    report: &mut Report,
) -> Option<Option<Conversion>> {
    if currency == regime.currency {
        return Some(None);
    }
    let target = Target {
        event: Event::Sails,
        used_for: ExchangeUse::Customs,
        currency: regime.currency,
        needed_at: place,
    };
    let dates = &job.shipment.dates;
    let row = exchange::certified(job.tariffs, regime, dates, currency, &target, report)?;
    Some(Some(exchange::conversion(row, dates.of(Event::Sails))))
}

/// The base of an import tax on lines of an entry: their entered values and duties, and the legs
/// that the regime adds, in the amounts and at the customs rates of the entry.
pub(super) fn taxed_value(
    job: &Job<'_>,
    entry: &Entry,
    lines: &[&EntryLine],
    charges: &[Charge],
    sets: &Sets,
    spreader: &mut Spreader<'_>,
    report: &mut Report,
) -> Option<Money> {
    let regime = regime(job, entry.entered_on, report)?;
    let mut base = Exact::zero(entry.currency);
    for line in lines {
        let duties = line.layers.iter().map(|layer| layer.amount);
        for money in duties.chain([line.entered]) {
            base = base.plus(&Exact::from(money)).ok()?;
        }
        // What came out of the price for the duty belongs to the tax all the same.
        let out = line.parts.iter().filter(|part| part.amount.is_negative());
        for part in out.filter(|part| entry.tax_adds.contains(&part.leg)) {
            base = base.minus(&part.converted()?).ok()?;
        }
    }
    let apart = |charge: &&Charge| {
        charge.treatment == Treatment::Stock
            && charge.customs == Customs::Out
            && charge.leg != Leg::DutyAndTax
            && entry.tax_adds.contains(&charge.leg)
            && !lines.iter().any(|line| {
                line.parts.iter().any(|part| part.leg == charge.leg && !part.amount.is_negative())
            })
    };
    for charge in charges.iter().filter(apart) {
        let weights = spreader.weights(charge, sets, report)?;
        let mut part: u128 = 0;
        for (position, slab) in sets.members(charge.scope.set).enumerate() {
            if lines.iter().any(|line| sets.position(line.set, slab).is_some()) {
                part = part.checked_add(weights.at(position))?;
            }
        }
        let amount = Exact::from(charge.amount()).weighed(part, weights.total());
        let place = charge.sources.first()?;
        let rate = customs_rate(job, regime, amount.currency(), place, report)?;
        let amount = rate.map_or(Some(amount.clone()), |rate| amount.converted(&rate.quote))?;
        base = base.plus(&amount).ok()?;
    }
    base.round().ok()
}

/// One charge for each layer of each line.
pub(super) fn duties(job: &Job<'_>, entry: &Entry, report: &mut Report) -> Option<Vec<Charge>> {
    let mut charges = Vec::new();
    for line in &entry.lines {
        for layer in line.layers.iter().filter(|layer| !layer.amount.is_zero()) {
            let row = &layer.row;
            let target = Target {
                event: Event::Entered,
                used_for: SERVICES,
                currency: job.shipment.yard.currency,
                needed_at: &row.rate.place,
            };
            let mut dates = job.shipment.dates;
            dates.entered = entry.entered_on;
            let (book, exchange) =
                exchange::convert(job.tariffs, &dates, layer.amount, &target, report)?;
            let mut kind = ChargeKind {
                name: row.name.clone(),
                leg: Leg::DutyAndTax,
                key: Key::Area,
                treatment: Treatment::Stock,
                basis: Basis::Law,
                customs: Customs::Out,
                is_price: false,
                goods_of: None,
                table: None,
                sources: vec![row.rate.place.clone(), line.place.clone()],
                valid: Some(row.valid),
                policy: None,
                payable: duties_payable(job, &row.rate.place, report)?,
            };
            job.apply_policy(&mut kind);
            let working = match row.rate.value {
                DutyRate::Percent(rate) => Working::Part {
                    rate,
                    of: layer.of_words(line),
                    base: line.entered,
                    times: None,
                    exact: layer.exact.shown(6),
                    bound: None,
                },
                DutyRate::Specific(each) => Working::Specific {
                    each,
                    count: layer.quantity.unwrap_or(Decimal::ZERO),
                    exact: layer.exact.shown(6),
                },
            };
            let of = line.label.as_str().into();
            charges.push(Charge {
                kind: Arc::new(kind),
                scope: Scope { kind: ScopeKind::TariffLine, of, set: line.set },
                priced: Arc::new(Priced {
                    amount: layer.amount,
                    book,
                    exchange,
                    parts: Vec::new(),
                    working,
                }),
            });
        }
    }
    Some(charges)
}
