//! Beams on their supports: what each axle carries, as a linear function of the cargo.

use crate::quantity::{Decimal, Fraction, Length, Mass, Overflow};
use crate::trade::{AxleGroup, ContainerType, Doors, Rig};

/// A load in grams as it follows from the cargo: `fixed + per_mass M + per_moment Mx`.
#[derive(Debug, Clone)]
pub(super) struct Linear {
    pub(super) fixed: Fraction,
    pub(super) per_mass: Fraction,
    pub(super) per_moment: Fraction,
}

impl Linear {
    pub(super) fn zero() -> Self {
        Self { fixed: whole(0), per_mass: whole(0), per_moment: whole(0) }
    }

    pub(super) fn plus(&self, other: &Self) -> Self {
        Self {
            fixed: self.fixed.plus(&other.fixed),
            per_mass: self.per_mass.plus(&other.per_mass),
            per_moment: self.per_moment.plus(&other.per_moment),
        }
    }

    pub(super) fn times(&self, factor: &Fraction) -> Self {
        Self {
            fixed: self.fixed.times(factor),
            per_mass: self.per_mass.times(factor),
            per_moment: self.per_moment.times(factor),
        }
    }

    pub(super) fn minus(&self, other: &Self) -> Self {
        self.plus(&other.times(&whole(-1)))
    }

    /// The same with each fraction in lowest terms, which is done once for all loads.
    fn reduced(&self) -> Self {
        Self {
            fixed: self.fixed.in_lowest_terms(),
            per_mass: self.per_mass.in_lowest_terms(),
            per_moment: self.per_moment.in_lowest_terms(),
        }
    }

    pub(super) fn of(fixed: Fraction) -> Self {
        Self { fixed, ..Self::zero() }
    }

    pub(super) fn at(&self, load: &Cargo) -> Fraction {
        let moved = self.per_moment.times(&load.moment);
        self.fixed.plus(&self.per_mass.times(&load.mass)).plus(&moved)
    }
}

/// The cargo of a box: grams, and grams times millimetres from its front end.
pub(super) struct Cargo {
    pub(super) mass: Fraction,
    pub(super) moment: Fraction,
}

pub(super) fn whole(value: i64) -> Fraction {
    Fraction::of(Decimal::from(value))
}

pub(super) fn millimetres(length: Length) -> Fraction {
    Fraction::of(length.base())
}

pub(super) fn grams(mass: Mass) -> Fraction {
    Fraction::of(mass.base()).times(&whole(1_000))
}

pub(super) fn to_mass(grams: &Fraction) -> Result<Mass, Overflow> {
    Mass::kg(grams.over(&whole(1_000)).round(3, "an axle load")?)
}

/// An axle with its load.
#[derive(Debug)]
pub(super) struct Axle {
    pub(super) group: AxleGroup,
    pub(super) at: Length,
    pub(super) load: Linear,
}

/// Where the reaction of a group acts, behind the middle of the steer axles: at the mean of its axles,
/// as they share alike. With unequal gaps that is not the middle between the first and the last.
pub(super) fn reaction(all: &[(AxleGroup, Length)], group: AxleGroup) -> Fraction {
    let own = || all.iter().filter(|(other, _)| *other == group).map(|(_, at)| millimetres(*at));
    let count = i64::try_from(own().count()).unwrap_or(1).max(1);
    own().fold(whole(0), |sum, at| sum.plus(&at)).over(&whole(count))
}

/// The loads of a rig's axles under a container: the chassis as a beam on kingpin and bogie, the
/// tractor as one on steer and drive axles; the axles of a group share alike. Dunnage and lashing
/// are spread evenly over the box, whose own mass lies at its middle.
///
/// # Errors
/// Where a figure cannot be held, or a group's reaction acts where it carries nothing.
pub(super) fn axles(
    rig: &Rig,
    container: &ContainerType,
    doors: Doors,
) -> Result<Vec<Axle>, Overflow> {
    let all = rig.axles()?;
    let kingpin_at = millimetres(rig.kingpin()?);
    let [steer_at, drive_at, bogie_at] =
        [AxleGroup::Steer, AxleGroup::Drive, AxleGroup::Bogie].map(|group| reaction(&all, group));
    let (arm, base) = (bogie_at.minus(&kingpin_at), drive_at.minus(&steer_at));
    if !arm.is_positive() || !base.is_positive() {
        return Err(Overflow { what: "an axle load" });
    }
    let middle = millimetres(rig.chassis.box_middle);
    let half = whole(container.inside[0].mm_down()).over(&whole(2));
    let sign = match doors {
        Doors::Rear => whole(1),
        Doors::Front => whole(-1),
    };
    let packed = grams(container.tare).plus(&grams(container.securing));
    let chassis = grams(rig.chassis.tare);
    let bogie = Linear {
        fixed: chassis.times(&millimetres(rig.chassis.tare_centre)).plus(&packed.times(&middle)),
        per_mass: middle.minus(&sign.times(&half)),
        per_moment: sign,
    }
    .times(&whole(1).over(&arm));
    let trailer = Linear { fixed: chassis.plus(&packed), per_mass: whole(1), per_moment: whole(0) };
    let kingpin = trailer.minus(&bogie);
    let ahead = drive_at.minus(&kingpin_at).over(&base);
    let steer = kingpin.times(&ahead).plus(&Linear::of(grams(rig.tractor.steer_tare)));
    let behind = whole(1).minus(&ahead);
    let drive = kingpin.times(&behind).plus(&Linear::of(grams(rig.tractor.drive_tare)));
    let count = |group| all.iter().filter(|(other, _)| *other == group).count();
    let share = |group: AxleGroup| {
        let load = match group {
            AxleGroup::Steer => &steer,
            AxleGroup::Drive => &drive,
            AxleGroup::Bogie => &bogie,
        };
        load.times(&whole(1).over(&whole(i64::try_from(count(group)).unwrap_or(1).max(1))))
            .reduced()
    };
    Ok(all.iter().map(|(group, at)| Axle { group: *group, at: *at, load: share(*group) }).collect())
}

pub(super) fn sum(axles: &[Axle]) -> Linear {
    axles.iter().fold(Linear::zero(), |sum, axle| sum.plus(&axle.load)).reduced()
}
