//! The road by statics: what each axle carries under a box, and what the law lets it carry.
//!
//! Everything is linear in the cargo's mass M and its lengthwise moment Mx, so each rule of a road
//! is a half plane of the engine. Fractions are exact; a load is rounded only to be shown.

use num_integer::Integer;

mod equilibrium;
mod statics;

pub(super) use self::equilibrium::is_in_balance;
use self::statics::{Axle, Cargo, Linear, axles, grams, sum, to_mass, whole};
use super::engine::HalfPlane;
use crate::fault::Place;
use crate::quantity::{Fraction, Length, Mass, Overflow};
use crate::trade::{AxleGroup, ContainerType, Doors, GrossRule, LimitKind, Rig, RoadLaw};

/// A rig on a road that a box travels.
#[derive(Debug, Clone)]
pub struct Road {
    /// The rig.
    pub rig: Rig,
    /// What its road lets it weigh.
    pub law: RoadLaw,
    /// Whether it is the road from the works to the port of loading.
    pub at_origin: bool,
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
    pub name: String,
    /// The first and the last of its axles, from one.
    pub axles: (usize, usize),
    /// What they carry.
    pub load: Mass,
    /// What they may carry; where `is_least`, what they must.
    pub most: Mass,
    /// Whether the rule asks for a least load.
    pub is_least: bool,
    /// Whether it is the law's, or the rig's own statics.
    pub kind: LimitKind,
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
    /// What no rule of the road speaks of, such as "bogie of 4 axles": nothing is known of it.
    pub uncovered: Vec<String>,
}

impl RoadReport<'_> {
    /// Whether every rule holds.
    pub fn is_legal(&self) -> bool {
        self.checks.iter().all(|check| check.holds)
    }
}

/// A rule before any cargo is known: the load is at most `most` grams.
struct Rule {
    name: String,
    axles: (usize, usize),
    load: Linear,
    most: Fraction,
    is_least: bool,
    kind: LimitKind,
    place: Place,
}

/// Every rule of the law on every set of consecutive axles, and that no group may lift.
fn rules(road: &Road, axles: &[Axle]) -> Result<Vec<Rule>, Overflow> {
    let law = &road.law;
    let mut all = Vec::new();
    for first in 0..axles.len() {
        for last in first..axles.len() {
            let set = axles.get(first..=last).unwrap_or_default();
            on_set(law, axles, set, (first + 1, last + 1), &mut all)?;
        }
    }
    let gross = gross_rule(law, axles.iter().map(|axle| axle.group));
    let whole_rig = || (1, axles.len());
    if let Some(rule) = gross {
        all.push(Rule {
            name: format!("gross of the whole rig ({})", law.id),
            axles: whole_rig(),
            load: sum(axles),
            most: grams(rule.most),
            is_least: false,
            kind: LimitKind::Law,
            place: rule.place.clone(),
        });
    }
    for (group, word) in AxleGroup::ALL {
        let Some((first, last)) = span(axles, group) else { continue };
        let own = sum(axles.get(first - 1..last).unwrap_or_default());
        let mut least = |name: String, of: &Linear, kind, place: &Place| {
            all.push(Rule {
                name,
                axles: (first, last),
                load: of.minus(&own),
                most: whole(0),
                is_least: true,
                kind,
                place: place.clone(),
            });
        };
        if let Some(share) = law.least_drive.filter(|_| group == AxleGroup::Drive) {
            let name = format!("drive axles at least {share} of the whole ({})", law.id);
            let share = sum(axles).times(&Fraction::of(share.fraction()));
            least(name, &share, LimitKind::Law, &law.place);
        }
        let name = format!("{}, {word}, down on the road", spoken((first, last)));
        least(name, &Linear::zero(), LimitKind::Equipment, &road.rig.place);
    }
    Ok(all)
}

/// The first and the last axle of a group, from one.
fn span(axles: &[Axle], group: AxleGroup) -> Option<(usize, usize)> {
    let first = axles.iter().position(|axle| axle.group == group)?;
    let last = axles.iter().rposition(|axle| axle.group == group)?;
    Some((first + 1, last + 1))
}

