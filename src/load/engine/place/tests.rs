//! The oracle against a plain exhaustive packing on small floors, and hand-worked cases.

use super::attempt::{Attempt, Placement};
use super::disjunctive;
use super::try_place::try_place;
use crate::load::engine::bounds::dual_feasible::Function;
use crate::load::engine::bounds::measure::{Measure, all_measures};
use crate::load::engine::model::deck::{Deck, Item, Position};
use crate::load::engine::model::effort::{Dice, Purse};
use crate::load::engine::model::entry::Entry;
use crate::load::engine::model::problem::{BoxKind, HalfPlane, LineLoad, Piece};
use crate::load::engine::testing::{box_kind, piece};

fn deck(length: i64, width: i64) -> Deck {
    Deck { length, width, gap_end: 0, gap_side: 0, limits: Vec::new(), line: None, entry: None }
}

fn item(length: i64, width: i64) -> Item {
    Item { length, width, mass: 1, may_turn: false }
}

fn ask(deck: &Deck, items: &[Item]) -> Placement {
    try_place(deck, items, &mut Purse::new(u64::MAX))
}

/// Every integer place for every piece in turn.
fn exhaustive(deck: &Deck, items: &[Item], spots: &mut Vec<Position>) -> bool {
    let Some(next) = items.get(spots.len()) else {
        return deck.balanced(items, spots)
            && deck.bears(items, spots)
            && deck.is_entered(items, spots);
    };
    for turned in [false, true] {
        if turned && !next.may_turn {
            continue;
        }
        let (length, width) = next.extents(turned);
        for x in 0..=deck.length - length {
            for y in 0..=deck.width - width {
                let free =
                    items.iter().zip(spots.iter()).all(|(item, spot): (&Item, &Position)| {
                        let (l, w) = item.extents(spot.turned);
                        x >= spot.x + l
                            || spot.x >= x + length
                            || y >= spot.y + w
                            || spot.y >= y + width
                    });
                if free {
                    spots.push(Position { x, y, turned });
                    if exhaustive(deck, items, spots) {
                        return true;
                    }
                    spots.pop();
                }
            }
        }
    }
    false
}

fn valid(deck: &Deck, items: &[Item], spots: &[Position]) -> bool {
    let inside = items.iter().zip(spots).all(|(item, spot)| {
        let (l, w) = item.extents(spot.turned);
        spot.x >= 0 && spot.y >= 0 && spot.x + l <= deck.length && spot.y + w <= deck.width
    });
    let apart = (0..items.len()).all(|one| {
        (0..one).all(|two| {
            let (a, b) =
                (items[one].extents(spots[one].turned), items[two].extents(spots[two].turned));
            let (s, t) = (spots[one], spots[two]);
            s.x >= t.x + b.0 || t.x >= s.x + a.0 || s.y >= t.y + b.1 || t.y >= s.y + a.1
        })
    });
    let holds = deck.balanced(items, spots) && deck.bears(items, spots);
    inside && apart && holds && deck.is_entered(items, spots)
}

/// A floor of 6 by 5 with two to five pieces, some with a balance, a line load or pieces that
/// may turn.
fn small(dice: &mut Dice, round: i64) -> (Deck, Vec<Item>) {
    let mut floor = deck(6, 5);
    let count = 2 + dice.below(4);
    let mut items = Vec::new();
    for _ in 0..count {
        let side = |dice: &mut Dice, most: usize| i64::try_from(1 + dice.below(most)).unwrap();
        let mut next = item(side(dice, 5), side(dice, 4));
        next.mass = side(dice, 9);
        next.may_turn = round % 3 == 0;
        items.push(next);
    }
    if round % 2 == 0 {
        floor.limits.extend(HalfPlane::window_along(6, 100));
        floor.limits.extend(HalfPlane::window_across(5, 150));
    }
    if round % 5 < 2 {
        floor.line = Some((5 + round % 3) << 24);
    }
    (floor, items)
}

#[test]
fn small_floors_agree_with_every_place_tried() {
    let mut dice = Dice::new(7);
    let (mut yes, mut no) = (0, 0);
    for round in 0..600 {
        let (floor, items) = small(&mut dice, round);
        let truth = exhaustive(&floor, &items, &mut Vec::new());
        match ask(&floor, &items) {
            Placement::Places(spots) => {
                assert!(valid(&floor, &items, &spots), "{items:?} {spots:?}");
                yes += 1;
            }
            Placement::Never => {
                assert!(!truth, "{items:?}");
                no += 1;
            }
            // Whole millimetres may miss a balance as narrow as this.
            Placement::Unknown => assert!(!floor.limits.is_empty(), "undecided: {items:?}"),
        }
    }
    assert!(yes > 100 && no > 100, "{yes} {no}");
}

#[test]
fn what_comes_in_somewhere_is_not_refuted_for_its_way() {
    let drawn = std::env::var("QUAYSTONE_DRAWN").ok().and_then(|text| text.parse().ok());
    let mut dice = Dice::new(31);
    let (mut yes, mut no, mut missed) = (0, 0, 0);
    for round in 0..drawn.unwrap_or(200) {
        let (mut floor, mut items) = small(&mut dice, 3 * round + 1);
        items.truncate(3);
        (floor.line, floor.limits) = (None, Vec::new());
        let bare = floor.clone();
        let mut below = |most: usize| i64::try_from(dice.below(most)).unwrap();
        let entry = if round % 2 == 0 {
            Entry::Doors { opening: 3 + 2 * below(2), side: 1 + below(2), nose: below(2) }
        } else {
            Entry::Roof { opening: [4 + below(3), 3 + below(3)], shove: below(3), sling: 1 }
        };
        // Room for bracing is room for slings, too.
        floor.gap_side = below(2);
        floor.entry = Some((entry, [6, 5 + 2 * floor.gap_side]));
        let truth = exhaustive(&floor, &items, &mut Vec::new());
        match ask(&floor, &items) {
            Placement::Places(spots) => {
                assert!(valid(&floor, &items, &spots), "{floor:?} {items:?} {spots:?}");
                yes += 1;
            }
            Placement::Never => {
                assert!(!truth, "{floor:?} {items:?}");
                no += i32::from(ask(&bare, &items) != Placement::Never);
            }
            Placement::Unknown => missed += i32::from(truth),
        }
    }
    assert!(yes > 40 && no > 10 && 8 * missed < yes, "{yes} {no} {missed}");
}

