//! Boxes already filled: the variant and cost of each.

use super::kept;
use super::limits::on_road;
use super::mass::cargo;
use super::plan::{Chosen, FilledBox, Misfit, Plan, Proof, Spot, Variant};
use super::problem::mass_bound;
use crate::fault::{At, Code, Fault, Place, Report};
use crate::quantity::{Mass, Money};
use crate::trade::{Bundle, GivenBox, GivenPlace, LoadWishes};

/// The plan that a packing list or `plan.toml` gives. A box whose type is not stated is the
/// cheapest variant that carries it, or the strongest where none does.
///
/// # Errors
/// Where there is no kind of box at all.
pub fn given(
    bundles: &[Bundle],
    boxes: &[GivenBox],
    variants: &[Variant],
    wishes: &LoadWishes,
    report: &mut Report,
) -> Result<Plan, Vec<Misfit>> {
    let mut filled = Vec::with_capacity(boxes.len());
    for (one, variant) in boxes.iter().zip(variants_for(boxes, bundles, variants, wishes)) {
        let Some(variant) = variant else {
            report.add(no_such_box(one, variants));
            continue;
        };
        let mut inside = one.bundles.clone();
        inside.sort_unstable();
        filled.push(FilledBox {
            label: one.label.clone(),
            variant,
            bundles: inside,
            spots: spots(one),
            chosen: if one.places.is_empty() { Chosen::BestFound } else { Chosen::Given },
            settled: true,
            number: one.number.clone(),
            seal: one.seal.clone(),
            tare: one.tare.as_ref().map(|at| at.value),
            dunnage: one.dunnage.as_ref().map(|at| at.value),
            timber: None,
            measured: None,
        });
    }
    let costs =
        filled.iter().filter_map(|one| variants.get(one.variant)).map(|variant| variant.cost);
    let Some(lower_bound) = mass_bound(bundles, variants) else {
        return Err(vec![Misfit::whole("there is no kind of box")]);
    };
    let currency = lower_bound.currency();
    let cost = Money::total(currency, costs).unwrap_or(lower_bound);
    let broken_wishes =
        kept::price(&filled, bundles, wishes, currency).unwrap_or(Money::zero(currency));
    let plan = Plan {
        variants: Vec::new(),
        boxes: filled,
        gathered: None,
        cost,
        caused: Money::zero(currency),
        wishes: broken_wishes,
        lower_bound: Some(lower_bound),
        proof: Proof::Given,
    };
    Ok(with_variants(plan, variants.to_vec()))
}

/// The boxes of a plan given again, each with the bundles that `inside` has for its position: of the type it was of,
/// and with what `known` has of it. Places are looked for anew. `None`: a variant is missing.
pub fn given_again(
    plan: &Plan,
    (known, place): (&[GivenBox], &Place),
    inside: impl Fn(usize, &FilledBox) -> Vec<usize>,
) -> Option<Vec<GivenBox>> {
    let mut known = known.iter();
    let each = plan.boxes.iter().enumerate().map(|(at, filled)| {
        let container = plan.variant(filled)?.container.id.clone();
        let named = || GivenBox::named(filled.label.clone(), place.clone());
        let mut one = known.next().cloned().unwrap_or_else(named);
        one.kind = Some(At { value: container, place: place.clone() });
        one.places = Vec::new();
        one.bundles = inside(at, filled);
        Some(one)
    });
    each.collect()
}

/// The plan with its variants exchanged for others in the same order, such as those without the
/// tops of tiers.
pub fn with_variants(mut plan: Plan, variants: Vec<Variant>) -> Plan {
    for one in plan.boxes.iter_mut().chain(plan.gathered.iter_mut().flatten()) {
        let variant = variants.get(one.variant);
        one.measured = variant
            .and_then(|variant| measured(variant, one.tare, one.dunnage.or(one.timber)))
            .map(Box::new);
    }
    Plan { variants, ..plan }
}

