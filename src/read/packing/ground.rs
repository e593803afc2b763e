//! What the rows of a list are read against: the header, the lines, their stones.

use super::layout::Layout;
use crate::fault::{Code, Fault, Place, Report, Source};
use crate::quantity::{Decimal, Overflow};
use crate::trade::{Finish, Line, Quality, Stone, Tariffs, Timber};

/// What all rows of a list are read against.
pub(super) struct Ground<'a> {
    pub(super) source: &'a Source,
    pub(super) lines: &'a [Line],
    pub(super) kinds: Vec<Option<LineFacts<'a>>>,
    pub(super) finishes: &'a [Finish],
    pub(super) qualities: &'a [Quality],
    pub(super) timber: &'a Timber,
    /// The line of every row, where there is no choice.
    pub(super) only_line: Option<usize>,
    pub(super) layout: Layout,
    /// Whether every line could be read.
    pub(super) all_lines: bool,
    pub(super) delimiter: u8,
}

impl Ground<'_> {
    /// What is known of a line, by its position.
    pub(super) fn facts(&self, line: usize) -> Option<&LineFacts<'_>> {
        self.kinds.get(line)?.as_ref()
    }
}

/// What a row needs to know of its line, worked out once.
pub(super) struct LineFacts<'a> {
    pub(super) stone: &'a Stone,
    /// Thickness times density: mass per area.
    pub(super) kg_per_m2: Decimal,
    /// One plus the thickness margin.
    pub(super) margin: Decimal,
}

pub(super) fn line_facts<'a>(
    lines: &[Line],
    tariffs: &'a Tariffs,
    report: &mut Report,
) -> Vec<Option<LineFacts<'a>>> {
    let facts = lines.iter().map(|line| {
        // A stone that is not in the tables has been reported with its line.
        let stone = tariffs.stone(&line.stone)?;
        match stone.kg_per_m2(line.thickness) {
            Ok(kg_per_m2) => Some(LineFacts {
                stone,
                kg_per_m2,
                margin: Decimal::ONE + stone.thickness_margin.fraction(),
            }),
            Err(overflow) => {
                report.add(overflowed(overflow, &line.place));
                None
            }
        }
    });
    facts.collect()
}

pub(super) fn overflowed(overflow: Overflow, place: &Place) -> Fault {
    Fault::error(Code::Overflow, overflow.to_string()).at(place, "from the figures here")
}
