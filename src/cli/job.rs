//! What every command shares: options, the workspace, faults on stderr, results on stdout.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use terminal_size::{Width, terminal_size_of};

use super::progress::{self, Progress};
use crate::choose::{Costed, estimate_again, next_steps};
use crate::cost::{self, Cash, Note, doubt_finance, doubt_invoices, prove};
use crate::decide::{Served, served};
use crate::fault::{Code, Fault, Report, Reported, Severity, gathered, printable, render, tried};
use crate::files::{self, Refusal};
use crate::load::{BoxSummary, Effort, Known, Misfit, summary};
use crate::quantity::{Overflow, Units};
use crate::read::{self, Asked, Workspace};
use crate::show::{Format, Ground, Page, Paper};
use crate::trade::{Date, Shipment, Tariffs};

/// A shipment, and the way in which it is bought.
#[derive(Debug, Args)]
pub(super) struct One {
    /// The shipment, by name or path
    pub(super) shipment: String,
    /// The way to buy it, by the `id` of a [[way]] [default: as it is written]
    #[arg(long, value_name = "ID")]
    pub(super) way: Option<String>,
}

/// Whether what has lapsed serves on.
#[derive(Debug, Args)]
pub(super) struct Lapsed {
    /// Where nothing else serves, use the last price or rate of ours although it has lapsed; it counts as
    /// assumed. Law and rates that customs certify never serve on
    #[arg(long)]
    pub(super) carry: bool,
}

/// The sheets that a page is printed on.
#[derive(Debug, Clone, Copy, Args)]
pub(super) struct Sheets {
    /// The sheets that it is printed on
    #[arg(long, value_enum, default_value = "a4")]
    paper: OnPaper,
}

/// The sheets of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum OnPaper {
    /// 210 x 297 mm
    A4,
    /// 8.5 x 11 in
    Letter,
}

impl Sheets {
    pub(super) fn paper(self) -> Paper {
        match self.paper {
            OnPaper::A4 => Paper::A4,
            OnPaper::Letter => Paper::Letter,
        }
    }

    /// What drawings are made for.
    pub(super) fn ground(self, options: &Options) -> Ground {
        Ground { columns: options.width(), paper: self.paper() }
    }
}

impl One {
    pub(super) fn asked(&self) -> Asked<'_> {
        Asked { name: &self.shipment, way: self.way.as_deref() }
    }
}

/// A day on the command line.
pub(super) fn day(text: &str) -> Result<Date, String> {
    text.parse().map_err(|_| match read::day_meant(text) {
        Some(meant) => meant,
        None if text.eq_ignore_ascii_case("today") => format!("write {}", today()),
        None => "expected a date such as 2026-04-11".to_owned(),
    })
}

/// Today's date by the clock, in UTC: for a hint alone, as no result may depend on it.
fn today() -> Date {
    chrono::DateTime::<chrono::Utc>::from(std::time::SystemTime::now()).date_naive()
}

/// Options of every command.
#[derive(Debug, Args)]
#[command(next_help_heading = "Options of every command")]
pub struct Options {
    /// The workspace: the folder that holds rates/ and shipments/ [default: the nearest above]
    #[arg(long, global = true, value_name = "FOLDER")]
    dir: Option<PathBuf>,
    /// The form of the result [default: by the ending of --out, such as cost.csv, else text]
    #[arg(long = "as", global = true, value_enum, value_name = "FORM")]
    as_form: Option<Form>,
    /// The units of lengths, areas and masses; JSON stays metric
    #[arg(long, global = true, value_enum, value_name = "SYSTEM", default_value = "metric")]
    units: System,
    /// The width of text in columns [default: that of the terminal, or 78 where there is none]
    #[arg(long, global = true, value_name = "N", value_parser = clap::value_parser!(u16).range(i64::from(FEWEST)..=400))]
    width: Option<u16>,
    /// Write the result to this file, whole or not at all; - is stdout
    #[arg(long, global = true, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Overwrite a file that exists
    #[arg(long, global = true)]
    force: bool,
    /// Search up to N times as long where the load is not proven the cheapest: 1 to 1000
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
    /// A page of HTML, to paste into an e-mail
    Html,
    /// A page of HTML to keep and print, with drawings of the figures
    Page,
    /// The main table as comma-separated values
    Csv,
    /// A workbook, a sheet for each table
    Xlsx,
    /// JSON for scripts
    Json,
}

