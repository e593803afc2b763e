//! What holds a box's cargo on its way: judged about the places, and nothing is moved by it.
//!
//! Each direction is judged alone, by the set of securing.toml that asks the most of it. Braking presses on the
//! end that leads: the front end where the doors look to the rear, the doors where they look forward. On a ship a
//! box may stand either way. What friction and the wall do not hold is left to timber.

use super::engine::{Rectangle, before};
use super::forces::{self, Asked, Force};
use super::order::{TIED, floor, tied};
use super::road::RoadReport;
use super::standing::Standing;
use crate::fault::At;
use crate::quantity::{Decimal, Fraction, Length, Mass, Percent};
use crate::trade::{Carriage, ContainerType, Doors, Lane, Push, SecuringSet, Shipment, Tariffs};

/// The share of the payload that a side wall and an end hold, in thousandths (CTU Code 6.2.4).
const SIDE: i64 = 600;
const END: i64 = 400;
/// The timber of a strut: thick and high, mm (common practice).
const TIMBER: [i64; 2] = [100, 100];
/// At how many tenths of the lowest bundle's height a brace against tipping stands (a choice of ours).
const BRACE_TENTHS: i64 = 9;
/// The pretension of a lashing over the top and the strength of a lashing point, kN (GDV Container Handbook:
/// points of about 1,000 daN; the pretension of a hand ratchet, common practice).
const TENSION: Decimal = Decimal::from_parts(4, 0, 0, false, 0);
const POINT: Decimal = Decimal::from_parts(10, 0, 0, false, 0);
/// The factors for lashings over the top, forward and otherwise (EN 12195-1:2010, from memory).
const FORWARD: Decimal = Decimal::from_parts(125, 0, 0, false, 2);
const OTHERWISE: Decimal = Decimal::from_parts(11, 0, 0, false, 1);

/// What holds the cargo of a box.
#[derive(Debug, Clone)]
pub struct Held {
    /// The friction that counts.
    pub friction: Percent,
    /// What no set serves, so that the rest is judged without it: the voyage, a road.
    pub not_judged: Vec<String>,
    /// Each direction, by the set that asks the most.
    pub pushes: Vec<Pushed>,
    /// The bodies that tip, each of bundles tied side by side.
    pub tipping: Vec<Tipping>,
    /// What lashings alone would take in the direction that asks the most; none where friction holds.
    pub lashings: Option<Lashings>,
}

/// What the cargo is pushed against.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Against {
    /// The front end.
    Front,
    /// The doors.
    Doors,
    /// A side wall, either of them.
    Sides,
}

/// The push in one direction and what holds it.
#[derive(Debug, Clone)]
pub struct Pushed {
    /// What it goes against.
    pub against: Against,
    /// The set that asks the most.
    pub set: String,
    /// Its push.
    pub push: Push,
    /// What is to hold beyond friction, up to the tenth of a kilonewton.
    pub force: Force,
    /// What the wall holds of it, with spreaders as large as the bundles that look at it; down to the tenth.
    pub wall: Force,
    /// What is left to struts to the frame: the one less the other.
    pub left: Force,
    /// The least gaps from the bundles to the left and to the right wall, where one is too wide for a tie.
    pub gaps: Option<[Length; 2]>,
    /// The timber for that; none where nothing is left.
    pub timber: Option<Timber>,
}

/// Struts of one kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Timber {
    /// How many.
    pub count: i64,
    /// Thick, high and long.
    pub sides: [Length; 3],
}

/// A body that tips unless it is braced.
#[derive(Debug, Clone)]
pub struct Tipping {
    /// Its bundles, by their position in the list.
    pub bundles: Vec<usize>,
    /// How high its braces stand.
    pub brace: Length,
    /// What a brace beside it holds.
    pub sideways: Force,
    /// The timber for that.
    pub sideways_timber: Option<Timber>,
    /// What a brace before or behind it holds.
    pub lengthwise: Force,
    /// The timber for that.
    pub lengthwise_timber: Option<Timber>,
}

/// Lashings that would hold the cargo alone, each kind counted in its worst direction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lashings {
    /// Upright over the top.
    pub over_the_top: i64,
    /// The factor that these are counted with.
    pub factor: Decimal,
    /// Direct, at 45 degrees.
    pub direct: i64,
    /// The pretension of the first, kN.
    pub tension: Decimal,
    /// The strength of the points of the second, kN.
    pub point: Decimal,
}

/// A set that serves a box, and which way the doors look there; on a ship either way.
type Serving<'a> = (&'a SecuringSet, Option<Doors>);

