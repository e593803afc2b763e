//! The explanation of one slab for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::parts::{ChargeJson, FORMAT, charge_json, percent, plain, unmarked, write};
use crate::bill::{Bound, PricedPart, Working};
use crate::cost::{Explanation, KeyPart, Landed};
use crate::quantity::{Decimal, Money};
use crate::trade::Shipment;

#[derive(Serialize)]
struct ExplainJson<'a> {
    format: u32,
    shipment: &'a str,
    /// The [[way]] to buy it; none for the shipment as written.
    #[serde(skip_serializing_if = "Option::is_none")]
    way: Option<&'a str>,
    slab: &'a str,
    currency: &'a str,
    charges: Vec<ExplainedJson<'a>>,
    /// What the slab costs, leg by leg.
    legs: Vec<LegJson>,
    cost: String,
}

#[derive(Serialize)]
struct LegJson {
    leg: &'static str,
    amount: String,
}

#[derive(Serialize)]
struct ExplainedJson<'a> {
    #[serde(flatten)]
    charge: ChargeJson<'a>,
    working: WorkingJson<'a>,
    /// The slab's part of the key, and the whole of it.
    key_part: KeyPartJson,
    share: String,
    leftover: bool,
}

/// How an amount came about: what of this there is goes by the kind.
#[derive(Serialize, Default)]
struct WorkingJson<'a> {
    kind: &'static str,
    /// The price of a unit, and its currency.
    each: Option<String>,
    each_currency: Option<&'static str>,
    /// How many units.
    quantity: Option<String>,
    unit: Option<&'static str>,
    /// The percentage, and of what.
    percent: Option<String>,
    of: Option<&'a str>,
    base: Option<String>,
    base_currency: Option<&'static str>,
    /// The unrounded amount.
    exact: Option<String>,
    /// The row's minimum or maximum, where it replaced that.
    bound: Option<&'static str>,
    /// Each price with its quantity, where there are several: steps, extras.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    prices: Vec<PricedJson>,
}

/// So much at a price.
#[derive(Serialize)]
struct PricedJson {
    what: Option<String>,
    each: String,
    quantity: String,
    unit: &'static str,
    exact: String,
}

#[derive(Serialize)]
struct KeyPartJson {
    slab: String,
    whole: String,
    unit: &'static str,
}

fn working_json(working: &Working) -> WorkingJson<'_> {
    let word = |bound: &Option<Bound>| {
        bound.map(|bound| match bound {
            Bound::Floor => "minimum",
            Bound::Cap => "maximum",
        })
    };
    let some = |money: Money| (Some(plain(money)), Some(money.currency().code()));
    let none = WorkingJson::default();
    match working {
        Working::Priced { parts, quantity, exact } => priced_json(parts, *quantity, *exact),
        Working::Counted { each, count, unit, exact, bound } => {
            let each_currency = Some(each.currency().code());
            let each = Some(each.amount().to_string());
            let (quantity, exact) =
                (Some(count.to_string()), Some(unmarked(&exact.shown(Working::PLACES))));
            let (unit, bound) = (Some(*unit), word(bound));
            WorkingJson {
                kind: "amount",
                each,
                each_currency,
                quantity,
                unit,
                exact,
                bound,
                ..none
            }
        }
        Working::Part { rate, of, base, times, exact, bound, .. } => {
            let (base, base_currency) = some(*base);
            WorkingJson {
                kind: "percentage",
                percent: Some(percent(*rate)),
                of: Some(of),
                base,
                base_currency,
                quantity: times.map(|(count, _)| count.to_string()),
                unit: times.map(|(_, unit)| unit),
                exact: Some(unmarked(&exact.shown(Working::PLACES))),
                bound: word(bound),
                ..none
            }
        }
        Working::Specific { each, count, exact } => WorkingJson {
            kind: "amount",
            each: Some(each.amount.to_string()),
            each_currency: Some(each.currency.code()),
            quantity: Some(count.to_string()),
            unit: Some(each.unit.word()),
            exact: Some(unmarked(&exact.shown(Working::PLACES))),
            ..none
        },
        Working::Tiered { unit, bound, .. } => {
            WorkingJson { kind: "tiers", unit: Some(*unit), bound: word(bound), ..none }
        }
        Working::ByGross { gross, bound, .. } => WorkingJson {
            kind: "gross mass",
            quantity: Some(gross.to_kg(1).to_string()),
            unit: Some("kg"),
            bound: word(bound),
            ..none
        },
        Working::ForEach { amount, of, base, bound, .. } => {
            let (base, base_currency) = some(*base);
            let (each, each_currency) =
                (Some(amount.amount().to_string()), Some(amount.currency().code()));
            let (of, bound) = (Some(&**of), word(bound));
            WorkingJson {
                kind: "for each",
                each,
                each_currency,
                of,
                base,
                base_currency,
                bound,
                ..none
            }
        }
        Working::Interest { rate, base, exact, bound, .. } => {
            let (base, base_currency) = some(*base);
            WorkingJson {
                kind: "interest",
                percent: Some(percent(*rate)),
                base,
                base_currency,
                exact: Some(unmarked(&exact.shown(Working::PLACES))),
                bound: word(bound),
                ..none
            }
        }
        Working::Stated => WorkingJson { kind: "stated", ..none },
    }
}

