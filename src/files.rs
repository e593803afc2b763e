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
            report.add(
                Fault::error(Code::UnreadableFile, format!("{name} cannot be read: {error}"))
                    .help("check the name and that you may read it"),
            );
            return None;
        }
    };
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
            report.add(not_utf8(name, &error));
            None
        }
    }
}

/// The fault for a file in another encoding: names the line and the byte that is not UTF-8.
fn not_utf8(name: &str, error: &std::string::FromUtf8Error) -> Fault {
    let valid = error.utf8_error().valid_up_to();
    let bytes = error.as_bytes();
    let line = bytes.iter().take(valid).filter(|byte| **byte == b'\n').count() + 1;
    let byte = bytes.get(valid).copied().unwrap_or(0);
    let message = format!("{name}, line {line}: byte {byte:#04x} is not UTF-8 text");
    Fault::error(Code::NotUtf8, message).help(
        "the file is probably in Latin-1 or Windows-1252: save it again as UTF-8 \
         (in a spreadsheet: \"CSV UTF-8\")",
    )
}

/// Writes a file whole or not at all: to a neighbour first, then renamed into place.
///
/// # Errors
/// Where the file exists and `overwrite` is not given, or the file system refuses.
pub fn write(path: &Path, contents: &[u8], overwrite: bool) -> io::Result<()> {
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut file = tempfile::NamedTempFile::new_in(folder)?;
    file.write_all(contents)?;
    file.as_file().sync_all()?;
    if overwrite {
        file.persist(path).map_err(|error| error.error)?;
    } else {
        file.persist_noclobber(path).map_err(|error| error.error)?;
    }
    Ok(())
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
    fn latin_1_is_named_with_its_line() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("packing.csv");
        fs::write(&path, b"slab,block\n1,Bl\xfccher\n").unwrap();
        let mut report = Report::new();
        assert!(read(&path, "packing.csv", &mut report).is_none());
        let fault = report.sorted()[0].clone();
        assert_eq!(fault.code, Code::NotUtf8);
        assert!(
            fault.message.contains("line 2") && fault.message.contains("0xfc"),
            "{}",
            fault.message
        );
    }
}
