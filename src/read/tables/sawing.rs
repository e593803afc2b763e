//! `rates/sawing.toml`: how works saw blocks, and what they do to the slabs.

use super::super::keys::{Names, Quotes};
use super::super::table::{Laid, Table};
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{Decimal, Length, Money, Percent, Price, PricedBy};
use crate::trade::{SawMethod, Tariffs, WorkStep};

/// The rows that stand under the head of a quote.
const HEAD: Laid = Laid::under_quote(&["method", "step"]);

pub(super) fn sawing(top: &Table<'_>, tariffs: &mut Tariffs, _: &Names, report: &mut Report) {
    let quotes = Quotes::of(top, &HEAD, report);
    tariffs.methods.extend(quotes.rows("method", report, method));
    tariffs.work_steps.extend(quotes.rows("step", report, |row, report| step(row, "name", report)));
    quotes.finish(report);
}

fn method(row: &Table<'_>, report: &mut Report) -> Result<SawMethod, Reported> {
    let step = step(row, "id", report);
    let kerf = above_nothing(row.required::<Length>("kerf", report), "kerf", report);
    let widest = above_nothing(row.required::<Length>("widest", report), "widest", report);
    let longest = above_nothing(row.required::<Length>("longest", report), "longest", report);
    let most = row.required_count("most-slabs", report).and_then(|most| {
        if most.value > 0 {
            return Ok(most.value);
        }
        Err(report.error(
            Fault::error(Code::OutOfRange, "`most-slabs` must be above 0")
                .at(&most.place, "expected 1 or more")
                .help("state how many slabs the saw cuts at once"),
        ))
    });
    Ok(SawMethod {
        step: step?,
        kerf: kerf?,
        widest: widest?,
        longest: longest?,
        most_slabs: most?,
    })
}

/// A length of a saw: a kerf of nothing would make slabs of the dust.
fn above_nothing(
    read: Result<At<Length>, Reported>,
    key: &str,
    report: &mut Report,
) -> Result<Length, Reported> {
    let length = read?;
    if !length.is_none() {
        return Ok(length.value);
    }
    Err(report.error(
        Fault::error(Code::OutOfRange, format!("`{key}` must be above 0"))
            .at(&length.place, "expected a length such as \"6 mm\"")
            .help("write what the works state of the saw"),
    ))
}

/// What a row costs and loses; `name` is the key of what it is called.
fn step(row: &Table<'_>, name: &'static str, report: &mut Report) -> Result<WorkStep, Reported> {
    let name = row.required_text(name, report);
    let offer = row.text("offer", report);
    let price = row.required::<Price>("price", report).and_then(|price| by_size(price, report));
    let least = row.optional::<Money>("least", report);
    let loss = row.optional::<Percent>("loss", report);
    let valid = row.required("valid", report);
    let source = row.required_text("source", report);
    let (price, least, loss) = (price?, least?, loss?);
    if let Some(least) = least.as_ref().filter(|least| least.currency() != price.currency) {
        return Err(report.error(
            Fault::error(Code::Contradiction, "`least` and `price` are in two currencies")
                .at(&least.place, "this amount")
                .also(&price.place, "the price")
                .help(format!("state the least charge in {}", price.currency)),
        ));
    }
    if let Some(loss) = loss.as_ref().filter(|loss| loss.fraction() >= Decimal::ONE) {
        return Err(report.error(
            Fault::error(Code::OutOfRange, "`loss` must be below 100 %")
                .at(&loss.place, "nothing is left of what goes in")
                .help("state what breaks of a hundred slabs that go in, such as loss = \"3 %\""),
        ));
    }
    Ok(WorkStep {
        name: name?.value,
        offer: offer?.map(|at| at.value),
        price,
        least,
        loss: loss.map_or(Percent::ZERO, |at| at.value),
        valid: valid?.value,
        source: source?.value,
        place: row.place(),
    })
}

/// A price by what goes in: a square metre of slab, or a cubic metre of block.
fn by_size(price: At<Price>, report: &mut Report) -> Result<At<Price>, Reported> {
    if matches!(price.by, PricedBy::M2 | PricedBy::M3) {
        return Ok(price);
    }
    Err(report.error(
        Fault::error(Code::OutOfRange, format!("works are not priced per {}", price.by.word()))
            .at(&price.place, "expected a price per m2 that goes in, or per m3 of gross block")
            .help(format!("write it as \"{} {}/m2\"", price.amount, price.currency)),
    ))
}
