//! What a packing list says of a slab beside its measures.

use smol_str::SmolStr;

/// What a list says of a slab beside its measures.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Marked {
    /// Its place in the order in which its block was sawn.
    pub order: Option<SmolStr>,
    /// Its set of book-matched slabs.
    pub set: Option<SmolStr>,
}
