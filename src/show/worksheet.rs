//! A broker's worksheet as a page, and as JSON.

use std::io::{self, Write};

use serde::Serialize;

use super::cost::heading;
use super::json::{FORMAT, exact as exact_json, plain, write};
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::bill::{Bound, Conversion, ValuePart, Working};
use crate::cost::Landed;
use crate::customs::{Layer, Levy, Sheet};
use crate::quantity::{Decimal, grouped};
use crate::trade::{DutyRate, ImportTax, LayerKind, Leg, Shipment};

/// What stands on every worksheet.
const ESTIMATE: &str = "An estimate for a licensed customs broker to confirm. It is no entry and no \
                        advice: tariff lines, values, origins and every layer of duty are the \
                        broker's to check against the law of the day of entry.";

/// The page of a worksheet.
pub fn worksheet<'a>(
    shipment: &'a Shipment,
    landed: &'a Landed,
    sheets: &'a [Sheet<'a>],
) -> Page<'a> {
    let currency = sheets.first().map_or(landed.currency, |sheet| sheet.entry.currency);
    let table = Table {
        title: "Entry by entry, line by line".to_owned(),
        columns: vec![
            Column::words("entry"),
            Column::words("line"),
            Column::words("item"),
            Column::words("of"),
            Column::figures(format!("amount {currency}")),
        ],
        rows: Rows::of(sheets.iter().flat_map(rows)),
        totals: None,
        is_main: true,
    };
    let mut notes = vec![ESTIMATE.to_owned()];
    if exchanges(sheets).iter().any(|rate| rate.is_planned()) {
        notes.push(
            "Rates of exchange that are not certified yet are planning rates: the entry takes the \
             customs rate of the day."
                .to_owned(),
        );
    }
    notes.extend(landed.claims.iter().map(|note| note.0.clone()));
    notes.extend(sheets.iter().flat_map(|sheet| sheet.notes.iter().cloned()));
    for saving in &landed.savings {
        notes.push(format!(
            "On one entry instead of {} the {} would be {} in place of {}: {} less ({}).",
            saving.entries, saving.name, saving.together, saving.apart, saving.saved, saving.place
        ));
    }
    if sheets.iter().any(|sheet| sheet.entry.by_seller) {
        notes.push(
            "Under a price delivered duty paid the entry is the seller's: its duty and fees lie \
             inside the price and are a memo here, no cost beside it."
                .to_owned(),
        );
    }
    let mut blocks =
        vec![Block::Heading(format!("Customs worksheet, an estimate: {}", heading(shipment)))];
    for sheet in sheets {
        blocks.push(Block::Facts(facts(sheet)));
    }
    blocks.extend([Block::Table(table), Block::Table(sources(sheets)), Block::Notes(notes)]);
    Page { blocks, width: 100 }
}

fn facts(sheet: &Sheet<'_>) -> Vec<(String, String)> {
    let entry = sheet.entry;
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let whose = if entry.by_seller { ", the seller's" } else { "" };
    let (kind, mode) = (entry.kind.word(), entry.mode.word());
    let mut facts = vec![
        fact("entry", format!("{}: {kind}, by {mode}, on {}{whose}", entry.id, entry.entered_on)),
        fact("regime", format!("{} ({})", entry.regime_name, entry.regime)),
        fact("entered value", sheet.entered.to_string()),
        fact("duty", sheet.duty.to_string()),
        fact("fees and taxes borne", sheet.fees.to_string()),
    ];
    if let Some(tax) = entry.import_tax {
        let whose = match tax {
            ImportTax::InPrice => "inside the price delivered duty paid, the seller's",
            ImportTax::Apart => "apart from the price delivered duty paid, the importer's",
        };
        facts.push(fact("import tax", whose.to_owned()));
    }
    if !sheet.recovered.is_zero() {
        facts.push(fact("tax recovered", sheet.recovered.to_string()));
    }
    let label = match (entry.by_seller, entry.import_tax) {
        (true, Some(ImportTax::Apart)) => "to customs, the seller and you",
        (true, _) => "inside the price",
        (false, _) => "cash to customs",
    };
    facts.push(fact(label, sheet.cash.to_string()));
    facts
}

fn rows<'a>(sheet: &'a Sheet<'a>) -> Vec<Row<'a>> {
    let entry = sheet.entry;
    let mut rows = Vec::new();
    let row = |line: &'a str, item: String, of: String, amount: Cell<'a>| {
        vec![Cell::text(&*entry.id), Cell::text(line), Cell::text(item), Cell::text(of), amount]
    };
    for line in &entry.lines {
        for (part, bills) in alike(&line.parts) {
            rows.push(row(&line.label, part.name.clone(), part_of(&part, bills), Cell::Empty));
        }
        let exact = format!("{} {}", line.exact.shown(4), entry.currency);
        let item = "entered value".to_owned();
        rows.push(row(&line.label, item, exact, Cell::money(line.entered)));
        for layer in &line.layers {
            let amount = Cell::money(layer.amount);
            rows.push(row(&line.label, layer.row.name.clone(), layer_of(layer), amount));
        }
    }
    for levy in &sheet.levies {
        for part in beside_value(levy) {
            let item = format!("in the base: {}", part.name);
            rows.push(row("", item, part_of(part, 1), Cell::Empty));
        }
        rows.push(row("", levy.name.to_owned(), levy_of(levy), Cell::money(levy.amount)));
    }
    rows.push(row("", "total to customs".to_owned(), String::new(), Cell::money(sheet.cash)));
    rows
}

