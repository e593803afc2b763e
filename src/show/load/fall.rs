//! Where a bundle may fall: beside it, as wide as it is high. All figures are mm.

use super::floor::{Floor, Piece};

/// What a person takes to stand or pass beside a bundle (common practice).
const PERSON: i64 = 600;

/// Where each bundle may fall, inside the walls: along the box from and to, then across it. A bundle on edge falls
/// to either side of its length.
pub(super) fn shadows(one: &Floor<'_>) -> Vec<[(i64, i64); 2]> {
    one.pieces.iter().filter_map(|piece| shadow(one, piece)).collect()
}

fn shadow(one: &Floor<'_>, piece: &Piece<'_>) -> Option<[(i64, i64); 2]> {
    let [length, width, _] = one.inside;
    let [along, across] = piece.extent()?;
    let high = piece.size[2];
    let wider = |(from, to): (i64, i64), most: i64| ((from - high).max(0), (to + high).min(most));
    Some(if piece.turned { [wider(along, length), across] } else { [along, wider(across, width)] })
}

/// Whether somebody may stand beside each bundle where none can fall.
pub(super) fn is_free_beside_each(one: &Floor<'_>) -> bool {
    let all = shadows(one);
    one.pieces.iter().all(|piece| {
        let Some([along, across]) = piece.extent() else { return false };
        let (own, side, most) =
            if piece.turned { (across, 0, one.inside[0]) } else { (along, 1, one.inside[1]) };
        // What falls on the stretch beside the bundle, or stands there.
        let mut taken: Vec<(i64, i64)> = all
            .iter()
            .filter_map(|[x, y]| {
                let (level, falls) = if side == 0 { (y, x) } else { (x, y) };
                (level.0 < own.1 && own.0 < level.1).then_some(*falls)
            })
            .collect();
        taken.sort_unstable();
        let mut from = 0;
        for (start, end) in taken {
            if start - from >= PERSON {
                return true;
            }
            from = from.max(end);
        }
        most - from >= PERSON
    })
}

/// Lines at half a right angle over all of it, so far apart: from point to point, each along and across.
pub(super) fn hatch(areas: &[[(i64, i64); 2]], step: i64) -> Vec<[(i64, i64); 2]> {
    let last = areas.iter().map(|[x, y]| x.1 + y.1).max().unwrap_or(0);
    let mut lines = Vec::new();
    let mut sum = step;
    while sum < last {
        // Along the line x + y = sum each area is a stretch of x; those that meet are one.
        let mut own: Vec<(i64, i64)> = areas
            .iter()
            .map(|[x, y]| (x.0.max(sum - y.1), x.1.min(sum - y.0)))
            .filter(|(from, to)| from < to)
            .collect();
        own.sort_unstable();
        let mut joined: Vec<(i64, i64)> = Vec::new();
        for (from, to) in own {
            match joined.last_mut() {
                Some(before) if from <= before.1 => before.1 = before.1.max(to),
                _ => joined.push((from, to)),
            }
        }
        let line = |(from, to): (i64, i64)| [(from, sum - from), (to, sum - to)];
        lines.extend(joined.into_iter().map(line));
        sum += step;
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Mass;

    fn floor(pieces: &[((i64, i64), [i64; 3], bool)]) -> Floor<'static> {
        let piece = |(at, size, turned): &((i64, i64), [i64; 3], bool)| Piece {
            id: "B",
            mass: Mass::ZERO,
            at: Some(*at),
            size: *size,
            turned: *turned,
        };
        Floor {
            inside: [5_900, 2_350, 2_390],
            pieces: pieces.iter().map(piece).collect(),
            blocking: Vec::new(),
            centre: None,
            window: None,
        }
    }

    #[test]
    fn a_bundle_falls_as_far_as_it_is_high_and_the_walls_end_it() {
        let along = ((100, 800), [2_900, 300, 1_000], false);
        let across = ((3_000, 0), [300, 2_300, 1_800], true);
        assert_eq!(
            shadows(&floor(&[along, across])),
            [[(100, 3_000), (0, 2_100)], [(1_200, 5_100), (0, 2_300)]]
        );
        // 250 mm are left at the right wall: nobody stands there; 800 mm at the doors are a place.
        assert!(!is_free_beside_each(&floor(&[along])));
        assert!(is_free_beside_each(&floor(&[across])));
        let low = ((0, 0), [2_900, 300, 1_450], false);
        assert!(is_free_beside_each(&floor(&[low])), "600 mm are left");
        let wide = ((0, 0), [2_900, 300, 1_451], false);
        assert!(!is_free_beside_each(&floor(&[wide])), "599 mm are not enough");
        let behind = ((0, 2_000), [2_000, 300, 100], false);
        assert!(!is_free_beside_each(&floor(&[low, behind])), "the other falls there");
    }

    #[test]
    fn hatching_is_one_line_where_areas_meet() {
        let lines = hatch(&[[(0, 10), (0, 10)], [(5, 20), (0, 10)]], 15);
        assert_eq!(lines, [[(5, 10), (15, 0)]]);
    }
}
