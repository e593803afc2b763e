//! Customs entries: which goods they hold, their tariff lines, their entered values.
//!
//! An entry line is one tariff number, one origin and one set of layers, whatever lines the
//! invoices have. Values are rounded once per entry line, as the regime has it.

use std::collections::BTreeMap;

use super::case::Case;
use super::delivered;
use super::entry::{Entry, EntryLine};
use super::layers::{self, Chosen, Quantities, choose, laid, levy};
use super::lots::{Lot, Split};
use super::values::Filed;
use crate::bill::{Charge, SetName, Sets, Tally, free_slabs};
use crate::fault::{Code, Fault, Place, Report, Reported, Severity, gathered, tried};
use crate::quantity::{Decimal, Exact, Money};
use crate::trade::{Country, EntryKind, Filing, ImportTax, Line, Regime, Stone};

/// Works out every entry, the seller's own among them; and says what is missing where a seller's has
/// no memo.
pub(crate) fn enter(
    case: &Case<'_>,
    charges: &[Charge],
    sets: &mut Sets,
    report: &mut Report,
) -> Result<(Vec<Entry>, Vec<String>), Reported> {
    let split = Split::new(case.shipment);
    let mut entries = Vec::new();
    let mut missing = Vec::new();
    let mut taken: Vec<String> = Vec::new();
    for (index, (filing, by_seller)) in split.filings.iter().enumerate() {
        let lots: Vec<Lot> = split.lots.iter().copied().filter(|lot| lot.entry == index).collect();
        if lots.is_empty() {
            continue;
        }
        let stated = case.shipment.filings.len() > 1;
        if *by_seller && stated && entries.last().is_some_and(|one: &Entry| one.id == filing.id) {
            return Err(report.error(mixed(filing)));
        }
        let mut one = Filed {
            case: *case,
            split: &split,
            filing,
            by_seller: *by_seller,
            import_tax: None,
            index,
            lots,
        };
        one.import_tax = tax_of_seller(&one, report)?;
        let mut aside = Report::new();
        match entry(&one, charges, &mut taken, sets, [&mut aside, report]) {
            Ok(entry) => entries.push(entry),
            // What ends a memo ends nothing else.
            Err(Reported { .. }) => {
                report.sound()?;
                let faults = aside.sorted().into_iter();
                let errors = faults.filter(|fault| fault.severity == Severity::Error);
                missing.extend(errors.map(|fault| fault.message.clone()));
            }
        }
    }
    Ok((entries, missing))
}

/// Whether every line of the importer's own entries has its tariff number and its rates of duty: for
/// the faults alone.
pub(crate) fn look_for_rates(case: &Case<'_>, report: &mut Report) {
    let split = Split::new(case.shipment);
    let own = split.filings.iter().enumerate().filter(|(_, (_, by_seller))| !by_seller);
    for (index, (filing, by_seller)) in own {
        let lots = split.lots.iter().copied().filter(|lot| lot.entry == index).collect();
        let (split, by_seller, import_tax) = (&split, *by_seller, None);
        let filed = Filed { case: *case, split, filing, by_seller, import_tax, index, lots };
        let _ = groups(&filed, report);
    }
}

