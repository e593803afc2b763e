//! A load as others may be told of it.

use std::collections::BTreeSet;

use super::bundle::OutgoingBundle;
use super::goods::{own_bundles, own_invoices};
use super::hold::Hold;
use super::list::{Audience, Fact};
use super::rig::Rig;
use crate::load::{BoxSummary, Order, Weighed, certified, mass_sheet, tickets};
use crate::quantity::{Decimal, Length, Mass, Overflow};
use crate::trade::{Bundle, CalledPort, Shipment};

/// A load for an audience.
#[derive(Debug, Clone)]
pub struct OutgoingLoad<'a> {
    /// Who is told.
    pub to: Audience,
    /// The supplier and the numbers of his invoices, where he is told.
    pub invoice: Option<(&'a str, Vec<&'a str>)>,
    /// The port of loading.
    pub from: Option<&'a CalledPort>,
    /// The port of arrival.
    pub port: &'a CalledPort,
    /// The yard's name.
    pub yard: Option<&'a str>,
    /// Whether bundles are made up, as no packing list is there.
    pub is_nominal: bool,
    /// The containers.
    pub boxes: Vec<OutgoingBox<'a>>,
}

/// A container for an audience.
#[derive(Debug, Clone)]
pub struct OutgoingBox<'a> {
    /// What it is called.
    pub label: &'a str,
    /// Its type as the trade writes it.
    pub kind: &'a str,
    /// Its type as plan.toml has it.
    pub kind_id: &'a str,
    /// Its size and type code.
    pub iso: Option<String>,
    /// Its number.
    pub number: Option<String>,
    /// Its seal.
    pub seal: Option<&'a str>,
    /// Inside length, width and height.
    pub inside: [Length; 3],
    /// The bundles in loading order.
    pub bundles: Vec<OutgoingBundle<'a>>,
    /// The bundles among them that have no way in, in any order.
    pub stuck: Vec<&'a str>,
    /// Whether goods that the audience is not told of travel in it, too.
    pub is_shared: bool,
    /// The mass of all its bundles; none of a shared one.
    pub mass: Option<Mass>,
    /// The centre of gravity of its bundles from the front, the left wall and the floor, in mm to one
    /// place, where their places are known; none of a shared one.
    pub centre: Option<[Decimal; 3]>,
    /// What the works do to hold its cargo; none of a shared one.
    pub hold: Option<Hold<'a>>,
    /// What a haulier is told of it.
    pub haulage: Option<Haulage<'a>>,
}

/// A container as a haulier takes it.
#[derive(Debug, Clone)]
pub struct Haulage<'a> {
    /// Bundles, dunnage and tare, as they are expected.
    pub gross: Mass,
    /// The same with the margin for slabs thicker than stated, as limits and axle loads take it.
    pub at_most: Mass,
    /// The tare.
    pub tare: Weighed,
    /// Dunnage and lashing.
    pub dunnage: Weighed,
    /// Where that figure is from.
    pub dunnage_from: &'static str,
    /// Each rig that is known under it.
    pub rigs: Vec<Rig>,
    /// Cargo, packing and dunnage as expected and with that margin, and what the goods are, where they must be
    /// certified in writing (49 U.S.C. 5902(b)).
    pub certified: Option<([Mass; 2], &'a str)>,
}

