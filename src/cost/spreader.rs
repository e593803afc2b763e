//! Charges over slabs: the weights of every set and key, each worked out once.

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex, PoisonError};

use rayon::prelude::*;
use rustc_hash::FxHashMap;

use super::goods;
use super::groups::{Groups, LEG_GROUPS, group_of};
use crate::bill::{Charge, SetId, Sets};
use crate::fault::{Code, Fault, Report};
use crate::quantity::{Decimal, Division, Money, SpreadError, Weights};
use crate::trade::{Key, ScopeKind, Shipment, Slab, Treatment};

/// Sets up to this size are spread anew each time: a bundle's slabs are soon done, and there are
/// many bundles.
const SMALL: usize = 64;

/// Sets of slabs, or slabs, that one thread adds up at a time.
const BATCH: usize = 1024;

/// Which weights a charge spreads by.
type WeightId = (SetId, Key, Own);

/// Whose own amounts, if any, a charge goes by instead of a key of all slabs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum Own {
    /// None: the key.
    No,
    /// What a line bills for each slab.
    Line(usize),
    /// What the invoices bill for each slab, in the currency they are in: an invoice's discount or
    /// commission goes by it, as the book's cents would not be the invoice's.
    Invoiced,
}

/// What the shares of a charge depend on: its weights, and its book amount in minor units.
type ShareId = (WeightId, i64);

/// Spreads charges over the slabs of a shipment.
pub(super) struct Spreader<'a> {
    shipment: &'a Shipment,
    free: BTreeSet<usize>,
    /// The price of every slab in minor units of the book currency, once the goods are known.
    values: Vec<i64>,
    /// The same in the currency it is invoiced in.
    invoiced: Vec<i64>,
    goods: Arc<[Charge]>,
    weights: FxHashMap<WeightId, Arc<Weights>>,
    shares: FxHashMap<ShareId, Arc<Vec<i64>>>,
}

impl<'a> Spreader<'a> {
    pub(super) fn new(shipment: &'a Shipment) -> Self {
        Self {
            shipment,
            free: goods::free_slabs(shipment),
            values: Vec::new(),
            invoiced: Vec::new(),
            goods: Arc::default(),
            weights: FxHashMap::default(),
            shares: FxHashMap::default(),
        }
    }

    /// Learns the goods that the key "value" goes by; the values are worked out when first needed.
    pub(super) fn learn_goods(&mut self, charges: &[Charge]) {
        self.goods = charges.iter().filter(|charge| charge.goods_of.is_some()).cloned().collect();
    }

    /// Works out the prices of all slabs in the book currency, if that is not done.
    fn learn_values(&mut self, sets: &Sets, report: &mut Report) -> Option<()> {
        if self.values.is_empty() {
            self.values = self.goods_by_slab(sets, Charge::book, report)?;
        }
        Some(())
    }

    /// The same in the currency they are invoiced in.
    fn learn_invoiced(&mut self, sets: &Sets, report: &mut Report) -> Option<()> {
        if self.invoiced.is_empty() {
            self.invoiced = self.goods_by_slab(sets, Charge::amount, report)?;
        }
        Some(())
    }

    /// An amount of the lines' charges over all slabs.
    fn goods_by_slab(
        &mut self,
        sets: &Sets,
        amount: impl Fn(&Charge) -> Money,
        report: &mut Report,
    ) -> Option<Vec<i64>> {
        let mut by_slab = vec![0; self.shipment.slabs.len()];
        for charge in self.goods.clone().iter() {
            let weights = self.weights(charge, sets, report)?;
            let minor = amount(charge).minor().map_err(SpreadError::from);
            let divided = minor.and_then(|minor| {
                Division::several(&weights, &[minor]).map_err(|(_, error)| error)
            });
            match divided {
                Ok(divisions) => {
                    for division in divisions {
                        add(&division, sets, charge.scope.set, 1, &mut by_slab);
                    }
                }
                Err(error) => {
                    report.add(cannot_spread(charge, error));
                    return None;
                }
            }
        }
        Some(by_slab)
    }

    /// The price of a slab in minor units of the book currency.
    pub(super) fn value(&self, slab: usize) -> i64 {
        self.values.get(slab).copied().unwrap_or(0)
    }

    /// What is invoiced for a slab, in minor units of its invoice's currency.
    pub(super) fn invoiced(&self, slab: usize) -> i64 {
        self.invoiced.get(slab).copied().unwrap_or(0)
    }

