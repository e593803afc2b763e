//! Axle loads held against what stands on them: forces and moments must cancel, however the loads
//! were come by.

use num_rational::BigRational;
use num_traits::{Signed, Zero};

use super::RoadReport;
use super::statics::{grams, millimetres, reaction, whole};
use crate::quantity::Overflow;
use crate::trade::{AxleGroup, ContainerType, Doors};

/// Whether the loads of a report carry rig, box and cargo: all forces, all moments about the steer
/// axle, and those of the chassis about its kingpin. Loads are shown to the gram, so that each axle
/// may be off by half of one.
///
/// # Errors
/// Where a length of the rig cannot be held.
pub(in super::super) fn is_in_balance(
    report: &RoadReport<'_>,
    container: &ContainerType,
    cargo: (i128, i128),
) -> Result<bool, Overflow> {
    let rig = &report.road.rig;
    let kingpin = millimetres(rig.kingpin()?);
    let middle = millimetres(rig.chassis.box_middle);
    let (mass, twice_moment) = cargo;
    let cargo = BigRational::from_integer(mass.into());
    let about_middle = BigRational::new(twice_moment.into(), 2.into())
        - &cargo * whole(container.inside[0].mm_down()) / whole(2);
    let behind = match report.doors {
        Doors::Rear => about_middle,
        Doors::Front => -about_middle,
    };
    let packed = grams(container.tare) + grams(container.securing) + &cargo;
    let chassis = grams(rig.chassis.tare);
    let on_chassis = &chassis + &packed;
    // Moments about the kingpin of all that the chassis bears.
    let turning = &chassis * millimetres(rig.chassis.tare_centre) + &packed * &middle + behind;
    // A scale shows the tares where the axles of a group stand, which share alike.
    let axles = rig.axles()?;
    let tares = [
        (grams(rig.tractor.steer_tare), AxleGroup::Steer),
        (grams(rig.tractor.drive_tare), AxleGroup::Drive),
    ];
    let mut total = on_chassis.clone();
    let mut all_turning = &on_chassis * &kingpin + &turning;
    for (tare, group) in tares {
        all_turning += &tare * reaction(&axles, group);
        total += tare;
    }
    let (mut sum, mut moment, mut bogie) = (whole(0), whole(0), whole(0));
    let mut slack = BigRational::zero();
    for axle in &report.axles {
        let (load, at) = (grams(axle.load), millimetres(axle.at));
        sum += &load;
        moment += &load * &at;
        if axle.group == AxleGroup::Bogie {
            bogie += load * (&at - &kingpin);
        }
        slack += at.abs() + whole(1);
    }
    Ok((sum - total).abs() <= slack
        && (moment - all_turning).abs() <= slack
        && (bogie - turning).abs() <= slack)
}
