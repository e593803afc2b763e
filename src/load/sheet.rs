//! The mass of a packed container by adding up: SOLAS VI/2, method 2.

use super::road::{Ticket, ticket};
use super::standing::{expected_moment, moment};
use super::summary::BoxSummary;
use crate::quantity::{Mass, Overflow};
use crate::trade::Yard;

/// A mass and whether somebody weighed or read it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Weighed {
    /// The mass.
    pub mass: Mass,
    /// Whether it is no estimate.
    pub is_known: bool,
}

/// What a verified gross mass by method 2 adds up: packages, dunnage and securing, tare.
#[derive(Debug, Clone)]
pub struct MassSheet {
    /// The bundles together.
    pub bundles: Mass,
    /// How many of them are estimates.
    pub estimated: usize,
    /// Dunnage and lashing.
    pub dunnage: Weighed,
    /// Where that figure is from.
    pub dunnage_from: &'static str,
    /// The tare.
    pub tare: Weighed,
    /// The sum.
    pub total: Mass,
}

impl MassSheet {
    /// Whether anything in it is an estimate: then it declares nothing, as the regulation does not
    /// allow estimating (MSC.1/Circ.1475).
    pub fn is_estimate(&self) -> bool {
        self.estimated > 0 || !self.dunnage.is_known || !self.tare.is_known
    }
}

/// Adds up a container's sheet. Unlike a limit's, its masses carry no margin.
///
/// # Errors
/// On overflow.
pub fn mass_sheet(one: &BoxSummary<'_>) -> Result<MassSheet, Overflow> {
    let or = |known: Option<Mass>, usual: Mass| Weighed {
        mass: known.unwrap_or(usual),
        is_known: known.is_some(),
    };
    let container = &one.variant.container;
    let dunnage = or(one.filled.dunnage, container.securing);
    let dunnage_from = match (one.filled.dunnage, one.filled.timber) {
        (Some(_), _) => "weighed",
        (None, Some(_)) => "estimate by its list of timber",
        (None, None) => "estimate for the type",
    };
    let tare = or(one.filled.tare, container.tare);
    let bundles = Mass::total(one.standing.iter().map(|standing| standing.bundle.mass))?;
    Ok(MassSheet {
        bundles,
        estimated: one
            .standing
            .iter()
            .filter(|standing| !standing.bundle.weighing.is_weighed())
            .count(),
        dunnage,
        dunnage_from,
        tare,
        total: bundles.plus(dunnage.mass)?.plus(tare.mass)?,
    })
}

/// The mass above which cargo, packing and dunnage must be certified to the haulier in writing, where
/// they are above it: the lowest that the roads and the yard state (49 U.S.C. 5902(b)).
pub fn certified(one: &BoxSummary<'_>, yard: &Yard) -> Option<Mass> {
    let roads = one.variant.roads.iter().filter_map(|road| road.law.certify_over);
    let over = roads.chain(yard.certify_over).min()?;
    (one.cargo > over).then_some(over)
}

/// What a truck scale shows of a box on each rig that takes it to the yard, where its places are known.
///
/// # Errors
/// Where a figure cannot be held.
pub fn tickets(one: &BoxSummary<'_>) -> Result<Vec<Ticket>, Overflow> {
    let moments = expected_moment(&one.standing).zip(moment(&one.standing));
    let Some((expected, at_most)) = moments else { return Ok(Vec::new()) };
    let to_yard = one.roads.iter().filter(|report| !report.road.at_origin);
    to_yard.map(|report| ticket(report, &one.variant.container, [expected, at_most])).collect()
}
