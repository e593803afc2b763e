//! Vectors of box counts in the order of their cost, by best-first branch and bound: the cheapest
//! that no cut forbids is a proven bound. What torn groups cost at least with these boxes is part of the cost.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use num_integer::Integer;

use super::cut::{Cut, Vector};
use crate::load::engine::model::effort::Purse;
use crate::load::engine::model::task::Task;

/// What the enumeration found.
pub(crate) struct Ranked {
    /// Admissible vectors, cheapest first.
    pub(crate) vectors: Vec<Vector>,
    /// The least cost of an admissible vector outside the list. `None`: there is no other.
    pub(crate) bound: Option<i64>,
}

#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Node {
    estimate: i64,
    /// Deeper first among equals, or the search would drown in them.
    open: usize,
    boxes: usize,
    counts: Vec<usize>,
    cost: i64,
}

/// The first `most` admissible vectors below `ceiling` in order of cost; `torn` is what torn groups cost at
/// least, whatever the boxes.
pub(crate) fn rank(
    task: &Task,
    cuts: &[Cut],
    torn: i64,
    (ceiling, most): (Option<i64>, usize),
    work: &mut Purse,
) -> Ranked {
    let kinds = task.kinds.len();
    // Kinds with the best price for the first cut come first: the estimate bites sooner.
    let mut order: Vec<usize> = (0..kinds).collect();
    order.sort_by_key(|&k| {
        let capacity = cuts.first().map_or(1, |cut| cut.capacity[k]).max(1);
        (i128::from(task.kinds[k].cost) * 1_000_000_000 / capacity, k)
    });
    let divisor = |a, cost| num_integer::gcd(a, i128::from(cost));
    let boxes = task.kinds.iter().map(|kind| kind.cost).fold(0, divisor).max(1_i128);
    let price = task.groups.iter().copied().fold(0, divisor).max(1);
    let step = if cuts.iter().any(|cut| cut.wish > 0) { boxes.gcd(&price) } else { boxes };
    let search = Search { task, cuts, order, step, price, torn: i128::from(torn) };
    let mut heap = BinaryHeap::new();
    let mut vectors: Vec<Vector> = Vec::new();
    if let Some(estimate) = search.estimate(&[], 0, 0) {
        heap.push(Reverse(Node { estimate, boxes: 0, open: kinds, counts: Vec::new(), cost: 0 }));
    }
    let mut spent = 0;
    while let Some(Reverse(node)) = heap.pop() {
        let full = vectors.len() >= most || spent > ESTIMATES;
        if full || ceiling.is_some_and(|ceiling| node.estimate >= ceiling) {
            vectors.sort();
            return Ranked { vectors, bound: Some(node.estimate) };
        }
        spent += 1;
        work.spend(300);
        search.sibling(&node, &mut heap);
        if node.open == 0 {
            let mut counts = vec![0; kinds];
            for (&kind, &count) in search.order.iter().zip(&node.counts) {
                counts[kind] = count;
            }
            vectors.push(Vector { cost: node.estimate, boxes: node.boxes, counts });
            continue;
        }
        let before = heap.len();
        search.expand(&node, &mut heap);
        spent += heap.len() - before;
        work.spend((heap.len() - before) * (200 + 200 * cuts.len()));
    }
    vectors.sort();
    Ranked { vectors, bound: ceiling }
}

/// Prefixes that one ranking may estimate.
const ESTIMATES: usize = 30_000;

struct Search<'a> {
    task: &'a Task,
    cuts: &'a [Cut],
    order: Vec<usize>,
    /// Greatest common divisor of the costs, and that of the prices of groups.
    step: i128,
    price: i128,
    /// What torn groups cost at least.
    torn: i128,
}

