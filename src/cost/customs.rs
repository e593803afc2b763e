//! Customs entries: which goods they hold, their tariff lines, their entered values.
//!
//! An entry line is one tariff number, one origin and one set of layers, whatever lines the
//! invoices have. Values are rounded once per entry line, as the regime has it.

use std::collections::BTreeMap;

use super::delivered;
use super::job::Job;
use super::layers::{self, Layer};
use super::lots::{Lot, Split};
use crate::bill::{Charge, SetId, Sets, Tally, ValuePart};
use crate::fault::{Code, Fault, Place, Report, Severity};
use crate::price::told;
use crate::quantity::{Area, Currency, Decimal, Exact, Mass, Money, Overflow};
use crate::spread::Spreader;
use crate::trade::{Country, Date, EntryKind, Filing, ImportTax, Leg, Line, Mode, Regime, Stone};

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
    /// Where the import tax on goods that the seller enters lies, if any is levied.
    pub import_tax: Option<ImportTax>,
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
    /// How many times its entered value a bond for it alone must cover, and for which agency.
    pub(super) restricted_bond: Option<(u32, String)>,
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
    /// Whether rows per entry are charged on it: on the importer's own all are, on a seller's only the
    /// import tax that its price leaves out.
    pub(super) fn is_charged(&self, by_import_tax: bool) -> bool {
        !self.by_seller || (by_import_tax && self.import_tax == Some(ImportTax::Apart))
    }

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
    /// The other agency that restricts its goods.
    pub restricted: Option<String>,
    /// Where the tariff number comes from.
    pub place: Place,
}

/// Works out every entry, the seller's own among them; and says what is missing where a seller's has
/// no memo.
pub(super) fn enter(
    job: &Job<'_>,
    charges: &[Charge],
    sets: &mut Sets,
    spreader: &mut Spreader<'_>,
    report: &mut Report,
) -> Option<(Vec<Entry>, Vec<String>)> {
    let split = Split::new(job);
    let mut entries = Vec::new();
    let mut missing = Vec::new();
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
        let mut one = Filed {
            job,
            split: &split,
            filing,
            by_seller: *by_seller,
            import_tax: None,
            index,
            lots,
        };
        one.import_tax = one.tax_of_seller(report)?;
        let mut aside = Report::new();
        match one.entry(charges, &mut taken, sets, spreader, [&mut aside, report]) {
            Some(entry) => entries.push(entry),
            None if report.has_errors() => return None,
            None => {
                let faults = aside.sorted().into_iter();
                let errors = faults.filter(|fault| fault.severity == Severity::Error);
                missing.extend(errors.map(|fault| fault.message.clone()));
            }
        }
    }
    Some((entries, missing))
}

/// Whether every line of the importer's own entries has its tariff number and its rates of duty: for
/// the faults alone.
pub(super) fn look_for_rates(job: &Job<'_>, report: &mut Report) {
    let split = Split::new(job);
    let own = split.filings.iter().enumerate().filter(|(_, (_, by_seller))| !by_seller);
    for (index, (filing, by_seller)) in own {
        let lots = split.lots.iter().copied().filter(|lot| lot.entry == index).collect();
        let (split, by_seller, import_tax) = (&split, *by_seller, None);
        let _ = Filed { job, split, filing, by_seller, import_tax, index, lots }.groups(report);
    }
}

/// What is levied on a part more of the value of the importer's own entries, as a fraction of it: the
/// least and the most of their lines, and whether each is the same at every value. `None`: a line has no rates.
pub(super) fn marginal(job: &Job<'_>) -> Option<([Decimal; 2], bool)> {
    let split = Split::new(job);
    let own = split.filings.iter().enumerate().filter(|(_, (_, by_seller))| !by_seller);
    let mut all: Vec<(Decimal, bool)> = Vec::new();
    for (index, (filing, by_seller)) in own {
        let lots = split.lots.iter().copied().filter(|lot| lot.entry == index).collect();
        let (split, by_seller, import_tax) = (&split, *by_seller, None);
        let filed = Filed { job, split, filing, by_seller, import_tax, index, lots };
        let groups = filed.groups(&mut Report::new())?;
        all.extend(groups.iter().map(|group| layers::marginal(&group.layers)));
    }
    let least = all.iter().map(|(rate, _)| *rate).min().unwrap_or(Decimal::ZERO);
    let most = all.iter().map(|(rate, _)| *rate).max().unwrap_or(Decimal::ZERO);
    Some(([least, most], all.iter().all(|(_, is_exact)| *is_exact)))
}

