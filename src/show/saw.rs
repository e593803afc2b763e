//! What comes of blocks, step by step and by each method, as a page.

use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::decide::{SawWay, SawnBlock, Yield};
use crate::quantity::{Area, Decimal, Exact, PricedBy, Units, Volume, grouped, ratio};
use crate::trade::{Shipment, StepDone};

/// What the page is of.
pub struct SawPage<'a> {
    /// The shipment.
    pub shipment: &'a Shipment,
    /// Its blocks.
    pub blocks: &'a [SawnBlock<'a>],
    /// The units of lengths, areas and masses.
    pub units: Units,
}

/// Places of an area of a step, and of a price at which two methods break even.
const PLACES: u32 = 4;

/// The page of the blocks of a shipment.
pub fn saw<'a>(page: &'a SawPage<'a>) -> Page<'a> {
    let mut blocks = Vec::new();
    for block in page.blocks {
        let id = &block.sawing.block.id;
        let name = page.shipment.called();
        blocks.push(Block::Heading(format!("{name}: block {id}, sawn for line {}", block.line.id)));
        blocks.push(Block::Facts(facts(block, page.units)));
        blocks.extend(block.ways.first().and_then(|own| step_by_step(own, block, page.units)));
        if block.ways.len() > 1 {
            blocks.push(Block::Table(side_by_side(block, page.units)));
        }
        blocks.push(Block::Notes(notes(block, page.units)));
    }
    blocks.push(Block::Sheet(list(page)));
    Page { blocks }
}

/// The name of a method, with the offer it is of.
pub(super) fn called(way: &SawWay) -> String {
    match &way.offer {
        Some(offer) => format!("{} ({offer})", way.method),
        None => way.method.clone(),
    }
}

/// An area for each cubic metre of the gross block, or for each unit that is billed.
pub(super) fn per_block(area: Area, whole: Decimal, units: Units) -> Option<Decimal> {
    ratio(area.figure(units, 10), whole, 2)
}

/// What part of the gross block is usable stone, in percent to one place.
pub(super) fn recovery(own: &Yield, block: &SawnBlock<'_>) -> Option<Decimal> {
    let usable = Volume::of(own.usable, block.sawing.thickness).ok()?.to_m3(12);
    ratio(usable.checked_mul(Decimal::ONE_HUNDRED)?, own.cut.volume.to_m3(12), 1)
}

fn facts(block: &SawnBlock<'_>, units: Units) -> Vec<(String, String)> {
    let sawing = block.sawing;
    let bought = &sawing.block;
    let mut facts = vec![("sides".to_owned(), format!("{} gross", bought.size.show(units)))];
    let Some(Ok(own)) = block.ways.first().map(|way| &way.outcome) else { return facts };
    let cut = &own.cut;
    let area = units.area();
    let mut add = |name: &str, said: String| facts.push((name.to_owned(), said));
    let (volume, of_volume) = (grouped(cut.volume.figure(units, 3)), units.volume());
    add("block", format!("{volume} {of_volume} gross, {}", block.mass.show(units)));
    add("billed", format!("{} at {}: {}", cut.billed, *bought.price, cut.block_amount));
    let method = &sawing.method;
    let passes = if cut.passes > 1 { format!(", in {} passes", cut.passes) } else { String::new() };
    add(
        "sawn",
        format!(
            "through its {} by {}, kerf {}{}",
            sawing.through.value,
            block.ways.first().map(called).unwrap_or_default(),
            method.kerf.show(units),
            passes,
        ),
    );
    let outer = if sawing.outer_is_waste { ", less the 2 outer ones" } else { "" };
    add(
        "slabs",
        format!(
            "{} of {} x {}, from {} sawn{outer}",
            cut.slabs,
            cut.size.show(units),
            sawing.thickness.show(units),
            cut.sawn
        ),
    );
    let usable = if block.has_allowance { "usable" } else { "usable, as no allowance is stated" };
    add("area", format!("{} gross, {} {usable}", cut.gross.show(units), own.usable.show(units)));
    let per = |whole: Decimal| {
        let [gross, usable] = [cut.gross, own.usable].map(|one| per_block(one, whole, units));
        format!("{} gross, {} usable", told(gross), told(usable))
    };
    let gross = per(cut.volume.figure(units, 12));
    add(&format!("{area} per {of_volume}"), format!("{gross}, of the gross block"));
    // A volume that is billed is one in the units of the page; a mass stays in its own, as its price is per that.
    let billed = Volume::m3(cut.billed.figure).ok().filter(|_| cut.billed.by == PricedBy::M3);
    let (by, billed) = match billed {
        Some(billed) => (of_volume, billed.figure(units, 12)),
        None => (cut.billed.by.word(), cut.billed.figure),
    };
    add(&format!("{area} per {by}"), format!("{}, of what is billed", per(billed)));
    add("recovery", format!("{} % of the gross block is usable", told(recovery(own, block))));
    add("mass", format!("{} of slabs", own.mass.show(units)));
    for rate in &block.rates {
        add("rate", format!("{} on {}", rate.quote, rate.on));
    }
    facts
}