/// The parts of a value, with those of one row of a table or an invoice as one, and how many bills
/// each is: packing that is paid by the bundle, say. A sum that cannot be held stays apart.
fn alike(parts: &[ValuePart]) -> Vec<(ValuePart, usize)> {
    let mut alike: Vec<(ValuePart, usize)> = Vec::new();
    for part in parts {
        let same = |one: &ValuePart| {
            one.name == part.name && one.place == part.place && one.exchange == part.exchange
        };
        if let Some((one, bills)) = alike.iter_mut().find(|(one, _)| same(one))
            && let Ok(sum) = one.amount.plus(&part.amount)
        {
            one.amount = sum;
            *bills += 1;
            continue;
        }
        alike.push((part.clone(), 1));
    }
    alike
}

/// What the base of an import tax has beside value and duty.
fn beside_value<'a>(levy: &Levy<'a>) -> impl Iterator<Item = &'a ValuePart> + use<'a> {
    let working = levy.charge.map(|charge| &charge.booked.working);
    let made_of = match working {
        Some(Working::Part { made_of, .. }) => &made_of[..],
        _ => &[],
    };
    made_of.iter().filter(|part| !matches!(part.leg, Leg::Goods | Leg::DutyAndTax))
}

fn part_of(part: &ValuePart, bills: usize) -> String {
    let bills = if bills > 1 { format!("{bills} x, ") } else { String::new() };
    let amount = format!("{bills}{} {}", part.amount.shown(2), part.amount.currency());
    match &part.exchange {
        Some(rate) => format!("{amount} at {}", rate.quote),
        None => amount,
    }
}

fn layer_of(layer: &Layer) -> String {
    let rate = &layer.row.rate.value;
    match (layer.row.kind, layer.quantity, rate) {
        (LayerKind::TopUp, ..) => format!("to {rate} in all"),
        (_, Some(quantity), DutyRate::Specific(each)) => {
            format!("{rate} of {} {}", grouped(quantity.normalize()), each.unit.word())
        }
        (kind, ..) => format!("{rate}, {}", kind.word()),
    }
}

fn levy_of(levy: &Levy<'_>) -> String {
    let Some(charge) = levy.charge else { return "inside the price".to_owned() };
    match &charge.booked.working {
        Working::Part { rate, base, bound, .. } => {
            let bound = match bound {
                Some(Bound::Floor) => ", at its minimum",
                Some(Bound::Cap) => ", at its maximum",
                None => "",
            };
            format!("{rate} of {base}{bound}")
        }
        Working::Counted { each, unit, count, .. } if *count == Decimal::ONE => {
            format!("{each} per {unit}")
        }
        _ => String::new(),
    }
}

/// The rates of exchange on the sheets, each once.
fn exchanges<'a>(sheets: &'a [Sheet<'a>]) -> Vec<&'a Conversion> {
    let mut rates: Vec<&Conversion> = Vec::new();
    let lines = sheets.iter().flat_map(|sheet| &sheet.entry.lines).flat_map(|line| &line.parts);
    let bases = sheets.iter().flat_map(|sheet| &sheet.levies).flat_map(beside_value);
    for rate in lines.chain(bases).filter_map(|part| part.exchange.as_ref()) {
        if !rates.contains(&rate) {
            rates.push(rate);
        }
    }
    rates
}

fn sources<'a>(sheets: &'a [Sheet<'a>]) -> Table<'a> {
    let row = |what: String, rate: String, place: String| {
        vec![Cell::text(what), Cell::text(rate), Cell::text(place)]
    };
    let mut rows: Vec<Row<'a>> = Vec::new();
    for rate in exchanges(sheets) {
        let what = format!("{} rate of exchange, {}", rate.used_for.word(), rate.on);
        rows.push(row(what, rate.quote.to_string(), rate.place.to_string()));
    }
    for sheet in sheets {
        for line in &sheet.entry.lines {
            rows.push(row(
                format!("tariff line {}", line.label),
                String::new(),
                line.place.to_string(),
            ));
            for layer in &line.layers {
                let rate = layer.row.rate.value.to_string();
                rows.push(row(layer.row.name.clone(), rate, layer.row.place.to_string()));
            }
        }
        for levy in &sheet.levies {
            let place = levy.place.map_or_else(String::new, ToString::to_string);
            rows.push(row(levy.name.to_owned(), String::new(), place));
        }
    }
    Table {
        title: "Where it comes from".to_owned(),
        columns: vec![Column::words("item"), Column::figures("rate"), Column::words("row")],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

#[derive(Serialize)]
struct WorksheetJson<'a> {
    format: u32,
    shipment: &'a str,
    about: &'static str,
    entries: Vec<EntryJson<'a>>,
    savings: Vec<SavingJson<'a>>,
}

#[derive(Serialize)]
struct EntryJson<'a> {
    entry: &'a str,
    kind: &'static str,
    mode: &'static str,
    entered_on: String,
    by_seller: bool,
    import_tax: Option<&'static str>,
    currency: &'a str,
    lines: Vec<LineJson<'a>>,
    levies: Vec<LevyJson<'a>>,
    entered: String,
    duty: String,
    fees: String,
    recovered: String,
    cash: String,
    notes: &'a [String],
}

#[derive(Serialize)]
struct LineJson<'a> {
    line: &'a str,
    tariff_number: &'a str,
    origin: &'a str,
    net_kg: String,
    area_m2: String,
    parts: Vec<PartJson<'a>>,
    exact: String,
    entered: String,
    layers: Vec<LayerJson<'a>>,
}

#[derive(Serialize)]
struct PartJson<'a> {
    name: &'a str,
    amount: String,
    currency: &'a str,
    rate: Option<String>,
    rate_use: Option<&'static str>,
    rate_on: Option<String>,
    rate_source: Option<String>,
    source: String,
}

