//! The checker: does this plan hold? It knows the problem and the plan and nothing of how
//! the plan was found, and derives every rule anew.

use std::collections::{BTreeMap, BTreeSet};

use crate::load::engine::model::entry::has_order;
use crate::load::engine::model::problem::{
    BoxKind, Grouping, Loaded, Piece, Placed, Problem, rectangles,
};
use crate::quantity::Fraction;

/// A rule that a plan breaks. `load` is the number of the box in the plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Violation {
    /// The plan names a piece or kind that is not there.
    Unknown {
        /// Number of the box.
        load: usize,
    },
    /// A piece is in no box.
    Missing {
        /// The piece.
        piece: usize,
    },
    /// A piece is named more than once.
    Twice {
        /// The piece.
        piece: usize,
    },
    /// More boxes of a kind than are to be had.
    Availability {
        /// The kind.
        kind: usize,
        /// How many too many.
        over: u32,
    },
    /// More boxes than there are of several kinds together.
    Stock {
        /// Which stock.
        stock: usize,
        /// How many too many.
        over: u32,
    },
    /// More boxes than allowed in all.
    TooManyBoxes {
        /// How many too many.
        over: u32,
    },
    /// The cargo is heavier than the payload, by so many grams.
    Payload {
        /// Number of the box.
        load: usize,
        /// Grams too many.
        over: i64,
    },
    /// A half plane is broken.
    Limit {
        /// Number of the box.
        load: usize,
        /// Index of the half plane in its kind.
        limit: usize,
    },
    /// The floor bears too much at this station, mm from the front end.
    LineLoad {
        /// Number of the box.
        load: usize,
        /// Where, mm from the front end.
        station: i64,
    },
    /// A piece does not pass the door.
    Door {
        /// Number of the box.
        load: usize,
        /// The piece.
        piece: usize,
    },
    /// A piece stands outside the floor or in a bracing gap.
    Outside {
        /// Number of the box.
        load: usize,
        /// The piece.
        piece: usize,
    },
    /// Two pieces stand in one place.
    Overlap {
        /// Number of the box.
        load: usize,
        /// The one.
        piece: usize,
        /// The other.
        other: usize,
    },
    /// A piece is turned that may not be.
    Turned {
        /// Number of the box.
        load: usize,
        /// The piece.
        piece: usize,
    },
    /// The pieces come in in no order.
    NoWay {
        /// Number of the box.
        load: usize,
    },
    /// A group that is a rule is split.
    Split {
        /// The group.
        group: usize,
    },
    /// The pieces of a tie do not share a box.
    Tie {
        /// The tie.
        tie: usize,
    },
    /// The pieces of a pin are not together in a box of its kind, or two pins share one.
    Pin {
        /// The pin.
        pin: usize,
    },
    /// Two pieces share a box that may not.
    Together {
        /// The one.
        piece: usize,
        /// The other.
        other: usize,
    },
    /// The plan's cost is not what it says.
    Cost {
        /// What it is, boxes and broken wishes.
        true_cost: i128,
    },
}

/// Every breach of the plan; empty when it holds.
pub fn check(problem: &Problem, boxes: &[Loaded], cost: i64) -> Vec<Violation> {
    let mut breaches = Vec::new();
    let mut home: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
    let mut times = vec![0_u32; problem.pieces.len()];
    for (load, loaded) in boxes.iter().enumerate() {
        let known = loaded.places.iter().all(|place| place.piece < problem.pieces.len());
        let Some(kind) = problem.kinds.get(loaded.kind).filter(|_| known) else {
            breaches.push(Violation::Unknown { load });
            continue;
        };
        for place in &loaded.places {
            times[place.piece] += 1;
            home.entry(place.piece).or_default().insert(load);
        }
        check_box(problem, load, kind, &loaded.places, &mut breaches);
        let floor = || rectangles(&problem.pieces, &loaded.places);
        if let Some(&entry) = problem.entries.get(loaded.kind)
            && !has_order([kind.length, kind.width], entry, &floor())
        {
            breaches.push(Violation::NoWay { load });
        }
    }
    for (piece, &count) in times.iter().enumerate() {
        match count {
            0 => breaches.push(Violation::Missing { piece }),
            1 => {}
            _ => breaches.push(Violation::Twice { piece }),
        }
    }
    check_counts(problem, boxes, &mut breaches);
    check_ties(problem, boxes, &home, &mut breaches);
    let true_cost = cost_of(problem, boxes, &home);
    if true_cost != i128::from(cost) {
        breaches.push(Violation::Cost { true_cost });
    }
    breaches
}

