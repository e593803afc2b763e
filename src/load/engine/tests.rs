//! The engine as a whole on hand-worked loads.

use super::check::{Violation, check};
use super::solve::{Optimality, Solved, solve};
use super::testing::{box_kind, piece};
use crate::load::engine::bounds::certificate::{Redone, redo};
use crate::load::engine::model::effort::Effort;
use crate::load::engine::model::entry::Entry;
use crate::load::engine::model::misfit::Cause;
use crate::load::engine::model::problem::*;

fn quick() -> Effort {
    Effort::of(300_000_000)
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
    assert_eq!((plan.cost, plan.lower_bound, plan.proof), (500, 500, Optimality::Proven));
    assert_eq!(solve(&problem, &Effort::default()), solve(&problem, &Effort::default().times(3)));
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
    assert_eq!(redo(&problem, &plan.certificate, 1000), Redone::Holds);
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
fn no_plan_has_more_boxes_than_allowed() {
    // Small boxes hold one of four, large ones two; three boxes are allowed, then one.
    let mut problem = Problem {
        pieces: vec![piece(10, 1, 1); 4],
        kinds: vec![box_kind(10, 10, 1, 3), box_kind(20, 10, 1, 7)],
        ..Problem::default()
    };
    assert_eq!(solved(&problem).cost, 12);
    problem.max_boxes = Some(3);
    assert_eq!(solved(&problem).cost, 13);
    problem.max_boxes = Some(1);
    assert!(solve(&problem, &quick()).is_err());
}

#[test]
fn misfits_name_the_piece_and_the_reason() {
    let mut problem = Problem {
        pieces: vec![piece(5, 20, 2), piece(5, 2, 2), piece(500, 2, 2)],
        kinds: vec![box_kind(100, 10, 4, 3)],
        ..Problem::default()
    };
    problem.pieces[1].height = 1200;
    let misfits = solve(&problem, &quick()).unwrap_err();
    let reasons: Vec<(usize, Cause)> =
        misfits.iter().map(|m| (m.pieces[0], m.refusals[0].reason.clone())).collect();
    let expected = [(2, Cause::TooHeavy(400)), (0, Cause::TooLong(10)), (1, Cause::TooTall(200))];
    assert_eq!(reasons, expected.to_vec());
    problem.kinds.clear();
    assert_eq!(solve(&problem, &quick()).unwrap_err()[0].refusals[0].reason, Cause::NoKind);
}

#[test]
fn the_checker_finds_every_breach() {
    let mut problem = Problem {
        pieces: vec![piece(60, 4, 2); 5],
        kinds: vec![box_kind(100, 10, 4, 3)],
        groups: vec![Grouping::Rule],
        pins: vec![Pin { pieces: vec![2, 3], kind: 0 }],
        ties: vec![vec![1, 3]],
        apart: vec![(0, 1)],
        entries: Vec::new(),
        stocks: vec![Stock { kinds: vec![0], count: 2 }],
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
    let has = |want: Violation| assert!(breaches.contains(&want), "{want:?} in {breaches:?}");
    has(Violation::Unknown { load: 3 });
    has(Violation::Missing { piece: 4 });
    has(Violation::Twice { piece: 2 });
    has(Violation::Payload { load: 0, over: 20 });
    has(Violation::Limit { load: 2, limit: 0 });
    has(Violation::LineLoad { load: 0, station: 1 });
    has(Violation::Door { load: 2, piece: 3 });
    has(Violation::Outside { load: 0, piece: 0 });
    has(Violation::Outside { load: 0, piece: 1 });
    has(Violation::Overlap { load: 0, piece: 0, other: 1 });
    has(Violation::Turned { load: 0, piece: 1 });
    has(Violation::Split { group: 0 });
    has(Violation::Tie { tie: 0 });
    has(Violation::Pin { pin: 0 });
    has(Violation::Together { piece: 0, other: 1 });
    has(Violation::Availability { kind: 0, over: 2 });
    has(Violation::Stock { stock: 0, over: 1 });
    has(Violation::TooManyBoxes { over: 3 });
    has(Violation::Cost { true_cost: 9 });
}

#[test]
fn a_wish_does_not_join_what_must_stay_apart() {
    // Two of one block that may not share a box, a third that may be with either: the wish is broken
    // once, and no load can do better.
    let mut problem = Problem {
        pieces: vec![piece(10, 4, 2); 3],
        kinds: vec![box_kind(100, 20, 4, 50)],
        groups: vec![Grouping::Wish { price: 7 }],
        apart: vec![(0, 1)],
        ..Problem::default()
    };
    for piece in &mut problem.pieces {
        piece.group = Some(0);
    }
    let outcome = |problem: &Problem| {
        let solved = solved(problem);
        (solved.boxes.len(), solved.cost, solved.proof)
    };
    assert_eq!(outcome(&problem), (2, 107, Optimality::Proven));
    problem.apart = vec![(0, 1), (0, 2), (1, 2)];
    assert_eq!(outcome(&problem), (3, 164, Optimality::Proven));
    // The same where two begun boxes hold them.
    problem.apart.clear();
    problem.pins = vec![Pin { pieces: vec![0], kind: 0 }, Pin { pieces: vec![1], kind: 0 }];
    assert_eq!(outcome(&problem), (2, 107, Optimality::Proven));
    problem.groups = vec![Grouping::Rule];
    let misfits = solve(&problem, &quick()).unwrap_err();
    assert_eq!(misfits[0].refusals[0].reason, Cause::Contradiction);
}

#[test]
fn ties_cross_groups() {
    // Two blocks that wish to stay whole, and one piece of each tied to the other's.
    let mut problem = Problem {
        pieces: vec![piece(30, 4, 2); 4],
        kinds: vec![box_kind(70, 20, 4, 50)],
        groups: vec![Grouping::Wish { price: 7 }; 2],
        ties: vec![vec![0, 2]],
        ..Problem::default()
    };
    for (number, piece) in problem.pieces.iter_mut().enumerate() {
        piece.group = Some(number / 2);
    }
    let solved = solved(&problem);
    assert_eq!((solved.boxes.len(), solved.cost), (2, 114));
}

#[test]
fn a_block_too_heavy_for_one_box_pays_for_the_second_in_the_bound() {
    // Seven of one block, three to a box: three boxes, two of them beyond the first.
    let mut problem = Problem {
        pieces: vec![piece(30, 1, 1); 7],
        kinds: vec![box_kind(100, 10, 1, 1000)],
        groups: vec![Grouping::Wish { price: 50 }],
        ..Problem::default()
    };
    for piece in &mut problem.pieces {
        piece.group = Some(0);
    }
    let plan = solved(&problem);
    assert_eq!((plan.cost, plan.lower_bound, plan.torn), (3100, 3100, 100));
}

#[test]
fn boxes_that_tear_two_blocks_are_refuted_where_one_might_pay() {
    // Two boxes of 100 hold 70 + 30 and 60 + 40 and nothing else, which tears both blocks: 210.
    // A box of 130 for the heavy block and one of 100 for the light one tear none: 208. One torn
    // block alone would make the small boxes 205.
    let mut problem = Problem {
        pieces: [70, 60, 40, 30].map(|mass| piece(mass, 1, 1)).to_vec(),
        kinds: vec![box_kind(100, 10, 1, 100), box_kind(130, 10, 1, 108)],
        groups: vec![Grouping::Wish { price: 5 }; 2],
        ..Problem::default()
    };
    for (index, piece) in problem.pieces.iter_mut().enumerate() {
        piece.group = Some(index / 2);
    }
    let plan = solved(&problem);
    assert_eq!((plan.cost, plan.lower_bound, plan.proof), (208, 208, Optimality::Proven));
}

#[test]
fn a_box_is_filled_no_fuller_than_its_bundles_come_in() {
    // Four of 342 mm abreast, longer than half the box, on a floor of 1,418 mm: 50 mm are spare, and the last of
    // them needs 100 beside it. So a second box is needed, and that is proven.
    let mut kind = box_kind(30_000_000, 5_896, 1_418, 100);
    kind.door_width = 1_400;
    let doors = Entry::Doors { opening: 1_400, side: 100, nose: 50 };
    let mut problem = Problem {
        pieces: vec![piece(2_000_000, 3_070, 342); 4],
        kinds: vec![kind],
        ..Problem::default()
    };
    assert_eq!(solved(&problem).cost, 100);
    problem.entries = vec![doors];
    let plan = solved(&problem);
    assert_eq!((plan.cost, plan.lower_bound, plan.proof), (200, 200, Optimality::Proven));
    // A box without an order is told by the checker.
    let places = |piece: usize, y: i64| Placed { piece, x: 1_000, y, turned: false };
    let full = (0..4).map(|at| places(at, 25 + 342 * i64::try_from(at).unwrap()));
    let loaded = Loaded { kind: 0, places: full.collect() };
    assert_eq!(check(&problem, &[loaded], 100), vec![Violation::NoWay { load: 0 }]);
    // Four as wide as the doors pass them one behind the other, and one that is wider does not come in.
    problem.pieces = vec![piece(2_000_000, 1_200, 1_318); 4];
    assert_eq!(solved(&problem).cost, 100);
    problem.pieces[0].width = 1_319;
    let misfits = solve(&problem, &quick()).unwrap_err();
    assert_eq!(misfits[0].refusals[0].reason, Cause::NoWay);
}

#[test]
fn a_dearer_offer_of_a_box_is_taken_only_where_the_cheaper_ones_are_few() {
    let mut problem = Problem {
        pieces: vec![piece(60, 1, 1); 4],
        kinds: vec![box_kind(100, 10, 1, 8), box_kind(100, 10, 1, 7), box_kind(90, 10, 1, 9)],
        ..Problem::default()
    };
    assert_eq!(problem.served_by(), [Some(1), None, Some(1)]);
    let plan = solve(&problem, &Effort::default()).unwrap();
    assert_eq!((plan.cost, plan.lower_bound), (28, 28));
    assert_eq!(redo(&problem, &plan.certificate, 1000), Redone::Holds);
    problem.kinds[1].available = Some(3);
    assert_eq!(problem.served_by(), [None, None, Some(0)]);
    let plan = solve(&problem, &Effort::default()).unwrap();
    assert_eq!((plan.cost, plan.lower_bound), (29, 29));
    // A box that is begun stays what it is.
    problem.pins = vec![Pin { pieces: vec![0], kind: 2 }];
    assert_eq!(problem.served_by(), [None, None, None]);
    assert_eq!(solve(&problem, &Effort::default()).unwrap().cost, 30);
}
