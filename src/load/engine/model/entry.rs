//! How pieces come into a box, one after the other, and the room that takes.
//!
//! A piece that is taken out never closes the way of another. So pieces are taken out in any turn, and what is
//! left has no way in, in any order (`order` says why).

/// From where to where a piece stands, along the box and across it.
pub type Rectangle = [(i64, i64); 2];

/// How pieces come into a box, and the room that takes, mm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Entry {
    /// Along the box from the doors at its rear end, in a lane that is wider than the piece.
    Doors {
        /// Width of the door opening, which lies in the middle.
        opening: i64,
        /// How much wider than the piece the lane is.
        side: i64,
        /// How far the piece's front end may reach between others without that room.
        nose: i64,
    },
    /// Let down through an opening in the middle of the roof.
    Roof {
        /// Length and width of the opening.
        opening: [i64; 2],
        /// How far a piece may be shoved each way from where it is let down.
        shove: i64,
        /// Room for the slings, at both ends of the piece or along one long side.
        sling: i64,
    },
}

/// Whether the pieces on a floor can be brought in one after the other.
pub(crate) fn has_order(inside: [i64; 2], entry: Entry, floor: &[Rectangle]) -> bool {
    let mut rear: Vec<usize> = (0..floor.len()).collect();
    rear.sort_unstable_by_key(|&at| -floor[at][0].1);
    loop {
        let before = rear.len();
        let mut at = 0;
        while at < rear.len() {
            if has_way(inside, entry, floor, rear[at], &rear) {
                rear.remove(at);
            } else {
                at += 1;
            }
        }
        if rear.is_empty() || rear.len() == before {
            return rear.is_empty();
        }
    }
}

/// Whether a piece comes out, or in, while others stand.
pub(crate) fn has_way(
    inside: [i64; 2],
    entry: Entry,
    floor: &[Rectangle],
    piece: usize,
    standing: &[usize],
) -> bool {
    let own = floor[piece];
    let others = || standing.iter().filter(|&&at| at != piece).map(|&at| floor[at]);
    match entry {
        Entry::Doors { opening, side, nose } => {
            has_lane(inside[1], opening, [side, nose], own, others())
        }
        Entry::Roof { opening, shove, sling } => {
            is_let_down(inside, opening, [shove, sling], own, others)
        }
    }
}

/// Whether the lane of a piece to the doors is free: as much wider than the piece as is asked, and in the
/// opening as wide as the side that goes first.
fn has_lane(
    width: i64,
    opening: i64,
    [side, nose]: [i64; 2],
    own: Rectangle,
    others: impl Iterator<Item = Rectangle>,
) -> bool {
    let [(front, rear), (left, right)] = own;
    let (mut from, mut to) = (0, width);
    for [(_, end), across] in others {
        if end <= front {
            continue;
        }
        if left < across.1 && across.0 < right {
            return false;
        }
        if end <= front + nose {
            continue;
        }
        if across.1 <= left {
            from = from.max(across.1);
        } else {
            to = to.min(across.0);
        }
    }
    let frame = (width - opening) / 2;
    let passes = to.min(frame + opening) - from.max(frame);
    to - from >= right - left + side && passes >= (right - left).min(rear - front)
}

/// Whether a piece can be let down beside or at its place, and its slings be drawn.
fn is_let_down<I: Iterator<Item = Rectangle>>(
    inside: [i64; 2],
    opening: [i64; 2],
    [shove, sling]: [i64; 2],
    own: Rectangle,
    others: impl Fn() -> I,
) -> bool {
    let mut down = own;
    for axis in [0, 1] {
        let near = (inside[axis] - opening[axis]) / 2;
        let far = near + opening[axis];
        let by = (near - own[axis].0).max(0) + (far - own[axis].1).min(0);
        down[axis] = (own[axis].0 + by, own[axis].1 + by);
        if by.abs() > shove || down[axis].0 < near || down[axis].1 > far {
            return false;
        }
    }
    let is_free = |[along, across]: Rectangle| {
        let apart = |[x, y]: Rectangle| {
            x.1 <= along.0 || along.1 <= x.0 || y.1 <= across.0 || across.1 <= y.0
        };
        others().all(apart)
    };
    let swept = [0, 1].map(|axis| (own[axis].0.min(down[axis].0), own[axis].1.max(down[axis].1)));
    if !is_free(swept) {
        return false;
    }
    // The strip beside one end or side of the piece.
    let strip = |axis: usize, far: bool| {
        let mut strip = down;
        let (near_end, far_end) = down[axis];
        strip[axis] = if far { (far_end, far_end + sling) } else { (near_end - sling, near_end) };
        strip[axis].0 >= 0 && strip[axis].1 <= inside[axis] && is_free(strip)
    };
    let sides = own.map(|(from, to)| to - from);
    [0, 1].into_iter().filter(|&axis| sides[axis] >= sides[1 - axis]).any(|long| {
        let ends = strip(long, false) && strip(long, true);
        ends || strip(1 - long, false) || strip(1 - long, true)
    })
}

/// Whether a piece of that length along the box and width across it could come in where nothing stands.
pub(crate) fn comes_in_alone([length, width]: [i64; 2], inside: [i64; 2], entry: Entry) -> bool {
    match entry {
        Entry::Doors { opening, side, .. } => {
            width + side <= inside[1] && width.min(length) <= opening
        }
        Entry::Roof { opening, sling, .. } => {
            let sides = [length, width];
            let is_let_down = (0..2).all(|axis| sides[axis] <= opening[axis]);
            // A strip beside it, as far off as it may be let down.
            let is_drawn = (0..2).any(|axis| {
                let near = (inside[axis] - opening[axis]) / 2;
                inside[axis] - near - sides[axis] >= sling
            });
            is_let_down && is_drawn
        }
    }
}
