//! An order in which the pieces of one box come in, and the pieces that have no way in.
//!
//! Rectangles are separated by translations, one after the other, and the order is worked out backwards:
//! the piece that is taken out first was brought in last. A piece that is taken out never closes the way of
//! another. So the orders are the words of an antimatroid (Korte, Lovász and Schrader, Greedoids, 1991;
//! from memory): taking out any piece that has its way finds an order wherever there is one, and what is
//! left otherwise is stuck in every order.

use super::model::entry::{Entry, Rectangle, has_way};
use super::preference::rows;

/// In which turn the pieces of a row come in: left and right are those of somebody at the rear end who looks in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// From the left wall to the right.
    FromLeft,
    /// From the right wall to the left.
    FromRight,
    /// From the middle outward.
    FromMiddle,
}

/// An order in which pieces come in. It is taken back to take them out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Order {
    /// The pieces by their position on the floor: the first to come in is the first.
    pub sequence: Vec<usize>,
    /// The turn that it keeps to, but for pieces that have their way only out of turn.
    pub turn: Turn,
}

/// Two walls that are no further apart than this are equally near, mm.
const NEAR: i64 = 50;

/// An order for the pieces on a floor: row by row from the front end, in each row from one wall to the other or from
/// the middle outward, whichever lets fewest pieces come in out of turn. Of equals the first is from the wall
/// that is nearer, so that the side with more room is braced last.
///
/// # Errors
/// The pieces that are stuck in every order.
pub fn order(inside: [i64; 2], entry: Entry, floor: &[Rectangle]) -> Result<Order, Vec<usize>> {
    let along: Vec<[i64; 3]> =
        floor.iter().map(|one| [one[0].0, one[1].0, one[0].1 - one[0].0]).collect();
    let rows = rows(&along);
    let left = floor.iter().map(|one| one[1].0).min().unwrap_or(0);
    let right = inside[1] - floor.iter().map(|one| one[1].1).max().unwrap_or(0);
    let mut turns = [Turn::FromLeft, Turn::FromRight, Turn::FromMiddle];
    if left > right + NEAR {
        turns.swap(0, 1);
    }
    let mut best: Option<(usize, Order)> = None;
    for turn in turns {
        let wanted = in_turn(&rows, inside[1], floor, turn);
        let sequence = backwards(inside, entry, floor, &wanted)?;
        let out_of_turn = inversions(&wanted, &sequence);
        if best.as_ref().is_none_or(|(least, _)| out_of_turn < *least) {
            best = Some((out_of_turn, Order { sequence, turn }));
        }
        if out_of_turn == 0 {
            break;
        }
    }
    best.map(|(_, order)| order).ok_or_else(Vec::new)
}

/// The pieces row by row, each row in that turn.
fn in_turn(rows: &[Vec<usize>], width: i64, floor: &[Rectangle], turn: Turn) -> Vec<usize> {
    let mut rows = rows.to_vec();
    for row in &mut rows {
        match turn {
            Turn::FromLeft => {}
            Turn::FromRight => row.reverse(),
            Turn::FromMiddle => {
                let off = |at: usize| (floor[at][1].0 + floor[at][1].1 - width).abs();
                row.sort_by_key(|&at| off(at));
            }
        }
    }
    rows.into_iter().flatten().collect()
}

/// Takes pieces out, the last of those wanted that has its way first.
///
/// # Errors
/// What is left when nothing has its way.
fn backwards(
    inside: [i64; 2],
    entry: Entry,
    floor: &[Rectangle],
    wanted: &[usize],
) -> Result<Vec<usize>, Vec<usize>> {
    let mut standing = wanted.to_vec();
    let mut sequence = Vec::with_capacity(wanted.len());
    while !standing.is_empty() {
        let free = |at: &usize| has_way(inside, entry, floor, standing[*at], &standing);
        let Some(at) = (0..standing.len()).rev().find(free) else {
            standing.sort_unstable();
            return Err(standing);
        };
        sequence.push(standing.remove(at));
    }
    sequence.reverse();
    Ok(sequence)
}

