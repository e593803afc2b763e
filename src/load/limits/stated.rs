//! Which rows of the tables limit a kind of box: carriers' caps, hauliers' customs, and the rigs that
//! carry it on their roads.
//!
//! Decided on 2026-11-25. Law and custom both bind a plan. A yard that wants the law alone leaves the
//! custom's row out.
//!
//! Decided on 2026-11-26. A limit known for one container type only is missing for another type on the same
//! lane, yard and road class, and the headline names it. Rows with the same name are one limit. A road
//! class without rows lacks nothing.

use std::sync::Arc;

use smol_str::SmolStr;

use super::super::road::Road;
use super::super::sets::caps;
use super::limit::{Limit, Limits};
use super::road::on_road;
use crate::fault::{Code, Fault};
use crate::price::{BoxKey, asked, looked_up, the_one};
use crate::quantity::{Mass, Overflow, Units};
use crate::trade::{
    ContainerType, Date, Event, Leg, LimitKind, LimitOn, LimitRow, Matches, Offers, Rig, Shipment,
    TableName, Tariffs,
};

/// A kind of box on its way: a container type in a road class, by its offers.
#[derive(Debug, Clone, Copy)]
pub struct Way<'a> {
    /// The shipment.
    pub shipment: &'a Shipment,
    /// The tables.
    pub tariffs: &'a Tariffs,
    /// The container type.
    pub container: &'a ContainerType,
    /// The road class.
    pub class: Option<&'a str>,
    /// The offers it goes by.
    pub offers: &'a Offers,
}

/// What limits a box, and the roads it travels on a rig that is known.
#[derive(Debug, Clone)]
pub struct Limited {
    /// Its limits.
    pub limits: Limits,
    /// The roads.
    pub roads: Vec<Road>,
}

/// Where on its way a limit is met.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in super::super) enum Stretch {
    /// From the works to the port of loading.
    Origin,
    /// At sea.
    Sea,
    /// From the port of discharge to the yard.
    Destination,
}

impl Stretch {
    /// The stretches with a road.
    pub(super) const ROADS: [Self; 2] = [Self::Origin, Self::Destination];

    fn of_row(row: &LimitRow, shipment: &Shipment) -> Self {
        if row.at_sea { Self::Sea } else { Self::of_road(&row.matches, shipment) }
    }

    /// A row or rig that names the port of loading, and no port of both, is for the road there.
    fn of_road(matches: &Matches, shipment: &Shipment) -> Self {
        let is_origin =
            |port: &SmolStr| shipment.lane.from.code() == port && shipment.lane.to.code() != port;
        if matches.port.as_ref().is_some_and(is_origin) { Self::Origin } else { Self::Destination }
    }

    fn table(self) -> TableName {
        if self == Self::Sea { TableName::Freight } else { TableName::Drayage }
    }

    fn leg(self) -> Leg {
        match self {
            Self::Origin => Leg::PreCarriage,
            Self::Sea => Leg::MainCarriage,
            Self::Destination => Leg::OnCarriage,
        }
    }

    /// The event whose day chooses its rows: sailing for the sea and the road to it, delivery for the
    /// yard's.
    fn event(self) -> Event {
        match self {
            Self::Origin | Self::Sea => Event::Sails,
            Self::Destination => Event::Delivered,
        }
    }

    fn day(self, shipment: &Shipment) -> Date {
        shipment.dates.of(self.event())
    }
}

impl<'a> Way<'a> {
    /// What is asked of a row on a stretch, for a container of this type.
    pub(super) fn asked(&self, stretch: Stretch, container: &str) -> Matches {
        let key = BoxKey { container, class: self.class, offers: self.offers };
        asked(self.shipment, stretch.leg(), Some(&key))
    }

    /// The rows of limits that fit a container of some type here, each with its stretch and day.
    pub(in super::super) fn rows(&self, container: &str) -> Vec<(&'a LimitRow, Stretch, Date)> {
        let fits = |row: &&LimitRow| {
            let stretch = Stretch::of_row(row, self.shipment);
            row.matches.fit(&self.asked(stretch, container))
                && self.offers.takes(stretch.table(), row.offer.as_deref())
        };
        let fitting = self.tariffs.limits.iter().filter(fits);
        fitting
            .map(|row| {
                let stretch = Stretch::of_row(row, self.shipment);
                (row, stretch, stretch.day(self.shipment))
            })
            .collect()
    }

    /// The rigs that carry a container of some type on a stretch, whenever, and the day that is asked.
    pub(super) fn rigs(&self, stretch: Stretch, container: &str) -> (Vec<&'a Rig>, Date) {
        let asked = self.asked(stretch, container);
        let fits = |rig: &&Rig| {
            Stretch::of_road(&rig.matches, self.shipment) == stretch
                && rig.matches.fit(&asked)
                && self.offers.takes(TableName::Drayage, rig.offer.as_deref())
        };
        (self.tariffs.rigs.iter().filter(fits).collect(), stretch.day(self.shipment))
    }

    /// The type and class, as pages and faults name them.
    pub(super) fn label(&self) -> String {
        self.container.in_class(self.class)
    }
}

