//! A file of any form that suppliers send, as cells.

use std::cell::Cell;
use std::panic::{catch_unwind, set_hook, take_hook};
use std::sync::{Arc, Once};

use encoding_rs::{UTF_16BE, UTF_16LE, WINDOWS_1252};

use super::grid::Grid;
use super::{archive, ods, text, xls, xlsx};
use crate::fault::{Code, Fault, Report, Reported, Source};

/// Larger than any packing list, photographs among its sheets included (a choice of ours).
const MOST_BYTES: usize = 64 << 20;

/// Files that hold no cells, by how they open, and the way out.
const NO_CELLS: [(&[u8], &str, &str); 8] = [
    (b"%PDF", "a PDF", PASTE),
    (b"\x89PNG", "a picture", TYPE),
    (b"\xff\xd8\xff", "a picture", TYPE),
    (b"GIF8", "a picture", TYPE),
    (b"II*\0", "a picture", TYPE),
    (b"MM\0*", "a picture", TYPE),
    (b"{\\rtf", "a text document", PASTE),
    (b"<", "a page of HTML or XML", "open it in a spreadsheet and save it as XLSX"),
];

const PASTE: &str =
    "mark the table in it, copy it, and paste it: quaystone import - --into SHIPMENT, then Ctrl-D";

const TYPE: &str = "ask the supplier for the sheet itself; text copied out of it can be pasted: quaystone import - --into SHIPMENT";

/// The sheets of a file.
pub(super) fn read(name: &str, bytes: &[u8], report: &mut Report) -> Result<Vec<Grid>, Reported> {
    let fault =
        |code: Code, what: String| Fault::error(code, format!("{name} {what}")).in_file(name);
    if bytes.len() > MOST_BYTES {
        let fault = fault(Code::OutOfRange, format!("has more than {} MiB", MOST_BYTES >> 20));
        return Err(
            report.error(fault.help("save the sheet of the packing list as a file of its own"))
        );
    }
    let opening = bytes.iter().position(|byte| !byte.is_ascii_whitespace()).unwrap_or(0);
    let start = bytes.strip_prefix(b"\xef\xbb\xbf").or(bytes.get(opening..)).unwrap_or(bytes);
    if let Some((_, what, help)) = NO_CELLS.iter().find(|(mark, ..)| start.starts_with(mark)) {
        let fault =
            fault(Code::NotSupported, format!("is {what}, and no table can be read from it"));
        return Err(report.error(fault.help(*help)));
    }
    if bytes.starts_with(b"PK") {
        return zipped(name, bytes, report);
    }
    if bytes.starts_with(b"\xd0\xcf\x11\xe0") {
        return match guarded(|| xls::read(bytes, name, report)) {
            Some(Ok(grids)) => grids,
            Some(Err(xls::Unfit::TooLarge)) => Err(report.error(too_large(name))),
            Some(Err(xls::Unfit::Locked)) => Err(report.error(locked(name))),
            Some(Err(xls::Unfit::Broken(why))) => Err(report.error(broken(name, &why))),
            None => Err(report.error(broken(name, "its parts contradict each other"))),
        };
    }
    let text = decoded(name, bytes, report)?;
    let source = Arc::new(Source::new(name, text));
    report.keep(&source);
    Ok(vec![text::read(&source, report)?])
}

fn zipped(name: &str, bytes: &[u8], report: &mut Report) -> Result<Vec<Grid>, Reported> {
    let kind = archive::look(bytes).map_err(|unfit| {
        report.error(match unfit {
            archive::Unfit::TooLarge => too_large(name),
            archive::Unfit::Locked => locked(name),
            archive::Unfit::Broken(why) => broken(name, &why),
            archive::Unfit::Outside(part) => {
                let message = format!("{name} holds a part \"{part}\", whose name leads out of it");
                Fault::error(Code::BadSyntax, message)
                    .in_file(name)
                    .help("no spreadsheet writes such a name: ask who sent it")
            }
            archive::Unfit::Other => {
                Fault::error(Code::NotSupported, format!("{name} is an archive and no workbook"))
                    .in_file(name)
                    .help("save a spreadsheet as XLSX, XLS or ODS; unpack an archive, and import the list in it")
            }
        })
    })?;
    let read = guarded(|| match kind {
        archive::Kind::Xlsx => xlsx::read(bytes, name, report).map_err(|error| error.to_string()),
        archive::Kind::Ods => {
            let text = archive::part(bytes, "content.xml");
            text.map(|text| ods::read(&text, name, report)).ok_or("it is no text".to_owned())
        }
    });
    match read {
        Some(Ok(grids)) => grids,
        Some(Err(why)) => Err(report.error(broken(name, &why))),
        None => Err(report.error(broken(name, "its parts contradict each other"))),
    }
}

thread_local! {
    /// Whether a reader of others is at work, whose stumbling is told as a fault, without a trace of the program.
    static IS_GUARDED: Cell<bool> = const { Cell::new(false) };
}

/// What a reader of others gives; `None`: it stumbled over the file, which is told as a fault of the file.
fn guarded<T>(read: impl FnOnce() -> T) -> Option<T> {
    static QUIET: Once = Once::new();
    QUIET.call_once(|| {
        let told = take_hook();
        set_hook(Box::new(move |panic| {
            if !IS_GUARDED.get() {
                told(panic);
            }
        }));
    });
    IS_GUARDED.set(true);
    let read = catch_unwind(std::panic::AssertUnwindSafe(read)).ok();
    IS_GUARDED.set(false);
    read
}

fn too_large(name: &str) -> Fault {
    Fault::error(Code::OutOfRange, format!("{name} unpacks to more than any packing list"))
        .in_file(name)
        .help("save the sheet of the packing list as a file of its own")
}

fn locked(name: &str) -> Fault {
    Fault::error(Code::UnreadableFile, format!("{name} is locked with a password"))
        .in_file(name)
        .help("open it in a spreadsheet, take the password off, and save it")
}

fn broken(name: &str, why: &str) -> Fault {
    Fault::error(Code::BadSyntax, format!("{name} cannot be read: {why}"))
        .in_file(name)
        .help("open it in a spreadsheet and save it again")
}

/// A file's text. What is neither UTF-8 nor UTF-16 is read as Windows-1252, and that is told.
fn decoded(name: &str, bytes: &[u8], report: &mut Report) -> Result<String, Reported> {
    let wide = [(UTF_16LE, b"\xff\xfe"), (UTF_16BE, b"\xfe\xff")];
    if let Some((encoding, _)) = wide.iter().find(|(_, mark)| bytes.starts_with(*mark)) {
        return Ok(encoding.decode(bytes).0.into_owned());
    }
    if bytes.contains(&0) {
        let fault = Fault::error(Code::NotUtf8, format!("{name} is neither a workbook nor text"));
        return Err(
            report.error(fault.in_file(name).help("give the list as XLSX, XLS, ODS or CSV"))
        );
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(text.strip_prefix('\u{feff}').unwrap_or(text).to_owned()),
        Err(_) => {
            let what = format!("{name} is not UTF-8 text, and was read as Windows-1252");
            let fault = Fault::warning(Code::NotUtf8, what).in_file(name);
            report.add(fault.help("look at the names with accents; else save it as \"CSV UTF-8\""));
            Ok(WINDOWS_1252.decode(bytes).0.into_owned())
        }
    }
}
