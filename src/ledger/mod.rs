//! The ledger of booked goods: a fold over dated events. Nothing else is stored.
//!
//! ```text
//! entry      one event's lines, balanced
//! deal       differences over slabs, so that totals stay the rounding of what is exact
//! whereabouts where a slab is, and the account of that place
//! undo       what an event did
//! owed       when a charge was owed
//! state      how slabs, charges and open items stand
//! names      what the names of an event mean
//! posting    the few things that may happen to the state, each with its line and its way back
//! cut        a slab into pieces
//! consigned  slabs of others, and slabs that came over and are taken in
//! found      what is found of slabs at their arrival or in a count
//! counted    a yard counted
//! duty       duty that customs change later on
//! look       what an event is looked up by
//! goods      advances, control and what is owed
//! divided    a bill for several charges
//! bills      bills, credits, payments, claims
//! reserve    slabs set aside for a customer
//! yard       arrival, moves, issues, returns, losses, write-downs
//! close      the end of a period
//! reverse    an event taken back
//! fold       events in their order
//! apart      shipments that share nothing, each folded by itself
//! identities what must hold at every date
//! audit      accounts from day to day
//! summed     what of the journal is exported
//! arriving   a list of the yard against the packing list, as events
//! arrived    what stood on the rack against the packing list
//! stock      the list of slabs on a day
//! grouped    the list summed up
//! settle     what was estimated against what was billed
//! ```

mod apart;
mod arrived;
mod arriving;
mod audit;
mod bills;
mod close;
mod consigned;
mod counted;
mod cut;
mod deal;
mod divided;
mod duty;
mod entry;
mod fold;
mod found;
mod goods;
mod grouped;
mod identities;
mod look;
mod names;
mod owed;
mod posting;
mod reserve;
mod reverse;
mod settle;
mod state;
mod stock;
mod summed;
mod undo;
mod whereabouts;
mod yard;

pub use apart::{Order, Part, Whole, apart, at_once};
pub use arrived::{Arrived, arrived, found};
pub use arriving::arriving;
pub use audit::{Audited, added, audited, kept_by};
pub use close::{Closed, debits};
pub use deal::deal;
pub use entry::{Entry, Line};
pub use fold::{Reading, fold};
pub use grouped::{Grouped, StockBy, grouped, regrouped};
pub use identities::{Broken, identities};
pub use owed::Owed;
pub use reserve::Reservation;
pub use settle::{Settled, Sums, by_currency, open_by_age, settled, together};
pub use state::{ChargeState, Consigned, Ledger, Open, Piece, SlabState};
pub use stock::{Listed, stock};
pub use summed::{Per, beyond, summed};
pub use whereabouts::Where;
