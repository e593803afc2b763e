//! The rules of a road: the legal load of each set of axles, and that no axle group lifts off.

use std::sync::Arc;

use num_integer::Integer;

use super::super::engine::{FACTOR_LIMIT, HalfPlane};
use super::statics::{Axle, Linear, axles, grams, sum, whole};
use crate::fault::Place;
use crate::quantity::{Fraction, Mass, Overflow};
use crate::trade::{AxleGroup, ContainerType, Doors, GrossRule, LimitKind, Rig, RoadLaw};

/// A rig under a box whose doors look one way, before any cargo is known.
#[derive(Debug)]
pub(super) struct Statics {
    pub(super) doors: Doors,
    pub(super) axles: Vec<Axle>,
    pub(super) rules: Vec<Rule>,
    /// The rules as half planes of the engine.
    pub(super) planes: Vec<HalfPlane>,
    /// What no rule of the road speaks of.
    pub(super) uncovered: Vec<String>,
}

impl Statics {
    /// # Errors
    /// Where a figure cannot be held.
    pub(super) fn new(
        rig: &Rig,
        law: &RoadLaw,
        container: &ContainerType,
        doors: Doors,
    ) -> Result<Self, Overflow> {
        let axles = axles(rig, container, doors)?;
        let rules = rules(rig, law, container, &axles)?;
        let planes = rules.iter().map(plane).collect::<Result<_, _>>()?;
        let uncovered = uncovered(&rules, &axles);
        Ok(Self { doors, axles, rules, planes, uncovered })
    }
}

/// Whose rule it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Limiter {
    /// The law of the road, or a permit under it.
    Law,
    /// The rating of tyres.
    Tyres,
    /// The rating of axles.
    Axles,
    /// The rating of the chassis.
    Chassis,
    /// The ground: what an axle presses on it is no less than nothing.
    Ground,
}

impl Limiter {
    /// The kind of limit.
    pub fn kind(self) -> LimitKind {
        if self == Self::Law { LimitKind::Law } else { LimitKind::Equipment }
    }

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Law => "law",
            Self::Tyres => "tyres",
            Self::Axles => "axles",
            Self::Chassis => "chassis",
            Self::Ground => "ground",
        }
    }
}

/// A rule before any cargo is known: the load is at most `most` grams.
#[derive(Debug)]
pub(super) struct Rule {
    pub(super) name: Arc<str>,
    pub(super) axles: (usize, usize),
    /// What those axles carry.
    pub(super) shown: Linear,
    pub(super) load: Linear,
    pub(super) most: Fraction,
    pub(super) is_least: bool,
    pub(super) by: Limiter,
    pub(super) place: Place,
}

/// Every rule of the law on every set of consecutive axles, what the rig is built for, and that no group may lift.
fn rules(
    rig: &Rig,
    law: &RoadLaw,
    container: &ContainerType,
    axles: &[Axle],
) -> Result<Vec<Rule>, Overflow> {
    let mut all = Vec::new();
    for first in 0..axles.len() {
        for last in first..axles.len() {
            let set = axles.get(first..=last).unwrap_or_default();
            on_set(law, axles, set, (first + 1, last + 1), &mut all)?;
        }
    }
    let on_all = sum(axles);
    let gross = gross_rule(law, axles.iter().map(|axle| axle.group));
    let whole_rig = || (1, axles.len());
    if let Some(rule) = gross {
        all.push(Rule {
            name: format!("gross of the whole rig ({})", law.id).into(),
            axles: whole_rig(),
            shown: on_all.clone(),
            load: on_all.clone(),
            most: grams(rule.most),
            is_least: false,
            by: Limiter::Law,
            place: rule.place.clone(),
        });
    }
    rated(rig, container, axles, &mut all);
    for (group, word) in AxleGroup::ALL {
        let Some((first, last)) = span(axles, group) else { continue };
        let own = sum(axles.get(first - 1..last).unwrap_or_default());
        let mut least = |name: String, of: &Linear, by, place: &Place| {
            all.push(Rule {
                name: name.into(),
                axles: (first, last),
                shown: own.clone(),
                load: of.minus(&own),
                most: whole(0),
                is_least: true,
                by,
                place: place.clone(),
            });
        };
        if let Some(share) = law.least_drive.filter(|_| group == AxleGroup::Drive) {
            let name = format!("drive axles at least {share} of the whole ({})", law.id);
            let share = on_all.times(&Fraction::of(share.fraction()));
            least(name, &share, Limiter::Law, &law.place);
        }
        let name = format!("{}, {word}, down on the road", spoken((first, last)));
        least(name, &Linear::zero(), Limiter::Ground, &rig.place);
    }
    Ok(all)
}

