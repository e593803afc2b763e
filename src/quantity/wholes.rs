//! Many whole numbers in little room.

/// Whole numbers, in 32 bits each where those are enough for all: what a million slabs weigh in a charge, or
/// come to in cents, takes half the room.
#[derive(Debug, Clone)]
pub struct Wholes(Held);

#[derive(Debug, Clone)]
enum Held {
    /// So many that are all the same.
    Alike(i64, usize),
    Short(Vec<i32>),
    Long(Vec<i64>),
}

use Held::{Alike, Long, Short};

impl Wholes {
    /// Holds them.
    pub fn new(each: &[i64]) -> Self {
        if let Some((first, others)) = each.split_first()
            && others.iter().all(|one| one == first)
        {
            return Self(Alike(*first, each.len()));
        }
        if each.iter().any(|one| i32::try_from(*one).is_err()) {
            return Self(Long(each.to_vec()));
        }
        let mut short = Vec::with_capacity(each.len());
        short.extend(each.iter().filter_map(|one| i32::try_from(*one).ok()));
        Self(Short(short))
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        match &self.0 {
            Alike(_, count) => *count,
            Short(each) => each.len(),
            Long(each) => each.len(),
        }
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The number at a position; nothing behind the last.
    pub fn at(&self, position: usize) -> i64 {
        let at = match &self.0 {
            Alike(one, count) => (position < *count).then_some(*one),
            Short(each) => each.get(position).copied().map(i64::from),
            Long(each) => each.get(position).copied(),
        };
        at.unwrap_or(0)
    }

    /// All of them.
    pub fn iter(&self) -> impl Iterator<Item = i64> {
        (0..self.len()).map(|position| self.at(position))
    }
}
