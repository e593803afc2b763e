//! What every command shares: options, the workspace, faults on stderr, results on stdout.

use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::cost::{Costed, estimate};
use crate::fault::{Report, render};
use crate::files;
use crate::load::{Effort, Misfit};
use crate::quantity::Units;
use crate::read::{self, Workspace};
use crate::show::{Format, Page};
use crate::trade::{Shipment, Tariffs};

/// Options of every command.
#[derive(Debug, Args)]
pub struct Options {
    /// The workspace: the folder that holds rates/ and shipments/ [default: the nearest above]
    #[arg(long, global = true, value_name = "FOLDER")]
    dir: Option<PathBuf>,
    /// The form of the result
    #[arg(long = "as", global = true, value_enum, value_name = "FORM", default_value = "text")]
    as_form: Form,
    /// The units of areas and masses
    #[arg(long, global = true, value_enum, value_name = "SYSTEM", default_value = "metric")]
    units: System,
    /// Write the result to a file, whole or not at all
    #[arg(long, global = true, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Let a written file replace one that is there
    #[arg(long, global = true)]
    force: bool,
    /// How hard to look for a cheaper load, in multiples of the usual work
    #[arg(long, global = true, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u64).range(1..=1_000))]
    effort: u64,
}

/// The forms of a result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Form {
    /// Plain text, for a terminal or an e-mail
    Text,
    /// Markdown
    Markdown,
    /// A page of HTML
    Html,
    /// The main table as comma-separated values
    Csv,
    /// JSON for scripts
    Json,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum System {
    /// mm, m2, kg
    Metric,
    /// in, ft2, lb
    Us,
}

/// How a command ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done,
    /// The data is unreadable or inconsistent.
    BadData,
    /// The command line is.
    BadCommand,
    /// The data is good and the answer is "no".
    No,
    /// The result could not be written.
    NotWritten,
}

impl Exit {
    /// The process's exit code.
    pub fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::BadData => 1,
            Self::BadCommand => 2,
            Self::No => 3,
            Self::NotWritten => 4,
        }
    }
}

/// A result that has its JSON apart from its page.
pub(super) type Json<'a> = &'a dyn Fn(&mut dyn Write) -> io::Result<()>;

impl Options {
    pub(super) fn units(&self) -> Units {
        match self.units {
            System::Metric => Units::Metric,
            System::Us => Units::Us,
        }
    }

    /// The work that planning may take.
    pub(super) fn effort(&self) -> Effort {
        Effort::times(self.effort)
    }

    /// The workspace and its tariffs; `None`: the faults are in the report.
    pub(super) fn open(&self, report: &mut Report) -> Option<(Workspace, Tariffs)> {
        let here = PathBuf::from(".");
        let workspace = Workspace::find(self.dir.as_deref().unwrap_or(&here), report)?;
        let tariffs = read::tariffs(&workspace, report)?;
        Some((workspace, tariffs))
    }

    /// Prints the faults, if any, and turns them into the way to end.
    pub(super) fn tell(report: &Report) -> Exit {
        let colour = io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
        // A reader that hung up on stderr needs no further word.
        let _ = io::stderr().write_all(render(report, colour).as_bytes());
        if report.has_errors() { Exit::BadData } else { Exit::Done }
    }

    /// Prints a sentence on stderr.
    pub(super) fn say(text: &str) {
        let _ = writeln!(io::stderr(), "{text}");
    }

    /// Writes a result where it belongs, in the form asked for.
    pub(super) fn put(&self, page: Page<'_>, json: Json<'_>) -> Exit {
        let written = match &self.out {
            Some(path) => {
                let mut bytes = Vec::new();
                self.write(page, json, &mut bytes)
                    .and_then(|()| files::write(path, &bytes, self.force))
            }
            None => {
                let mut out = io::BufWriter::with_capacity(1 << 16, io::stdout().lock());
                self.write(page, json, &mut out).and_then(|()| out.flush())
            }
        };
        match written {
            Ok(()) => Exit::Done,
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Exit::Done,
            Err(error) => Self::not_written(self.out.as_deref(), &error),
        }
    }

    /// Writes a file beside the result, whole or not at all.
    pub(super) fn put_file(&self, path: &Path, bytes: &[u8]) -> Exit {
        match files::write(path, bytes, self.force) {
            Ok(()) => Exit::Done,
            Err(error) => Self::not_written(Some(path), &error),
        }
    }

    fn not_written(path: Option<&Path>, error: &io::Error) -> Exit {
        let name = path.map_or_else(|| "stdout".to_owned(), |p| p.display().to_string());
        let way_out = if error.kind() == io::ErrorKind::AlreadyExists {
            " (--force overwrites it)"
        } else {
            ""
        };
        Self::say(&format!("error: {name} could not be written: {error}{way_out}"));
        Exit::NotWritten
    }

    fn write(&self, page: Page<'_>, json: Json<'_>, out: &mut dyn Write) -> io::Result<()> {
        let format = match self.as_form {
            Form::Json => return json(out),
            Form::Text => Format::Text,
            Form::Markdown => Format::Markdown,
            Form::Html => Format::Html,
            Form::Csv => Format::Csv,
        };
        page.write(format, out)
    }

    /// Reads and costs one shipment and hands it to `then`; faults end it before.
    pub(super) fn with_costed(
        &self,
        name: &str,
        then: impl FnOnce(&Shipment, Costed, &Tariffs) -> Exit,
    ) -> Exit {
        self.with_costed_as(name, |_, _, _, _| Some(()), then)
    }

    /// The same, after `prepare` has changed what was read.
    pub(super) fn with_costed_as(
        &self,
        name: &str,
        prepare: impl FnOnce(&Workspace, &mut Shipment, &Tariffs, &mut Report) -> Option<()>,
        then: impl FnOnce(&Shipment, Costed, &Tariffs) -> Exit,
    ) -> Exit {
        let mut report = Report::new();
        let Some((workspace, tariffs)) = self.open(&mut report) else {
            return Self::tell(&report);
        };
        let Some(mut shipment) = read::shipment(&workspace, name, &tariffs, &mut report) else {
            return Self::tell(&report);
        };
        if prepare(&workspace, &mut shipment, &tariffs, &mut report).is_none() {
            return Self::tell(&report);
        }
        match estimate(&shipment, &tariffs, self.effort(), &mut report) {
            Some(Ok(costed)) => match Self::tell(&report) {
                Exit::Done => then(&shipment, costed, &tariffs),
                exit => exit,
            },
            Some(Err(misfits)) => {
                Self::tell(&report);
                Self::no_box(&shipment, &misfits)
            }
            None => Self::tell(&report),
        }
    }

    /// Says which bundles fit in no box, and why.
    pub(super) fn no_box(shipment: &Shipment, misfits: &[Misfit]) -> Exit {
        Self::say(&format!("{}: bundles that no box can carry", shipment.name));
        for misfit in misfits {
            let bundle = shipment.bundles.get(misfit.bundle);
            let name = bundle.map_or("the load", |bundle| bundle.id.as_str());
            let place = bundle.map_or_else(String::new, |bundle| format!(" ({})", bundle.place));
            Self::say(&format!("  {name}{place}: {}", misfit.reason));
        }
        Self::say("ask the supplier to bundle them otherwise, or allow another container type");
        Exit::No
    }
}
