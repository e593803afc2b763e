//! What is in force on a day, and what lapses when.

use std::borrow::Cow;

use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::fault::Place;
use crate::quantity::{Decimal, Units, count_of};
use crate::trade::{
    ChargeRow, Clock, Country, Date, DutyRate, DutyRow, ExchangeRow, LimitOn, LimitRow, Per, Rate,
    SailingRow, Tariffs, TierBy, Tiers, Treatment, Window, WorkStep,
};

/// The keys of rows, as the list for a spreadsheet has them.
const KEYS: [&str; 14] = [
    "lane",
    "port",
    "term-place",
    "container",
    "class",
    "yard",
    "regime",
    "stone",
    "entry",
    "mode",
    "line",
    "origins",
    "producer",
    "programme",
];

/// The columns of figures of that list; what is beside a figure has a column of its own.
const FIGURES: [&str; 20] = [
    "tier by",
    "tier from",
    "tier to",
    "amount",
    "percent",
    "of",
    "each",
    "in",
    "per",
    "free",
    "minimum",
    "at least in",
    "maximum",
    "at most in",
    "mass",
    "of one",
    "treatment",
    "sails",
    "days at sea",
    "closes days before",
];

/// A row of a table as every form has it.
pub(super) struct Line<'a> {
    pub(super) table: &'static str,
    pub(super) name: Cow<'a, str>,
    keys: Vec<(&'static str, Cow<'a, str>)>,
    offer: Option<&'a str>,
    /// What it charges, limits or quotes, in words.
    pub(super) rate: String,
    /// The same in cells, with the columns they are for: several lists where it has tiers.
    cells: Vec<Vec<(&'static str, Cell<'a>)>>,
    valid: Window,
    pub(super) place: &'a Place,
    pub(super) source: &'a str,
    /// The day on which it was read there.
    read: Option<Date>,
}

/// The page of the rates in force on a day, the first to lapse first.
pub fn rates(tariffs: &Tariffs, on: Option<Date>, units: Units) -> Page<'_> {
    let charges = tariffs.charges.iter().map(of_charge);
    let limits = tariffs.limits.iter().map(move |row| of_limit(row, units));
    let duties = tariffs.duties.iter().map(|row| of_duty(row));
    let all = charges.chain(limits).chain(duties).chain(tariffs.exchange.iter().map(of_exchange));
    let all =
        all.chain(tariffs.works().map(of_work)).chain(tariffs.sailings.iter().map(of_sailing));
    let mut lines: Vec<Line<'_>> =
        all.filter(|line| on.is_none_or(|on| line.valid.holds(on))).collect();
    lines.sort_by_key(|line| (line.valid.until.is_none(), line.valid.until, line.valid.from));
    let heading = match on {
        Some(on) => format!("Rates in force on {on}, first to lapse first"),
        None => {
            "All rates, first to lapse first; --on names a day: those in force, and the days left"
                .to_owned()
        }
    };
    let (rows, list_rows): (Vec<Row<'_>>, Vec<Vec<Row<'_>>>) =
        lines.into_iter().map(|line| (row(&line, on), list_rows(line, on))).unzip();
    let words = ["table", "name", "for"].map(Column::words).into_iter();
    let ends = [Column::words("rate"), Column::words("in force")].into_iter();
    let ends = ends.chain(on.map(|_| Column::figures("days left")));
    let table = Table {
        title: String::new(),
        columns: words.chain(ends).collect(),
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    };
    let list = Table {
        title: "Rates, a figure a cell".to_owned(),
        columns: list_columns(units),
        rows: Rows::of(list_rows.into_iter().flatten()),
        totals: None,
        is_main: true,
    };
    Page { blocks: vec![Block::Heading(heading), Block::Table(table), Block::Sheet(list)] }
}

/// What a row is for: its keys in one line.
pub(super) fn for_words(line: &Line<'_>) -> String {
    let keys: Vec<&str> = line.keys.iter().map(|(_, value)| &**value).collect();
    keys.join(" ")
}

