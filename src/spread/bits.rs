//! Yes or no for each of many, a bit apiece.

/// Yes or no for each of many.
#[derive(Debug, Clone)]
pub struct Bits {
    words: Vec<u64>,
    len: usize,
}

impl Bits {
    /// No for each of so many.
    pub fn none(len: usize) -> Self {
        Self { words: vec![0; len.div_ceil(64)], len }
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.len
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// Whether it is yes at a position.
    pub fn has(&self, at: usize) -> bool {
        self.words.get(at / 64).is_some_and(|word| word >> (at % 64) & 1 == 1)
    }

    /// Says yes or no at a position.
    pub fn set(&mut self, at: usize, is: bool) {
        if let Some(word) = self.words.get_mut(at / 64) {
            let bit = 1 << (at % 64);
            *word = if is { *word | bit } else { *word & !bit };
        }
    }
}
