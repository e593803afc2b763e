//! Sets of slabs that share a charge, each made once.

use std::cell::OnceCell;
use std::collections::BTreeMap;

use crate::trade::{Shipment, Slab};

/// A set of slabs, by position in [`Sets`].
pub type SetId = usize;

/// The sets of slabs of one calculation. Set 0 is the whole shipment.
#[derive(Debug, Clone)]
pub struct Sets {
    sets: Vec<Members>,
    by_name: BTreeMap<String, SetId>,
    count: usize,
    by_bundle: OnceCell<Vec<Vec<u32>>>,
}

#[derive(Debug, Clone)]
enum Members {
    All,
    Some(Vec<u32>),
}

impl Sets {
    /// The whole shipment.
    pub const ALL: SetId = 0;

    /// Only the set of all slabs.
    pub fn new(shipment: &Shipment) -> Self {
        Self {
            sets: vec![Members::All],
            by_name: BTreeMap::new(),
            count: shipment.slabs.len(),
            by_bundle: OnceCell::new(),
        }
    }

    /// The slabs of every bundle, by position, in packing-list order.
    pub(super) fn by_bundle(&self, shipment: &Shipment) -> &[Vec<u32>] {
        self.by_bundle.get_or_init(|| {
            let mut bundles = vec![Vec::new(); shipment.bundles.len()];
            for (index, slab) in shipment.slabs.iter().enumerate() {
                let slabs = usize::try_from(slab.bundle).ok().and_then(|at| bundles.get_mut(at));
                if let (Some(slabs), Ok(index)) = (slabs, u32::try_from(index)) {
                    slabs.push(index);
                }
            }
            bundles
        })
    }

    /// The set of this name, made by `keep` if it is new. Empty sets and sets of every slab are
    /// recognised; an empty one is `None`.
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
            self.sets.push(Members::Some(members));
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
        match self.sets.get(id) {
            Some(Members::Some(members)) => members.len(),
            Some(Members::All) => self.count,
            None => 0,
        }
    }

    /// The positions of a set's slabs, in packing-list order.
    pub fn members(&self, id: SetId) -> impl Iterator<Item = usize> + Clone + '_ {
        let (all, some) = match self.sets.get(id) {
            Some(Members::Some(members)) => (0..0, members.as_slice()),
            Some(Members::All) => (0..self.count, [].as_slice()),
            None => (0..0, [].as_slice()),
        };
        all.chain(some.iter().filter_map(|index| usize::try_from(*index).ok()))
    }

    /// The position of a slab within a set.
    pub fn position(&self, id: SetId, slab: usize) -> Option<usize> {
        match self.sets.get(id)? {
            Members::All => (slab < self.count).then_some(slab),
            Members::Some(members) => members.binary_search(&u32::try_from(slab).ok()?).ok(),
        }
    }
}