fn row<'a>(line: &Line<'a>, on: Option<Date>) -> Row<'a> {
    let offer = line.offer.map_or_else(String::new, |offer| format!(" ({offer})"));
    let until = line.valid.until.map_or_else(|| "open".to_owned(), |until| until.to_string());
    let mut cells = vec![
        Cell::text(line.table),
        Cell::text(format!("{}{offer}", line.name)),
        Cell::text(for_words(line)),
        Cell::text(line.rate.clone()),
        Cell::text(format!("{} to {until}", line.valid.from)),
    ];
    // Without a day there are no days left of it.
    cells.extend(on.map(|_| days_left(line.valid, on)));
    cells
}

fn days_left<'a>(valid: Window, on: Option<Date>) -> Cell<'a> {
    let days = on.zip(valid.until).map(|(on, until)| Decimal::from((until - on).num_days()));
    Cell::maybe(days)
}

fn list_columns(units: Units) -> Vec<Column> {
    let mut columns = ["table", "name"].map(Column::words).to_vec();
    columns.extend(KEYS.map(Column::words));
    columns.push(Column::words("offer"));
    let figure = |name: &'static str| match name {
        "mass" => Column::figures(format!("mass {}", units.mass())),
        "tier from" | "tier to" | "amount" | "percent" | "each" | "free" | "minimum"
        | "maximum" | "days at sea" | "closes days before" => Column::figures(name),
        _ => Column::words(name),
    };
    columns.extend(FIGURES.map(figure));
    columns.extend(["from", "until"].map(Column::words));
    columns.extend([
        Column::figures("days left"),
        Column::words("file"),
        Column::figures("line of file"),
    ]);
    columns.extend(["source", "read"].map(Column::words));
    columns
}

/// The rows of the list for a spreadsheet: one, or one for each tier.
fn list_rows<'a>(line: Line<'a>, on: Option<Date>) -> Vec<Row<'a>> {
    let row = |cells: Vec<(&'static str, Cell<'a>)>| -> Row<'a> {
        let mut row = vec![Cell::text(line.table), Cell::text(line.name.clone())];
        let key = |name: &str| line.keys.iter().find(|(key, _)| *key == name);
        row.extend(
            KEYS.iter()
                .map(|name| key(name).map_or(Cell::Empty, |(_, value)| Cell::text(value.clone()))),
        );
        row.push(line.offer.map_or(Cell::Empty, Cell::text));
        let cell = |name: &&'static str| {
            cells.iter().find(|(of, _)| of == name).map_or(Cell::Empty, |(_, cell)| cell.clone())
        };
        row.extend(FIGURES.iter().map(cell));
        row.push(Cell::text(line.valid.from.to_string()));
        row.push(line.valid.until.map_or(Cell::Empty, |until| Cell::text(until.to_string())));
        row.extend([days_left(line.valid, on), Cell::text(line.place.file.to_string())]);
        row.extend([Cell::count(line.place.line), Cell::text(line.source)]);
        row.push(line.read.map_or(Cell::Empty, |day| Cell::text(day.to_string())));
        row
    };
    line.cells.iter().cloned().map(row).collect()
}

pub(super) fn of_charge(row: &ChargeRow) -> Line<'_> {
    let keys = row.matches.given().map(|(key, value)| (key, Cow::Borrowed(value)));
    Line {
        table: row.table.word(),
        name: Cow::Borrowed(&row.name),
        keys: keys.collect(),
        offer: row.offer.as_deref(),
        rate: rate_words(row),
        cells: rate_cells(row),
        valid: row.valid,
        place: &row.place,
        source: &row.source,
        read: row.read,
    }
}

/// The rate of a row: its amount, its unit, what is free, its floor and cap, and its treatment.
fn rate_words(row: &ChargeRow) -> String {
    let rate = match &row.rate.value {
        Rate::Tiers(tiers) => tier_words(tiers),
        Rate::Interest(rate, _) => format!("{rate} a year of payments"),
        rate => rate.to_string(),
    };
    let per = match row.per {
        Per::Part => String::new(),
        per => format!(" per {}", per.word()),
    };
    let time = match &row.clock {
        Some(Clock::Days { between: (from, to), free, count }) => {
            let free = if *free == 0 { String::new() } else { format!(" after {free} free") };
            format!("{free}, {} from {} to {}", count.word(), from.word(), to.word())
        }
        Some(Clock::Months { between: (from, to), .. }) => {
            format!(" from {} to {}", from.word(), to.word())
        }
        Some(Clock::Hours { name, free, .. }) => format!(" of {} after {free} free", name.value),
        None => String::new(),
    };
    let bound = |word: &str, bound: Option<crate::quantity::Money>| {
        bound.map_or_else(String::new, |bound| format!(", {word} {bound}"))
    };
    let (least, most) = (bound("at least", row.minimum), bound("at most", row.maximum));
    let goes_to = match row.treatment {
        Treatment::Stock => String::new(),
        other => format!(", {}", other.shown()),
    };
    format!("{rate}{per}{time}{least}{most}{goes_to}")
}

