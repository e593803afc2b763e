//! A rig under a container as its haulier may be told of it.

use super::list::{Audience, Fact};
use crate::load::{RoadReport, Ticket, TicketLine};
use crate::quantity::{Length, Mass};

/// A rig under a container.
#[derive(Debug, Clone)]
pub struct Rig {
    /// Which way the doors look.
    pub doors: &'static str,
    /// Its axles from the front, at most.
    pub axles: Vec<Axle>,
    /// What a truck scale shows.
    pub lines: Vec<Line>,
    /// What presses on the fifth wheel, as expected and at most.
    pub kingpin: [Mass; 2],
    /// The holes of a slider.
    pub holes: Vec<Hole>,
}

/// An axle of a rig.
#[derive(Debug, Clone)]
pub struct Axle {
    /// Its group.
    pub group: &'static str,
    /// How far it is behind the middle of the steer axles.
    pub at: Length,
    /// What it carries.
    pub load: Mass,
}

/// A line of a scale's ticket.
#[derive(Debug, Clone)]
pub struct Line {
    /// What is weighed.
    pub what: String,
    /// Its load as expected, and at most.
    pub loads: [Mass; 2],
    /// The least of law and ratings, and which of them it is; none where none is known.
    pub most: Option<(Mass, &'static str)>,
    /// Whether all of them hold.
    pub holds: bool,
}

/// The bogie of a slider pinned in a hole.
#[derive(Debug, Clone)]
pub struct Hole {
    /// From the kingpin to the middle of the bogie.
    pub at: Length,
    /// Whether the load is planned for it.
    pub is_used: bool,
    /// Steer, drive, trailer and gross, at most.
    pub loads: Vec<Mass>,
    /// What is over a limit there; none where it is legal.
    pub broken: Vec<String>,
}

impl Rig {
    /// A rig for an audience; `None` where it is told of none.
    pub(super) fn of(report: &RoadReport<'_>, ticket: Ticket, to: Audience) -> Option<Self> {
        let axle = |axle: &crate::load::AxleLoad| Axle {
            group: axle.group.word(),
            at: axle.at,
            load: axle.load,
        };
        let is_told = to.told(Fact::Allowed, ()).is_some();
        let law = |word| if word == "law" && ticket.is_permit { "permit" } else { word };
        let line = |line: TicketLine| Line {
            what: line.what,
            loads: line.loads,
            most: line.most.filter(|_| is_told).map(|(most, by)| (most, law(by.word()))),
            holds: line.holds,
        };
        let hole = |hole: crate::load::Hole| Hole {
            at: hole.at,
            is_used: hole.is_used,
            loads: hole.loads,
            broken: hole.broken,
        };
        let holes = ticket.holes.into_iter().filter(|_| is_told).map(hole).collect();
        to.told(Fact::Axles, ())?;
        Some(Self {
            doors: ticket.doors.word(),
            axles: report.axles.iter().map(axle).collect(),
            lines: ticket.lines.into_iter().map(line).collect(),
            kingpin: ticket.kingpin,
            holes,
        })
    }
}
