//! The price of a line: one, or several by quantity, and what is added to it.

use super::super::keys::each;
use super::super::table::Table;
use super::quality::quality;
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{Ordered, Price, PricedBy, grouped};
use crate::trade::{
    Applies, BilledUnit, Counting, Extra, Line, Pricing, QualityId, QualityPrice, Shipment, Slab,
    Step, Tariffs,
};

/// Reads `price`, with its steps and qualities, and the `extra`s beside it. `None`: there is no price.
pub(super) fn prices(
    row: &Table<'_>,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<Option<(At<Price>, Pricing)>, Reported> {
    let listed = if row.holds_list("price") {
        listed(row, tariffs, report).map(Some)
    } else {
        let price = row.optional::<Price>("price", report);
        price.map(|price| price.map(|price| (price, Pricing::default())))
    };
    let counted = row.word("counted", &Counting::ALL, report);
    let applies = row.word("applies", &Applies::ALL, report);
    let extras = each(row, "extra", report, |one, report| {
        let name = one.required_text("name", report);
        let price = one.required::<Price>("price", report);
        Ok(Extra { name: name?.value, price: price? })
    });
    let (listed, counted, applies, extras) = (listed?, counted?, applies?, extras?);
    let Some((price, listed)) = listed else { return Ok(None) };
    let pricing = Pricing {
        counted: counted.as_ref().map_or(Counting::Line, |at| at.value),
        applies: applies.as_ref().map_or(Applies::Whole, |at| at.value),
        extras,
        ..listed
    };
    if pricing.all_steps().next().is_none() {
        let stray = counted.as_ref().map(|at| (&at.place, "counted"));
        let stray = stray.or(applies.as_ref().map(|at| (&at.place, "applies")));
        if let Some((place, key)) = stray {
            report.add(
                Fault::error(Code::Contradiction, format!("`{key}` is for a price with steps"))
                    .at(place, "of which steps?")
                    .also(&price.place, "the price")
                    .help(STEPS),
            );
        }
    }
    one_unit(&price, &pricing, report)?;
    Ok(Some((price, pricing)))
}

/// How a price with steps is written.
const STEPS: &str = "a price with steps is price = [{ price = \"46.00 EUR/m2\" }, { from = \"200 m2\", price = \"44.50 EUR/m2\" }]";

/// The prices of one quality, or of all: the first, and its steps.
struct Listed {
    quality: Option<At<QualityId>>,
    price: At<Price>,
    steps: Vec<Step>,
}

/// Reads a price that is a list. The first price of each quality has no `from`, each further one has.
fn listed(
    row: &Table<'_>,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<(At<Price>, Pricing), Reported> {
    let rows = row.rows("price", report)?;
    let mut all: Vec<Listed> = Vec::new();
    let mut sound = Ok(());
    for one in &rows {
        let price = one.required::<Price>("price", report);
        let from = one.optional::<Ordered>("from", report);
        let quality = quality(one, tariffs, report);
        one.finish(report);
        let (price, from, quality) = match (price, from, quality) {
            (Ok(price), Ok(from), Ok(quality)) => (price, from, quality),
            (Err(told), ..) | (_, Err(told), _) | (.., Err(told)) => {
                sound = Err(told);
                continue;
            }
        };
        let word = |quality: &Option<At<QualityId>>| quality.as_ref().map(|at| at.value.clone());
        let known = all.iter().position(|known| word(&known.quality) == word(&quality));
        if let Some(first) =
            all.first().filter(|first| first.quality.is_some() != quality.is_some())
        {
            sound = Err(report.error(
                Fault::error(Code::MissingKey, "a price by quality lacks its quality")
                    .at(&one.place(), "this price")
                    .also(&first.price.place, "the first price")
                    .help("name the `quality` of each price, or of none"),
            ));
            continue;
        }
        match (known.and_then(|at| all.get_mut(at)), from) {
            (None, None) => all.push(Listed { quality, price, steps: Vec::new() }),
            (None, Some(from)) => {
                sound = Err(report.error(
                    Fault::error(Code::Contradiction, "the first price of a list has no `from`")
                        .at(&from.place, "below this quantity there is no price")
                        .help(
                            "delete `from` here; for a least order write `least` under [[invoice]]",
                        ),
                ));
            }
            (Some(_), None) => {
                sound = Err(report.error(
                    Fault::error(Code::MissingKey, "a further price lacks its `from`")
                        .at(&one.place(), "from which quantity on?")
                        .help(STEPS),
                ));
            }
            (Some(known), Some(from)) => {
                if let Some(last) = known.steps.last() {
                    sound = rises(last, &from, report).and(sound);
                }
                known.steps.push(Step { from, price });
            }
        }
    }
    sound?;
    let Some(first) = all.first() else {
        return Err(report.error(
            Fault::error(Code::MissingKey, "`price` lists no price")
                .at(&row.place_of("price"), "expected one or more")
                .help(STEPS),
        ));
    };
    let price = first.price.clone();
    if first.quality.is_none() {
        let steps = all.into_iter().next().map(|one| one.steps);
        return Ok((price, Pricing { steps: steps.unwrap_or_default(), ..Pricing::default() }));
    }
    let by_quality = all.into_iter().filter_map(|Listed { quality, price, steps }| {
        Some(QualityPrice { quality: quality?, price, steps })
    });
    Ok((price, Pricing { qualities: by_quality.collect(), ..Pricing::default() }))
}

