//! Offers that fell out, each with its reason, such as a quote that lapsed by a day.

use std::fmt;

use crate::charges::Choice;
use crate::fault::{Code, Fault, Place, Report, Severity};
use crate::load::Misfit;
use crate::trade::TableName;

/// An offer that serves in no choice.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fallen {
    /// The table it stands in.
    pub table: TableName,
    /// The offer.
    pub offer: String,
    /// Why.
    pub why: String,
    /// Where that is seen.
    pub place: Option<Place>,
    /// The fault that its rows have, where they have lapsed.
    lapsed: Option<Fault>,
}

impl fmt::Display for Fallen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {} fell out: {}", self.table.word(), self.offer, self.why)
    }
}

impl Fallen {
    /// The warning that an offer has lapsed: nothing else would say so.
    pub(super) fn warning(&self) -> Option<Fault> {
        let fault = self.lapsed.clone()?;
        let ends = fault.place.as_ref().map(|(_, label)| label.as_str());
        let message = match ends.filter(|label| label.starts_with("ends on ")) {
            Some(ends) => format!("the quote of {} {ends}; it is left out", self.offer),
            None => self.to_string(),
        };
        Some(Fault { severity: Severity::Warning, message, ..fault })
    }
}

/// Why a choice of offers does not serve.
pub(super) struct Failed {
    pub(super) choice: Choice,
    pub(super) why: String,
    pub(super) place: Option<Place>,
    lapsed: Option<Fault>,
}

impl Failed {
    /// The data for it is at fault: a row that is missing or not in force.
    pub(super) fn at_fault(choice: Choice, report: &Report) -> Self {
        let faults = report.sorted();
        let first = faults.into_iter().find(|fault| fault.severity == Severity::Error);
        let why = first.map_or_else(String::new, |fault| fault.message.clone());
        let shown = first.and_then(|fault| fault.also.first().or(fault.place.as_ref()));
        let lapsed = first.filter(|fault| fault.code == Code::LapsedRate).cloned();
        Self { choice, why, place: shown.map(|(place, _)| place.clone()), lapsed }
    }

    /// Its boxes do not carry the bundles.
    pub(super) fn unfit(choice: Choice, misfits: &[Misfit]) -> Self {
        let why = misfits.first().map_or_else(String::new, |misfit| misfit.reason.clone());
        Self { choice, why, place: None, lapsed: None }
    }

    /// The load that is given breaks a limit by it, and by others it breaks none.
    pub(super) fn breaks(choice: Choice) -> Self {
        let why = "the load that is given breaks a limit by it".to_owned();
        Self { choice, why, place: None, lapsed: None }
    }
}

/// The offers in no choice that works.
pub(super) fn fallen(
    offered: &[(TableName, Vec<&str>)],
    serving: &[&Choice],
    failed: &[Failed],
) -> Vec<Fallen> {
    let mut all = Vec::new();
    for (table, offers) in offered {
        let is_in = |choice: &Choice, offer: &str| choice.offers().contains(&(*table, offer));
        for offer in offers.iter().filter(|offer| !serving.iter().any(|one| is_in(one, offer))) {
            let Some(first) = failed.iter().find(|one| is_in(&one.choice, offer)) else { continue };
            let Failed { why, place, lapsed, .. } = first;
            all.push(Fallen {
                table: *table,
                offer: (*offer).to_owned(),
                why: why.clone(),
                place: place.clone(),
                lapsed: lapsed.clone(),
            });
        }
    }
    all
}
