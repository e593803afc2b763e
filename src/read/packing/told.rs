//! What the rows of a bundle say of the whole bundle: its weighed mass, its box, whether it is taken.

use smol_str::SmolStr;

use super::super::plan::BoxNote;
use super::super::rows::Row;
use super::draft::Draft;
use super::layout::{Column, cell_place};
use super::reading::Reading;
use crate::fault::{Code, Fault, Report};
use crate::quantity::Mass;
use crate::trade::Take;

/// More than any bundle weighs, as no forklift or gantry of a yard lifts it (a choice of ours).
const HEAVIEST_GRAMS: i64 = 50_000_000;

impl Reading<'_> {
    /// Takes in what a bundle was weighed at, the same on each of its rows that says so.
    pub(super) fn weighed(&mut self, draft: &mut Draft, record: &Row<'_>, report: &mut Report) {
        let row = record.line;
        // One that cannot be read is told, and the list is not sound then.
        let Ok(Some(mass)) = self.quantity::<Mass>(record, Column::WeighedMass, row, report) else {
            return;
        };
        let is_first = draft.weighed.is_none();
        // Kept even where it is at fault, so that the bundle's other rows do not say it again.
        let (known, known_row) = *draft.weighed.get_or_insert((mass, row));
        let (id, units) = (&draft.id, report.units());
        let source = self.ground.source;
        if is_first && (mass.is_none() || mass.grams_up() > HEAVIEST_GRAMS) {
            let message = format!("bundle {id} is weighed at {}", mass.show(units));
            let fault = Fault::error(Code::OutOfRange, message).at(
                &source.line(row),
                format!(
                    "expected more than 0 and at most {}: is the unit right?",
                    Mass::grams(HEAVIEST_GRAMS).show(units)
                ),
            );
            self.fault(fault, report);
        } else if known != mass {
            let message = format!(
                "bundle {id} is weighed at {} and at {}",
                known.show_closely(units),
                mass.show_closely(units)
            );
            let fault = Fault::error(Code::Contradiction, message)
                .at(&source.line(row), "the second figure")
                .also(&source.line(known_row), "the first")
                .help(format!(
                    "write {} or {} on each row of {id}, whichever is the mass of the whole bundle with its timber; where these are the masses of single slabs, leave the column out",
                    known.show_closely(units),
                    mass.show_closely(units)
                ));
            self.fault(fault, report);
        }
    }

    /// Takes in the box a bundle is said to be in, the same on each of its rows.
    pub(super) fn boxed(&mut self, draft: &mut Draft, record: &Row<'_>, report: &mut Report) {
        let (row, first) = (record.line, draft.slabs == 0);
        let listed = self.cell(record, Column::Container);
        let kind = self.cell(record, Column::ContainerType).map(|(cell, _)| cell);
        let source = self.ground.source;
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
                    .help(format!(
                        "a bundle travels whole: write \"{}\" on each of its rows, or divide it into two bundles",
                        note.label
                    ))
            }
            (None, Some((label, index))) => {
                let message = format!("bundle {} is in a box on some rows only", draft.id);
                Fault::error(Code::Contradiction, message)
                    .at(&cell_place(source, row, index), format!("box {label} here, none before"))
                    .help(format!("write \"{label}\" on each row of the bundle"))
            }
        };
        self.fault(fault, report);
    }

    /// Takes in the book-matched sets of a bundle, and asks whether it is truly of several: a bundle is mostly of one.
    fn matched(&self, draft: &mut Draft, record: &Row<'_>, report: &mut Report) {
        let cell = self.cell(record, Column::Match);
        let sets = &mut draft.offered.sets;
        let set = cell.map_or("", |(set, _)| set);
        let first = sets.first().cloned().unwrap_or_default();
        if !set.is_empty() && !sets.iter().any(|known| known == set) {
            sets.push(set.into());
        }
        if draft.slabs == 0 || set == first || std::mem::replace(&mut draft.mixed_sets, true) {
            return;
        }
        let source = self.ground.source;
        let place = match cell {
            Some((_, index)) => cell_place(source, record.line, index),
            None => source.line(record.line),
        };
        let of =
            |set: &str| if set.is_empty() { "of none".to_owned() } else { format!("of set {set}") };
        let message = format!("slabs of bundle {} differ in the column match", draft.id);
        report.add(
            Fault::warning(Code::Notice, message)
                .at(&place, of(set))
                .also(&source.line(draft.row), of(&first))
                .help("topup takes the bundles of a set together: write one set on each row of a bundle, if it is of one"),
        );
    }

    /// Takes in whether a bundle is taken, the same on each of its rows, and its book-matched sets.
    pub(super) fn offered(&mut self, draft: &mut Draft, record: &Row<'_>, report: &mut Report) {
        self.matched(draft, record, report);
        let source = self.ground.source;
        let cell = self.cell(record, Column::Take);
        let word = cell.map_or("", |(word, _)| word);
        // Where it stands is worked out only for a fault.
        let place = || match cell {
            Some((_, index)) => cell_place(source, record.line, index),
            None => source.line(record.line),
        };
        let known = Take::ALL.iter().find(|(_, known)| *known == word.to_lowercase());
        let take = match known {
            Some((take, _)) => *take,
            None if word.is_empty() => Take::Unmarked,
            None => {
                let message = format!("bundle {} has \"{word}\" in the column take", draft.id);
                let fault = Fault::error(Code::UnknownWord, message)
                    .at(&place(), "expected keep, open, no, or nothing")
                    .help("keep: it is taken; open: topup may choose it; no: it is not taken");
                self.fault(fault, report);
                return;
            }
        };
        if draft.slabs == 0 {
            draft.offered.take = take;
        } else if draft.offered.take != take {
            let message = format!("bundle {} is marked in two ways in the column take", draft.id);
            let fault = Fault::error(Code::Contradiction, message)
                .at(&place(), "this row")
                .also(&source.line(draft.row), "its first row")
                .help("a bundle is taken whole: write one word on each of its rows");
            self.fault(fault, report);
            draft.offered.take = take;
        }
    }
}
