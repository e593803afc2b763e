//! A broker's worksheet as a page, and as JSON.

use std::collections::BTreeSet;
use std::io::{self, Write};

use serde::Serialize;

use super::cost::heading;
use super::json::{FORMAT, exact as exact_json, plain, write};
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::bill::{Bound, Conversion, ValuePart, Working};
use crate::cost::Landed;
use crate::customs::{Layer, Levy, Sheet};
use crate::quantity::{Currency, Decimal, Units, count_of, grouped};
use crate::trade::{ChargeRow, DutyRate, ImportTax, LayerKind, Leg, Shipment, Tariffs};

/// What stands on every worksheet.
const ESTIMATE: &str = "An estimate, neither an entry nor advice. A licensed customs broker checks tariff \
                        lines, values, origins and every layer of duty against the law on the day of entry.";

/// The page of a worksheet.
pub fn worksheet<'a>(
    shipment: &'a Shipment,
    landed: &'a Landed,
    tariffs: &'a Tariffs,
    sheets: &'a [Sheet<'a>],
) -> Page<'a> {
    let currency = sheets.first().map_or(landed.currency, |sheet| sheet.entry.currency);
    let table = Table {
        title: "Entry by entry, line by line".to_owned(),
        columns: vec![
            Column::above("entry", "entry"),
            Column::above("line", "line"),
            Column::words("item"),
            Column::words("of"),
            Column::figures(format!("amount {currency}")),
        ],
        rows: Rows::of(sheets.iter().flat_map(rows)),
        totals: None,
        is_main: false,
    };
    let mut notes = vec![ESTIMATE.to_owned()];
    if exchanges(sheets).iter().any(|rate| rate.is_planned()) {
        notes.push(
            "Exchange rates not yet certified are planning rates; the entry takes the customs rate of the \
             day."
                .to_owned(),
        );
    }
    notes.extend(landed.claims.iter().map(|note| note.0.clone()));
    notes.extend(sheets.iter().flat_map(|sheet| sheet.notes.iter().cloned()));
    for saving in &landed.savings {
        notes.push(format!(
            "One entry instead of {}: {} {} instead of {}, {} less.",
            saving.entries, saving.name, saving.together, saving.apart, saving.saved
        ));
    }
    if sheets.iter().any(|sheet| sheet.entry.by_seller) {
        notes.push(
            "Under DDP the entry is the seller's: its duty and fees are inside the price, a memo here and no \
             further cost."
                .to_owned(),
        );
    }
    let mut blocks =
        vec![Block::Heading(format!("Customs worksheet, an estimate: {}", heading(shipment)))];
    blocks.push(Block::Day(shipment.dates.quoted));
    for sheet in sheets {
        let mut facts = facts(sheet);
        facts.splice(1..1, goods(shipment, landed, sheet));
        let open = unconfirmed(sheet).into_iter();
        facts.splice(1..1, open.map(|what| ("unconfirmed".to_owned(), what)));
        blocks.push(Block::Facts(facts));
    }
    blocks.push(Block::Table(table));
    blocks.push(Block::Table(rates(tariffs, sheets)));
    blocks.extend([Block::Notes(notes), Block::Sheet(list(sheets, currency))]);
    Page { blocks }
}

/// What a broker needs of an entry's goods: whose they are, how they come, how much of each line.
fn goods(
    shipment: &Shipment,
    landed: &Landed,
    sheet: &Sheet<'_>,
) -> impl Iterator<Item = (String, String)> {
    let slabs = landed.sets.members(sheet.entry.set).filter_map(|at| shipment.slabs.get(at));
    let bundles: BTreeSet<u32> = slabs.map(|slab| slab.bundle).collect();
    let lines = || sheet.entry.lines.iter().flat_map(|line| &line.lines);
    let invoices = shipment.invoices.iter().enumerate();
    let invoices = invoices.filter(|(at, _)| lines().any(|line| shipment.bills(*at, *line)));
    let invoices = invoices
        .map(|(_, one)| ("invoice".to_owned(), format!("{}, {}", one.number, one.supplier)));
    let shipped = format!("{} to {}, sails {}", shipment.from, shipment.to, shipment.dates.sails);
    let packages = ("packages".to_owned(), count_of(bundles.len(), "bundle"));
    let lines = sheet.entry.lines.iter().map(|line| {
        let (area, mass) = (line.area.show(Units::Metric), line.mass.show(Units::Metric));
        (line.label.clone(), format!("{area} gross, {mass} net of timber"))
    });
    let all: Vec<(String, String)> =
        invoices.chain([("shipped".to_owned(), shipped), packages]).chain(lines).collect();
    all.into_iter()
}

