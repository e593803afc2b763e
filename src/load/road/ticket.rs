//! A box on its rig as a truck scale has it: steer, drive, trailer, gross; each against the least that law and
//! ratings leave. The same in every hole of a slider.
//!
//! No name of a row is in it: others are told it. The mass of an empty chassis is taken to stay where it is when its
//! bogie is pinned in another hole.

use super::rules::{Limiter, Statics, spoken};
use super::statics::{Cargo, grams, to_mass, whole};
use super::{AxleCheck, RoadReport, on_way};
use crate::quantity::{Fraction, Length, Mass, Overflow};
use crate::trade::{AxleGroup, ContainerType, Doors, Rig};

/// What a truck scale shows.
#[derive(Debug, Clone)]
pub struct Ticket {
    /// Which way the doors look.
    pub doors: Doors,
    /// Whether the law's figures are a permit's.
    pub is_permit: bool,
    /// Steer, drive, trailer and gross; then the set of axles across groups that comes nearest to its limit, and the
    /// container on a chassis with a rating.
    pub lines: Vec<TicketLine>,
    /// What presses on the fifth wheel, as expected and at most.
    pub kingpin: [Mass; 2],
    /// The holes of a slider.
    pub holes: Vec<Hole>,
}

/// A line of it.
#[derive(Debug, Clone)]
pub struct TicketLine {
    /// What is weighed.
    pub what: String,
    /// Its load as expected, and with the margin that limits are held with.
    pub loads: [Mass; 2],
    /// The least of law and ratings, with whose it is; none where none is known.
    pub most: Option<(Mass, Limiter)>,
    /// Whether its rules hold, for both loads.
    pub holds: bool,
}

/// The bogie pinned in a hole.
#[derive(Debug, Clone)]
pub struct Hole {
    /// From the kingpin to the middle of the bogie.
    pub at: Length,
    /// Whether the load is planned for it.
    pub is_used: bool,
    /// Steer, drive, trailer and gross with the margin.
    pub loads: Vec<Mass>,
    /// What is over a limit there, or lifts: such as "drive", "axles 2-5".
    pub broken: Vec<String>,
}

/// The axles of a report from the first to the last, from one.
type Axles = (usize, usize);

/// The ticket of a report, given the grams of the bundles as they are expected and twice their moment, as
/// [`super::report`] takes them at most, and the container on it.
///
/// # Errors
/// Where a figure cannot be held.
pub(in super::super) fn ticket(
    report: &RoadReport<'_>,
    container: &ContainerType,
    [expected, at_most]: [(i128, i128); 2],
) -> Result<Ticket, Overflow> {
    let road = report.road;
    let rig = &road.rig;
    let loads = [cargo(expected), cargo(at_most)];
    let on = |rig: &Rig| -> Result<Vec<TicketLine>, Overflow> {
        let way = Statics::new(rig, &road.law, container, report.doors)?;
        let [expected, at_most] = &loads;
        let both = [on_way(road, &way, expected)?, on_way(road, &way, at_most)?];
        lines(&both)
    };
    let own = on(rig)?;
    let holes = rig.chassis.holes.iter().map(|at| {
        let mut moved = Rig::clone(rig);
        moved.chassis.bogie = *at;
        let lines = on(&moved)?;
        let broken = lines.iter().filter(|line| !line.holds);
        Ok(Hole {
            at: *at,
            is_used: *at == rig.chassis.bogie,
            loads: lines.iter().take(4).map(|line| line.loads[1]).collect(),
            broken: broken.map(|line| line.what.clone()).collect(),
        })
    });
    let [expected, at_most] = &loads;
    let trailer = own.get(2).map(|line| line.loads).unwrap_or_default();
    let empty = Mass::total([rig.chassis.tare, container.tare, container.securing])?;
    let on_kingpin = |cargo: &Cargo, bogie: Mass| to_mass(&cargo.mass)?.plus(empty)?.minus(bogie);
    Ok(Ticket {
        doors: report.doors,
        is_permit: road.law.permit.is_some(),
        holes: holes.collect::<Result<_, Overflow>>()?,
        kingpin: [on_kingpin(expected, trailer[0])?, on_kingpin(at_most, trailer[1])?],
        lines: own,
    })
}

fn cargo((mass, twice): (i128, i128)) -> Cargo {
    Cargo { mass: Fraction::whole(mass), moment: Fraction::whole(twice).over(&whole(2)) }
}

