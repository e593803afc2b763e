//! What is known of a shipment's charges while its tables are applied, and whose turn it is.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::sync::Arc;

use smol_str::SmolStr;

use super::goods::Goods;
use super::job::Job;
use super::payments::Paid;
use super::schedule::Schedule;
use crate::bill::{Booked, Charge, ChargeKind, SetId, Sets, Spreader};
use crate::customs::Entry;
use crate::fault::Place;
use crate::quantity::{Decimal, Exact, Money};
use crate::trade::{ChargeRow, Date, Dates, Leg, Shipment};

/// The charges so far, as bases for the next.
pub(super) struct Sums<'a> {
    pub(super) sets: Sets,
    pub(super) spreader: Spreader<'a>,
    pub(super) charges: Vec<Charge>,
    /// For a charge of a box, by position, where it stands in the bill of the box.
    pub(super) billed: BTreeMap<usize, usize>,
    /// How each invoice is paid.
    pub(super) plans: Vec<Vec<Paid>>,
    /// The customs entries, the seller's own among them.
    pub(super) entries: Vec<Entry>,
    /// What is missing for memos of a seller's entries.
    pub(super) missing: Vec<String>,
    /// What rows per entry came to, entry by entry.
    pub(super) by_entry: Vec<OfEntry>,
    /// Legs with a row, whatever its amount.
    pub(super) served: BTreeSet<Leg>,
    /// The last amounts of rows: many objects of one row come to the same.
    pub(super) memo: VecDeque<(Asked, Arc<ChargeKind>, Arc<Booked>)>,
    /// The shipment's name, as scopes have it.
    pub(super) whole: SmolStr,
    /// What is known of the rows, where the load was costed before.
    pub(super) schedule: Option<&'a Schedule>,
}

/// The current purpose, place and entry.
#[derive(Clone, Copy)]
pub(super) struct Turn<'a> {
    /// What it is all about.
    pub(super) job: Job<'a>,
    /// The purpose, by position.
    pub(super) purpose: usize,
    /// Its leg.
    pub(super) leg: Leg,
    /// The named place, where rows tell places apart.
    pub(super) place: Option<&'a str>,
    /// The entry, where a row is about entries.
    pub(super) entry: Option<usize>,
    /// The slabs that may share the current charge.
    pub(super) need: SetId,
}

/// The charge of one entry: its row, the base of its percentage, its amount.
pub(super) type OfEntry = (Place, Option<Money>, Money);

/// The question to a row: equal questions have equal answers.
#[derive(PartialEq)]
pub(super) struct Asked {
    pub(super) row: *const ChargeRow,
    pub(super) count: Decimal,
    pub(super) base: Option<Exact>,
    pub(super) entered: Date,
    pub(super) entry: Option<usize>,
}

impl<'a> Sums<'a> {
    /// With the goods and nothing else.
    pub(super) fn of(
        shipment: &'a Shipment,
        sets: Sets,
        goods: Goods,
        schedule: Option<&'a Schedule>,
    ) -> Self {
        let mut spreader = Spreader::new(shipment);
        spreader.learn_goods(&goods.charges);
        Self {
            sets,
            spreader,
            charges: goods.charges,
            billed: BTreeMap::new(),
            plans: goods.plans,
            entries: Vec::new(),
            missing: Vec::new(),
            by_entry: Vec::new(),
            served: BTreeSet::new(),
            memo: VecDeque::new(),
            whole: shipment.name.as_str().into(),
            schedule,
        }
    }

    /// The current entry.
    pub(super) fn entry(&self, turn: Turn<'_>) -> Option<&Entry> {
        self.entries.get(turn.entry?)
    }

    /// The days of the shipment, with the entry's own where it is its turn.
    pub(super) fn dates(&self, turn: Turn<'_>) -> Dates {
        let entered = self.entry(turn).map(|entry| entry.entered_on);
        let dates = turn.job.shipment.dates;
        Dates { entered: entered.unwrap_or(dates.entered), ..dates }
    }
}
