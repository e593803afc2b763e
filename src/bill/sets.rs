//! Sets of slabs that share a charge, each made once.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::{Arc, OnceLock};

use rustc_hash::FxHashMap;

use crate::quantity::{Area, Decimal, Mass, Overflow, PricedBy};
use crate::trade::{Date, Leg, ScopeKind, Shipment, Slab, TableName};

/// A set of slabs, by position in [`Sets`].
pub type SetId = usize;

/// The sets of slabs of one calculation. Set 0 is the whole shipment; then comes a set for each
/// bundle, and after those whatever sets the charges ask for.
///
/// A copy costs nothing until a set is made in it: like calculations, one after the other, make none.
#[derive(Debug, Clone)]
pub struct Sets(Arc<Made>);

/// The sets that are made.
#[derive(Debug, Clone)]
struct Made {
    /// Each set.
    sets: Vec<Set>,
    /// Those of sets with gaps, set by set.
    slabs: Vec<u32>,
    bundles: usize,
    named: FxHashMap<SetName, SetId>,
    count: usize,
}

/// A set of slabs.
#[derive(Debug, Clone)]
struct Set {
    slabs: Held,
    /// What they measure together, once somebody has asked.
    tally: OnceLock<Result<Tally, Overflow>>,
    /// What else was asked of them. There is a set for each bundle, and few are asked.
    asked: OnceLock<Box<Asked>>,
}

/// What was asked of the slabs of a set, and hangs on no price.
#[derive(Debug, Clone, Default)]
struct Asked {
    /// What they measure by line and bundle.
    heaps: OnceLock<Result<Arc<[Heap]>, Overflow>>,
    /// What is billed for them as slabs of a line, by its position, in a unit.
    billed: OnceLock<OfLine>,
    /// What counts towards the steps of a line's price.
    counted: OnceLock<OfLine>,
}

impl Set {
    fn asked(&self) -> &Asked {
        self.asked.get_or_init(Box::default)
    }
}

impl From<Held> for Set {
    fn from(slabs: Held) -> Self {
        Self { slabs, tally: OnceLock::new(), asked: OnceLock::new() }
    }
}

/// How the slabs of a set are held.
#[derive(Debug, Clone)]
enum Held {
    /// One after the other, as they are in most boxes and bundles.
    Row(Range<usize>),
    /// One by one, in a part of all that are listed.
    Listed(Range<usize>),
}

/// The slabs of a set, by position, in packing-list order.
#[derive(Debug, Clone, Copy)]
pub enum Members<'a> {
    /// From one on, so many.
    Row(usize, usize),
    /// These.
    Listed(&'a [u32]),
}

impl<'a> Members<'a> {
    /// How many there are.
    pub fn len(self) -> usize {
        match self {
            Self::Row(_, count) => count,
            Self::Listed(slabs) => slabs.len(),
        }
    }

    /// Whether there are none.
    pub fn is_empty(self) -> bool {
        self.len() == 0
    }

    /// The slabs, one by one.
    pub fn iter(self) -> impl Iterator<Item = usize> + Clone + 'a {
        let (row, listed) = match self {
            Self::Row(first, count) => (first..first + count, &[][..]),
            Self::Listed(slabs) => (0..0, slabs),
        };
        // No `filter_map`: whoever collects them wants to know how many there are.
        row.chain(listed.iter().map(|slab| usize::try_from(*slab).unwrap_or(usize::MAX)))
    }

    /// The slab at a position among them.
    pub fn at(self, position: usize) -> Option<usize> {
        match self {
            Self::Row(first, count) => (position < count).then_some(first + position),
            Self::Listed(slabs) => usize::try_from(*slabs.get(position)?).ok(),
        }
    }

    /// How many of them come before a slab.
    pub fn before(self, slab: usize) -> usize {
        match self {
            Self::Row(first, count) => slab.saturating_sub(first).min(count),
            Self::Listed(slabs) => {
                slabs.partition_point(|one| usize::try_from(*one).is_ok_and(|one| one < slab))
            }
        }
    }

    /// The position of a slab among them.
    pub fn position(self, slab: usize) -> Option<usize> {
        match self {
            Self::Row(first, count) => slab.checked_sub(first).filter(|at| *at < count),
            Self::Listed(slabs) => slabs.binary_search(&u32::try_from(slab).ok()?).ok(),
        }
    }
}

/// What some slabs measure together.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tally {
    pub(crate) billed: Area,
    pub(crate) gross: Area,
    pub(crate) mass: Mass,
}

