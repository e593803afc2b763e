//! The documents of a box: its gross mass sheet and the certification.
//!
//! Decided on 2026-11-25. A mass sheet with an estimate in it declares nothing. A tare from the table is an
//! estimate, too.

use super::super::page::Block;
use crate::load::{BoxSummary, MassSheet, Weighed, certified, mass_sheet};
use crate::quantity::{Mass, Units, count_of, grouped};
use crate::trade::Shipment;

/// The blocks of papers for one box.
pub(super) fn blocks(
    shipment: &Shipment,
    one: &BoxSummary<'_>,
    units: Units,
    blocks: &mut Vec<Block<'_>>,
) {
    if let Ok(sheet) = mass_sheet(one) {
        blocks.push(Block::Facts(worksheet(one, &sheet)));
    }
    if let Some(note) = certification(shipment, one, units) {
        blocks.push(Block::Notes(vec![note]));
    }
}

/// SOLAS VI/2, method 2, always in kilograms. With an estimate in it, it declares nothing.
fn worksheet(one: &BoxSummary<'_>, sheet: &MassSheet) -> Vec<(String, String)> {
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let heading = if sheet.is_estimate() {
        fact("MASS ESTIMATE", "not a verified gross mass: some parts were not weighed".to_owned())
    } else {
        fact(
            "GROSS MASS",
            "verified, method 2 of SOLAS VI/2: every part weighed or read".to_owned(),
        )
    };
    let weighed = |part: &Weighed, yes: &str, no: &str| {
        let how = if part.is_known { yes } else { no };
        format!("{}, {how}", kg(part.mass))
    };
    let count = one.standing.len();
    let known = count - sheet.estimated;
    let weighed_all = format!("{} of {} weighed", grouped(known.into()), grouped(count.into()));
    let estimates = match sheet.estimated {
        0 => String::new(),
        many => format!(", {} from nominal thickness", count_of(many, "estimate")),
    };
    let bundles = format!("{}: {weighed_all}{estimates}", kg(sheet.bundles));
    let container = one.filled.number.as_ref().map_or_else(
        || "number ____________________".to_owned(),
        |number| format!("number {number}"),
    );
    let declared = if sheet.is_estimate() {
        "____________________ kg (blank: an estimate may not be declared)".to_owned()
    } else {
        kg(sheet.total)
    };
    let most = one.variant.container.max_gross;
    let over = if sheet.total > most { "; OVER the plate of " } else { "; the plate allows " };
    vec![
        heading,
        fact("container", container),
        fact("bundles", bundles),
        fact("dunnage", format!("{}, {}", kg(sheet.dunnage.mass), sheet.dunnage_from)),
        fact(
            "tare",
            weighed(&sheet.tare, "as marked on the box", "usual for the type; read it off the box"),
        ),
        fact("sum", format!("{}{over}{} kg", kg(sheet.total), grouped(most.to_kg(0)))),
        fact("declared", declared),
        fact("shipper", "____________________".to_owned()),
        fact("signed", "____________________   name in capitals ____________________".to_owned()),
    ]
}

/// Kilograms, as the regulation asks, whatever the page's units.
fn kg(mass: Mass) -> String {
    format!("{} kg", grouped(mass.to_kg(1)))
}

/// What a haulier in the United States must be given in writing (49 U.S.C. 5902(b)).
fn certification(shipment: &Shipment, one: &BoxSummary<'_>, units: Units) -> Option<String> {
    let over = certified(one, &shipment.yard)?;
    let number = one
        .filled
        .number
        .as_ref()
        .map_or_else(|| "the container's number".to_owned(), |number| format!("number {number}"));
    Some(format!(
        "INTERMODAL CERTIFICATION (49 U.S.C. 5902): cargo, packing and dunnage are {}, above {}. Give the \
         first haulier notice of weight and contents ({}) before tender. Send a certification with the \
         box: actual gross cargo weight, contents, certifying party, {number} and date. This weight \
         excludes the tare.",
        one.cargo.show(units),
        over.show(units),
        one.contents
    ))
}
