//! `billed` of an invoice line and `[[paper]]`: what the supplier and the carrier state.

use super::keys::readable;
use super::table::Table;
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{Decimal, MOST_ORDERED, Money, Price, grouped, parse_decimal};
use crate::trade::{Paper, StatedLine};

/// Reads `billed = { quantity = "312.441 m2", amount = "14372.29 EUR" }` of a line at a price.
pub(super) fn billed(
    row: &Table<'_>,
    price: Result<&At<Price>, Reported>,
    report: &mut Report,
) -> Result<Option<StatedLine>, Reported> {
    let Some(inside) = row.inside("billed", report)? else { return Ok(None) };
    let text = inside.text("quantity", report);
    let amount = inside.optional::<Money>("amount", report);
    inside.finish(report);
    let (price, text, amount) = (price?, text?, amount?);
    if let Some(amount) = amount.as_ref().filter(|at| at.currency() != price.currency) {
        let message =
            format!("a line priced in {} is billed in {}", price.currency, amount.currency());
        report.add(
            Fault::error(Code::Contradiction, message)
                .at(&amount.place, "as billed")
                .also(&price.place, "its price"),
        );
    }
    let quantity = text.map(|text| quantity(text, price.by.word(), report)).transpose()?;
    Ok(Some(StatedLine { quantity, amount }))
}

/// A figure in the unit of a price.
fn quantity(text: At<String>, unit: &str, report: &mut Report) -> Result<At<Decimal>, Reported> {
    let figure = text.value.strip_suffix(unit).map(str::trim).and_then(parse_decimal);
    let figure = figure.filter(|figure| *figure >= Decimal::ZERO);
    let expected = match figure {
        None => format!("the unit of the price, such as \"312.441 {unit}\""),
        Some(figure) if figure > MOST_ORDERED => {
            format!("at most {} {unit}", grouped(MOST_ORDERED))
        }
        Some(value) => return Ok(At { value, place: text.place }),
    };
    let message = format!("`quantity` cannot be read: \"{}\"", text.value);
    let code = if figure.is_some() { Code::OutOfRange } else { Code::BadQuantity };
    Err(report.error(Fault::error(code, message).at(&text.place, format!("expected {expected}"))))
}

/// Reads the papers of a shipment.
pub(super) fn papers(top: &Table<'_>, report: &mut Report) -> Vec<Paper> {
    readable(top, "paper", report, |row, report| {
        let name = row.required_text("name", report);
        let packages = row.count("packages", report);
        let gross = row.optional("gross", report);
        let area = row.optional("area", report);
        if !["packages", "gross", "area"].iter().any(|key| row.has(key)) {
            report.add(
                Fault::error(Code::MissingKey, "the paper states no figure")
                    .at(&row.place(), "expected `packages`, `gross` or `area`"),
            );
        }
        Ok(Paper { name: name?, packages: packages?, gross: gross?, area: area? })
    })
}