impl Tally {
    fn of<'a>(slabs: impl Iterator<Item = &'a Slab> + Clone) -> Result<Self, Overflow> {
        Ok(Self {
            billed: Area::total(slabs.clone().map(|slab| slab.billed_area))?,
            gross: Area::total(slabs.clone().map(Slab::gross_area))?,
            mass: Mass::total(slabs.map(|slab| slab.mass))?,
        })
    }
}

/// The slabs of one line in one bundle. Every set has all of them or none: what tells slabs apart are lines,
/// bundles, and what holds bundles.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Heap {
    /// The line, by position.
    pub(crate) line: u32,
    /// The bundle, by position.
    pub(crate) bundle: u32,
    /// The first of them, by position.
    pub(crate) first: usize,
    /// How many there are.
    pub(crate) count: usize,
    /// What they measure together.
    pub(crate) tally: Tally,
}

/// Some slabs, each with its position, by line and bundle.
fn heaps<'a>(slabs: impl Iterator<Item = (usize, &'a Slab)>) -> Result<Arc<[Heap]>, Overflow> {
    let mut all: BTreeMap<(u32, u32), (usize, Vec<&Slab>)> = BTreeMap::new();
    for (at, slab) in slabs {
        let (_, heap) = all.entry((slab.line, slab.bundle)).or_insert((at, Vec::new()));
        heap.push(slab);
    }
    let heap = |((line, bundle), (first, slabs)): ((u32, u32), (usize, Vec<&Slab>))| {
        let (count, tally) = (slabs.len(), Tally::of(slabs.into_iter())?);
        Ok(Heap { line, bundle, first, count, tally })
    };
    all.into_iter().map(heap).collect()
}

/// What a set that charges asked for is known by. No name of a file's can be taken for another's.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(crate) enum SetName {
    /// The slabs of one thing of a kind, by its position (a box, a bundle, a line, an invoice, a bill),
    /// that lie in another set.
    Part(ScopeKind, usize, SetId),
    /// The slabs of a line in one bundle, both by position.
    LineInBundle(usize, usize),
    /// The slabs of a line, by position, control of which passes on a day.
    LineFrom(usize, Date),
    /// The slabs of a stone that lie in another set.
    Stone(String, SetId),
    /// The slabs in one kind of box, by its name, of those in another set.
    Kind(String, SetId),
    /// The slabs in boxes that go by an offer of a table, of those in another set.
    Offer(TableName, String, SetId),
    /// The slabs whose invoices leave something to the importer, at one named place where rows tell
    /// places apart.
    Bears(Borne, Option<String>),
    /// The slabs of a customs entry, the importer's or the seller's, by its lots.
    Entry(usize),
    /// The slabs of a line of an entry, both by position.
    TariffLine(usize, usize),
    /// The slabs of the lines of an entry that are not free of a row, by the sets of those lines.
    Liable(usize, Vec<SetId>),
}

/// What a term leaves to the importer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Borne {
    /// A leg.
    Leg(Leg),
    /// The import tax alone, on goods that the seller enters.
    ImportTax,
    /// What is the importer's own whatever the term.
    Own,
}

impl Sets {
    /// The whole shipment.
    pub const ALL: SetId = 0;

    /// The sets every shipment has: all slabs, and each bundle's.
    pub fn new(shipment: &Shipment) -> Self {
        let (sets, slabs) = by_bundle(shipment);
        let sets = sets.into_iter().map(Set::from).collect();
        let (bundles, count) = (shipment.bundles.len(), shipment.slabs.len());
        Self(Arc::new(Made { sets, slabs, bundles, named: FxHashMap::default(), count }))
    }

    /// What the slabs of a set measure together.
    ///
    /// # Errors
    /// On overflow.
    pub(crate) fn tally(&self, id: SetId, shipment: &Shipment) -> Result<Tally, Overflow> {
        let tally = || Tally::of(self.members(id).filter_map(|at| shipment.slabs.get(at)));
        self.0.sets.get(id).map_or_else(tally, |set| *set.tally.get_or_init(tally))
    }

    /// How many sets were made, and how many names they have.
    pub(crate) fn made(&self) -> (usize, usize) {
        (self.0.sets.len(), self.0.named.len())
    }

    /// The slabs of a set by line and bundle.
    ///
    /// # Errors
    /// On overflow.
    pub(crate) fn heaps(&self, id: SetId, shipment: &Shipment) -> Result<Arc<[Heap]>, Overflow> {
        let slab = |at| Some((at, shipment.slabs.get(at)?));
        let all = || heaps(self.members(id).filter_map(slab));
        self.0.sets.get(id).map_or_else(all, |set| set.asked().heaps.get_or_init(all).clone())
    }

