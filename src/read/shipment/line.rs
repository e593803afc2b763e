//! A line of an invoice, and how its supplier measures.

use std::sync::Arc;

use super::super::cells;
use super::super::keys::{known_stone, ports};
use super::super::papers::billed;
use super::super::table::{self, Table};
use super::doubts::{doubts, thickness_meant};
use super::nominal::{Nominal, THICKEST_MM, THINNEST_MM, nominal_quantity};
use super::prices::{prices, units_fit};
use super::quality::quality;
use super::sawn::{Offered, SawnLine, asked, said_twice, sawn};
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{Decimal, Length, Price, PricedBy, Rounding, Size, Written};
use crate::trade::{
    BilledUnit, Country, Finish, Line, Measure, MoneyRounding, Pricing, QualityId, Ready, Sawing,
    SideRounding, Tariffs,
};

/// Places of a factor: the exact one is 10.76391 to so many, and areas by it are held exactly.
const FACTOR_PLACES: u32 = 5;

pub(super) fn line(
    row: &Table<'_>,
    invoice: usize,
    invoice_origin: Result<Option<&At<Country>>, Reported>,
    offered: &Offered<'_>,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<(Line, Option<Nominal>), Reported> {
    let id = row.required_text("id", report);
    let stone = row.required_text("stone", report);
    let finish = finish(row, tariffs, report);
    let thickness = row.required::<Length>("thickness", report);
    let priced = prices(row, tariffs, report);
    let own = priced.as_ref().ok().and_then(Option::as_ref).map(|(price, _)| price);
    let measure = row.inside("measure", report).and_then(|inside| match inside {
        Some(inside) => measure(&inside, own, report),
        None => Ok(Measure { unit: usual_unit(own), ..Measure::default() }),
    });
    let quantity = nominal_quantity(row, report);
    let made = match (asked(row, offered, finish.as_ref().ok(), tariffs, report), &thickness) {
        (Ok(None), _) => Ok(None),
        (Ok(Some(asked)), Ok(thickness)) => sawn(asked, thickness, report).map(Some),
        (Err(told), _) => Err(told),
        (_, Err(told)) => Err(*told),
    };
    let (price, pricing, nominal, sawing, of_block) =
        match either(row, priced, quantity, made, report) {
            Ok(Terms { price, pricing, nominal, sawing, quality }) => {
                (Ok(price), Ok(pricing), Ok(nominal), Ok(sawing), quality)
            }
            Err(told) => (Err(told), Err(told), Err(told), Err(told), None),
        };
    let billed = billed(row, price.as_ref().map_err(|told| *told), report);
    let origin = row.optional::<Country>("origin", report);
    let form = row.text("form", report);
    let producer = row.text("producer", report);
    let preference = row.text("preference", report);
    let control = row.date("control", report);
    let ports = ports(row, report);
    let ready = ready(row, report);
    let quality = quality(row, tariffs, report);
    let stone = stone?;
    // A line of a stone that is not known is one all the same, for the slabs of the list.
    let known = known_stone(&stone, tariffs, report);
    let thickness = thickness?;
    let shown = |mm: i64| Length::whole_mm(mm).show(report.units());
    if thickness.mm_down() < THINNEST_MM || thickness.mm_up() > THICKEST_MM {
        let range = format!("{} to {}", shown(THINNEST_MM), shown(THICKEST_MM));
        let message = format!("`thickness` must be {range}");
        let label = thickness_meant(row.text_of("thickness"))
            .unwrap_or_else(|| format!("expected {range}"));
        return Err(
            report.error(Fault::error(Code::OutOfRange, message).at(&thickness.place, label))
        );
    }
    let origin = match origin?.as_ref().or(invoice_origin?) {
        Some(origin) => origin.value.clone(),
        None => known?.origin.clone(),
    };
    let line = Line {
        invoice,
        id: id?.value,
        stone,
        finish: finish?,
        thickness: thickness.value,
        price: price?,
        pricing: pricing?,
        measure: measure?,
        origin,
        form: form?.map(|at| at.value),
        producer: producer?.map(|at| at.value),
        preference: preference?.map(|at| at.value),
        control: control?,
        billed: billed?,
        quality: quality?.map(|at| at.value).or(of_block),
        ports: ports?,
        ready: ready?,
        nominal: nominal.as_ref().is_ok_and(Option::is_some),
        sawing: sawing?,
        block: None,
        place: row.place(),
    };
    units_fit(&line, report);
    if let Ok(stone) = known {
        let written = At { value: row.text_of("thickness"), place: row.place_of("thickness") };
        doubts(&line, &written, stone, tariffs, report);
    }
    if line.price.amount.is_zero() {
        report.add(
            Fault::warning(Code::Notice, format!("line {} is priced at nothing", line.id))
                .at(&line.price.place, "its goods cost nothing")
                .help(
                    "slabs given without charge are named in `free-slabs`, at the line's own price",
                ),
        );
    }
    Ok((line, nominal?))
}

/// What a line is sold at and how much it is: as it says, or as its block is sawn.
struct Terms {
    price: At<Price>,
    pricing: Pricing,
    nominal: Option<Nominal>,
    sawing: Option<Arc<Sawing>>,
    quality: Option<QualityId>,
}

