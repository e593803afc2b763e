//! A slab as its tag tells of it. No cost is in it and no supplier: whoever walks past reads it.

use std::collections::BTreeMap;

use crate::quantity::{Area, Length, Mass, Overflow, Size};
use crate::trade::{Country, Shipment, Slab, Tariffs};

/// A slab for its tag.
#[derive(Debug, Clone)]
pub struct Tag<'a> {
    /// Its number: the packing list's, by which the books know it, too.
    pub number: &'a str,
    /// The line of the packing list it stands on.
    pub row: u32,
    /// The trade name of its stone.
    pub stone: &'a str,
    /// The finish.
    pub finish: &'a str,
    /// The thickness.
    pub thickness: Length,
    /// What its quality is called.
    pub quality: Option<&'a str>,
    /// Its sides as sawn.
    pub size: Size,
    /// What can be used of it, where the tables say what its edges take.
    pub usable: Option<Area>,
    /// The most it may weigh, for whoever lifts it. No slab stands on the scales alone: in a weighed bundle, too, one may
    /// be thicker than the others.
    pub at_most: Mass,
    /// The country of origin.
    pub origin: &'a Country,
    /// The block it was sawn from.
    pub block: Option<&'a str>,
    /// Its bundle.
    pub bundle: &'a str,
    /// Its place in the order in which the block was sawn.
    pub order: Option<&'a str>,
    /// Its book-matched set, and the other slabs of that.
    pub matched: Option<(&'a str, Vec<&'a str>)>,
}

impl<'a> Tag<'a> {
    /// The tags of a shipment's slabs, in the order of the packing list. A slab without a list has none: it is made up.
    ///
    /// # Errors
    /// Where a figure cannot be held exactly.
    pub fn of(shipment: &'a Shipment, tariffs: &'a Tariffs) -> Result<Vec<Self>, Overflow> {
        let mut sets: BTreeMap<&str, Vec<&'a str>> = BTreeMap::new();
        for slab in &*shipment.slabs {
            if let Some(set) = shipment.marked.get(&slab.id).and_then(|own| own.set.as_deref()) {
                sets.entry(set).or_default().push(&slab.id);
            }
        }
        let listed = shipment.slabs.iter().filter(|slab| slab.row > 0);
        listed.filter_map(|slab| tag(slab, shipment, tariffs, &sets).transpose()).collect()
    }
}

fn tag<'a>(
    slab: &'a Slab,
    shipment: &'a Shipment,
    tariffs: &'a Tariffs,
    sets: &BTreeMap<&str, Vec<&'a str>>,
) -> Result<Option<Tag<'a>>, Overflow> {
    let at = |index: u32| usize::try_from(index).ok();
    let line = at(slab.line).and_then(|index| shipment.lines.get(index));
    let bundle = at(slab.bundle).and_then(|index| shipment.bundles.get(index));
    let (Some(line), Some(bundle), Some(sides)) = (line, bundle, slab.sides()) else {
        return Ok(None);
    };
    let (size, quality) = (sides.size(), slab.quality());
    let stone = tariffs.stone(&line.stone.value);
    let allowance = tariffs.allowance(&line.stone.value, quality);
    let named = quality.map(|word| tariffs.quality(word).map_or(word, |known| &known.name));
    let marked = shipment.marked.get(&slab.id);
    let set = marked.and_then(|own| own.set.as_deref());
    let others = |set: &'a str| -> Vec<&'a str> {
        let all = sets.get(set).into_iter().flatten();
        all.copied().filter(|other| *other != slab.id).collect()
    };
    Ok(Some(Tag {
        number: &slab.id,
        row: slab.row,
        stone: stone.map_or(&line.stone.value, |stone| &stone.name),
        finish: &line.finish.id,
        thickness: line.thickness,
        quality: named,
        size,
        usable: allowance.map(|own| own.usable(size)).transpose()?,
        at_most: stone.map_or(Ok(slab.mass), |stone| stone.at_most(slab.mass))?,
        origin: &line.origin,
        block: bundle.block.as_deref(),
        bundle: &bundle.id,
        order: marked.and_then(|own| own.order.as_deref()),
        matched: set.map(|set| (set, others(set))),
    }))
}
