//! Files written whole or not at all: to a neighbour first, then renamed into place.

use std::collections::BTreeSet;
use std::fs::{self, File, Metadata};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use tempfile::{Builder, NamedTempFile, TempPath};

use super::kind;

/// A file that is not in its place yet is called `.quaystone-` and some letters and `.part`.
const PREFIX: &str = ".quaystone-";
const SUFFIX: &str = ".part";

/// Why a file is not written.
#[derive(Debug)]
pub enum Refusal {
    /// A plain file is there, and may not be replaced unasked.
    There,
    /// A link is there: where it leads, as it is written.
    Link(PathBuf),
    /// A plain file is there that nobody may write.
    ReadOnly,
    /// Something is there that is no plain file: what, such as "a device".
    NoFile(&'static str),
    /// The file system refuses.
    System(io::Error),
}

impl From<io::Error> for Refusal {
    fn from(error: io::Error) -> Self {
        Self::System(error)
    }
}

/// Writes a file's contents. A long result goes into the file as it is made, and is never held whole.
pub type Contents<'a> = Box<dyn FnOnce(&mut dyn Write) -> io::Result<()> + 'a>;

/// Contents that are there already.
pub fn bytes(contents: Vec<u8>) -> Contents<'static> {
    Box::new(move |out| out.write_all(&contents))
}

/// Writes several files, each whole, all of them or none: where one cannot be put in place, those
/// before it are as they were. Nothing but a plain file is replaced, and only with `overwrite`; what
/// replaces it keeps its mode. Parts that a killed run left in the same folders are removed.
///
/// # Errors
/// Which file it was, by position, and why it is not written.
pub fn write_all(
    files: Vec<(&Path, Contents<'_>)>,
    overwrite: bool,
) -> Result<(), (usize, Refusal)> {
    let count = files.len();
    let held = hold(files.iter().map(|(path, _)| folder_of(path)));
    for (folder, _lock) in &held {
        sweep(folder);
    }
    let mut ready = Vec::new();
    for (at, (path, contents)) in files.into_iter().enumerate() {
        let staged = stage(path, contents, overwrite).map_err(|refusal| (at, refusal))?;
        ready.push((path, staged));
    }
    let mut done: Vec<(&Path, Option<TempPath>)> = Vec::new();
    for (at, (path, staged)) in ready.into_iter().enumerate() {
        // The last one needs nothing to go back to.
        let is_last = at + 1 == count;
        let old = if is_last { Ok(None) } else { kept(path) };
        match old.and_then(|old| put_in_place(path, staged, overwrite).map(|()| old)) {
            Ok(old) => done.push((path, old)),
            Err(refusal) => {
                for (path, old) in done {
                    take_back(path, old);
                }
                return Err((at, refusal));
            }
        }
    }
    Ok(())
}

/// The bytes of a file that something is to be added to; none where it is not there.
///
/// # Errors
/// Where it cannot be read.
pub fn seen(path: &Path) -> Result<Vec<u8>, Refusal> {
    match fs::read(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(Vec::new()),
        read => Ok(read?),
    }
}

/// Adds a text to the end of a file, whole or not at all. `before` is what stood there as it was read: where
/// another run has written since, nothing is added.
///
/// # Errors
/// Why it is not written.
pub fn append(path: &Path, before: &[u8], text: &str) -> Result<(), Refusal> {
    // Made while the folder is locked.
    let contents: Contents<'_> = Box::new(|out| {
        let now = match seen(path) {
            Ok(now) => now,
            Err(Refusal::System(error)) => return Err(error),
            Err(_) => Vec::new(),
        };
        if now != before {
            return Err(io::Error::other(
                "it has changed since it was read: run the command again",
            ));
        }
        out.write_all(&now)?;
        if now.last().is_some_and(|last| *last != b'\n') {
            out.write_all(b"\n")?;
        }
        out.write_all(text.as_bytes())
    });
    write_all(vec![(path, contents)], true).map_err(|(_, refusal)| refusal)
}

/// Writes files by their paths inside a folder, all of them or none, and makes the folders that they need.
/// Where they are not written, the folders that were made are gone again.
///
/// # Errors
/// Which file it was, and why it is not written.
pub fn write_new<'f>(
    root: &Path,
    files: &'f [(String, String)],
    overwrite: bool,
) -> Result<(), (&'f str, Refusal)> {
    let all = || files.iter().map(|(path, text)| (path.as_str(), root.join(path), text));
    let mut made: Vec<PathBuf> = Vec::new();
    let made_all = all().try_for_each(|(name, path, _)| {
        make_folders(folder_of(&path), &mut made).map_err(|error| (name, error.into()))
    });
    let written = made_all.and_then(|()| {
        let paths: Vec<PathBuf> = all().map(|(_, path, _)| path).collect();
        let contents = all().map(|(_, _, text)| bytes(text.clone().into_bytes()));
        let by_path = paths.iter().map(PathBuf::as_path).zip(contents).collect();
        write_all(by_path, overwrite)
            .map_err(|(at, refusal)| (files.get(at).map_or("", |(name, _)| name.as_str()), refusal))
    });
    if written.is_err() {
        for folder in made.iter().rev() {
            // One that somebody else has put something into stays.
            let _ = fs::remove_dir(folder);
        }
    }
    written
}

