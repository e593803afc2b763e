//! `[[invoice.block]]` and `sawn` of a line: blocks of a quarry, and the slabs that works make of them.

use std::sync::Arc;

use super::super::keys::each;
use super::super::table::{self, Table};
use super::nominal::Nominal;
use super::quality::quality;
use crate::fault::{At, Code, Fault, Place, Report, Reported, gathered};
use crate::quantity::{BlockSize, Length, Mass, Percent, Price, PricedBy, Rounding, Units};
use crate::trade::{
    BilledBlock, Block, BlockBill, CannotSaw, Date, Finish, Line, Lookup, Pricing, QualityId,
    QuarryAllowance, SawMethod, Sawing, Tariffs, Through, Work, WorkStep, in_force,
};

/// A block of one invoice of the file.
pub(super) struct Bought {
    block: Block,
    /// The invoice that bills it.
    invoice: usize,
    quality: Option<QualityId>,
    place: Place,
}

/// Reads the blocks of an invoice.
pub(super) fn blocks(
    row: &Table<'_>,
    invoice: usize,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<Vec<Bought>, Reported> {
    each(row, "block", report, |row, report| {
        let id = row.required_text("id", report);
        let size = row.required::<BlockSize>("size", report);
        let price = row.required::<Price>("price", report);
        let allowance = allowance(row, report);
        let places = row.count("places", report);
        let modes =
            [(Rounding::Nearest, "nearest"), (Rounding::Down, "down"), (Rounding::Up, "up")];
        let rounding = row.word("rounding", &modes, report);
        let weighed = row.optional::<Mass>("weighed", report);
        let quality = quality(row, tariffs, report);
        let (id, size, price) = (id?.value, size?, price?);
        if size.sides().into_iter().any(Length::is_none) {
            return Err(report.error(
                Fault::error(Code::OutOfRange, "a side of a block must be above 0")
                    .at(&size.place, "expected three sides")
                    .help("write the gross sides, such as size = \"290 x 190 x 180 cm\""),
            ));
        }
        let (allowance, places, rounding, weighed) = (allowance?, places?, rounding?, weighed?);
        if let Some(places) = places.as_ref().filter(|places| places.value > 6) {
            return Err(report.error(
                Fault::error(Code::OutOfRange, "`places` is more than 6")
                    .at(&places.place, "expected 0 to 6 places of a cubic metre"),
            ));
        }
        let bill = match (price.by, weighed) {
            (PricedBy::M3, None) => {
                if let (Some(rounding), None) = (&rounding, &places) {
                    report.add(
                        Fault::error(Code::MissingKey, "the rounding of a volume lacks its places")
                            .at(&rounding.place, "to how many places of a cubic metre?")
                            .help("add places = 2"),
                    );
                }
                BlockBill::Volume {
                    allowance: allowance.as_ref().map(|at| at.value),
                    places: places.map(|at| at.value),
                    rounding: rounding.map_or(Rounding::Nearest, |at| at.value),
                }
            }
            (PricedBy::Tonne, Some(mass)) => BlockBill::Weighed(mass.value),
            (PricedBy::Tonne, None) => {
                return Err(report.error(
                    Fault::error(Code::MissingKey, "a block priced by the tonne lacks its mass")
                        .at(&price.place, "how many tonnes are billed?")
                        .help("add what the scale says, such as weighed = \"26.4 t\""),
                ));
            }
            (PricedBy::M3, Some(mass)) => {
                return Err(report.error(
                    Fault::error(Code::Contradiction, "a block priced by volume is not weighed")
                        .at(&mass.place, "this mass bills nothing")
                        .also(&price.place, "the price")
                        .help("leave `weighed` out, or price the block per t"),
                ));
            }
            (by, _) => {
                return Err(report.error(
                    Fault::error(
                        Code::OutOfRange,
                        format!("a block is not priced per {}", by.word()),
                    )
                    .at(&price.place, "expected a price per m3 or per t")
                    .help("slabs priced by area are an [[invoice.line]]"),
                ));
            }
        };
        let block = Block { id, size, bill, price };
        let billed = block.billed();
        let billed = report.fits(billed, &block.size.place)?;
        let off = allowance.as_ref().map_or(&block.size.place, |at| &at.place);
        // Two sides below nothing make a volume above it.
        let sides = match &allowance {
            Some(At { value: QuarryAllowance::Sides(off), .. }) => block.size.less(*off),
            _ => Ok(block.size.value),
        };
        let sides = report.fits(sides, off)?;
        if billed.figure.is_zero() || sides.sides().into_iter().any(Length::is_none) {
            return Err(report.error(
                Fault::error(Code::OutOfRange, format!("nothing is billed of block {}", block.id))
                    .at(off, "nothing is left")
                    .help("correct the sides, the allowance or the mass"),
            ));
        }
        Ok(Bought { block, invoice, quality: quality?.map(|at| at.value), place: row.place() })
    })
}

/// `allowance = "5 x 3 x 3 cm"`, or a percentage of the volume.
fn allowance(
    row: &Table<'_>,
    report: &mut Report,
) -> Result<Option<At<QuarryAllowance>>, Reported> {
    row.no_bare_percentage("allowance", ", or what comes off the three sides", report)?;
    let Some(text) = row.text("allowance", report)? else { return Ok(None) };
    if !text.value.trim_end().ends_with('%') {
        let sides = row.required::<BlockSize>("allowance", report)?;
        return Ok(Some(sides.map(QuarryAllowance::Sides)));
    }
    let percent = row.required::<Percent>("allowance", report)?;
    if percent.hundredths() >= Percent::ZERO.complement().hundredths() {
        return Err(report.error(
            Fault::error(Code::OutOfRange, "`allowance` must be below 100 %")
                .at(&percent.place, "nothing is left to be billed"),
        ));
    }
    Ok(Some(percent.map(QuarryAllowance::Percent)))
}

/// What a line says of its sawing, once it is done: the price of the works, and the slabs.
pub(super) struct SawnLine {
    pub(super) sawing: Arc<Sawing>,
    pub(super) price: At<Price>,
    pub(super) nominal: Nominal,
    pub(super) quality: Option<QualityId>,
}

/// What the shipment has for its sawn lines.
pub(super) struct Offered<'b> {
    /// The blocks of all invoices.
    pub(super) blocks: &'b [Bought],
    /// Whether all could be read.
    pub(super) all_blocks: Result<(), Reported>,
    /// The day of the calculation, where it could be read.
    pub(super) quoted: Option<Date>,
}

