//! The engine at the ends of its ranges: every figure at its least, at its largest, or between, and one
//! beyond. Nothing overflows, and what it finds holds when it is checked and redone.

use quaystone::load::engine::{
    BoxKind, COST_LIMIT, COUNT_LIMIT, Cause, Effort, FACTOR_LIMIT, Flaw, Grouping, HalfPlane,
    LENGTH_LIMIT, LineLoad, MASS_LIMIT, Piece, Problem, Redone, check, redo, solve, stand,
};

use crate::common::{Tiny, drawn, run};
use crate::random::Dice;

/// One of the ends of a range, or a figure between.
fn end(dice: &mut Dice, least: i64, most: i64) -> i64 {
    match dice.from(0, 7) {
        0 | 1 => least,
        2 => (least + 1).min(most),
        3 => most / 1_000,
        4 => most / 3,
        5 => most - 1,
        _ => most,
    }
    .max(least)
}

fn piece(dice: &mut Dice, mass: i64, side: i64) -> Piece {
    Piece {
        mass: end(dice, 0, mass),
        length: end(dice, 1, side),
        width: end(dice, 1, side),
        height: end(dice, 0, LENGTH_LIMIT),
        group: dice.chance(30).then_some(0),
        may_turn: dice.chance(30),
    }
}

fn plane(dice: &mut Dice) -> HalfPlane {
    let mut factor = || match dice.from(0, 3) {
        0 => 0,
        1 => end(dice, 1, FACTOR_LIMIT),
        2 => -end(dice, 1, FACTOR_LIMIT),
        _ => 1,
    };
    let [mass_coefficient, moment_x_coefficient, moment_y_coefficient] =
        [factor(), factor(), factor()];
    let most = i128::from(FACTOR_LIMIT) * i128::from(FACTOR_LIMIT);
    let bound = dice.of(&[0, most, -most, most / 1_000, 1]);
    HalfPlane { mass_coefficient, moment_x_coefficient, moment_y_coefficient, bound }
}

fn box_kind(dice: &mut Dice) -> BoxKind {
    let side = |dice: &mut Dice| {
        if dice.chance(70) { LENGTH_LIMIT } else { end(dice, 3, LENGTH_LIMIT) }
    };
    let (length, width) = (side(dice), side(dice));
    let gap = |dice: &mut Dice, side: i64| if dice.chance(30) { (side - 1) / 2 } else { 0 };
    let (gap_end, gap_side) = (gap(dice, length), gap(dice, width));
    let line = |dice: &mut Dice| LineLoad {
        mass: end(dice, 1, MASS_LIMIT),
        per_length: dice.of(&[1, 1_000, LENGTH_LIMIT]),
    };
    BoxKind {
        length,
        width,
        door_height: LENGTH_LIMIT,
        door_width: LENGTH_LIMIT,
        payload: if dice.chance(50) { MASS_LIMIT } else { end(dice, 0, MASS_LIMIT) },
        cost: end(dice, 0, COST_LIMIT),
        available: dice.chance(10).then(|| dice.of(&[0, 1, u32::MAX])),
        line_load: dice.chance(40).then(|| line(dice)),
        gap_end,
        gap_side,
        limits: (0..dice.of(&[0, 0, 0, 1, 2])).map(|_| plane(dice)).collect(),
    }
}

fn problem(dice: &mut Dice) -> Problem {
    let pieces = dice.from(1, 9);
    // Sides and masses of one size, so that several pieces share a box now and then.
    let (mass, side) = (end(dice, 1, MASS_LIMIT), end(dice, 1, LENGTH_LIMIT));
    Problem {
        pieces: (0..pieces).map(|_| piece(dice, mass, side)).collect(),
        kinds: (0..dice.from(1, 3)).map(|_| box_kind(dice)).collect(),
        groups: vec![Grouping::Wish { price: end(dice, 0, COST_LIMIT) }],
        max_boxes: dice.chance(30).then_some(u32::MAX),
        ..Problem::default()
    }
}

/// `QUAYSTONE_DRAWN=100` draws a hundred times as many.
#[test]
fn figures_at_the_ends_of_their_ranges_overflow_nowhere() {
    let times = drawn(1);
    let effort = Effort::of(300_000);
    let mut loaded = 0;
    for seed in 0..300 * times {
        let problem = problem(&mut Dice::new(seed));
        let _ = stand(&problem, &effort);
        match solve(&problem, &effort) {
            Ok(solved) => {
                loaded += 1;
                let broken = check(&problem, &solved.boxes, solved.cost);
                assert!(broken.is_empty(), "seed {seed}: {broken:?}");
                // The floor may hold less than the measures say, so that the argument does not convince.
                let _ = redo(&problem, &solved.certificate, 2_000);
            }
            Err(all) => {
                let flawed = |cause: &Cause| matches!(cause, Cause::Flawed(_));
                let mut causes = all.iter().flat_map(|one| &one.refusals).map(|one| &one.reason);
                assert!(!causes.any(flawed), "seed {seed}: {all:?}");
            }
        }
    }
    assert!(loaded > 75 * times, "only {loaded} were loaded");
}

