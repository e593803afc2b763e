//! Quaystone: what a natural-stone importer's slabs cost on the rack, to the cent.
pub mod load;
