//! In which order the bundles of a box come in, and what is released before each comes out.

use super::engine::{self, Entry, Rectangle, Turn};
use super::plan::{FilledBox, Variant};
use super::standing::{Standing, add_up, standing};
use crate::quantity::{Length, Overflow, Units};
use crate::trade::{Bundle, ContainerType, WayIn};

/// Bundles whose sides are no further apart than this are tied to each other, mm: no brace goes
/// between. They are tied where at least half of the shorter one stands beside the other (both choices of ours).
pub(super) const TIED: i64 = 50;

/// How far the front end of a bundle may reach between two others without room beside it, mm (a choice of
/// ours): bundles of a row differ by so much in length.
const NOSE: i64 = 50;

/// How the bundles of a box come in and out.
#[derive(Debug, Clone)]
pub enum Order {
    /// As they are listed, the last of them out first.
    Found {
        /// In which turn the bundles of a row come in.
        turn: Turn,
        /// What is released before each bundle comes out, in the order of unloading.
        out: Vec<Release>,
    },
    /// These have no way in, in any order.
    Stuck(Stuck),
}

/// Bundles that have no way in, by their position in the list.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Stuck {
    /// Those that have none whatever stands before the doors: what stands in their place or beside them leaves
    /// no room.
    pub at_fault: Vec<usize>,
    /// Those that stand behind others which have none.
    pub behind: Vec<usize>,
}

impl Stuck {
    /// What of these to tell, those at fault first.
    pub fn all(&self) -> impl Iterator<Item = usize> {
        self.at_fault.iter().chain(&self.behind).copied()
    }

    /// Of those left, the ones that have no way in even where nothing stands nearer to the doors than they reach.
    fn of(inside: [i64; 2], entry: Entry, floor: &[Rectangle], left: Vec<usize>) -> Self {
        let has_way = |&at: &usize| {
            let Some(own) = floor.get(at) else { return true };
            let is_beside = |other: &usize| floor.get(*other).is_some_and(|[x, _]| x.0 < own[0].1);
            let beside: Vec<usize> = left.iter().copied().filter(is_beside).collect();
            let there: Vec<Rectangle> =
                beside.iter().filter_map(|at| floor.get(*at).copied()).collect();
            let stuck = engine::order(inside, entry, &there).err().unwrap_or_default();
            !stuck.iter().any(|one| beside.get(*one) == Some(&at))
        };
        let (behind, at_fault): (Vec<usize>, Vec<usize>) = left.iter().partition(|at| has_way(at));
        if at_fault.is_empty() {
            Self { at_fault: behind, behind: at_fault }
        } else {
            Self { at_fault, behind }
        }
    }
}

/// What is released before a bundle comes out. Bundles are named by their position in the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Release {
    /// The bundle.
    pub bundle: usize,
    /// What holds it: each goes before it is moved.
    pub held: Vec<Hold>,
    /// The bundles that it held, and that no tie holds from then on, and the row in front that has nothing behind it
    /// from then on: a brace goes to each before.
    pub alone: Vec<usize>,
}

/// What holds a bundle on one side. Left and right are those of somebody at the open doors who looks in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hold {
    /// A brace to the left wall.
    LeftWall,
    /// A brace to the right wall.
    RightWall,
    /// A brace at the doors.
    Doors,
    /// A tie to a bundle beside it.
    Tie(usize),
    /// A brace between it and a bundle further off.
    Brace(usize),
    /// The brace that it was given before a bundle beside it went.
    Own,
}

/// How bundles come into a container, in the engine's figures.
pub(super) fn entry(container: &ContainerType) -> Entry {
    let width = container.door[0].mm_down();
    match container.way_in {
        WayIn::Doors { side } => Entry::Doors { opening: width, side: side.mm_up(), nose: NOSE },
        WayIn::Roof { length, shove, sling } => Entry::Roof {
            opening: [length.mm_down(), width],
            shove: shove.mm_down(),
            sling: sling.mm_up(),
        },
    }
}

/// Puts the bundles of a box in the order of loading and says how they come out; `None` where a place is not
/// known. Where there is no order they stay as they are.
///
/// # Errors
/// On overflow.
pub(super) fn order(
    container: &ContainerType,
    standing: &mut Vec<Standing<'_>>,
) -> Result<Option<Order>, Overflow> {
    let Some(floor) = floor(standing) else { return Ok(None) };
    let [length, width, _] = container.inside.map(Length::mm_down);
    let (inside, entry) = ([length, width], entry(container));
    match engine::order(inside, entry, &floor) {
        Ok(found) => {
            let pick = |at: &usize| standing.get(*at).copied();
            *standing = found.sequence.iter().filter_map(pick).collect();
            add_up(standing)?;
            let floor: Vec<Rectangle> =
                found.sequence.iter().filter_map(|at| floor.get(*at).copied()).collect();
            Ok(Some(Order::Found { turn: found.turn, out: releases(&floor) }))
        }
        Err(left) => Ok(Some(Order::Stuck(Stuck::of(inside, entry, &floor, left)))),
    }
}

