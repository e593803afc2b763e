//! `quaystone schema`: what a TOML file may hold, as a JSON Schema for an editor.

use super::job::{Exit, Options};
use crate::read;

/// Arguments of `schema`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The file: `shipment`, `plan`, `sweep`, `events`, or a table of rates/ by its name, such as freight
    #[arg(value_name = "FILE")]
    file: String,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let name = args.file.trim_end_matches(".toml");
    let name = name.rsplit('/').next().unwrap_or(name);
    let Some(schema) = read::schema(name) else {
        let known = read::schemas().join(", ");
        return Exit::BadCommand(Options::say(&format!(
            "error: there is no file {name}.toml; one of: {known}"
        )));
    };
    options.put_plain(format!("{schema}\n").into_bytes())
}
