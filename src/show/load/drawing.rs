//! A floor from above in plain characters, to scale, and its sheet.

use super::super::page::Block;
use super::super::paper::Ground;
use super::floor::Floor;
use super::sheet::{self, Sheet};
use crate::fault::{broken, columns, plain};
use crate::quantity::{Length, Units};

/// The most columns that the inside length takes: more show no more.
const MOST_COLUMNS: usize = 92;

/// The drawing of one box in lines of the ground's columns, and as a sheet of its paper; nothing where its places are not known.
pub(in crate::show) fn floor<'a>(
    of: &Sheet<'_>,
    units: Units,
    ground: Ground,
) -> Option<Block<'a>> {
    let (one, width) = (&of.floor, ground.columns);
    // A wall stands on either side.
    let taken = width.saturating_sub(2).min(MOST_COLUMNS);
    let columns = i64::try_from(taken).ok()?;
    let [length, breadth, _] = one.inside;
    if length < 1 || breadth < 1 || one.pieces.iter().any(|piece| piece.at.is_none()) {
        return None;
    }
    // A character is about twice as high as it is wide.
    let rows = (breadth * columns / length / 2).max(4);
    let mut canvas = Canvas::new(columns, rows);
    let mut names = Vec::new();
    for (index, piece) in one.pieces.iter().enumerate() {
        let (x, y) = piece.at?;
        let across = |mm: i64| mm * rows / breadth;
        let along = |mm: i64| mm * columns / length;
        let (number, id) = (index + 1, plain(piece.id));
        let mass = piece.mass.show(units);
        let labels =
            [format!("{number} {id} {mass}"), format!("{number} {id}"), number.to_string()];
        // The left wall is below: from the doors it is on the left.
        let from_right = breadth - y - piece.size[1];
        let left = (along(x), across(from_right));
        let right = (along(x + piece.size[0]), across(breadth - y));
        canvas.bundle(left, right, &labels, if index % 2 == 0 { "-" } else { "=" });
        names.push(format!("{number} {id}"));
    }
    let shown = |mm: i64| Length::whole_mm(mm).show(units);
    let edge = format!("+{}+", "-".repeat(taken));
    let mut lines: Vec<String> = ruler(one, length, taken).into_iter().collect();
    lines.push(edge.clone());
    lines.extend(canvas.lines().map(|line| format!("|{line}|")));
    lines.push(edge);
    let scale =
        format!("scale: 1 column {}, 1 row {}", shown(length / columns), shown(breadth / rows));
    let wall = format!("{:^1$}", "left wall, looking in", taken.saturating_sub(8));
    lines.push(format!("front{wall}doors"));
    lines.push(format!("{scale:>width$}", width = taken + 2));
    let unnamed: Vec<&str> = names
        .iter()
        .enumerate()
        .filter(|(at, _)| !canvas.names(*at))
        .map(|(_, name)| name.as_str())
        .collect();
    if !unnamed.is_empty() {
        let said = format!("drawn without its name, by number: {}", unnamed.join(", "));
        lines.extend(broken("", "  ", &said, taken + 2));
    }
    Some(Block::Drawing(lines, sheet::element(of, ground.paper, units), ground.paper))
}

/// The centre of gravity, in its lengthwise window where that is shown.
fn ruler(one: &Floor<'_>, length: i64, columns: usize) -> Option<String> {
    let mut marks: Vec<char> = vec![' '; columns + 2];
    let taken = i64::try_from(columns).unwrap_or(0);
    let mut mark = |mm: i64, with: char| {
        let at = usize::try_from(mm * taken / length).unwrap_or(0) + 1;
        if let Some(cell) = marks.get_mut(at) {
            *cell = with;
        }
    };
    if let Some([[low, high], _]) = one.window {
        mark(low, '(');
        mark(high, ')');
    }
    if let Some([cog, ..]) = one.centre {
        mark(cog, 'X');
    }
    let line: String = marks.into_iter().collect();
    let line = line.trim_end();
    let legend = match one.window {
        Some(_) => "X centre of gravity in its window",
        None => "X centre of gravity",
    };
    Some(if line.is_empty() || line.chars().count() + legend.len() + 2 > columns + 2 {
        line.to_owned()
    } else {
        format!("{line}  {legend}")
    })
    .filter(|line| !line.is_empty())
}

