//! Beams on their supports: what each axle carries, as a linear function of the cargo.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{Signed, Zero};

use crate::quantity::{Length, Mass, Overflow, rational, round_rational};
use crate::trade::{AxleGroup, ContainerType, Doors, Rig};

/// A load in grams as it follows from the cargo: `fixed + per_mass M + per_moment Mx`.
#[derive(Debug, Clone)]
pub(super) struct Linear {
    pub(super) fixed: BigRational,
    pub(super) per_mass: BigRational,
    pub(super) per_moment: BigRational,
}

impl Linear {
    pub(super) fn zero() -> Self {
        let zero = BigRational::zero;
        Self { fixed: zero(), per_mass: zero(), per_moment: zero() }
    }

    pub(super) fn plus(&self, other: &Self) -> Self {
        Self {
            fixed: &self.fixed + &other.fixed,
            per_mass: &self.per_mass + &other.per_mass,
            per_moment: &self.per_moment + &other.per_moment,
        }
    }

    pub(super) fn times(&self, factor: &BigRational) -> Self {
        Self {
            fixed: &self.fixed * factor,
            per_mass: &self.per_mass * factor,
            per_moment: &self.per_moment * factor,
        }
    }

    pub(super) fn minus(&self, other: &Self) -> Self {
        self.plus(&other.times(&whole(-1)))
    }

    pub(super) fn of(fixed: BigRational) -> Self {
        Self { fixed, ..Self::zero() }
    }

    pub(super) fn at(&self, load: &Cargo) -> BigRational {
        &self.fixed + &self.per_mass * &load.mass + &self.per_moment * &load.moment
    }
}

/// The cargo of a box: grams, and grams times millimetres from its front end.
pub(super) struct Cargo {
    pub(super) mass: BigRational,
    pub(super) moment: BigRational,
}

pub(super) fn whole(value: i64) -> BigRational {
    BigRational::from_integer(BigInt::from(value))
}

pub(super) fn millimetres(length: Length) -> BigRational {
    rational(length.base())
}

pub(super) fn grams(mass: Mass) -> BigRational {
    rational(mass.base()) * whole(1_000)
}

pub(super) fn to_mass(grams: &BigRational) -> Result<Mass, Overflow> {
    Mass::kg(round_rational(&(grams / whole(1_000)), 3, "an axle load")?)
}

/// An axle with its load.
pub(super) struct Axle {
    pub(super) group: AxleGroup,
    pub(super) at: Length,
    pub(super) load: Linear,
}

/// Where the reaction of a group acts, behind the middle of the steer axles: at the mean of its axles,
/// as they share alike. With unequal gaps that is not the middle between the first and the last.
pub(super) fn reaction(all: &[(AxleGroup, Length)], group: AxleGroup) -> BigRational {
    let own = || all.iter().filter(|(other, _)| *other == group).map(|(_, at)| millimetres(*at));
    let count = i64::try_from(own().count()).unwrap_or(1).max(1);
    own().fold(BigRational::zero(), |sum, at| sum + at) / whole(count)
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
    let (arm, base) = (bogie_at - &kingpin_at, &drive_at - &steer_at);
    if !arm.is_positive() || !base.is_positive() {
        return Err(Overflow { what: "an axle load" });
    }
    let middle = millimetres(rig.chassis.box_middle);
    let half = whole(container.inside[0].mm_down()) / whole(2);
    let sign = match doors {
        Doors::Rear => whole(1),
        Doors::Front => whole(-1),
    };
    let packed = grams(container.tare) + grams(container.securing);
    let chassis = grams(rig.chassis.tare);
    let bogie = Linear {
        fixed: &chassis * millimetres(rig.chassis.tare_centre) + &packed * &middle,
        per_mass: &middle - &sign * half,
        per_moment: sign,
    }
    .times(&arm.recip());
    let trailer = Linear { fixed: chassis + packed, per_mass: whole(1), per_moment: whole(0) };
    let kingpin = trailer.minus(&bogie);
    let ahead = (drive_at - kingpin_at) / base;
    let steer = kingpin.times(&ahead).plus(&Linear::of(grams(rig.tractor.steer_tare)));
    let drive = kingpin.times(&(whole(1) - ahead)).plus(&Linear::of(grams(rig.tractor.drive_tare)));
    let count = |group| all.iter().filter(|(other, _)| *other == group).count();
    let share = |group: AxleGroup| {
        let load = match group {
            AxleGroup::Steer => &steer,
            AxleGroup::Drive => &drive,
            AxleGroup::Bogie => &bogie,
        };
        load.times(&BigRational::new(BigInt::from(1), BigInt::from(count(group).max(1))))
    };
    Ok(all.iter().map(|(group, at)| Axle { group: *group, at: *at, load: share(*group) }).collect())
}

pub(super) fn sum(axles: &[Axle]) -> Linear {
    axles.iter().fold(Linear::zero(), |sum, axle| sum.plus(&axle.load))
}
