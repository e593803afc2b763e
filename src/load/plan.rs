//! What a load is: variants of boxes, limits, the plan and its proof.

use std::borrow::Cow;

use super::limits::Limits;
use super::road::Road;
use crate::fault::{At, Place};
use crate::price::BoxKey;
use crate::quantity::{Currency, Mass, Money, Overflow};
use crate::trade::{Available, ContainerNumber, ContainerType, GivenBox, Offers};

/// A kind of box that can be had: a container type in a road class, by one offer of each table.
#[derive(Debug, Clone)]
pub struct Variant {
    /// The container type.
    pub container: ContainerType,
    /// The road class.
    pub class: Option<String>,
    /// The offers it goes by.
    pub offers: Offers,
    /// Everything that limits its cargo, timber and dunnage counted.
    pub limits: Limits,
    /// The roads it travels on a rig that is known.
    pub roads: Vec<Road>,
    /// How far the centre of gravity may lie from mid-length, in thousandths of the length.
    pub balance: i64,
    /// What one such box costs, all its container-level charges together, in the book currency.
    pub cost: Money,
    /// Those charges one by one; together they are the cost.
    pub parts: Vec<Part>,
    /// The duty and premium that these charges cause, as far as known before the box is filled. The
    /// loader weighs them; they are no charge of the box.
    pub caused: Money,
}

/// A charge that every box of a variant bears.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// Its name, with the tier where it has tiers.
    pub name: String,
    /// What it comes to, in the book currency.
    pub amount: Money,
    /// The row that charges it.
    pub place: Place,
}

impl Variant {
    /// What rows tell boxes apart by.
    pub fn key(&self) -> BoxKey<'_> {
        let Self { container, class, offers, .. } = self;
        BoxKey { container: &container.id, class: class.as_deref(), offers }
    }

    /// What the loader weighs: the cost with what it causes.
    ///
    /// # Errors
    /// Where the sum cannot be held.
    pub fn weighed(&self) -> Result<Money, Overflow> {
        self.cost.plus(self.caused)
    }

    /// Whether it matches a given or begun box.
    pub fn is_of(&self, given: &GivenBox) -> bool {
        self.is_but_for_offers(given) && self.offers.are(&given.offers)
    }

    /// The same, whatever offers it goes by.
    pub(super) fn is_but_for_offers(&self, given: &GivenBox) -> bool {
        given.kind.as_ref().is_none_or(|kind| kind.value == self.container.id)
            && self.is_in(given.class.as_ref())
    }

    /// Whether it is of a stock's kind.
    pub fn is_had(&self, had: &Available) -> bool {
        had.kind.value == self.container.id
            && self.is_in(had.class.as_ref())
            && self.offers.are(&had.offers)
    }

    fn is_in(&self, class: Option<&At<String>>) -> bool {
        class.is_none_or(|class| Some(&class.value) == self.class.as_ref())
    }

    /// The type and class, as pages and faults name them.
    pub fn label(&self) -> String {
        self.container.in_class(self.class.as_deref())
    }
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

/// How the places of a box were come by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Chosen {
    /// Somebody gave them.
    Given,
    /// The best found by the preference.
    BestFound,
    /// The least by the preference of every way to push its bundles together and to exchange them for those of
    /// other boxes of its kind.
    Least,
}

impl Chosen {
    /// In words, on the sheet and for scripts.
    pub fn word(self) -> &'static str {
        match self {
            Self::Given => "given",
            Self::BestFound => "best found",
            Self::Least => "least",
        }
    }
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
    /// How those places were come by.
    pub chosen: Chosen,
    /// Whether no exchange of bundles with another box of its kind is better by the preference.
    pub settled: bool,
    /// Its number, where known.
    pub number: Option<ContainerNumber>,
    /// Its seal, where known.
    pub seal: Option<String>,
    /// The tare marked on it, where somebody read it.
    pub tare: Option<Mass>,
    /// What dunnage and lashing weighed, where somebody weighed them.
    pub dunnage: Option<Mass>,
    /// What its list of timber weighs, where that is its dunnage: more than the type's, and nobody weighed it.
    pub timber: Option<Mass>,
    /// Its variant with that tare and dunnage, and the limits that follow; `None` with neither.
    pub measured: Option<Box<Variant>>,
}

