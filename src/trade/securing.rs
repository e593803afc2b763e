//! What cargo is held against on its way: how hard a voyage or a road pushes it, and the friction under it.

use super::calendar::word_of;
use super::code::Lane;
use crate::fault::{At, Place};
use crate::quantity::Percent;

/// What carries the container.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Carriage {
    /// A ship: the container may stand either way on it.
    Sea,
    /// A rig.
    Road,
}

impl Carriage {
    /// Both with their written form.
    pub const ALL: [(Self, &'static str); 2] = [(Self::Sea, "sea"), (Self::Road, "road")];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// How hard cargo is pushed in one direction, in parts of its weight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Push {
    /// The push: 80 % of the weight is 0.8 g.
    pub push: Percent,
    /// What is left of the weight on the floor at the same time: friction counts with it, and so does standing.
    pub weight: Percent,
    /// The push under which cargo must not tip, where the rule has one of its own.
    pub tipping: Option<Percent>,
}

/// The pushes of a rule.
#[derive(Debug, Clone)]
pub struct SecuringSet {
    /// Its name.
    pub id: String,
    /// Its name in full.
    pub name: String,
    /// What carries the container.
    pub by: Carriage,
    /// The lanes that it is for; none for all that no other set of its kind names.
    pub lanes: Vec<At<Lane>>,
    /// The same for roads: names of [`super::RoadLaw`]s.
    pub roads: Vec<At<String>>,
    /// As braking pushes; on a ship, either way along the container.
    pub forward: Push,
    /// As setting off pushes.
    pub aft: Push,
    /// Across the container.
    pub sideways: Push,
    /// Whether what it asks is a limit, and no judgement.
    pub is_rule: bool,
    /// Its row.
    pub place: Place,
}

/// The friction under cargo.
#[derive(Debug, Clone)]
pub struct Friction {
    /// In parts of the weight: that of the weakest pair of faces.
    pub of: Percent,
    /// Its row.
    pub place: Place,
}