impl Search<'_> {
    /// Children of a prefix: the next kind from none up to the first count that meets every cut. Larger
    /// counts cost more and hold no less of what is needed: each is made only when the turn of the one
    /// before it comes, and most never are.
    fn expand(&self, node: &Node, heap: &mut BinaryHeap<Reverse<Node>>) {
        let kind = self.order[node.counts.len()];
        let room = self.task.max_boxes.saturating_sub(node.boxes);
        for count in 0..=self.task.kinds[kind].available.min(room) {
            let mut counts = node.counts.clone();
            counts.push(count);
            let met = self.needs(&counts).iter().all(|&need| need <= 0);
            self.push(counts, node.boxes + count, node.cost, node.open - 1, heap);
            if met {
                break;
            }
        }
    }

    fn sibling(&self, node: &Node, heap: &mut BinaryHeap<Reverse<Node>>) {
        let Some((&count, before)) = node.counts.split_last() else {
            return;
        };
        let kind = self.order[before.len()];
        let met = self.needs(&node.counts).iter().all(|&need| need <= 0);
        let room = count < self.task.kinds[kind].available && node.boxes < self.task.max_boxes;
        if met && room {
            let mut counts = before.to_vec();
            counts.push(count + 1);
            let own = i64::try_from(count).unwrap_or(i64::MAX) * self.task.kinds[kind].cost;
            self.push(counts, node.boxes + 1, node.cost - own, node.open, heap);
        }
    }

    /// Adds a prefix; `before` is the cost of all but its last kind.
    fn push(
        &self,
        counts: Vec<usize>,
        boxes: usize,
        before: i64,
        open: usize,
        heap: &mut BinaryHeap<Reverse<Node>>,
    ) {
        let kind = self.order[counts.len() - 1];
        let own = counts.last().and_then(|&count| i64::try_from(count).ok()).unwrap_or(0);
        let cost = before + self.task.kinds[kind].cost * own;
        let of = |kinds: &[usize]| -> usize {
            let own = counts.iter().zip(&self.order).filter(|(_, kind)| kinds.contains(kind));
            own.map(|(count, _)| *count).sum()
        };
        // More of a kind, or another kind, draws no less on a stock.
        if self.task.stocks.iter().any(|(kinds, count)| of(kinds) > *count) {
            return;
        }
        if let Some(estimate) = self.estimate(&counts, boxes, cost) {
            heap.push(Reverse(Node { estimate, open, boxes, counts, cost }));
        }
    }

    fn needs(&self, counts: &[usize]) -> Vec<i128> {
        self.cuts
            .iter()
            .map(|cut| {
                let held: i128 = counts
                    .iter()
                    .zip(&self.order)
                    .map(|(&count, &kind)| {
                        cut.capacity[kind] * i128::try_from(count).unwrap_or(i128::MAX)
                    })
                    .sum();
                cut.need - held - cut.wish * self.torn
            })
            .collect()
    }

    /// The least cost of any completion, rounded up. `None`: none is admissible.
    ///
    /// It is the linear relaxation of one cut at a time: parts of boxes meet the need that is left,
    /// those that hold most for their cost first, or torn groups make it good. Every cut must be met, so the
    /// dearest answer is a bound.
    fn estimate(&self, counts: &[usize], boxes: usize, cost: i64) -> Option<i64> {
        let free = &self.order[counts.len()..];
        let room = self.task.max_boxes.saturating_sub(boxes);
        let mut more: i128 = 0;
        for (cut, need) in self.cuts.iter().zip(self.needs(counts)) {
            if need <= 0 {
                continue;
            }
            let mut left = need;
            let mut price: i128 = 0;
            let mut best: Vec<usize> = free.to_vec();
            best.retain(|&kind| cut.capacity[kind] > 0);
            best.sort_by(|&a, &b| {
                let one = i128::from(self.task.kinds[a].cost) * cut.capacity[b];
                one.cmp(&(i128::from(self.task.kinds[b].cost) * cut.capacity[a]))
            });
            // A minor unit of torn groups makes good `wish` of it, as much as is wanted.
            let tear = |left: i128| (left + cut.wish - 1) / cut.wish.max(1);
            for &kind in &best {
                if cut.wish * i128::from(self.task.kinds[kind].cost) >= cut.capacity[kind] {
                    break;
                }
                let most = self.task.kinds[kind].available.min(room);
                let holds = cut.capacity[kind] * i128::try_from(most).ok()?;
                let unit = i128::from(self.task.kinds[kind].cost);
                if holds >= left {
                    price += (unit * left + cut.capacity[kind] - 1) / cut.capacity[kind];
                    left = 0;
                    break;
                }
                price += unit * i128::try_from(most).ok()?;
                left -= holds;
            }
            if left > 0 && cut.wish == 0 {
                return None;
            }
            price += if left > 0 { tear(left) } else { 0 };
            more = more.max(price);
        }
        // Of a whole vector only torn groups are left to pay for, and each at its price.
        let more =
            if free.is_empty() { (more + self.price - 1) / self.price * self.price } else { more };
        // Every cost is a multiple of the step, so nothing lies below the next one.
        let cost = i128::from(cost) + more;
        i64::try_from((cost + self.step - 1) / self.step * self.step + self.torn).ok()
    }
}
