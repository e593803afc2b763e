//! Possible, but doubtful: a price far from the stone's usual, a slab as thick as a block, an entry
//! without a fee that every entry bears.

use std::collections::BTreeSet;

use chrono::Datelike as _;

use super::super::packing::THICK_MM;
use smol_str::SmolStr;

use crate::fault::{At, Code, Fault, Report};
use crate::quantity::{Area, Currency, Decimal, Length, Price, PricedBy, ratio};
use crate::trade::{Dates, Line, Lookup, PaymentDay, Shipment, Stone, Tariffs};

/// Asks about what is hardly meant. Nothing is refused.
pub(super) fn doubts(
    line: &Line,
    thickness: &At<&str>,
    stone: &Stone,
    tariffs: &Tariffs,
    report: &mut Report,
) {
    let units = report.units();
    let shown = |mm: i64| Length::whole_mm(mm).show(units);
    if line.thickness.mm_up() > THICK_MM {
        let message = format!("slabs of line {} are {} thick", line.id, line.thickness.show(units));
        let label = thickness_meant(thickness.value);
        report.add(
            Fault::warning(Code::OutOfRange, message)
                .at(
                    &thickness.place,
                    label.unwrap_or_else(|| "is the unit of `thickness` right?".to_owned()),
                )
                .help(format!(
                    "slabs are sawn at {} to {}; thicker ones weigh, and cost, accordingly",
                    shown(10),
                    shown(60)
                )),
        );
    }
    for price in line.prices_of_goods() {
        doubt_price(price, line, stone, tariffs, report);
    }
}

/// Asks about a price far from what the stone usually costs.
fn doubt_price(
    price: &At<Price>,
    line: &Line,
    stone: &Stone,
    tariffs: &Tariffs,
    report: &mut Report,
) {
    let Some((least, most)) = &stone.usual_price else { return };
    if is_unusual(price, line, stone, tariffs) != Some(true) {
        return;
    }
    let message = format!("line {} is priced at {}", line.id, **price);
    let swapped = Price {
        by: if price.by == PricedBy::M2 { PricedBy::Ft2 } else { PricedBy::M2 },
        ..price.value
    };
    let is_slip = matches!(price.by, PricedBy::M2 | PricedBy::Ft2)
        && is_unusual(&swapped, line, stone, tariffs) == Some(false);
    let help = if is_slip {
        format!("is \"{swapped}\" meant? if the price is right, widen `usual-price`")
    } else {
        "look at the point, the unit and the currency of the price; if it is right, widen `usual-price`"
            .to_owned()
    };
    report.add(
        Fault::warning(Code::OutOfRange, message)
            .at(&price.place, format!("\"{}\" usually costs {least} to {most}", stone.id))
            .also(&stone.place, "its `usual-price`")
            .help(help),
    );
}

/// Asks about a price by the slab, bundle or lot whose price per area is not usual for the stone. It needs the
/// areas of the slabs, so it is asked once those are known.
pub(super) fn doubt_counted_prices(shipment: &Shipment, tariffs: &Tariffs, report: &mut Report) {
    // What a block costs and what sawing it costs are no price of slabs.
    let priced = shipment.lines.iter().enumerate().filter(|(_, line)| line.sawing.is_none());
    for (at, line) in priced {
        let known = tariffs.stone(&line.stone).and_then(|stone| Some((stone, stone.usual_price?)));
        let Some((stone, (least, most))) = known else { continue };
        let own = || shipment.slabs.iter().filter(move |slab| usize::try_from(slab.line) == Ok(at));
        let count = match line.price.by {
            PricedBy::Slab => own().count(),
            PricedBy::Bundle => own().map(|slab| slab.bundle).collect::<BTreeSet<_>>().len(),
            PricedBy::Lot => 1,
            _ => continue,
        };
        let per_m2 = || {
            let area = Area::total(own().map(|slab| slab.billed_area)).ok()?.to_m2(6);
            let all = line.price.amount.checked_mul(Decimal::from(count))?;
            ratio(all, area, 2)
        };
        let Some(amount) = per_m2() else { continue };
        let price = Price { amount, by: PricedBy::M2, ..line.price.value };
        if is_unusual(&price, line, stone, tariffs) != Some(true) {
            continue;
        }
        let meant = Price { by: PricedBy::M2, ..line.price.value };
        let is_slip = is_unusual(&meant, line, stone, tariffs) == Some(false);
        let help = if is_slip { format!("is \"{meant}\" meant? ") } else { String::new() };
        let message = format!("line {} is priced at {}: that is {price}", line.id, *line.price);
        report.add(
            Fault::warning(Code::OutOfRange, message)
                .at(&line.price.place, format!("\"{}\" usually costs {least} to {most}", stone.id))
                .also(&stone.place, "its `usual-price`")
                .help(format!("{help}if the price is right, widen `usual-price`")),
        );
    }
}

/// So many days before the offer nobody pays for it (a choice of ours).
const LONG_BEFORE: i64 = 200;