#[test]
fn what_stands_somewhere_no_measure_refuses() {
    let mut dice = Dice::new(41);
    let mut told = 0;
    for round in 0..3000 {
        let (floor, items) = small(&mut dice, 3 * round + 1);
        if !exhaustive(&floor, &items, &mut Vec::new()) {
            continue;
        }
        let mass = items.iter().map(|item| item.mass).sum();
        let line_load = floor.line.map(|line| LineLoad { mass: line >> 24, per_length: 1 });
        let limits = floor.limits.clone();
        let kind = BoxKind { line_load, limits, ..box_kind(mass, 6, 5, 1) };
        let pieces: Vec<Piece> =
            items.iter().map(|item| piece(item.mass, item.length, item.width)).collect();
        for measure in all_measures(std::slice::from_ref(&kind), &pieces).remove(0) {
            let weight: i128 = pieces.iter().map(|piece| measure.weigh(&kind, piece)).sum();
            assert!(weight <= measure.capacity(&kind), "{measure:?} {items:?}");
            told += i32::from(matches!(measure, Measure::Lines(_, Function::Bars(_))));
        }
    }
    assert!(told > 30, "{told}");
}

#[test]
fn pairs_alone_agree_with_every_place_tried() {
    let mut dice = Dice::new(23);
    let (mut yes, mut no, mut undecided) = (0, 0, 0);
    for round in 0..900 {
        let (floor, items) = small(&mut dice, round);
        let truth = exhaustive(&floor, &items, &mut Vec::new());
        let mut attempt = Attempt::new(&floor, &items);
        match disjunctive::search(&mut attempt, 100_000, &mut Purse::new(u64::MAX)) {
            Placement::Places(spots) => {
                assert!(valid(&floor, &items, &spots), "{items:?} {spots:?}");
                yes += 1;
            }
            Placement::Never => {
                assert!(!truth, "{floor:?} {items:?}");
                no += 1;
            }
            Placement::Unknown => {
                assert!(!floor.limits.is_empty(), "undecided: {items:?}");
                undecided += 1;
            }
        }
    }
    assert!(yes > 200 && no > 200 && undecided < 50, "{yes} {no} {undecided}");
}

#[test]
fn two_long_ones_face_two_short_ones() {
    // 58 + 40 <= 100 and 55 + 45 <= 100: a long one may only face one that leaves it room.
    let items = [item(58, 30), item(55, 30), item(40, 30), item(45, 30)];
    let spots = match ask(&deck(100, 60), &items) {
        Placement::Places(spots) => spots,
        other => panic!("{other:?}"),
    };
    assert!(valid(&deck(100, 60), &items, &spots));
    // Three long ones of 21 fill 63 of 60.
    let items = [item(58, 21), item(55, 21), item(51, 21)];
    assert_eq!(ask(&deck(100, 60), &items), Placement::Never);
}

#[test]
fn the_balance_slides_a_single_piece_to_the_middle() {
    let mut floor = deck(101, 51);
    floor.limits.extend(HalfPlane::window_along(101, 50));
    floor.limits.extend(HalfPlane::window_across(51, 50));
    let piece = Item { length: 30, width: 10, mass: 1000, may_turn: false };
    let Placement::Places(spots) = ask(&floor, &[piece]) else { panic!() };
    assert!(valid(&floor, &[piece], &spots));
}

#[test]
fn a_floor_too_weak_for_any_order_is_proven_so() {
    // Each covers more than half the box, so all cover its middle: 3 * 4 g/mm on 10.
    let mut floor = deck(100, 100);
    floor.line = Some(10 << 24);
    let piece = Item { length: 60, width: 10, mass: 240, may_turn: false };
    assert!(matches!(ask(&floor, &[piece; 2]), Placement::Places(_)));
    assert_eq!(ask(&floor, &[piece; 3]), Placement::Never);
    // 8 and 3 g/mm must stand one behind the other, but then the heavy one is too near an end.
    let heavy = Item { length: 50, width: 10, mass: 400, may_turn: false };
    let light = Item { mass: 150, ..heavy };
    assert!(matches!(ask(&floor, &[heavy, light]), Placement::Places(_)));
    floor.limits.extend(HalfPlane::window_along(100, 50));
    assert_eq!(ask(&floor, &[heavy, light]), Placement::Never);
}

#[test]
fn a_line_load_spreads_pieces_along_the_box() {
    // 10 g/mm allowed; two pieces of 8 g/mm each must not stand beside each other.
    let mut floor = deck(100, 100);
    floor.line = Some(10 << 24);
    let piece = Item { length: 40, width: 10, mass: 320, may_turn: false };
    let Placement::Places(spots) = ask(&floor, &[piece, piece]) else { panic!() };
    assert!((spots[0].x - spots[1].x).abs() >= 40);
    assert!(!matches!(ask(&floor, &[piece, piece, piece]), Placement::Places(_)));
}