/// A field of cells, each a character with its accents; of a wide one the second cell is empty.
struct Canvas {
    cells: Vec<Vec<String>>,
    /// For each bundle the row and column of its label and the label, where it is one with its name.
    labels: Vec<Option<(usize, usize, Vec<String>)>>,
}

impl Canvas {
    fn new(columns: i64, rows: i64) -> Self {
        let size = |count: i64| usize::try_from(count).unwrap_or(0);
        Self { cells: vec![vec![" ".to_owned(); size(columns)]; size(rows)], labels: Vec::new() }
    }

    /// Draws a bundle between two corners, at least two columns and a row in size, on its first row
    /// the first of its labels that has room: a mass cut short would be another mass.
    fn bundle(&mut self, near: (i64, i64), far: (i64, i64), labels: &[String], fill: &str) {
        let index = |value: i64| usize::try_from(value).unwrap_or(0);
        let (left, right) = (index(near.0), index(far.0).max(index(near.0) + 2));
        let (top, bottom) = (index(near.1), index(far.1).max(index(near.1) + 1));
        // The last label is a number alone.
        let room = right.saturating_sub(left + 2);
        let named = labels.iter().rev().skip(1).rev().find(|label| columns(label) <= room);
        self.labels.push(named.map(|label| (top, left + 1, cells_of(label))));
        for (row, line) in self.cells.iter_mut().enumerate().take(bottom).skip(top) {
            let fits = |label: &&String| row == top && columns(label) <= room;
            let label = labels.iter().find(fits).map_or("", String::as_str);
            let mut drawn = vec!["[".to_owned()];
            drawn.extend(cells_of(label));
            drawn.resize(room + 1, fill.to_owned());
            drawn.push("]".to_owned());
            for (cell, drawn) in line.iter_mut().skip(left).zip(drawn) {
                *cell = drawn;
            }
        }
    }

    /// Whether a bundle's name is in the drawing: one that is drawn later may cover it.
    fn names(&self, bundle: usize) -> bool {
        let label = self.labels.get(bundle).and_then(Option::as_ref);
        label.is_some_and(|(row, column, label)| {
            let line = self.cells.get(*row);
            line.and_then(|line| line.get(*column..column + label.len())) == Some(&label[..])
        })
    }

    fn lines(&self) -> impl Iterator<Item = String> + '_ {
        self.cells.iter().map(|line| line.concat())
    }
}

/// A text cell by cell.
fn cells_of(text: &str) -> Vec<String> {
    let mut cells: Vec<String> = Vec::new();
    for c in text.chars() {
        match (columns(&c.to_string()), cells.last_mut()) {
            // An accent goes with its letter.
            (0, Some(last)) => last.push(c),
            (width, _) => {
                cells.push(c.to_string());
                cells.extend((1..width).map(|_| String::new()));
            }
        }
    }
    cells
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_without_room_and_one_that_is_covered_are_not_in_the_drawing() {
        let mut canvas = Canvas::new(30, 4);
        let labels = ["1 B-01 900 kg", "1 B-01", "1"].map(str::to_owned);
        canvas.bundle((0, 0), (20, 1), &labels, "-");
        canvas.bundle((0, 1), (10, 2), &labels, "-");
        canvas.bundle((10, 1), (15, 2), &labels, "-");
        canvas.bundle((0, 2), (20, 3), &labels, "-");
        canvas.bundle((3, 2), (25, 3), &labels, "-");
        assert_eq!([0, 1, 2, 3, 4].map(|at| canvas.names(at)), [true, true, false, false, true]);
    }
}
