//! Bundles and variants as the engine's problem, and its answer as a plan.

use std::collections::BTreeMap;

use super::engine::{self, BoxKind, Effort, Grouping, HalfPlane, LineLoad, Piece, Problem, Reason};
use super::given::cargo;
use super::plan::{FilledBox, Limit, Misfit, Plan, Proof, Spot, Variant};
use super::road::{self, Road};
use super::wishes;
use crate::quantity::{Mass, Money, Overflow};
use crate::trade::{Bundle, Doors, LimitKind, LoadWishes, Yard};

/// How far the centre of gravity may lie from mid-length, in thousandths of the length: the CTU
/// Code (2014), annex 7, section 3.1.4, gives 5 % as the normal case.
pub(super) const BALANCE_ALONG: i64 = 50;

/// The same across the width. The Code asks for "close to the middle" without a figure; 5 % is
/// common practice.
pub(super) const BALANCE_ACROSS: i64 = 50;

/// Loads bundles at least cost. Blocks stay together where that costs nothing.
///
/// # Errors
/// The bundles that no box carries, each with the reason.
pub fn plan(
    bundles: &[Bundle],
    variants: &[Variant],
    yard: &Yard,
    wishes: &LoadWishes,
    effort: Effort,
) -> Result<Plan, Vec<Misfit>> {
    let refused = |(at, bundle): (usize, &Bundle)| {
        let reasons = yard.refuses(bundle.limit_mass);
        (!reasons.is_empty()).then(|| Misfit { bundle: at, reason: reasons.join("; ") })
    };
    let too_heavy: Vec<Misfit> = bundles.iter().enumerate().filter_map(refused).collect();
    if !too_heavy.is_empty() {
        return Err(too_heavy);
    }
    let (problem, solved) = solve(bundles, variants, wishes, effort)?;
    let breaches = engine::check(&problem, &solved.boxes, solved.cost);
    if let Some(breach) = breaches.first() {
        // The checker shares nothing with the search: where they disagree, no plan is shown.
        let reason =
            format!("the planned load failed its own check ({breach:?}); please report this");
        return Err(vec![Misfit { bundle: 0, reason }]);
    }
    let currency = variants.first().map(|variant| variant.cost.currency());
    let money = |minor: i64| currency.map(|currency| Money::from_minor(minor, currency));
    let (Some(cost), Some(lower_bound)) = (money(solved.cost), money(solved.lower_bound)) else {
        return Err(vec![Misfit { bundle: 0, reason: "there is no kind of box".to_owned() }]);
    };
    let mut boxes: Vec<FilledBox> =
        solved.boxes.iter().enumerate().map(|(index, loaded)| filled(index, loaded)).collect();
    wishes::label(&mut boxes, &wishes.fixed);
    let proof = match solved.proof {
        engine::Proof::Proven => Proof::Proven,
        engine::Proof::Gap { reason } => Proof::Gap(reason.to_owned()),
    };
    let lower_bound = Some(lower_bound);
    Ok(Plan { variants: variants.to_vec(), boxes, cost, lower_bound, proof })
}

/// Solves for every way to choose the variants of fixed boxes and keeps the cheapest plan; no plan
/// is below the least of the bounds.
fn solve(
    bundles: &[Bundle],
    variants: &[Variant],
    wishes: &LoadWishes,
    effort: Effort,
) -> Result<(Problem, engine::Solved), Vec<Misfit>> {
    let effort = Effort { units: effort.units.saturating_mul(u64::from(wishes.effort)) };
    let mut best: Option<(Problem, engine::Solved)> = None;
    let mut least_bound: Option<i64> = None;
    let mut failed = Vec::new();
    for pins in wishes::ways(wishes, variants)? {
        let mut problem = problem(bundles, variants);
        wishes::ask(&mut problem, wishes);
        problem.pins = pins;
        match engine::solve(&problem, &effort) {
            Ok(solved) => {
                let bound = solved.lower_bound;
                least_bound = Some(least_bound.map_or(bound, |least| least.min(bound)));
                if best.as_ref().is_none_or(|(_, best)| solved.cost < best.cost) {
                    best = Some((problem, solved));
                }
            }
            Err(all) => failed = misfits(&all, &problem, variants),
        }
    }
    let Some((problem, mut solved)) = best else { return Err(failed) };
    solved.lower_bound = least_bound.unwrap_or(solved.lower_bound);
    if solved.lower_bound < solved.cost && solved.proof == engine::Proof::Proven {
        solved.proof =
            engine::Proof::Gap { reason: "another class for a fixed box is not excluded" };
    }
    Ok((problem, solved))
}

fn filled(index: usize, loaded: &engine::Loaded) -> FilledBox {
    let spots: Vec<Spot> = loaded
        .places
        .iter()
        .map(|place| Spot { bundle: place.piece, x: place.x, y: place.y, turned: place.turned })
        .collect();
    FilledBox {
        label: (index + 1).to_string(),
        variant: loaded.kind,
        bundles: spots.iter().map(|spot| spot.bundle).collect(),
        spots: Some(spots),
        number: None,
        seal: None,
        tare: None,
        dunnage: None,
    }
}

