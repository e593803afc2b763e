//! The road by statics: each axle's load under a box, and its limit in law.
//!
//! Everything is linear in the cargo's mass M and its lengthwise moment Mx, so each rule of a road
//! is a half plane of the engine. Fractions are exact; a load is rounded only to be shown.
//!
//! Decided on 2026-11-25. Dunnage and tare act at the middle of the box, and the axles of a group share
//! alike. A half plane that nothing within payload and balance can break is left out before the search.
//!
//! Decided on 2026-11-26. A road is judged as far as it is known: where its rows have no rule for a group of
//! axles or for the gross, the page says so. A rig or limit whose rows have all ended is a fault, as a law
//! does not end with its row.

use std::sync::Arc;

mod equilibrium;
mod rules;
mod statics;
mod ticket;

pub(super) use self::equilibrium::is_in_balance;
pub use self::rules::Limiter;
use self::rules::{Rule, Statics, gross_rule};
use self::statics::{Cargo, to_mass, whole};
pub(super) use self::ticket::ticket;
pub use self::ticket::{Hole, Ticket, TicketLine};
use super::engine::HalfPlane;
use crate::fault::Place;
use crate::quantity::{Fraction, Length, Mass, Overflow};
use crate::trade::{AxleGroup, ContainerType, DoorRule, Doors, LimitKind, Rig, RoadLaw};

/// A rig on a road, under boxes of one type.
#[derive(Debug, Clone)]
pub struct Road {
    /// The rig.
    pub rig: Arc<Rig>,
    /// What its road lets it weigh.
    pub law: Arc<RoadLaw>,
    /// Whether it is the road from the works to the port of loading.
    pub at_origin: bool,
    /// Which ways the doors may look.
    pub(super) doors: DoorRule,
    /// Each way that the rig's doors may look, worked out once for all loads.
    ways: Arc<[Statics]>,
}

impl Road {
    /// A rig on a road under a box of some type.
    ///
    /// # Errors
    /// Where a figure cannot be held.
    pub fn new(
        rig: Arc<Rig>,
        law: Arc<RoadLaw>,
        at_origin: bool,
        container: &ContainerType,
    ) -> Result<Self, Overflow> {
        let doors = rig.doors;
        let way = |doors: &Doors| Statics::new(&rig, &law, container, *doors);
        let ways = doors.ways().iter().map(way).collect::<Result<_, _>>()?;
        Ok(Self { rig, law, at_origin, doors, ways })
    }

    /// The same under a box of other tare or dunnage.
    ///
    /// # Errors
    /// Where a figure cannot be held.
    pub(super) fn under(&self, container: &ContainerType) -> Result<Self, Overflow> {
        let (rig, law) = (Arc::clone(&self.rig), Arc::clone(&self.law));
        Ok(Self { doors: self.doors, ..Self::new(rig, law, self.at_origin, container)? })
    }

    /// The ways that the doors may look, the usual one first.
    fn allowed(&self) -> impl Iterator<Item = &Statics> {
        self.ways.iter().filter(|way| self.doors.ways().contains(&way.doors))
    }

    /// Every rule as a half plane of the engine, with the doors looking the first way that they may.
    pub(super) fn planes(&self) -> &[HalfPlane] {
        self.allowed().next().map_or(&[], |way| &way.planes)
    }

    /// The same without what the rig is built for.
    pub(super) fn planes_of_law(&self) -> Vec<HalfPlane> {
        let all = self.allowed().next().into_iter();
        let all = all.flat_map(|way| way.rules.iter().zip(&way.planes));
        let is_rating = |rule: &Rule| !rule.is_least && rule.by.kind() == LimitKind::Equipment;
        all.filter(|(rule, _)| !is_rating(rule)).map(|(_, plane)| *plane).collect()
    }
}

/// One axle under a box.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AxleLoad {
    /// Its group.
    pub group: AxleGroup,
    /// How far it is behind the middle of the steer axles.
    pub at: Length,
    /// What it carries.
    pub load: Mass,
}

/// One rule of a road applied to a box.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AxleCheck {
    /// The rule, such as "axles 2-5, bridge formula over 36 ft".
    pub name: Arc<str>,
    /// The first and the last of its axles, from one.
    pub axles: (usize, usize),
    /// What they carry.
    pub load: Mass,
    /// The most they may carry; where `is_least`, the least they must.
    pub most: Mass,
    /// Whether the rule asks for a least load.
    pub is_least: bool,
    /// Whose rule it is.
    pub by: Limiter,
    /// Whether it holds.
    pub holds: bool,
    /// How much more cargo it leaves at the same centre of gravity, where more cargo strains it.
    pub left: Option<Mass>,
    /// Where it is stated.
    pub place: Place,
}

