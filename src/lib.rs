//! Quaystone: what a natural-stone importer's slabs cost on the rack, to the cent.
//!
//! Data flows one way, and a module uses only those listed above it:
//!
//! ```text
//! rates/*.toml, shipments/NAME/*   files
//!   -> read    -> trade::Shipment, trade::Tariffs        what the files say
//!   -> import  -> import::Imported                       a supplier's list as packing.csv has it
//!   -> price   -> price::Priced                          what a row comes to
//!   -> load    -> load::Plan                             which bundle in which box, with proof
//!   -> outgoing -> outgoing::OutgoingLoad                what of it others may be told
//!   -> bill    -> bill::Charge                           what a charge is, and who shares it
//!   -> customs -> customs::Entry                         which goods are entered how, and the duty on them
//!   -> charges -> charges::Charged                       every charge: invoices, boxes, tables in their order
//!   -> spread  -> spread::round                          charges over slabs, to the cent
//!   -> cost    -> cost::Landed                           every slab, every cent
//!   -> choose  -> choose::Costed                         the cheapest of offers, loads, shares of boxes
//!   -> decide  -> decide::Comparison                     offers on one footing
//!   -> starter -> starter::Wanted                        a workspace to start with, from our own tables
//!   -> book    -> trade::Freeze                          the estimate as the books keep it
//!   -> ledger  -> ledger::Ledger                         what became of it: a fold over dated events
//!   -> sell    -> sell::Listing                          what slabs are sold at, how long a stone lasts
//!   -> show    -> text, markdown, html, csv, xlsx, json  formats, never computes
//! ```
//!
//! Bad input never stops at the first fault: each stage takes a [`fault::Report`] and gathers.

pub mod quantity;

pub mod fault;
pub mod files;

pub mod trade;

pub mod read;

pub mod import;

pub mod price;

pub mod load;

pub mod outgoing;

pub mod bill;

pub mod customs;

pub mod charges;

pub mod spread;

pub mod cost;

pub mod choose;

pub mod decide;

pub mod starter;

pub mod book;

pub mod ledger;

pub mod sell;

pub mod show;

pub mod cli;
