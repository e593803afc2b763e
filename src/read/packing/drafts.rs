//! Bundles while their rows are coming in.

use smol_str::SmolStr;

use super::super::plan::BoxNote;
use super::super::rows::Row;
use super::bundles::HEAVIEST_GRAMS;
use super::layout::{Column, cell_place};
use super::list::List;
use super::overflowed;
use crate::fault::{Code, Fault, Report};
use crate::quantity::{Length, Mass, Size, Units};
use crate::trade::Slab;

/// A bundle while its rows are coming in.
pub(super) struct Draft {
    pub(super) id: SmolStr,
    pub(super) block: Option<SmolStr>,
    pub(super) mixed_blocks: bool,
    pub(super) slabs: usize,
    pub(super) length: Length,
    pub(super) height: Length,
    /// Its slabs that came one after the other and are of one line; the last of these runs apart.
    pub(super) runs: Vec<Run>,
    pub(super) run: Run,
    /// What it was weighed at, and the line that says so first.
    pub(super) weighed: Option<(Mass, usize)>,
    pub(super) note: Option<BoxNote>,
    /// The line of its first row, and that line's first byte.
    pub(super) row: usize,
    pub(super) start: usize,
}

/// Slabs of a bundle that are of one line.
#[derive(Clone, Copy)]
pub(super) struct Run {
    pub(super) line: usize,
    pub(super) slabs: usize,
    pub(super) mass: Mass,
}

impl List<'_> {
    pub(super) fn draft(&mut self, bundle: &str, row: usize, start: usize) -> usize {
        // Rows of one bundle nearly always follow each other.
        if self.drafts.last().is_some_and(|draft| draft.id == bundle) {
            return self.drafts.len() - 1;
        }
        let is_next = self.drafts.last().is_none_or(|last| *last.id < *bundle);
        let known = match self.bundles_in_order {
            true if is_next => None,
            true => self.drafts.binary_search_by(|draft| (*draft.id).cmp(bundle)).ok(),
            false => self.by_name.get(bundle).copied(),
        };
        if let Some(known) = known {
            return known;
        }
        let id = SmolStr::new(bundle);
        if self.bundles_in_order && !is_next {
            self.bundles_in_order = false;
            let drafts = self.drafts.iter().enumerate();
            self.by_name = drafts.map(|(at, draft)| (draft.id.clone(), at)).collect();
        }
        if !self.bundles_in_order {
            self.by_name.insert(id.clone(), self.drafts.len());
        }
        self.drafts.push(Draft {
            id,
            block: None,
            mixed_blocks: false,
            slabs: 0,
            length: Length::ZERO,
            height: Length::ZERO,
            runs: Vec::new(),
            run: Run { line: 0, slabs: 0, mass: Mass::ZERO },
            weighed: None,
            note: None,
            row,
            start,
        });
        self.drafts.len() - 1
    }

    pub(super) fn add(
        &mut self,
        mut slab: Slab,
        bundle: &str,
        gross: Size,
        record: &Row<'_>,
        report: &mut Report,
    ) -> Option<()> {
        let row = record.line;
        let at = self.draft(bundle, row, record.start);
        let first = self.drafts.get(at).is_some_and(|draft| draft.slabs == 0);
        self.weighed(at, record, row, report);
        self.note(at, first, record, row, report);
        let block = self.cell(record, Column::Block).map(|(cell, _)| cell);
        let line = usize::try_from(slab.line).ok()?;
        let draft = self.drafts.get_mut(at)?;
        if draft.run.line != line {
            let next = Run { line, slabs: 0, mass: Mass::ZERO };
            let last = std::mem::replace(&mut draft.run, next);
            draft.runs.push(last);
        }
        match draft.run.mass.plus(slab.mass) {
            Ok(mass) => draft.run.mass = mass,
            Err(overflow) => {
                let place = self.ground.source.line(row);
                self.fault(overflowed(overflow, &place), report);
                return None;
            }
        }
        draft.run.slabs += 1;
        draft.length = draft.length.max(gross.length);
        draft.height = draft.height.max(gross.height);
        match (&draft.block, block) {
            (None, Some(block)) if first => draft.block = Some(block.into()),
            (known, listed) if known.as_deref() != listed => draft.mixed_blocks = true,
            _ => {}
        }
        slab.bundle = u32::try_from(at).ok()?;
        self.in_order &= self.slabs.last().is_none_or(|last| last.id < slab.id);
        draft.slabs += 1;
        self.slabs.push(slab);
        Some(())
    }

    pub(super) fn weighed(&mut self, at: usize, record: &Row<'_>, row: usize, report: &mut Report) {
        let Some(mass) = self.quantity::<Mass>(record, Column::WeighedMass, row, report) else {
            return;
        };
        let Some(draft) = self.drafts.get_mut(at) else {
            return;
        };
        let is_first = draft.weighed.is_none();
        // Kept even where it is at fault, so that the bundle's other rows do not say it again.
        let (known, known_row) = *draft.weighed.get_or_insert((mass, row));
        let id = &draft.id;
        let source = self.ground.source;
        if is_first && (mass.is_none() || mass.grams_up() > HEAVIEST_GRAMS) {
            let message = format!("bundle {id} is weighed at {}", mass.show(Units::Metric));
            let fault = Fault::error(Code::OutOfRange, message)
                .at(&source.line(row), "expected more than 0 and at most 50 t: is the unit right?");
            self.fault(fault, report);
        } else if known != mass {
            let message = format!("bundle {id} is weighed at {known} and at {mass}");
            let fault = Fault::error(Code::Contradiction, message)
                .at(&source.line(row), "the second figure")
                .also(&source.line(known_row), "the first")
                .help("a weighed mass is the whole bundle's, timber included, the same on each of its rows");
            self.fault(fault, report);
        }
    }

    pub(super) fn note(
        &mut self,
        at: usize,
        first: bool,
        record: &Row<'_>,
        row: usize,
        report: &mut Report,
    ) {
        let listed = self.cell(record, Column::Container);
        let kind = self.cell(record, Column::ContainerType).map(|(cell, _)| cell);
        let source = self.ground.source;
        let Some(draft) = self.drafts.get_mut(at) else {
            return;
        };
        let fault = match (&draft.note, listed) {
            (None, None) => return,
            (Some(note), Some((label, _)))
                if note.label == label && note.kind.as_deref() == kind =>
            {
                return;
            }
            (None, Some((label, _))) if first => {
                draft.note = Some(BoxNote { label: label.into(), kind: kind.map(SmolStr::new) });
                return;
            }
            (Some(note), listed) => {
                let (label, place) = match listed {
                    Some((label, index)) => (label, cell_place(source, row, index)),
                    None => ("no box", source.line(row)),
                };
                let message =
                    format!("bundle {} is in box {} and in {label}", draft.id, note.label);
                Fault::error(Code::Contradiction, message)
                    .at(&place, "the second box")
                    .also(&source.line(draft.row), "the first")
                    .help("a bundle travels whole: name the same box and type on each of its rows")
            }
            (None, Some((label, index))) => {
                let message = format!("bundle {} is in a box on some rows only", draft.id);
                Fault::error(Code::Contradiction, message)
                    .at(&cell_place(source, row, index), format!("box {label} here, none before"))
                    .help("name the box on every row of the bundle")
            }
        };
        self.fault(fault, report);
    }
}