/// Asks about a payment long before the offer: its year is most likely the one before.
pub(super) fn doubt_payments(shipment: &Shipment, report: &mut Report) {
    let quoted = shipment.dates.quoted;
    for payment in shipment.invoices.iter().flat_map(|invoice| &invoice.payments) {
        let PaymentDay::On(day) = payment.day else { continue };
        if (quoted - day).num_days() < LONG_BEFORE {
            continue;
        }
        let meant = day.with_year(quoted.year()).or_else(|| quoted.succ_opt());
        let label = meant.map_or_else(String::new, |meant| format!("is on = {meant} meant?"));
        let message = format!("\"{}\" is paid on {day}, and `quoted` is {quoted}", payment.name);
        report.add(
            Fault::warning(Code::OutOfRange, message)
                .at(&payment.place, label)
                .help("look at the year; a payment this long before the offer needs a rate of exchange of its day"),
        );
    }
}

/// Asks about goods that are ready after their ship has sailed, and about a block that becomes the importer's
/// after its slabs have arrived.
pub(super) fn doubt_days(shipment: &Shipment, report: &mut Report) {
    let Dates { quoted, sails, arrives, .. } = shipment.dates;
    for line in &shipment.lines {
        let ready = line.ready.as_ref().and_then(|at| Some((at, at.day(quoted)?)));
        if let Some((at, day)) = ready.filter(|(_, day)| *day > sails) {
            let message =
                format!("line {} is ready on {day}, and the ship sails on {sails}", line.id);
            report
                .add(Fault::warning(Code::OutOfRange, message).at(&at.place, "after `sails`").help(
                format!(
                    "correct one of the two days, or see which ship takes it: quaystone routes {}",
                    shipment.name
                ),
            ));
        }
        let control = shipment.control(line, None).filter(|_| line.block.is_some());
        if let Some(control) = control.filter(|control| control.day > arrives) {
            let term = shipment.invoices.get(line.invoice).map(|invoice| &invoice.term.place);
            let place = control.stated.as_ref().or(term).unwrap_or(&line.place);
            let day = control.day;
            let message = format!(
                "block {} becomes yours on {day}, and its slabs arrive on {arrives}",
                line.id
            );
            report.add(
                Fault::warning(Code::OutOfRange, message)
                    .at(place, "control of the block passes after the arrival of its goods")
                    .help("state the day on which the block becomes yours as `control` of its invoice"),
            );
        }
    }
}

/// A thickness that no slab has, such as "30 cm", as the one that was most likely meant.
pub(super) fn thickness_meant(text: &str) -> Option<String> {
    let figure: u32 = text.split(' ').next()?.parse().ok()?;
    let meant = match figure {
        1..=6 => format!("{figure} cm"),
        7..=60 => format!("{figure} mm"),
        _ => return None,
    };
    (meant != text).then(|| format!("is \"{text}\" meant to be \"{meant}\"?"))
}

/// Whether a price lies outside the stone's usual range. `None`: the two cannot be compared.
fn is_unusual(price: &Price, line: &Line, stone: &Stone, tariffs: &Tariffs) -> Option<bool> {
    let (least, most) = stone.usual_price?;
    let per_m2 = |price| stone.per_m2(price, line.thickness);
    let rate = rate(tariffs, price.currency, least.currency)?;
    let own = per_m2(price)?.checked_mul(rate)?;
    Some(own < per_m2(&least)? || own > per_m2(&most)?)
}

/// One currency in another at the latest rate of any use: near enough to see a slip by.
fn rate(tariffs: &Tariffs, from: Currency, to: Currency) -> Option<Decimal> {
    if from == to {
        return Some(Decimal::ONE);
    }
    let rows = tariffs.exchange.iter().filter(|row| row.quote.joins(from, to));
    let quote = &rows.max_by_key(|row| row.valid.from)?.quote;
    if quote.base() == from {
        return Some(quote.rate());
    }
    Decimal::ONE.checked_div(quote.rate())
}

/// A regime's fee for which no row of rates/ would serve an entry vanishes from its cost.
pub(super) fn doubt_entries(shipment: &Shipment, tariffs: &Tariffs, report: &mut Report) {
    let id = &shipment.yard.regime;
    for filing in &shipment.filings {
        let Lookup::Found(regime) = tariffs.regime(id, filing.entered) else { continue };
        for fee in &regime.fees {
            if fee.mode.is_some_and(|mode| mode != filing.mode) {
                continue;
            }
            let fits =
                |asked: &Option<SmolStr>, is: &str| asked.as_deref().is_none_or(|one| one == is);
            let serves = tariffs.charges.iter().any(|row| {
                row.name == fee.name
                    && fits(&row.matches.regime, id)
                    && fits(&row.matches.entry, filing.kind.word())
                    && fits(&row.matches.mode, filing.mode.word())
                    && row.valid.holds(filing.entered)
            });
            if !serves {
                let message = format!("no row of \"{}\" serves entry {}", fee.name, filing.id);
                let label = format!("entered on {}, {}", filing.entered, filing.kind.word());
                report.add(
                    Fault::warning(Code::NoRate, message)
                        .at(&filing.place, label)
                        .also(&regime.place, "`fees` of its regime")
                        .help("look at the dates, `entry` and `mode` of the rows of that name in rates/fees.toml"),
                );
            }
        }
    }
}