/// Saws the block of a line.
pub(super) fn sawn(
    asked: Asked<'_>,
    thickness: &At<Length>,
    report: &mut Report,
) -> Result<SawnLine, Reported> {
    let Asked { bought, through, method, steps, squaring, outer_is_waste, place } = asked;
    let sawing = Sawing {
        block: bought.block.clone(),
        through,
        squaring,
        outer_is_waste,
        method: method.value.clone(),
        steps,
        thickness: thickness.value,
    };
    let cut = match sawing.cut() {
        Ok(cut) => cut,
        Err(cannot) => {
            let told = cannot_be_sawn(&sawing, &cannot, (thickness, &method.place), report.units());
            return Err(report.error(told));
        }
    };
    if let Some(other) = cut.steps.iter().find(|step| step.price.currency != currency(&sawing)) {
        return Err(report.error(
            Fault::error(
                Code::Contradiction,
                format!("\"{}\" and the saw are priced in two currencies", other.name),
            )
            .at(&method.place, "one invoice is in one currency")
            .also(&sawing.method.step.place, "the saw")
            .help("state the prices of one works in one currency"),
        ));
    }
    let works = report.fits(cut.works(), &method.place)?;
    let price = lot(works.amount(), &sawing, &method.place);
    Ok(SawnLine {
        price,
        nominal: Nominal::Slabs { slabs: cut.slabs, size: cut.size, place },
        quality: bought.quality.clone(),
        sawing: Arc::new(sawing),
    })
}