/// What holds the cargo of a box; `None` where places are not known, or nothing that it is held against.
pub(super) fn held(
    container: &ContainerType,
    standing: &[Standing<'_>],
    roads: &[RoadReport<'_>],
    (shipment, tariffs): (&Shipment, &Tariffs),
) -> Option<Held> {
    let friction = tariffs.friction.as_ref()?.of;
    let floor = floor(standing)?;
    let (sets, not_judged) = serving(tariffs, shipment, roads);
    let grams = standing.iter().map(|one| i128::from(one.bundle.limit_mass.grams_up())).sum();
    let hold = |push: &Push| forces::to_hold(grams, &asked(push, friction));
    let mut pushes = Vec::new();
    let mut lashings: Option<Lashings> = None;
    for against in [Against::Front, Against::Doors, Against::Sides] {
        let Some((set, push)) = worst(&sets, against, |push| hold(push)) else { continue };
        let exact = hold(&push);
        if exact.is_any() {
            let asked = asked(&push, friction);
            let factor = if push == set.forward { FORWARD } else { OTHERWISE };
            let over = forces::over_the_top(grams, &asked, factor, TENSION);
            let over = over.ceil().to_i64().unwrap_or(i64::MAX);
            let direct = exact.over(&forces::direct(POINT, asked.friction));
            let own = lashings.get_or_insert(Lashings {
                over_the_top: over,
                factor,
                direct,
                tension: TENSION,
                point: POINT,
            });
            if over > own.over_the_top {
                (own.over_the_top, own.factor) = (over, factor);
            }
            own.direct = own.direct.max(direct);
        }
        let (force, wall) = (exact.up(), wall(against, container, &floor, standing).down());
        let left = force.less(&wall);
        pushes.push(Pushed {
            against,
            set: set.name.clone(),
            push,
            timber: timber(against, container, &left),
            gaps: (against == Against::Sides).then(|| gaps(container, &floor)).flatten(),
            force,
            wall,
            left,
        });
    }
    let bodies = tied(&floor).into_iter();
    let tipping = bodies.filter_map(|body| tips(body, &floor, (container, standing), &sets));
    let tipping = tipping.collect();
    Some(Held { friction, not_judged, pushes, tipping, lashings })
}

/// The least gaps to the side walls of bundles that look at them.
fn gaps(container: &ContainerType, floor: &[Rectangle]) -> Option<[Length; 2]> {
    let width = container.inside[1].mm_down();
    let gap = |far: bool| {
        let looks = |(at, _): &(usize, &Rectangle)| before(floor, *at, 1, far).wall > 0;
        let own = floor.iter().enumerate().filter(looks);
        own.map(|(_, [_, across])| if far { width - across.1 } else { across.0 }).min()
    };
    let both = [gap(false)?, gap(true)?];
    both.iter().any(|gap| *gap > TIED).then(|| both.map(Length::whole_mm))
}

fn asked(push: &Push, friction: Percent) -> Asked {
    Asked {
        push: push.push.fraction(),
        weight: push.weight.fraction(),
        friction: friction.fraction(),
    }
}

/// The sets that serve a box on its lane and its roads, and what none serves.
fn serving<'a>(
    tariffs: &'a Tariffs,
    shipment: &Shipment,
    roads: &[RoadReport<'_>],
) -> (Vec<Serving<'a>>, Vec<String>) {
    let mut not_judged = Vec::new();
    let of = |by: Carriage, is_named: &dyn Fn(&SecuringSet) -> bool| -> Vec<&'a SecuringSet> {
        let own = || tariffs.securing.iter().filter(move |set| set.by == by);
        let named: Vec<_> = own().filter(|set| is_named(set)).collect();
        let is_for_all = |set: &&SecuringSet| set.lanes.is_empty() && set.roads.is_empty();
        if named.is_empty() { own().filter(is_for_all).collect() } else { named }
    };
    let is_lane = |set: &SecuringSet| {
        let sails =
            |lane: &At<Lane>| lane.from == shipment.from.code && lane.to == shipment.to.code;
        set.lanes.iter().any(sails)
    };
    let mut all: Vec<Serving<'a>> = Vec::new();
    let mut serve = |what: String, sets: Vec<&'a SecuringSet>, doors: Option<Doors>| {
        if sets.is_empty() && !not_judged.contains(&what) {
            not_judged.push(what);
        }
        all.extend(sets.into_iter().map(|set| (set, doors)));
    };
    serve("the voyage".to_owned(), of(Carriage::Sea, &is_lane), None);
    for at_origin in [true, false] {
        let mut own = roads.iter().filter(|report| report.road.at_origin == at_origin).peekable();
        if own.peek().is_none() {
            // Of a road that is not known, the doors look to the rear, as usual.
            let what = if at_origin { "the road to the port" } else { "the road from the port" };
            serve(what.to_owned(), of(Carriage::Road, &|_| false), Some(Doors::Rear));
        }
        for report in own {
            let is_law =
                |set: &SecuringSet| set.roads.iter().any(|road| road.value == report.road.law.id);
            let what = format!("the road {}", report.road.law.id);
            serve(what, of(Carriage::Road, &is_law), Some(report.doors));
        }
    }
    (all, not_judged)
}

/// The pushes of a set in one direction.
fn pushes_of(set: &SecuringSet, doors: Option<Doors>, against: Against) -> Vec<Push> {
    match (against, doors) {
        (Against::Sides, _) => vec![set.sideways],
        (_, None) => vec![set.forward, set.aft],
        (Against::Front, Some(Doors::Rear)) | (Against::Doors, Some(Doors::Front)) => {
            vec![set.forward]
        }
        _ => vec![set.aft],
    }
}

