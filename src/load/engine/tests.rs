//! The engine as a whole against every assignment of small loads, and hand-worked loads.

use super::certificate::{Redone, redo};
use super::check::{Breach, check};
use super::misfit::Reason;
use super::problem::*;
use super::solve::{Proof, Solved, solve};
use super::testing::{box_kind, piece};
use super::work::{Dice, Effort};

fn quick() -> Effort {
    Effort { units: 300_000_000 }
}

fn draw(dice: &mut Dice, from: i64, to: i64) -> i64 {
    from + i64::try_from(dice.below(usize::try_from(to - from + 1).unwrap())).unwrap()
}

/// Whether the pieces stand somewhere: every integer place of each in turn, judged by the
/// checker's own rules.
fn stands(problem: &Problem, kind: usize, pieces: &[usize], places: &mut Vec<Placed>) -> bool {
    let own = &problem.kinds[kind];
    let Some(&next) = pieces.get(places.len()) else {
        let boxes = [Loaded { kind, places: places.clone() }];
        return check(problem, &boxes, 0).iter().all(|breach| {
            !matches!(
                breach,
                Breach::Payload { .. }
                    | Breach::Limit { .. }
                    | Breach::LineLoad { .. }
                    | Breach::Door { .. }
            )
        });
    };
    let piece = &problem.pieces[next];
    for turned in [false, true] {
        if turned && !piece.may_turn {
            continue;
        }
        let extents = |p: &Piece, t: bool| {
            if t { (p.width, p.length) } else { (p.length, p.width) }
        };
        let (length, width) = extents(piece, turned);
        for x in own.gap_end..=own.length - own.gap_end - length {
            for y in own.gap_side..=own.width - own.gap_side - width {
                let free = places.iter().all(|place| {
                    let (l, w) = extents(&problem.pieces[place.piece], place.turned);
                    x >= place.x + l
                        || place.x >= x + length
                        || y >= place.y + w
                        || place.y >= y + width
                });
                if free {
                    places.push(Placed { piece: next, x, y, turned });
                    if stands(problem, kind, pieces, places) {
                        return true;
                    }
                    places.pop();
                }
            }
        }
    }
    false
}

/// The least cost over every partition into boxes.
fn brute(problem: &Problem) -> Option<i64> {
    let count = problem.pieces.len();
    let full = (1_usize << count) - 1;
    let members = |set: usize| (0..count).filter(|p| set >> p & 1 == 1).collect::<Vec<_>>();
    let fits: Vec<Vec<bool>> = (0..problem.kinds.len())
        .map(|kind| {
            (0..=full)
                .map(|set| {
                    let pieces = members(set);
                    let mass: i64 = pieces.iter().map(|&p| problem.pieces[p].mass).sum();
                    let apart = problem.apart.iter().all(|&(a, b)| set >> a & set >> b & 1 == 0);
                    let pins = problem
                        .pins
                        .iter()
                        .filter(|pin| pin.pieces.iter().any(|&p| set >> p & 1 == 1));
                    let pins: Vec<&Pin> = pins.collect();
                    let pinned = pins.len() < 2
                        && pins.iter().all(|pin| {
                            pin.kind == kind && pin.pieces.iter().all(|&p| set >> p & 1 == 1)
                        });
                    mass <= problem.kinds[kind].payload
                        && apart
                        && pinned
                        && stands(problem, kind, &pieces, &mut Vec::new())
                })
                .collect()
        })
        .collect();
    let mut best = None;
    partition(problem, &fits, full, &mut Vec::new(), &mut best);
    best
}

fn partition(
    problem: &Problem,
    fits: &[Vec<bool>],
    rest: usize,
    boxes: &mut Vec<(usize, usize)>,
    best: &mut Option<i64>,
) {
    if rest == 0 {
        let mut cost: i64 = boxes.iter().map(|&(kind, _)| problem.kinds[kind].cost).sum();
        for (group, grouping) in problem.groups.iter().enumerate() {
            let touched = boxes
                .iter()
                .filter(|(_, set)| {
                    (0..problem.pieces.len())
                        .any(|p| set >> p & 1 == 1 && problem.pieces[p].group == Some(group))
                })
                .count();
            let extra = i64::try_from(touched.saturating_sub(1)).unwrap();
            match grouping {
                Grouping::Rule if extra > 0 => return,
                Grouping::Wish { price } => cost += price * extra,
                _ => {}
            }
        }
        *best = Some(best.map_or(cost, |old: i64| old.min(cost)));
        return;
    }
    if problem.max_boxes.is_some_and(|most| boxes.len() >= usize::try_from(most).unwrap()) {
        return;
    }
    let head = rest & rest.wrapping_neg();
    let mut set = rest;
    while set > 0 {
        if set & head > 0 {
            for kind in 0..problem.kinds.len() {
                let used = boxes.iter().filter(|&&(own, _)| own == kind).count();
                let had = problem.kinds[kind].available;
                if fits[kind][set] && had.is_none_or(|had| used < usize::try_from(had).unwrap()) {
                    boxes.push((kind, set));
                    partition(problem, fits, rest & !set, boxes, best);
                    boxes.pop();
                }
            }
        }
        set = (set - 1) & rest;
    }
}

