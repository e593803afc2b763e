//! Small whole loads against an independent model: `tests/oracle/loads.py` drew them, solved
//! them with CP-SAT over boxes, places and moments, and wrote down the least cost.
#![allow(clippy::unwrap_used, reason = "a test may stop at a bad file")]

use std::fs;
use std::path::Path;

use quaystone::load::engine::{
    BoxKind, Effort, Grouping, HalfPlane, LineLoad, Piece, Problem, Proof, check, solve,
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
        destination: 0,
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
        destination: 0,
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
        assert_eq!(solved.proof, Proof::Proven, "{named}");
    }
}
