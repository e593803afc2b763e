//! Faults and the report that gathers them.

use std::collections::{BTreeMap, BTreeSet};
use std::hash::BuildHasher;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rustc_hash::{FxBuildHasher, FxHashMap};

use super::{Code, Place, Source};
use crate::quantity::{Overflow, Units};

/// How bad a fault is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// The data cannot be used; nothing is computed or written.
    Error,
    /// The data can be used, and the user should know.
    Warning,
}

/// One problem: what it is, where it stands, what was expected and what to do.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Fault {
    /// How bad.
    pub severity: Severity,
    /// What kind.
    pub code: Code,
    /// What is wrong, in a sentence without its final stop.
    pub message: String,
    /// The file it is about, where it is about all of it.
    pub file: Option<Arc<str>>,
    /// Where, with a few words that point at it.
    pub place: Option<(Place, String)>,
    /// Other places that matter, each with a few words.
    pub also: Vec<(Place, String)>,
    /// What to do about it.
    pub help: Vec<String>,
}

impl Fault {
    /// An error.
    pub fn error(code: Code, message: impl Into<String>) -> Self {
        Self {
            severity: Severity::Error,
            code,
            message: message.into(),
            file: None,
            place: None,
            also: Vec::new(),
            help: Vec::new(),
        }
    }

    /// A warning.
    pub fn warning(code: Code, message: impl Into<String>) -> Self {
        Self { severity: Severity::Warning, ..Self::error(code, message) }
    }

    /// A figure that is too large to be held exactly, and where it comes from.
    pub fn overflow(overflow: Overflow, place: &Place) -> Self {
        Self::error(Code::Overflow, overflow.to_string()).at(place, "from the figures here")
    }

    /// The file that it is about as a whole.
    #[must_use]
    pub fn in_file(mut self, name: &str) -> Self {
        self.file = Some(name.into());
        self
    }

    /// Where it stands, with a few words such as "expected a length".
    #[must_use]
    pub fn at(mut self, place: &Place, label: impl Into<String>) -> Self {
        self.place = Some((place.clone(), label.into()));
        self
    }

    /// Another place that matters.
    #[must_use]
    pub fn also(mut self, place: &Place, label: impl Into<String>) -> Self {
        self.also.push((place.clone(), label.into()));
        self
    }

    /// What to do.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help.push(help.into());
        self
    }
}

/// The word that an error was told. Only a [`Report`] gives it, for an error that it holds: who ends
/// with `Err(Reported)` cannot have ended without a fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reported(());

/// The results of all. Each is tried, also after one has failed, so that the report has the faults of all.
///
/// # Errors
///
/// If one of them failed.
pub fn gathered<T>(
    each: impl IntoIterator<Item = Result<T, Reported>>,
) -> Result<Vec<T>, Reported> {
    let mut failed = None;
    let each =
        each.into_iter().filter_map(|one| one.map_err(|reported| failed = Some(reported)).ok());
    let all = each.collect();
    failed.map_or(Ok(all), Err)
}

/// What comes of trying something whose failure is no fault; `None`: nothing.
pub fn tried<T>(attempt: impl FnOnce(&mut Report) -> Result<T, Reported>) -> Option<T> {
    attempt(&mut Report::new()).ok()
}

/// So many other places are shown of a name that many use.
const MOST_BESIDE: usize = 3;

/// The faults of a run, and the texts they point into.
#[derive(Debug, Clone, Default)]
pub struct Report {
    faults: Vec<Fault>,
    /// Where a fault of each hash most likely stands: the same fault is found without a look at all.
    known: FxHashMap<u64, usize>,
    sources: BTreeMap<Arc<str>, Arc<Source>>,
    /// The files that were read, wherever a link to them stood.
    read: BTreeSet<PathBuf>,
    units: Units,
}

impl Report {
    /// An empty report.
    pub fn new() -> Self {
        Self::default()
    }

    /// An empty report whose sentences are in a system of units.
    pub fn in_units(units: Units) -> Self {
        Self { units, ..Self::default() }
    }

    /// The system of units that its sentences are in.
    pub fn units(&self) -> Units {
        self.units
    }

    /// Adds a fault, unless the very same one is there already.
    pub fn add(&mut self, fault: Fault) {
        self.add_new(fault);
    }