    /// Whether a slab is given without charge.
    pub(super) fn is_free(&self, slab: usize) -> bool {
        !self.free.is_empty() && self.free.contains(&slab)
    }

    /// The weights a charge spreads by.
    pub(super) fn weights(
        &mut self,
        charge: &Charge,
        sets: &Sets,
        report: &mut Report,
    ) -> Option<Arc<Weights>> {
        let id = weight_id(charge);
        if let Some(weights) = self.weights.get(&id) {
            return Some(weights.clone());
        }
        self.prepare(charge, sets, report)?;
        if let Some(weights) = self.weights.get(&id) {
            return Some(weights.clone());
        }
        match self.part_of(id, sets) {
            Ok(weights) => {
                let weights = Arc::new(weights);
                if sets.len(charge.scope.set) > SMALL {
                    self.weights.insert(id, weights.clone());
                }
                Some(weights)
            }
            Err(error) => {
                report.add(cannot_spread(charge, error));
                None
            }
        }
    }

    /// Makes the weights of all slabs by a charge's key, of which those of any set are a part.
    fn prepare(&mut self, charge: &Charge, sets: &Sets, report: &mut Report) -> Option<()> {
        let all = (Sets::ALL, charge.key, Own::No);
        match weight_id(charge).2 {
            Own::Line(_) => return Some(()),
            Own::Invoiced => return self.learn_invoiced(sets, report),
            Own::No if self.weights.contains_key(&all) => return Some(()),
            Own::No => {}
        }
        if charge.key == Key::Value {
            self.learn_values(sets, report)?;
        }
        match self.of_all(charge.key) {
            Ok(weights) => {
                self.weights.insert(all, Arc::new(weights));
                Some(())
            }
            Err(error) => {
                report.add(cannot_spread(charge, error));
                None
            }
        }
    }

    /// The weights of a set, by a key that is prepared or by a line's own amounts.
    fn part_of(&self, (set, key, own): WeightId, sets: &Sets) -> Result<Weights, SpreadError> {
        match own {
            Own::Line(line) => self.goods_weights(set, line, sets),
            Own::Invoiced => {
                let amounts = sets.members(set).map(|slab| self.invoiced(slab));
                Weights::of(amounts.map(Decimal::from))
            }
            Own::No => {
                let all = self.weights.get(&(Sets::ALL, key, Own::No));
                all.ok_or(SpreadError::NoWeight)?.part(sets.members(set))
            }
        }
    }

    /// The weights of all slabs by a key of their own.
    fn of_all(&self, key: Key) -> Result<Weights, SpreadError> {
        let slabs = &self.shipment.slabs;
        let of_slabs = |figure: fn(&Slab) -> Decimal| {
            Weights::of_each(slabs.len(), |at| Ok(slabs.get(at).map(figure).unwrap_or_default()))
        };
        match key {
            Key::Area => of_slabs(|slab| slab.billed_area.base()),
            Key::Mass => of_slabs(|slab| slab.mass.base()),
            Key::Count => Ok(Weights::equal(slabs.len())),
            Key::Value => {
                Weights::of_each(self.values.len(), |at| Ok(Decimal::from(self.value(at))))
            }
        }
    }

    fn goods_weights(&self, set: SetId, line: usize, sets: &Sets) -> Result<Weights, SpreadError> {
        let line = self.shipment.lines.get(line).ok_or(SpreadError::NoWeight)?;
        let weight = |position: usize| match self.shipment.slabs.get(position) {
            Some(slab) if !self.is_free(position) => goods::weight(line, slab),
            _ => Ok(Decimal::ZERO),
        };
        if set == Sets::ALL {
            return Weights::of_each(sets.len(set), weight);
        }
        Weights::try_of(sets.members(set).map(weight))
    }

    /// A charge's shares of its book amount, in minor units, in the order of its slabs.
    pub(super) fn book_shares(
        &mut self,
        charge: &Charge,
        sets: &Sets,
        report: &mut Report,
    ) -> Option<Arc<Vec<i64>>> {
        let id = share_id(charge, report)?;
        if let Some(shares) = self.shares.get(&id) {
            return Some(shares.clone());
        }
        let weights = self.weights(charge, sets, report)?;
        let shares = Arc::new(divided(&weights, id.1, charge, report)?);
        if sets.len(charge.scope.set) > SMALL {
            self.shares.insert(id, shares.clone());
        }
        Some(shares)
    }

