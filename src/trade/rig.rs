//! Rigs that carry a container on the road.

use super::calendar::{Window, word_of};
use super::charge::Matches;
use crate::fault::{At, Place};
use crate::quantity::{Decimal, Length, Mass, Overflow};

/// Tractor and chassis under a container.
#[derive(Debug, Clone)]
pub struct Rig {
    /// Its name.
    pub id: String,
    /// Its name in full.
    pub name: String,
    /// The yard or port, container type and road class it serves.
    pub matches: Matches,
    /// The road it runs on: the name of a [`super::RoadLaw`].
    pub road: At<String>,
    /// Its tractor.
    pub tractor: Tractor,
    /// Its chassis.
    pub chassis: Chassis,
    /// Which way the container's doors may look.
    pub doors: DoorRule,
    /// Whose quote it is part of.
    pub offer: Option<String>,
    /// When it runs.
    pub valid: Window,
    /// Its row.
    pub place: Place,
}

/// A tractor, by its axles and what they weigh without a trailer.
#[derive(Debug, Clone)]
pub struct Tractor {
    /// From the middle of the steer axles to the middle of the drive axles.
    pub wheelbase: Length,
    /// How far the fifth wheel lies ahead of the middle of the drive axles.
    pub fifth_wheel: Length,
    /// What the steer axles weigh on a scale, without a trailer.
    pub steer_tare: Mass,
    /// What the drive axles weigh on a scale, without a trailer.
    pub drive_tare: Mass,
    /// The gaps between the steer axles, from the front; none for one axle.
    pub steer_spacing: Vec<Length>,
    /// The gaps between the drive axles.
    pub drive_spacing: Vec<Length>,
    /// What the steer axles are built for.
    pub steer_ratings: Ratings,
    /// What the drive axles are built for.
    pub drive_ratings: Ratings,
}

/// What the axles of a group are built for, all of them together; none where the row does not say it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Ratings {
    /// By their tyres.
    pub tyres: Option<Mass>,
    /// By the axles themselves.
    pub axles: Option<Mass>,
}

/// A chassis, measured backward from its kingpin.
#[derive(Debug, Clone)]
pub struct Chassis {
    /// To the middle of its axles.
    pub bogie: Length,
    /// The gaps between its axles, from the front; none for one axle.
    pub spacing: Vec<Length>,
    /// What it weighs empty.
    pub tare: Mass,
    /// To its centre of gravity, empty.
    pub tare_centre: Length,
    /// To the middle of the container's length.
    pub box_middle: Length,
    /// What its axles are built for.
    pub ratings: Ratings,
    /// The heaviest container that it is built for, where the row says it.
    pub most_box: Option<Mass>,
    /// The holes of a slider, each by the distance to the middle of its axles there; none of a fixed bogie.
    pub holes: Vec<Length>,
}

/// Which way the doors of a container look on the chassis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doors {
    /// Backward, as usual.
    Rear,
    /// Forward, against the tractor.
    Front,
}

impl Doors {
    /// Both ways with their written form.
    pub const ALL: [(Self, &'static str); 2] = [(Self::Rear, "rear"), (Self::Front, "front")];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// Which ways the doors may look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DoorRule {
    /// Backward only.
    Rear,
    /// Forward only.
    Front,
    /// Either way, as the road likes it better.
    Either,
}

impl DoorRule {
    /// Every rule with its written form.
    pub const ALL: [(Self, &'static str); 3] =
        [(Self::Rear, "rear"), (Self::Front, "front"), (Self::Either, "either")];

    /// The ways it leaves, the usual one first.
    pub fn ways(self) -> &'static [Doors] {
        match self {
            Self::Rear => &[Doors::Rear],
            Self::Front => &[Doors::Front],
            Self::Either => &[Doors::Rear, Doors::Front],
        }
    }
}

/// The groups of axles of a rig: what one spring set or axle stand carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum AxleGroup {
    /// The steered axles in front.
    Steer,
    /// The driven axles under the fifth wheel.
    Drive,
    /// The axles of the chassis.
    Bogie,
}

impl AxleGroup {
    /// Every group with its written form.
    pub const ALL: [(Self, &'static str); 3] =
        [(Self::Steer, "steer"), (Self::Drive, "drive"), (Self::Bogie, "bogie")];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

impl Rig {
    /// What the axles of a group are built for.
    pub fn ratings(&self, group: AxleGroup) -> Ratings {
        match group {
            AxleGroup::Steer => self.tractor.steer_ratings,
            AxleGroup::Drive => self.tractor.drive_ratings,
            AxleGroup::Bogie => self.chassis.ratings,
        }
    }

    /// From the middle of the steer axles back to the kingpin.
    ///
    /// # Errors
    /// On overflow.
    pub fn kingpin(&self) -> Result<Length, Overflow> {
        self.tractor.wheelbase.minus(self.tractor.fifth_wheel)
    }

    /// Every axle from the front: its group, and where it is behind the middle of the steer axles.
    ///
    /// # Errors
    /// On overflow.
    pub fn axles(&self) -> Result<Vec<(AxleGroup, Length)>, Overflow> {
        let bogie = self.kingpin()?.plus(self.chassis.bogie)?;
        let groups = [
            (AxleGroup::Steer, Length::ZERO, &self.tractor.steer_spacing),
            (AxleGroup::Drive, self.tractor.wheelbase, &self.tractor.drive_spacing),
            (AxleGroup::Bogie, bogie, &self.chassis.spacing),
        ];
        let mut all = Vec::new();
        for (group, middle, gaps) in groups {
            let half = Length::total(gaps.iter().copied())?.times(Decimal::new(5, 1))?;
            let mut at = middle.minus(half)?;
            all.push((group, at));
            for gap in gaps {
                at = at.plus(*gap)?;
                all.push((group, at));
            }
        }
        Ok(all)
    }
}
