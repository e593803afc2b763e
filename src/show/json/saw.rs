//! What comes of blocks, for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::super::saw::{SawPage, even, per_block, quantity, recovery};
use super::parts::{FORMAT, plain, write};
use crate::decide::{SawWay, SawnBlock, Yield};
use crate::quantity::{Exact, Units};

#[derive(Serialize)]
struct SawJson<'a> {
    format: u32,
    shipment: String,
    blocks: Vec<BlockJson<'a>>,
}

#[derive(Serialize)]
struct BlockJson<'a> {
    block: &'a str,
    line: &'a str,
    currency: &'static str,
    /// `length`, `width` and `height`, gross.
    sides_mm: [String; 3],
    through: &'static str,
    thickness_mm: String,
    mass_kg: String,
    price: String,
    outer_is_waste: bool,
    rates: Vec<String>,
    methods: Vec<MethodJson<'a>>,
}

#[derive(Serialize)]
struct MethodJson<'a> {
    method: &'a str,
    offer: Option<&'a str>,
    /// Why no slab comes of it; all below is `null` then.
    refused: Option<&'a str>,
    #[serde(flatten)]
    yields: Option<YieldJson<'a>>,
    /// Where it breaks even with the first method; `null` for that one.
    break_even: Option<EvenJson>,
}

#[derive(Serialize)]
struct YieldJson<'a> {
    sawn: u32,
    passes: u32,
    slabs: u32,
    size_mm: [String; 2],
    gross_m2: String,
    usable_m2: String,
    slabs_mass_kg: String,
    volume_m3: String,
    billed: String,
    billed_per: &'static str,
    block_amount: String,
    block_currency: &'static str,
    gross_m2_per_m3: Option<String>,
    usable_m2_per_m3: Option<String>,
    gross_m2_per_billed: Option<String>,
    usable_m2_per_billed: Option<String>,
    recovery_percent: Option<String>,
    block_per_m2: Option<String>,
    steps: Vec<StepJson<'a>>,
    total_per_m2: Option<String>,
    total_per_ft2: Option<String>,
}

#[derive(Serialize)]
struct StepJson<'a> {
    name: &'a str,
    goes_in: Option<String>,
    price: String,
    amount: String,
    currency: &'static str,
    is_least: bool,
    loss_percent: String,
    per_m2: Option<String>,
}

/// Prices; `null`: at none above nothing.
#[derive(Serialize)]
struct EvenJson {
    block_price: Option<String>,
    block_per: String,
    sawing_price: Option<String>,
    sawing_per: String,
}

/// Writes the blocks of a shipment.
///
/// # Errors
/// Where the output cannot be written.
pub fn saw(page: &SawPage<'_>, out: &mut dyn Write) -> io::Result<()> {
    let json = SawJson {
        format: FORMAT,
        shipment: page.shipment.called(),
        blocks: page.blocks.iter().map(block).collect(),
    };
    write(&json, out)
}

fn block<'a>(one: &'a SawnBlock<'a>) -> BlockJson<'a> {
    let sawing = one.sawing;
    let mm = |side: crate::quantity::Length| side.to_mm(2).normalize().to_string();
    BlockJson {
        block: &sawing.block.id,
        line: &one.line.id,
        currency: one.currency.code(),
        sides_mm: sawing.block.size.sides().map(mm),
        through: sawing.through.word(),
        thickness_mm: mm(sawing.thickness),
        mass_kg: one.mass.to_kg(3).to_string(),
        price: sawing.block.price.to_string(),
        outer_is_waste: sawing.outer_is_waste,
        rates: one.rates.iter().map(|rate| rate.quote.to_string()).collect(),
        methods: one.ways.iter().map(|way| method(way, one)).collect(),
    }
}

fn method<'a>(way: &'a SawWay, of: &'a SawnBlock<'a>) -> MethodJson<'a> {
    let price = |exact: Option<&Exact>| even(exact).map(|figure| figure.to_string());
    let bought = *of.sawing.block.price;
    MethodJson {
        method: &way.method,
        offer: way.offer.as_deref(),
        refused: way.outcome.as_ref().err().map(String::as_str),
        yields: way.outcome.as_ref().ok().map(|own| yields(own, of)),
        break_even: way.even.as_ref().map(|one| EvenJson {
            block_price: price(one.block.as_ref()),
            block_per: format!("{}/{}", bought.currency, bought.by.word()),
            sawing_price: price(one.sawing.as_ref()),
            sawing_per: format!("{}/{}", one.per.currency, one.per.by.word()),
        }),
    }
}

fn yields<'a>(own: &'a Yield, of: &'a SawnBlock<'a>) -> YieldJson<'a> {
    let cut = &own.cut;
    let per = |amount: &Exact, units| own.per(amount, units).map(|figure| figure.to_string());
    let by = |area, whole| per_block(area, whole, Units::Metric).map(|figure| figure.to_string());
    let volume = cut.volume.to_m3(12);
    let steps = cut.steps.iter().zip(&own.steps).map(|(step, booked)| StepJson {
        name: &step.name,
        goes_in: quantity(step).map(|figure| figure.to_string()),
        price: step.price.to_string(),
        amount: plain(step.amount),
        currency: step.amount.currency().code(),
        is_least: step.is_least,
        loss_percent: step.loss.hundredths().to_string(),
        per_m2: per(booked, Units::Metric),
    });
    YieldJson {
        sawn: cut.sawn,
        passes: cut.passes,
        slabs: cut.slabs,
        size_mm: [cut.size.length, cut.size.height]
            .map(|side| side.to_mm(2).normalize().to_string()),
        gross_m2: cut.gross.to_m2(4).to_string(),
        usable_m2: own.usable.to_m2(4).to_string(),
        slabs_mass_kg: own.mass.to_kg(3).to_string(),
        volume_m3: cut.volume.to_m3(6).to_string(),
        billed: cut.billed.figure.normalize().to_string(),
        billed_per: cut.billed.by.word(),
        block_amount: plain(cut.block_amount),
        block_currency: cut.block_amount.currency().code(),
        gross_m2_per_m3: by(cut.gross, volume),
        usable_m2_per_m3: by(own.usable, volume),
        gross_m2_per_billed: by(cut.gross, cut.billed.figure),
        usable_m2_per_billed: by(own.usable, cut.billed.figure),
        recovery_percent: recovery(own, of).map(|figure| figure.to_string()),
        block_per_m2: per(&own.block, Units::Metric),
        steps: steps.collect(),
        total_per_m2: per(&own.total, Units::Metric),
        total_per_ft2: per(&own.total, Units::Us),
    }
}
