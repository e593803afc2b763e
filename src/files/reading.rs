//! Text files, each read with a good fault.

use std::fs;
use std::io;
use std::path::Path;
use std::sync::Arc;

use super::kind;
use crate::fault::{Code, Fault, Report, Reported, Source};

/// Reads a file's bytes. `name` is what the user knows it by.
///
/// # Errors
///
/// If it cannot be read.
pub fn read_bytes(path: &Path, name: &str, report: &mut Report) -> Result<Vec<u8>, Reported> {
    // Looked at first: a pipe may wait for ever, and a device may never end.
    let special = fs::metadata(path).ok().and_then(|there| kind(there.file_type()));
    if let Some(what) = special.filter(|what| *what != super::FOLDER) {
        return Err(report.error(
            Fault::error(Code::UnreadableFile, format!("{name} is {what}, not a file"))
                .in_file(name)
                .help("save what it gives as a file, and put that here"),
        ));
    }
    match fs::read(path) {
        Ok(bytes) => {
            report.note_read(path);
            Ok(bytes)
        }
        Err(error) => {
            let help = match error.kind() {
                io::ErrorKind::NotFound => "create it, or correct its name; it may be empty",
                io::ErrorKind::IsADirectory => "a file is needed here, not a folder",
                _ => "check that you may read it",
            };
            Err(report.error(
                Fault::error(Code::UnreadableFile, format!("{name} cannot be read: {error}"))
                    .in_file(name)
                    .help(help),
            ))
        }
    }
}

/// Reads a text file and keeps it in the report. `name` is what the user knows the file by. A byte-order
/// mark is dropped.
///
/// # Errors
///
/// If it cannot be read.
pub fn read(path: &Path, name: &str, report: &mut Report) -> Result<Arc<Source>, Reported> {
    let bytes = read_bytes(path, name, report)?;
    if bytes.contains(&0) || bytes.starts_with(b"PK\x03\x04") {
        return Err(report.error(not_text(name, &bytes)));
    }
    match String::from_utf8(bytes) {
        Ok(text) => {
            let text = match text.strip_prefix('\u{feff}') {
                Some(rest) => rest.to_owned(),
                None => text,
            };
            let source = Arc::new(Source::new(name, text));
            report.keep(&source);
            Ok(source)
        }
        Err(error) => Err(not_utf8(name, &error, report)),
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
fn not_utf8(name: &str, error: &std::string::FromUtf8Error, report: &mut Report) -> Reported {
    let at = error.utf8_error().valid_up_to();
    let byte = error.as_bytes().get(at).copied().unwrap_or(0);
    let text = String::from_utf8_lossy(error.as_bytes()).into_owned();
    let source = Arc::new(Source::new(name, text));
    report.keep(&source);
    let place = source.place(at..at + char::REPLACEMENT_CHARACTER.len_utf8());
    report.error(
        Fault::error(Code::NotUtf8, format!("{name} is not UTF-8 text"))
            .at(&place, format!("byte {byte:#04x}"))
            .help(
                "the file is probably in Latin-1 or Windows-1252: save it again as UTF-8 \
                 (in a spreadsheet: \"CSV UTF-8\")",
            ),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn latin_1_is_named_with_its_line() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("packing.csv");
        fs::write(&path, b"slab,block\n1,Bl\xfccher\n").unwrap();
        let mut report = Report::new();
        assert!(read(&path, "packing.csv", &mut report).is_err());
        let fault = report.sorted()[0].clone();
        assert_eq!(fault.code, Code::NotUtf8);
        let (place, label) = fault.place.unwrap();
        assert_eq!((place.line, place.column, &*label), (2, 5, "byte 0xfc"));
    }
}