/// The set and the push that ask the most in one direction.
fn worst<'a>(
    sets: &[Serving<'a>],
    against: Against,
    force: impl Fn(&Push) -> Force,
) -> Option<(&'a SecuringSet, Push)> {
    let mut worst: Option<(Force, (&SecuringSet, Push))> = None;
    for (set, doors) in sets {
        for push in pushes_of(set, *doors, against) {
            let own = force(&push);
            if worst.as_ref().is_none_or(|(most, _)| own.is_more_than(most)) {
                worst = Some((own, (*set, push)));
            }
        }
    }
    worst.map(|(_, found)| found)
}

/// What a wall holds with spreaders as large as the bundles that look at it; of two side walls the weaker.
fn wall(
    against: Against,
    container: &ContainerType,
    floor: &[Rectangle],
    standing: &[Standing<'_>],
) -> Force {
    let payload = container.payload().map_or(0, Mass::grams_down);
    let [length, width, height] = container.inside.map(Length::mm_down);
    let (axis, ends, permille, wide): (_, &[bool], _, _) = match against {
        Against::Front => (0, &[false], END, width),
        Against::Doors => (0, &[true], END, width),
        Against::Sides => (1, &[false, true], SIDE, length),
    };
    let touched = |far: bool| -> i128 {
        let own = standing.iter().enumerate().map(|(at, one)| {
            let high = one.bundle.height.mm_up().min(height);
            i128::from(before(floor, at, axis, far).wall) * i128::from(high)
        });
        own.sum()
    };
    let least = ends.iter().map(|far| touched(*far)).min().unwrap_or(0);
    forces::wall(permille, payload.into(), [least, i128::from(wide) * i128::from(height)])
}

/// The battens for a force: across the box at its ends, between floor and roof rail at its sides; none for none.
fn timber(against: Against, container: &ContainerType, left: &Force) -> Option<Timber> {
    if !left.is_any() {
        return None;
    }
    let [_, width, height] = container.inside;
    let free = if against == Against::Sides { height } else { width };
    let [thick, high] = TIMBER;
    let count = left.over(&forces::batten([thick, high, free.mm_up()]));
    Some(Timber { count, sides: [Length::whole_mm(thick), Length::whole_mm(high), free] })
}

/// What braces hold a body that would tip; `None` where it stands by itself.
fn tips(
    body: Vec<usize>,
    floor: &[Rectangle],
    (container, standing): (&ContainerType, &[Standing<'_>]),
    sets: &[Serving<'_>],
) -> Option<Tipping> {
    let own: Vec<(Rectangle, &Standing<'_>)> =
        body.iter().filter_map(|at| Some((*floor.get(*at)?, standing.get(*at)?))).collect();
    let lowest = own.iter().map(|(_, one)| one.bundle.height.mm_up()).min()?;
    let brace = lowest * BRACE_TENTHS / 10;
    let grams = |one: &Standing<'_>| i128::from(one.bundle.limit_mass.grams_up());
    let mass: i128 = own.iter().map(|(_, one)| grams(one)).sum();
    let mean = |twice: &dyn Fn(&(Rectangle, &Standing<'_>)) -> i64| {
        let moment: i128 = own.iter().map(|one| grams(one.1) * i128::from(twice(one))).sum();
        Fraction::whole(moment).over(&Fraction::whole((2 * mass).max(1)))
    };
    let high = mean(&|(_, one)| one.bundle.height.mm_up());
    let whole = |mm: i64| Fraction::whole(mm.into());
    // What braces hold where the body turns about its edge on one side.
    let toward = |axis: usize, far: bool, against: Against| -> Force {
        let side = |one: &Rectangle| one.get(axis).copied().unwrap_or((0, 0));
        let centre = mean(&|(one, _)| side(one).0 + side(one).1);
        let inward = if far {
            whole(own.iter().map(|(one, _)| side(one).1).max().unwrap_or(0)).minus(&centre)
        } else {
            centre.minus(&whole(own.iter().map(|(one, _)| side(one).0).min().unwrap_or(0)))
        };
        let force = |push: &Push| {
            let tipping = push.tipping.unwrap_or(push.push).fraction().max(push.push.fraction());
            let at = [high.clone(), inward.clone(), whole(brace.max(1))];
            forces::against_tipping(mass, (tipping, push.weight.fraction()), at)
        };
        worst(sets, against, force).map_or_else(Force::none, |(_, push)| force(&push))
    };
    let greater = |one: Force, two: Force| if two.is_more_than(&one) { two } else { one };
    let sideways = greater(toward(1, false, Against::Sides), toward(1, true, Against::Sides));
    let lengthwise = greater(toward(0, false, Against::Front), toward(0, true, Against::Doors));
    (sideways.is_any() || lengthwise.is_any()).then(|| Tipping {
        bundles: body,
        brace: Length::whole_mm(brace),
        sideways_timber: timber(Against::Sides, container, &sideways),
        lengthwise_timber: timber(Against::Front, container, &lengthwise),
        sideways,
        lengthwise,
    })
}
