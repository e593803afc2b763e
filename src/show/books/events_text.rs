//! Events as a file has them: those that an arrival list makes.

use std::fmt::{self, Write};

use crate::quantity::Area;
use crate::show::load::quoted;
use crate::trade::{BookEvent, BookKind};

/// The text of events, to be added to a file: boxes that came, slabs that were cut.
pub fn events_text(events: &[BookEvent]) -> String {
    let mut text = String::new();
    // Writing into a `String` cannot fail.
    let _ = events.iter().try_for_each(|event| one(event, &mut text));
    text
}

fn one(event: &BookEvent, out: &mut String) -> fmt::Result {
    match &event.what {
        BookKind::Arrive { boxes, yard, found } => {
            writeln!(out, "\n[[event]]\nkind = \"arrive\"\noccurred = {}", event.occurred)?;
            let boxes: Vec<String> = boxes.iter().map(|one| quoted(&one.value)).collect();
            writeln!(out, "yard = {}\nboxes = [{}]", quoted(&yard.value), boxes.join(", "))?;
            for one in found {
                writeln!(out, "[[event.found]]\nslab = {}", quoted(&one.slab.value))?;
                writeln!(out, "state = \"{}\"", one.state.word())?;
                area(one.area, out)?;
                text("quality", one.quality.as_deref(), out)?;
                text("remark", one.remark.as_deref(), out)?;
            }
            Ok(())
        }
        BookKind::Cut { slab, pieces, abnormal: _ } => {
            writeln!(out, "\n[[event]]\nkind = \"cut\"\noccurred = {}", event.occurred)?;
            writeln!(out, "slab = {}", quoted(&slab.value))?;
            for piece in pieces {
                writeln!(out, "[[event.piece]]\nslab = {}", quoted(&piece.slab.value))?;
                area(Some(piece.area), out)?;
                text("quality", piece.quality.as_deref(), out)?;
            }
            Ok(())
        }
        _ => Ok(()),
    }
}

fn area(area: Option<Area>, out: &mut String) -> fmt::Result {
    match area {
        Some(area) => writeln!(out, "area = \"{} m2\"", area.base().normalize()),
        None => Ok(()),
    }
}

fn text(key: &str, text: Option<&str>, out: &mut String) -> fmt::Result {
    match text {
        Some(text) => writeln!(out, "{key} = {}", quoted(text)),
        None => Ok(()),
    }
}