fn currency(sawing: &Sawing) -> crate::quantity::Currency {
    sawing.method.step.price.currency
}

/// The price of the works for all that it does to one block.
fn lot(amount: crate::quantity::Decimal, sawing: &Sawing, place: &Place) -> At<Price> {
    let value = Price { amount, currency: currency(sawing), by: PricedBy::Lot };
    At { value, place: place.clone() }
}

/// What a `sawn` table says.
pub(super) struct Asked<'b> {
    bought: &'b Bought,
    through: At<Through>,
    method: At<SawMethod>,
    steps: Vec<WorkStep>,
    squaring: Option<BlockSize>,
    outer_is_waste: bool,
    place: Place,
}

/// Reads `sawn` of a line; `finish` is that of its slabs, where it is known.
pub(super) fn asked<'b>(
    row: &Table<'_>,
    offered: &Offered<'b>,
    finish: Option<&Finish>,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<Option<Asked<'b>>, Reported> {
    let Some(inside) = row.inside("sawn", report)? else { return Ok(None) };
    let asked = inside_of(&inside, offered, tariffs, report);
    let lacks_steps = asked.as_ref().is_ok_and(|asked| asked.steps.is_empty());
    let is_worked = finish.is_some_and(|finish| finish.faces == Work::Further);
    let told = (lacks_steps && is_worked).then(|| {
        let fault = Fault::error(Code::MissingKey, "the slabs are worked further than sawn, and no step follows the saw")
            .at(&inside.place(), "`steps` is needed here")
            .help("name the steps in their order, such as steps = [\"resin\", \"polish\"], or a finish that is sawn");
        inside.lacks(&["steps"], fault, report)
    });
    inside.finish(report);
    if let (Ok(asked), Some(finish)) = (&asked, finish) {
        doubt_last_step(asked, finish, &inside.place_of("steps"), tariffs, report);
    }
    told.map_or(asked.map(Some), Err)
}

/// Asks about a last step that is called like another finish than the line's: `polish`, for honed slabs.
fn doubt_last_step(
    asked: &Asked<'_>,
    finish: &Finish,
    place: &Place,
    tariffs: &Tariffs,
    report: &mut Report,
) {
    let Some(last) = asked.steps.last() else { return };
    // A step says what is done, a finish what has been done.
    let is_made = |finish: &&Finish| finish.id.starts_with(&last.name);
    let Some(other) = tariffs.finishes.iter().find(is_made).filter(|_| !is_made(&finish)) else {
        return;
    };
    let message = format!("the slabs are {}, and \"{}\" is done to them last", finish, last.name);
    report.add(
        Fault::warning(Code::Contradiction, message)
            .at(place, format!("this makes them {other}"))
            .also(&finish.place, "the finish of the line")
            .help(format!("correct `finish` of the line, or its last step: finish = \"{other}\"?")),
    );
}

fn inside_of<'b>(
    row: &Table<'_>,
    offered: &Offered<'b>,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<Asked<'b>, Reported> {
    let block = row.required_text("block", report);
    let through = row.required_word("through", &Through::ALL, report);
    let method = row.required_text("method", report);
    let offer = row.text("offer", report);
    let steps = row.texts("steps", report);
    let squaring = row.optional::<BlockSize>("squaring", report);
    let outer = row.word("outer", &[(true, "waste"), (false, "slabs")], report);
    let offer = offer?;
    let method = method.and_then(|name| {
        let found = the_method(&name, offer.as_ref(), (tariffs, offered.quoted), report);
        Ok(At { value: found?.clone(), place: name.place })
    });
    let steps = steps.and_then(|steps| {
        let method = method.as_ref().map_err(|told| *told)?;
        let found = steps
            .iter()
            .map(|name| the_step(name, method, (tariffs, offered.quoted), report).cloned());
        gathered(found)
    });
    let bought = block.and_then(|name| {
        let found = offered.blocks.iter().find(|one| one.block.id == name.value);
        found.ok_or_else(|| match offered.all_blocks {
            Ok(()) => {
                let known: Vec<&str> =
                    offered.blocks.iter().map(|one| one.block.id.as_str()).collect();
                report.error(table::unknown_reference("block", &name, "this shipment", &known))
            }
            Err(told) => told,
        })
    });
    Ok(Asked {
        bought: bought?,
        through: through?,
        method: method?,
        steps: steps?,
        squaring: squaring?.map(|at| at.value),
        outer_is_waste: outer?.is_some_and(|at| at.value),
        place: row.place(),
    })
}