fn told(figure: Option<Decimal>) -> String {
    figure.map_or_else(|| "–".to_owned(), grouped)
}

fn step_by_step<'a>(way: &'a SawWay, block: &SawnBlock<'_>, units: Units) -> Option<Block<'a>> {
    let own = way.outcome.as_ref().ok()?;
    let of_block = block_row(format!("block {}", block.sawing.block.id), own, block, units);
    let steps = own.cut.steps.iter().zip(&own.steps).map(move |(step, booked)| {
        let least = if step.is_least { ", least charge" } else { "" };
        step_row(format!("{}{least}", step.name), (step, booked), own, units)
    });
    let mut totals: Row<'a> = vec![Cell::text("total")];
    totals.extend(std::iter::repeat_n(Cell::Empty, 6));
    totals.push(Cell::maybe(own.per(&own.total, units)));
    Some(Block::Table(Table {
        title: format!(
            "Step by step, and per {} of usable area in {}",
            units.area(),
            block.currency
        ),
        columns: vec![
            Column::words("step"),
            Column::figures("goes in"),
            Column::words("of"),
            Column::figures("price"),
            Column::figures("amount"),
            Column::words("in"),
            Column::figures("loss %"),
            Column::figures(format!("per {}", units.area())),
        ],
        rows: Rows::of(std::iter::once(of_block).chain(steps)),
        totals: Some(totals),
        is_main: false,
    }))
}

/// The block as a row: what is billed, at which price, and what that makes per usable area.
fn block_row<'a>(name: String, own: &Yield, block: &SawnBlock<'_>, units: Units) -> Row<'a> {
    let (billed, price) = (&own.cut.billed, &block.sawing.block.price);
    vec![
        Cell::text(name),
        Cell::Figure(billed.figure.normalize()),
        Cell::text(billed.by.word()),
        Cell::Figure(price.amount),
        Cell::money(own.cut.block_amount),
        Cell::text(price.currency.code()),
        Cell::Empty,
        Cell::maybe(own.per(&own.block, units)),
    ]
}

/// The same of a step.
fn step_row<'a>(
    name: String,
    (step, booked): (&StepDone, &Exact),
    own: &Yield,
    units: Units,
) -> Row<'a> {
    vec![
        Cell::text(name),
        Cell::maybe(quantity(step)),
        Cell::text(step.price.by.word()),
        Cell::Figure(step.price.amount),
        Cell::money(step.amount),
        Cell::text(step.price.currency.code()),
        Cell::Figure(step.loss.hundredths()),
        Cell::maybe(own.per(booked, units)),
    ]
}

/// What goes into a step, as it is shown.
pub(super) fn quantity(step: &StepDone) -> Option<Decimal> {
    step.quantity(PLACES).map(|figure| figure.normalize())
}

/// A price at which two methods break even, as it is shown.
pub(super) fn even(price: Option<&Exact>) -> Option<Decimal> {
    price.and_then(|price| price.figure(PLACES))
}

fn side_by_side<'a>(block: &'a SawnBlock<'a>, units: Units) -> Table<'a> {
    let rows = block.ways.iter().map(move |way| -> Row<'a> {
        let own = way.outcome.as_ref().ok();
        // Each in the currency of its own bill, which the quarry and the works need not share.
        let at = |price: fn(&crate::decide::BreakEven) -> Option<&Exact>| match &way.even {
            Some(one) => Cell::text(
                price(one).and_then(|price| Some((price, even(Some(price))?))).map_or_else(
                    || "never".to_owned(),
                    |(price, figure)| format!("{} {}", grouped(figure), price.currency()),
                ),
            ),
            None => Cell::text("–"),
        };
        let Some(own) = own else {
            return vec![Cell::text(called(way)), Cell::text("none")];
        };
        vec![
            Cell::text(called(way)),
            Cell::Figure(Decimal::from(own.cut.slabs)),
            Cell::Figure(own.usable.figure(units, 2)),
            Cell::maybe(recovery(own, block)),
            Cell::maybe(own.per(&own.total, units)),
            at(|one| one.block.as_ref()),
            at(|one| one.sawing.as_ref()),
        ]
    });
    Table {
        title: format!("Methods side by side, costs in {}", block.currency),
        columns: vec![
            Column::words("method"),
            Column::figures("slabs"),
            Column::figures(format!("usable {}", units.area())),
            Column::figures("recovery %"),
            Column::figures(format!("per {}", units.area())),
            Column::figures("even at a block"),
            Column::figures("at sawing"),
        ],
        rows: Rows::of(rows.map(|mut row| {
            row.resize(7, Cell::Empty);
            row
        })),
        totals: None,
        is_main: false,
    }
}