/// Makes a folder and those above it, and adds each that was not there.
fn make_folders(folder: &Path, made: &mut Vec<PathBuf>) -> io::Result<()> {
    if folder.is_dir() {
        return Ok(());
    }
    if let Some(above) = folder.parent().filter(|above| !above.as_os_str().is_empty()) {
        make_folders(above, made)?;
    }
    fs::create_dir(folder)?;
    made.push(folder.to_owned());
    Ok(())
}

/// Removes files that the program wrote, and their folder where nothing else is in it.
///
/// # Errors
/// Where one cannot be removed.
pub fn remove(files: &[PathBuf]) -> io::Result<()> {
    files.iter().try_for_each(fs::remove_file)?;
    if let Some(first) = files.first() {
        // One that somebody has put something into stays.
        let _ = fs::remove_dir(folder_of(first));
    }
    Ok(())
}

/// Copies a folder with all that is in it.
///
/// # Errors
/// Where something cannot be read or written.
pub fn copy_folder(from: &Path, to: &Path) -> io::Result<()> {
    fs::create_dir_all(to)?;
    for entry in fs::read_dir(from)? {
        let (path, to) = entry.map(|entry| (entry.path(), to.join(entry.file_name())))?;
        if path.is_dir() {
            copy_folder(&path, &to)?;
        } else if path.is_file() {
            fs::copy(&path, &to)?;
        }
    }
    Ok(())
}

/// The contents in a new file beside the path they are for.
fn stage(path: &Path, contents: Contents<'_>, overwrite: bool) -> Result<NamedTempFile, Refusal> {
    let old = look(path)?;
    if old.is_some() && !overwrite {
        return Err(Refusal::There);
    }
    if old.as_ref().is_some_and(|old| old.permissions().readonly()) {
        return Err(Refusal::ReadOnly);
    }
    let folder = folder_of(path);
    if !folder.is_dir() {
        return Err(io::Error::new(io::ErrorKind::NotFound, "its folder does not exist").into());
    }
    let mut file = new_beside(folder)?;
    // Through the file itself: an error of the temporary file names its path.
    let mut out = io::BufWriter::with_capacity(1 << 16, file.as_file_mut());
    contents(&mut out)?;
    out.flush()?;
    drop(out);
    if let Some(old) = old {
        file.as_file().set_permissions(old.permissions())?;
    }
    file.as_file().sync_all()?;
    Ok(file)
}

/// The plain file that is there, if any.
fn look(path: &Path) -> Result<Option<Metadata>, Refusal> {
    let there = match path.symlink_metadata() {
        Ok(there) => there,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(error.into()),
    };
    if there.is_symlink() {
        return Err(Refusal::Link(path.read_link()?));
    }
    match kind(there.file_type()) {
        Some(what) => Err(Refusal::NoFile(what)),
        None => Ok(Some(there)),
    }
}

/// The file that is there under another name as well, so that it can be put back; it need not be
/// readable for that.
fn kept(path: &Path) -> Result<Option<TempPath>, Refusal> {
    if look(path)?.is_none() {
        return Ok(None);
    }
    let second = |new: &Path| fs::hard_link(path, new).or_else(|_| fs::copy(path, new).map(drop));
    let second = named().make_in(folder_of(path), second).map_err(unnamed)?;
    Ok(Some(second.into_temp_path()))
}

fn put_in_place(path: &Path, file: NamedTempFile, overwrite: bool) -> Result<(), Refusal> {
    let put = if overwrite {
        file.persist(path).map_err(|error| error.error)
    } else {
        file.persist_noclobber(path).map_err(|error| error.error)
    };
    match put {
        Ok(_) => Ok(()),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Err(Refusal::There),
        Err(error) => Err(error.into()),
    }
}

/// Undoes [`put_in_place()`]. Nothing more can be done where even this fails; the error that is told is
/// the first.
fn take_back(path: &Path, old: Option<TempPath>) {
    match old {
        Some(old) => {
            // What could not be put back stays under its other name rather than being lost.
            if let Err(error) = old.persist(path) {
                let _ = error.path.keep();
            }
        }
        None => {
            let _ = fs::remove_file(path);
        }
    }
}

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

fn named() -> Builder<'static, 'static> {
    let mut builder = Builder::new();
    builder.prefix(PREFIX).suffix(SUFFIX);
    builder
}