#[test]
fn many_pieces_of_the_largest_figures_overflow_nowhere() {
    let bound = i128::from(FACTOR_LIMIT) * i128::from(FACTOR_LIMIT);
    let widest = HalfPlane {
        mass_coefficient: 1_000,
        moment_x_coefficient: 0,
        moment_y_coefficient: 0,
        bound,
    };
    for count in [65, 300] {
        // The payload of the cheaper kind is a gram, so that each piece is a thousand million boxes of it.
        let most = |length| Piece {
            mass: MASS_LIMIT,
            length,
            width: LENGTH_LIMIT,
            height: LENGTH_LIMIT,
            group: Some(0),
            may_turn: false,
        };
        let kind = |payload, cost| BoxKind {
            length: LENGTH_LIMIT,
            width: LENGTH_LIMIT,
            payload,
            cost,
            available: None,
            gap_end: 0,
            gap_side: 0,
            line_load: Some(LineLoad { mass: MASS_LIMIT, per_length: 1 }),
            limits: vec![widest],
            ..box_kind(&mut Dice::new(2))
        };
        let problem = Problem {
            pieces: (0..count).map(|at| most(1 + at)).collect(),
            kinds: vec![kind(1, 1), kind(MASS_LIMIT, COST_LIMIT)],
            groups: vec![Grouping::Wish { price: COST_LIMIT }],
            ..Problem::default()
        };
        let solved = solve(&problem, &Effort::of(20_000_000)).unwrap();
        assert!(check(&problem, &solved.boxes, solved.cost).is_empty());
        // A box a piece, and a wish broken for each but the first.
        assert_eq!(solved.cost, COST_LIMIT * (2 * count - 1));
        assert_ne!(redo(&problem, &solved.certificate, 1_000), Redone::Fails);
    }
}

#[test]
fn one_beyond_an_end_is_a_flaw() {
    let sound = || Problem {
        pieces: vec![Piece {
            mass: 1,
            length: 1,
            width: 1,
            height: 1,
            group: None,
            may_turn: false,
        }],
        kinds: vec![BoxKind {
            length: 3,
            width: 3,
            door_height: 3,
            door_width: 3,
            payload: 1,
            cost: 1,
            available: None,
            line_load: Some(LineLoad { mass: 1, per_length: 1 }),
            gap_end: 0,
            gap_side: 0,
            limits: vec![HalfPlane {
                mass_coefficient: 0,
                moment_x_coefficient: 0,
                moment_y_coefficient: 0,
                bound: 0,
            }],
        }],
        groups: vec![Grouping::Wish { price: 0 }],
        ..Problem::default()
    };
    let effort = Effort::of(1_000_000);
    assert!(solve(&sound(), &effort).is_ok());
    let beyond = LENGTH_LIMIT + 1;
    let changes: [fn(&mut Problem, i64); 16] = [
        |problem, _| problem.pieces[0].mass = MASS_LIMIT + 1,
        |problem, _| problem.pieces[0].mass = -1,
        |problem, beyond| problem.pieces[0].length = beyond,
        |problem, beyond| problem.pieces[0].width = beyond,
        |problem, _| problem.pieces[0].width = 0,
        |problem, beyond| problem.pieces[0].height = beyond,
        |problem, beyond| problem.kinds[0].length = beyond,
        |problem, beyond| problem.kinds[0].width = beyond,
        |problem, beyond| problem.kinds[0].door_height = beyond,
        |problem, _| problem.kinds[0].gap_end = i64::MAX / 2,
        |problem, _| problem.kinds[0].payload = MASS_LIMIT + 1,
        |problem, _| problem.kinds[0].cost = COST_LIMIT + 1,
        |problem, _| {
            problem.kinds[0].line_load = Some(LineLoad { mass: MASS_LIMIT + 1, per_length: 1 });
        },
        |problem, _| problem.kinds[0].limits[0].mass_coefficient = FACTOR_LIMIT + 1,
        |problem, _| problem.kinds[0].limits[0].bound = i128::MAX,
        |problem, _| problem.groups[0] = Grouping::Wish { price: COST_LIMIT + 1 },
    ];
    for (at, change) in changes.iter().enumerate() {
        let mut problem = sound();
        change(&mut problem, beyond);
        let refused = solve(&problem, &effort).unwrap_err();
        let is_flawed = matches!(refused[0].refusals[0].reason, Cause::Flawed(_));
        assert!(is_flawed && stand(&problem, &effort).is_none(), "change {at}");
    }
    let mut many = sound();
    many.pieces = vec![many.pieces[0].clone(); COUNT_LIMIT + 1];
    let refused = solve(&many, &effort).unwrap_err();
    assert_eq!(refused[0].refusals[0].reason, Cause::Flawed(Flaw::TooMany));
}

/// A bundle that is too much for the loader is refused with its line and the most that serves.
#[test]
fn a_bundle_beyond_what_is_loaded_is_refused_with_the_most() {
    let tiny = Tiny::new();
    tiny.replace("rates/yards.toml", "lift = \"5 t\"", "lift = \"900000 t\"");
    tiny.replace("shipments/plain/shipment.toml", "20 mm", "500 mm");
    // 6 x 6 m of 500 mm and 2,500 kg/m3 are 45 t a slab: 30 are 1,350 t and 15 m wide. The second bundle is
    // 300 slabs of 400 kg, 150 m wide.
    let mut list = "slab,bundle,length (cm),height (cm)\n".to_owned();
    list.extend((0..30).map(|at| format!("A{at},B1,600,600\n")));
    list.extend((0..300).map(|at| format!("C{at},B2,80,40\n")));
    tiny.write("shipments/plain/packing.csv", &list);
    let output = run(tiny.path(), &["load", "plain"]);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(3), "{said}");
    for why in [
        "packing.csv:2): its mass is above 1,000,000 kg",
        "packing.csv:32): its width is above 100000 mm",
    ] {
        assert!(said.contains(why), "{said}");
    }
}
