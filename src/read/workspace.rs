//! The folder that holds `rates/` and `shipments/`.

use std::path::{Path, PathBuf};

use crate::fault::{Code, Fault, Report, Reported};

/// A workspace: the folder that holds `rates/` and `shipments/`.
#[derive(Debug, Clone)]
pub struct Workspace {
    root: PathBuf,
}

impl Workspace {
    /// The workspace at a folder that the user names: there, and not above it.
    ///
    /// # Errors
    ///
    /// If there is none.
    pub fn at(folder: &Path, report: &mut Report) -> Result<Self, Reported> {
        let root = std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned());
        if holds(&root) {
            return Ok(Self { root });
        }
        let what = if root.is_dir() { "is no workspace" } else { "is no folder" };
        Err(report.error(
            Fault::error(Code::UnreadableFile, format!("{} {what}", folder.display()))
                .help("a workspace is a folder that holds rates/ and shipments/"),
        ))
    }

    /// The workspace at a folder, or the nearest above it.
    ///
    /// # Errors
    ///
    /// If there is none.
    pub fn find(start: &Path, report: &mut Report) -> Result<Self, Reported> {
        let absolute = std::path::absolute(start).unwrap_or_else(|_| start.to_owned());
        let found = absolute.ancestors().find(|folder| holds(folder));
        found.map(|root| Self { root: root.to_owned() }).ok_or_else(|| {
            let at = if start == Path::new(".") {
                "here".to_owned()
            } else {
                format!("at {}", start.display())
            };
            report.error(
                Fault::error(Code::UnreadableFile, format!("there is no workspace {at} or above"))
                .help("a workspace is a folder that holds rates/ and shipments/: go there, or name it with --dir"),
            )
        })
    }

    /// The workspace's folder.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// A file as the user knows it: relative to the workspace where it lies inside.
    pub fn name_of(&self, path: &Path) -> String {
        // A shipment may be named by a path that leads here another way, over a link say.
        let real = |path: &Path| path.canonicalize().unwrap_or_else(|_| path.to_owned());
        let inside = path.strip_prefix(&self.root).map(Path::to_owned);
        let inside = inside.or_else(|_| {
            let folder = path.parent().map_or_else(PathBuf::new, real);
            let inside = folder.strip_prefix(real(&self.root)).map(Path::to_owned);
            inside.map(|folder| path.file_name().map_or(folder.clone(), |name| folder.join(name)))
        });
        let Ok(inside) = inside else {
            return path.display().to_string();
        };
        inside
            .components()
            .map(|part| part.as_os_str().to_string_lossy())
            .collect::<Vec<_>>()
            .join("/")
    }

    /// The folder of a shipment, given by name or by path.
    ///
    /// # Errors
    ///
    /// If there is no such shipment.
    pub fn shipment_folder(&self, given: &str, report: &mut Report) -> Result<PathBuf, Reported> {
        self.folder_of(given).ok_or_else(|| report.error(self.no_shipment(given)))
    }

    /// The folder of a shipment, given by name or by path; `None`: there is none.
    pub fn folder_of(&self, given: &str) -> Option<PathBuf> {
        // A shipment may be named by its file, too.
        let folder = match given.strip_suffix("shipment.toml") {
            Some("") => ".",
            Some(folder) if folder.ends_with(['/', '\\']) => folder,
            _ => given,
        };
        let trimmed = folder.trim_end_matches(['/', '\\']);
        let by_name = self.root.join("shipments").join(trimmed);
        let by_path = std::path::absolute(trimmed).unwrap_or_else(|_| PathBuf::from(trimmed));
        let in_root = self.root.join(trimmed);
        [by_name, by_path, in_root]
            .into_iter()
            .find(|folder| !trimmed.is_empty() && folder.join("shipment.toml").is_file())
    }

    fn no_shipment(&self, given: &str) -> Fault {
        // What is not UTF-8 in a name is known by this character alone.
        if given.contains(char::REPLACEMENT_CHARACTER) {
            let what = format!("the folder's name \"{given}\" is not UTF-8 text");
            return Fault::error(Code::NotUtf8, what).help("rename the folder");
        }
        let names = self.shipment_names();
        let known: Vec<&str> = names.iter().map(String::as_str).collect();
        let asked = given.strip_suffix("shipment.toml").unwrap_or(given);
        let titled =
            names.iter().find(|name| self.title_of(name).is_some_and(|title| title == given));
        let near = super::table::nearest(asked.trim_end_matches(['/', '\\']), &known);
        let help = match titled.map(String::as_str).or(near) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None if known.is_empty() => "shipments/ holds no shipment yet".to_owned(),
            None => format!("known: {}", known.join(", ")),
        };
        Fault::error(Code::UnreadableFile, format!("there is no shipment \"{given}\"")).help(help)
    }

    /// The title of a shipment, as its file has it.
    fn title_of(&self, name: &str) -> Option<String> {
        let path = self.root.join("shipments").join(name).join("shipment.toml");
        let text = std::fs::read_to_string(path).ok()?;
        let line = text.lines().find_map(|line| line.strip_prefix("title"))?;
        let (_, title) = line.split_once('=')?;
        Some(title.split('"').nth(1)?.to_owned())
    }

    /// The names of the workspace's shipments, in order.
    pub fn shipment_names(&self) -> Vec<String> {
        let Ok(entries) = std::fs::read_dir(self.root.join("shipments")) else {
            return Vec::new();
        };
        let mut names: Vec<String> = entries
            .filter_map(Result::ok)
            .filter(|entry| entry.path().join("shipment.toml").is_file())
            .map(|entry| entry.file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }
}

/// Whether a folder is a workspace.
fn holds(folder: &Path) -> bool {
    folder.join("rates").is_dir() && folder.join("shipments").is_dir()
}
