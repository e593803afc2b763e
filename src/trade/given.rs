//! Boxes that somebody filled, on paper or in the yard.

use super::container::ContainerNumber;
use super::offer::AskedOffers;
use crate::fault::{At, Place};
use crate::quantity::{Length, Mass, Money};

/// A box that somebody already filled, on paper or in the yard.
#[derive(Debug, Clone)]
pub struct GivenBox {
    /// What the packing list or plan calls it.
    pub label: String,
    /// Its type, where stated.
    pub kind: Option<At<String>>,
    /// Its road class, where stated.
    pub class: Option<At<String>>,
    /// The offers it goes by, where stated.
    pub offers: AskedOffers,
    /// Its number, where known.
    pub number: Option<ContainerNumber>,
    /// Its seal, where known.
    pub seal: Option<String>,
    /// The tare marked on it, where read.
    pub tare: Option<At<Mass>>,
    /// What its dunnage and lashing weighed, where weighed.
    pub dunnage: Option<At<Mass>>,
    /// The bundles in it, by position.
    pub bundles: Vec<usize>,
    /// Where its bundles stand; for all of them, or for none.
    pub places: Vec<GivenPlace>,
    /// Where it is stated.
    pub place: Place,
}

/// How sure a load was when it was kept, and what its containers came to then.
#[derive(Debug, Clone)]
pub struct KeptProof {
    /// The words for how sure it was.
    pub sure: &'static str,
    /// What its containers came to.
    pub cost: Money,
    /// The way of buying that it was kept for, where that was another than is written: it serves no other.
    pub way: Option<At<String>>,
    /// The shipments that it shared boxes with when it was planned: what was proven is so for its share.
    pub with: Vec<String>,
}

/// The boxes of a plan.
#[derive(Debug, Clone)]
pub struct GivenPlan {
    /// Its boxes.
    pub boxes: Vec<GivenBox>,
    /// How sure it was when it was kept, where it says so.
    pub kept: Option<KeptProof>,
}

impl GivenBox {
    /// A box of which no more is known than what it is called and where that is stated.
    pub fn named(label: String, place: Place) -> Self {
        Self {
            label,
            kind: None,
            class: None,
            offers: AskedOffers::new(),
            number: None,
            seal: None,
            tare: None,
            dunnage: None,
            bundles: Vec::new(),
            places: Vec::new(),
            place,
        }
    }
}

/// Where somebody put a bundle in its box.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GivenPlace {
    /// The bundle, by position.
    pub bundle: usize,
    /// From the front end to its nearer end.
    pub x: Length,
    /// From the left wall to its nearer side.
    pub y: Length,
    /// Whether its length lies across the box.
    pub turned: bool,
    /// Where it is written.
    pub place: Place,
}
