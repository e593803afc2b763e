//! The little of XML that workbooks are looked through for.

use quick_xml::XmlVersion;
use quick_xml::events::{BytesRef, BytesStart};

/// An attribute of an element by its whole name.
pub(super) fn attribute(element: &BytesStart<'_>, name: &str) -> Option<String> {
    let mut all = element.attributes();
    let own = all.with_checks(false).flatten().find(|one| one.key.as_ref() == name)?;
    Some(own.normalized_value(XmlVersion::Implicit1_0).ok()?.into_owned())
}

/// The character that a reference such as `&amp;` or `&#160;` stands for.
pub(super) fn referred(reference: &BytesRef<'_>) -> Option<char> {
    match reference.as_ref() {
        "amp" => Some('&'),
        "lt" => Some('<'),
        "gt" => Some('>'),
        "quot" => Some('"'),
        "apos" => Some('\''),
        _ => reference.resolve_char_ref().ok().flatten(),
    }
}