    /// Adds a fault and says whether it was not there yet.
    fn add_new(&mut self, fault: Fault) -> bool {
        let hash = FxBuildHasher.hash_one(&fault);
        let is_known = match self.known.get(&hash) {
            None => false,
            Some(at) if self.faults.get(*at) == Some(&fault) => true,
            // Another fault of the same hash, or the fault has moved since, as one before it was taken out.
            Some(_) => self.faults.contains(&fault),
        };
        if !is_known {
            self.known.insert(hash, self.faults.len());
            self.faults.push(fault);
        }
        !is_known
    }

    /// Adds a fault as an error.
    pub fn error(&mut self, fault: Fault) -> Reported {
        self.error_new(fault).0
    }

    /// Adds a fault as an error, and says whether it was not there yet.
    pub fn error_new(&mut self, fault: Fault) -> (Reported, bool) {
        let is_new = self.add_new(Fault { severity: Severity::Error, ..fault });
        (Reported(()), is_new)
    }

    /// A figure, or the fault that it is too large, with the place it comes from.
    ///
    /// # Errors
    ///
    /// If it is too large.
    pub fn fits<T>(&mut self, figure: Result<T, Overflow>, place: &Place) -> Result<T, Reported> {
        figure.map_err(|overflow| self.error(Fault::overflow(overflow, place)))
    }

    /// Something that the program has made itself and must find again. No file of the user's should
    /// lead to the fault that it is lost; saying nothing would be worse.
    ///
    /// # Errors
    ///
    /// If it is not there.
    pub fn found<T>(&mut self, own: Option<T>, what: &str) -> Result<T, Reported> {
        own.ok_or_else(|| {
            self.error(
                Fault::error(Code::NotSupported, format!("{what} is lost"))
                    .help("this is a mistake of the program: please report it with the files"),
            )
        })
    }

    /// Whether what was made so far can be used.
    ///
    /// # Errors
    ///
    /// If there is an error among the faults.
    pub fn sound(&self) -> Result<(), Reported> {
        if self.has_errors() { Err(Reported(())) } else { Ok(()) }
    }

    /// Adds an error whose cause may be told already, of another place: then that place is named beside it.
    pub fn add_once(&mut self, fault: Fault) -> Reported {
        let is_same = |known: &&mut Fault| {
            let is_error = known.severity == Severity::Error;
            is_error && known.code == fault.code && known.message == fault.message
        };
        let Some(known) = self.faults.iter_mut().find(is_same) else {
            return self.error(fault);
        };
        let places = fault.place.into_iter().chain(fault.also);
        for (place, _) in places {
            let mut named = known.place.iter().chain(&known.also);
            if known.also.len() < MOST_BESIDE && named.all(|(other, _)| *other != place) {
                known.also.push((place, "and here".to_owned()));
            }
        }
        Reported(())
    }

    /// Adds a fault in the place of another that has the same cause, where that one is told.
    pub fn add_instead(&mut self, fault: Fault, of: &Fault) {
        self.faults.retain(|known| known != of);
        self.add(fault);
    }

    /// Makes warnings of all faults: what they stop is left out, and the rest goes on.
    pub fn soften(&mut self) {
        self.known.clear();
        for fault in std::mem::take(&mut self.faults) {
            self.add(Fault { severity: Severity::Warning, ..fault });
        }
    }

    /// Takes over the faults of another report, and the texts they point into.
    pub fn absorb(&mut self, other: Self) {
        self.sources.extend(other.sources);
        self.read.extend(other.read);
        for fault in other.faults {
            match fault.code {
                Code::UnknownReference if fault.severity == Severity::Error => {
                    self.add_once(fault);
                }
                _ => self.add(fault),
            }
        }
    }

    /// Takes over the errors of another report, and leaves its warnings.
    pub fn absorb_errors(&mut self, mut other: Self) {
        other.faults.retain(|fault| fault.severity == Severity::Error);
        self.absorb(other);
    }

    /// Keeps a file's text, so that faults can show their lines.
    pub fn keep(&mut self, source: &Arc<Source>) {
        self.sources.insert(source.name.clone(), source.clone());
    }