    /// Adds the shares of all charges up by group of legs and slab, those that are part of the
    /// slabs' cost, by as many threads as the machine has. A shipment of many like boxes has many
    /// charges of one amount over one set by one key, which are worked out once.
    pub(super) fn add_up(
        &mut self,
        charges: &[Charge],
        sets: &Sets,
        report: &mut Report,
    ) -> Option<Groups> {
        let parcels = parcels(charges, sets, report)?;
        let mut lots = Vec::new();
        for parcels in parcels.chunk_by(|one, next| one.id == next.id) {
            let charge = parcels.first()?.charge;
            let set = charge.scope.set;
            let weights = if set == Sets::ALL || sets.len(set) > SMALL {
                Some(self.weights(charge, sets, report)?)
            } else {
                self.prepare(charge, sets, report)?;
                None
            };
            lots.push(Lot { weights, parcels });
        }
        // The whole shipment is the first of the sets.
        let (whole, parts) = lots.split_at(lots.partition_point(Lot::is_over_all));
        let groups = LEG_GROUPS.map(|_| Mutex::new(vec![0i64; self.shipment.slabs.len()]));
        let added: Vec<_> = parts
            .par_iter()
            .with_min_len(BATCH)
            .map_init(Default::default, |room, lot| self.add_lot(lot, sets, &groups, room))
            .collect();
        let mut groups =
            groups.map(|group| group.into_inner().unwrap_or_else(PoisonError::into_inner));
        let added = added.into_iter().collect::<Result<(), _>>();
        match added.and_then(|()| add_over_all(whole, &mut groups)) {
            Ok(()) => Some(groups),
            Err(Unspreadable { charge, error }) => {
                report.add(cannot_spread(charge, error));
                None
            }
        }
    }

    /// Adds the charges on some of the slabs up.
    fn add_lot<'c>(
        &self,
        lot: &Lot<'c>,
        sets: &Sets,
        groups: &[Mutex<Vec<i64>>],
        (room, sums): &mut (Vec<u32>, Groups),
    ) -> Result<(), Unspreadable<'c>> {
        let Some(first) = lot.parcels.first() else { return Ok(()) };
        let of_lot = match &lot.weights {
            Some(weights) => weights,
            None => &Arc::new(self.part_of(first.id, sets).map_err(|error| first.wrong(error))?),
        };
        for parcel in lot.parcels {
            if parcel.times == 0 {
                // Nothing of it is the slabs': all that matters here is that it could be.
                Division::check(of_lot, parcel.minor).map_err(|error| parcel.wrong(error))?;
                continue;
            }
            let division = parcel.division(of_lot, room)?;
            if let Some(own) = sums.get_mut(parcel.group) {
                own.resize(of_lot.len(), 0);
                division.add_to(own, 0, parcel.times);
            }
        }
        for (own, group) in sums.iter_mut().zip(groups).filter(|(own, _)| !own.is_empty()) {
            let mut group = group.lock().unwrap_or_else(PoisonError::into_inner);
            for (slab, sum) in sets.members(first.id.0).zip(own.drain(..)) {
                if let Some(cost) = group.get_mut(slab) {
                    *cost += sum;
                }
            }
        }
        Ok(())
    }
}

/// Charges that have one answer.
struct Parcel<'a> {
    /// The first of them.
    charge: &'a Charge,
    id: WeightId,
    minor: i64,
    /// The group of legs it belongs to.
    group: usize,
    /// How often it counts.
    times: i64,
}

impl<'a> Parcel<'a> {
    fn division<'w>(
        &self,
        weights: &'w Weights,
        room: &mut Vec<u32>,
    ) -> Result<Division<'w>, Unspreadable<'a>> {
        Division::new(weights, self.minor, room).map_err(|error| self.wrong(error))
    }

    fn wrong(&self, error: SpreadError) -> Unspreadable<'a> {
        Unspreadable { charge: self.charge, error }
    }
}

/// The parcels of some charges, those of one set and key together, in the order of the sets.
fn parcels<'a>(charges: &'a [Charge], sets: &Sets, report: &mut Report) -> Option<Vec<Parcel<'a>>> {
    let mut likes: FxHashMap<(usize, ShareId), usize> = FxHashMap::default();
    let mut parcels: Vec<Parcel<'_>> = Vec::with_capacity(charges.len());
    for charge in charges {
        let (id, minor) = share_id(charge, report)?;
        let group = group_of(charge.leg);
        let times = i64::from(charge.treatment == Treatment::Stock);
        if sets.len(id.0) > SMALL {
            let at = *likes.entry((group, (id, minor))).or_insert(parcels.len());
            if let Some(like) = parcels.get_mut(at) {
                like.times += times;
                continue;
            }
        }
        // The bundles of a box are often one charge each over the box.
        match parcels.last_mut() {
            Some(last) if (last.id, last.minor, last.group) == (id, minor, group) => {
                last.times += times;
            }
            _ => parcels.push(Parcel { charge, id, minor, group, times }),
        }
    }
    parcels.sort_by_key(|parcel| parcel.id);
    Some(parcels)
}

