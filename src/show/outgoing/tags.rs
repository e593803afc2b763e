//! The tags of slabs as a page to print: a number to be read from afar, the same as a QR code, and what the slab is.

use std::fmt::Write;

use maud::{DOCTYPE, Markup, PreEscaped, html};
use qrcode::{Color, EcLevel, QrCode};

use super::super::paper::Paper;
use crate::fault::plain;
use crate::outgoing::Tag;
use crate::quantity::{Size, Units, count_of};

/// What tags are printed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TagPaper {
    /// Sheets, as many tags on each as it holds.
    Sheets(Paper),
    /// A page for each tag, of this width and height.
    Each(Size),
}

/// Why there are no tags.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoTags {
    /// The number of a slab, with the line it stands on, is more than a code of the printed size holds.
    Number(String, u32),
    /// A page for each tag would have to be so wide and so high, in mm.
    Small([usize; 2]),
    /// A page for each tag is more than a label, which is at most so wide and so high, in mm.
    Large([usize; 2]),
}

/// How wide a letter of the number is, and how high a line of it where letters hang below it, in mm. Its capitals are 25 mm high, to be read
/// from three metres: a 120th of the distance (common practice). A browser fits letters into their width.
const LETTER: [usize; 2] = [22, 34];
/// How high a line is where none does: so four tags, both ends of two slabs, stand on a sheet of A4.
const LINE: usize = 28;
/// How wide a letter is at least, where a number would take a second line otherwise. It stays as high (a choice of ours).
const PRESSED: usize = 13;
/// After these a number is parted first.
const PARTS: [char; 5] = ['-', '/', '.', '_', ' '];
/// The size of its font in mm: capitals are 0.7 of it and more in the common fonts (from memory).
const FONT: usize = 36;
/// The code, what stands above the facts beside it, a row of those and the width of one, and what stands below, in mm.
const CODE: usize = 30;
const GOODS: usize = 13;
const FACT: [usize; 2] = [32, 9];
const FOOT: usize = 12;
/// The facts that a tag may have.
const FACTS: usize = 9;
/// The white inside of a tag's edge, and the margin of a sheet, in mm.
const EDGE: usize = 3;
const MARGIN: usize = 10;
/// The narrowest tag in which facts stand beside the code, and the widest and highest that is still a label: somewhat
/// more than A3 and its like in inches (a choice of ours), in mm.
const NARROWEST: usize = 80;
const LARGEST: [usize; 2] = [300, 450];
/// The squares of a side of the largest code: version 8 (ISO/IEC 18004, 7.3.1, from memory). Printed so small its squares
/// are half a millimetre, which a telephone still reads (common practice).
const MOST_SQUARES: usize = 49;
/// The white around a code, in squares (ISO/IEC 18004, 9.1, from memory).
const QUIET: usize = 4;

const CAUTION: &str = "A slab that falls kills. Trained people alone lift, lean and move it, and nobody stands where it \
                       can fall.";

const STYLE: &str = "body{margin:0;font-family:Arial,Helvetica,sans-serif;color:#000;background:#fff;font-size:3.4mm;\
                     line-height:1.3}\
                     .tag{box-sizing:border-box;max-width:100%;padding:3mm;border:0.3mm dashed #000;\
                     overflow-wrap:anywhere}.tag,.slab{break-inside:avoid}\
                     .how{margin:4mm}h1{font-size:6mm;margin:0}@media print{.how{display:none}}\
                     .number,.code{display:block}.number{max-width:100%}\
                     .body{display:flex;gap:4mm}.facts{flex:1}.code{flex:none}\
                     .goods{margin:0 0 1mm;font-size:4.6mm;font-weight:700}\
                     dl{margin:0;display:grid;grid-template-columns:repeat(auto-fit,minmax(29mm,1fr));gap:0.5mm 3mm}\
                     dt{font-size:2.6mm}dd{margin:0;font-weight:700}\
                     .foot{margin:0;font-size:2.8mm}";

