//! What a load is: variants of boxes, limits, the plan and its proof.

use super::road::Road;
use crate::fault::Place;
use crate::quantity::{Mass, Money};
use crate::trade::{ContainerNumber, ContainerType, LimitKind};

/// A kind of box that can be had: a container type in a road class at one set of offers.
#[derive(Debug, Clone)]
pub struct Variant {
    /// The container type.
    pub container: ContainerType,
    /// The road class.
    pub class: Option<String>,
    /// Everything that limits its cargo, timber and dunnage counted; never empty.
    pub limits: Vec<Limit>,
    /// The roads it travels on a rig that is known.
    pub roads: Vec<Road>,
    /// What one such box costs, all its container-level charges together, in the book currency.
    pub cost: Money,
}

impl Variant {
    /// The limit that binds: the least.
    pub fn binding(&self) -> Option<&Limit> {
        self.limits.iter().min_by_key(|limit| limit.cargo)
    }

    /// The type and class, as a table shows them.
    pub fn label(&self) -> String {
        match &self.class {
            Some(class) => format!("{} {class}", self.container.id),
            None => self.container.id.clone(),
        }
    }
}

/// A limit on the cargo of one box: bundles, timber, dunnage and lashing together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limit {
    /// Its name, such as "plate payload".
    pub name: String,
    /// Of which kind.
    pub kind: LimitKind,
    /// The most cargo.
    pub cargo: Mass,
    /// Where it is stated.
    pub place: Place,
}

/// Where a bundle stands in its box: its corner nearest the front end and the left wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Spot {
    /// The bundle, by position.
    pub bundle: usize,
    /// From the front end, in mm.
    pub x: i64,
    /// From the left wall, in mm.
    pub y: i64,
    /// Whether its length lies across the box.
    pub turned: bool,
}

/// One box of a plan.
#[derive(Debug, Clone)]
pub struct FilledBox {
    /// What it is called: its number in the plan, or what the packing list calls it.
    pub label: String,
    /// Its variant, by position.
    pub variant: usize,
    /// Its bundles, by position, in packing-list order.
    pub bundles: Vec<usize>,
    /// Where each bundle stands, where that is worked out.
    pub spots: Option<Vec<Spot>>,
    /// Its number, where known.
    pub number: Option<ContainerNumber>,
    /// Its seal, where known.
    pub seal: Option<String>,
    /// The tare marked on it, where somebody read it.
    pub tare: Option<Mass>,
    /// What dunnage and lashing weighed, where somebody weighed them.
    pub dunnage: Option<Mass>,
}

/// How sure it is that no cheaper load exists.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Proof {
    /// Cost and lower bound meet.
    Proven,
    /// They do not, for this reason.
    Gap(String),
    /// The load was given, not planned; nothing cheaper was looked for.
    Given,
}

impl Proof {
    /// The word of the contract with scripts.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Proven => "proven",
            Self::Gap(_) => "gap",
            Self::Given => "given",
        }
    }
}

/// A load: which bundle in which box, what that costs, and how far it is proven.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The variants the boxes refer to.
    pub variants: Vec<Variant>,
    /// The boxes.
    pub boxes: Vec<FilledBox>,
    /// The container-level cost of the boxes.
    pub cost: Money,
    /// A cost that no load within the limits can go below; `None` where this one, given, breaks them.
    pub lower_bound: Option<Money>,
    /// Whether the two meet.
    pub proof: Proof,
}

impl Plan {
    /// The variant of a box.
    pub fn variant(&self, filled: &FilledBox) -> Option<&Variant> {
        self.variants.get(filled.variant)
    }
}

/// A bundle that no box can carry, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Misfit {
    /// The bundle, by position.
    pub bundle: usize,
    /// Why, in a sentence without its final stop.
    pub reason: String,
}