/// The parcels of one set and key.
struct Lot<'a> {
    /// Their weights; those of a small set are made when they are needed.
    weights: Option<Arc<Weights>>,
    parcels: &'a [Parcel<'a>],
}

impl Lot<'_> {
    fn is_over_all(&self) -> bool {
        self.parcels.first().is_some_and(|parcel| parcel.id.0 == Sets::ALL)
    }
}

/// Adds the charges on the whole shipment up, so many slabs at a time.
fn add_over_all<'a>(lots: &[Lot<'a>], groups: &mut Groups) -> Result<(), Unspreadable<'a>> {
    let mut divided = Vec::new();
    for lot in lots {
        let Some(weights) = &lot.weights else { continue };
        let units: Vec<i64> = lot.parcels.iter().map(|parcel| parcel.minor).collect();
        match Division::several(weights, &units) {
            Ok(divisions) => divided.extend(lot.parcels.iter().zip(divisions)),
            Err((at, error)) => {
                let parcel = lot.parcels.get(at).or(lot.parcels.first());
                return parcel.map_or(Ok(()), |parcel| Err(parcel.wrong(error)));
            }
        }
    }
    for (at, group) in groups.iter_mut().enumerate() {
        let counts = |parcel: &Parcel<'a>| parcel.group == at && parcel.times != 0;
        let own: Vec<_> = divided.iter().filter(|(parcel, _)| counts(parcel)).collect();
        group.par_chunks_mut(BATCH).enumerate().for_each(|(chunk, costs)| {
            for (parcel, division) in &own {
                division.add_to(costs, chunk * BATCH, parcel.times);
            }
        });
    }
    Ok(())
}

/// Adds a division over a set, so many times, to what all slabs bear.
fn add(division: &Division<'_>, sets: &Sets, set: SetId, times: i64, costs: &mut [i64]) {
    if set == Sets::ALL {
        costs
            .par_chunks_mut(BATCH)
            .enumerate()
            .for_each(|(chunk, costs)| division.add_to(costs, chunk * BATCH, times));
        return;
    }
    for (position, slab) in sets.members(set).enumerate() {
        if let Some(cost) = costs.get_mut(slab) {
            *cost += division.share(position) * times;
        }
    }
}

/// A charge that cannot be spread, and why.
struct Unspreadable<'a> {
    charge: &'a Charge,
    error: SpreadError,
}

fn weight_id(charge: &Charge) -> WeightId {
    let by_invoice = charge.key == Key::Value && charge.scope.kind == ScopeKind::Invoice;
    let own = match charge.goods_of {
        Some(line) => Own::Line(line),
        None if by_invoice => Own::Invoiced,
        None => Own::No,
    };
    (charge.scope.set, charge.key, own)
}

fn share_id(charge: &Charge, report: &mut Report) -> Option<ShareId> {
    match charge.book().minor() {
        Ok(minor) => Some((weight_id(charge), minor)),
        Err(_) => {
            report.add(cannot_spread(charge, SpreadError::Overflow));
            None
        }
    }
}

fn divided(
    weights: &Weights,
    minor: i64,
    charge: &Charge,
    report: &mut Report,
) -> Option<Vec<i64>> {
    let shares = weights.divide_units(minor);
    shares.map_err(|error| report.add(cannot_spread(charge, error))).ok()
}

fn cannot_spread(charge: &Charge, error: SpreadError) -> Fault {
    let why = match error {
        SpreadError::NoWeight => format!("its slabs have no {}", charge.key.word()),
        SpreadError::Negative(_) => format!("a slab's {} is negative", charge.key.word()),
        SpreadError::Overflow => "the figures are too large to divide exactly".to_owned(),
    };
    let message = format!(
        "\"{}\" cannot be spread over {} {}: {why}",
        charge.name,
        charge.scope.kind.word(),
        charge.scope.of
    );
    let fault = Fault::error(Code::NothingToSpread, message)
        .help("choose another key for it: in its row, or in a [[policy]] of the shipment");
    match charge.sources.first() {
        Some(place) => fault.at(place, "this charge"),
        None => fault,
    }
}