fn tier_words(tiers: &Tiers) -> String {
    let by = tiers.by.word();
    let each = tiers.tiers.iter().map(|tier| format!("{by} {}: {}", tier.window, tier.amount));
    each.collect::<Vec<_>>().join(", ")
}

/// The same, a figure a cell.
fn rate_cells(row: &ChargeRow) -> Vec<Vec<(&'static str, Cell<'_>)>> {
    let mut shared: Vec<(&'static str, Cell<'_>)> = Vec::new();
    if row.per != Per::Part {
        shared.push(("per", Cell::text(row.per.word())));
    }
    match &row.clock {
        Some(Clock::Days { free, .. }) => shared.push(("free", Cell::Figure((*free).into()))),
        Some(Clock::Hours { free, .. }) => shared.push(("free", Cell::Figure(free.figure()))),
        Some(Clock::Months { .. }) | None => {}
    }
    if let Some(least) = row.minimum {
        shared.push(("minimum", Cell::money(least)));
        shared.push(("at least in", Cell::text(least.currency().code())));
    }
    if let Some(most) = row.maximum {
        shared.push(("maximum", Cell::money(most)));
        shared.push(("at most in", Cell::text(most.currency().code())));
    }
    shared.push(("treatment", Cell::text(row.treatment.word())));
    if let Some(of) = row.rate.value.of() {
        shared.push(("of", Cell::text(of.word())));
    }
    let money = |amount: crate::quantity::UnitRate| {
        [("amount", Cell::Figure(amount.amount())), ("in", Cell::text(amount.currency().code()))]
    };
    let own: Vec<Vec<(&'static str, Cell<'_>)>> = match &row.rate.value {
        Rate::Amount(amount) => vec![money(*amount).to_vec()],
        Rate::Each { amount, each, .. } => {
            let mut cells = money(*amount).to_vec();
            cells.push(("each", Cell::money(*each)));
            vec![cells]
        }
        Rate::Tiers(tiers) => {
            let tier = |tier: &crate::trade::Tier| {
                let mut cells = money(tier.amount).to_vec();
                let by = if tiers.by == TierBy::Gross { "gross kg" } else { tiers.by.word() };
                cells.push(("tier by", Cell::text(by)));
                cells.push(("tier from", Cell::Figure(tier.from.normalize())));
                cells.push(("tier to", Cell::maybe(tier.to.map(|to| to.normalize()))));
                cells
            };
            tiers.tiers.iter().map(tier).collect()
        }
        rate => {
            let percent = rate.percent().map(crate::quantity::Percent::hundredths);
            vec![vec![("percent", Cell::maybe(percent))]]
        }
    };
    own.into_iter().map(|cells| cells.into_iter().chain(shared.iter().cloned()).collect()).collect()
}

pub(super) fn of_limit(row: &LimitRow, units: Units) -> Line<'_> {
    let keys = row.matches.given().map(|(key, value)| (key, Cow::Borrowed(value)));
    let on = match row.on {
        LimitOn::Cargo => "cargo",
        LimitOn::Gross => "gross mass",
    };
    let (limit, kind) = (row.mass.show_closely(units), row.kind.shown());
    Line {
        table: if row.at_sea { "freight" } else { "drayage" },
        name: Cow::Borrowed(&row.name),
        keys: keys.collect(),
        offer: row.offer.as_deref(),
        rate: format!("at most {limit} of {on} per container ({kind})"),
        cells: vec![vec![
            ("mass", Cell::Figure(row.mass.figure(units, 1).normalize())),
            ("of", Cell::text(on)),
            ("per", Cell::text("container")),
        ]],
        valid: row.valid,
        place: &row.place,
        source: &row.source,
        read: None,
    }
}

