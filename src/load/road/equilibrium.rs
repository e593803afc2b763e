//! Axle loads held against what stands on them: forces and moments must cancel, however the loads
//! were come by.

use super::RoadReport;
use super::statics::{grams, millimetres, reaction, whole};
use crate::quantity::{Fraction, Overflow};
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
    let cargo = Fraction::whole(mass);
    let half = whole(container.inside[0].mm_down()).over(&whole(2));
    let about_middle = Fraction::whole(twice_moment).over(&whole(2)).minus(&cargo.times(&half));
    let behind = match report.doors {
        Doors::Rear => about_middle,
        Doors::Front => about_middle.negated(),
    };
    let packed = grams(container.tare).plus(&grams(container.securing)).plus(&cargo);
    let chassis = grams(rig.chassis.tare);
    let on_chassis = chassis.plus(&packed);
    // Moments about the kingpin of all that the chassis bears.
    let own = chassis.times(&millimetres(rig.chassis.tare_centre));
    let turning = own.plus(&packed.times(&middle)).plus(&behind);
    // A scale shows the tares where the axles of a group stand, which share alike.
    let axles = rig.axles()?;
    let tares = [
        (grams(rig.tractor.steer_tare), AxleGroup::Steer),
        (grams(rig.tractor.drive_tare), AxleGroup::Drive),
    ];
    let mut total = on_chassis.clone();
    let mut all_turning = on_chassis.times(&kingpin).plus(&turning);
    for (tare, group) in tares {
        all_turning = all_turning.plus(&tare.times(&reaction(&axles, group)));
        total = total.plus(&tare);
    }
    let (mut sum, mut moment, mut bogie, mut slack) = (whole(0), whole(0), whole(0), whole(0));
    for axle in &report.axles {
        let (load, at) = (grams(axle.load), millimetres(axle.at));
        sum = sum.plus(&load);
        moment = moment.plus(&load.times(&at));
        if axle.group == AxleGroup::Bogie {
            bogie = bogie.plus(&load.times(&at.minus(&kingpin)));
        }
        slack = slack.plus(&at.abs()).plus(&whole(1));
    }
    let cancels = |found: &Fraction, due: &Fraction| found.minus(due).abs() <= slack;
    Ok(cancels(&sum, &total) && cancels(&moment, &all_turning) && cancels(&bogie, &turning))
}
