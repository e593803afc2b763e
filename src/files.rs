//! Files: read with a good fault, written whole or not at all.

use std::fs;
use std::io::{self, Write};
use std::path::Path;
use std::sync::Arc;

use crate::fault::{Code, Fault, Report, Source};

/// Reads a text file and keeps it in the report; `None` means the fault is reported.
/// `name` is what the user knows the file by. A byte-order mark is dropped.
pub fn read(path: &Path, name: &str, report: &mut Report) -> Option<Arc<Source>> {
    let bytes = match fs::read(path) {
        Ok(bytes) => bytes,
        Err(error) => {
            let help = match error.kind() {
                io::ErrorKind::NotFound => "create it, or correct its name; it may be empty",
                io::ErrorKind::IsADirectory => "a file is needed here, not a folder",
                _ => "check that you may read it",
            };
            report.add(
                Fault::error(Code::UnreadableFile, format!("{name} cannot be read: {error}"))
                    .in_file(name)
                    .help(help),
            );
            return None;
        }
    };
    if bytes.contains(&0) || bytes.starts_with(b"PK\x03\x04") {
        report.add(not_text(name, &bytes));
        return None;
    }
    match String::from_utf8(bytes) {
        Ok(text) => {
            let text = match text.strip_prefix('\u{feff}') {
                Some(rest) => rest.to_owned(),
                None => text,
            };
            let source = Arc::new(Source::new(name, text));
            report.keep(&source);
            Some(source)
        }
        Err(error) => {
            not_utf8(name, &error, report);
            None
        }
    }
}

/// The fault for a file that is no text, or text of two bytes a character.
fn not_text(name: &str, bytes: &[u8]) -> Fault {
    let wide = bytes.starts_with(b"\xff\xfe") || bytes.starts_with(b"\xfe\xff");
    let (what, help) = if wide {
        ("is UTF-16 text, not UTF-8", "save it again as UTF-8 (in a spreadsheet: \"CSV UTF-8\")")
    } else if bytes.starts_with(b"PK") {
        ("is a spreadsheet or an archive, not text", "open it and save it as \"CSV UTF-8\"")
    } else {
        ("is not text", "it holds bytes that no text has: save it again as UTF-8 text")
    };
    Fault::error(Code::NotUtf8, format!("{name} {what}")).in_file(name).help(help)
}

/// The fault for a file in another encoding: shows the line and the character that is not UTF-8.
fn not_utf8(name: &str, error: &std::string::FromUtf8Error, report: &mut Report) {
    let at = error.utf8_error().valid_up_to();
    let byte = error.as_bytes().get(at).copied().unwrap_or(0);
    let text = String::from_utf8_lossy(error.as_bytes()).into_owned();
    let source = Arc::new(Source::new(name, text));
    report.keep(&source);
    let place = source.place(at..at + char::REPLACEMENT_CHARACTER.len_utf8());
    report.add(
        Fault::error(Code::NotUtf8, format!("{name} is not UTF-8 text"))
            .at(&place, format!("byte {byte:#04x}"))
            .help(
                "the file is probably in Latin-1 or Windows-1252: save it again as UTF-8 \
                 (in a spreadsheet: \"CSV UTF-8\")",
            ),
    );
}

/// Writes a file whole or not at all: to a neighbour first, then renamed into place.
///
/// # Errors
/// Where the file exists and `overwrite` is not given, or the file system refuses.
pub fn write(path: &Path, contents: &[u8], overwrite: bool) -> io::Result<()> {
    put_in_place(path, beside(path, contents)?, overwrite)
}

/// Writes several files, each whole, all of them or none: where one cannot be put in place, those
/// before it are as they were.
///
/// # Errors
/// Which file it was, by position, and what [`write()`] says of it.
pub fn write_all(files: &[(&Path, Vec<u8>)], overwrite: bool) -> Result<(), (usize, io::Error)> {
    let mut ready = Vec::new();
    for (at, (path, contents)) in files.iter().enumerate() {
        let is_there = !overwrite && path.symlink_metadata().is_ok();
        let staged = if is_there {
            Err(io::Error::from(io::ErrorKind::AlreadyExists))
        } else {
            beside(path, contents)
        };
        let old = fs::read(path).ok();
        ready.push((*path, staged.map_err(|error| (at, error))?, old));
    }
    let mut done: Vec<(&Path, Option<Vec<u8>>)> = Vec::new();
    for (at, (path, staged, old)) in ready.into_iter().enumerate() {
        if let Err(error) = put_in_place(path, staged, overwrite) {
            for (path, old) in done {
                // Nothing more can be done where even this fails; the error that is told is the first.
                let _ = old.map_or_else(|| fs::remove_file(path), |old| write(path, &old, true));
            }
            return Err((at, error));
        }
        done.push((path, old));
    }
    Ok(())
}

/// The contents in a new file beside the path they are for.
fn beside(path: &Path, contents: &[u8]) -> io::Result<tempfile::NamedTempFile> {
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    if !folder.is_dir() {
        return Err(io::Error::new(io::ErrorKind::NotFound, "its folder does not exist"));
    }
    // The error of a temporary file names its path, which means nothing to the user.
    let unnamed = |error: io::Error| io::Error::from(error.kind());
    let mut file = new_beside(folder).map_err(unnamed)?;
    file.write_all(contents)?;
    file.as_file().sync_all()?;
    Ok(file)
}

fn put_in_place(path: &Path, file: tempfile::NamedTempFile, overwrite: bool) -> io::Result<()> {
    if overwrite {
        file.persist(path).map_err(|error| error.error)?;
    } else {
        file.persist_noclobber(path).map_err(|error| error.error)?;
    }
    Ok(())
}

/// A new file in a folder, readable by whom the user's umask allows: temporary files are private
/// by default, and a result is not.
fn new_beside(folder: &Path) -> io::Result<tempfile::NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder.tempfile_in(folder)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_overwritten_unasked() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("out.csv");
        write(&path, b"one", false).unwrap();
        assert_eq!(write(&path, b"two", false).unwrap_err().kind(), io::ErrorKind::AlreadyExists);
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
        fs::write(bad.join("inside"), b"").unwrap();
        fs::write(&two, b"old").unwrap();
        let all = |last: &'_ Path| {
            let files = [(&*one, b"1".to_vec()), (&*two, b"2".to_vec()), (last, b"3".to_vec())];
            let written = write_all(&files, true);
            written.map_err(|(at, _)| at)
        };
        assert_eq!(all(&bad), Err(2), "a folder is there");
        assert_eq!((one.exists(), fs::read(&two).unwrap()), (false, b"old".to_vec()));
        let there = write_all(&[(&one, b"1".to_vec()), (&two, b"2".to_vec())], false);
        assert_eq!(there.unwrap_err().0, 1);
        assert!(!one.exists());
        assert_eq!(all(&folder.path().join("three")), Ok(()));
        assert_eq!(fs::read(&two).unwrap(), b"2");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 4, "no leftovers");
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

    #[test]
    fn latin_1_is_named_with_its_line() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("packing.csv");
        fs::write(&path, b"slab,block\n1,Bl\xfccher\n").unwrap();
        let mut report = Report::new();
        assert!(read(&path, "packing.csv", &mut report).is_none());
        let fault = report.sorted()[0].clone();
        assert_eq!(fault.code, Code::NotUtf8);
        let (place, label) = fault.place.unwrap();
        assert_eq!((place.line, place.column, &*label), (2, 5, "byte 0xfc"));
    }
}