/// Each step begins at a larger quantity than the one before, in the same unit.
fn rises(last: &Step, from: &At<Ordered>, report: &mut Report) -> Result<(), Reported> {
    let (code, message) = if last.from.by != from.by {
        (Code::Contradiction, "the steps of a price count different units")
    } else if last.from.figure >= from.figure {
        (Code::OutOfRange, "the steps of a price do not rise")
    } else {
        return Ok(());
    };
    Err(report.error(
        Fault::error(code, message)
            .at(&from.place, "this step")
            .also(&last.from.place, "the one before")
            .help("list them from the least quantity to the most, in one unit"),
    ))
}

/// All prices of a line are per one unit, and extras per a unit that each slab has.
fn one_unit(price: &At<Price>, pricing: &Pricing, report: &mut Report) -> Result<(), Reported> {
    let mut sound = Ok(());
    let qualities = pricing.qualities.iter().map(|one| &one.price);
    for other in qualities.chain(pricing.all_steps().map(|step| &step.price)) {
        if other.by != price.by {
            sound = Err(report.error(
                Fault::error(Code::Contradiction, "the prices of a line are per different units")
                    .at(&other.place, format!("per {}", other.by.word()))
                    .also(&price.place, format!("per {}", price.by.word()))
                    .help(
                        "give the goods priced per another unit an [[invoice.line]] of their own",
                    ),
            ));
        }
    }
    if let Some(one) = pricing.qualities.first().filter(|_| !price.by.is_by_the_slab()) {
        let message = format!("a price for the {} is not by quality", price.by.word());
        sound = Err(report.error(
            Fault::error(Code::Contradiction, message)
                .at(&one.quality.place, "a quality")
                .help("price it per m2, ft2, m3, t or slab, or have a line for each quality"),
        ));
    }
    let mut unit: Option<&Step> = None;
    for step in pricing.all_steps() {
        if let Some(first) = unit.filter(|first| first.from.by != step.from.by) {
            sound = rises(first, &step.from, report).and(sound);
        }
        unit = unit.or(Some(step));
        if pricing.applies == Applies::PartAbove && step.from.by != price.by {
            let message = "steps with applies = \"part above\" count in the unit of the price";
            sound = Err(report.error(
                Fault::error(Code::Contradiction, message)
                    .at(&step.from.place, format!("counts {}", step.from.by.word()))
                    .also(&price.place, format!("per {}", price.by.word())),
            ));
        }
        if price.by == PricedBy::Lot {
            sound = Err(report.error(
                Fault::error(Code::Contradiction, "one price for the lot has no steps")
                    .at(&step.from.place, "a step")
                    .also(&price.place, "the price of the lot"),
            ));
        }
    }
    for extra in &pricing.extras {
        if !extra.price.by.is_by_the_slab() {
            sound = Err(report.error(
                Fault::error(Code::Contradiction, format!("\"{}\" is an amount for the {}", extra.name, extra.price.by.word()))
                    .at(&extra.price.place, "expected a price per m2, ft2, m3, t or slab")
                    .help("write a sum for the whole line as an [[invoice.line]] of its own, or as `packing` of the invoice"),
            ));
        }
    }
    sound
}