fn lines(both: &[RoadReport<'_>; 2]) -> Result<Vec<TicketLine>, Overflow> {
    let [expected, at_most] = both;
    let all = (1, at_most.axles.len());
    let mut lines = Vec::new();
    let mut told: Vec<Axles> = vec![all];
    for (group, word) in
        [(AxleGroup::Steer, "steer"), (AxleGroup::Drive, "drive"), (AxleGroup::Bogie, "trailer")]
    {
        let Some(axles) = at_most.span(group) else { continue };
        lines.push(TicketLine {
            what: word.to_owned(),
            loads: [expected.on_axles(axles)?, at_most.on_axles(axles)?],
            most: at_most.most_of(axles)?,
            holds: both.iter().all(|report| report.holds_within(axles)),
        });
        told.push(axles);
    }
    let is_whole = |check: &&AxleCheck| check.axles == all && check.limits_axles();
    let gross = at_most.checks.iter().filter(is_whole).min_by_key(|check| check.most);
    let holds = |axles| both.iter().all(|report| report.holds_on(axles));
    lines.push(TicketLine {
        what: "gross".to_owned(),
        loads: [expected.on_axles(all)?, at_most.on_axles(all)?],
        most: gross.map(|check| (check.most, check.by)),
        holds: holds(all),
    });
    // Of the sets across groups the nearest to its limit, and any other that is over it.
    let within = |check: &AxleCheck| {
        told.iter().skip(1).any(|own| own.0 <= check.axles.0 && check.axles.1 <= own.1)
    };
    let across = |check: &&AxleCheck| check.limits_axles() && check.axles != all && !within(check);
    let mut inner: Vec<&AxleCheck> = at_most.checks.iter().filter(across).collect();
    inner.sort_by_key(|check| (holds(check.axles), check.most.minus(check.load).ok()));
    let mut seen: Vec<Axles> = Vec::new();
    for check in inner {
        if seen.contains(&check.axles) || !seen.is_empty() && holds(check.axles) {
            continue;
        }
        seen.push(check.axles);
        lines.push(TicketLine {
            what: spoken(check.axles),
            loads: [expected.on_axles(check.axles)?, at_most.on_axles(check.axles)?],
            most: Some((check.most, check.by)),
            holds: holds(check.axles),
        });
    }
    let rated = |report: &RoadReport<'_>| {
        report.checks.iter().find(|check| check.by == Limiter::Chassis).cloned()
    };
    if let (Some(one), Some(other)) = (rated(expected), rated(at_most)) {
        lines.push(TicketLine {
            what: "container".to_owned(),
            loads: [one.load, other.load],
            most: Some((other.most, other.by)),
            holds: one.holds && other.holds,
        });
    }
    Ok(lines)
}

impl AxleCheck {
    /// Whether it says what its axles may carry at most.
    fn limits_axles(&self) -> bool {
        !self.is_least && self.by != Limiter::Chassis
    }
}

impl RoadReport<'_> {
    /// The first and the last axle of a group, from one.
    pub fn span(&self, group: AxleGroup) -> Option<Axles> {
        let first = self.axles.iter().position(|axle| axle.group == group)?;
        let last = self.axles.iter().rposition(|axle| axle.group == group)?;
        Some((first + 1, last + 1))
    }

    /// What axles carry together.
    ///
    /// # Errors
    /// Where it cannot be held.
    pub fn on_axles(&self, (first, last): Axles) -> Result<Mass, Overflow> {
        let own = self.axles.get(first - 1..last).unwrap_or_default();
        Mass::total(own.iter().map(|axle| axle.load))
    }

    /// The most that the axles of a group may carry together by law and ratings, and whose limit it is. They share
    /// alike: so a limit on some of them is one on all.
    ///
    /// # Errors
    /// Where it cannot be held.
    pub fn most_of(&self, (first, last): Axles) -> Result<Option<(Mass, Limiter)>, Overflow> {
        let count = |(first, last): Axles| whole(i64::try_from(last + 1 - first).unwrap_or(1));
        let mut least: Option<(Fraction, Limiter)> = None;
        for check in self.checks.iter().filter(|check| check.limits_axles()) {
            if check.axles.0 < first || check.axles.1 > last {
                continue;
            }
            let shares = count((first, last)).over(&count(check.axles));
            let most = grams(check.most).times(&shares);
            if least.as_ref().is_none_or(|(least, _)| most < *least) {
                least = Some((most, check.by));
            }
        }
        least.map(|(most, by)| Ok((to_mass(&most)?, by))).transpose()
    }

    /// Whether every rule on axles among these holds.
    fn holds_within(&self, (first, last): Axles) -> bool {
        let own = self.checks.iter().filter(|check| check.by != Limiter::Chassis);
        let mut own = own.filter(|check| first <= check.axles.0 && check.axles.1 <= last);
        own.all(|check| check.holds)
    }

    /// Whether every rule on just these axles holds.
    fn holds_on(&self, axles: Axles) -> bool {
        let own = self.checks.iter().filter(|check| check.by != Limiter::Chassis);
        own.filter(|check| check.axles == axles).all(|check| check.holds)
    }
}
