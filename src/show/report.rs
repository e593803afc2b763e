//! One page that people keep: a shipment's cost with its load, its payments and its sources. It shows what the pages of
//! `cost`, `load`, `cash` and `what-if` show, and works nothing out itself.

use super::bars::{Bar, bars};
use super::cash::paid;
use super::cost::{breakdown, charge_name, costed};
use super::load::{Load, loaded};
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use super::paper::Ground;
use crate::choose::OwnLeg;
use crate::cost::{By, Cash, charge_sums};
use crate::fault::Place;
use crate::quantity::{Decimal, Money, Units};
use crate::trade::{Date, Leg, Treatment};

/// What a report is made of.
pub struct Report<'a> {
    /// The load and the cost.
    pub load: Load<'a>,
    /// Legs inside the supplier's price, at our own rates.
    pub own: &'a [OwnLeg],
    /// The payments.
    pub cash: &'a Cash,
    /// Changes in words, and by how much each moves the cost with finance; the largest first.
    pub levers: &'a [(String, Money)],
    /// The program's version.
    pub version: &'a str,
    /// The units of lengths, areas and masses.
    pub units: Units,
    /// What its drawings are made for.
    pub ground: Ground,
}

/// The report for ourselves.
pub fn report<'a>(of: &Report<'a>) -> Page<'a> {
    let Load { shipment, costed: result, .. } = of.load;
    let mut head = costed(shipment, result, of.own, By::Bundle, of.units).blocks.into_iter();
    let mut blocks = vec![Block::Text(vec![format!(
        "Internal: costs and suppliers stand on this page. Worked out by Quaystone {} with what was in force on {}.",
        of.version, shipment.dates.quoted
    )])];
    if let Some(title) = head.next() {
        blocks.insert(0, title);
    }
    let (mut facts, mut tables, mut notes) = (Vec::new(), Vec::new(), Vec::new());
    for block in head {
        match block {
            Block::Facts(own) => facts.extend(own),
            Block::Notes(own) => notes.extend(own),
            other => tables.push(other),
        }
    }
    blocks.extend([
        heading("What it comes to"),
        Block::Facts(facts),
        heading("From the supplier's price to the landed cost"),
        Block::Bars(bars("From the supplier's price to the landed cost", &way(of), &[])),
    ]);
    if !of.levers.is_empty() {
        blocks.extend([
            heading("What changes it most"),
            Block::Text(vec![
                "By how much the cost with finance moves when one thing changes and all else stays, the load \
                 planned anew."
                    .to_owned(),
            ]),
            Block::Bars(bars("What changes it most", &swings(of.levers), &[])),
        ]);
    }
    let plan = loaded(of.load, of.units, of.ground);
    let is_own = |block: &Block<'_>| !matches!(block, Block::Sheet(_));
    for block in plan.blocks.into_iter().filter(is_own) {
        match block {
            Block::Notes(own) => notes.extend(own),
            other => blocks.push(other),
        }
    }
    blocks.extend([
        heading("When it is paid"),
        Block::Bars(bars("When it is paid", &days(of.cash), &[])),
    ]);
    for block in paid(shipment, of.cash).blocks.into_iter().skip(1) {
        match block {
            Block::Notes(own) => notes.extend(own),
            other => blocks.push(other),
        }
    }
    blocks.push(heading("What it is made of"));
    blocks.extend(tables);
    blocks.push(Block::Table(breakdown(shipment, result, By::Slab, of.units)));
    blocks.extend([heading("What it rests on"), Block::Table(sources(of)), heading("Cautions")]);
    let mut said: Vec<String> = Vec::new();
    for note in notes {
        if !said.contains(&note) {
            said.push(note);
        }
    }
    blocks.push(Block::Notes(said));
    Page { blocks }
}

fn heading<'a>(words: &str) -> Block<'a> {
    Block::Heading(words.to_owned())
}

/// Leg by leg from nothing to the landed cost, and from there to the cost with finance.
fn way(of: &Report<'_>) -> Vec<Bar> {
    let landed = &of.load.costed.landed;
    let sums = charge_sums(landed).unwrap_or_default();
    let legs = Leg::ALL.iter().filter_map(|(leg, word)| {
        let own = sums.iter().filter(|sum| sum.first.leg == *leg);
        let stock = own.filter(|sum| sum.first.treatment == Treatment::Stock);
        let amount = Money::total(landed.currency, stock.map(|sum| sum.book)).ok()?;
        Some((*word, amount)).filter(|_| !amount.is_zero())
    });
    let more = landed.decision.minus(landed.total).ok();
    let more = more.filter(|more| !more.is_zero()).map(|more| ("expensed, finance", more));
    let mut so_far = Decimal::ZERO;
    let mut step = |(label, amount): (&str, Money)| {
        let from = so_far;
        so_far += amount.amount();
        Bar { label: label.to_owned(), parts: vec![[from, so_far]], words: amount.to_string() }
    };
    let whole = |label: &str, amount: Money| Bar {
        label: label.to_owned(),
        parts: vec![[Decimal::ZERO, amount.amount()]],
        words: amount.to_string(),
    };
    let mut all: Vec<Bar> = legs.map(&mut step).collect();
    all.push(whole("landed cost", landed.total));
    if let Some(more) = more {
        all.extend([step(more), whole("with finance", landed.decision)]);
    }
    all
}

fn swings(levers: &[(String, Money)]) -> Vec<Bar> {
    let bar = |(words, moved): &(String, Money)| Bar {
        label: words.clone(),
        parts: vec![[Decimal::ZERO, moved.amount()]],
        words: if moved.is_negative() { moved.to_string() } else { format!("+{moved}") },
    };
    levers.iter().map(bar).collect()
}

/// What is paid on each day, along the days.
fn days(cash: &Cash) -> Vec<Bar> {
    let mut all: Vec<(Date, Money)> = Vec::new();
    for flow in &cash.flows {
        match all.last_mut().filter(|(day, _)| *day == flow.day) {
            // Of what fits one by one, the sum was held before.
            Some((_, sum)) => *sum = sum.plus(flow.book).unwrap_or(*sum),
            None => all.push((flow.day, flow.book)),
        }
    }
    let first = all.first().map(|(day, _)| *day);
    let bar = |(day, sum): (Date, Money)| {
        let along = Decimal::from(first.map_or(0, |first| (day - first).num_days()));
        Bar { label: day.to_string(), parts: vec![[along, along]], words: sum.to_string() }
    };
    all.into_iter().map(bar).collect()
}

/// Where each charge stands, and how long its rate is in force.
fn sources<'a>(of: &Report<'a>) -> Table<'a> {
    let Load { shipment, costed, .. } = of.load;
    let sums = charge_sums(&costed.landed).unwrap_or_default();
    let rows: Vec<Row<'a>> = sums
        .into_iter()
        .map(|sum| {
            let kind = &sum.first.kind;
            let until = kind.valid.and_then(|valid| valid.until).map(|last| last.to_string());
            let places: Vec<String> = kind.sources().map(Place::to_string).collect();
            vec![
                Cell::text(sum.first.leg.word()),
                Cell::text(charge_name(sum.first, shipment, &costed.choice)),
                Cell::text(kind.basis.word()),
                Cell::text(until.unwrap_or_default()),
                Cell::text(places.join(", ")),
            ]
        })
        .collect();
    Table {
        title: "Rows of tables and lines of files".to_owned(),
        columns: vec![
            Column::above("leg", ""),
            Column::words("charge"),
            Column::words("how firm"),
            Column::words("in force until"),
            Column::words("stands in"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}