/// What is levied on a part more of the value of the importer's own entries, as a fraction of it: the
/// least and the most of their lines, and whether each is the same at every value. `None`: a line has no
/// rates.
pub(crate) fn marginal(case: &Case<'_>) -> Option<([Decimal; 2], bool)> {
    let split = Split::new(case.shipment);
    let own = split.filings.iter().enumerate().filter(|(_, (_, by_seller))| !by_seller);
    let mut all: Vec<(Decimal, bool)> = Vec::new();
    for (index, (filing, by_seller)) in own {
        let lots = split.lots.iter().copied().filter(|lot| lot.entry == index).collect();
        let (split, by_seller, import_tax) = (&split, *by_seller, None);
        let filed = Filed { case: *case, split, filing, by_seller, import_tax, index, lots };
        let groups = tried(|report| groups(&filed, report))?;
        for group in groups {
            all.push(layers::marginal(&group.layers, case.shipment.yard.currency).ok()?);
        }
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

/// Number, origin, claim and layers. Goods that claim a programme stand apart from those that do not, as
/// fees tell them apart.
type GroupId<'a> = (&'a str, &'a Country, Option<&'a str>, Vec<usize>);

/// Lines of one tariff number, origin, claim and set of layers.
struct Group {
    number: String,
    origin: Country,
    claims: Option<String>,
    lines: Vec<usize>,
    restricted: Option<String>,
    place: Place,
    layers: Vec<Chosen>,
}

fn entry(
    filed: &Filed<'_, '_>,
    charges: &[Charge],
    taken: &mut Vec<String>,
    sets: &mut Sets,
    [aside, report]: [&mut Report; 2],
) -> Result<Entry, Reported> {
    let (case, filing) = (&filed.case, filed.filing);
    // A seller's entry is a memo: where its rates are missing nothing else stops, unless the import
    // tax on it is ours.
    let is_memo = filed.by_seller && filed.import_tax != Some(ImportTax::Apart);
    let faults = if is_memo { aside } else { &mut *report };
    let regime = case.regime(filing.entered, faults)?;
    let groups = groups(filed, faults)?;
    let free = free_slabs(case.shipment);
    let values = filed.values(regime, charges, sets, faults)?;
    let mut lines = Vec::new();
    for (at, group) in groups.into_iter().enumerate() {
        let label = label(&group, filing, case.shipment.filings.len() > 1, taken);
        let name = SetName::TariffLine(filed.index, at);
        let of_line = |lot: Lot| lot.entry == filed.index && group.lines.contains(&lot.line);
        let Some(set) = filed.split.set(name, case.shipment, sets, of_line) else { continue };
        let (parts, exact) = filed.add_up(regime, &values, &group.lines, report)?;
        let tally = sets.tally(set, case.shipment);
        let Tally { mass, gross: area, .. } = report.fits(tally, &group.place)?;
        let quantities = (&*label, Quantities { mass, area });
        let laid = |one| laid(one, quantities, regime, report);
        let layers = gathered(group.layers.into_iter().map(laid))?;
        let is_free = |slab: &usize| !free.is_empty() && free.contains(slab);
        let free = sets.members(set).filter(is_free).count();
        lines.push(EntryLine {
            label,
            number: group.number,
            origin: group.origin,
            claims: group.claims,
            lines: group.lines,
            set,
            free,
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
    let own = |lot: Lot| lot.entry == filed.index;
    let set = filed.split.set(SetName::Entry(filed.index), case.shipment, sets, own);
    let set = report.found(set, "the goods of an entry")?;
    let mut entry = Entry {
        id: filing.id.clone(),
        currency: regime.currency,
        entered_on: filing.entered,
        kind: filing.kind,
        mode: filing.mode,
        by_seller: filed.by_seller,
        import_tax: filed.import_tax,
        regime: regime.place.clone(),
        regime_name: regime.name.clone(),
        set,
        lines,
        memo_fees: Vec::new(),
        restricted_bond: None,
        filed: filed.index,
        tax_adds: regime.tax_adds.clone(),
    };
    if filed.by_seller {
        delivered::solve(case, &mut entry, report)?;
    }
    for line in &mut entry.lines {
        line.entered = entered(line, regime, report)?;
        levy(line, regime, report)?;
    }
    if filed.by_seller {
        delivered::fees(case, &mut entry, sets, report)?;
    }
    let agency = entry.lines.iter().find_map(|line| line.restricted.clone());
    entry.restricted_bond = regime.restricted_bond.zip(agency);
    check_informal(&entry, regime, filing, report);
    check_formal(&entry, filing, report);
    Ok(entry)
}

/// Where the import tax lies on goods that the seller enters.
fn tax_of_seller(
    filed: &Filed<'_, '_>,
    report: &mut Report,
) -> Result<Option<ImportTax>, Reported> {
    let shipment = filed.case.shipment;
    let lines = filed.lots.iter().filter_map(|lot| shipment.lines.get(lot.line));
    let mut invoices = lines.filter_map(|line| shipment.invoices.get(line.invoice));
    let first = invoices.next().filter(|_| filed.by_seller);
    let Some(first) = first else { return Ok(None) };
    if let Some(other) = invoices.find(|one| one.import_tax != first.import_tax) {
        let message =
            format!("entry {} holds prices with and without the import tax", filed.filing.id);
        return Err(report.error(
            Fault::error(Code::Contradiction, message)
                .at(&first.place, "one of them")
                .also(&other.place, "another")
                .help("list them on an [[entry]] each, or write the same `import-tax` in both"),
        ));
    }
    let levied = delivered::tax_rows(&filed.case, filed.filing).next().is_some();
    Ok(levied.then_some(first.import_tax))
}

/// Invoice lines by tariff number, origin and layers.
fn groups(filed: &Filed<'_, '_>, report: &mut Report) -> Result<Vec<Group>, Reported> {
    let regime = &filed.case.shipment.yard.regime;
    let mut groups: BTreeMap<GroupId<'_>, Group> = BTreeMap::new();
    let own = filed.lots.iter().map(|lot| {
        let line = report.found(filed.case.shipment.lines.get(lot.line), "a line of an entry")?;
        let stone = report.found(filed.case.tariffs.stone(&line.stone), "the stone of a line")?;
        let Some(row) = stone.tariff_row(regime, &line.finish, line.form()) else {
            return Err(report.error(no_tariff_line(line, stone, regime)));
        };
        let tables = (filed.case.shipment, filed.case.tariffs);
        let layers = choose(tables, line, &row.line, filed.filing, report)?;
        Ok((lot, line, row, layers))
    });
    for (lot, line, row, layers) in gathered(own)? {
        let rows = layers.iter().map(|layer| layer.index).collect();
        let claims = line.preference.as_deref();
        let group = groups.entry((&row.line, &line.origin, claims, rows));
        let group = group.or_insert_with(|| Group {
            number: row.line.clone(),
            origin: line.origin.clone(),
            claims: line.preference.clone(),
            lines: Vec::new(),
            restricted: None,
            place: row.place.clone(),
            layers,
        });
        group.lines.push(lot.line);
        group.restricted = group.restricted.take().or_else(|| row.restricted.clone());
    }
    Ok(groups.into_values().collect())
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

/// The value of a line as it is entered.
fn entered(line: &EntryLine, regime: &Regime, report: &mut Report) -> Result<Money, Reported> {
    match line.exact.round_to(regime.value_step) {
        Ok(entered) if !entered.is_negative() => Ok(entered),
        Ok(_) => {
            // What takes out most is the one to look at.
            let negative = line.parts.iter().filter(|part| part.amount.is_negative());
            let deduction = negative.reduce(|most, part| {
                let (own, other) = (part.converted(), most.converted());
                let less = own.and_then(|own| own.minus(&other?));
                if less.is_ok_and(|less| less.is_negative()) { part } else { most }
            });
            let what =
                deduction.map_or("this tariff line", |_| "this takes off more than the value");
            Err(report.error(
                Fault::error(
                    Code::OutOfRange,
                    format!("the customs value of {} is negative", line.number),
                )
                .at(deduction.map_or(&line.place, |part| &part.place), what)
                .also(&line.place, "the tariff line")
                .help(
                    "a discount, or what is stated as inside the price, is larger than the price",
                ),
            ))
        }
        Err(overflow) => Err(report.error(Fault::overflow(overflow, &line.place))),
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
            format!("entry {} is above the limit of an informal entry ({most})", entry.id);
        report.add(
            Fault::error(Code::OutOfRange, message)
                .at(&filing.place, "this entry")
                .also(&regime.place, "`informal-limit` of the regime")
                .help("file it as kind = \"formal\""),
        );
    }
}

/// Sees that goods under a layer that asks for a formal entry are on one.
fn check_formal(entry: &Entry, filing: &Filing, report: &mut Report) {
    let layers = entry.lines.iter().flat_map(|line| &line.layers);
    let Some(asking) = layers.map(|layer| &layer.row).find(|row| row.formal) else { return };
    if entry.kind == EntryKind::Informal {
        let message = format!(
            "entry {} is informal, and \"{}\" asks for a formal one",
            entry.id, asking.name
        );
        report.add(
            Fault::error(Code::Contradiction, message)
                .at(&filing.place, "this entry")
                .also(&asking.place, "`formal` of this layer")
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
    .help("add a row to the stone's `tariff`, with regime, finish, line and source")
}
