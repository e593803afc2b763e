//! What `load` writes: the page and, beside it, the drawing of the loads and the plan of each shipment.

use std::path::{Path, PathBuf};

use super::job::{Beside, Exit, Json, Options, Sheets};
use crate::choose::Together;
use crate::fault::Report;
use crate::files;
use crate::show::{self, Load, Page};

/// The files that are asked for beside the page.
#[derive(Debug)]
pub(super) struct Wanted<'a> {
    /// The drawing of all loads.
    pub(super) drawing: Option<&'a Path>,
    /// The sheets that it and the page are printed on.
    pub(super) sheets: Sheets,
    /// Where each load is kept, in their order; none where they are not kept.
    pub(super) plans: Vec<PathBuf>,
}

impl Wanted<'_> {
    /// Refuses one path for two of the files, the result's among them.
    pub(super) fn refuse_one_path_twice(&self, options: &Options) -> Result<(), Exit> {
        options.refuse_one_path_twice(&self.files().collect::<Vec<_>>())
    }

    fn files(&self) -> impl Iterator<Item = &Path> {
        self.drawing.into_iter().chain(self.plans.iter().map(PathBuf::as_path))
    }
}

/// Writes the page of loads and the files beside it, all of them or none. Of a load that breaks a limit or a
/// request the page is shown, and nothing is written.
pub(super) fn put(
    wanted: &Wanted<'_>,
    options: &Options,
    (loads, together): (&[Load<'_>], Option<&Together>),
    report: &Report,
    (page, json): (Page<'_>, Json<'_>),
) -> Exit {
    let holds = loads.iter().all(|load| load.costed.verdict.holds());
    if !holds && (wanted.files().next().is_some() || options.writes()) {
        let which = if loads.len() == 1 { "the load" } else { "a load" };
        let said = format!("nothing is written: {which} breaks the limits or requests above");
        let said = Options::say(&said);
        if options.writes() {
            return Exit::No(said);
        }
    }
    let beside = if holds { beside(wanted, options, loads, together) } else { Vec::new() };
    match options.put_with(report, page, json, beside) {
        Exit::Done(said) if !holds => Exit::No(said),
        Exit::Done(said) => {
            for path in &wanted.plans {
                Options::say(&format!("the load is kept in {}", path.display()));
            }
            Exit::Done(said)
        }
        other => other,
    }
}

/// The drawing and the kept plans, where asked for.
fn beside<'a>(
    wanted: &'a Wanted<'_>,
    options: &Options,
    loads: &[Load<'_>],
    together: Option<&Together>,
) -> Vec<Beside<'a>> {
    let drawing = wanted.drawing.map(|path| {
        let paper = wanted.sheets.paper();
        let contents = show::drawing(loads, options.units(), paper).into_bytes();
        Beside { path, contents: files::bytes(contents), is_plan: false }
    });
    let plans = wanted.plans.iter().zip(loads).enumerate().map(|(at, (path, load))| {
        let sharing = together.map_or_else(Vec::new, |together| together.sharing_with(at));
        let sharing = sharing.iter().filter_map(|other| loads.get(*other));
        let sharing: Vec<&str> = sharing.map(|other| other.shipment.name.as_str()).collect();
        let contents = show::frozen(*load, &sharing).into_bytes();
        Beside { path, contents: files::bytes(contents), is_plan: true }
    });
    drawing.into_iter().chain(plans).collect()
}