/// What of an entry was not read where it is published: duties at second hand, and rates of exchange that are
/// not certified yet.
fn unconfirmed(sheet: &Sheet<'_>) -> Vec<String> {
    let layers = sheet.entry.lines.iter().flat_map(|line| &line.layers);
    let layers = layers.filter(|layer| layer.row.second_hand);
    let duties = layers.map(|layer| {
        format!("{}, {}: not all read in its source", layer.row.name, layer.row.rate.value)
    });
    let rates = exchanges(std::slice::from_ref(sheet)).into_iter();
    let rates = rates.filter(|rate| rate.is_planned());
    let rates = rates.map(|rate| format!("{}: a planning rate", rate.quote));
    let mut all: Vec<String> = Vec::new();
    for one in duties.chain(rates) {
        if !all.contains(&one) {
            all.push(one);
        }
    }
    all
}

fn facts(sheet: &Sheet<'_>) -> Vec<(String, String)> {
    let entry = sheet.entry;
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let whose = if entry.by_seller { ", the seller's" } else { "" };
    let (kind, mode) = (entry.kind.word(), entry.mode.word());
    let mut facts = vec![
        fact("entry", format!("{}: {kind}, by {mode}, on {}{whose}", entry.id, entry.entered_on)),
        fact("regime", entry.regime_name.clone()),
        fact("entered value", sheet.entered.to_string()),
        fact("duty", sheet.duty.to_string()),
        fact("fees and taxes", sheet.fees.to_string()),
    ];
    if let Some(tax) = entry.import_tax {
        let whose = match tax {
            ImportTax::InPrice => "the seller's, inside the DDP price",
            ImportTax::Apart => "the importer's, outside the DDP price",
        };
        facts.push(fact("import tax", whose.to_owned()));
    }
    if !sheet.recovered.is_zero() {
        facts.push(fact("tax recovered", sheet.recovered.to_string()));
    }
    let label = match (entry.by_seller, entry.import_tax) {
        (true, Some(ImportTax::Apart)) => "cash to customs, seller and importer",
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
            rows.push(row(&line.label, part.name.to_string(), part_of(&part, bills), Cell::Empty));
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
            let item = format!("in the tax base: {}", part.name);
            rows.push(row("", item, part_of(part, 1), Cell::Empty));
        }
        rows.push(row("", levy.name.to_owned(), levy_of(levy), Cell::money(levy.amount)));
    }
    rows.push(row("", "total to customs".to_owned(), String::new(), Cell::money(sheet.cash)));
    rows
}

/// The parts of a value; parts of one row are summed, with their count of bills (packing paid by the
/// bundle). Parts whose sum cannot be held stay apart.
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
    let bills = if bills > 1 { format!("{bills} bills, in all ") } else { String::new() };
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
        (kind, _, DutyRate::Percent(_)) => format!("{rate} of entered value, {}", kind.shown()),
        (kind, ..) => format!("{rate}, {}", kind.shown()),
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

