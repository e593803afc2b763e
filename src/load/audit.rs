//! A second look at a plan before anybody sees it, from the shipment and its tables alone.
//!
//! The engine's checker knows only the engine's problem, not mistakes made in stating it. Here the plan is
//! checked against
//!
//! - the container's row: plate, door, floor, bracing and line load, with a tare that was read and
//!   dunnage that was weighed;
//! - every row of a limit that fits the box, and the yard's lift;
//! - the rigs that carry it, by forces and moments, and the rules of their roads;
//! - what the shipment asks of its load, and the sum of its boxes' costs,
//!
//! in their own quantities. It knows nothing but the tables, and seeks no cheaper plan.

use std::collections::BTreeMap;

use super::kept::unkept;
use super::limits::Way;
use super::plan::{FilledBox, Plan, Variant};
use super::road::{self, Road};
use super::sets::caps;
use super::standing::{moment, standing};
use super::station::worst;
use crate::quantity::{Decimal, Length, Mass, Money, Overflow, Units};
use crate::trade::{Bundle, ContainerType, LimitOn, LoadWishes, Shipment, Tariffs};

/// What a plan breaks, each in a sentence without its final stop; empty when it holds.
///
/// # Errors
/// Where a figure cannot be held.
pub fn audit(
    plan: &Plan,
    shipment: &Shipment,
    tariffs: &Tariffs,
    units: Units,
) -> Result<Vec<String>, Overflow> {
    let bundles = &shipment.bundles;
    let mut found = Vec::new();
    for filled in &plan.boxes {
        let variant = plan.variant(filled);
        let row = variant.and_then(|variant| tariffs.container(&variant.container.id));
        let (Some(variant), Some(row)) = (variant, row) else {
            found.push(format!("box {} is of no kind that the tables have", filled.label));
            continue;
        };
        let container = ContainerType {
            tare: filled.tare.unwrap_or(row.tare),
            securing: filled.dunnage.or(filled.timber).unwrap_or(row.securing),
            ..row.clone()
        };
        let way = Way {
            shipment,
            tariffs,
            container: &container,
            class: variant.class.as_deref(),
            offers: &variant.offers,
        };
        found.extend(
            of_masses(filled, (&way, &variant.roads), units)?
                .into_iter()
                .map(|what| format!("box {}: {what}", filled.label)),
        );
        let broken = of_box(filled, variant, &container, bundles)?;
        found.extend(broken.into_iter().map(|what| format!("box {}: {what}", filled.label)));
    }
    of_wishes(plan, bundles, &shipment.load, &mut found);
    found.extend(audit_cost(plan)?);
    Ok(found)
}

/// Whether the boxes of a plan cost what it says.
///
/// # Errors
/// Where a figure cannot be held.
pub(super) fn audit_cost(plan: &Plan) -> Result<Option<String>, Overflow> {
    let costs = plan.boxes.iter().filter_map(|one| plan.variant(one)).map(|variant| variant.cost);
    let boxes = Money::total(plan.cost.currency(), costs)?;
    let is_other = plan.cost != boxes;
    Ok(is_other.then(|| format!("its boxes cost {boxes} and not {}", plan.cost)))
}

/// The plate and every row of a limit, each held against its own mass, and the lift.
fn of_masses(
    filled: &FilledBox,
    (way, roads): (&Way<'_>, &[Road]),
    units: Units,
) -> Result<Vec<String>, Overflow> {
    let shown = |mass: Mass| mass.show_closely(units);
    let (container, yard) = (way.container, &way.shipment.yard);
    let own = || filled.bundles.iter().filter_map(|at| way.shipment.bundles.get(*at));
    let cargo = Mass::total(own().map(|one| one.limit_mass))?.plus(container.securing)?;
    let gross = cargo.plus(container.tare)?;
    let mut found = Vec::new();
    if gross > container.max_gross {
        found.push(format!("{} is over the plate of {}", shown(gross), shown(container.max_gross)));
    }
    for (row, _, day) in way.rows(&container.id) {
        let (mass, on) = match row.on {
            LimitOn::Cargo => (cargo, "cargo"),
            LimitOn::Gross => (gross, "gross"),
        };
        if row.valid.holds(day) && mass > row.mass {
            found.push(format!(
                "{} {on} is over \"{}\" of {}",
                shown(mass),
                row.name,
                shown(row.mass)
            ));
        }
    }
    if let Some(row) = way.tariffs.container(&container.id) {
        for cap in caps(way.tariffs, way.shipment, (row, roads)) {
            if cargo > cap.mass {
                found.push(format!("{} is over {}, {}", shown(cargo), cap.name, shown(cap.mass)));
            }
        }
    }
    let lifts = own().flat_map(|one| yard.refuses(one.limit_mass, units));
    found.extend(lifts);
    Ok(found)
}

/// Floor, door, balance and roads of one box.
fn of_box(
    filled: &FilledBox,
    variant: &Variant,
    container: &ContainerType,
    bundles: &[Bundle],
) -> Result<Vec<String>, Overflow> {
    let mut found = Vec::new();
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
        let report = road::report(road, mass, twice)?;
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