/// The search's result on cheaper loads; [`Sure`](super::Sure) is what may be said of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Proof {
    /// Cost and lower bound meet.
    Proven,
    /// They do not, for this reason.
    Gap(String),
    /// The load was given, not planned; no cheaper one was sought.
    Given,
}

/// A load: the bundles of each box, its cost, and its proof.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The variants the boxes refer to.
    pub variants: Vec<Variant>,
    /// The boxes.
    pub boxes: Vec<FilledBox>,
    /// The same load with its spare payload in one box, where more is to go in; `None` where the boxes are
    /// so.
    pub gathered: Option<Vec<FilledBox>>,
    /// The container-level cost of the boxes.
    pub cost: Money,
    /// The duty and premium that this causes: no charge of the boxes.
    pub caused: Money,
    /// The price of the wishes that the load breaks: the planner's, no charge.
    pub wishes: Money,
    /// The least that boxes and broken wishes come to together, unless they cause more than these do;
    /// `None` where the boxes are given and break a limit.
    pub lower_bound: Option<Money>,
    /// Whether the two meet.
    pub proof: Proof,
}

impl Plan {
    /// No box at all, given so.
    pub(crate) fn none(currency: Currency) -> Self {
        let nothing = Money::zero(currency);
        Self {
            variants: Vec::new(),
            boxes: Vec::new(),
            gathered: None,
            cost: nothing,
            caused: nothing,
            wishes: nothing,
            lower_bound: None,
            proof: Proof::Given,
        }
    }

    /// The load as it is topped up: its spare payload in one box.
    #[must_use]
    pub fn to_top_up(&self) -> Cow<'_, Self> {
        match &self.gathered {
            Some(boxes) => {
                Cow::Owned(Self { boxes: boxes.clone(), gathered: None, ..self.clone() })
            }
            None => Cow::Borrowed(self),
        }
    }

    /// The cost that the loader minimises: box charges, the duty and premium they cause, and broken wishes.
    ///
    /// # Errors
    /// Where the sum cannot be held.
    pub fn weighed(&self) -> Result<Money, Overflow> {
        self.cost.plus(self.caused)?.plus(self.wishes)
    }

    /// The variant of a box, with what was read and weighed at this very one.
    pub fn variant<'a>(&'a self, filled: &'a FilledBox) -> Option<&'a Variant> {
        filled.measured.as_deref().or_else(|| self.variants.get(filled.variant))
    }

    /// How many of its boxes are of a stock's kind.
    pub fn drawn(&self, had: &Available) -> usize {
        let is_one = |filled: &&FilledBox| self.variant(filled).is_some_and(|one| one.is_had(had));
        self.boxes.iter().filter(is_one).count()
    }
}

/// Bundles that no box can carry, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Misfit {
    /// The bundle, or those that travel together, by position; none where it is the load as a whole.
    pub bundles: Vec<usize>,
    /// Why, in a sentence without its final stop.
    pub reason: String,
    /// The lines of the shipment's `[load]` that have a part in it.
    pub asked: Vec<Place>,
    /// Whether it is proven that it cannot be carried; otherwise no way was found.
    pub proven: bool,
}

impl Misfit {
    /// Whether a load is proven impossible: it is where one misfit is.
    pub fn prove(all: &[Self]) -> bool {
        all.iter().any(|misfit| misfit.proven)
    }

    /// What stops a load in every way of planning it, told by the first of them: it is proven where
    /// each of them is.
    pub(crate) fn in_every_way(mut first: Vec<Self>, other_is_proven: bool) -> Vec<Self> {
        for misfit in &mut first {
            misfit.proven &= other_is_proven;
        }
        first
    }

    /// One bundle that does not fit, whatever is asked.
    pub(super) fn of(bundle: usize, reason: String) -> Self {
        Self { bundles: vec![bundle], reason, asked: Vec::new(), proven: true }
    }

    /// A load that is impossible as a whole.
    pub(super) fn whole(reason: impl Into<String>) -> Self {
        Self { bundles: Vec::new(), reason: reason.into(), asked: Vec::new(), proven: false }
    }
}
