//! Which bundles go and which wait where not all find a box.

use std::cmp::Reverse;

use super::engine::{self, Effort, Grouping, Pin, Problem};

/// The work of asking whether some bundles fit.
const ASKING: Effort = Effort::of(100_000_000);

/// Sets of pieces that share a box by a rule or a begun box, each with two pieces or more.
pub(super) fn sets(problem: &Problem) -> Vec<Vec<usize>> {
    let mut sets: Vec<Vec<usize>> = Vec::new();
    for tie in problem.ties.iter().chain(problem.pins.iter().map(|pin| &pin.pieces)) {
        let mut whole = tie.clone();
        sets.retain(|set| {
            let is_apart = set.iter().all(|piece| !whole.contains(piece));
            if !is_apart {
                whole.extend(set);
            }
            is_apart
        });
        whole.sort_unstable();
        whole.dedup();
        sets.push(whole);
    }
    sets.retain(|set| set.len() > 1);
    sets
}

/// The problem of some of its pieces alone, in their order, whatever wishes it breaks.
pub(super) fn restricted(problem: &Problem, pieces: &[usize]) -> Problem {
    let at = |piece: &usize| pieces.iter().position(|one| one == piece);
    let inside = |set: &[usize]| set.iter().map(at).collect::<Option<Vec<usize>>>();
    let pins = problem
        .pins
        .iter()
        .filter_map(|pin| inside(&pin.pieces).map(|pieces| Pin { pieces, kind: pin.kind }));
    Problem {
        pieces: pieces.iter().filter_map(|piece| problem.pieces.get(*piece)).cloned().collect(),
        kinds: problem.kinds.clone(),
        groups: vec![Grouping::Free; problem.groups.len()],
        pins: pins.collect(),
        ties: problem.ties.iter().filter_map(|tie| inside(tie)).collect(),
        apart: problem.apart.iter().filter_map(|(a, b)| Some((at(a)?, at(b)?))).collect(),
        entries: problem.entries.clone(),
        stocks: problem.stocks.clone(),
        max_boxes: problem.max_boxes,
    }
}

/// The pieces that go in `most` boxes and those that wait. Sets are taken greedily, once by their
/// worth and once by their worth for their mass, and the better choice is kept. `None` where nothing
/// goes, or nothing waits.
pub(super) fn choose(
    problem: &Problem,
    worth: &[i64],
    most: u32,
) -> Option<(Vec<usize>, Vec<usize>)> {
    let mut units = sets(problem);
    let bound: Vec<usize> = units.concat();
    let alone = (0..problem.pieces.len()).filter(|piece| !bound.contains(piece));
    units.extend(alone.map(|piece| vec![piece]));
    units.sort_unstable();
    let is_begun = |unit: &Vec<usize>| {
        problem.pins.iter().any(|pin| pin.pieces.iter().any(|piece| unit.contains(piece)))
    };
    let worth_of = |unit: &[usize]| -> i128 {
        unit.iter().filter_map(|piece| worth.get(*piece)).map(|one| i128::from(*one)).sum()
    };
    let mass_of = |unit: &[usize]| -> i128 {
        let pieces = unit.iter().filter_map(|piece| problem.pieces.get(*piece));
        pieces.map(|piece| i128::from(piece.mass)).sum::<i128>().max(1)
    };
    let fill = |units: &[Vec<usize>]| {
        let mut go: Vec<usize> = Vec::new();
        for unit in units {
            let mut more = [&go[..], unit].concat();
            more.sort_unstable();
            let mut asked = restricted(problem, &more);
            asked.max_boxes = Some(most);
            if engine::solve(&asked, &ASKING).is_ok() {
                go = more;
            }
        }
        go
    };
    units.sort_by_key(|unit| (!is_begun(unit), Reverse(worth_of(unit))));
    let by_worth = fill(&units);
    units.sort_by(|a, b| {
        let (one, two) = (worth_of(a) * mass_of(b), worth_of(b) * mass_of(a));
        is_begun(b).cmp(&is_begun(a)).then(two.cmp(&one))
    });
    let by_mass = fill(&units);
    let go = if worth_of(&by_mass) > worth_of(&by_worth) { by_mass } else { by_worth };
    let wait: Vec<usize> = (0..problem.pieces.len()).filter(|piece| !go.contains(piece)).collect();
    (!go.is_empty() && !wait.is_empty()).then_some((go, wait))
}