/// The page of tags, one for each end of a slab where it has `ends`.
///
/// # Errors
/// Where a number is too long for its code, or a page for each tag is too small.
pub fn tags(all: &[Tag<'_>], paper: TagPaper, ends: usize, units: Units) -> Result<String, NoTags> {
    let (width, page, each) = match paper {
        TagPaper::Sheets(paper) => {
            let [wide, _] = paper.sides().map(|side| mm((side + 5) / 10));
            (wide - 2 * MARGIN, paper.css().to_owned(), "")
        }
        TagPaper::Each(size) => {
            let [width, height] = [size.length, size.height].map(|side| mm(side.mm_down()));
            fits(all, [width, height])?;
            let page = format!("{width}mm {height}mm");
            (width, page, ".tag{break-after:page;border:none}")
        }
    };
    let margin = if matches!(paper, TagPaper::Each(_)) { 0 } else { MARGIN };
    let style =
        format!("@page{{size:{page};margin:{margin}mm}}{STYLE}.tag{{width:{width}mm}}{each}");
    let mut shown = Vec::new();
    for tag in all {
        let code = code(tag)?;
        let both = (1..=ends).map(|end| one(tag, &code, (end, ends), width, units));
        // Both are cut from one sheet.
        shown.push(html! { div class="slab" { @for end in both { (end) } } });
    }
    let each = if ends > 1 { ", one for each end" } else { "" };
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Tags of slabs" }
                style { (PreEscaped(style)) }
            }
            body { main {
                div class="how" {
                    h1 { "Tags of " (count_of(all.len(), "slab")) (each) }
                    "Print them at 100 %, not fitted to the page: the numbers are then read from three metres."
                }
                @for tag in &shown { (tag) }
            } }
        }
    };
    Ok(page.into_string() + "\n")
}

fn mm(whole: i64) -> usize {
    usize::try_from(whole).unwrap_or(0)
}

/// The number in lines of a tag's width, each parted where it has parts, and how wide a letter is.
fn lines(number: &str, width: usize) -> (Vec<String>, usize) {
    let room = width.saturating_sub(2 * EDGE);
    let most = (room / PRESSED).max(1);
    let letters: Vec<char> = plain(number).chars().collect();
    let mut rest = &letters[..];
    let mut lines: Vec<String> = Vec::new();
    while !rest.is_empty() {
        let own = rest.get(..most).unwrap_or(rest);
        let part = own.iter().rposition(|letter| PARTS.contains(letter)).map(|at| at + 1);
        let end = if own.len() == rest.len() { own.len() } else { part.unwrap_or(own.len()) };
        let (line, after) = rest.split_at(end);
        lines.push(line.iter().collect());
        rest = after;
    }
    let widest = lines.iter().map(|line| line.chars().count()).max().unwrap_or(1);
    (lines, LETTER[0].min(room / widest.max(1)))
}

/// How high a line of the number is, in mm.
fn line_of(number: &str) -> usize {
    let stands =
        |c: char| c.is_ascii_digit() || matches!(c, 'A'..='P' | 'R'..='Z' | '-' | '.' | ' ');
    if number.chars().all(stands) { LINE } else { LETTER[1] }
}