    /// What is billed for a set as slabs of a line, by its position, in a unit: worked out where nobody has
    /// asked for it. It hangs on no price.
    ///
    /// # Errors
    /// As it is worked out.
    pub(crate) fn billed(
        &self,
        id: SetId,
        of: (usize, PricedBy),
        worked: impl Fn() -> Result<Decimal, Overflow>,
    ) -> Result<Decimal, Overflow> {
        known(self.0.sets.get(id).map(|set| &set.asked().billed), of, worked)
    }

    /// What counts towards the steps of the price of a line, by its position, whose set this is. It hangs on no price
    /// either.
    ///
    /// # Errors
    /// As it is worked out.
    pub(crate) fn counted(
        &self,
        id: SetId,
        of: (usize, PricedBy),
        worked: impl Fn() -> Result<Decimal, Overflow>,
    ) -> Result<Decimal, Overflow> {
        known(self.0.sets.get(id).map(|set| &set.asked().counted), of, worked)
    }

    /// The slabs of a bundle, by the bundle's position.
    pub(crate) fn bundle(&self, bundle: usize) -> Members<'_> {
        if bundle < self.0.bundles { self.of(bundle + 1) } else { Members::Listed(&[]) }
    }

    /// The slabs of a bundle that lie in a set; `None` where there are none.
    pub(crate) fn bundle_within(&mut self, bundle: usize, set: SetId) -> Option<SetId> {
        let slabs = self.bundle(bundle);
        if set == Self::ALL || slabs.iter().all(|slab| self.holds(set, slab)) {
            return (!slabs.is_empty()).then_some(bundle + 1);
        }
        self.of_slabs(SetName::Part(ScopeKind::Bundle, bundle, set), |sets| {
            sets.within([bundle].iter(), set)
        })
    }

    /// The slabs of some bundles that lie in a set.
    pub(crate) fn within<'b>(
        &self,
        bundles: impl Iterator<Item = &'b usize>,
        set: SetId,
    ) -> Vec<u32> {
        let inside = bundles.flat_map(|bundle| self.bundle(*bundle).iter());
        let inside = inside.filter(|slab| self.holds(set, *slab));
        inside.filter_map(|slab| u32::try_from(slab).ok()).collect()
    }

    /// The set of this name, made of these slabs if it is new; `None` where it is empty.
    pub(crate) fn of_slabs(
        &mut self,
        name: SetName,
        slabs: impl FnOnce(&Self) -> Vec<u32>,
    ) -> Option<SetId> {
        let id = match self.named(&name) {
            Some(id) => id,
            None => {
                let mut slabs = slabs(self);
                slabs.sort_unstable();
                self.add(name, &slabs)
            }
        };
        (self.len(id) > 0).then_some(id)
    }

    /// Those slabs of a set that `keep` chooses.
    pub(crate) fn among(&self, id: SetId, keep: impl Fn(usize) -> bool) -> Vec<u32> {
        let kept = self.members(id).filter(|at| keep(*at));
        kept.filter_map(|at| u32::try_from(at).ok()).collect()
    }

    /// Whether a slab lies in a set.
    pub(crate) fn holds(&self, id: SetId, slab: usize) -> bool {
        self.of(id).position(slab).is_some()
    }

    /// The set of this name, made of the lines, by position, that `keep` chooses if it is new; `None`
    /// where it is empty.
    pub(crate) fn of_lines(
        &mut self,
        name: SetName,
        shipment: &Shipment,
        keep: impl Fn(usize) -> bool,
    ) -> Option<SetId> {
        let id = self.named(&name).unwrap_or_else(|| {
            let kept: Vec<bool> = (0..shipment.lines.len()).map(keep).collect();
            if kept.iter().all(|kept| *kept) {
                Arc::make_mut(&mut self.0).named.insert(name, Self::ALL);
                return Self::ALL;
            }
            let is_in = |slab: &Slab| {
                usize::try_from(slab.line).is_ok_and(|line| kept.get(line) == Some(&true))
            };
            let members = (0..).zip(shipment.slabs.iter()).filter(|(_, slab)| is_in(slab));
            let members: Vec<u32> = members.map(|(index, _)| index).collect();
            self.add(name, &members)
        });
        (self.len(id) > 0).then_some(id)
    }

    /// Adds a named set by its members, in packing-list order.
    pub(crate) fn add(&mut self, name: SetName, members: &[u32]) -> SetId {
        // A line of bundles names its sets anew in each calculation.
        if let Some(id) = self.named(&name).filter(|id| self.is_of(*id, members)) {
            return id;
        }
        let made = Arc::make_mut(&mut self.0);
        let id = if members.len() == made.count {
            Self::ALL
        } else {
            let slabs = match row(members) {
                Some(row) => Held::Row(row),
                None => {
                    let start = made.slabs.len();
                    made.slabs.extend_from_slice(members);
                    Held::Listed(start..made.slabs.len())
                }
            };
            made.sets.push(slabs.into());
            made.sets.len() - 1
        };
        made.named.insert(name, id);
        id
    }

    /// The named set, if it was made.
    pub(crate) fn named(&self, name: &SetName) -> Option<SetId> {
        self.0.named.get(name).copied()
    }

    /// Whether a set has these slabs, in packing-list order.
    fn is_of(&self, id: SetId, members: &[u32]) -> bool {
        let own = self.members(id).map(u32::try_from);
        self.len(id) == members.len() && own.zip(members).all(|(own, one)| own == Ok(*one))
    }

    /// How many slabs a set has.
    pub fn len(&self, id: SetId) -> usize {
        self.of(id).len()
    }

    /// The slabs of a set.
    pub fn of(&self, id: SetId) -> Members<'_> {
        match self.0.sets.get(id).map(|set| &set.slabs) {
            Some(Held::Row(row)) => Members::Row(row.start, row.len()),
            Some(Held::Listed(part)) => {
                Members::Listed(self.0.slabs.get(part.clone()).unwrap_or(&[]))
            }
            None => Members::Listed(&[]),
        }
    }

    /// The positions of a set's slabs, in packing-list order.
    pub fn members(&self, id: SetId) -> impl Iterator<Item = usize> + Clone + '_ {
        self.of(id).iter()
    }

    /// The position of a slab within a set.
    pub fn position(&self, id: SetId, slab: usize) -> Option<usize> {
        self.of(id).position(slab)
    }
}

