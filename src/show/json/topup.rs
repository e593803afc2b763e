//! What else to take of a supplier's list, for scripts.

use std::collections::BTreeMap;
use std::io::{self, Write};

use serde::Serialize;

use super::super::topup::TopupPage;
use super::compare::{FootedJson, footed};
use super::parts::{FORMAT, plain, write};
use crate::decide::{PerArea, Purchase, Surface};
use crate::quantity::Units;

#[derive(Serialize)]
struct TopupJson<'a> {
    format: u32,
    shipment: String,
    currency: &'a str,
    #[serde(flatten)]
    footed: FootedJson<'a>,
    /// The most boxes, by type.
    boxes: BTreeMap<&'a str, u32>,
    before: Option<PurchaseJson<'a>>,
    /// What is missing of a least order, where no more is taken.
    missing: Option<&'a str>,
    best: PurchaseJson<'a>,
    choices: Vec<ChoiceJson<'a>>,
    /// What the same comes to with new invoices in boxes of their own.
    apart: Option<String>,
    /// Why it is not proven that no choice is better.
    open: Option<&'a str>,
    bound_per_m2: Option<String>,
    /// How many purchases were costed whole.
    costed: usize,
}

#[derive(Serialize)]
struct PurchaseJson<'a> {
    bundles: Vec<&'a str>,
    boxes: BTreeMap<&'a str, u32>,
    area_m2: Option<String>,
    decision: String,
    per_m2: Option<String>,
    per_ft2: Option<String>,
}

#[derive(Serialize)]
struct ChoiceJson<'a> {
    bundles: Vec<&'a str>,
    chosen: bool,
    mass_kg: Option<String>,
    area_m2: Option<String>,
    more: String,
    goods: String,
    per_m2: Option<String>,
}

fn per(cost: Option<&PerArea>, units: Units) -> Option<String> {
    cost.and_then(|cost| cost.figure(units)).map(|figure| figure.to_string())
}

fn area(area: &Surface) -> Option<String> {
    area.figure(Units::Metric, 4).map(|figure| figure.to_string())
}

/// Writes what else to take.
///
/// # Errors
/// Where the output cannot be written.
pub fn topup(page: &TopupPage<'_>, out: &mut dyn Write) -> io::Result<()> {
    let names = |all: &[usize]| -> Vec<&str> {
        page.bundles(all).map(|bundle| bundle.id.as_str()).collect()
    };
    let made = |one| made(one, &names);
    let choices = page.topped.choices.iter().map(|choice| ChoiceJson {
        bundles: names(&choice.bundles),
        chosen: choice.is_chosen,
        mass_kg: page.mass(choice).map(|mass| mass.to_kg(3).to_string()),
        area_m2: area(&choice.area),
        more: plain(choice.more),
        goods: plain(choice.goods),
        per_m2: per(TopupPage::per_area(choice).as_ref(), Units::Metric),
    });
    let json = TopupJson {
        format: FORMAT,
        shipment: page.shipment.called(),
        currency: page.comparison.currency.code(),
        footed: footed(page.comparison),
        boxes: page.topped.boxes.iter().map(|(kind, count)| (kind.as_str(), *count)).collect(),
        before: page.topped.before.as_ref().map(made),
        missing: page.topped.missing.as_deref(),
        best: made(&page.topped.best),
        choices: choices.collect(),
        apart: page.topped.apart.map(plain),
        open: page.topped.open.as_deref(),
        bound_per_m2: per(page.topped.bound.as_ref(), Units::Metric),
        costed: page.topped.costed,
    };
    write(&json, out)
}

fn made<'a>(one: &'a Purchase, names: &dyn Fn(&[usize]) -> Vec<&'a str>) -> PurchaseJson<'a> {
    PurchaseJson {
        bundles: names(&one.bundles),
        boxes: one.boxes.iter().map(|(kind, count)| (kind.as_str(), *count)).collect(),
        area_m2: area(&one.area),
        decision: plain(one.cost.decision),
        per_m2: per(Some(&one.cost.per_area), Units::Metric),
        per_ft2: per(Some(&one.cost.per_area), Units::Us),
    }
}
