//! Every limit of a box, from the tables, by its name and kind.
//!
//! A limit on mass is on the cargo: bundles, timber, dunnage and lashing together. Floor, door and lift are
//! the container's and the yard's own measures; the limits of balance and axles on places are in
//! [`Planes`].
//!
//! Decided on 2026-11-26. A tare that was read and dunnage that was weighed replace the type's in every
//! limit of that box. So a box of a plan file is a variant of its own.

mod limit;
mod lower;
mod planes;
mod road;
mod stated;
mod unknown;

pub use limit::{Limit, Limits, RoadLimits};
pub(super) use lower::lower;
pub use lower::{LowFigure, Lower};
pub(super) use planes::{BALANCE_ACROSS, Plane, Planes};
pub(super) use road::on_road;
pub use stated::{Limited, Way, limited};
pub use unknown::Unknown;
pub(super) use unknown::unknown;