fn key_json(part: &KeyPart, by: &'static str) -> KeyPartJson {
    let json = |slab: Decimal, whole: Decimal, unit: &'static str| KeyPartJson {
        slab: slab.to_string(),
        whole: whole.to_string(),
        unit,
    };
    match part {
        KeyPart::Area(slab, whole) => json(slab.to_m2(6), whole.to_m2(6), "m2"),
        KeyPart::Mass(slab, whole) => json(slab.to_kg(3), whole.to_kg(3), "kg"),
        KeyPart::Count(count) => json(Decimal::ONE, Decimal::from(*count), "slab"),
        KeyPart::Value(slab, whole) => json(slab.amount(), whole.amount(), slab.currency().code()),
        KeyPart::Quantity(slab, whole) => json(*slab, *whole, by),
        KeyPart::Base(percent) => json(*percent, Decimal::ONE_HUNDRED, "%"),
    }
}

/// Goods at their prices: one, or several with steps and extras.
fn priced_json(parts: &[PricedPart], quantity: Decimal, exact: Decimal) -> WorkingJson<'static> {
    let first = parts.first().map(|part| part.price);
    let is_one = parts.len() == 1;
    let at = |part: &PricedPart| PricedJson {
        what: part.what.clone(),
        each: part.price.amount.to_string(),
        unit: part.price.by.word(),
        quantity: part.quantity.to_string(),
        exact: part.exact.normalize().to_string(),
    };
    WorkingJson {
        kind: "price",
        each: first.filter(|_| is_one).map(|price| price.amount.to_string()),
        each_currency: first.map(|price| price.currency.code()),
        quantity: Some(quantity.to_string()),
        unit: first.map(|price| price.by.word()),
        exact: Some(exact.normalize().to_string()),
        prices: if is_one { Vec::new() } else { parts.iter().map(at).collect() },
        ..WorkingJson::default()
    }
}

/// Writes the explanation of one slab.
///
/// # Errors
/// Where the output cannot be written.
pub fn explain(
    shipment: &Shipment,
    landed: &Landed,
    explanation: &Explanation,
    out: &mut dyn Write,
) -> io::Result<()> {
    let slab = shipment.slabs.get(explanation.slab);
    let line = slab.and_then(|slab| shipment.lines.get(usize::try_from(slab.line).ok()?));
    let by = line.map_or("", |line| line.price.by.word());
    let charges = explanation.charges.iter().filter_map(|one| {
        let charge = landed.charges.get(one.charge)?;
        Some(ExplainedJson {
            charge: charge_json(one.charge, charge),
            working: working_json(&charge.booked.working),
            key_part: key_json(&one.key, by),
            share: plain(one.share),
            leftover: one.leftover,
        })
    });
    let json = ExplainJson {
        format: FORMAT,
        shipment: &shipment.name,
        way: shipment.way.as_deref(),
        slab: slab.map_or("", |slab| slab.id.as_str()),
        currency: landed.currency.code(),
        charges: charges.collect(),
        legs: explanation
            .legs
            .iter()
            .map(|(leg, amount)| LegJson { leg: leg.word(), amount: plain(*amount) })
            .collect(),
        cost: plain(explanation.cost),
    };
    write(&json, out)
}