fn random(dice: &mut Dice, round: i64) -> Problem {
    let mut problem = Problem { groups: vec![Grouping::Free; 2], ..Problem::default() };
    for _ in 0..draw(dice, 3, 6) {
        let mut next = piece(draw(dice, 1, 9), draw(dice, 1, 4), draw(dice, 1, 3));
        next.may_turn = round % 4 == 0;
        next.group = [None, None, Some(0), Some(1)][dice.below(4)];
        problem.pieces.push(next);
    }
    problem.kinds.push(box_kind(draw(dice, 9, 14), 5, 4, draw(dice, 5, 9)));
    problem.kinds.push(box_kind(draw(dice, 9, 20), draw(dice, 4, 7), 4, draw(dice, 7, 14)));
    problem.kinds[0].available = [None, Some(1), Some(2)][dice.below(3)];
    for kind in &mut problem.kinds {
        if round % 3 == 1 {
            kind.limits.extend(HalfPlane::window_along(kind.length, 150));
            kind.limits.extend(HalfPlane::window_across(kind.width, 200));
        }
        if round % 5 == 2 {
            kind.line_load = Some(LineLoad { mass: draw(dice, 3, 9), per_length: 1 });
        }
    }
    match round % 6 {
        1 => problem.groups = vec![Grouping::Rule, Grouping::Wish { price: 2 }],
        2 => problem.groups = vec![Grouping::Wish { price: 3 }; 2],
        3 => problem.apart = vec![(0, 1), (1, 2)],
        4 => {
            problem.pins = vec![Pin { pieces: vec![0, 2], kind: 1 }];
        }
        5 => problem.max_boxes = Some(3),
        _ => {}
    }
    problem
}

#[test]
fn small_loads_agree_with_every_assignment() {
    let mut dice = Dice::new(11);
    let (mut proven, mut loads) = (0, 0);
    for round in 0..240 {
        let problem = random(&mut dice, round);
        let truth = brute(&problem);
        match solve(&problem, &quick()) {
            Ok(solved) => {
                loads += 1;
                assert_eq!(check(&problem, &solved.boxes, solved.cost), vec![], "{problem:?}");
                let truth = truth.expect("a plan that holds");
                assert!(
                    solved.cost >= truth && solved.lower_bound <= truth,
                    "{problem:?} {truth} {solved:?}"
                );
                if solved.proof == Proof::Proven {
                    proven += 1;
                    assert_eq!(solved.cost, truth);
                }
                for part in &solved.certificate {
                    assert_ne!(redo(&problem, part, 100_000), Redone::Fails, "{problem:?}");
                }
            }
            Err(misfits) => {
                let sure = misfits
                    .iter()
                    .flat_map(|misfit| &misfit.refusals)
                    .all(|refusal| refusal.reason != Reason::NotEnoughBoxes(false));
                assert!(truth.is_none() || !sure, "{problem:?} {truth:?} {misfits:?}");
            }
        }
    }
    assert!(loads > 120 && proven * 10 > loads * 9, "{proven} of {loads}");
}

fn solved(problem: &Problem) -> Solved {
    let solved = solve(problem, &quick()).unwrap();
    assert_eq!(check(problem, &solved.boxes, solved.cost), vec![]);
    solved
}

#[test]
fn twelve_bundles_of_a_third_and_a_half_need_every_box_full() {
    // 20 t boxes; six of 10 t in pairs, six of 6.667 t in threes: 3 + 2 boxes, no spare for more.
    let mut problem = Problem::default();
    problem.pieces.extend(vec![piece(10_000_000, 2800, 400); 6]);
    problem.pieces.extend(vec![piece(6_666_000, 2800, 400); 6]);
    let mut kind = box_kind(20_000_000, 5898, 2352, 100);
    kind.limits.extend(HalfPlane::window_along(5898, 50));
    kind.limits.extend(HalfPlane::window_across(2352, 50));
    problem.kinds.push(kind);
    let plan = solved(&problem);
    assert_eq!((plan.cost, plan.lower_bound, plan.proof), (500, 500, Proof::Proven));
    assert_eq!(solve(&problem, &Effort::default()), solve(&problem, &Effort::times(3)));
}

#[test]
fn the_program_proves_what_mass_does_not() {
    // Seven of 51 in boxes of 100: one in each, though the mass would do with four.
    let problem = Problem {
        pieces: vec![piece(51, 1, 1); 7],
        kinds: vec![box_kind(100, 10, 1, 3)],
        ..Problem::default()
    };
    let plan = solved(&problem);
    assert_eq!((plan.cost, plan.lower_bound), (21, 21));
    assert_eq!(redo(&problem, &plan.certificate[0], 1000), Redone::Holds);
}

