//! What a calculation of today has otherwise than the booked estimate. It changes nothing.

use std::collections::BTreeMap;

use crate::quantity::Money;
use crate::trade::Freeze;

/// A charge that is not as it was booked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    /// Its key.
    pub key: String,
    /// What it was booked at; `None`: it was not there.
    pub booked: Option<Money>,
    /// What it comes to today; `None`: it is not there any more.
    pub today: Option<Money>,
}

/// The charges that are not as they were booked, by their keys.
pub fn changed(booked: &Freeze, today: &Freeze) -> Vec<Changed> {
    let mut all: BTreeMap<&str, (Option<Money>, Option<Money>)> = BTreeMap::new();
    for charge in &booked.charges {
        all.entry(&charge.key).or_default().0 = Some(charge.book);
    }
    for charge in &today.charges {
        all.entry(&charge.key).or_default().1 = Some(charge.book);
    }
    let other = all.into_iter().filter(|(_, (booked, today))| booked != today);
    other.map(|(key, (booked, today))| Changed { key: key.to_owned(), booked, today }).collect()
}
