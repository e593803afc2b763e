//! What the rows of a list are read against: the header, the lines, their stones.

use super::super::keys::known_stone;
use super::layout::Layout;
use crate::fault::{Code, Fault, Place, Report, Reported, Source};
use crate::quantity::{Decimal, Overflow};
use crate::trade::{Finish, Line, Quality, Stone, Tariffs, Timber};

/// What all rows of a list are read against.
pub(super) struct Ground<'a> {
    pub(super) source: &'a Source,
    pub(super) lines: &'a [Line],
    pub(super) kinds: Vec<Result<LineFacts<'a>, Reported>>,
    pub(super) finishes: &'a [Finish],
    pub(super) qualities: &'a [Quality],
    pub(super) timber: &'a Timber,
    /// The line of every row, where there is no choice.
    pub(super) only_line: Option<usize>,
    pub(super) layout: Layout,
    /// Whether every line could be read.
    pub(super) all_lines: Result<(), Reported>,
    pub(super) delimiter: u8,
}

impl Ground<'_> {
    /// What is known of a line, by its position.
    pub(super) fn facts(&self, line: usize) -> Option<&LineFacts<'_>> {
        self.kinds.get(line)?.as_ref().ok()
    }

    /// What is known of the line that a slab is of.
    pub(super) fn needed_facts(
        &self,
        line: usize,
        report: &mut Report,
    ) -> Result<&LineFacts<'_>, Reported> {
        let facts = report.found(self.kinds.get(line), "a line of the invoices")?;
        facts.as_ref().map_err(|told| *told)
    }
}

/// What a row needs to know of its line, worked out once.
pub(super) struct LineFacts<'a> {
    pub(super) line: &'a Line,
    pub(super) stone: &'a Stone,
    /// Thickness times density: mass per area.
    pub(super) kg_per_m2: Decimal,
}

pub(super) fn line_facts<'a>(
    lines: &'a [Line],
    tariffs: &'a Tariffs,
    report: &mut Report,
) -> Vec<Result<LineFacts<'a>, Reported>> {
    let facts = lines.iter().map(|line| {
        let stone = known_stone(&line.stone, tariffs, report)?;
        let kg_per_m2 = report.fits(stone.kg_per_m2(line.thickness), &line.place)?;
        Ok(LineFacts { line, stone, kg_per_m2 })
    });
    facts.collect()
}

pub(super) fn overflowed(overflow: Overflow, place: &Place) -> Fault {
    Fault::error(Code::Overflow, overflow.to_string()).at(place, "from the figures here")
}