/// Sees that every tag stands on a page of its own, and that this is a label.
fn fits(all: &[Tag<'_>], [width, height]: [usize; 2]) -> Result<(), NoTags> {
    if width > LARGEST[0] || height > LARGEST[1] {
        return Err(NoTags::Large(LARGEST));
    }
    let least = width.max(NARROWEST);
    let high = |tag: &Tag<'_>| lines(tag.number, least).0.len() * line_of(tag.number);
    let number = all.iter().map(high).max().unwrap_or(LINE);
    // The code and the white beside it leave the rest of the width to the facts.
    let columns = (least.saturating_sub(CODE + 3 * EDGE) / FACT[0]).max(1);
    let body = CODE.max(GOODS + FACTS.div_ceil(columns) * FACT[1]);
    let high = number + body + FOOT + 2 * EDGE;
    if width < NARROWEST || height < high { Err(NoTags::Small([least, high])) } else { Ok(()) }
}

fn one(
    tag: &Tag<'_>,
    code: &str,
    (end, ends): (usize, usize),
    width: usize,
    units: Units,
) -> Markup {
    let quality = tag.quality.map_or_else(String::new, |quality| format!(", {quality}"));
    let (stone, finish, thickness) = (tag.stone, tag.finish, tag.thickness.show(units));
    html! {
        article class="tag" {
            (number(tag.number, width))
            div class="body" {
                (PreEscaped(code))
                div class="facts" {
                    p class="goods" { (plain(&format!("{stone}, {finish}, {thickness}{quality}"))) }
                    dl {
                        @for (label, value) in facts(tag, units) {
                            div { dt { (label) } dd { (plain(&value)) } }
                        }
                    }
                }
            }
            p class="foot" {
                @if ends > 1 { "End " (end) " of " (ends) ". " }
                (CAUTION)
            }
        }
    }
}

fn facts(tag: &Tag<'_>, units: Units) -> Vec<(&'static str, String)> {
    let [length, height] = [tag.size.length, tag.size.height].map(|side| side.figure(units));
    let mut all = vec![("size as sawn", format!("{length} x {height} {}", units.side()))];
    all.extend(tag.usable.map(|area| ("usable area", area.show(units))));
    all.push(("mass to lift", format!("at most {}", tag.at_most.show_up(units))));
    all.push(("made in", format!("{} ({})", tag.origin.name(), tag.origin)));
    all.extend(tag.block.map(|block| ("block", block.to_owned())));
    all.push(("bundle", tag.bundle.to_owned()));
    all.extend(tag.order.map(|order| ("place in the block", order.to_owned())));
    all.extend(tag.matched.as_ref().map(|(set, others)| {
        let with = if others.is_empty() { "no slab here".to_owned() } else { others.join(", ") };
        ("book-matched", format!("{set}, with {with}"))
    }));
    all
}

/// The number in letters to be read from afar.
fn number(number: &str, width: usize) -> Markup {
    let (lines, letter) = lines(number, width);
    let widest = lines.iter().map(|line| line.chars().count()).max().unwrap_or(0) * letter;
    let line_height = line_of(number);
    let high = lines.len() * line_height;
    html! {
        svg class="number" xmlns="http://www.w3.org/2000/svg" role="img" width={ (widest) "mm" } height={ (high) "mm" }
            viewBox={ "0 0 " (widest) " " (high) } font-size=(FONT) font-weight="700"
            font-family="Arial, Helvetica, sans-serif" {
            title { (plain(number)) }
            @for (at, line) in lines.iter().enumerate() {
                text x="0" y=(at * line_height + 26) textLength=(line.chars().count() * letter)
                    lengthAdjust="spacingAndGlyphs" { (line) }
            }
        }
    }
}

/// The number as a QR code (ISO/IEC 18004), drawn in squares with the white around it.
fn code(tag: &Tag<'_>) -> Result<String, NoTags> {
    let long = || NoTags::Number(tag.number.to_owned(), tag.row);
    let code = QrCode::with_error_correction_level(tag.number, EcLevel::M).map_err(|_| long())?;
    let side = code.width();
    if side > MOST_SQUARES {
        return Err(long());
    }
    let mut path = String::new();
    for (y, row) in code.to_colors().chunks(side).enumerate() {
        for (x, _) in row.iter().enumerate().filter(|(_, colour)| **colour == Color::Dark) {
            // Writing to a string cannot fail.
            let _ = write!(path, "M{} {}h1v1h-1z", x + QUIET, y + QUIET);
        }
    }
    let whole = side + 2 * QUIET;
    let drawn = html! {
        svg class="code" xmlns="http://www.w3.org/2000/svg" role="img" width={ (CODE) "mm" } height={ (CODE) "mm" }
            viewBox={ "0 0 " (whole) " " (whole) } shape-rendering="crispEdges" {
            title { "QR code of " (plain(tag.number)) }
            path fill="#000" d=(path) {}
        }
    };
    Ok(drawn.into_string())
}