/// What is said of bundles that have no way in, in a sentence without its final stop: the names of those at fault,
/// and of those behind them.
pub fn stuck(container: &ContainerType, names: [&[&str]; 2], units: Units) -> String {
    let [at_fault, behind] = names;
    let have = if at_fault.len() == 1 { "has" } else { "have" };
    let why = match container.way_in {
        WayIn::Doors { side } => {
            format!("the lane from the doors must be {} wider than the bundle", side.show(units))
        }
        WayIn::Roof { sling, .. } => format!(
            "a bundle is let down through the roof, with {} for the slings at both ends or along one side",
            sling.show(units)
        ),
    };
    let nor = match behind {
        [] => String::new(),
        [one] => format!("; nor has {one} behind them"),
        all => format!("; nor have {} behind them", all.join(", ")),
    };
    format!("{} {have} no way in, in any order: {why}{nor}", at_fault.join(", "))
}

/// The bundles of a box with places that have no way in, by position in the shipment.
///
/// # Errors
/// On overflow.
pub(super) fn stuck_in(
    filled: &FilledBox,
    bundles: &[Bundle],
    variant: &Variant,
) -> Result<Stuck, Overflow> {
    let mut stands = standing(filled, bundles)?;
    let Some(Order::Stuck(stuck)) = order(&variant.container, &mut stands)? else {
        return Ok(Stuck::default());
    };
    let position = |at: &usize| {
        let named = stands.get(*at)?.bundle;
        let is_it = |at: &&usize| bundles.get(**at).is_some_and(|one| one.id == named.id);
        filled.bundles.iter().find(is_it).copied()
    };
    let positions = |all: &[usize]| all.iter().filter_map(position).collect();
    Ok(Stuck { at_fault: positions(&stuck.at_fault), behind: positions(&stuck.behind) })
}

/// From where to where each bundle stands, along the box and across it; `None` where a place is not known.
pub(super) fn floor(standing: &[Standing<'_>]) -> Option<Vec<Rectangle>> {
    let rectangle = |one: &Standing<'_>| {
        let (x, y) = one.at?;
        Some([(x, x + one.length_along()), (y, y + one.width_across())])
    };
    standing.iter().map(rectangle).collect()
}

/// The ties and braces that go before each bundle, in the order of unloading: the last that came in is the first.
/// They were set in the full box, or as a brace of its own since.
fn releases(floor: &[Rectangle]) -> Vec<Release> {
    // Who is tied to a bundle stands at most 50 mm off, so nobody between hides it.
    let beside = |own: &Rectangle| [true, false].map(|is_left| facing(floor, own, is_left));
    let beside: Vec<[Vec<Beside>; 2]> = floor.iter().map(beside).collect();
    let bodies = tied(floor);
    let is_behind = |[x, y]: &Rectangle, [along, across]: &Rectangle| {
        x.0 >= along.1 && y.0 < across.1 && across.0 < y.1
    };
    let mut out: Vec<Release> = Vec::with_capacity(floor.len());
    for ((bundle, own), sides) in floor.iter().enumerate().zip(&beside).rev() {
        let before = floor.get(..bundle).unwrap_or_default();
        let mut held = Vec::new();
        for (facing, wall) in sides.iter().zip([Hold::LeftWall, Hold::RightWall]) {
            if facing.is_empty() {
                held.push(wall);
            }
            held.extend(facing.iter().filter(|beside| beside.at < bundle).filter_map(|beside| {
                match beside.gap {
                    _ if beside.is_tied => Some(Hold::Tie(beside.at)),
                    // No brace goes between.
                    ..=TIED => None,
                    _ => Some(Hold::Brace(beside.at)),
                }
            }));
        }
        if !floor.iter().any(|one| is_behind(one, own)) {
            held.push(Hold::Doors);
        }
        if out.iter().any(|release| release.alone.contains(&bundle)) {
            held.push(Hold::Own);
        }
        let loses = |sides: &[Vec<Beside>; 2]| {
            let all = || sides.iter().flatten();
            all().any(|beside| beside.at == bundle)
                && !all().any(|beside| beside.is_tied && beside.at < bundle)
        };
        let of_side = (0..bundle).filter(|at| beside.get(*at).is_some_and(loses));
        // A body in front that has nothing behind it from now on.
        let of_body = bodies.iter().filter(|body| {
            let backs = |one: &Rectangle| {
                body.iter().filter_map(|at| floor.get(*at)).any(|front| is_behind(one, front))
            };
            !body.contains(&bundle) && backs(own) && !before.iter().any(backs)
        });
        let mut alone: Vec<usize> = of_side.chain(of_body.flatten().copied()).collect();
        alone.sort_unstable();
        alone.dedup();
        out.push(Release { bundle, held, alone });
    }
    out
}

