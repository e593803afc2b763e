//! Boxes that somebody already filled: which variant each is.

use super::plan::{FilledBox, Misfit, Plan, Proof, Spot, Variant};
use super::search::mass_bound;
use crate::fault::{Code, Fault, Report};
use crate::quantity::{Mass, Money, Overflow};
use crate::trade::{Bundle, GivenBox, GivenPlace};

/// The cargo of a box: bundles as limits count them, dunnage and lashing.
///
/// # Errors
/// On overflow.
pub fn cargo(filled: &[usize], bundles: &[Bundle], variant: &Variant) -> Result<Mass, Overflow> {
    let masses = filled.iter().filter_map(|at| bundles.get(*at)).map(|bundle| bundle.limit_mass);
    Mass::total(masses)?.plus(variant.container.securing)
}

/// The plan that a packing list or `plan.toml` gives. A box whose type is not stated is the
/// cheapest variant that carries it, or the strongest where none does.
///
/// # Errors
/// Where there is no kind of box at all.
pub fn given(
    bundles: &[Bundle],
    boxes: &[GivenBox],
    variants: &[Variant],
    report: &mut Report,
) -> Result<Plan, Vec<Misfit>> {
    let mut filled = Vec::with_capacity(boxes.len());
    for one in boxes {
        let Some(variant) = variant_for(one, bundles, variants) else {
            let kind = one.kind.as_ref().map_or("box", |kind| kind.value.as_str());
            let class = one.class.as_ref().map_or("", |class| class.value.as_str());
            let what = format!("{kind} {class}");
            report.add(
                Fault::error(
                    Code::NoRate,
                    format!("box {} is a {}, which has no rates here", one.label, what.trim_end()),
                )
                .at(&one.place, "this box")
                .help("add rows for this container type on the lane and to the yard"),
            );
            continue;
        };
        let mut inside = one.bundles.clone();
        inside.sort_unstable();
        filled.push(FilledBox {
            label: one.label.clone(),
            variant,
            bundles: inside,
            spots: spots(one),
            number: one.number.clone(),
            seal: one.seal.clone(),
            tare: one.tare,
            dunnage: one.dunnage,
        });
    }
    let costs =
        filled.iter().filter_map(|one| variants.get(one.variant)).map(|variant| variant.cost);
    let Some(lower_bound) = mass_bound(bundles, variants) else {
        return Err(vec![Misfit { bundle: 0, reason: "there is no kind of box".to_owned() }]);
    };
    let cost = Money::total(lower_bound.currency(), costs).unwrap_or(lower_bound);
    let (variants, lower_bound) = (variants.to_vec(), Some(lower_bound));
    Ok(Plan { variants, boxes: filled, cost, lower_bound, proof: Proof::Given })
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

fn variant_for(one: &GivenBox, bundles: &[Bundle], variants: &[Variant]) -> Option<usize> {
    let fits_kind = |variant: &Variant| {
        one.kind.as_ref().is_none_or(|kind| kind.value == variant.container.id)
            && one.class.as_ref().is_none_or(|class| Some(&class.value) == variant.class.as_ref())
    };
    let candidates = || variants.iter().enumerate().filter(|(_, variant)| fits_kind(variant));
    let carries = |variant: &Variant| {
        cargo(&one.bundles, bundles, variant)
            .is_ok_and(|cargo| variant.binding().is_some_and(|limit| cargo <= limit.cargo))
    };
    let cheapest = candidates()
        .filter(|(_, variant)| carries(variant))
        .min_by_key(|(index, variant)| (variant.cost.amount(), *index));
    let strongest = || {
        candidates().max_by_key(|(index, variant)| {
            (variant.binding().map(|limit| limit.cargo), std::cmp::Reverse(*index))
        })
    };
    cheapest.or_else(strongest).map(|(index, _)| index)
}
