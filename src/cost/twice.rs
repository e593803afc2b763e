//! Finance that a cost with finance counts twice: interest that is booked, beside finance that is weighed.
//!
//! Decided on 2026-11-27. Both are what the same money costs, so one of them is to serve a yard.

use super::landed::Landed;
use crate::bill::{Charge, Working};
use crate::fault::{Code, Fault, Report};
use crate::trade::Treatment;

/// Asks about a shipment that bears both interest on its payments and finance that is only weighed.
pub fn doubt_finance(landed: &Landed, report: &mut Report) {
    let comes_to_some = |charge: &&Charge| !charge.book().is_zero();
    let charges = || landed.charges.iter().filter(comes_to_some);
    let is_interest = |charge: &&Charge| matches!(charge.booked.working, Working::Interest { .. });
    let weighed = |charge: &&Charge| charge.treatment == Treatment::Notional;
    let Some(interest) = charges().find(|one| is_interest(one) && !weighed(one)) else { return };
    let Some(weighed) = charges().find(|one| weighed(one) && !is_interest(one)) else { return };
    let message = format!(
        "\"{}\" and \"{}\" both count what the money costs: the cost with finance has it twice",
        interest.name, weighed.name
    );
    report.add(
        Fault::warning(Code::Contradiction, message)
            .at(&weighed.source, "weighed, and not booked")
            .also(&interest.source, "booked")
            .help("let one of them serve: give each the yards that it is for"),
    );
}