/// Boxes and broken wishes.
fn cost_of(problem: &Problem, boxes: &[Loaded], home: &BTreeMap<usize, BTreeSet<usize>>) -> i128 {
    let kinds = boxes.iter().filter_map(|loaded| problem.kinds.get(loaded.kind));
    let mut cost: i128 = kinds.map(|kind| i128::from(kind.cost)).sum();
    for (group, grouping) in problem.groups.iter().enumerate() {
        if let Grouping::Wish { price } = grouping {
            let touched = touched(problem, home, group).len();
            cost += i128::from(*price) * i128::try_from(touched.saturating_sub(1)).unwrap_or(0);
        }
    }
    cost
}

fn touched(
    problem: &Problem,
    home: &BTreeMap<usize, BTreeSet<usize>>,
    group: usize,
) -> BTreeSet<usize> {
    home.iter()
        .filter(|(piece, _)| problem.pieces[**piece].group == Some(group))
        .flat_map(|(_, loads)| loads.iter().copied())
        .collect()
}

fn check_counts(problem: &Problem, boxes: &[Loaded], breaches: &mut Vec<Violation>) {
    let mut used: BTreeMap<usize, u32> = BTreeMap::new();
    for loaded in boxes {
        *used.entry(loaded.kind).or_default() += 1;
    }
    for (&kind, &count) in &used {
        let had = problem.kinds.get(kind).and_then(|kind| kind.available);
        if let Some(over) = had.and_then(|had| count.checked_sub(had)).filter(|&over| over > 0) {
            breaches.push(Violation::Availability { kind, over });
        }
    }
    for (stock, own) in problem.stocks.iter().enumerate() {
        let count: u32 =
            used.iter().filter(|(kind, _)| own.kinds.contains(kind)).map(|(_, count)| count).sum();
        if let Some(over) = count.checked_sub(own.count).filter(|&over| over > 0) {
            breaches.push(Violation::Stock { stock, over });
        }
    }
    let count: u32 = used.values().sum();
    let over = problem.max_boxes.and_then(|most| count.checked_sub(most));
    if let Some(over) = over.filter(|&over| over > 0) {
        breaches.push(Violation::TooManyBoxes { over });
    }
}

fn check_ties(
    problem: &Problem,
    boxes: &[Loaded],
    home: &BTreeMap<usize, BTreeSet<usize>>,
    breaches: &mut Vec<Violation>,
) {
    for (group, grouping) in problem.groups.iter().enumerate() {
        if *grouping == Grouping::Rule && touched(problem, home, group).len() > 1 {
            breaches.push(Violation::Split { group });
        }
    }
    for (tie, pieces) in problem.ties.iter().enumerate() {
        let loads: BTreeSet<usize> =
            pieces.iter().filter_map(|piece| home.get(piece)).flatten().copied().collect();
        if loads.len() > 1 {
            breaches.push(Violation::Tie { tie });
        }
    }
    let mut taken = BTreeSet::new();
    for (pin, pinned) in problem.pins.iter().enumerate() {
        let loads: BTreeSet<usize> =
            pinned.pieces.iter().filter_map(|piece| home.get(piece)).flatten().copied().collect();
        let mut loads = loads.into_iter();
        let held = match (loads.next(), loads.next()) {
            (Some(load), None) => boxes[load].kind == pinned.kind && taken.insert(load),
            _ => false,
        };
        if !held {
            breaches.push(Violation::Pin { pin });
        }
    }
    for &(piece, other) in &problem.apart {
        if let (Some(one), Some(two)) = (home.get(&piece), home.get(&other))
            && !one.is_disjoint(two)
        {
            breaches.push(Violation::Together { piece, other });
        }
    }
}