/// The rule for the whole rig: of those it has the axles for, the one that asks for most.
fn gross_rule(law: &RoadLaw, groups: impl Iterator<Item = AxleGroup>) -> Option<&GrossRule> {
    let (mut all, mut tractor) = (0, 0);
    for group in groups {
        all += 1;
        tractor += u32::from(group != AxleGroup::Bogie);
    }
    let fitting = law.gross.iter().filter(|rule| rule.axles <= all && rule.tractor <= tractor);
    fitting.max_by_key(|rule| (rule.axles, rule.tractor))
}

/// The groups with an axle that no rule on the group or a part of it speaks of, and the whole rig
/// where no gross mass is given for its number of axles.
fn uncovered(rules: &[Rule], axles: &[Axle]) -> Vec<String> {
    let laws = || rules.iter().filter(|rule| rule.kind == LimitKind::Law && !rule.is_least);
    let count = |axles: usize| format!("{axles} axle{}", if axles == 1 { "" } else { "s" });
    let mut all = Vec::new();
    for (group, word) in AxleGroup::ALL {
        let Some((first, last)) = span(axles, group) else { continue };
        let own = || laws().filter(|rule| rule.axles.0 >= first && rule.axles.1 <= last);
        let speaks = |axle: usize| own().any(|rule| (rule.axles.0..=rule.axles.1).contains(&axle));
        if !(first..=last).all(speaks) {
            all.push(format!("{word} of {}", count(last + 1 - first)));
        }
    }
    if !laws().any(|rule| rule.axles == (1, axles.len())) {
        all.push(format!("gross of a rig of {}", count(axles.len())));
    }
    all
}

fn on_set(
    law: &RoadLaw,
    axles: &[Axle],
    set: &[Axle],
    numbers: (usize, usize),
    all: &mut Vec<Rule>,
) -> Result<(), Overflow> {
    let (Some(front), Some(rear)) = (set.first(), set.last()) else { return Ok(()) };
    let spread = rear.at.minus(front.at)?;
    let count = u32::try_from(set.len()).unwrap_or(u32::MAX);
    let of_group = |group: AxleGroup| axles.iter().filter(|axle| axle.group == group).count();
    let is_group = |group: AxleGroup| {
        set.iter().all(|axle| axle.group == group) && set.len() == of_group(group)
    };
    let mut add = |name: String, most: Mass, place: &Place| {
        all.push(Rule {
            name,
            axles: numbers,
            load: sum(set),
            most: grams(most),
            is_least: false,
            kind: LimitKind::Law,
            place: place.clone(),
        });
    };
    for rule in &law.axles {
        let fits = rule.on.is_none_or(is_group)
            && rule.axles.is_none_or(|axles| axles == count)
            && rule.spread.holds(spread);
        if fits {
            add(format!("{}, {} ({})", spoken(numbers), rule.name, law.id), rule.most, &rule.place);
        }
    }
    let Some(bridge) = law.bridge.as_ref().filter(|bridge| count > 1 && spread > bridge.beyond)
    else {
        return Ok(());
    };
    let feet = bridge.foot.feet(spread).ok_or(Overflow { what: "a spread of axles" })?;
    let most = bridge.most(feet, count)?;
    let exception = bridge.two_tandems.filter(|(from, own)| {
        let pair = |a: usize| {
            let gap = set.get(a).zip(set.get(a + 1)).map(|(one, next)| next.at.minus(one.at));
            gap.is_some_and(|gap| gap.is_ok_and(|gap| bridge.tandem.holds(gap)))
        };
        set.len() == 4 && pair(0) && pair(2) && spread >= *from && *own > most
    });
    let (name, most) = match exception {
        Some((_, own)) => (format!("two tandems over {feet} ft"), own),
        None => (format!("bridge formula over {feet} ft"), most),
    };
    add(format!("{}, {name} ({})", spoken(numbers), law.id), most, &bridge.place);
    Ok(())
}

fn spoken((first, last): (usize, usize)) -> String {
    if first == last { format!("axle {first}") } else { format!("axles {first}-{last}") }
}

/// Every rule of the road as a half plane of the engine, with the doors looking one way.
///
/// # Errors
/// Where a figure cannot be held.
pub(super) fn planes(
    road: &Road,
    container: &ContainerType,
    doors: Doors,
) -> Result<Vec<HalfPlane>, Overflow> {
    let axles = axles(&road.rig, container, doors)?;
    rules(road, &axles)?.iter().map(plane).collect()
}