/// The rates of exchange, of duty, and of fees and taxes, each once, with what is published of them.
fn rates<'a>(tariffs: &'a Tariffs, sheets: &'a [Sheet<'a>]) -> Table<'a> {
    let mut rows: Vec<Row<'a>> = Vec::new();
    let mut add = |what: String, rate: String, source: &'a str| {
        let row = vec![Cell::text(what), Cell::text(rate), Cell::text(source)];
        if !rows.contains(&row) {
            rows.push(row);
        }
    };
    for rate in exchanges(sheets) {
        let what = format!("{} rate of exchange, {}", rate.used_for.word(), rate.on);
        add(what, rate.quote.to_string(), "");
    }
    for layer in sheets.iter().flat_map(|sheet| &sheet.entry.lines).flat_map(|line| &line.layers) {
        add(layer.row.name.clone(), layer.row.rate.value.to_string(), &layer.row.source);
    }
    for levy in sheets.iter().flat_map(|sheet| &sheet.levies) {
        let stated = |row: &&ChargeRow| row.place == *levy.place || row.rate.place == *levy.place;
        let row = tariffs.charges.iter().find(stated);
        if let Some(row) = row {
            let rate = row.rate.value.percent();
            let rate = rate.map_or_else(String::new, |rate| rate.to_string());
            add(levy.name.to_owned(), rate, &row.source);
        }
    }
    Table {
        title: "Rates, and where they are published".to_owned(),
        columns: vec![Column::words("item"), Column::figures("rate"), Column::words("source")],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

/// The lines of all entries, a figure a cell and no sums: what a spreadsheet is given.
fn list<'a>(sheets: &'a [Sheet<'a>], currency: Currency) -> Table<'a> {
    let words = ["entry", "line", "kind", "item"].map(Column::words);
    let mut columns = words.to_vec();
    columns.extend([Column::figures("amount"), Column::words("in")]);
    columns.extend([
        Column::figures("exchange rate"),
        Column::words("of one"),
        Column::words("is in"),
    ]);
    columns.extend([Column::figures("percent"), Column::figures("each"), Column::words("per")]);
    columns.extend([Column::figures("quantity"), Column::figures(format!("amount {currency}"))]);
    columns.push(Column::words("restricted by"));
    Table {
        title: "Customs, a figure a cell".to_owned(),
        columns,
        rows: Rows::of(sheets.iter().flat_map(list_rows)),
        totals: None,
        is_main: true,
    }
}

/// The cells of a row of the list: what it is, how it is worked out, and what it comes to.
fn list_row<'a>(
    [entry, line, kind, item]: [&'a str; 4],
    charged: [Cell<'a>; 5],
    rated: [Cell<'a>; 4],
    amount: Cell<'a>,
    restricted: &'a str,
) -> Row<'a> {
    let words = [entry, line, kind, item].map(Cell::text);
    let ends = [amount, Cell::text(restricted)];
    words.into_iter().chain(charged).chain(rated).chain(ends).collect()
}

const NONE_OF_FIVE: [Cell<'static>; 5] = [const { Cell::Empty }; 5];
const NONE_OF_FOUR: [Cell<'static>; 4] = [const { Cell::Empty }; 4];

fn list_rows<'a>(sheet: &'a Sheet<'a>) -> Vec<Row<'a>> {
    let entry = sheet.entry.id.as_str();
    let mut rows = Vec::new();
    for line in &sheet.entry.lines {
        let label = line.label.as_str();
        for part in &line.parts {
            let names = [entry, label, "part of the value", part.name.as_str()];
            rows.push(list_row(names, charged(part), NONE_OF_FOUR, Cell::Empty, ""));
        }
        let names = [entry, label, "entered value", ""];
        let agency = line.restricted.as_deref().unwrap_or("");
        let amount = Cell::money(line.entered);
        rows.push(list_row(names, NONE_OF_FIVE, NONE_OF_FOUR, amount, agency));
        for layer in &line.layers {
            let names = [entry, label, "duty", layer.row.name.as_str()];
            let amount = Cell::money(layer.amount);
            rows.push(list_row(names, NONE_OF_FIVE, rated(layer), amount, ""));
        }
    }
    for levy in &sheet.levies {
        for part in beside_value(levy) {
            let names = [entry, "", "part of the base", part.name.as_str()];
            rows.push(list_row(names, charged(part), NONE_OF_FOUR, Cell::Empty, ""));
        }
        let rate = levy.charge.map(|charge| &charge.booked.working);
        let rated = match rate {
            Some(Working::Part { rate, .. }) => {
                let [_, each, per, quantity] = NONE_OF_FOUR;
                [Cell::Figure(rate.hundredths()), each, per, quantity]
            }
            _ => NONE_OF_FOUR,
        };
        let names = [entry, "", "fee or tax", levy.name];
        rows.push(list_row(names, NONE_OF_FIVE, rated, Cell::money(levy.amount), ""));
    }
    rows
}

/// The amount of a part of a value, its currency, and the rate of exchange it is converted at.
fn charged(part: &ValuePart) -> [Cell<'_>; 5] {
    let amount = exact_json(&part.amount).parse().map_or(Cell::Empty, Cell::Figure);
    let [rate, base, counter] = part.exchange.as_ref().map_or([const { Cell::Empty }; 3], |rate| {
        let (base, counter) = (rate.quote.base().code(), rate.quote.counter().code());
        [Cell::Figure(rate.quote.rate()), Cell::text(base), Cell::text(counter)]
    });
    [amount, Cell::text(part.amount.currency().code()), rate, base, counter]
}

/// The rate of a layer of duty: percent, or an amount for each unit and how many.
fn rated(layer: &Layer) -> [Cell<'_>; 4] {
    let quantity = || Cell::maybe(layer.quantity.map(|quantity| quantity.normalize()));
    match &layer.row.rate.value {
        DutyRate::Percent(rate) => {
            [Cell::Figure(rate.hundredths()), Cell::Empty, Cell::Empty, quantity()]
        }
        DutyRate::Specific(each) => {
            let unit = Cell::text(each.unit.word());
            [Cell::Empty, Cell::Figure(each.amount), unit, quantity()]
        }
    }
}

#[derive(Serialize)]
struct WorksheetJson<'a> {
    format: u32,
    shipment: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    way: Option<&'a str>,
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
    /// Duties at second hand, and rates of exchange that are not certified yet.
    unconfirmed: Vec<String>,
    notes: &'a [String],
}

#[derive(Serialize)]
struct LineJson<'a> {
    line: &'a str,
    /// The agency that restricts its goods.
    restricted: Option<&'a str>,
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
    source: String,
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
        way: shipment.way.as_deref(),
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
                restricted: line.restricted.as_deref(),
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
                source: levy.place.to_string(),
            })
            .collect(),
        entered: plain(sheet.entered),
        duty: plain(sheet.duty),
        fees: plain(sheet.fees),
        recovered: plain(sheet.recovered),
        cash: plain(sheet.cash),
        unconfirmed: unconfirmed(sheet),
        notes: &sheet.notes,
    }
}
