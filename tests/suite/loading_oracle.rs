//! Small whole loads against an independent model: `tests/oracle/loads.py` drew them, solved
//! them with CP-SAT over boxes, places and moments, and wrote down the least cost.

use std::fs;
use std::path::Path;

use quaystone::load::engine::{
    BoxKind, Cause, Effort, Grouping, HalfPlane, LineLoad, Optimality, Piece, Problem, Redone,
    check, redo, solve,
};
use serde_json::Value;

fn integer(value: &Value, key: &str) -> i64 {
    value[key].as_i64().unwrap()
}

fn kind(row: &Value) -> BoxKind {
    let (length, width) = (integer(row, "length"), integer(row, "width"));
    let mut limits = HalfPlane::window_along(length, integer(row, "along")).to_vec();
    limits.extend(HalfPlane::window_across(width, integer(row, "across")));
    let line = row["line"].as_i64();
    BoxKind {
        length,
        width,
        door_height: integer(row, "door"),
        door_width: width,
        payload: integer(row, "payload") * 1000,
        cost: integer(row, "cost"),
        available: row["available"].as_u64().map(|count| count.try_into().unwrap()),
        line_load: line.map(|line| LineLoad { mass: line * 1000, per_length: 1000 }),
        gap_end: integer(row, "gap_end"),
        gap_side: integer(row, "gap_side"),
        limits,
    }
}

fn piece(row: &Value) -> Piece {
    Piece {
        mass: integer(row, "mass") * 1000,
        length: integer(row, "length"),
        width: integer(row, "width"),
        height: integer(row, "height"),
        group: row["group"].as_u64().map(|group| group.try_into().unwrap()),
        may_turn: false,
    }
}

#[test]
fn small_loads_cost_what_the_independent_model_proves() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/oracle/loads");
    let mut files: Vec<_> =
        fs::read_dir(folder).unwrap().map(|file| file.unwrap().path()).collect();
    files.sort();
    assert_eq!(files.len(), 6);
    for file in files {
        let load: Value = serde_json::from_str(&fs::read_to_string(&file).unwrap()).unwrap();
        let grouping = match load["groups"].as_str().unwrap() {
            "rule" => Grouping::Rule,
            "wish" => Grouping::Wish { price: integer(&load, "wish") },
            _ => Grouping::Free,
        };
        let problem = Problem {
            pieces: load["pieces"].as_array().unwrap().iter().map(piece).collect(),
            kinds: load["kinds"].as_array().unwrap().iter().map(kind).collect(),
            groups: vec![grouping; 2],
            ..Problem::default()
        };
        let solved = solve(&problem, &Effort::default()).unwrap();
        let named = file.display();
        assert_eq!(check(&problem, &solved.boxes, solved.cost), [], "{named}");
        assert_eq!(solved.cost, integer(&load, "cost"), "{named}");
        assert_eq!(solved.proof, Optimality::Proven, "{named}");
    }
}

/// A 20' box for slabs: 26 t, 4.5 t per metre, centre of gravity within 5 % of the middle.
fn box_of_20_feet() -> BoxKind {
    let mut limits = HalfPlane::window_along(5898, 50).to_vec();
    limits.extend(HalfPlane::window_across(2352, 50));
    BoxKind {
        length: 5898,
        width: 2352,
        door_height: 2280,
        door_width: 2340,
        payload: 26_000_000,
        cost: 1500,
        available: None,
        line_load: Some(LineLoad { mass: 4_500_000, per_length: 1000 }),
        gap_end: 0,
        gap_side: 0,
        limits,
    }
}

/// So many bundles of 2.2 m and 3.3 t: 1.5 t per metre each, no three one behind the other.
fn bundles(count: usize, group: Option<usize>) -> Problem {
    let bundle =
        Piece { mass: 3_300_000, length: 2200, width: 300, height: 1800, group, may_turn: false };
    Problem {
        pieces: vec![bundle; count],
        kinds: vec![box_of_20_feet()],
        groups: vec![Grouping::Rule],
        ..Problem::default()
    }
}

#[test]
fn a_floor_two_deep_bears_two_line_loads_and_the_certificate_says_so() {
    // Three abreast press 4.5 t per metre, twice three fill the box; the seventh needs another,
    // though 23.1 t are less than the payload and less than 4.5 t/m on 5.898 m.
    for (count, cost) in [(6, 1500), (7, 3000), (12, 3000), (13, 4500)] {
        let problem = bundles(count, None);
        let solved = solve(&problem, &Effort::default()).unwrap();
        assert_eq!(check(&problem, &solved.boxes, solved.cost), []);
        assert_eq!((solved.cost, solved.lower_bound), (cost, cost), "{count} bundles");
        assert_eq!(redo(&problem, &solved.certificate, 10_000), Redone::Holds);
    }
}

#[test]
fn a_block_heavier_than_every_box_is_refused_by_what_it_is_over() {
    // Eight of 3.3 t that may not part: 26.4 t, 400 kg more than the box carries.
    let refused = solve(&bundles(8, Some(0)), &Effort::default()).unwrap_err();
    assert_eq!(refused.len(), 1);
    assert_eq!(refused[0].pieces, (0..8).collect::<Vec<_>>());
    assert_eq!(refused[0].refusals[0].reason, Cause::TooHeavy(400_000));
}