/// The row of rates/sawing.toml that is in force.
fn serving<'t, T>(
    (what, name): (&str, &At<String>),
    rows: Vec<&'t T>,
    (known, quoted): (&[&str], Option<Date>),
    step: fn(&T) -> &WorkStep,
    report: &mut Report,
) -> Result<&'t T, Reported> {
    let date = quoted.or_else(|| rows.first().map(|row| step(row).valid.from));
    let lookup = match date {
        Some(date) => in_force(rows.iter().copied(), |row| step(row).valid, date),
        None => Lookup::Missing,
    };
    let (code, message, rows) = match lookup {
        Lookup::Found(row) => return Ok(row),
        Lookup::Missing => {
            return Err(table::add_unknown(what, name, "rates/sawing.toml", known, report));
        }
        Lookup::Several(rows) => {
            (Code::AmbiguousRate, format!("two rows have the {what} \"{}\"", name.value), rows)
        }
        Lookup::Lapsed(rows) => {
            let date = date.map_or_else(String::new, |date| format!(" on {date}"));
            (Code::LapsedRate, format!("no {what} \"{}\" is in force{date}", name.value), rows)
        }
    };
    let mut fault = Fault::error(code, message).at(&name.place, "asked for here");
    for row in rows.iter().take(2) {
        let valid = step(row).valid;
        fault = fault.also(&step(row).place, format!("in force {valid}"));
    }
    Err(report.error(fault.help(match code {
        Code::AmbiguousRate => {
            "name the works, such as offer = \"works-5\", or correct `valid` of one row"
        }
        _ => "ask the works for prices of that day, and write them as a row of their own",
    })))
}

fn the_method<'t>(
    name: &At<String>,
    offer: Option<&At<String>>,
    (tariffs, quoted): (&'t Tariffs, Option<Date>),
    report: &mut Report,
) -> Result<&'t SawMethod, Reported> {
    let is_of = |row: &&SawMethod| {
        offer.is_none_or(|offer| row.step.offer.as_deref() == Some(offer.value.as_str()))
    };
    let own: Vec<&SawMethod> = tariffs.methods.iter().filter(is_of).collect();
    if let Some(offer) = offer.filter(|_| own.is_empty()) {
        let known: Vec<&str> =
            tariffs.methods.iter().filter_map(|row| row.step.offer.as_deref()).collect();
        return Err(table::add_unknown("offer", offer, "rates/sawing.toml", &known, report));
    }
    let known: Vec<&str> = own.iter().map(|row| row.step.name.as_str()).collect();
    let rows = own.iter().copied().filter(|row| row.step.name == name.value).collect();
    serving(("method", name), rows, (&known, quoted), |row| &row.step, report)
}

/// A step of the works that saw.
fn the_step<'t>(
    name: &At<String>,
    method: &SawMethod,
    (tariffs, quoted): (&'t Tariffs, Option<Date>),
    report: &mut Report,
) -> Result<&'t WorkStep, Reported> {
    let own = || tariffs.work_steps.iter().filter(|row| row.offer == method.step.offer);
    let known: Vec<&str> = own().map(|row| row.name.as_str()).collect();
    let rows = own().filter(|row| row.name == name.value).collect();
    serving(("step", name), rows, (&known, quoted), |row| row, report)
}