    /// Notes that a file was read: nothing may be written over it.
    pub fn note_read(&mut self, path: &Path) {
        self.read.extend(path.canonicalize());
    }

    /// Whether a file was read.
    pub fn has_read(&self, path: &Path) -> bool {
        path.canonicalize().is_ok_and(|path| self.read.contains(&path))
    }

    /// Drops the texts that no fault points into.
    pub fn forget_unused(&mut self) {
        let places = |fault: &Fault| {
            let also = fault.also.iter().map(|(place, _)| place.file.clone());
            let all: Vec<_> =
                also.chain(fault.place.iter().map(|(place, _)| place.file.clone())).collect();
            all
        };
        let used: BTreeSet<Arc<str>> = self.faults.iter().flat_map(places).collect();
        self.sources.retain(|name, _| used.contains(name));
    }

    /// The text of a file that was read.
    pub fn source(&self, name: &str) -> Option<&Arc<Source>> {
        self.sources.get(name)
    }

    /// Whether there is an error among the faults.
    pub fn has_errors(&self) -> bool {
        self.faults.iter().any(|fault| fault.severity == Severity::Error)
    }

    /// Whether a file could be read: what it lacks may be what could not.
    ///
    /// # Errors
    ///
    /// If there is an error in it among the faults.
    pub fn sound_in(&self, name: &str) -> Result<(), Reported> {
        let about = |fault: &Fault| {
            let place = fault.place.as_ref().map(|(place, _)| &*place.file);
            fault.file.as_deref() == Some(name) || place == Some(name)
        };
        let is_told =
            self.faults.iter().any(|fault| fault.severity == Severity::Error && about(fault));
        if is_told { Err(Reported(())) } else { Ok(()) }
    }

    /// Whether anything is told of this very place.
    pub fn tells_at(&self, place: &Place) -> bool {
        self.faults.iter().any(|fault| fault.place.as_ref().is_some_and(|(one, _)| one == place))
    }

    /// The faults, worst first, then by file and line.
    pub fn sorted(&self) -> Vec<&Fault> {
        let mut faults: Vec<&Fault> = self.faults.iter().collect();
        faults.sort_by_key(|fault| {
            (
                fault.severity,
                fault.place.as_ref().map(|(place, _)| &place.file).or(fault.file.as_ref()),
                fault.place.as_ref().map(|(place, _)| (place.line, place.column)),
            )
        });
        faults
    }

    /// How many errors and warnings there are.
    pub fn counts(&self) -> (usize, usize) {
        let errors = self.faults.iter().filter(|f| f.severity == Severity::Error).count();
        (errors, self.faults.len() - errors)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_faults_are_gathered_before_the_first_ends_it() {
        let mut report = Report::new();
        let each = ["one", "two"].map(|what| Fault::error(Code::Duplicate, what));
        let ended = gathered::<()>(each.into_iter().map(|fault| Err(report.error(fault))));
        assert!(ended.is_err());
        assert_eq!(report.counts(), (2, 0));
    }

    #[test]
    fn a_warning_ends_nothing_and_what_is_lost_is_told() {
        let mut report = Report::new();
        report.add(Fault::warning(Code::Notice, "a lesser thing"));
        assert_eq!((report.sound(), report.counts()), (Ok(()), (0, 1)));
        let lost: Result<(), Reported> = report.found(None, "a thing");
        assert_eq!((lost.is_err(), report.sound().is_err(), report.counts()), (true, true, (1, 1)));
    }

    #[test]
    fn a_fault_is_told_once_though_one_before_it_was_taken_out() {
        let fault = |what: &str| Fault::error(Code::Duplicate, what);
        let all = |report: &Report| -> Vec<String> {
            report.sorted().iter().map(|one| one.message.clone()).collect()
        };
        let mut report = Report::new();
        for what in ["lacking", "second", "third"] {
            report.add(fault(what));
        }
        report.add_instead(fault("misspelt"), &fault("lacking"));
        for what in ["second", "third", "misspelt"] {
            report.add(fault(what));
        }
        assert_eq!(all(&report), ["second", "third", "misspelt"]);
        // What was taken out may be told again, once.
        for _ in 0..2 {
            report.add(fault("lacking"));
        }
        assert_eq!(all(&report), ["second", "third", "misspelt", "lacking"]);
    }
}