/// Everything that limits the cargo of a box: its plate, what carriers and hauliers say, the roads.
///
/// # Errors
/// The fault of the tables that leaves a limit in doubt.
pub fn limited(way: Way<'_>, permille: i64, units: Units) -> Result<Limited, Box<Fault>> {
    let container = way.container;
    let of_plate = |overflow: Overflow| {
        Box::new(Fault::error(Code::Overflow, overflow.to_string()).at(&container.place, "here"))
    };
    let mut limits = Limits::of_plate(container).map_err(of_plate)?;
    limits.stated = stated(&way)?;
    let roads = roads(&way)?;
    let caps = caps(way.tariffs, way.shipment, (container, &roads)).into_iter();
    limits.stated.extend(caps.map(|cap| Limit {
        name: cap.name,
        kind: LimitKind::Equipment,
        on: LimitOn::Cargo,
        cargo: cap.mass,
        place: cap.place,
    }));
    for road in &roads {
        let least = limits.binding().cargo;
        let own = on_road(road, container, permille, least).map_err(too_fine(&road.rig))?;
        limits.roads.push(own);
    }
    if let Some(limit) = limits.each().find(|limit| limit.cargo <= container.securing) {
        let message = format!(
            "under the {}, a {} may carry {} of cargo and dunnage",
            limit.name,
            way.label(),
            limit.cargo.show_closely(units)
        );
        let fault = Fault::error(Code::OutOfRange, message)
            .at(&limit.place, "from this row")
            .help("check the tares and the limit: nothing could be loaded");
        return Err(Box::new(fault));
    }
    Ok(Limited { limits, roads })
}

/// Why nothing is worked out of a rig.
fn too_fine(rig: &Rig) -> impl Fn(Overflow) -> Box<Fault> {
    |overflow| {
        let fault = Fault::error(Code::Overflow, overflow.to_string())
            .at(&rig.place, "from the measures of this rig")
            .help("give them in whole millimetres or inches and whole kilograms or pounds");
        Box::new(fault)
    }
}

/// The limits of carriers and hauliers in force; one that lapsed is a fault, as a limit does not
/// end with its row.
fn stated(way: &Way<'_>) -> Result<Vec<Limit>, Box<Fault>> {
    let fitting = way.rows(&way.container.id);
    let mut all = Vec::new();
    for (row, _, day) in &fitting {
        if !row.valid.holds(*day) {
            let mut same = fitting.iter().filter(|(other, ..)| other.name == row.name);
            if row.valid.from <= *day && !same.any(|(other, _, day)| other.valid.holds(*day)) {
                let message = format!("limit \"{}\" is not in force on {day}", row.name);
                let fault = Fault::error(Code::LapsedRate, message)
                    .at(&row.place, format!("in force {}", row.valid))
                    .help("add its row for that date; if it no longer holds, remove its rows");
                return Err(Box::new(fault));
            }
            continue;
        }
        let cargo = match row.on {
            LimitOn::Cargo => Ok(row.mass),
            LimitOn::Gross => row.mass.minus(way.container.tare),
        };
        let cargo: Mass = cargo.map_err(|overflow: Overflow| {
            Box::new(Fault::error(Code::Overflow, overflow.to_string()).at(&row.place, "here"))
        })?;
        all.push(Limit {
            name: row.name.clone(),
            kind: row.kind,
            on: row.on,
            cargo,
            place: row.place.clone(),
        });
    }
    Ok(all)
}

/// The rigs that carry a box: from the works to the port of loading, and from the port of discharge
/// to the yard. Where there is no row for a rig, nothing is known of its axles.
fn roads(way: &Way<'_>) -> Result<Vec<Road>, Box<Fault>> {
    let mut all = Vec::new();
    for stretch in Stretch::ROADS {
        let (known, day) = way.rigs(stretch, &way.container.id);
        let fitting: Vec<&Rig> = known.iter().copied().filter(|rig| rig.valid.holds(day)).collect();
        // A law does not end because a row did; what is all to come does not apply yet.
        if let Some(ended) = known.iter().find(|rig| rig.valid.from <= day)
            && fitting.is_empty()
        {
            let message = format!("no rig for a {} is in force on {day}", way.label());
            let fault = Fault::error(Code::LapsedRate, message)
                .at(&ended.place, format!("in force {}", ended.valid))
                .help("add the rig of that date to rates/rigs.toml; if none runs there any more, remove its rows: then nothing is known of its axles");
            return Err(Box::new(fault));
        }
        if let [one, other, ..] = fitting[..] {
            let message = format!("two rigs carry a {} on {day}", way.label());
            let fault = Fault::error(Code::AmbiguousRate, message)
                .at(&one.place, "this rig")
                .also(&other.place, "and this one")
                .help("tell them apart by yard, container or class, or remove one");
            return Err(Box::new(fault));
        }
        let Some(rig) = fitting.first() else { continue };
        let law = the_one(way.tariffs.road(&rig.road.value, day)).map_err(|found| {
            let what = format!("road {}", rig.road.value);
            let named = (day, stretch.event().word());
            let help = "add its row to rates/roads.toml";
            looked_up("rates/roads.toml", &what, named, &found, help)
                .at(&rig.road.place, "this rig's road")
        })?;
        let at_origin = stretch == Stretch::Origin;
        let (own, law) = (Arc::new((*rig).clone()), Arc::new(law.clone()));
        all.push(Road::new(own, law, at_origin, way.container).map_err(too_fine(rig))?);
    }
    Ok(all)
}
