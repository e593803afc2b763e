//! What holds a box's cargo on its way: judged about the places, and nothing is moved by it.
//!
//! Each direction is judged alone, by the set of securing.toml that asks the most of it. Braking presses on the
//! end that leads: the front end where the doors look to the rear, the doors where they look forward. On a ship a
//! box may stand either way. What friction and the wall do not hold is left to timber.

use super::blocking::{Blocking, blocking};
use super::engine::{Rectangle, before};
use super::forces::{self, END, Force, SIDE};
use super::order::{TIED, floor, tied};
use super::road::{Road, RoadReport};
use super::sets::{Serving, asked, serving};
use super::standing::Standing;
use super::timber::Timber;
use crate::fault::Place;
use crate::quantity::{Decimal, Fraction, Length, Mass, Percent};
use crate::trade::{ContainerType, Doors, Push, SecuringSet, Shipment, Tariffs};

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
    /// The bundles that are tied to each other, side by side, each body by positions in the list.
    pub ties: Vec<Vec<usize>>,
    /// The bodies that tip, each of bundles tied side by side.
    pub tipping: Vec<Tipping>,
    /// Where its timber stands.
    pub blocking: Vec<Blocking>,
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

impl Against {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Front => "front end",
            Self::Doors => "doors",
            Self::Sides => "side walls",
        }
    }
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
    /// The set that is a rule and under which there is no room for the timber.
    pub breaks: Option<Place>,
}

impl Pushed {
    /// What is not held, with its figures, in a sentence without its final stop.
    pub fn not_held(&self) -> String {
        let (count, room) = self.timber.map_or((0, 0), |own| (own.count, own.room.unwrap_or(0)));
        format!(
            "not held against the {}: {} kN are to be held, the wall holds {} of them, and the {} kN left ask for \
             {count} struts, of which {room} have room",
            self.against.word(),
            self.force.kn(),
            self.wall.kn(),
            self.left.kn()
        )
    }
}

impl Held {
    /// All timber of the list: struts to the frame, then braces.
    pub fn timber(&self) -> impl Iterator<Item = &Timber> {
        let braces = self
            .tipping
            .iter()
            .flat_map(|body| body.sideways_timber.iter().chain(&body.lengthwise_timber));
        self.pushes.iter().filter_map(|one| one.timber.as_ref()).chain(braces)
    }

    /// What the list of timber weighs.
    pub fn timber_mass(&self) -> Mass {
        Mass::total(self.timber().map(Timber::mass)).unwrap_or(Mass::ZERO)
    }

    /// The directions in which there is no room for the timber that would hold the cargo.
    pub fn unheld(&self) -> impl Iterator<Item = &Pushed> {
        self.pushes.iter().filter(|one| one.timber.is_some_and(|timber| timber.is_too_much()))
    }

    /// Those of them in which a set that is a rule is broken, with its place.
    pub(super) fn broken_rules(&self) -> impl Iterator<Item = (&Pushed, &Place)> {
        self.pushes.iter().filter_map(|one| Some((one, one.breaks.as_ref()?)))
    }
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

/// What holds the cargo of a box; `None` where places are not known, or nothing that it is held against.
pub(super) fn held(
    container: &ContainerType,
    standing: &[Standing<'_>],
    roads: &[RoadReport<'_>],
    (shipment, tariffs): (&Shipment, &Tariffs),
) -> Option<Held> {
    let friction = tariffs.friction.as_ref()?.of;
    let floor = floor(standing)?;
    let on: Vec<(&Road, Doors)> = roads.iter().map(|own| (own.road, own.doors)).collect();
    let (sets, not_judged) = serving(tariffs, shipment, &on);
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
        let long = between(against, container);
        let space = space(against, &floor, standing);
        let timber = |left: &Force| Timber::holding(left, long, Some(space));
        let breaks = |(set, doors): &Serving<'_>| {
            let mut own = pushes_of(set, *doors, against).into_iter();
            own.any(|push| {
                let timber = timber(&hold(&push).up().less(&wall));
                set.is_rule && timber.is_some_and(|timber| timber.is_too_much())
            })
        };
        pushes.push(Pushed {
            against,
            set: set.name.clone(),
            push,
            timber: timber(&left),
            breaks: sets.iter().find(|serving| breaks(serving)).map(|(set, _)| set.place.clone()),
            gaps: (against == Against::Sides).then(|| gaps(container, &floor)).flatten(),
            force,
            wall,
            left,
        });
    }
    let bodies = tied(&floor);
    let ties = bodies.iter().filter(|body| body.len() > 1).cloned().collect();
    let tipping = bodies.into_iter();
    let tipping = tipping.filter_map(|body| tips(body, &floor, (container, standing), &sets));
    let tipping = tipping.collect();
    let blocking = blocking(container, standing, &floor);
    Some(Held { friction, not_judged, pushes, ties, tipping, blocking, lashings })
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

/// What a batten stands between: wall and wall at the ends, floor and roof rail at the sides.
fn between(against: Against, container: &ContainerType) -> Length {
    let [_, width, height] = container.inside;
    if against == Against::Sides { height } else { width }
}

/// The millimetres that battens have, one above the other at an end, up to the lowest bundle, and one beside the other
/// along the bundles at a side.
fn space(against: Against, floor: &[Rectangle], standing: &[Standing<'_>]) -> i64 {
    if against == Against::Sides {
        let from = floor.iter().map(|[along, _]| along.0).min().unwrap_or(0);
        let to = floor.iter().map(|[along, _]| along.1).max().unwrap_or(0);
        return to - from;
    }
    standing.iter().map(|one| one.bundle.height.mm_down()).min().unwrap_or(0)
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
        sideways_timber: Timber::holding(&sideways, between(Against::Sides, container), None),
        lengthwise_timber: Timber::holding(&lengthwise, between(Against::Front, container), None),
        sideways,
        lengthwise,
    })
}
