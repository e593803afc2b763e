//! `quaystone completions` and `quaystone manual`: what a shell and `man` can be told of the commands.

use clap::{Command, ValueEnum};
use clap_complete::Shell;

use super::job::{Exit, Options};

/// Arguments of `completions`.
#[derive(Debug, clap::Args)]
pub(super) struct Completions {
    /// The shell that will read them
    #[arg(value_name = "SHELL")]
    shell: Reader,
}

/// Shells that complete a command line by a script.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum Reader {
    Bash,
    Elvish,
    Fish,
    Powershell,
    Zsh,
}

/// Arguments of `manual`.
#[derive(Debug, clap::Args)]
pub(super) struct Manual {
    /// The command that the page is about; left out: the page of the whole, which lists the commands
    #[arg(value_name = "COMMAND")]
    command: Option<String>,
}

pub(super) fn completions(args: &Completions, mut all: Command, options: &Options) -> Exit {
    let shell = match args.shell {
        Reader::Bash => Shell::Bash,
        Reader::Elvish => Shell::Elvish,
        Reader::Fish => Shell::Fish,
        Reader::Powershell => Shell::PowerShell,
        Reader::Zsh => Shell::Zsh,
    };
    let name = all.get_name().to_owned();
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut all, name, &mut script);
    options.put_plain(script)
}

pub(super) fn manual(args: &Manual, mut all: Command, options: &Options) -> Exit {
    // Options of every command, and the names of pages, are spread over the commands.
    all.build();
    let page = match &args.command {
        None => all,
        Some(asked) => match all.find_subcommand(asked) {
            Some(one) => one.clone(),
            None => {
                let known: Vec<&str> = all.get_subcommands().map(Command::get_name).collect();
                let said =
                    format!("error: no command is called {asked}; one of: {}", known.join(", "));
                return Exit::BadCommand(Options::say(&said));
            }
        },
    };
    let mut text = Vec::new();
    match clap_mangen::Man::new(page).render(&mut text) {
        Ok(()) => options.put_plain(text),
        Err(error) => Options::not_written(None, &error.into()),
    }
}
