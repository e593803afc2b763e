//! `quaystone import`: a supplier's list into a shipment's `packing.csv`, or a proforma's lines into its invoice.

use std::io::Read as _;
use std::path::PathBuf;

use super::begin::{typed, word};
use super::job::{Beside, Exit, Options};
use crate::fault::{Report, Reported, tried};
use crate::files;
use crate::import::{Answers, Imported, Proforma, import, proforma};
use crate::quantity::Length;
use crate::read::{self, Kept};
use crate::show;
use crate::starter::{OfLines, with_lines};

/// Arguments of `import`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The packing list or proforma as it was sent: XLSX, XLS, ODS, CSV or text; - is a table pasted here
    file: PathBuf,
    /// The shipment whose packing.csv or invoice lines are written, by name or path
    #[arg(long, value_name = "SHIPMENT")]
    into: String,
    /// The unit of sizes that have none: mm, cm, m, in, ft; of one column: thickness=mm, price=USD/m2
    #[arg(long = "unit", value_name = "UNIT", value_parser = unit)]
    stated_units: Vec<String>,
    /// What a column is, by its letters or number: length=D, "billed length=F", none=G
    #[arg(long = "column", value_name = "NAME=COLUMN", value_parser = column, value_delimiter = ',')]
    named_columns: Vec<String>,
    /// The bundle of slabs for which the list names none
    #[arg(long, value_name = "NAME")]
    bundle: Option<String>,
    /// Whether slabs in hidden rows and sheets come: read or skip
    #[arg(long, value_name = "WORD", value_parser = ["read", "skip"])]
    hidden: Option<String>,
    /// Read the lines of a proforma, although the file holds a list of slabs as well
    #[arg(long)]
    lines: bool,
    /// The stone of lines that name none: an `id` of rates/stones.toml
    #[arg(long, value_name = "STONE", value_parser = word)]
    stone: Option<String>,
    /// The finish of lines that name none, such as polished
    #[arg(long, value_name = "WORD", value_parser = word)]
    finish: Option<String>,
    /// The thickness of lines that state none, such as "20 mm"
    #[arg(long, value_name = "LENGTH", value_parser = typed::<Length>)]
    thickness: Option<String>,
    /// The supplier for whom answers are kept [default: the shipment's, where it has one]
    #[arg(long, value_name = "NAME")]
    supplier: Option<String>,
}

fn unit(text: &str) -> Result<String, String> {
    Answers::default().take_unit(text).map(|()| text.to_owned())
}

fn column(text: &str) -> Result<String, String> {
    Answers::default().take_column(text).map(|()| text.to_owned())
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let mut report = options.report();
    let made = read_list(args, options, &mut report);
    let (read, beside) = match Options::told(&report, made) {
        Ok(made) => made,
        Err(exit) => return exit,
    };
    let files: Vec<Beside<'_>> = beside
        .iter()
        .map(|(path, contents)| Beside {
            path,
            contents: files::bytes(contents.clone()),
            is_plan: false,
        })
        .collect();
    let written: Vec<String> = beside.iter().map(|(path, _)| path.display().to_string()).collect();
    match &read {
        Read::List(imported) => {
            let page = show::imported(imported, &written);
            options.put_with(&report, page, &|out| show::json::import(imported, out), files)
        }
        Read::Lines(proforma) => {
            let page = show::proforma(proforma, &written);
            options.put_with(&report, page, &|out| show::json::proforma(proforma, out), files)
        }
    }
}

/// What was read.
enum Read {
    List(Imported),
    Lines(Proforma),
}

/// How an answer is taken.
type Take = fn(&mut Answers, &str) -> Result<(), String>;

/// A file to be written.
type ToWrite = (PathBuf, Vec<u8>);

fn read_list(
    args: &Args,
    options: &Options,
    report: &mut Report,
) -> Result<(Read, Vec<ToWrite>), Reported> {
    let workspace = options.workspace(report)?;
    let folder = workspace.shipment_folder(&args.into, report)?;
    let supplier = args.supplier.clone().or_else(|| read::only_supplier(&folder));
    let kept = match &supplier {
        Some(supplier) => read::answers(workspace.root(), supplier, report)?,
        None => Kept::default(),
    };
    let mut all = kept.clone();
    let mut answers = Answers {
        hidden: args.hidden.as_deref().map(|word| word == "read"),
        bundle: args.bundle.clone(),
        ..Answers::default()
    };
    let takes: [Take; 2] = [Answers::take_unit, Answers::take_column];
    let texts = [(&mut all.units, &args.stated_units), (&mut all.columns, &args.named_columns)];
    for ((texts, own), take) in texts.into_iter().zip(takes) {
        let new: Vec<String> = own.iter().filter(|one| !texts.contains(one)).cloned().collect();
        texts.extend(new);
        for text in texts {
            take(&mut answers, text).map_err(|why| report.error(kept_wrong(text, &why)))?;
        }
    }
    let (name, bytes) = if args.file.as_os_str() == "-" {
        let mut bytes = Vec::new();
        let read = std::io::stdin().take(64 << 20).read_to_end(&mut bytes);
        read.map_err(|error| report.error(unread(&error)))?;
        ("the pasted table".to_owned(), bytes)
    } else {
        let name = args.file.display().to_string();
        let bytes = files::read_bytes(&args.file, &name, report)?;
        (name, bytes)
    };
    let list = folder.join("packing.csv");
    let (read, first) = match proforma(&name, &bytes, (&answers, args.lines), report)? {
        Some(proforma) => {
            let file = folder.join("shipment.toml");
            let name = file.display().to_string();
            // It is read to be replaced.
            let text = match tried(|own| files::read(&file, &name, own)) {
                Some(text) => text,
                None => files::read(&file, &name, report)?,
            };
            let tariffs = read::tables(&workspace, report);
            let said = OfLines {
                stone: args.stone.clone(),
                finish: args.finish.clone(),
                thickness: args.thickness.clone(),
            };
            let old = (&*name, &*text.text, list.exists());
            let text = with_lines(old, &proforma, (&said, &tariffs), report)?;
            (Read::Lines(proforma), (file, text.into_bytes()))
        }
        None => {
            let imported = import(&name, &bytes, &answers, report)?;
            let text = show::packing_csv(&imported.clean);
            (Read::List(imported), (list, text))
        }
    };
    let mut beside = vec![first];
    if let Some(supplier) = supplier.filter(|_| all != kept) {
        beside.push((
            read::answers_file(workspace.root(), &supplier),
            all.written(&supplier).into_bytes(),
        ));
    }
    Ok((read, beside))
}

fn kept_wrong(text: &str, why: &str) -> crate::fault::Fault {
    use crate::fault::{Code, Fault};
    Fault::error(Code::BadQuantity, format!("\"{text}\" was kept for this supplier: {why}"))
        .help("correct it there, or delete the file")
}

fn unread(error: &std::io::Error) -> crate::fault::Fault {
    use crate::fault::{Code, Fault};
    Fault::error(Code::UnreadableFile, format!("stdin cannot be read: {error}"))
}
