//! Small whole loads against brute force: every partition into boxes, every whole millimetre for
//! every piece, judged by the checker's rules alone.

use quaystone::load::engine::{
    BoxKind, Cause, Effort, Grouping, HalfPlane, LineLoad, Loaded, Optimality, Piece, Pin, Placed,
    Problem, Redone, Stock, Violation, check, redo, solve,
};

/// A row of numbers that looks like chance and is the same everywhere.
struct Dice(u64);

impl Dice {
    fn below(&mut self, bound: usize) -> usize {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % bound
    }
}

/// A piece of that mass, length and width, one mm high.
fn piece(mass: i64, length: i64, width: i64) -> Piece {
    Piece { mass, length, width, height: 1, group: None, may_turn: false }
}

/// A box of that payload, length, width and cost without further limits.
fn box_kind(payload: i64, length: i64, width: i64, cost: i64) -> BoxKind {
    BoxKind {
        length,
        width,
        door_height: 1000,
        door_width: width,
        payload,
        cost,
        available: None,
        line_load: None,
        gap_end: 0,
        gap_side: 0,
        limits: Vec::new(),
    }
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
                Violation::Payload { .. }
                    | Violation::Limit { .. }
                    | Violation::LineLoad { .. }
                    | Violation::Door { .. }
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
                let drawn = problem.stocks.iter().all(|stock| {
                    let own = boxes.iter().filter(|(own, _)| stock.kinds.contains(own)).count();
                    !stock.kinds.contains(&kind) || own < usize::try_from(stock.count).unwrap()
                });
                let is_had = drawn && had.is_none_or(|had| used < usize::try_from(had).unwrap());
                if fits[kind][set] && is_had {
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
    // So many of two kinds together; now and then of a third, beside which one is open.
    let count = u32::try_from(draw(dice, 1, 3)).unwrap();
    match round % 7 {
        0 => problem.stocks = vec![Stock { kinds: vec![0, 1], count }],
        1 => {
            problem.kinds.push(box_kind(draw(dice, 9, 16), 5, 4, draw(dice, 5, 9)));
            problem.stocks = vec![Stock { kinds: vec![0, 2], count }];
        }
        _ => {}
    }
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
    let mut dice = Dice(11);
    let (mut proven, mut loads) = (0, 0);
    for round in 0..240 {
        let problem = random(&mut dice, round);
        let truth = brute(&problem);
        match solve(&problem, &Effort::of(300_000_000)) {
            Ok(solved) => {
                loads += 1;
                assert_eq!(check(&problem, &solved.boxes, solved.cost), vec![], "{problem:?}");
                let truth = truth.expect("a plan that holds");
                assert!(
                    solved.cost >= truth && solved.lower_bound <= truth,
                    "{problem:?} {truth} {solved:?}"
                );
                if solved.proof == Optimality::Proven {
                    proven += 1;
                    assert_eq!(solved.cost, truth);
                }
                let redone = redo(&problem, &solved.certificate, 100_000);
                assert_ne!(redone, Redone::Fails, "{problem:?}");
            }
            Err(misfits) => {
                let sure = misfits
                    .iter()
                    .flat_map(|misfit| &misfit.refusals)
                    .all(|refusal| refusal.reason != Cause::NotEnoughBoxes(false));
                assert!(truth.is_none() || !sure, "{problem:?} {truth:?} {misfits:?}");
            }
        }
    }
    assert!(loads > 120 && proven * 10 > loads * 9, "{proven} of {loads}");
}
