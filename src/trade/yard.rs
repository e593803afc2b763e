//! The importer's own yards.

use super::code::{Country, Port};
use crate::fault::Place;
use crate::quantity::{Currency, Mass};

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
    /// The currency its books are kept in.
    pub currency: Currency,
    /// The customs regime it imports under.
    pub regime: String,
    /// What its fork or crane lifts safely.
    pub lift: Mass,
    /// Days from arrival at the port to delivery, where a shipment does not say.
    pub delivery_days: u32,
    /// Its row.
    pub place: Place,
}
