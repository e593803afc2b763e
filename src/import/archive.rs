//! What a zipped workbook unpacks to, looked at before it is read.

use std::io::{Cursor, Read};
use std::path::Path;

use zip::ZipArchive;

/// More than the sheets of any list come to unpacked (a choice of ours).
const MOST_UNPACKED: u64 = 64 << 20;

/// More parts than a workbook has (a choice of ours).
const MOST_PARTS: usize = 10_000;

/// Which kind of workbook an archive is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Office Open XML (ECMA-376).
    Xlsx,
    /// `OpenDocument` (ISO/IEC 26300).
    Ods,
}

/// Why an archive is not read.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Unfit {
    /// It unpacks to more than any list.
    TooLarge,
    /// A part's name leads out of it.
    Outside(String),
    /// It is locked with a password.
    Locked,
    /// It is no workbook that is known.
    Other,
    /// It cannot be unpacked.
    Broken(String),
}

/// Looks through an archive: what its sheets are said to unpack to and, counted while they are, what they do.
pub(super) fn look(bytes: &[u8]) -> Result<Kind, Unfit> {
    let broken = |why: &dyn ToString| Unfit::Broken(why.to_string());
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(|why| broken(&why))?;
    if archive.len() > MOST_PARTS {
        return Err(Unfit::TooLarge);
    }
    let (mut kind, mut said, mut real) = (None, 0_u64, 0_u64);
    for at in 0..archive.len() {
        let part = archive.by_index_raw(at).map_err(|why| broken(&why))?;
        let name = part.name().map_err(|why| broken(&why))?.into_owned();
        if part.encrypted() {
            return Err(Unfit::Locked);
        }
        let is_outside =
            name.starts_with(['/', '\\']) || name.split(['/', '\\']).any(|one| one == "..");
        if is_outside {
            return Err(Unfit::Outside(name));
        }
        kind = match name.as_str() {
            "xl/workbook.xml" => Some(Kind::Xlsx),
            "content.xml" => Some(Kind::Ods),
            _ => kind,
        };
        // Pictures and the like are never unpacked.
        let ending = Path::new(&name).extension().and_then(|ending| ending.to_str());
        let is_read =
            |one: &str| one.eq_ignore_ascii_case("xml") || one.eq_ignore_ascii_case("rels");
        if !ending.is_some_and(is_read) {
            continue;
        }
        said = said.saturating_add(part.size());
        drop(part);
        if said > MOST_UNPACKED {
            return Err(Unfit::TooLarge);
        }
        let left = MOST_UNPACKED.saturating_sub(real).saturating_add(1);
        let part = archive.by_index(at).map_err(|why| broken(&why))?;
        let counted = std::io::copy(&mut part.take(left), &mut std::io::sink());
        real = real.saturating_add(counted.map_err(|why| broken(&why))?);
        if real > MOST_UNPACKED {
            return Err(Unfit::TooLarge);
        }
    }
    kind.ok_or(Unfit::Other)
}

/// The text of one part; `None`: there is none of that name, or it is no UTF-8.
pub(super) fn part(bytes: &[u8], name: &str) -> Option<String> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).ok()?;
    let part = archive.by_name(name).ok()?;
    let mut text = String::new();
    part.take(MOST_UNPACKED).read_to_string(&mut text).ok()?;
    Some(text)
}