impl Form {
    /// Each form, its word on the command line and the endings of its files.
    const ENDINGS: [(Self, &'static str, &'static [&'static str]); 7] = [
        (Self::Text, "text", &["txt"]),
        (Self::Markdown, "markdown", &["md", "markdown"]),
        (Self::Html, "html", &["html", "htm"]),
        (Self::Page, "page", &["html", "htm"]),
        (Self::Csv, "csv", &["csv"]),
        (Self::Xlsx, "xlsx", &["xlsx"]),
        (Self::Json, "json", &["json"]),
    ];

    /// The form that the ending of a file names.
    fn of_file(path: &Path) -> Option<Self> {
        let ending = path.extension()?.to_str()?.to_lowercase();
        let mut all = Self::ENDINGS.iter();
        all.find(|(.., endings)| endings.contains(&ending.as_str())).map(|(form, ..)| *form)
    }

    fn word(self) -> &'static str {
        Self::ENDINGS.iter().find(|(form, ..)| *form == self).map_or("", |(_, word, _)| word)
    }

    fn ending(self) -> &'static str {
        let own = Self::ENDINGS.iter().find(|(form, ..)| *form == self);
        own.and_then(|(.., endings)| endings.first()).map_or("", |ending| ending)
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum System {
    /// mm, m2, kg
    Metric,
    /// in, ft2, lb
    Us,
}

/// The columns of text that is not for a terminal: what an e-mail carries.
const PASTED: usize = 78;

/// The fewest columns that a page is laid out for.
const FEWEST: u16 = 40;

/// The word that something was said. Only what prints gives it, so that no command ends in silence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Said(());

/// How a command ends, once it has said how.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done(Said),
    /// The data is unreadable or inconsistent.
    BadData(Said),
    /// The command line is.
    BadCommand(Said),
    /// The data is good and the answer is "no".
    No(Said),
    /// The result could not be written.
    NotWritten(Said),
}

impl Exit {
    /// The process's exit code.
    pub fn code(self) -> u8 {
        match self {
            Self::Done(_) => 0,
            Self::BadData(_) => 1,
            Self::BadCommand(_) => 2,
            Self::No(_) => 3,
            Self::NotWritten(_) => 4,
        }
    }
}

/// A file that is written beside the result.
pub(super) struct Beside<'a> {
    /// Where.
    pub(super) path: &'a Path,
    /// What.
    pub(super) contents: files::Contents<'a>,
    /// Whether it is a plan: it replaces nothing but a plan, and that one even if it was read.
    pub(super) is_plan: bool,
}

/// A shipment that was read, the rates it was costed at, and what it came to.
pub(super) type Read<'t> = (Shipment, Cow<'t, Tariffs>, Result<Costed, Vec<Misfit>>);

/// A result that has its JSON apart from its page.
pub(super) type Json<'a> = &'a dyn Fn(&mut dyn Write) -> io::Result<()>;

impl Options {
    pub(super) fn units(&self) -> Units {
        match self.units {
            System::Metric => Units::Metric,
            System::Us => Units::Us,
        }
    }

    /// The most columns of a line of text.
    pub(super) fn width(&self) -> usize {
        let shown = self.file().is_none() && self.form() == Form::Text;
        // Where stdout is no terminal, it has no size.
        let terminal = || terminal_size_of(io::stdout()).map(|(Width(columns), _)| columns);
        let columns = self.width.or_else(|| shown.then(terminal).flatten());
        columns.map_or(PASTED, |columns| usize::from(columns.max(FEWEST)))
    }

    /// The form of the result: the one asked for, or that of the file's ending.
    fn form(&self) -> Form {
        let of_file = || Form::of_file(self.file()?);
        self.as_form.or_else(of_file).unwrap_or(Form::Text)
    }

