//! What serves on after it has lapsed, where the user asks for it: money rates alone.
//!
//! Decided on 2026-11-27. A supplier's price, freight, drayage, a fee, crating or a rate of exchange is ours to
//! guess at for a while. The law is not: a duty, a fee of an authority, a road's limit and a rate that customs
//! certify end with their day, and are read again.

use std::borrow::Cow;

use crate::fault::Code::{LapsedRate, NoRate};
use crate::fault::{Fault, Report, Reported, Severity};
use crate::trade::{Shipment, Tariffs};

/// A shipment that was costed, and what it was costed at.
#[derive(Debug)]
pub struct Served<'s, 't, T> {
    /// The shipment, where asked for with its lapsed prices serving on.
    pub shipment: Cow<'s, Shipment>,
    /// The rates, where asked for with the lapsed ones serving on.
    pub tariffs: Cow<'t, Tariffs>,
    /// What it came to.
    pub made: T,
}

/// Costs a shipment. Where nothing but a lapsed price or rate stands against it and `carry` asks for it, it is
/// costed again with what served last.
///
/// # Errors
/// Where it cannot be costed; the faults are in the report, with what no wish carries.
pub fn served<'s, 't, T>(
    (shipment, tariffs): (&'s Shipment, &'t Tariffs),
    carry: bool,
    report: &mut Report,
    cost: impl Fn(&Shipment, &Tariffs, &mut Report) -> Result<T, Reported>,
) -> Result<Served<'s, 't, T>, Reported> {
    let read = report.clone();
    let reported = match cost(shipment, tariffs, report) {
        Ok(made) => {
            let (shipment, tariffs) = (Cow::Borrowed(shipment), Cow::Borrowed(tariffs));
            return Ok(Served { shipment, tariffs, made });
        }
        Err(reported) => reported,
    };
    if !carry || lapsed(report).is_none() {
        return Err(reported);
    }
    *report = read;
    let (shipment, tariffs) = (shipment.serving_on(), tariffs.serving_on());
    let made = cost(&shipment, &tariffs, report);
    if made.is_err() && errors(report).iter().any(|fault| fault.code == LapsedRate) {
        report.add(
            Fault::warning(
                LapsedRate,
                "--carry is for prices and rates of ours: what has lapsed here does not serve on",
            )
            .help(
                "read the law, the certified rate or the calendar again, and write what holds now",
            ),
        );
    }
    let made = made?;
    Ok(Served { shipment: Cow::Owned(shipment), tariffs: Cow::Owned(tariffs), made })
}

/// Why an offer cannot be costed, of the faults that a sound offer may have: a price or a rate that is
/// missing or has lapsed. `None` where another fault is among them.
pub fn lapsed(report: &Report) -> Option<String> {
    let all = errors(report);
    let is_so = all.iter().all(|fault| matches!(fault.code, LapsedRate | NoRate));
    let first = all.first().filter(|_| is_so)?;
    let more = if all.len() > 1 { format!("; and {} more", all.len() - 1) } else { String::new() };
    Some(format!("{}{more}", first.message))
}

/// What the first fault says.
pub fn first_fault(report: &Report) -> String {
    errors(report).first().map_or_else(String::new, |fault| fault.message.clone())
}

/// The faults that stop a shipment.
fn errors(report: &Report) -> Vec<&Fault> {
    let all = report.sorted().into_iter();
    all.filter(|fault| fault.severity == Severity::Error).collect()
}