/// A figure of a line, by its position, in a unit.
type OfLine = ((usize, PricedBy), Result<Decimal, Overflow>);

/// A figure of a line in a unit: as it was worked out first, where that was of the same.
fn known(
    first: Option<&OnceLock<OfLine>>,
    of: (usize, PricedBy),
    worked: impl Fn() -> Result<Decimal, Overflow>,
) -> Result<Decimal, Overflow> {
    match first.map(|first| first.get_or_init(|| (of, worked()))) {
        Some((known, figure)) if *known == of => *figure,
        _ => worked(),
    }
}

/// The first and the last of slabs that come one after the other; `None` where there are gaps, or none.
fn row(slabs: &[u32]) -> Option<Range<usize>> {
    let first = usize::try_from(*slabs.first()?).ok()?;
    let is_row = (first..).zip(slabs).all(|(at, slab)| u32::try_from(at) == Ok(*slab));
    is_row.then_some(first..first + slabs.len())
}

/// The sets of the whole shipment and of each bundle, and the slabs that are listed for them.
fn by_bundle(shipment: &Shipment) -> (Vec<Held>, Vec<u32>) {
    let bundles = shipment.bundles.len();
    let bundle_of = |slab: &Slab| usize::try_from(slab.bundle).unwrap_or(usize::MAX);
    let mut sizes = vec![0; bundles];
    let mut is_in_order = true;
    let mut last = 0;
    for slab in shipment.slabs.iter() {
        if let Some(size) = sizes.get_mut(bundle_of(slab)) {
            *size += 1;
        }
        is_in_order &= last <= slab.bundle;
        last = slab.bundle;
    }
    let mut bounds = Vec::with_capacity(bundles);
    let mut end = 0;
    for size in sizes {
        bounds.push(end..end + size);
        end += size;
    }
    let whole = std::iter::once(Held::Row(0..shipment.slabs.len()));
    // Most lists have their slabs bundle by bundle; otherwise each is put in its bundle.
    if is_in_order {
        return (whole.chain(bounds.into_iter().map(Held::Row)).collect(), Vec::new());
    }
    let mut slabs = vec![0; end];
    let mut next: Vec<usize> = bounds.iter().map(|bound| bound.start).collect();
    for (index, slab) in (0..).zip(shipment.slabs.iter()) {
        if let Some(at) = next.get_mut(bundle_of(slab))
            && let Some(slot) = slabs.get_mut(*at)
        {
            *slot = index;
            *at += 1;
        }
    }
    (whole.chain(bounds.into_iter().map(Held::Listed)).collect(), slabs)
}