#[test]
fn spare_is_gathered_in_one_box() {
    // 60 60 20 20 in boxes of 100: one box full, the other left with 40 to spare.
    let problem = Problem {
        pieces: [60, 60, 20, 20].map(|mass| piece(mass, 1, 1)).to_vec(),
        kinds: vec![box_kind(100, 10, 1, 3)],
        ..Problem::default()
    };
    let plan = solved(&problem);
    let load = |loaded: &Loaded| -> i64 {
        loaded.places.iter().map(|place| problem.pieces[place.piece].mass).sum()
    };
    let mut loads: Vec<i64> = plan.boxes.iter().map(load).collect();
    loads.sort_unstable();
    assert_eq!(loads, vec![60, 100]);
}

#[test]
fn the_most_boxes_hold_over_all_destinations() {
    // Two to each of two places; small boxes hold one, large ones two, and three are allowed.
    let mut problem = Problem { pieces: vec![piece(10, 1, 1); 4], ..Problem::default() };
    problem.pieces[2].destination = 1;
    problem.pieces[3].destination = 1;
    for destination in 0..2 {
        for (payload, cost) in [(10, 3), (20, 7 + i64::try_from(destination).unwrap())] {
            problem.kinds.push(BoxKind { destination, ..box_kind(payload, 10, 1, cost) });
        }
    }
    assert_eq!(solved(&problem).cost, 12);
    problem.max_boxes = Some(3);
    assert_eq!(solved(&problem).cost, 13);
    problem.max_boxes = Some(1);
    assert!(solve(&problem, &quick()).is_err());
}

#[test]
fn misfits_name_the_piece_and_the_reason() {
    let mut problem = Problem {
        pieces: vec![piece(5, 20, 2), piece(5, 2, 2), piece(500, 2, 2), piece(5, 2, 2)],
        kinds: vec![box_kind(100, 10, 4, 3)],
        ..Problem::default()
    };
    problem.pieces[1].height = 1200;
    problem.pieces[3].destination = 4;
    let misfits = solve(&problem, &quick()).unwrap_err();
    let reasons: Vec<(usize, Reason)> =
        misfits.iter().map(|m| (m.pieces[0], m.refusals[0].reason.clone())).collect();
    let expected = [
        (2, Reason::TooHeavy(400)),
        (0, Reason::TooLong(10)),
        (1, Reason::TooTall(200)),
        (3, Reason::NoKind),
    ];
    assert_eq!(reasons, expected.to_vec());
}

#[test]
fn the_checker_finds_every_breach() {
    let mut problem = Problem {
        pieces: vec![piece(60, 4, 2); 5],
        kinds: vec![box_kind(100, 10, 4, 3)],
        groups: vec![Grouping::Rule],
        pins: vec![Pin { pieces: vec![2, 3], kind: 0 }],
        apart: vec![(0, 1)],
        max_boxes: Some(1),
    };
    problem.pieces[2].group = Some(0);
    problem.pieces[3].group = Some(0);
    problem.kinds[0].available = Some(1);
    problem.kinds[0].gap_end = 1;
    problem.kinds[0].line_load = Some(LineLoad { mass: 20, per_length: 1 });
    problem.kinds[0].limits = HalfPlane::window_along(10, 50).to_vec();
    problem.kinds[0].door_height = 0;
    let place = |piece, x, y, turned| Placed { piece, x, y, turned };
    let boxes = [
        Loaded { kind: 0, places: vec![place(0, 0, 0, false), place(1, 1, 1, true)] },
        Loaded { kind: 0, places: vec![place(2, 1, 0, false), place(2, 5, 0, false)] },
        Loaded { kind: 0, places: vec![place(3, 1, 0, false)] },
        Loaded { kind: 1, places: vec![] },
    ];
    let breaches = check(&problem, &boxes, 3);
    let has = |want: Breach| assert!(breaches.contains(&want), "{want:?} in {breaches:?}");
    has(Breach::Unknown { load: 3 });
    has(Breach::Missing { piece: 4 });
    has(Breach::Twice { piece: 2 });
    has(Breach::Payload { load: 0, over: 20 });
    has(Breach::Limit { load: 2, limit: 0 });
    has(Breach::LineLoad { load: 0, station: 1 });
    has(Breach::Door { load: 2, piece: 3 });
    has(Breach::Outside { load: 0, piece: 0 });
    has(Breach::Outside { load: 0, piece: 1 });
    has(Breach::Overlap { load: 0, piece: 0, other: 1 });
    has(Breach::Turned { load: 0, piece: 1 });
    has(Breach::Split { group: 0 });
    has(Breach::Pin { pin: 0 });
    has(Breach::Together { piece: 0, other: 1 });
    has(Breach::Availability { kind: 0, over: 2 });
    has(Breach::TooManyBoxes { over: 3 });
    has(Breach::Cost { true_cost: 9 });
}
