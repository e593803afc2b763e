//! The limits on the cargo of one box, each under its own name.

use crate::fault::Place;
use crate::quantity::{Mass, Overflow};
use crate::trade::{ContainerType, LimitKind, LimitOn};

/// A limit on the cargo of one box: bundles, timber, dunnage and lashing together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limit {
    /// Its name, such as "plate payload".
    pub name: String,
    /// Of which kind.
    pub kind: LimitKind,
    /// What it is stated on: one on the gross mass follows a tare that is read off the box.
    pub on: LimitOn,
    /// The most cargo.
    pub cargo: Mass,
    /// Where it is stated.
    pub place: Place,
}

/// What limits the cargo of a box.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limits {
    /// What the plate leaves: greatest gross mass less tare (ISO 668: P = R - T).
    pub plate: Limit,
    /// What carriers, hauliers and customs of the road say in their tables, in file order.
    pub stated: Vec<Limit>,
    /// What each road leaves on its rig.
    pub roads: Vec<RoadLimits>,
    /// The top of a surcharge's tier, which binds the loader alone: a heavier box pays the next.
    pub tier: Option<Limit>,
}

/// What a road leaves for cargo, dunnage counted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RoadLimits {
    /// By the gross mass of the rig; `None` where the road has no such rule.
    pub gross: Option<Limit>,
    /// By all its axles together, with the cargo where it suits them best; `None` where another limit is
    /// below it.
    pub axles: Option<Limit>,
}

impl Limits {
    /// The plate alone.
    ///
    /// # Errors
    /// On overflow.
    pub fn of_plate(container: &ContainerType) -> Result<Self, Overflow> {
        let plate = Limit {
            name: "plate payload".to_owned(),
            kind: LimitKind::Equipment,
            on: LimitOn::Gross,
            cargo: container.payload()?,
            place: container.place.clone(),
        };
        Ok(Self { plate, stated: Vec::new(), roads: Vec::new(), tier: None })
    }

    /// Each of them: the plate, what is stated, the roads, the tier.
    pub fn each(&self) -> impl Iterator<Item = &Limit> {
        let roads = self.roads.iter().flat_map(|road| road.gross.iter().chain(&road.axles));
        std::iter::once(&self.plate).chain(&self.stated).chain(roads).chain(&self.tier)
    }

    /// The limit that binds: the least, the first of equal ones.
    pub fn binding(&self) -> &Limit {
        self.each().min_by_key(|limit| limit.cargo).unwrap_or(&self.plate)
    }

    /// The same limits for a box that is so much heavier or lighter than its type, without those of
    /// the roads, which follow from its axles.
    ///
    /// # Errors
    /// On overflow.
    pub fn at_tare(&self, usual: Mass, own: Mass) -> Result<Self, Overflow> {
        let moved = |limit: &Limit| -> Result<Limit, Overflow> {
            let mut limit = limit.clone();
            if limit.on == LimitOn::Gross {
                limit.cargo = limit.cargo.plus(usual)?.minus(own)?;
            }
            Ok(limit)
        };
        Ok(Self {
            plate: moved(&self.plate)?,
            stated: self.stated.iter().map(moved).collect::<Result<_, _>>()?,
            roads: Vec::new(),
            tier: self.tier.as_ref().map(moved).transpose()?,
        })
    }
}
