//! Sets of bundles on one floor, as bits of a word.

/// The most bundles of a set; larger ones are left to searches that do without.
pub(crate) const MOST: usize = 24;

pub(crate) fn bit(index: usize) -> u32 {
    1 << index
}

pub(crate) fn bits(set: u32) -> impl Iterator<Item = usize> {
    let mut left = set;
    std::iter::from_fn(move || {
        let index = left.trailing_zeros();
        left &= left.wrapping_sub(1);
        usize::try_from(index).ok().filter(|_| index < u32::BITS)
    })
}