/// A box on its rig: what each axle carries and how each rule stands.
#[derive(Debug, Clone)]
pub struct RoadReport<'a> {
    /// The road.
    pub road: &'a Road,
    /// Which way the doors look: the first way that is legal, or the usual one.
    pub doors: Doors,
    /// The axles from the front.
    pub axles: Vec<AxleLoad>,
    /// The rules.
    pub checks: Vec<AxleCheck>,
    /// Groups with no known rule, such as "bogie of 4 axles".
    pub uncovered: &'a [String],
}

impl RoadReport<'_> {
    /// Whether every rule holds.
    pub fn is_legal(&self) -> bool {
        self.checks.iter().all(|check| check.holds)
    }
}

/// The most cargo, dunnage counted, that the gross limit alone leaves: the law's, with its place.
///
/// # Errors
/// Where a figure cannot be held.
pub(super) fn gross_cargo(
    road: &Road,
    container: &ContainerType,
) -> Result<Option<(Mass, Place)>, Overflow> {
    let axles = road.rig.axles()?;
    let groups = axles.iter().map(|(group, _)| *group);
    let Some(rule) = gross_rule(&road.law, groups) else { return Ok(None) };
    let rig = &road.rig;
    let empty = [rig.tractor.steer_tare, rig.tractor.drive_tare, rig.chassis.tare, container.tare];
    Ok(Some((rule.most.minus(Mass::total(empty)?)?, rule.place.clone())))
}

/// How a box stands on its rig, given the grams of its bundles and twice their moment in grams
/// times millimetres from the front end.
///
/// # Errors
/// Where a figure cannot be held.
pub fn report(road: &Road, mass: i128, twice_moment: i128) -> Result<RoadReport<'_>, Overflow> {
    let cargo = Cargo {
        mass: Fraction::whole(mass),
        moment: Fraction::whole(twice_moment).over(&whole(2)),
    };
    let mut usual = None;
    for way in road.allowed() {
        let one = on_way(road, way, &cargo)?;
        if one.is_legal() {
            return Ok(one);
        }
        usual = usual.or(Some(one));
    }
    usual.ok_or(Overflow { what: "an axle load" })
}

fn on_way<'a>(road: &'a Road, way: &'a Statics, cargo: &Cargo) -> Result<RoadReport<'a>, Overflow> {
    let checks = way.rules.iter().map(|rule| check(rule, cargo));
    let checks = checks.collect::<Result<Vec<_>, _>>()?;
    let loads = way.axles.iter().map(|axle| {
        let load = to_mass(&axle.load.at(cargo))?;
        Ok(AxleLoad { group: axle.group, at: axle.at, load })
    });
    let axles = loads.collect::<Result<_, Overflow>>()?;
    Ok(RoadReport { road, doors: way.doors, axles, checks, uncovered: &way.uncovered })
}

fn check(rule: &Rule, cargo: &Cargo) -> Result<AxleCheck, Overflow> {
    let load = rule.load.at(cargo);
    let spare = rule.most.minus(&load);
    // With the centre of gravity kept, each further gram brings its own moment.
    let each = if cargo.mass.is_zero() {
        rule.load.per_mass.clone()
    } else {
        let moved = rule.load.per_moment.times(&cargo.moment).over(&cargo.mass);
        rule.load.per_mass.plus(&moved)
    };
    let left = if each.is_positive() { Some(to_mass(&spare.over(&each))?) } else { None };
    let shown = rule.shown.at(cargo);
    let most = if rule.is_least { shown.plus(&load) } else { rule.most.clone() };
    Ok(AxleCheck {
        name: Arc::clone(&rule.name),
        axles: rule.axles,
        load: to_mass(&shown)?,
        most: to_mass(&most)?,
        is_least: rule.is_least,
        by: rule.by,
        holds: !spare.is_negative(),
        left,
        place: rule.place.clone(),
    })
}

/// Leaves out the planes that nothing within the mass and the lengthwise window can break: their
/// left side is linear, so its greatest value lies in a corner.
pub(super) fn sharpened(
    planes: &[HalfPlane],
    payload: i64,
    length: i64,
    permille: i64,
) -> Vec<HalfPlane> {
    let mass = i128::from(payload.max(0));
    let corner = |side: i128| mass * i128::from(length) * (1_000 + side * 2 * i128::from(permille));
    let corners = [(0, 0), (mass, corner(-1)), (mass, corner(1))];
    planes
        .iter()
        .filter(|plane| {
            corners.iter().any(|(mass, moment)| {
                // The corner's moment is scaled by 2,000.
                2_000 * i128::from(plane.mass_coefficient) * mass
                    + i128::from(plane.moment_x_coefficient) * moment
                    > 2_000 * plane.bound
            })
        })
        .copied()
        .collect()
}

#[cfg(test)]
mod tests;