fn mixed(filing: &Filing) -> Fault {
    let message =
        format!("entry {} holds goods that the seller enters and goods that you enter", filing.id);
    Fault::error(Code::Contradiction, message)
        .at(&filing.place, "this entry")
        .help("goods delivered duty paid are on an entry of the seller's: list them on another")
}

/// The row of a yard's regime on a day.
pub(super) fn regime<'a>(job: &Job<'a>, on: Date, report: &mut Report) -> Option<&'a Regime> {
    told(job.terms().regime_on(on), report)
}

/// One entry under way.
pub(super) struct Filed<'a, 's> {
    pub(super) job: &'s Job<'a>,
    pub(super) split: &'s Split<'a>,
    pub(super) filing: &'s Filing,
    by_seller: bool,
    import_tax: Option<ImportTax>,
    pub(super) index: usize,
    pub(super) lots: Vec<Lot>,
}

/// Lines of one tariff number, origin and set of layers.
struct Group {
    number: String,
    origin: Country,
    lines: Vec<usize>,
    restricted: Option<String>,
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
        [aside, report]: [&mut Report; 2],
    ) -> Option<Entry> {
        let (job, filing) = (self.job, self.filing);
        // A seller's entry is a memo: where its rates are missing nothing else stops, unless the import
        // tax on it is ours.
        let is_memo = self.by_seller && self.import_tax != Some(ImportTax::Apart);
        let faults = if is_memo { aside } else { &mut *report };
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
            let Ok(Tally { mass, gross: area, .. }) = sets.tally(set, job.shipment) else {
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
                restricted: group.restricted,
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
            import_tax: self.import_tax,
            regime: regime.place.clone(),
            regime_name: regime.name.clone(),
            set,
            lines,
            memo_fees: Vec::new(),
            restricted_bond: None,
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
            delivered::fees(job, &mut entry, sets, spreader, report)?;
        }
        let agency = entry.lines.iter().find_map(|line| line.restricted.clone());
        entry.restricted_bond = regime.restricted_bond.zip(agency);
        check_informal(&entry, regime, filing, report);
        Some(entry)
    }

    /// Where the import tax lies on goods that the seller enters. The outer `None`: a fault.
    #[expect(clippy::option_option, reason = "the outer one says that a fault is in the report")]
    fn tax_of_seller(&self, report: &mut Report) -> Option<Option<ImportTax>> {
        let shipment = self.job.shipment;
        let lines = self.lots.iter().filter_map(|lot| shipment.lines.get(lot.line));
        let mut invoices = lines.filter_map(|line| shipment.invoices.get(line.invoice));
        let first = invoices.next().filter(|_| self.by_seller);
        let Some(first) = first else { return Some(None) };
        if let Some(other) = invoices.find(|one| one.import_tax != first.import_tax) {
            let message =
                format!("entry {} holds prices with and without the import tax", self.filing.id);
            report.add(
                Fault::error(Code::Contradiction, message)
                    .at(&first.place, "one of them")
                    .also(&other.place, "another")
                    .help("list them on an [[entry]] each, or write the same `import-tax` in both"),
            );
            return None;
        }
        let levied = delivered::tax_rows(self.job, self.filing).next().is_some();
        Some(levied.then_some(first.import_tax))
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
                restricted: None,
                place: row.place.clone(),
                layers,
            });
            group.lines.push(lot.line);
            group.restricted = group.restricted.take().or_else(|| row.restricted.clone());
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
            // What takes out most is the one to look at.
            let negative = line.parts.iter().filter(|part| part.amount.is_negative());
            let deduction = negative.reduce(|most, part| {
                let less = part
                    .converted()
                    .zip(most.converted())
                    .and_then(|(part, most)| part.minus(&most).ok().filter(Exact::is_negative));
                less.map_or(most, |_| part)
            });
            let what =
                deduction.map_or("this tariff line", |_| "this takes out more than there is");
            report.add(
                Fault::error(
                    Code::OutOfRange,
                    format!("the customs value of {} is below nothing", line.number),
                )
                .at(deduction.map_or(&line.place, |part| &part.place), what)
                .also(&line.place, "the tariff line")
                .help(
                    "a discount, or what is stated as inside the price, is larger than the price",
                ),
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
    // The limit is on the value itself, not on what is rounded to be declared.
    let exact =
        entry.lines.iter().try_fold(Exact::zero(entry.currency), |sum, line| sum.plus(&line.exact));
    let over = exact
        .and_then(|exact| exact.minus(&Exact::from(most.unwrap_or(Money::zero(entry.currency)))));
    let within = most.is_some() && over.is_ok_and(|over| over.is_negative() || over.is_zero());
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

fn no_tariff_line(line: &Line, stone: &Stone, regime: &str) -> Fault {
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
