//! `billed` of an invoice line and `[[paper]]`: what the supplier and the carrier state.

use super::keys::each;
use super::table::Table;
use crate::fault::{At, Code, Fault, Report};
use crate::quantity::{Decimal, Money, Price, parse_decimal};
use crate::trade::{Paper, StatedLine};

/// Reads `billed = { quantity = "312.441 m2", amount = "14372.29 EUR" }` of a line at a price.
pub(super) fn billed(
    row: &Table<'_>,
    price: Option<&At<Price>>,
    report: &mut Report,
) -> Option<StatedLine> {
    let inside = row.inside("billed", report)?;
    let text = inside.text("quantity", report);
    let amount = inside.optional::<Money>("amount", report);
    inside.finish(report);
    let price = price?;
    if let Some(amount) = amount.as_ref().filter(|at| at.currency() != price.currency) {
        let message =
            format!("a line priced in {} is billed in {}", price.currency, amount.currency());
        report.add(
            Fault::error(Code::Contradiction, message)
                .at(&amount.place, "as billed")
                .also(&price.place, "its price"),
        );
    }
    let quantity = text.and_then(|text| {
        let unit = price.by.word();
        let figure = text.value.strip_suffix(unit).map(str::trim).and_then(parse_decimal);
        let figure = figure.filter(|figure| *figure >= Decimal::ZERO);
        if figure.is_none() {
            report.add(
                Fault::error(
                    Code::BadQuantity,
                    format!("`quantity` cannot be read: \"{}\"", text.value),
                )
                .at(
                    &text.place,
                    format!("expected the unit of the price, such as \"312.441 {unit}\""),
                ),
            );
        }
        figure.map(|value| At { value, place: text.place })
    });
    Some(StatedLine { quantity, amount })
}

/// Reads the papers of a shipment.
pub(super) fn papers(top: &Table<'_>, report: &mut Report) -> Vec<Paper> {
    each(top, "paper", report, |row, report| {
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
        Some(Paper { name: name?, packages, gross, area })
    })
}