fn either(
    row: &Table<'_>,
    priced: Result<Option<(At<Price>, Pricing)>, Reported>,
    quantity: Result<Option<Nominal>, Reported>,
    made: Result<Option<SawnLine>, Reported>,
    report: &mut Report,
) -> Result<Terms, Reported> {
    let sawn_at = row.place_of("sawn");
    if let (true, Ok(Some((price, _)))) = (row.has("sawn"), &priced) {
        report.add(said_twice("price", &price.place, &sawn_at));
    }
    if let (true, Ok(Some(quantity))) = (row.has("sawn"), &quantity) {
        report.add(said_twice("quantity", quantity.place(), &sawn_at));
    }
    let lacks_price = priced.as_ref().is_ok_and(Option::is_none) && !row.has("sawn");
    if lacks_price {
        return Err(row.missing("price", Price::FORM, report));
    }
    let (made, priced, quantity) = (made?, priced?, quantity?);
    if let Some(SawnLine { sawing, price, nominal, quality }) = made {
        let (nominal, sawing) = (Some(nominal), Some(sawing));
        return Ok(Terms { price, pricing: Pricing::default(), nominal, sawing, quality });
    }
    let (price, pricing) = report.found(priced, "the price of a line")?;
    Ok(Terms { price, pricing, nominal: quantity, sawing: None, quality: None })
}

/// When the goods are ready: a day, or days after the order.
fn ready(row: &Table<'_>, report: &mut Report) -> Result<Option<At<Ready>>, Reported> {
    let day = row.date("ready", report);
    let days = row.count("lead-days", report);
    match (day?, days?) {
        (Some(day), Some(_)) => Err(report.error(
            Fault::error(
                Code::Contradiction,
                "the line is ready on a day, or days after the order",
            )
            .at(&day.place, "a day here, and `lead-days` beside it")
            .help("leave one of the two out"),
        )),
        (Some(day), None) => Ok(Some(day.map(Ready::On))),
        (None, days) => Ok(days.map(|days| days.map(Ready::After))),
    }
}

/// The finish, which is one of the importer's list: another word for it would go to another tariff
/// line without a word.
fn finish(row: &Table<'_>, tariffs: &Tariffs, report: &mut Report) -> Result<Finish, Reported> {
    let name = row.required_text("finish", report)?;
    tariffs.finish(&name).cloned().ok_or_else(|| {
        let known: Vec<&str> = tariffs.finishes.iter().map(|one| one.id.as_str()).collect();
        table::add_unknown("finish", &name, "rates/stones.toml", &known, report)
    })
}

/// The unit an area is billed in where the measure does not say: the price's.
fn usual_unit(price: Option<&At<Price>>) -> BilledUnit {
    match price.map(|price| price.by) {
        Some(PricedBy::Ft2) => BilledUnit::Ft2(None),
        _ => BilledUnit::M2,
    }
}

pub(super) fn measure(
    row: &Table<'_>,
    price: Option<&At<Price>>,
    report: &mut Report,
) -> Result<Measure, Reported> {
    let take_off = row.inside("take-off", report).and_then(|inside| {
        let Some(inside) = inside else { return Ok(None) };
        let length = inside.required::<Length>("length", report);
        let height = inside.required::<Length>("height", report);
        inside.finish(report);
        Ok(Some(Size { length: length?.value, height: height?.value }))
    });
    let step = row.optional::<Length>("side", report);
    let modes = [(Rounding::Down, "down"), (Rounding::Nearest, "nearest")];
    let side_rounding = row.word("side-rounding", &modes, report);
    let order =
        row.word("side-order", &[(true, "before take-off"), (false, "after take-off")], report);
    let factor = row.text("factor", report);
    let unit = row.word("unit", &[(false, "m2"), (true, "ft2")], report);
    let places = row.count("places", report);
    let modes = [(Rounding::Nearest, "nearest"), (Rounding::Down, "down"), (Rounding::Up, "up")];
    let rounding = row.word("rounding", &modes, report);
    let money = [
        (MoneyRounding::Slab, "slab"),
        (MoneyRounding::Line, "line"),
        (MoneyRounding::Invoice, "invoice"),
    ];
    let money = row.word("money", &money, report);
    row.finish(report);
    let (step, side_rounding, order) = (step?, side_rounding?, order?);
    if step.is_none() && (side_rounding.is_some() || order.is_some()) {
        report.add(
            Fault::error(Code::MissingKey, "the rounding of sides lacks its step")
                .at(&row.place(), "`side` is needed here")
                .help("add side = \"1 cm\""),
        );
    }
    let factor = match &factor? {
        None => None,
        Some(text) if text.value == "exact" => None,
        Some(text) => match cells::number(&text.value) {
            Some(factor)
                if factor > Decimal::TEN
                    && factor < Decimal::from(12)
                    && factor.scale() <= FACTOR_PLACES =>
            {
                Some(factor)
            }
            _ => {
                return Err(report.error(
                    Fault::error(
                        Code::BadQuantity,
                        "`factor` is no number of square feet in a square metre",
                    )
                    .at(
                        &text.place,
                        format!(
                            "expected \"exact\" or a number such as \"10.764\", of at most {FACTOR_PLACES} decimals"
                        ),
                    ),
                ));
            }
        },
    };
    let feet = unit?.map_or(usual_unit(price) != BilledUnit::M2, |unit| unit.value);
    let places = places?;
    if places.as_ref().is_some_and(|places| places.value > 6) {
        return Err(report.error(
            Fault::error(Code::OutOfRange, "`places` is more than 6")
                .at(&row.place(), "in this measure"),
        ));
    }
    Ok(Measure {
        take_off: take_off?,
        side: step.map(|step| SideRounding {
            step: step.value,
            rounding: side_rounding.map_or(Rounding::Down, |at| at.value),
            before_take_off: order.is_none_or(|at| at.value),
        }),
        unit: if feet { BilledUnit::Ft2(factor) } else { BilledUnit::M2 },
        places: places.map(|at| at.value),
        rounding: rounding?.map_or(Rounding::Nearest, |at| at.value),
        money: money?.map_or(MoneyRounding::Line, |at| at.value),
    })
}