/// `fixed + a M + b Mx <= most` with its fractions cleared; the bound goes down to a whole number,
/// so that what passes here passes there.
fn plane(rule: &Rule) -> Result<HalfPlane, Overflow> {
    let overflow = Overflow { what: "an axle limit" };
    let Linear { fixed, per_mass, per_moment } = &rule.load;
    let (mass, mass_parts) = per_mass.reduced().ok_or(overflow)?;
    let (moment, moment_parts) = per_moment.reduced().ok_or(overflow)?;
    let common = mass_parts.lcm(&moment_parts);
    let (mass, moment) = (mass * (common / mass_parts), moment * (common / moment_parts));
    let shared = mass.gcd(&moment).max(1);
    let factor = Fraction::whole(common).over(&Fraction::whole(shared));
    let (bound, parts) = rule.most.minus(fixed).times(&factor).reduced().ok_or(overflow)?;
    Ok(HalfPlane {
        mass_coefficient: i64::try_from(mass / shared).map_err(|_| overflow)?,
        moment_x_coefficient: i64::try_from(moment / shared).map_err(|_| overflow)?,
        moment_y_coefficient: 0,
        bound: bound.div_euclid(parts),
    })
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
pub fn report<'a>(
    road: &'a Road,
    container: &ContainerType,
    mass: i128,
    twice_moment: i128,
) -> Result<RoadReport<'a>, Overflow> {
    let cargo = Cargo {
        mass: Fraction::whole(mass),
        moment: Fraction::whole(twice_moment).over(&whole(2)),
    };
    let mut usual = None;
    for doors in road.rig.doors.ways() {
        let one = report_for(road, container, &cargo, *doors)?;
        if one.is_legal() {
            return Ok(one);
        }
        usual = usual.or(Some(one));
    }
    usual.ok_or(Overflow { what: "an axle load" })
}

fn report_for<'a>(
    road: &'a Road,
    container: &ContainerType,
    cargo: &Cargo,
    doors: Doors,
) -> Result<RoadReport<'a>, Overflow> {
    let axles = axles(&road.rig, container, doors)?;
    let rules = rules(road, &axles)?;
    let checks = rules.iter().map(|rule| check(rule, &axles, cargo));
    let checks = checks.collect::<Result<Vec<_>, _>>()?;
    let uncovered = uncovered(&rules, &axles);
    let loads = axles.iter().map(|axle| {
        let load = to_mass(&axle.load.at(cargo))?;
        Ok(AxleLoad { group: axle.group, at: axle.at, load })
    });
    let axles = loads.collect::<Result<_, Overflow>>()?;
    Ok(RoadReport { road, doors, axles, checks, uncovered })
}

fn check(rule: &Rule, axles: &[Axle], cargo: &Cargo) -> Result<AxleCheck, Overflow> {
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
    let (first, last) = rule.axles;
    let shown = sum(axles.get(first.saturating_sub(1)..last).unwrap_or_default()).at(cargo);
    let most = if rule.is_least { shown.plus(&load) } else { rule.most.clone() };
    Ok(AxleCheck {
        name: rule.name.clone(),
        axles: rule.axles,
        load: to_mass(&shown)?,
        most: to_mass(&most)?,
        is_least: rule.is_least,
        kind: rule.kind,
        holds: !spare.is_negative(),
        left,
        place: rule.place.clone(),
    })
}

/// Leaves out the planes that nothing within the mass and the lengthwise window can break: their
/// left side is linear, so its greatest value lies in a corner.
pub(super) fn sharpened(
    planes: Vec<HalfPlane>,
    payload: i64,
    length: i64,
    permille: i64,
) -> Vec<HalfPlane> {
    let mass = i128::from(payload.max(0));
    let corner = |side: i128| mass * i128::from(length) * (1_000 + side * 2 * i128::from(permille));
    let corners = [(0, 0), (mass, corner(-1)), (mass, corner(1))];
    planes
        .into_iter()
        .filter(|plane| {
            corners.iter().any(|(mass, moment)| {
                // The corner's moment is scaled by 2,000.
                2_000 * i128::from(plane.mass_coefficient) * mass
                    + i128::from(plane.moment_x_coefficient) * moment
                    > 2_000 * plane.bound
            })
        })
        .collect()
}

#[cfg(test)]
mod tests;