fn notes(block: &SawnBlock<'_>, units: Units) -> Vec<String> {
    let mut notes = vec![
        "What breaks in a step has paid for it and for those before. Whole slabs are counted at the end, rounded \
         down."
            .to_owned(),
        "These are the bills of quarry and works. cost, compare and worksheet take both as goods: a block that \
         the buyer has sawn is in the customs value (19 U.S.C. 1401a(b)(1)(C))."
            .to_owned(),
    ];
    if units == Units::Us {
        notes.push("What is billed stands in the unit of its price, in m2, m3 or t.".to_owned());
    }
    let mut is_even = false;
    for way in &block.ways {
        match (&way.outcome, &way.even) {
            (Err(why), _) => notes.push(format!("{} saws no slab of it: {why}.", called(way))),
            (Ok(_), Some(_)) => is_even = true,
            (Ok(_), None) => {}
        }
    }
    if is_even {
        let own = block.ways.first().map(called).unwrap_or_default();
        let price = *block.sawing.block.price;
        notes.push(format!(
            "Even: the price of the block ({} per {}), and that of sawing by the method, at which it costs as much \
             per {} as {own}, all else as it is. Never: at no price above 0.",
            price.currency,
            price.by.word(),
            units.area()
        ));
    }
    notes
}

/// Every figure in a cell of its own: a row for each step of each method.
fn list<'a>(page: &'a SawPage<'a>) -> Table<'a> {
    let units = page.units;
    let rows = page.blocks.iter().flat_map(move |block| {
        block.ways.iter().flat_map(move |way| {
            let head = [
                Cell::text(block.sawing.block.id.as_str()),
                Cell::text(block.line.id.as_str()),
                Cell::text(way.method.as_str()),
                way.offer.as_deref().map_or(Cell::Empty, Cell::text),
            ];
            of_way(way, block, units).into_iter().map(move |row| {
                let mut all: Row<'a> = head.to_vec();
                all.extend(row);
                all
            })
        })
    });
    let currency = page.blocks.first().map_or("", |block| block.currency.code());
    let area = units.area();
    Table {
        title: "Steps, a figure a cell".to_owned(),
        columns: vec![
            Column::words("block"),
            Column::words("line"),
            Column::words("method"),
            Column::words("offer"),
            Column::words("step"),
            Column::figures("goes in"),
            Column::words("of"),
            Column::figures("price"),
            Column::figures("amount"),
            Column::words("in"),
            Column::figures("loss %"),
            Column::figures(format!("{currency} per {area}")),
            Column::figures(format!("total {currency} per {area}")),
            Column::figures("slabs"),
            Column::figures(format!("gross {area}")),
            Column::figures(format!("usable {area}")),
            Column::figures("recovery %"),
            Column::figures("block even at"),
            Column::figures("sawing even at"),
            Column::words("why not"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    }
}

/// The rows of a way: the block, then each step.
fn of_way<'a>(way: &'a SawWay, block: &'a SawnBlock<'a>, units: Units) -> Vec<Row<'a>> {
    let own = match &way.outcome {
        Ok(own) => own,
        Err(why) => {
            let mut row = vec![Cell::Empty; 15];
            row.push(Cell::text(why.as_str()));
            return vec![row];
        }
    };
    let cut = &own.cut;
    let of_block = block_row("block".to_owned(), own, block, units);
    let steps = cut.steps.iter().zip(&own.steps);
    let steps = steps.map(|step| step_row(step.0.name.clone(), step, own, units));
    let even_at = |price: fn(&crate::decide::BreakEven) -> Option<&Exact>| {
        Cell::maybe(way.even.as_ref().and_then(|one| even(price(one))))
    };
    let ends = [
        Cell::maybe(own.per(&own.total, units)),
        Cell::Figure(Decimal::from(cut.slabs)),
        Cell::Figure(cut.gross.figure(units, PLACES)),
        Cell::Figure(own.usable.figure(units, PLACES)),
        Cell::maybe(recovery(own, block)),
        even_at(|one| one.block.as_ref()),
        even_at(|one| one.sawing.as_ref()),
        Cell::Empty,
    ];
    std::iter::once(of_block)
        .chain(steps)
        .map(|mut row| {
            row.extend(ends.iter().cloned());
            row
        })
        .collect()
}
