//! A bundle as others may be told of it.

use super::list::{Audience, Fact};
use crate::load::Standing;
use crate::quantity::{Length, Mass};
use crate::trade::Bundle;

/// A bundle for an audience.
#[derive(Debug, Clone)]
pub struct OutgoingBundle<'a> {
    /// Its name.
    pub id: &'a str,
    /// The block it was sawn from.
    pub block: Option<&'a str>,
    /// How many slabs it has.
    pub slabs: Option<usize>,
    /// Outside length, width and height, in mm up.
    pub size: [i64; 3],
    /// Its mass with timber.
    pub mass: Mass,
    /// Whether it was weighed.
    pub is_weighed: bool,
    /// Its corner from the front end and the left wall, in mm.
    pub at: Option<(i64, i64)>,
    /// Whether its length lies across the box.
    pub turned: bool,
}

impl<'a> OutgoingBundle<'a> {
    /// A bundle as its supplier is told of it, wherever it stands.
    pub(super) fn of_supplier(bundle: &'a Bundle) -> Self {
        Self::of(bundle, Audience::Supplier)
    }

    fn of(bundle: &'a Bundle, to: Audience) -> Self {
        Self {
            id: &bundle.id,
            block: to.told(Fact::Slabs, bundle.block.as_deref()).flatten(),
            slabs: to.told(Fact::Slabs, bundle.slabs),
            size: [bundle.length, bundle.width, bundle.height].map(Length::mm_up),
            mass: bundle.mass,
            is_weighed: bundle.weighing.is_weighed(),
            at: None,
            turned: false,
        }
    }

    /// A bundle where it stands.
    pub(super) fn standing(standing: &Standing<'a>, to: Audience) -> Self {
        let (at, turned) = (standing.at, standing.turned);
        Self { at, turned, ..Self::of(standing.bundle, to) }
    }

    /// Its extent along the box and across it, in mm.
    pub fn floor(&self) -> [i64; 2] {
        let [length, width, _] = self.size;
        if self.turned { [width, length] } else { [length, width] }
    }
}
