//! Many short lists held as one, and which of many sets each slab lies in.

use super::sets::Members;

/// Lists in one, each from where it begins.
pub(crate) struct Lists {
    all: Vec<u32>,
    first: Vec<u32>,
}

impl Lists {
    /// Puts each item into the list that is named before it.
    pub(crate) fn new(lists: usize, items: impl Iterator<Item = (usize, usize)> + Clone) -> Self {
        let mut first = vec![0; lists + 1];
        for (list, _) in items.clone() {
            if let Some(count) = first.get_mut(list + 1) {
                *count += 1;
            }
        }
        let mut sum = 0;
        for count in &mut first {
            sum += *count;
            *count = sum;
        }
        let mut all = vec![0; whole(sum)];
        let mut next = first.clone();
        for (list, item) in items {
            if let Some(at) = next.get_mut(list) {
                if let Some(slot) = all.get_mut(whole(*at)) {
                    *slot = u32::try_from(item).unwrap_or(u32::MAX);
                }
                *at += 1;
            }
        }
        Self { all, first }
    }

    /// The items of a list, in the order in which they came.
    pub(crate) fn of(&self, list: usize) -> impl Iterator<Item = usize> + '_ {
        self.slice(list).iter().map(|item| whole(*item))
    }

    /// How many items a list has.
    pub(crate) fn len(&self, list: usize) -> usize {
        self.slice(list).len()
    }

    /// The item at a position of a list.
    pub(crate) fn at(&self, list: usize, position: usize) -> Option<usize> {
        self.slice(list).get(position).map(|item| whole(*item))
    }

    fn slice(&self, list: usize) -> &[u32] {
        let bounds = self.first.get(list).zip(self.first.get(list + 1));
        bounds.and_then(|(from, to)| self.all.get(whole(*from)..whole(*to))).unwrap_or(&[])
    }
}

fn whole(number: u32) -> usize {
    usize::try_from(number).unwrap_or(usize::MAX)
}

/// Which of some sets each slab lies in.
pub(crate) struct Holding {
    /// Those of all slabs.
    all: Vec<usize>,
    /// The others, slab by slab.
    some: Lists,
}

impl Holding {
    /// Looks through sets of so many slabs.
    pub(crate) fn new(sets: &[Members<'_>], slabs: usize) -> Self {
        let sets = sets.iter().enumerate();
        let all = sets.clone().filter(|(_, set)| set.len() == slabs);
        let some = sets.filter(|(_, set)| set.len() != slabs);
        let lies_in = some.flat_map(|(at, set)| set.iter().map(move |slab| (slab, at)));
        Self { all: all.map(|(at, _)| at).collect(), some: Lists::new(slabs, lies_in) }
    }

    /// The sets that a slab lies in, by position, those of all slabs first.
    pub(crate) fn of(&self, slab: usize) -> impl Iterator<Item = usize> + '_ {
        self.all.iter().copied().chain(self.some.of(slab))
    }
}