/// A price or a quantity in square metres needs an area billed in square metres, and feet need feet.
pub(super) fn units_fit(line: &Line, report: &mut Report) {
    let feet = matches!(line.measure.unit, BilledUnit::Ft2(_));
    let is_wrong = |by: PricedBy| match by {
        PricedBy::M2 | PricedBy::M3 => feet,
        PricedBy::Ft2 => !feet,
        _ => false,
    };
    let unit = if feet { "ft2" } else { "m2" };
    if let Some(price) = line.prices().find(|price| is_wrong(price.by)) {
        report.add(
            Fault::error(
                Code::Contradiction,
                format!(
                    "line {} is priced per {} and measured in {unit}",
                    line.id,
                    price.by.word()
                ),
            )
            .at(&price.place, "the price")
            .help(match price.by {
                PricedBy::M3 => "a volume is an area in m2 times the thickness: leave `unit` out",
                _ => "take `unit` out of `measure`: the unit of the price serves",
            }),
        );
    } else if let Some(step) = line.pricing.all_steps().find(|step| is_wrong(step.from.by)) {
        report.add(
            Fault::error(
                Code::Contradiction,
                format!(
                    "a step of line {} is in {}, and the line is measured in {unit}",
                    line.id,
                    step.from.by.word()
                ),
            )
            .at(&step.from.place, "the step"),
        );
    }
}

/// Where the quantity of a whole invoice counts, all of its lines have one in the unit of the step.
pub(super) fn counted_together(lines: &[Line], invoice: usize, report: &mut Report) {
    let own = || lines.iter().filter(|line| line.invoice == invoice);
    let counted = own().filter(|line| line.pricing.counted == Counting::Invoice);
    let steps = counted.filter_map(|line| line.pricing.all_steps().next());
    for step in steps {
        let in_feet = match step.from.by {
            PricedBy::M2 | PricedBy::M3 => false,
            PricedBy::Ft2 => true,
            _ => continue,
        };
        let other = |line: &&Line| matches!(line.measure.unit, BilledUnit::Ft2(_)) != in_feet;
        if let Some(other) = own().find(other) {
            let message = format!(
                "the step counts {} of the whole invoice, and line {} is measured in another unit",
                step.from.by.word(),
                other.id
            );
            report.add(
                Fault::error(Code::Contradiction, message)
                    .at(&step.from.place, "the step")
                    .also(&other.price.place, "the price of that line")
                    .help("count by the line, or give the steps in t, slabs or bundles"),
            );
        }
    }
}

/// Where a line is priced by quality, each of its slabs has one with a price.
pub(super) fn every_quality_has_a_price(shipment: &Shipment, report: &mut Report) {
    for (at, line) in shipment.lines.iter().enumerate() {
        let qualities = &line.pricing.qualities;
        let Some(first) = qualities.first() else { continue };
        let own = shipment.slabs.iter().filter(|slab| usize::try_from(slab.line) == Ok(at));
        let has_price = |slab: &Slab| {
            qualities.iter().any(|one| slab.quality.as_ref() == Some(&one.quality.value))
        };
        let mut without = own.filter(|slab| !has_price(slab));
        let Some(slab) = without.next() else { continue };
        let quality = &slab.quality;
        let more = match without.count() {
            0 => String::new(),
            more => format!(" (and {} more)", grouped(more.into())),
        };
        let (slab, line) = (&slab.id, &line.id);
        let message = match quality {
            Some(quality) => {
                format!("line {line} has no price for quality \"{quality}\" of slab {slab}{more}")
            }
            None => format!("line {line} is priced by quality, and slab {slab} has none{more}"),
        };
        report.add(
            Fault::error(Code::UnknownReference, message)
                .at(&first.price.place, "the first price")
                .help(
                    "state its `quality` in the packing list or on the line, or add a price for it",
                ),
        );
    }
}