/// Works out places for a box that is given. `Err`: why its floor cannot be laid out.
///
/// # Errors
/// The reason, in a sentence without its final stop.
pub fn place(
    filled: &FilledBox,
    bundles: &[Bundle],
    variant: &Variant,
    effort: Effort,
) -> Result<Vec<Spot>, String> {
    if let (Ok(cargo), Some(limit)) = (cargo(&filled.bundles, bundles, variant), variant.binding())
        && cargo > limit.cargo
    {
        // Nothing is searched for what the mass alone forbids.
        return Err(format!("{cargo} with its dunnage is over its {}", limit.name));
    }
    let own: Vec<Bundle> =
        filled.bundles.iter().filter_map(|at| bundles.get(*at)).cloned().collect();
    let mut problem = problem(&own, std::slice::from_ref(variant));
    problem.max_boxes = Some(1);
    problem.groups = vec![Grouping::Free; problem.groups.len()];
    let solved = engine::solve(&problem, &effort).map_err(|all| {
        let found = misfits(&all, &problem, std::slice::from_ref(variant));
        found.first().map_or_else(String::new, |misfit| misfit.reason.clone())
    })?;
    let [loaded] = &solved.boxes[..] else {
        return Err("it does not fit in one box".to_owned());
    };
    let spots = loaded.places.iter().filter_map(|place| {
        let bundle = *filled.bundles.get(place.piece)?;
        Some(Spot { bundle, x: place.x, y: place.y, turned: place.turned })
    });
    Ok(spots.collect())
}

/// The engine's problem: masses rounded up and limits down to the gram, sides up and room down
/// to the millimetre, so that what fits there fits.
pub(super) fn problem(bundles: &[Bundle], variants: &[Variant]) -> Problem {
    let mut blocks: BTreeMap<&str, usize> = BTreeMap::new();
    for bundle in bundles {
        if let Some(block) = &bundle.block {
            let next = blocks.len();
            blocks.entry(block).or_insert(next);
        }
    }
    let piece = |bundle: &Bundle| Piece {
        mass: bundle.limit_mass.grams_up(),
        length: bundle.length.mm_up(),
        width: bundle.width.mm_up(),
        height: bundle.height.mm_up(),
        destination: 0,
        group: bundle.block.as_ref().and_then(|block| blocks.get(block.as_str()).copied()),
        may_turn: bundle.may_turn,
    };
    Problem {
        pieces: bundles.iter().map(piece).collect(),
        kinds: variants.iter().map(kind).collect(),
        groups: vec![Grouping::Wish { price: 0 }; blocks.len()],
        ..Problem::default()
    }
}

pub(super) fn kind(variant: &Variant) -> BoxKind {
    let container = &variant.container;
    let [inside_length, inside_width, _] = container.inside;
    let (length, width) = (inside_length.mm_down(), inside_width.mm_down());
    let half = |gap: crate::quantity::Length| gap.mm_up().saturating_add(1) / 2;
    let payload = variant.binding().map_or(0, |limit| limit.cargo.grams_down());
    let opening = container.opening().map_or(0, crate::quantity::Length::mm_down);
    let payload = payload.saturating_sub(container.securing.grams_up());
    let mut limits = HalfPlane::window_along(length, BALANCE_ALONG).to_vec();
    limits.extend(HalfPlane::window_across(width, BALANCE_ACROSS));
    for road in &variant.roads {
        // A road whose figures cannot be held was refused where its limits were worked out.
        let planes = planes(road, variant).unwrap_or_default();
        limits.extend(road::sharpened(planes, payload, length, BALANCE_ALONG));
    }
    BoxKind {
        destination: 0,
        length,
        width,
        door_height: opening,
        door_width: container.door[0].mm_down(),
        payload,
        cost: variant.cost.minor().unwrap_or(i64::MAX),
        available: None,
        // Kilograms per metre are grams per millimetre.
        line_load: Some(LineLoad {
            mass: container.line_load.grams_per_m_down(),
            per_length: 1_000,
        }),
        gap_end: half(container.end_bracing),
        gap_side: half(container.bracing),
        limits,
    }
}

/// The rules of a road for a box that stands the usual way. A planned load gains nothing from being
/// turned around: floor, gaps and window are the same from both ends, so its mirror image is a
/// plan as well.
fn planes(road: &Road, variant: &Variant) -> Result<Vec<HalfPlane>, Overflow> {
    let doors = road.rig.doors.ways().first().copied().unwrap_or(Doors::Rear);
    road::planes(road, &variant.container, doors)
}