/// What tyres, axles and chassis are built for.
fn rated(rig: &Rig, container: &ContainerType, axles: &[Axle], all: &mut Vec<Rule>) {
    let mut add = |name: String, numbers, carried: &Linear, most: Option<Mass>, by| {
        all.extend(most.map(|most| Rule {
            name: name.into(),
            axles: numbers,
            shown: carried.clone(),
            load: carried.clone(),
            most: grams(most),
            is_least: false,
            by,
            place: rig.place.clone(),
        }));
    };
    for (group, word) in AxleGroup::ALL {
        let Some((first, last)) = span(axles, group) else { continue };
        let own = sum(axles.get(first - 1..last).unwrap_or_default());
        let ratings = rig.ratings(group);
        for (most, by) in [(ratings.tyres, Limiter::Tyres), (ratings.axles, Limiter::Axles)] {
            let name = format!("{}, {word}, rating of its {}", spoken((first, last)), by.word());
            add(name, (first, last), &own, most, by);
        }
    }
    let packed = grams(container.tare).plus(&grams(container.securing));
    let carried = Linear { fixed: packed, per_mass: whole(1), per_moment: whole(0) };
    if let Some(numbers) = span(axles, AxleGroup::Bogie) {
        let name = "container on its chassis, rating of the chassis".to_owned();
        add(name, numbers, &carried, rig.chassis.most_box, Limiter::Chassis);
    }
}

/// The first and the last axle of a group, from one.
fn span(axles: &[Axle], group: AxleGroup) -> Option<(usize, usize)> {
    let first = axles.iter().position(|axle| axle.group == group)?;
    let last = axles.iter().rposition(|axle| axle.group == group)?;
    Some((first + 1, last + 1))
}

/// The rule for the whole rig: of those it has the axles for, the one that asks for most.
pub(super) fn gross_rule(
    law: &RoadLaw,
    groups: impl Iterator<Item = AxleGroup>,
) -> Option<&GrossRule> {
    let (mut all, mut tractor) = (0, 0);
    for group in groups {
        all += 1;
        tractor += u32::from(group != AxleGroup::Bogie);
    }
    let fitting = law.gross.iter().filter(|rule| rule.axles <= all && rule.tractor <= tractor);
    fitting.max_by_key(|rule| (rule.axles, rule.tractor))
}

/// The groups with an axle under no rule, and the whole rig where its number of axles has no gross mass.
fn uncovered(rules: &[Rule], axles: &[Axle]) -> Vec<String> {
    let laws = || rules.iter().filter(|rule| rule.by == Limiter::Law && !rule.is_least);
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
    let carried = sum(set);
    let mut add = |name: String, most: Mass, place: &Place| {
        all.push(Rule {
            name: name.into(),
            axles: numbers,
            shown: carried.clone(),
            load: carried.clone(),
            most: grams(most),
            is_least: false,
            by: Limiter::Law,
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

pub(super) fn spoken((first, last): (usize, usize)) -> String {
    if first == last { format!("axle {first}") } else { format!("axles {first}-{last}") }
}

/// `fixed + a M + b Mx <= most` with its fractions cleared; the bound goes down to a whole number,
/// so that what passes here passes there.
fn plane(rule: &Rule) -> Result<HalfPlane, Overflow> {
    let overflow = Overflow { what: "an axle limit" };
    let Linear { fixed, per_mass, per_moment } = &rule.load;
    let (mass, mass_parts) = per_mass.reduced().ok_or(overflow)?;
    let (moment, moment_parts) = per_moment.reduced().ok_or(overflow)?;
    let times = |one: i128, other: i128| one.checked_mul(other).ok_or(overflow);
    let common = times(mass_parts / mass_parts.gcd(&moment_parts), moment_parts)?;
    let mass = times(mass, common / mass_parts)?;
    let moment = times(moment, common / moment_parts)?;
    let shared = mass.gcd(&moment).max(1);
    let factor = Fraction::whole(common).over(&Fraction::whole(shared));
    let (bound, parts) = rule.most.minus(fixed).times(&factor).reduced().ok_or(overflow)?;
    let bound = bound.div_euclid(parts);
    if bound.unsigned_abs() > i128::from(FACTOR_LIMIT).unsigned_abs().pow(2) {
        return Err(overflow);
    }
    let within = |factor: i128| {
        let factor = i64::try_from(factor).ok().filter(|factor| factor.abs() <= FACTOR_LIMIT);
        factor.ok_or(overflow)
    };
    Ok(HalfPlane {
        mass_coefficient: within(mass / shared)?,
        moment_x_coefficient: within(moment / shared)?,
        moment_y_coefficient: 0,
        bound,
    })
}