/// The bodies on a floor: bundles that stand side by side are tied to each other.
pub(super) fn tied(floor: &[Rectangle]) -> Vec<Vec<usize>> {
    let mut bodies: Vec<Vec<usize>> = Vec::new();
    for (at, own) in floor.iter().enumerate() {
        let before = floor.get(..at).unwrap_or_default();
        let beside = [true, false].into_iter().flat_map(|is_left| facing(before, own, is_left));
        let beside: Vec<usize> =
            beside.filter(|beside| beside.is_tied).map(|beside| beside.at).collect();
        let (joined, mut apart): (Vec<_>, Vec<_>) =
            bodies.into_iter().partition(|body| body.iter().any(|one| beside.contains(one)));
        let mut body: Vec<usize> = joined.into_iter().flatten().collect();
        body.push(at);
        body.sort_unstable();
        apart.push(body);
        bodies = apart;
    }
    bodies.sort_unstable();
    bodies
}

/// A bundle that stands next on one side.
struct Beside {
    at: usize,
    gap: i64,
    is_tied: bool,
}

/// The bundles that stand next on one side: those behind them are hidden.
fn facing(others: &[Rectangle], own: &Rectangle, is_left: bool) -> Vec<Beside> {
    let [along, across] = own;
    let gap = |other: &Rectangle| {
        let [x, y] = other;
        let gap = if is_left { across.0 - y.1 } else { y.0 - across.1 };
        (gap >= 0 && x.1.min(along.1) - x.0.max(along.0) > NOSE).then_some(gap)
    };
    let all: Vec<(usize, i64, &Rectangle)> = others
        .iter()
        .enumerate()
        .filter_map(|(at, other)| Some((at, gap(other)?, other)))
        .collect();
    let is_hidden = |(_, far, [x, _]): &(usize, i64, &Rectangle)| {
        all.iter().any(|(_, near, [other, _])| near < far && other.0 < x.1 && x.0 < other.1)
    };
    let long = |side: &(i64, i64)| side.1 - side.0;
    let seen = all.iter().filter(|one| !is_hidden(one));
    let beside = seen.map(|(at, gap, [x, _])| {
        let contact = x.1.min(along.1) - x.0.max(along.0);
        let is_tied = *gap <= TIED && 2 * contact >= long(x).min(long(along));
        Beside { at: *at, gap: *gap, is_tied }
    });
    beside.collect()
}

#[cfg(test)]
mod tests {
    use super::Hold::{Brace, Doors, LeftWall, Own, RightWall, Tie};
    use super::*;

    #[test]
    fn ties_and_braces_go_before_a_bundle_and_what_then_stands_alone_is_named() {
        // Two rows of two, tied; a third in the front row 60 mm further off.
        let floor = [
            [(0, 100), (50, 80)],
            [(0, 100), (80, 110)],
            [(0, 100), (170, 200)],
            [(100, 200), (50, 80)],
            [(100, 200), (80, 110)],
        ];
        let out = releases(&floor);
        let release = |bundle, held: &[Hold], alone: &[usize]| Release {
            bundle,
            held: held.to_vec(),
            alone: alone.to_vec(),
        };
        assert_eq!(
            out,
            [
                release(4, &[Tie(3), RightWall, Doors], &[3]),
                // The front row has nothing behind it from here on.
                release(3, &[LeftWall, Doors, Own], &[0, 1]),
                release(2, &[Brace(1), RightWall, Doors], &[]),
                // The rear row stood before the doors, and the third of the front row by the right wall.
                release(1, &[Tie(0), Own], &[0]),
                release(0, &[LeftWall, Own], &[]),
            ]
        );
    }

    #[test]
    fn bundles_at_fault_are_told_apart_from_those_behind() {
        // Two rows in a box of 100 mm: the rear one fills it but for 8 mm, and 10 are asked. Then a bundle in the place
        // of another.
        let doors = Entry::Doors { opening: 100, side: 10, nose: 0 };
        let of = |floor: &[Rectangle]| {
            let left = engine::order([400, 100], doors, floor).unwrap_err();
            Stuck::of([400, 100], doors, floor, left)
        };
        let stuck = |at_fault: &[usize], behind: &[usize]| Stuck {
            at_fault: at_fault.to_vec(),
            behind: behind.to_vec(),
        };
        let front = [[(0, 90), (0, 30)], [(0, 90), (30, 60)]];
        let rear = [[(100, 190), (4, 50)], [(100, 190), (50, 96)]];
        assert_eq!(of(&[front, rear].concat()), stuck(&[2, 3], &[0, 1]));
        let rear = [[(100, 190), (0, 30)], [(150, 240), (20, 50)]];
        assert_eq!(of(&[front, rear].concat()), stuck(&[2, 3], &[0, 1]));
    }

    #[test]
    fn bundles_are_tied_where_half_of_the_shorter_one_stands_beside_the_other() {
        let beside = |shift: i64| [[(0, 2_790), (0, 400)], [(shift, shift + 3_000), (400, 800)]];
        assert_eq!(tied(&beside(1_395)), [vec![0, 1]]);
        assert_eq!(tied(&beside(1_396)), [vec![0], vec![1]]);
        // What touches over less is not tied, and stands alone when its neighbour goes.
        let out = releases(&beside(2_700));
        assert_eq!((&*out[0].held, &*out[0].alone), (&[RightWall, Doors][..], &[0][..]));
        assert_eq!(out[1].held, [LeftWall, Doors, Own]);
    }
}