/// The error without the path of a temporary file, which means nothing to the user.
fn unnamed(error: io::Error) -> io::Error {
    io::Error::from(error.kind())
}

/// A new file in a folder, readable by whom the user's umask allows: temporary files are private
/// by default, and a result is not.
fn new_beside(folder: &Path) -> io::Result<NamedTempFile> {
    let mut builder = named();
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder.tempfile_in(folder).map_err(unnamed)
}

/// Locks folders for as long as what is given lives: runs that write there wait for each other, as long as
/// it takes. A folder that cannot be locked is left out.
fn hold<'a>(folders: impl Iterator<Item = &'a Path>) -> Vec<(PathBuf, File)> {
    // Each once, and every run in the same order, so that no two wait for each other for ever.
    let folders: BTreeSet<PathBuf> = folders.filter_map(|path| path.canonicalize().ok()).collect();
    let lock = |folder: PathBuf| {
        let lock = File::open(&folder).ok().filter(|lock| lock.lock().is_ok())?;
        Some((folder, lock))
    };
    folders.into_iter().filter_map(lock).collect()
}

/// Removes the parts in a locked folder: no run holds them any more, so one was killed.
fn sweep(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let name = entry.file_name();
        let name = name.to_string_lossy();
        let is_part = name.starts_with(PREFIX) && name.ends_with(SUFFIX);
        if is_part && entry.file_type().is_ok_and(|found| found.is_file()) {
            // What cannot be removed is in nobody's way.
            let _ = fs::remove_file(entry.path());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn write(path: &Path, contents: &[u8], overwrite: bool) -> Result<(), Refusal> {
        write_all(vec![(path, bytes(contents.to_vec()))], overwrite).map_err(|(_, refusal)| refusal)
    }

    #[test]
    fn nothing_is_overwritten_unasked() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("out.csv");
        write(&path, b"one", false).unwrap();
        assert!(matches!(write(&path, b"two", false), Err(Refusal::There)));
        assert_eq!(fs::read(&path).unwrap(), b"one");
        write(&path, b"two", true).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"two");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "no leftovers");
    }

    #[test]
    fn of_several_files_all_are_written_or_none() {
        let folder = tempfile::tempdir().unwrap();
        let [one, two, bad] = ["one", "two", "sub"].map(|name| folder.path().join(name));
        fs::create_dir(&bad).unwrap();
        fs::write(&two, b"old").unwrap();
        let all = |last: &'_ Path| {
            let files = [(&*one, b"1"), (&*two, b"2"), (last, b"3")];
            let files = files.map(|(path, contents)| (path, bytes(contents.to_vec())));
            let written = write_all(files.into(), true);
            written.map_err(|(at, _)| at)
        };
        assert_eq!(all(&bad), Err(2), "a folder is there");
        assert_eq!((one.exists(), fs::read(&two).unwrap()), (false, b"old".to_vec()));
        let there =
            write_all(vec![(&one, bytes(b"1".to_vec())), (&two, bytes(b"2".to_vec()))], false);
        assert_eq!(there.unwrap_err().0, 1);
        assert!(!one.exists());
        assert_eq!(all(&folder.path().join("three")), Ok(()));
        assert_eq!(fs::read(&two).unwrap(), b"2");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 4, "no leftovers");
    }

    #[test]
    fn what_was_there_comes_back_where_a_later_file_cannot_be_put_in_place() {
        let folder = tempfile::tempdir().unwrap();
        let [old, new] = ["old", "new"].map(|name| folder.path().join(name));
        fs::write(&old, b"kept").unwrap();
        let second = kept(&old).unwrap();
        put_in_place(&old, stage(&old, bytes(b"other".to_vec()), true).unwrap(), true).unwrap();
        put_in_place(&new, stage(&new, bytes(b"other".to_vec()), true).unwrap(), true).unwrap();
        assert_eq!(fs::read(&old).unwrap(), b"other");
        take_back(&old, second);
        take_back(&new, None);
        assert_eq!((fs::read(&old).unwrap(), new.exists()), (b"kept".to_vec(), false));
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "no leftovers");
    }

    #[test]
    fn the_next_run_sweeps_what_a_killed_one_left_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let [left, other] =
            [".quaystone-aaaaaa.part", ".other.part"].map(|name| folder.path().join(name));
        for path in [&left, &other] {
            fs::write(path, b"part").unwrap();
        }
        write(&folder.path().join("out"), b"1", false).unwrap();
        assert_eq!([&left, &other].map(|path| path.exists()), [false, true]);
    }

    #[cfg(unix)]
    #[test]
    fn a_result_is_readable_as_any_other_file() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let (ours, plain) = (folder.path().join("ours"), folder.path().join("plain"));
        write(&ours, b"one", false).unwrap();
        fs::write(&plain, b"one").unwrap();
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode();
        assert_eq!(mode(&ours), mode(&plain));
    }
}
