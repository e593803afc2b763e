//! Bundles while their rows are coming in.

use rustc_hash::FxHashMap;
use smol_str::SmolStr;

use super::super::plan::BoxNote;
use crate::quantity::{Length, Mass, Overflow, Size};
use crate::trade::{Offered, Slab};

/// A bundle while its rows are coming in.
pub(super) struct Draft {
    pub(super) id: SmolStr,
    pub(super) block: Option<SmolStr>,
    pub(super) mixed_blocks: bool,
    pub(super) mixed_sets: bool,
    pub(super) slabs: usize,
    pub(super) length: Length,
    pub(super) height: Length,
    /// Its least sides.
    pub(super) least: Size,
    /// Its slabs that came one after the other and are of one line; the last of these runs apart.
    pub(super) runs: Vec<Run>,
    pub(super) run: Run,
    /// What it was weighed at, and the line that says so first.
    pub(super) weighed: Option<(Mass, usize)>,
    pub(super) note: Option<BoxNote>,
    /// What the list says of taking it.
    pub(super) offered: Offered,
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

impl Draft {
    fn new(id: SmolStr, row: usize, start: usize) -> Self {
        Self {
            id,
            block: None,
            mixed_blocks: false,
            mixed_sets: false,
            slabs: 0,
            length: Length::ZERO,
            height: Length::ZERO,
            least: Size { length: Length::ZERO, height: Length::ZERO },
            runs: Vec::new(),
            run: Run { line: 0, slabs: 0, mass: Mass::ZERO },
            weighed: None,
            note: None,
            offered: Offered::default(),
            row,
            start,
        }
    }

    /// Takes a slab in: its mass, its size, the block it was sawn from.
    pub(super) fn take(
        &mut self,
        slab: &Slab,
        gross: Size,
        block: Option<&str>,
    ) -> Result<(), Overflow> {
        let overflow = Overflow { what: "a slab" };
        let line = usize::try_from(slab.line).map_err(|_| overflow)?;
        if self.run.line != line {
            let next = Run { line, slabs: 0, mass: Mass::ZERO };
            self.runs.push(std::mem::replace(&mut self.run, next));
        }
        self.run.mass = self.run.mass.plus(slab.mass)?;
        self.run.slabs += 1;
        self.length = self.length.max(gross.length);
        self.height = self.height.max(gross.height);
        self.least = match self.slabs {
            0 => gross,
            _ => Size {
                length: self.least.length.min(gross.length),
                height: self.least.height.min(gross.height),
            },
        };
        match (&self.block, block) {
            (None, Some(block)) if self.slabs == 0 => self.block = Some(block.into()),
            (known, listed) if known.as_deref() != listed => self.mixed_blocks = true,
            _ => {}
        }
        self.slabs += 1;
        Ok(())
    }
}

/// The bundles of a list, in the order of their first rows.
#[derive(Default)]
pub(super) struct Drafts {
    pub(super) all: Vec<Draft>,
    by_name: FxHashMap<SmolStr, usize>,
}

impl Drafts {
    /// The position of a bundle, which is begun where none is called so.
    pub(super) fn named(&mut self, name: &str, row: usize, start: usize) -> usize {
        // Rows of one bundle nearly always follow each other.
        if self.all.last().is_some_and(|draft| draft.id == name) {
            return self.all.len() - 1;
        }
        if let Some(known) = self.by_name.get(name) {
            return *known;
        }
        let id = SmolStr::new(name);
        self.by_name.insert(id.clone(), self.all.len());
        self.all.push(Draft::new(id, row, start));
        self.all.len() - 1
    }
}