/// A variant with the tare that was read and the dunnage that was weighed, and every limit that
/// follows them; `None` with neither.
pub(super) fn measured(
    variant: &Variant,
    tare: Option<Mass>,
    dunnage: Option<Mass>,
) -> Option<Variant> {
    if tare.is_none() && dunnage.is_none() {
        return None;
    }
    let mut own = variant.clone();
    let usual = own.container.tare;
    own.container.tare = tare.unwrap_or(usual);
    own.container.securing = dunnage.unwrap_or(own.container.securing);
    own.limits = own.limits.at_tare(usual, own.container.tare).ok()?;
    for road in &mut own.roads {
        *road = road.under(&own.container).ok()?;
        let least = own.limits.binding().cargo;
        own.limits.roads.push(on_road(road, &own.container, own.balance, least).ok()?);
    }
    Some(own)
}

/// The places as they were given; a part of a millimetre counts whole.
fn spots(one: &GivenBox) -> Option<Vec<Spot>> {
    let spot = |place: &GivenPlace| Spot {
        bundle: place.bundle,
        x: place.x.mm_up(),
        y: place.y.mm_up(),
        turned: place.turned,
    };
    (!one.places.is_empty()).then(|| one.places.iter().map(spot).collect())
}

/// The variant of each box: boxes that name their offers first, then the others from the boxes left in
/// stock.
fn variants_for(
    boxes: &[GivenBox],
    bundles: &[Bundle],
    variants: &[Variant],
    wishes: &LoadWishes,
) -> Vec<Option<usize>> {
    let mut chosen = vec![None; boxes.len()];
    let mut taken: Vec<&Variant> = Vec::new();
    let mut order: Vec<usize> = (0..boxes.len()).collect();
    order.sort_by_key(|at| boxes.get(*at).is_some_and(|one| one.offers.is_empty()));
    for at in order {
        let Some(one) = boxes.get(at) else { continue };
        let is_left = |variant: &Variant| {
            wishes.available.iter().filter(|had| variant.is_had(had)).all(|had| {
                let count = taken.iter().filter(|other| other.is_had(had)).count();
                usize::try_from(had.count).is_ok_and(|most| count < most)
            })
        };
        let variant = variant_for(one, bundles, variants, &is_left);
        taken.extend(variant.and_then(|variant| variants.get(variant)));
        if let Some(chosen) = chosen.get_mut(at) {
            *chosen = variant;
        }
    }
    chosen
}

/// Why no variant matches a box.
fn no_such_box(one: &GivenBox, variants: &[Variant]) -> Fault {
    if let Some((_, offer)) = one.offers.first()
        && variants.iter().any(|variant| variant.is_but_for_offers(one))
    {
        let message = format!("box {}: the offers asked for have no rates here", one.label);
        return Fault::error(Code::Contradiction, message)
            .at(&offer.place, "asked for here")
            .help("see that the shipment's `offers` pins no other, and that the offer has rates");
    }
    let kind = one.kind.as_ref().map_or("box", |kind| kind.value.as_str());
    let class = one.class.as_ref().map_or("", |class| class.value.as_str());
    let what = format!("{kind} {class}");
    let message = format!("box {} is a {}, which has no rates here", one.label, what.trim_end());
    Fault::error(Code::NoRate, message)
        .at(&one.place, "this box")
        .help("add rows for this container type on the lane and to the yard")
}

fn variant_for(
    one: &GivenBox,
    bundles: &[Bundle],
    variants: &[Variant],
    is_left: &dyn Fn(&Variant) -> bool,
) -> Option<usize> {
    let candidates = || variants.iter().enumerate().filter(|(_, variant)| variant.is_of(one));
    let carries = |variant: &Variant| {
        let read = |at: &Option<At<Mass>>| at.as_ref().map(|at| at.value);
        let own = measured(variant, read(&one.tare), read(&one.dunnage));
        let variant = own.as_ref().unwrap_or(variant);
        cargo(&one.bundles, bundles, variant)
            .is_ok_and(|cargo| cargo <= variant.limits.binding().cargo)
    };
    // One that is left, the cheapest of these.
    let cheapest = candidates()
        .filter(|(_, variant)| carries(variant))
        .min_by_key(|(index, variant)| (!is_left(variant), variant.cost.amount(), *index));
    let strongest = || {
        candidates().max_by_key(|(index, variant)| {
            (variant.limits.binding().cargo, std::cmp::Reverse(*index))
        })
    };
    cheapest.or_else(strongest).map(|(index, _)| index)
}
