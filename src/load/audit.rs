//! A second look at a plan before anybody sees it, from the shipment and its tables alone.
//!
//! The engine's checker argues about the engine's problem; what went wrong on the way into that
//! problem it cannot see. Here limits, floor, roads and wishes are held against the plan as the files
//! have them, in their own quantities.

use std::collections::BTreeMap;

use super::kept::unkept;
use super::mass::cargo;
use super::plan::{FilledBox, Plan, Variant};
use super::road;
use super::standing::{moment, standing};
use super::station::worst;
use crate::quantity::{Decimal, Length, Money, Overflow};
use crate::trade::{Bundle, LoadWishes};

/// What a plan breaks, each in a sentence without its final stop; empty when it holds.
///
/// # Errors
/// Where a figure cannot be held.
pub(super) fn audit(
    plan: &Plan,
    bundles: &[Bundle],
    wishes: &LoadWishes,
) -> Result<Vec<String>, Overflow> {
    let mut found = Vec::new();
    for filled in &plan.boxes {
        let Some(variant) = plan.variant(filled) else {
            found.push(format!("box {} is of no kind", filled.label));
            continue;
        };
        let broken = of_box(filled, variant, bundles)?;
        found.extend(broken.into_iter().map(|what| format!("box {}: {what}", filled.label)));
    }
    of_wishes(plan, bundles, wishes, &mut found);
    let costs = plan.boxes.iter().filter_map(|one| plan.variant(one)).map(|variant| variant.cost);
    let boxes = Money::total(plan.cost.currency(), costs)?;
    if plan.cost != boxes {
        found.push(format!("its boxes cost {boxes} and not {}", plan.cost));
    }
    Ok(found)
}

/// Limits, floor, balance and roads of one box.
fn of_box(
    filled: &FilledBox,
    variant: &Variant,
    bundles: &[Bundle],
) -> Result<Vec<String>, Overflow> {
    let mut found = Vec::new();
    let container = &variant.container;
    let cargo = cargo(&filled.bundles, bundles, variant)?;
    let over = variant.limits.iter().filter(|limit| cargo > limit.cargo);
    found.extend(over.map(|limit| format!("{cargo} is over {}", limit.name)));
    let standing = standing(filled, bundles)?;
    let half = |length: Length| length.times(Decimal::new(5, 1));
    let [length, width, _] = container.inside;
    let floor = [(length, half(container.end_bracing)?), (width, half(container.bracing)?)];
    let opening = container.opening()?;
    let mut corners = Vec::new();
    for one in &standing {
        let bundle = one.bundle;
        let Some((x, y)) = one.at else {
            found.push(format!("bundle {} has no place", bundle.id));
            continue;
        };
        let (along, across) =
            if one.turned { (bundle.width, bundle.length) } else { (bundle.length, bundle.width) };
        let own = [(Length::whole_mm(x), along), (Length::whole_mm(y), across)];
        for ((at, extent), (inside, gap)) in own.into_iter().zip(floor) {
            if at < gap || at.plus(extent)? > inside.minus(gap)? {
                found.push(format!("bundle {} stands outside the floor", bundle.id));
            }
        }
        if bundle.height > opening || bundle.width.min(bundle.length) > container.door[0] {
            found.push(format!("bundle {} does not pass the door", bundle.id));
        }
        if one.turned && !bundle.may_turn {
            found.push(format!("bundle {} may not be turned", bundle.id));
        }
        corners.push((&bundle.id, own));
    }
    for (rank, (id, own)) in corners.iter().enumerate() {
        for (other, theirs) in corners.iter().skip(rank + 1) {
            let mut shared = true;
            for ((at, extent), (other_at, other_extent)) in own.iter().zip(theirs) {
                shared &= *at < other_at.plus(*other_extent)? && *other_at < at.plus(*extent)?;
            }
            if shared {
                found.push(format!("bundles {id} and {other} stand in one place"));
            }
        }
    }
    if worst(&standing).is_some_and(|station| station.is_over(container.line_load)) {
        found.push("the floor bears too much per metre".to_owned());
    }
    let Some((mass, twice)) = moment(&standing) else { return Ok(found) };
    // Off mid-length by no more than so many thousandths: all of it times 2,000.
    let off = (twice - mass * i128::from(length.mm_down())).abs() * 1_000;
    if off > 2 * mass * i128::from(length.mm_down()) * i128::from(variant.balance) {
        found.push("the centre of gravity lies outside its window".to_owned());
    }
    for road in &variant.roads {
        let report = road::report(road, container, mass, twice)?;
        let broken = report.checks.iter().find(|check| !check.holds);
        found.extend(broken.map(|check| format!("{} is broken", check.name)));
        if !road::is_in_balance(&report, container, (mass, twice))? {
            found.push(format!("the axle loads of rig {} do not add up", road.rig.id));
        }
    }
    Ok(found)
}

/// Whether every bundle travels once, and as the shipment asks.
fn of_wishes(plan: &Plan, bundles: &[Bundle], wishes: &LoadWishes, found: &mut Vec<String>) {
    let mut home: BTreeMap<usize, usize> = BTreeMap::new();
    for (at, filled) in plan.boxes.iter().enumerate() {
        for bundle in &filled.bundles {
            if home.insert(*bundle, at).is_some() {
                found.push(format!("bundle {} is in two boxes", name(bundles, *bundle)));
            }
        }
    }
    for at in (0..bundles.len()).filter(|at| !home.contains_key(at)) {
        found.push(format!("bundle {} is in no box", name(bundles, at)));
    }
    found.extend(unkept(plan, bundles, wishes).into_iter().map(|unkept| unkept.what));
}

fn name(bundles: &[Bundle], at: usize) -> &str {
    bundles.get(at).map_or("?", |bundle| bundle.id.as_str())
}