impl<'a> OutgoingLoad<'a> {
    /// What a haulier is told of a load.
    ///
    /// # Errors
    /// Where a figure cannot be held.
    pub fn for_haulier(
        shipment: &'a Shipment,
        summaries: &'a [BoxSummary<'a>],
    ) -> Result<Self, Overflow> {
        Self::of(shipment, summaries, Audience::Haulier, None)
    }

    /// What a supplier is told of a load: of containers with a bundle of his.
    ///
    /// # Errors
    /// Where a figure cannot be held.
    pub fn for_supplier(
        shipment: &'a Shipment,
        summaries: &'a [BoxSummary<'a>],
        supplier: &'a str,
    ) -> Result<Self, Overflow> {
        Self::of(shipment, summaries, Audience::Supplier, Some(supplier))
    }

    fn of(
        shipment: &'a Shipment,
        summaries: &'a [BoxSummary<'a>],
        to: Audience,
        supplier: Option<&'a str>,
    ) -> Result<Self, Overflow> {
        let own = supplier.map(|supplier| own_bundles(shipment, supplier));
        let boxes = summaries.iter().map(|one| boxed(shipment, one, to, own.as_ref()));
        let boxes: Vec<_> = boxes.collect::<Result<_, _>>()?;
        Ok(Self {
            to,
            invoice: supplier
                .and_then(|name| to.told(Fact::Invoice, (name, own_invoices(shipment, name)))),
            from: to.told(Fact::Loading, &shipment.from),
            port: &shipment.to,
            yard: to.told(Fact::Yard, &shipment.yard.name),
            is_nominal: shipment.is_nominal(),
            boxes: boxes.into_iter().filter(|one| !one.bundles.is_empty()).collect(),
        })
    }

    /// Whether goods that the audience is not told of travel in any of its containers.
    pub fn is_shared(&self) -> bool {
        self.boxes.iter().any(|one| one.is_shared)
    }
}

fn boxed<'a>(
    shipment: &'a Shipment,
    one: &'a BoxSummary<'a>,
    to: Audience,
    own: Option<&BTreeSet<&str>>,
) -> Result<OutgoingBox<'a>, Overflow> {
    let container = &one.variant.container;
    let is_own = |bundle: &Bundle| own.is_none_or(|own| own.contains(bundle.id.as_str()));
    let bundles: Vec<_> = one
        .standing
        .iter()
        .filter(|standing| is_own(standing.bundle))
        .map(|standing| OutgoingBundle::standing(standing, to))
        .collect();
    let is_shared = bundles.len() < one.standing.len();
    // Which have no way in follows from where they stand.
    let stuck = match &one.order {
        Some(Order::Stuck(stuck)) => {
            to.told(Fact::Place, stuck.all().collect::<Vec<usize>>()).unwrap_or_default()
        }
        _ => Vec::new(),
    };
    let stuck = stuck.iter().filter_map(|at| one.standing.get(*at)).map(|standing| standing.bundle);
    let mass = Mass::total(bundles.iter().map(|bundle| bundle.mass))?;
    let centre = match (one.cog_x, one.cog_y, one.cog_z) {
        (Some(x), Some(y), Some(z)) => to.told(Fact::Centre, [x, y, z]),
        _ => None,
    };
    Ok(OutgoingBox {
        label: &one.filled.label,
        kind: &container.name,
        kind_id: &container.id,
        iso: container.iso.as_ref().map(ToString::to_string),
        number: one.filled.number.as_ref().map(ToString::to_string),
        seal: one.filled.seal.as_deref(),
        inside: container.inside,
        bundles,
        stuck: stuck.filter(|bundle| is_own(bundle)).map(|bundle| bundle.id.as_str()).collect(),
        is_shared,
        mass: Some(mass).filter(|_| !is_shared),
        centre: centre.filter(|_| !is_shared),
        hold: match (&one.held, is_shared) {
            (Some(held), false) => to.told(Fact::Hold, Hold::of(held, &one.standing)),
            _ => None,
        },
        haulage: match to.told(Fact::Gross, one) {
            Some(one) => Some(haulage(shipment, one, to)?),
            None => None,
        },
    })
}

fn haulage<'a>(
    shipment: &Shipment,
    one: &'a BoxSummary<'_>,
    to: Audience,
) -> Result<Haulage<'a>, Overflow> {
    let sheet = mass_sheet(one)?;
    let to_yard = one.roads.iter().filter(|report| !report.road.at_origin);
    let cargo = sheet.bundles.plus(sheet.dunnage.mass)?;
    Ok(Haulage {
        gross: sheet.total,
        at_most: one.gross,
        tare: sheet.tare,
        dunnage: sheet.dunnage,
        dunnage_from: sheet.dunnage_from,
        rigs: to_yard.zip(tickets(one)?).filter_map(|(on, own)| Rig::of(on, own, to)).collect(),
        certified: certified(one, &shipment.yard).and_then(|_| {
            to.told(Fact::Certification, ([cargo, one.cargo], one.contents.as_str()))
        }),
    })
}
