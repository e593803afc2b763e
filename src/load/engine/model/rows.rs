//! A box relaxed to a knapsack with several rows: sums over its units that never exceed what a
//! box of its kind holds. Bounds, pricing and every search ask the rows before the floor.

/// A necessary condition of one kind of box, by piece: no load that stands in such a box weighs
/// more than the capacity. `bounds/measure.rs` makes them.
pub(crate) struct Condition {
    pub(crate) capacity: i128,
    /// By piece of the problem.
    pub(crate) weights: Vec<i128>,
    /// Whether it counts in whole steps. Such a row is a valid condition, but no measure of size.
    pub(crate) stepped: bool,
}

/// All pieces together weigh no more than this, so that sums of weights, and products of two of them
/// in 128 bits, fit.
const WHOLE: i128 = 1 << 60;

impl Condition {
    /// A condition whose figures stay narrow. Larger ones are counted in wider steps, rounded down:
    /// what keeps within the capacity keeps within it so, too.
    pub(crate) fn new(capacity: i128, mut weights: Vec<i128>, stepped: bool) -> Self {
        let total: i128 = weights.iter().map(|weight| weight.abs()).sum();
        if total <= WHOLE {
            return Self { capacity, weights, stepped };
        }
        // A divisor of all of them loses nothing.
        let shared = weights.iter().fold(0, |a, &b| num_integer::gcd(a, b)).max(1);
        let step = shared * (total / shared / WHOLE + 1);
        for weight in &mut weights {
            *weight = weight.div_euclid(step);
        }
        Self { capacity: capacity.div_euclid(step), weights, stepped }
    }
}

/// A condition by unit, in narrow figures.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    pub(crate) capacity: i64,
    /// By unit.
    pub(crate) weights: Vec<i64>,
    /// As in [`Condition`].
    pub(crate) stepped: bool,
}

/// Tasks of more units do without rows in steps. Those rows help an exhaustive search alone, and
/// every row slows the pricing of patterns.
const STEPPED: usize = 64;

/// The rows of a kind that can bind for units of these pieces, the mass first, divided by their
/// common divisor.
pub(crate) fn rows(conditions: &[Condition], units: &[&[usize]]) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    let few = units.len() <= STEPPED;
    for (number, condition) in conditions.iter().enumerate() {
        if condition.stepped && !few {
            continue;
        }
        let weigh = |pieces: &&[usize]| -> i128 {
            pieces.iter().map(|&piece| condition.weights[piece]).sum()
        };
        let weights: Vec<i128> = units.iter().map(weigh).collect();
        let total: i128 = weights.iter().sum();
        // A negative weight would let a full box take more, and no search here allows for that.
        let loose = weights.iter().any(|&weight| weight < 0) || total <= condition.capacity;
        // The mass is the first and always there: it is what spare is counted in.
        if number > 0 && loose {
            continue;
        }
        // Whole sums of multiples of a divisor are multiples of it, so a capacity rounded down
        // to one allows as much.
        let divisor = weights.iter().fold(0, |a, &b| num_integer::gcd(a, b)).max(1);
        let small = |value: i128| i64::try_from(value).ok();
        let reduced: Option<Vec<i64>> =
            weights.iter().map(|&weight| small(weight / divisor)).collect();
        if let (Some(weights), Some(capacity)) =
            (reduced, small(condition.capacity.div_euclid(divisor)))
            && !rows.iter().any(|row| row.capacity == capacity && row.weights == weights)
        {
            rows.push(Row { capacity, weights, stepped: condition.stepped });
        }
    }
    if few { undominated(rows) } else { rows }
}

/// The first row, and the others that no other row makes idle.
fn undominated(rows: Vec<Row>) -> Vec<Row> {
    let keep: Vec<bool> = (0..rows.len())
        .map(|at| {
            // Of two that dominate each other the earlier stays.
            let before = |other: usize| other < at || !rows[at].dominates(&rows[other]);
            let mut others = (0..rows.len()).filter(|&other| other != at && before(other));
            at == 0 || !others.any(|other| rows[other].dominates(&rows[at]))
        })
        .collect();
    rows.into_iter().zip(keep).filter_map(|(row, keep)| keep.then_some(row)).collect()
}

impl Row {
    /// Whether the other row allows every set that this one allows: each unit takes at least as
    /// large a part of the capacity here. A row in steps never replaces one that is not.
    fn dominates(&self, other: &Row) -> bool {
        let cross = |weight: i64, capacity: i64| i128::from(weight) * i128::from(capacity);
        let mut pairs = self.weights.iter().zip(&other.weights);
        self.capacity > 0
            && self.stepped <= other.stepped
            && pairs
                .all(|(&own, &weight)| cross(weight, self.capacity) <= cross(own, other.capacity))
    }

    /// What all units take of it, in so many parts of a box.
    pub(crate) fn fullness(&self, parts: i128) -> i128 {
        let total: i128 = self.weights.iter().map(|&weight| i128::from(weight)).sum();
        total * parts / i128::from(self.capacity.max(1))
    }
}

/// The row that fills first, rows in steps left out.
pub(crate) fn lead(rows: &[Row]) -> usize {
    (0..rows.len())
        .filter(|&row| !rows[row].stepped)
        .max_by_key(|&row| (rows[row].fullness(1_000_000), usize::MAX - row))
        .unwrap_or(0)
}