/// What the roads of a variant let it carry, dunnage counted: by the gross limit, and by all axles
/// together with the cargo where it suits them best within the balance window.
///
/// # Errors
/// Where a figure cannot be held.
pub fn road_limits(variant: &Variant) -> Result<Vec<Limit>, Overflow> {
    let mut all = Vec::new();
    for road in &variant.roads {
        let own = Variant { roads: Vec::new(), ..variant.clone() };
        let mut bare = kind(&own);
        // Only the road is asked, not what else limits the cargo.
        bare.line_load = None;
        bare.payload = engine::validate::MASS_LIMIT;
        bare.limits.truncate(2);
        bare.limits.extend(planes(road, variant)?);
        let most = engine::measure::Measure::Mass.capacity(&bare);
        let most = i64::try_from(most).map_err(|_| Overflow { what: "an axle limit" })?;
        let securing = variant.container.securing;
        let place = road.rig.place.clone();
        if let Some((cargo, place)) = road::gross_cargo(road, &variant.container)? {
            let name = format!("gross on rig {}", road.rig.id);
            all.push(Limit { name, kind: LimitKind::Law, cargo, place });
        }
        let axles = Limit {
            name: format!("axles of rig {}", road.rig.id),
            kind: LimitKind::Law,
            cargo: Mass::grams(most).plus(securing)?,
            place,
        };
        let least = variant.limits.iter().chain(&all).map(|limit| limit.cargo).min();
        if least.is_none_or(|least| axles.cargo < least) {
            all.push(axles);
        }
    }
    Ok(all)
}

fn misfits(all: &[engine::Misfit], problem: &Problem, variants: &[Variant]) -> Vec<Misfit> {
    let mut found = Vec::new();
    for misfit in all {
        let reasons: Vec<String> = misfit
            .refusals
            .iter()
            .map(|refusal| {
                let of = refusal.kind.and_then(|kind| variants.get(kind));
                let why = why(&refusal.reason, problem, of);
                of.map_or_else(|| why.clone(), |variant| format!("{}: {why}", variant.label()))
            })
            .collect();
        for piece in misfit.pieces.iter().chain(misfit.pieces.is_empty().then_some(&0)) {
            found.push(Misfit { bundle: *piece, reason: reasons.join("; ") });
        }
    }
    found
}

fn why(reason: &Reason, problem: &Problem, variant: Option<&Variant>) -> String {
    match reason {
        Reason::Flawed(flaw) => format!("its figures are out of range ({flaw:?})"),
        Reason::NoKind => "there is no kind of box".to_owned(),
        Reason::TooTall(mm) => format!("{mm} mm too tall for the door less its clearance"),
        Reason::TooWideForDoor(mm) => format!("{mm} mm too wide for the door"),
        Reason::TooLong(mm) => format!("{mm} mm too long for the floor less bracing"),
        Reason::TooWide(mm) => format!("{mm} mm too wide for the floor less bracing"),
        Reason::TooHeavy(grams) => {
            let limit = variant.and_then(Variant::binding);
            let limit = limit.map_or_else(String::new, |limit| {
                format!(" under {} ({}), dunnage counted", limit.name, limit.kind.word())
            });
            format!("{} too heavy{limit}", Mass::grams(*grams))
        }
        Reason::LineLoad => "too heavy for its length: the line load of the floor".to_owned(),
        Reason::Balance if variant.is_some_and(|variant| !variant.roads.is_empty()) => {
            "it cannot stand so that the box balances and its axles bear it".to_owned()
        }
        Reason::Balance => "it cannot stand so that the box balances".to_owned(),
        Reason::Floor => "together they find no room on the floor".to_owned(),
        Reason::Pinned => "it is fixed to another kind of box".to_owned(),
        Reason::Contradiction => "they must and must not travel together".to_owned(),
        Reason::NotEnoughBoxes(proven) => {
            let most = problem.max_boxes.map_or_else(String::new, |most| format!(" of {most}"));
            let proven = if *proven { "" } else { " (not proven)" };
            format!("the boxes{most} do not suffice{proven}")
        }
    }
}

/// A cost that no load goes below: every kilogram at the best price per kilogram of payload.
pub(super) fn mass_bound(bundles: &[Bundle], variants: &[Variant]) -> Option<Money> {
    let currency = variants.first()?.cost.currency();
    let kinds: Vec<BoxKind> = variants.iter().map(kind).collect();
    let mass: i128 = bundles.iter().map(|bundle| i128::from(bundle.limit_mass.grams_up())).sum();
    let usable = || kinds.iter().filter(|kind| kind.payload > 0);
    let by_mass = usable()
        .map(|kind| {
            num_integer::Integer::div_ceil(
                &(i128::from(kind.cost) * mass),
                &i128::from(kind.payload),
            )
        })
        .min()?;
    let one_box = usable().map(|kind| i128::from(kind.cost)).min()?;
    let least = if mass > 0 { by_mass.max(one_box) } else { 0 };
    Some(Money::from_minor(i64::try_from(least).ok()?, currency))
}
