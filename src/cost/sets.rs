//! Sets of slabs that share a charge, each made once.

use std::collections::BTreeMap;

use crate::trade::{Shipment, Slab};

/// A set of slabs, by position in [`Sets`].
pub type SetId = usize;

/// The sets of slabs of one calculation. Set 0 is the whole shipment; then comes a set for each
/// bundle, and after those whatever sets the charges ask for.
#[derive(Debug, Clone)]
pub struct Sets {
    sets: Vec<Vec<u32>>,
    bundles: usize,
    by_name: BTreeMap<String, SetId>,
    count: usize,
}

impl Sets {
    /// The whole shipment.
    pub const ALL: SetId = 0;

    /// The sets every shipment has: all slabs, and each bundle's.
    pub fn new(shipment: &Shipment) -> Self {
        let bundles = shipment.bundles.len();
        let mut sets = vec![Vec::new(); bundles + 1];
        for (index, slab) in shipment.slabs.iter().enumerate() {
            let slabs = usize::try_from(slab.bundle).ok().and_then(|at| sets.get_mut(at + 1));
            if let (Some(slabs), Ok(index)) = (slabs, u32::try_from(index)) {
                slabs.push(index);
            }
        }
        Self { sets, bundles, by_name: BTreeMap::new(), count: shipment.slabs.len() }
    }

    /// The slabs of a bundle, by the bundle's position.
    pub(super) fn bundle(&self, bundle: usize) -> &[u32] {
        self.sets.get(bundle + 1).filter(|_| bundle < self.bundles).map_or(&[], Vec::as_slice)
    }

    /// The slabs of a bundle that lie in a set; `None` where there are none.
    pub(super) fn bundle_within(&mut self, bundle: usize, set: SetId) -> Option<SetId> {
        let slabs = self.bundle(bundle);
        let inside = |slab: &&u32| {
            usize::try_from(**slab).is_ok_and(|slab| self.position(set, slab).is_some())
        };
        if set == Self::ALL || slabs.iter().all(|slab| inside(&slab)) {
            return (!slabs.is_empty()).then_some(bundle + 1);
        }
        let members: Vec<u32> = slabs.iter().filter(inside).copied().collect();
        let is_empty = members.is_empty();
        let id = self.add(format!("bundle {bundle} of {set}"), members);
        (!is_empty).then_some(id)
    }

    /// The set of this name, made by `keep` if it is new; `None` where it is empty.
    pub fn make(
        &mut self,
        name: String,
        shipment: &Shipment,
        keep: impl Fn(&Slab) -> bool,
    ) -> Option<SetId> {
        let known = self.by_name.get(&name).copied();
        let id = known.unwrap_or_else(|| {
            let members = shipment.slabs.iter().enumerate().filter(|(_, slab)| keep(slab));
            let members = members.filter_map(|(index, _)| u32::try_from(index).ok()).collect();
            self.add(name, members)
        });
        (self.len(id) > 0).then_some(id)
    }

    /// Adds a named set by its members, in packing-list order.
    pub fn add(&mut self, name: String, members: Vec<u32>) -> SetId {
        let id = if members.len() == self.count {
            Self::ALL
        } else {
            self.sets.push(members);
            self.sets.len() - 1
        };
        self.by_name.insert(name, id);
        id
    }

    /// The named set, if it was made.
    pub fn named(&self, name: &str) -> Option<SetId> {
        self.by_name.get(name).copied()
    }

    /// How many slabs a set has.
    pub fn len(&self, id: SetId) -> usize {
        if id == Self::ALL { self.count } else { self.sets.get(id).map_or(0, Vec::len) }
    }

    /// The positions of a set's slabs, in packing-list order.
    pub fn members(&self, id: SetId) -> impl Iterator<Item = usize> + Clone + '_ {
        let all = if id == Self::ALL { 0..self.count } else { 0..0 };
        let some = self.sets.get(id).map_or(&[][..], Vec::as_slice);
        all.chain(some.iter().filter_map(|index| usize::try_from(*index).ok()))
    }

    /// The position of a slab within a set.
    pub fn position(&self, id: SetId, slab: usize) -> Option<usize> {
        if id == Self::ALL {
            return (slab < self.count).then_some(slab);
        }
        self.sets.get(id)?.binary_search(&u32::try_from(slab).ok()?).ok()
    }
}