#[derive(Serialize)]
struct LayerJson<'a> {
    name: &'a str,
    kind: &'static str,
    rate: String,
    amount: String,
    source: String,
}

#[derive(Serialize)]
struct LevyJson<'a> {
    name: &'a str,
    amount: String,
    recovered: bool,
}

#[derive(Serialize)]
struct SavingJson<'a> {
    name: &'a str,
    entries: usize,
    apart: String,
    together: String,
    saved: String,
}

/// Writes a worksheet.
///
/// # Errors
/// Where the output cannot be written.
pub fn worksheet_json(
    shipment: &Shipment,
    landed: &Landed,
    sheets: &[Sheet<'_>],
    out: &mut dyn Write,
) -> io::Result<()> {
    let json = WorksheetJson {
        format: FORMAT,
        shipment: &shipment.name,
        about: ESTIMATE,
        entries: sheets.iter().map(entry_json).collect(),
        savings: landed
            .savings
            .iter()
            .map(|saving| SavingJson {
                name: &saving.name,
                entries: saving.entries,
                apart: plain(saving.apart),
                together: plain(saving.together),
                saved: plain(saving.saved),
            })
            .collect(),
    };
    write(&json, out)
}

fn entry_json<'a>(sheet: &'a Sheet<'a>) -> EntryJson<'a> {
    let entry = sheet.entry;
    let part = |part: &'a ValuePart| PartJson {
        name: &part.name,
        amount: exact_json(&part.amount),
        currency: part.amount.currency().code(),
        rate: part.exchange.as_ref().map(|rate| rate.quote.to_string()),
        rate_use: part.exchange.as_ref().map(|rate| rate.used_for.word()),
        rate_on: part.exchange.as_ref().map(|rate| rate.on.to_string()),
        rate_source: part.exchange.as_ref().map(|rate| rate.place.to_string()),
        source: part.place.to_string(),
    };
    let layer = |layer: &'a Layer| LayerJson {
        name: &layer.row.name,
        kind: layer.row.kind.word(),
        rate: layer.row.rate.value.to_string(),
        amount: plain(layer.amount),
        source: layer.row.place.to_string(),
    };
    let figure = |figure: Decimal| figure.to_string();
    EntryJson {
        entry: &entry.id,
        kind: entry.kind.word(),
        mode: entry.mode.word(),
        entered_on: entry.entered_on.to_string(),
        by_seller: entry.by_seller,
        import_tax: entry.import_tax.map(ImportTax::word),
        currency: entry.currency.code(),
        lines: entry
            .lines
            .iter()
            .map(|line| LineJson {
                line: &line.label,
                tariff_number: &line.number,
                origin: line.origin.code(),
                net_kg: figure(line.mass.to_kg(3)),
                area_m2: figure(line.area.to_m2(6)),
                parts: line.parts.iter().map(part).collect(),
                exact: exact_json(&line.exact),
                entered: plain(line.entered),
                layers: line.layers.iter().map(layer).collect(),
            })
            .collect(),
        levies: sheet
            .levies
            .iter()
            .map(|levy| LevyJson {
                name: levy.name,
                amount: plain(levy.amount),
                recovered: levy.recovered,
            })
            .collect(),
        entered: plain(sheet.entered),
        duty: plain(sheet.duty),
        fees: plain(sheet.fees),
        recovered: plain(sheet.recovered),
        cash: plain(sheet.cash),
        notes: &sheet.notes,
    }
}