pub(super) fn of_duty(row: &DutyRow) -> Line<'_> {
    let mut keys: Vec<(&'static str, Cow<'_, str>)> =
        vec![("regime", Cow::Borrowed(&*row.regime)), ("line", Cow::Borrowed(&*row.line))];
    if !row.origins.is_empty() {
        let origins: Vec<&str> = row.origins.iter().map(Country::code).collect();
        keys.push(("origins", Cow::Owned(origins.join(" "))));
    }
    let named = [("producer", &row.producer), ("programme", &row.programme)];
    let named = named.into_iter().filter_map(|(key, name)| Some((key, name.as_deref()?)));
    keys.extend(named.map(|(key, name)| (key, Cow::Borrowed(name))));
    let cells = match &row.rate.value {
        DutyRate::Percent(rate) => {
            vec![("percent", Cell::Figure(rate.hundredths())), ("of", Cell::text("entered value"))]
        }
        DutyRate::Specific(each) => vec![
            ("amount", Cell::Figure(each.amount)),
            ("in", Cell::text(each.currency.code())),
            ("per", Cell::text(each.unit.word())),
        ],
    };
    let rate = match &row.rate.value {
        DutyRate::Percent(rate) => format!("{rate} of entered value, {}", row.kind.shown()),
        rate @ DutyRate::Specific(_) => format!("{rate}, {}", row.kind.shown()),
    };
    Line {
        table: "duty",
        name: Cow::Borrowed(&row.name),
        keys,
        offer: None,
        rate,
        cells: vec![cells],
        valid: row.valid,
        place: &row.place,
        source: &row.source,
        read: row.read,
    }
}

pub(super) fn of_exchange(row: &ExchangeRow) -> Line<'_> {
    let quote = &row.quote.value;
    Line {
        table: "exchange",
        name: Cow::Borrowed(row.used_for.word()),
        keys: Vec::new(),
        offer: None,
        rate: quote.to_string(),
        cells: vec![vec![
            ("amount", Cell::Figure(quote.rate())),
            ("in", Cell::text(quote.counter().code())),
            ("of one", Cell::text(quote.base().code())),
        ]],
        valid: row.valid,
        place: &row.place,
        source: &row.source,
        read: None,
    }
}

/// A service of a lane.
fn of_sailing(row: &SailingRow) -> Line<'_> {
    let (at_sea, closes) = (count_of(row.transit, "day"), count_of(row.closes, "day"));
    let service = row.service.as_deref().unwrap_or("sailing");
    Line {
        table: "sailings",
        name: Cow::Borrowed(service),
        keys: vec![("lane", Cow::Owned(row.lane.to_string()))],
        offer: None,
        rate: format!("{}, {at_sea} at sea, the port closes {closes} before", row.days),
        cells: vec![vec![
            ("sails", Cell::text(row.days.to_string())),
            ("days at sea", Cell::Figure(row.transit.into())),
            ("closes days before", Cell::Figure(row.closes.into())),
        ]],
        valid: row.valid,
        place: &row.place,
        source: &row.source,
        read: None,
    }
}

/// A step of the works: sawing by a method, or what follows it.
fn of_work(row: &WorkStep) -> Line<'_> {
    let price = &row.price;
    let mut cells = vec![
        ("amount", Cell::Figure(price.amount)),
        ("in", Cell::text(price.currency.code())),
        ("per", Cell::text(price.by.word())),
    ];
    let mut rate = price.to_string();
    if let Some(least) = &row.least {
        rate = format!("{rate}, at least {}", least.value);
        cells.push(("minimum", Cell::money(least.value)));
        cells.push(("at least in", Cell::text(least.currency().code())));
    }
    Line {
        table: "sawing",
        name: Cow::Borrowed(&row.name),
        keys: Vec::new(),
        offer: row.offer.as_deref(),
        rate,
        cells: vec![cells],
        valid: row.valid,
        place: &row.place,
        source: &row.source,
        read: None,
    }
}