/// Why a block makes no slab, at the place that can be changed.
fn cannot_be_sawn(
    sawing: &Sawing,
    cannot: &CannotSaw,
    (thickness, method): (&At<Length>, &Place),
    units: Units,
) -> Fault {
    let (block, saw) = (&sawing.block, &sawing.method);
    let code = match cannot {
        CannotSaw::Overflow(_) => Code::Overflow,
        _ => Code::OutOfRange,
    };
    let why = cannot.why(units);
    let fault = Fault::error(code, format!("block {} cannot be sawn: {why}", block.id))
        .at(&block.size.place, format!("sawn through its {}", sawing.through.value));
    match cannot {
        CannotSaw::Squared => fault.help("squaring is what comes off each side of the block"),
        CannotSaw::Thin(_) => fault
            .also(&thickness.place, format!("slabs of {}", thickness.show(units)))
            .help(format!(
                "a slab takes {}{}; correct the sides, the thickness, or `through`",
                thickness.show(units),
                if sawing.outer_is_waste { ", and the two outer ones are waste" } else { "" }
            )),
        CannotSaw::Wide(..) | CannotSaw::Long(..) => fault
            .also(&saw.step.place, format!("\"{}\"", saw.step.name))
            .help("name another `method`, or turn the block: `through` is length, width or height"),
        CannotSaw::AllLost => fault
            .also(method, "by this method and its steps")
            .help("look at the `loss` of each step in rates/sawing.toml"),
        CannotSaw::Overflow(_) => fault,
    }
}

/// The lines of the blocks: each bills the slabs of the line that saws it.
pub(super) fn block_lines(
    bought: Vec<Bought>,
    (lines, all_lines): (&[Line], Result<(), Reported>),
    report: &mut Report,
) -> Vec<Line> {
    let mut all: Vec<Line> = Vec::new();
    for Bought { block, invoice, quality, place } in bought {
        let is_of = |(_, line): &(usize, &Line)| {
            line.sawing.as_ref().is_some_and(|sawing| sawing.block.id == block.id)
        };
        let mut own = lines.iter().enumerate().filter(is_of);
        let Some((at, line)) = own.next() else {
            if all_lines.is_ok() {
                report.add(
                    Fault::error(Code::MissingKey, format!("no line saws block {}", block.id))
                        .at(&place, "its slabs are nowhere")
                        .help(format!(
                            "write sawn = {{ block = \"{}\", through = \"width\", method = \"...\" }} under an [[invoice.line]] of the works",
                            block.id
                        )),
                );
            }
            continue;
        };
        if let Some((_, other)) = own.next() {
            report.add(
                Fault::error(Code::Duplicate, format!("two lines saw block {}", block.id))
                    .at(&other.place, "again here")
                    .also(&line.place, "first here")
                    .help("a block is sawn once: divide it into two blocks, each with its sides"),
            );
        }
        let known = lines.iter().chain(&all).find(|one| one.id == block.id);
        if let Some(known) = known {
            let message = format!("two lines are called \"{}\"", block.id);
            report.add(
                Fault::error(Code::Duplicate, message)
                    .at(&place, "again here")
                    .also(&known.place, "first here")
                    .help("a block is a line of its invoice: give one of them another `id`"),
            );
        }
        let Ok(billed) = report.fits(block.billed(), &place) else { continue };
        all.push(Line {
            invoice,
            id: block.id.clone(),
            price: block.price.clone(),
            pricing: Pricing::default(),
            billed: None,
            quality: quality.or_else(|| line.quality.clone()),
            sawing: None,
            block: Some(BilledBlock { sawn_by: at, quantity: billed.figure }),
            place,
            ..line.clone()
        });
    }
    all
}

/// A line's own price or quantity beside `sawn`, which says both.
pub(super) fn said_twice(key: &str, place: &Place, sawn: &Place) -> Fault {
    Fault::error(Code::Contradiction, format!("`{key}` stands beside `sawn`, which says it"))
        .at(place, "again here")
        .also(sawn, "the block, and how it is sawn")
        .help(format!(
            "leave `{key}` out: works are paid by rates/sawing.toml, and slabs are counted"
        ))
}
