//! A cut: a linear condition on how many boxes of each kind there are.
//!
//! Units weigh `need` in all, and no box of kind k holds more than `capacity[k]` of it. So boxes
//! whose capacities add up to less than the need cannot hold the load, whatever stands where.
//!
//! A cut may count the price of torn groups: each minor unit of it makes good `wish` of what the boxes do not
//! hold. Such a cut forbids no vector; it says what tearing costs there at least.

/// A vector with its cost and number of boxes; ordered by cost, then boxes, then kinds.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Vector {
    pub(crate) cost: i64,
    pub(crate) boxes: usize,
    pub(crate) counts: Vec<usize>,
}

impl Vector {
    /// The kind of each box.
    pub(crate) fn kinds(&self) -> Vec<usize> {
        let counts = self.counts.iter().enumerate();
        counts.flat_map(|(kind, &count)| std::iter::repeat_n(kind, count)).collect()
    }
}

/// One cut.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Cut {
    /// Weight by unit.
    pub(crate) weights: Vec<i64>,
    pub(crate) need: i128,
    /// By kind of the task.
    pub(crate) capacity: Vec<i128>,
    /// What a minor unit of the price of torn groups makes good; nought for most cuts.
    pub(crate) wish: i128,
}

impl Cut {
    /// What the boxes may hold over what must be held, in ten-thousandths.
    pub(crate) fn ease(&self, vector: &Vector) -> i128 {
        self.held(vector).saturating_mul(10_000) / self.need.max(1)
    }

    fn held(&self, vector: &Vector) -> i128 {
        let counts = vector.counts.iter().map(|&count| i128::try_from(count).unwrap_or(i128::MAX));
        counts.zip(&self.capacity).map(|(count, capacity)| count.saturating_mul(*capacity)).sum()
    }

    /// What the cut says that torn groups cost with the boxes of the vector at least; nought if it says nothing.
    pub(crate) fn torn(&self, vector: &Vector) -> i128 {
        let left = (self.need - self.held(vector)).max(0);
        if self.wish > 0 { (left + self.wish - 1) / self.wish } else { 0 }
    }

    /// Whether the boxes of the vector may hold what the cut weighs.
    pub(crate) fn allows(&self, vector: &Vector) -> bool {
        self.held(vector) >= self.need
    }
}
