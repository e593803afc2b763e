//! Decisions: offers on one footing.
//!
//! ```text
//! footing   the areas that offers are compared on, and money over area, exact
//! part      like goods of one offer: their areas, and what their slabs land at
//! offer     an offer with its parts, and why it may have no rank
//! compare   like with like, ordered
//! carry     what serves on after it has lapsed, where the user asks for it
//! lever     what is moved to find a price, step by step
//! rises     whether a cost can only rise with the prices of its goods
//! counter   the highest price at which an offer is not dearer
//! change    a change of what was read, and what is changed by it; named: what a change in words names
//! whatif    offers under changes, each alone and all together
//! sweep     offers where rates and prices are drawn from ranges; sample: where a draw stands in them;
//!           drawn, an offer of which draws are made
//! saw       what comes of a block, and where two methods to saw it break even
//! routes    by which ports and with which ship: every chain of an offer
//! topup     what else to take of a list: on_offer, a list and a purchase of it; units, what is chosen together;
//!           marginal, a cost that no choice goes below; fill, the knapsack
//! over      the cheapest of some, or where one meets a target, over a range: bundles, days of sailing, a rate of
//!           exchange, a charge; turns, the rows that begin or end between two days
//! ```

mod carry;
mod change;
mod compare;
mod counter;
mod drawn;
mod fill;
mod footing;
mod lever;
mod marginal;
mod named;
mod offer;
mod on_offer;
mod over;
mod part;
mod rises;
mod routes;
mod sample;
mod saw;
mod sweep;
mod topup;
mod turns;
mod units;
mod whatif;

pub use carry::{Served, first_fault, lapsed, served};
pub use change::{Change, ChargeTo, Charges, DensityTo, DutyTo, PriceTo, is_on_lane};
pub use compare::{
    Across, Asked, Cause, Comparison, Entry, Gap, Group, NoRank, OnStarters, Refusal, Standing,
    compare,
};
pub use counter::{Bid, Cost, Countered, Meeting, NoMeeting, Search, Trial, counter, meet, target};
pub use footing::{Allowances, Footing, NoArea, PerArea, Surface};
pub use lever::{Grid, Lever, Moved, NoGrid, Step};
pub use named::{Named, bare_end, end_of_range, named, term};
pub use offer::{Fits, Full, Offer, Whole, unfit};
pub use on_offer::{Purchase, Within};
pub use over::{
    AtValue, MOST_VALUES, NoOver, Over, Value, Winner, alike, kinks, over, ranges, refused,
};
pub use part::{Like, Part, Sums, parts, whole};
pub use routes::{Route, Routes, routes};
pub use saw::{BreakEven, SawWay, SawnBlock, Yield, saw};
pub use sweep::{Draws, Range, Sweep, Swept, sweep};
pub use topup::{Aim, Choice, Topped, topup};
pub use turns::Turn;
pub use whatif::{Asking, Case, what_if};
