//! `quaystone import`: a supplier's list into a shipment's `packing.csv`.

use std::io::Read;
use std::path::PathBuf;

use super::job::{Beside, Exit, Options};
use crate::fault::{Report, Reported};
use crate::files;
use crate::import::{Answers, Imported, import};
use crate::read::{self, Kept};
use crate::show;

/// Arguments of `import`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The list as it was sent: XLSX, XLS, ODS, CSV or text; - is a table pasted here
    file: PathBuf,
    /// The shipment whose packing.csv is written, by name or path
    #[arg(long, value_name = "SHIPMENT")]
    into: String,
    /// The unit of sizes that have none: mm, cm, m, in, ft; of one column: thickness=mm
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
    let (imported, beside) = match Options::told(&report, made) {
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
    let page = show::imported(&imported, &written);
    options.put_with(&report, page, &|out| show::json::import(&imported, out), files)
}

/// How an answer is taken.
type Take = fn(&mut Answers, &str) -> Result<(), String>;

/// A file to be written.
type ToWrite = (PathBuf, Vec<u8>);

fn read_list(
    args: &Args,
    options: &Options,
    report: &mut Report,
) -> Result<(Imported, Vec<ToWrite>), Reported> {
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
    let imported = import(&name, &bytes, &answers, report)?;
    let mut beside = vec![(folder.join("packing.csv"), show::packing_csv(&imported.clean))];
    if let Some(supplier) = supplier.filter(|_| all != kept) {
        beside.push((
            read::answers_file(workspace.root(), &supplier),
            all.written(&supplier).into_bytes(),
        ));
    }
    Ok((imported, beside))
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
