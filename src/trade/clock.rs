//! Time that a charge is for: days, months, hours.

use super::calendar::Event;
use super::workday::DayCount;
use crate::fault::At;
use crate::quantity::Hours;

/// Time that a row charges: its rate is for each unit of it.
#[derive(Debug, Clone)]
pub enum Clock {
    /// Days between two events, as they are counted, less those that are free.
    Days {
        /// From which event to which.
        between: (Event, Event),
        /// Days that are free before the counting starts.
        free: u32,
        /// Which days count.
        count: DayCount,
    },
    /// Spans of so many months between two events, a part of one counted whole.
    Months {
        /// From which event to which.
        between: (Event, Event),
        /// The months of a span.
        each: u32,
    },
    /// Hours that the shipment states, of waiting or of a crane, less those that are free.
    Hours {
        /// Which hours of the shipment, by their name.
        name: At<String>,
        /// Hours that are free.
        free: Hours,
        /// Whether a part of an hour counts as a whole one.
        begun: bool,
    },
}

impl Clock {
    /// From which event to which it runs; hours are stated.
    pub fn between(&self) -> Option<(Event, Event)> {
        match self {
            Self::Days { between, .. } | Self::Months { between, .. } => Some(*between),
            Self::Hours { .. } => None,
        }
    }
}
