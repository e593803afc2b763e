//! Surcharges by gross mass, as kinds of box of their own: each tier that a box can be in has the
//! tier's top for a limit and its price in the cost, so that the loader weighs a heavier box against
//! one box more.

use std::collections::BTreeMap;

use super::amounts::bounded;
use crate::fault::Report;
use crate::load::{Basis, Limit, Part, Variant};
use crate::quantity::{Decimal, Exact, Mass, Money};
use crate::trade::{ChargeRow, LimitKind, Rate, TableName, Tier, TierBy, Tiers};

/// A kind of box as the loader has it.
#[derive(Debug, Clone)]
pub struct Kind {
    /// The container type and road class, with what it costs in its tier.
    pub variant: Variant,
    /// The top of its tier, which limits the loader and nobody else: a box that weighs more is of the
    /// next kind. The last tier has none.
    pub top: Option<Limit>,
}

impl Kind {
    /// The variant with the top of its tier among its limits.
    pub fn for_loader(&self) -> Variant {
        let limits = self.variant.limits.iter().chain(&self.top).cloned().collect();
        Variant { limits, ..self.variant.clone() }
    }
}

/// The tiers of a row that goes by the gross mass of a box.
pub(super) fn by_gross(row: &ChargeRow) -> Option<&Tiers> {
    match &row.rate.value {
        Rate::Tiers(tiers) if tiers.by == TierBy::Gross => Some(tiers),
        _ => None,
    }
}

/// A kind of box with surcharges, as one kind for each step of what they come to together. Where a
/// heavier box costs less, light boxes would pass for heavy ones: then the surcharges stay out of
/// what the loader sees. `None`: a figure cannot be had, and the fault is in the report.
pub(super) fn by_tier(
    variant: Variant,
    rows: &[&ChargeRow],
    report: &mut Report,
    in_book: impl Fn(&ChargeRow, Money, &mut Report) -> Option<Money>,
) -> Option<Vec<Kind>> {
    let alone = |variant: &Variant| Some(vec![Kind { variant: variant.clone(), top: None }]);
    if rows.is_empty() {
        return alone(&variant);
    }
    let tops: BTreeMap<Decimal, (&ChargeRow, &Tier)> = rows
        .iter()
        .filter_map(|row| by_gross(row).map(|tiers| (*row, tiers)))
        .flat_map(|(row, tiers)| tiers.tiers.iter().map(move |tier| (row, tier)))
        .filter_map(|(row, tier)| Some((tier.to?, (row, tier))))
        .collect();
    let container = &variant.container;
    let lightest = container.tare.plus(container.securing).ok()?;
    let heaviest = variant.binding().map_or(Ok(lightest), |limit| limit.cargo.plus(container.tare));
    let heaviest = heaviest.ok()?;
    let mut steps: Vec<(Money, Vec<Part>, Option<Limit>)> = Vec::new();
    for top in tops.iter().map(Some).chain([None]) {
        let mass = match top {
            Some((kg, _)) => Mass::kg(*kg).ok()?,
            None => heaviest,
        };
        let mut price = variant.cost;
        let mut parts = variant.parts.clone();
        for row in rows {
            let tiers = by_gross(row)?;
            let tier = if top.is_some() { tiers.holding(mass)? } else { tiers.tiers.last()? };
            let (amount, _) = bounded(row, &Exact::from(tier.amount), report)?;
            let amount = in_book(row, amount, report)?;
            price = price.plus(amount).ok()?;
            let name = format!("{}, {}", row.name, tier.window);
            parts.push(Part { name, amount, place: tier.place.clone() });
        }
        let is_last = mass >= heaviest;
        let limit = match top {
            Some((_, (row, tier))) if !is_last => {
                Some(limit(row, tier, mass.minus(container.tare).ok()?))
            }
            _ => None,
        };
        if steps.last().is_some_and(|(before, ..)| price.amount() < before.amount()) {
            return alone(&variant);
        }
        if mass > lightest {
            // Steps of one price are one.
            if steps.last().is_some_and(|(before, ..)| *before == price) {
                steps.pop();
            }
            steps.push((price, parts, limit));
        }
        if is_last {
            break;
        }
    }
    if steps.is_empty() {
        return alone(&variant);
    }
    let step = |(cost, parts, top): (Money, Vec<Part>, Option<Limit>)| {
        let variant = Variant { cost, parts, ..variant.clone() };
        Kind { variant, top }
    };
    Some(steps.into_iter().map(step).collect())
}

fn limit(row: &ChargeRow, tier: &Tier, cargo: Mass) -> Limit {
    let kind = if row.table == TableName::Freight { LimitKind::Carrier } else { LimitKind::Custom };
    Limit {
        name: format!("{}, tier {}", row.name, tier.window),
        kind,
        basis: Basis::Gross,
        cargo,
        place: tier.place.clone(),
    }
}
