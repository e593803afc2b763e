//! What the rows of each purpose charge, and on what. Where a load stays and figures alone move, it is looked for once.
//!
//! Decided on 2026-11-28. Which rows serve and what they are counted by hangs on no rate and no price. So where one load
//! is costed at many of them, only figures are worked out each time, and of rows that nothing moves not even these.

use std::sync::{Arc, OnceLock};

use smol_str::SmolStr;

use crate::bill::{Charge, ChargeKind, On, SetId, Sets};
use crate::price::Order;
use crate::quantity::Decimal;
use crate::trade::{ChargeRow, ScopeKind, WhatOf};

/// A charge before it is priced: what it is counted by, how often, and the slabs that share it unless a
/// row asks for more.
#[derive(Debug, Clone)]
pub(super) struct Tally {
    pub(super) on: On,
    pub(super) kind: ScopeKind,
    pub(super) of: SmolStr,
    pub(super) set: SetId,
    pub(super) count: Decimal,
}

/// What a row charges: on an entry where it is about entries, with the slabs that may share it.
#[derive(Debug)]
pub(super) struct Due {
    /// The row, by position in its purpose.
    pub(super) row: usize,
    pub(super) entry: Option<usize>,
    pub(super) need: SetId,
    pub(super) object: Tally,
    /// Whether it comes to what the one before it does: the same row counts it as often.
    pub(super) is_like: bool,
    /// Its charge as it was made first; `None`: it came to nothing. Of a row that nothing moves it is the charge.
    pub(super) first: OnceLock<Option<Charge>>,
}

/// What a purpose charges at one named place, where rows tell places apart, and the slabs that may share it.
#[derive(Debug)]
pub(super) struct AtPlace {
    pub(super) need: SetId,
    pub(super) due: Vec<Due>,
}

/// What a purpose charges place by place; `None`: nothing of it falls on the importer there.
pub(super) type AtPlaces = Vec<Option<AtPlace>>;

/// What is known of a row.
#[derive(Debug)]
pub(super) struct KnownRow {
    /// Whether nothing moves what it comes to.
    pub(super) is_still: bool,
    /// What its charges have in common, once it was made; `None`: it hangs on other charges.
    pub(super) kind: Option<OnceLock<Arc<ChargeKind>>>,
}

/// What is known of a purpose.
#[derive(Debug)]
pub(super) struct Known {
    rows: Vec<KnownRow>,
    /// What it charges, with the number of entries that there were.
    due: OnceLock<(usize, AtPlaces)>,
}

impl Known {
    /// What is known of a row, by its position in the purpose.
    pub(super) fn row(&self, at: usize) -> Option<&KnownRow> {
        self.rows.get(at)
    }

    /// What it charges on so many entries.
    pub(super) fn due(&self, entries: usize) -> Option<&AtPlaces> {
        self.due.get().filter(|(known, _)| *known == entries).map(|(_, due)| due)
    }
}

/// What is known of the purposes of an order: it serves as long as the load, the days and the rows stay.
#[derive(Debug)]
pub(crate) struct Schedule {
    purposes: Vec<Known>,
    /// The sets that there were: those of others would be others.
    sets: (usize, usize),
    /// How many charges there are.
    pub(super) charges: OnceLock<usize>,
}

impl Schedule {
    /// Of an order, where `is_still` says of a row that counts something whether nothing moves what it comes to.
    pub(crate) fn of(
        order: &Order<'_>,
        sets: &Sets,
        is_still: &dyn Fn(&ChargeRow) -> bool,
    ) -> Self {
        let row = |row: &&ChargeRow| {
            let of = row.rate.value.of();
            let hangs = matches!(of, Some(WhatOf::Charge(_)));
            let kind = (!hangs).then(OnceLock::new);
            KnownRow { is_still: of.is_none() && is_still(row), kind }
        };
        let purposes = order.purposes.iter().map(|purpose| Known {
            rows: purpose.rows.iter().map(row).collect(),
            due: OnceLock::new(),
        });
        Self { purposes: purposes.collect(), sets: sets.made(), charges: OnceLock::new() }
    }

    /// What is known of a purpose, by its position.
    pub(super) fn purpose(&self, at: usize) -> Option<&Known> {
        self.purposes.get(at)
    }

    /// Keeps what a purpose charges on so many entries, where no set was made for it.
    ///
    /// # Errors
    /// What it charges, where it is not kept.
    pub(super) fn keep(
        &self,
        at: usize,
        (due, entries): (AtPlaces, usize),
        sets: &Sets,
    ) -> Result<&AtPlaces, AtPlaces> {
        match self.purposes.get(at).filter(|_| sets.made() == self.sets) {
            Some(known) => {
                let mut due = Some(due);
                let kept = known.due.get_or_init(|| (entries, due.take().unwrap_or_default()));
                if kept.0 == entries { Ok(&kept.1) } else { Err(due.unwrap_or_default()) }
            }
            None => Err(due),
        }
    }
}
