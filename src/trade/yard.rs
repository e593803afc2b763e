//! The importer's own yards.

use super::calendar::word_of;
use super::code::{Country, Port};
use crate::fault::Place;
use crate::quantity::{Currency, Mass, Percent, Units};

/// By what rules books are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Framework {
    /// The international standards: IAS 2, IAS 21, IFRS 9.
    #[default]
    Ifrs,
    /// The rules of the United States.
    UsGaap,
}

impl Framework {
    /// Both with their written form.
    pub const ALL: [(Self, &'static str); 2] = [(Self::Ifrs, "ifrs"), (Self::UsGaap, "us-gaap")];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// A branch where the slabs stand on racks.
#[derive(Debug, Clone)]
pub struct Yard {
    /// The name shipments refer to.
    pub id: String,
    /// Its name in full.
    pub name: String,
    /// The country it is in.
    pub country: Country,
    /// The port its goods come through.
    pub port: Port,
    /// Other ports that it is reached from.
    pub ports: Vec<Port>,
    /// The currency its books are kept in.
    pub currency: Currency,
    /// The customs regime it imports under.
    pub regime: String,
    /// What its fork or crane lifts safely.
    pub lift: Mass,
    /// What the crane lifts safely, where a bundle passes both fork and crane.
    pub crane: Option<Mass>,
    /// Whether what it lifts is a figure to start with.
    pub is_starter: bool,
    /// Cargo, packing and dunnage above which it must be certified to the haulier.
    pub certify_over: Option<Mass>,
    /// Whether charges that are a percentage of a value go by each slab's part of that value, and not
    /// by area, where neither row nor policy says.
    pub by_base: bool,
    /// From which share of a slab's landed cost it is told what the other way would move.
    pub tell_shift: Percent,
    /// By what rules its books are kept.
    pub framework: Framework,
    /// Days from arrival at the port to delivery, where a shipment does not say.
    pub delivery_days: u32,
    /// Its row.
    pub place: Place,
}

impl Yard {
    /// What at the yard does not lift a mass, each in a sentence without its final stop.
    pub fn refuses(&self, mass: Mass, units: Units) -> Vec<String> {
        let shown = |mass: Mass| mass.show_closely(units);
        let over = |name: &str, most: Mass| {
            format!("{} is above the yard's {name} of {}", shown(mass), shown(most))
        };
        let mut all = Vec::new();
        if mass > self.lift {
            all.push(over("lift", self.lift));
        }
        if let Some(crane) = self.crane.filter(|crane| mass > *crane) {
            all.push(over("crane", crane));
        }
        all
    }
}