/// Pairs that come in the other way round than wanted.
fn inversions(wanted: &[usize], sequence: &[usize]) -> usize {
    let rank = |piece: &usize| sequence.iter().position(|one| one == piece);
    let ranks: Vec<Option<usize>> = wanted.iter().map(rank).collect();
    let later =
        |(at, one): (usize, &Option<usize>)| ranks[..at].iter().filter(|two| *two > one).count();
    ranks.iter().enumerate().map(later).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::engine::model::effort::Dice;
    use crate::load::engine::model::entry::has_order;

    /// Length and width of the small floors, each cell a millimetre.
    const INSIDE: [i64; 2] = [10, 7];

    fn draw(dice: &mut Dice) -> (Entry, Vec<Rectangle>) {
        let mut below =
            |most: i64| i64::try_from(dice.below(usize::try_from(most).unwrap())).unwrap();
        let entry = if below(2) == 0 {
            Entry::Doors { opening: 5 + 2 * below(2), side: below(3), nose: below(2) }
        } else {
            Entry::Roof { opening: [8, 5], shove: below(3), sling: below(3) }
        };
        let mut floor: Vec<Rectangle> = Vec::new();
        for _ in 0..60 {
            let (long, wide) = (1 + below(5), 1 + below(2));
            let (x, y) = (below(11 - long), below(8 - wide));
            let new = [(x, x + long), (y, y + wide)];
            if floor.len() < 7 && floor.iter().all(|one| !meets(*one, new)) {
                floor.push(new);
            }
        }
        (entry, floor)
    }

    fn meets(one: Rectangle, other: Rectangle) -> bool {
        (0..2).all(|axis| one[axis].0 < other[axis].1 && other[axis].0 < one[axis].1)
    }

    /// The way of a piece by trying every lane, and every cell to let it down at.
    fn comes_in(entry: Entry, own: Rectangle, others: &[Rectangle]) -> bool {
        let is_free = |part: Rectangle| others.iter().all(|other| !meets(*other, part));
        let is_inside =
            |part: Rectangle| (0..2).all(|axis| part[axis].0 >= 0 && part[axis].1 <= INSIDE[axis]);
        let [(x, end), (y, far)] = own;
        let wide = far - y;
        match entry {
            Entry::Doors { opening, side, nose } => (y - side..=y).any(|lane| {
                let frame = (INSIDE[1] - opening) / 2;
                let lane = (lane, lane + wide + side);
                let behind = (x + nose).min(INSIDE[0]);
                // How much of the whole gap around this lane lies in the opening.
                let cells = |cell: &i64| {
                    let between = [(behind, INSIDE[0]), ((*cell).min(y), (*cell + 1).max(far))];
                    is_free(between)
                };
                let passes = (frame..frame + opening).filter(cells).count();
                let all = [(behind, INSIDE[0]), lane];
                is_inside(all)
                    && is_free(all)
                    && is_free([(x, INSIDE[0]), (y, far)])
                    && i64::try_from(passes).unwrap() >= wide.min(end - x)
            }),
            Entry::Roof { opening, shove, sling } => {
                let fits = |by: &[i64; 2]| {
                    let down = [(x + by[0], end + by[0]), (y + by[1], far + by[1])];
                    (0..2).all(|axis| {
                        let frame = (INSIDE[axis] - opening[axis]) / 2;
                        down[axis].0 >= frame && down[axis].1 <= frame + opening[axis]
                    })
                };
                let each = (-shove..=shove).flat_map(|x| (-shove..=shove).map(move |y| [x, y]));
                let least = each.filter(fits).min_by_key(|by| by[0].abs() + by[1].abs());
                let Some(by) = least else { return false };
                let down = [(x + by[0], end + by[0]), (y + by[1], far + by[1])];
                let swept = [
                    (x.min(down[0].0), end.max(down[0].1)),
                    (y.min(down[1].0), far.max(down[1].1)),
                ];
                let clear = |part: Rectangle| is_inside(part) && is_free(part);
                let lengthwise = [
                    [(down[0].0 - sling, down[0].0), down[1]],
                    [(down[0].1, down[0].1 + sling), down[1]],
                ];
                let across = [
                    [down[0], (down[1].0 - sling, down[1].0)],
                    [down[0], (down[1].1, down[1].1 + sling)],
                ];
                let drawn = |ends: [Rectangle; 2], sides: [Rectangle; 2]| {
                    ends.into_iter().all(clear) || sides.into_iter().any(clear)
                };
                is_free(swept)
                    && ((end - x >= wide && drawn(lengthwise, across))
                        || (wide >= end - x && drawn(across, lengthwise)))
            }
        }
    }

    #[test]
    fn the_backward_rule_finds_an_order_wherever_one_of_all_orders_can_be_done() {
        let drawn = std::env::var("QUAYSTONE_DRAWN").ok().and_then(|text| text.parse().ok());
        let mut dice = Dice::new(7);
        let mut counts = [0, 0];
        for _ in 0..drawn.unwrap_or(300) {
            let (entry, floor) = draw(&mut dice);
            let all = (1_usize << floor.len()) - 1;
            // The sets that some order brings in, each from those with one piece less.
            let mut reached = vec![false; all + 1];
            reached[0] = true;
            for set in 0..=all {
                let stands: Vec<Rectangle> =
                    (0..floor.len()).filter(|at| set >> at & 1 == 1).map(|at| floor[at]).collect();
                for at in (0..floor.len()).filter(|at| set >> at & 1 == 0) {
                    if reached[set] && comes_in(entry, floor[at], &stands) {
                        reached[set | 1 << at] = true;
                    }
                }
            }
            let found = order(INSIDE, entry, &floor);
            assert_eq!(found.is_ok(), reached[all], "{entry:?} {floor:?}");
            assert_eq!(has_order(INSIDE, entry, &floor), reached[all]);
            match found {
                Ok(Order { sequence, .. }) => {
                    counts[0] += 1;
                    let mut stands = Vec::new();
                    for at in sequence {
                        assert!(comes_in(entry, floor[at], &stands), "{entry:?} {floor:?}");
                        stands.push(floor[at]);
                    }
                    assert_eq!(stands.len(), floor.len());
                }
                Err(stuck) => {
                    counts[1] += 1;
                    let of = |at: usize| stuck.iter().filter(move |one| **one != at);
                    for &at in &stuck {
                        let others: Vec<Rectangle> = of(at).map(|&one| floor[one]).collect();
                        assert!(!comes_in(entry, floor[at], &others), "{entry:?} {floor:?}");
                    }
                }
            }
        }
        assert!(counts.into_iter().all(|count| count > 30), "{counts:?}");
    }

    #[test]
    fn the_last_bundle_never_comes_into_a_slot_without_room() {
        // Four bundles of 342 mm abreast, against the left wall but for 2 mm: from that wall on, so that the
        // bundle by the free side is the last. With 50 mm beside it and 100 asked, the last has no way.
        let row = |left: i64| -> Vec<Rectangle> {
            (0..4).map(|at| [(100, 2_940), (left + 342 * at, left + 342 * (at + 1))]).collect()
        };
        let doors = Entry::Doors { opening: 2_340, side: 100, nose: 50 };
        let of = |width: i64, floor: &[Rectangle]| order([5_896, width], doors, floor);
        let from = |turn, sequence: [usize; 4]| Ok(Order { sequence: sequence.to_vec(), turn });
        assert_eq!(of(2_350, &row(2)), from(Turn::FromLeft, [0, 1, 2, 3]));
        assert_eq!(of(2_350, &row(980)), from(Turn::FromRight, [3, 2, 1, 0]));
        // In the middle but for 2 mm no wall is the nearer.
        assert_eq!(of(2_350, &row(492)), from(Turn::FromLeft, [0, 1, 2, 3]));
        assert_eq!(of(1_418, &row(25)), Err(vec![0, 1, 2, 3]));
    }
}