fn extents(piece: &Piece, turned: bool) -> (i64, i64) {
    if turned { (piece.width, piece.length) } else { (piece.length, piece.width) }
}

fn check_box(
    problem: &Problem,
    load: usize,
    kind: &BoxKind,
    places: &[Placed],
    breaches: &mut Vec<Violation>,
) {
    let (mut mass, mut twice_x, mut twice_y) = (0_i128, 0_i128, 0_i128);
    for place in places {
        let piece = &problem.pieces[place.piece];
        let (length, width) = extents(piece, place.turned);
        let name = place.piece;
        if piece.height > kind.door_height || piece.width.min(piece.length) > kind.door_width {
            breaches.push(Violation::Door { load, piece: name });
        }
        if place.turned && !piece.may_turn {
            breaches.push(Violation::Turned { load, piece: name });
        }
        let along = place.x >= kind.gap_end && place.x + length <= kind.length - kind.gap_end;
        let across = place.y >= kind.gap_side && place.y + width <= kind.width - kind.gap_side;
        if !along || !across {
            breaches.push(Violation::Outside { load, piece: name });
        }
        let own = i128::from(piece.mass);
        mass += own;
        twice_x += own * i128::from(2 * place.x + length);
        twice_y += own * i128::from(2 * place.y + width);
    }
    if mass > i128::from(kind.payload) {
        let over = i64::try_from(mass - i128::from(kind.payload)).unwrap_or(i64::MAX);
        breaches.push(Violation::Payload { load, over });
    }
    for (limit, plane) in kind.limits.iter().enumerate() {
        let left = 2 * i128::from(plane.mass_coefficient) * mass
            + i128::from(plane.moment_x_coefficient) * twice_x
            + i128::from(plane.moment_y_coefficient) * twice_y;
        if left > 2 * plane.bound {
            breaches.push(Violation::Limit { load, limit });
        }
    }
    check_overlap(problem, load, places, breaches);
    check_line(problem, load, kind, places, breaches);
}

fn check_overlap(problem: &Problem, load: usize, places: &[Placed], breaches: &mut Vec<Violation>) {
    let mut order: Vec<&Placed> = places.iter().collect();
    order.sort_by_key(|place| place.x);
    for (rank, one) in order.iter().enumerate() {
        let (length, width) = extents(&problem.pieces[one.piece], one.turned);
        let behind = order[rank + 1..].iter().take_while(|other| other.x < one.x + length);
        for other in behind {
            let across = extents(&problem.pieces[other.piece], other.turned).1;
            if one.y < other.y + across && other.y < one.y + width {
                breaches.push(Violation::Overlap { load, piece: one.piece, other: other.piece });
            }
        }
    }
}

/// The load per length changes only where a piece begins or ends, and is highest where one
/// begins; fractions are summed exactly.
fn check_line(
    problem: &Problem,
    load: usize,
    kind: &BoxKind,
    places: &[Placed],
    breaches: &mut Vec<Violation>,
) {
    let Some(line) = kind.line_load else { return };
    let ratio = |mass: i64, length: i64| {
        Fraction::whole(mass.into()).over(&Fraction::whole(length.max(1).into()))
    };
    let limit = ratio(line.mass, line.per_length);
    let stations: BTreeSet<i64> = places.iter().map(|place| place.x).collect();
    for station in stations {
        let mut sum = ratio(0, 1);
        for place in places {
            let piece = &problem.pieces[place.piece];
            let length = extents(piece, place.turned).0;
            if place.x <= station && station < place.x + length {
                sum = sum.plus(&ratio(piece.mass, length));
            }
        }
        if sum > limit {
            breaches.push(Violation::LineLoad { load, station });
        }
    }
}