    /// What is wrong with the name of the file: it asks for a form that there is not, or for another than
    /// `--as`.
    pub(super) fn other_form(&self) -> Option<String> {
        const SHEETS: [&str; 5] = ["xls", "ods", "pdf", "docx", "doc"];
        let path = self.file()?;
        if let (Some(asked), Some(named)) = (self.as_form, Form::of_file(path))
            && asked.ending() != named.ending()
        {
            let (name, other) = (path.display(), path.with_extension(asked.ending()));
            let (asked, named, other) = (asked.word(), named.word(), other.display());
            return Some(format!(
                "error: {name} is a name for {named}, and --as asks for {asked}: write --out {other}, or --as {named}"
            ));
        }
        let is_sheet = |end: &str| SHEETS.iter().any(|one| end.eq_ignore_ascii_case(one));
        let end = path.extension()?.to_str().filter(|end| is_sheet(end))?;
        let (form, ends) = match end.to_lowercase().as_str() {
            "pdf" | "docx" | "doc" => ("html", "html"),
            _ => ("xlsx", "xlsx"),
        };
        let other = path.with_extension(ends);
        let other = other.display();
        Some(format!("error: there is no form {end}: write --out {other} --as {form}"))
    }

    /// Why the result cannot go where it would: a terminal shows no workbook.
    pub(super) fn unshowable(&self) -> Option<&'static str> {
        let is_shown = self.file().is_none() && io::stdout().is_terminal();
        (self.is_workbook() && is_shown).then_some(
            "error: a terminal shows no workbook: name its file, such as --out result.xlsx",
        )
    }

    /// Whether the result is a workbook.
    pub(super) fn is_workbook(&self) -> bool {
        self.form() == Form::Xlsx
    }

    /// Whether the result is a page of HTML.
    pub(super) fn is_html(&self) -> bool {
        matches!(self.form(), Form::Html | Form::Page)
    }

    /// Whether the result goes to a file.
    pub(super) fn writes(&self) -> bool {
        self.file().is_some()
    }

    /// The file that the result goes to; `None`: it goes to stdout.
    fn file(&self) -> Option<&Path> {
        self.out.as_deref().filter(|path| *path != Path::new("-"))
    }

    /// Whether a file that is there may be replaced.
    pub(super) fn forces(&self) -> bool {
        self.force
    }

    /// The work that planning may take.
    pub(super) fn effort(&self) -> Effort {
        Effort { watch: progress::watch(), ..Effort::default() }.times(self.effort)
    }

    /// An empty report whose sentences are in the units asked for.
    pub(super) fn report(&self) -> Report {
        Report::in_units(self.units())
    }

    /// The workspace and what could be read of its tariffs; an end where there is no workspace. With
    /// faults in the report, the tariffs serve only to find the shipments' faults as well.
    pub(super) fn open(&self, report: &mut Report) -> Result<(Workspace, Tariffs), Exit> {
        let workspace = self.workspace(report);
        let workspace = workspace.or_else(|reported| Self::told(report, Err(reported)))?;
        let tariffs = read::tables(&workspace, report);
        Ok((workspace, tariffs))
    }

    /// The folder of a shipment; `None`: there is none, which is told where the shipment is read.
    pub(super) fn folder_of(&self, shipment: &str) -> Option<PathBuf> {
        tried(|report| self.workspace(report))?.folder_of(shipment)
    }

    /// Keeps the texts that a fault points into, where they are gone: those of many sound files are not kept.
    pub(super) fn keep_texts(fault: &Fault, workspace: &Workspace, report: &mut Report) {
        for (place, _) in fault.place.iter().chain(&fault.also) {
            if report.source(&place.file).is_none() {
                // It was read before; where it is gone since, that is told.
                let _ = files::read(&workspace.root().join(&*place.file), &place.file, report);
            }
        }
    }

    pub(super) fn workspace(&self, report: &mut Report) -> Result<Workspace, Reported> {
        match &self.dir {
            Some(folder) => Workspace::at(folder, report),
            None => Workspace::find(Path::new("."), report),
        }
    }

    /// Reads and costs one shipment, where it is asked for with lapsed rates serving on: it, and the rates it
    /// was costed at.
    pub(super) fn costed<'t>(
        &self,
        workspace: &Workspace,
        (asked, carry): (Asked<'_>, bool),
        tariffs: &'t Tariffs,
        report: &mut Report,
    ) -> Result<Read<'t>, Reported> {
        self.costed_knowing(workspace, (asked, carry), (tariffs, &Known::default()), report)
    }

    /// The same where loads are searched for again later: those that are found are known then.
    pub(super) fn costed_knowing<'t>(
        &self,
        workspace: &Workspace,
        (asked, carry): (Asked<'_>, bool),
        (tariffs, known): (&'t Tariffs, &Known),
        report: &mut Report,
    ) -> Result<Read<'t>, Reported> {
        let shipment = read::shipment(workspace, asked, tariffs, report)?;
        let served = self.served_knowing((&shipment, tariffs), carry, known, report)?;
        Ok((served.shipment.into_owned(), served.tariffs, served.made))
    }

    /// Reads and costs one shipment, after `prepare` has changed what was read.
    fn costed_as<'t>(
        &self,
        workspace: &Workspace,
        (asked, carry): (Asked<'_>, bool),
        tariffs: &'t Tariffs,
        prepare: impl FnOnce(&Workspace, &mut Shipment, &Tariffs, &mut Report) -> Result<(), Reported>,
        report: &mut Report,
    ) -> Result<Read<'t>, Reported> {
        let mut shipment = read::shipment(workspace, asked, tariffs, report)?;
        prepare(workspace, &mut shipment, tariffs, report)?;
        let served = self.served((&shipment, tariffs), carry, report)?;
        Ok((served.shipment.into_owned(), served.tariffs, served.made))
    }

    /// Costs a shipment that was read, where it is asked for with lapsed rates serving on.
    pub(super) fn served<'s, 't>(
        &self,
        of: (&'s Shipment, &'t Tariffs),
        carry: bool,
        report: &mut Report,
    ) -> Result<Served<'s, 't, Result<Costed, Vec<Misfit>>>, Reported> {
        self.served_knowing(of, carry, &Known::default(), report)
    }

    fn served_knowing<'s, 't>(
        &self,
        of: (&'s Shipment, &'t Tariffs),
        carry: bool,
        known: &Known,
        report: &mut Report,
    ) -> Result<Served<'s, 't, Result<Costed, Vec<Misfit>>>, Reported> {
        served(of, carry, report, |shipment, tariffs, report| {
            self.estimated_knowing((shipment, tariffs), known, report)
        })
    }

    /// Costs a shipment that was read, and asks about what its invoices state.
    pub(super) fn estimated(
        &self,
        shipment: &Shipment,
        tariffs: &Tariffs,
        report: &mut Report,
    ) -> Result<Result<Costed, Vec<Misfit>>, Reported> {
        self.estimated_knowing((shipment, tariffs), &Known::default(), report)
    }

    fn estimated_knowing(
        &self,
        (shipment, tariffs): (&Shipment, &Tariffs),
        known: &Known,
        report: &mut Report,
    ) -> Result<Result<Costed, Vec<Misfit>>, Reported> {
        let mut costed = estimate_again(shipment, tariffs, (self.effort(), known), report)?;
        if let Ok(costed) = &mut costed {
            let steps = next_steps(shipment, tariffs, costed, self.effort());
            let steps = report.fits(steps, &shipment.packing_file)?;
            costed.landed.notes.extend(steps.iter().cloned().map(Note));
            costed.next_steps = steps;
            let proven = prove(shipment, &costed.landed).unwrap_or_default();
            doubt_invoices(shipment, &proven, report);
            doubt_finance(&costed.landed, report);
        }
        Ok(costed)
    }

    /// Reads shipments, each with a report of its own, so that the faults of one do not hide those of
    /// the next.
    pub(super) fn read_each(
        workspace: &Workspace,
        names: &[String],
        tariffs: &Tariffs,
        report: &mut Report,
    ) -> Result<Vec<Shipment>, Reported> {
        let rates = report.clone();
        gathered(names.iter().map(|name| {
            let mut own = rates.clone();
            let shipment = read::shipment(workspace, name, tariffs, &mut own);
            report.absorb(own);
            shipment
        }))
    }

    /// Prints the faults, if any; errors are an end.
    pub(super) fn tell(report: &Report) -> Result<(), Exit> {
        let is_plain = std::env::var_os("NO_COLOR").is_some()
            || std::env::var_os("TERM").is_some_and(|term| term == "dumb");
        let colour = io::stderr().is_terminal() && !is_plain;
        // A reader that hung up on stderr needs no further word.
        let _ = io::stderr().write_all(render(report, colour).as_bytes());
        if report.has_errors() { Err(Exit::BadData(Said(()))) } else { Ok(()) }
    }

    /// Prints a sentence on stderr, safe to print whatever names it holds.
    pub(super) fn say(text: &str) -> Said {
        let _ = writeln!(io::stderr(), "{}", printable(text));
        Said(())
    }

    /// Whether the form asked for has more than the main table of a page.
    pub(super) fn has_memos(&self) -> bool {
        self.form() != Form::Csv
    }

    /// Prints the faults and hands on what was made.
    pub(super) fn told<T>(report: &Report, made: Result<T, Reported>) -> Result<T, Exit> {
        Self::tell(report)?;
        made.map_err(|Reported { .. }| {
            // The fault is in another report then, which was to be taken over.
            let said = "error: a fault is lost; this is a mistake of the program: please report it";
            Exit::BadData(Self::say(said))
        })
    }

    /// Writes a result where it belongs, in the form asked for. Nothing is written over a file that
    /// the report says was read.
    pub(super) fn put(&self, report: &Report, page: Page<'_>, json: Json<'_>) -> Exit {
        self.put_with(report, page, json, Vec::new())
    }

    /// Writes a result and the files beside it, all of them or none.
    pub(super) fn put_with(
        &self,
        report: &Report,
        page: Page<'_>,
        json: Json<'_>,
        beside: Vec<Beside<'_>>,
    ) -> Exit {
        let mut all = beside;
        if let Some(path) = self.file() {
            let contents: files::Contents<'_> = Box::new(|out| self.write(page, json, out));
            all.push(Beside { path, contents, is_plan: false });
            return self.put_files(report, all).map_or_else(|exit| exit, Exit::Done);
        }
        if let Err(exit) = self.put_files(report, all) {
            return exit;
        }
        Self::to_stdout(|out| self.write(page, json, out))
    }

    /// Writes a page that people keep, which has one form: HTML.
    pub(super) fn put_kept(&self, report: &Report, page: Page<'_>) -> Exit {
        let asked = self.as_form.or_else(|| Form::of_file(self.file()?));
        if let Some(other) = asked.filter(|form| form.ending() != Form::Html.ending()) {
            let word = other.word();
            return Exit::BadCommand(Self::say(&format!(
                "error: this page is HTML: name a file such as page.html, or ask `cost`, `load` or `cash` for {word}"
            )));
        }
        let width = self.width();
        let write = |out: &mut dyn Write| page.write(Format::Kept, width, out);
        match self.file() {
            Some(path) => {
                let one = Beside { path, contents: Box::new(write), is_plan: false };
                self.put_files(report, vec![one]).map_or_else(|exit| exit, Exit::Done)
            }
            None => Self::to_stdout(write),
        }
    }

    /// Writes pages as CSV into a folder, a file for each by its name, all of them or none.
    pub(super) fn put_parts(
        &self,
        report: &Report,
        folder: &Path,
        parts: Vec<(&str, Page<'_>)>,
    ) -> Result<Exit, Exit> {
        let paths: Vec<PathBuf> =
            parts.iter().map(|(name, _)| folder.join(format!("{name}.csv"))).collect();
        let all = paths.iter().zip(parts).map(|(path, (_, page))| {
            let write = |out: &mut dyn Write| page.write(Format::Csv, self.width(), out);
            Beside { path, contents: Box::new(write), is_plan: false }
        });
        self.put_files(report, all.collect()).map(Exit::Done)
    }

    /// Writes a text that has one form, whatever `--as` says.
    pub(super) fn put_plain(&self, contents: Vec<u8>) -> Exit {
        match self.file() {
            Some(path) => {
                let one = Beside { path, contents: files::bytes(contents), is_plan: false };
                self.put_files(&self.report(), vec![one]).map_or_else(|exit| exit, Exit::Done)
            }
            None => Self::to_stdout(|out| out.write_all(&contents)),
        }
    }

    fn to_stdout(write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Exit {
        // Decided on 2026-11-27. A stdout that was closed (`>&-`) is done, as one that is thrown away. Rust opens
        // /dev/null in its place before `main`, as those do who start a program whose result they do not want:
        // nothing on the stream tells the two apart, and looking earlier would need unsafe code.
        let mut out = io::BufWriter::with_capacity(1 << 16, io::stdout().lock());
        match write(&mut out).and_then(|()| out.flush()) {
            Ok(()) => Exit::Done(Said(())),
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Exit::Done(Said(())),
            Err(error) => Self::not_written(None, &error.into()),
        }
    }

    fn put_files(&self, report: &Report, all: Vec<Beside<'_>>) -> Result<Said, Exit> {
        for one in &all {
            let name = one.path.display();
            let why = if one.is_plan {
                let other = self.force && one.path.is_file() && !read::is_plan(one.path);
                other.then_some("is no plan: --freeze replaces nothing else")
            } else {
                report.has_read(one.path).then_some(
                    "was read for this result: name another file, such as --out result.csv",
                )
            };
            if let Some(why) = why {
                return Err(Exit::NotWritten(Self::say(&format!("error: {name} {why}"))));
            }
        }
        let paths: Vec<&Path> = all.iter().map(|one| one.path).collect();
        let all = all.into_iter().map(|one| (one.path, one.contents)).collect();
        files::write_all(all, self.force)
            .map(|()| Said(()))
            .map_err(|(at, refusal)| Self::not_written(paths.get(at).copied(), &refusal))
    }

    /// Refuses one path for two of the files that a command is asked to write.
    pub(super) fn refuse_one_path_twice(&self, beside: &[&Path]) -> Result<(), Exit> {
        let all: Vec<&Path> = beside.iter().copied().chain(self.file()).collect();
        let real = |path: &Path| {
            // A file that is not there yet is known by its folder.
            let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
            let folder = folder.unwrap_or(Path::new(".")).canonicalize().ok();
            let joined = folder.zip(path.file_name()).map(|(folder, name)| folder.join(name));
            path.canonicalize().ok().or(joined).unwrap_or_else(|| path.to_path_buf())
        };
        for (rank, one) in all.iter().enumerate() {
            if all.iter().take(rank).any(|other| real(other) == real(one)) {
                let said = format!("error: {} is to be written twice", one.display());
                return Err(Exit::BadCommand(Self::say(&said)));
            }
        }
        Ok(())
    }

    /// Refuses two names of one shipment.
    pub(super) fn refuse_one_shipment_twice(
        names: &[String],
        workspace: &Workspace,
    ) -> Result<(), Exit> {
        let mut seen: BTreeMap<PathBuf, &str> = BTreeMap::new();
        for name in names {
            // What is not there is reported when it is read.
            let folder = workspace.folder_of(name).and_then(|folder| folder.canonicalize().ok());
            let said = match seen.insert(folder.unwrap_or_else(|| PathBuf::from(name)), name) {
                None => continue,
                Some(first) if first == name => format!("error: \"{name}\" is named twice"),
                Some(first) => format!("error: \"{first}\" and \"{name}\" are one shipment"),
            };
            return Err(Exit::BadCommand(Self::say(&said)));
        }
        Ok(())
    }

    pub(super) fn not_written(path: Option<&Path>, refusal: &Refusal) -> Exit {
        let name = path.map_or_else(|| "stdout".to_owned(), |p| p.display().to_string());
        let why = match refusal {
            Refusal::There => "is there already; --force overwrites it".to_owned(),
            Refusal::Link(to) => format!("is a link to {}: name the file itself", to.display()),
            Refusal::ReadOnly => {
                "is read-only: allow it to be written, or name another file".to_owned()
            }
            Refusal::NoFile(what) => format!("is {what}: nothing but a plain file is replaced"),
            Refusal::System(error) => {
                let folder =
                    path.and_then(Path::parent).filter(|folder| !folder.as_os_str().is_empty());
                match folder.filter(|folder| !folder.exists()) {
                    Some(folder) => format!(
                        "could not be written: its folder is not there: make it first, mkdir {}",
                        folder.display()
                    ),
                    None => format!("could not be written: {error}"),
                }
            }
        };
        Exit::NotWritten(Self::say(&format!("error: {name} {why}")))
    }

    fn write(&self, page: Page<'_>, json: Json<'_>, out: &mut dyn Write) -> io::Result<()> {
        let format = match self.form() {
            Form::Json => return json(out),
            Form::Text => Format::Text,
            Form::Markdown => Format::Markdown,
            Form::Html => Format::Html,
            Form::Page => Format::Kept,
            Form::Csv => Format::Csv,
            Form::Xlsx => Format::Xlsx,
        };
        page.write(format, self.width(), out)
    }

    /// Reads and costs one shipment and hands it to `then`; faults end it before.
    pub(super) fn with_costed(
        &self,
        one: &One,
        lapsed: &Lapsed,
        then: impl FnOnce(&Shipment, &mut Costed, &Tariffs, &Report) -> Exit,
    ) -> Exit {
        self.with_costed_as((one.asked(), lapsed.carry), |_, _, _, _| Ok(()), then)
    }

    /// The same, after `prepare` has changed what was read.
    pub(super) fn with_costed_as(
        &self,
        asked: (Asked<'_>, bool),
        prepare: impl FnOnce(&Workspace, &mut Shipment, &Tariffs, &mut Report) -> Result<(), Reported>,
        then: impl FnOnce(&Shipment, &mut Costed, &Tariffs, &Report) -> Exit,
    ) -> Exit {
        self.with_made(
            asked,
            prepare,
            |_, _, _, _| Ok(()),
            |shipment, costed, tariffs, ((), report)| then(shipment, costed, tariffs, report),
        )
    }

    /// Costs one shipment, works out its payments, and hands both to `then`. Payments after they were booked need rates
    /// of their own days: their faults join the others.
    pub(super) fn with_paid(
        &self,
        one: &One,
        lapsed: &Lapsed,
        then: impl FnOnce(&Shipment, &mut Costed, &Tariffs, (Cash, &Report)) -> Exit,
    ) -> Exit {
        let asked = (one.asked(), lapsed.carry);
        self.with_made(asked, |_, _, _, _| Ok(()), payments, then)
    }

    /// The same where the cost alone is needed: without payments where they lack a rate.
    pub(super) fn with_paid_or_not(
        &self,
        one: &One,
        lapsed: &Lapsed,
        then: impl FnOnce(&Shipment, &mut Costed, &Tariffs, (Option<Cash>, &Report)) -> Exit,
    ) -> Exit {
        let asked = (one.asked(), lapsed.carry);
        let paid = |shipment: &_, tariffs: &_, costed: &_, report: &mut Report| {
            Ok(payments(shipment, tariffs, costed, &mut report.clone()).ok())
        };
        self.with_made(asked, |_, _, _, _| Ok(()), paid, then)
    }

    /// Reads one shipment, has `prepare` change it, costs it, has `more` work something out of that, and hands all to
    /// `then`; faults end it before.
    fn with_made<T>(
        &self,
        asked: (Asked<'_>, bool),
        prepare: impl FnOnce(&Workspace, &mut Shipment, &Tariffs, &mut Report) -> Result<(), Reported>,
        more: impl FnOnce(&Shipment, &Tariffs, &Costed, &mut Report) -> Result<T, Reported>,
        then: impl FnOnce(&Shipment, &mut Costed, &Tariffs, (T, &Report)) -> Exit,
    ) -> Exit {
        let mut report = self.report();
        let (workspace, tariffs) = match self.open(&mut report) {
            Ok(opened) => opened,
            Err(exit) => return exit,
        };
        let made = {
            let _shown = Progress::show();
            self.costed_as(&workspace, asked, &tariffs, prepare, &mut report)
        };
        let made = made.and_then(|(shipment, tariffs, tried)| {
            let tried = match tried {
                Ok(costed) => {
                    let more = more(&shipment, &tariffs, &costed, &mut report)?;
                    Ok((costed, more))
                }
                Err(misfits) => Err(misfits),
            };
            Ok((shipment, tariffs, tried))
        });
        let (shipment, tariffs, tried) = match Self::told(&report, made) {
            Ok(made) => made,
            Err(exit) => return exit,
        };
        let (mut costed, more) = match tried {
            Ok(made) => made,
            Err(misfits) => return Self::no_box(&shipment, &misfits, &report),
        };
        let exit = then(&shipment, &mut costed, &tariffs, (more, &report));
        Self::unless_under_least(exit, &shipment, &costed)
    }

    /// Says what of a shipment is under a supplier's least order: then the answer is "no".
    pub(super) fn unless_under_least(exit: Exit, shipment: &Shipment, costed: &Costed) -> Exit {
        let mut said = None;
        for one in &costed.under_least {
            said = Some(Self::say(&format!("{}: {}", shipment.called(), one.what)));
        }
        match (exit, said) {
            (Exit::Done(_), Some(said)) => Exit::No(said),
            (exit, _) => exit,
        }
    }

    /// The boxes of a load summed up, with what holds their cargo; an end where a figure is too large.
    pub(super) fn summed_up<'a>(
        shipment: &'a Shipment,
        costed: &'a Costed,
        tariffs: &Tariffs,
    ) -> Result<Vec<BoxSummary<'a>>, Exit> {
        let plan = &costed.plan;
        let all = plan.boxes.iter().map(|filled| {
            let mut one = summary(plan, filled, &shipment.bundles)?;
            one.consult(shipment, tariffs);
            Ok(one)
        });
        let all: Result<Vec<_>, Overflow> = all.collect();
        Self::fitted(all)
    }

    /// What was worked out; an end where a figure of it is too large.
    pub(super) fn fitted<T>(made: Result<T, Overflow>) -> Result<T, Exit> {
        made.map_err(|overflow| Exit::BadData(Self::say(&format!("error: {overflow}"))))
    }

    /// Says why a shipment cannot be loaded: bundles that fit no box, or requests that cannot be met. What the
    /// report asks about sizes comes first: bundles that are hardly as they are written need no other box.
    pub(super) fn no_box(shipment: &Shipment, misfits: &[Misfit], report: &Report) -> Exit {
        let is_asked = misfits.iter().any(|misfit| !misfit.asked.is_empty());
        let of_bundles = misfits.iter().all(|misfit| !misfit.bundles.is_empty());
        let head = match (is_asked, of_bundles) {
            (true, _) => "it cannot be loaded as [load] asks",
            (false, true) => "no box can carry these bundles",
            (false, false) => "it cannot be loaded",
        };
        Self::say(&format!("{}: {head}", shipment.called()));
        for misfit in misfits {
            let bundles = misfit.bundles.iter().filter_map(|at| shipment.bundles.get(*at));
            let names: Vec<&str> = bundles.clone().map(|bundle| bundle.id.as_str()).collect();
            let mut places: Vec<String> = misfit.asked.iter().map(ToString::to_string).collect();
            if let [_] = names[..] {
                places.splice(0..0, bundles.map(|bundle| bundle.place.to_string()));
            }
            let who = match names[..] {
                [] => String::new(),
                [one] => one.to_owned(),
                _ => format!("{} together", names.join(", ")),
            };
            let at =
                if places.is_empty() { String::new() } else { format!(" ({})", places.join(", ")) };
            Self::say(&if who.is_empty() {
                format!("  {}{at}", misfit.reason)
            } else {
                format!("  {who}{at}: {}", misfit.reason)
            });
        }
        let is_doubted =
            |fault: &&Fault| fault.severity == Severity::Warning && fault.code == Code::OutOfRange;
        let is_lift = |misfit: &Misfit| misfit.reason.contains("above the yard's");
        let asked = if report.sorted().iter().any(is_doubted) {
            "answer what is asked above first: if a size is a slip, correct it".to_owned()
        } else if is_asked {
            "change what [load] asks there, or allow another container type".to_owned()
        } else if misfits.iter().all(is_lift) {
            lighter(shipment, misfits)
        } else {
            "ask the supplier to bundle them otherwise, or allow another container type".to_owned()
        };
        Exit::No(Self::say(&asked))
    }
}

/// The payments of a shipment that was costed.
fn payments(
    shipment: &Shipment,
    tariffs: &Tariffs,
    costed: &Costed,
    report: &mut Report,
) -> Result<Cash, Reported> {
    cost::cash(shipment, tariffs, (&costed.plan, &costed.choice), &costed.landed, report)
}

/// What to ask for where bundles are above the lift: how many slabs of the heaviest sort make one.
fn lighter(shipment: &Shipment, misfits: &[Misfit]) -> String {
    let yard = &shipment.yard;
    let lift = yard.crane.map_or(yard.lift, |crane| crane.min(yard.lift));
    let all = misfits.iter().flat_map(|misfit| &misfit.bundles);
    let most = all.filter_map(|at| {
        let bundle = shipment.bundles.get(*at)?;
        let slabs = i64::try_from(bundle.slabs).ok()?;
        lift.grams_down().checked_mul(slabs)?.checked_div(bundle.limit_mass.grams_up())
    });
    let ask = match most.min().unwrap_or(0) {
        0 => "smaller slabs, as one alone is too heavy".to_owned(),
        1 => "bundles of 1 slab".to_owned(),
        most => format!("bundles of at most {most} slabs"),
    };
    format!("ask the supplier for {ask}: no other container type helps where the lift is too weak")
}
