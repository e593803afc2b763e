//! Drawings in SVG as pages under each other, each of a sheet of paper.

use super::super::paper::{EDGE, Paper};
use super::letters::wrapped;
use super::sheet::area;
use super::svg::{MARGIN, Svg, TEXT, as_file};
use crate::fault::plain;
use crate::quantity::Units;

/// The width of a page's drawing in the millimetres of its box.
const WIDTH: i64 = 7_200;

/// The pages of a file.
pub(in crate::show) struct Pages {
    paper: Paper,
    units: Units,
    /// Each drawn, in tenths of a millimetre of paper.
    all: Vec<String>,
    /// How far the last is filled, where it is one of parts.
    filled: Option<i64>,
}

impl Pages {
    /// A file without a page.
    pub(in crate::show) fn new(paper: Paper, units: Units) -> Self {
        Self { paper, units, all: Vec::new(), filled: None }
    }

    /// Adds a page.
    pub(in crate::show) fn page(&mut self, draw: impl FnOnce(&mut Svg, Paper)) {
        let mut svg = Svg::new(self.units);
        draw(&mut svg, self.paper);
        self.all.push(svg.part());
        self.filled = None;
    }

    /// Adds a part to the page, or to the next where it has no room. What draws it says how high it is.
    pub(in crate::show) fn part(&mut self, draw: impl FnOnce(&mut Svg) -> i64) {
        let [width, height] = area(self.paper);
        let scale = width * 1_000 / WIDTH;
        let mut part = Svg::new(self.units);
        let high = draw(&mut part) * scale / 1_000;
        let top = self.filled.filter(|filled| filled + high <= height);
        let mut svg = Svg::new(self.units);
        // What is higher than a sheet is drawn smaller.
        let scale = if high > height { scale * height / high } else { scale };
        svg.put(&part.part(), [0, top.unwrap_or(0)], scale);
        match (top, self.all.last_mut()) {
            (Some(_), Some(last)) => *last += &svg.part(),
            _ => self.all.push(svg.part()),
        }
        self.filled = Some(top.unwrap_or(0) + high);
    }

    /// The file.
    pub(in crate::show) fn file(self, title: &str) -> String {
        let [width, height] = self.paper.sides();
        let mut svg = Svg::new(self.units);
        let mut top = 0;
        for page in &self.all {
            svg.put(page, [EDGE, top + EDGE], 1_000);
            top += height;
        }
        as_file(&svg.pages([width, top], self.paper.css(), title))
    }
}

/// Words within a page's width, in lines from `y` down; where the next thing begins.
pub(in crate::show) fn said(svg: &mut Svg, y: i64, size: i64, words: &str) -> i64 {
    let mut y = y;
    for line in wrapped(&plain(words), size, WIDTH - 2 * MARGIN, false) {
        y += size * 5 / 4;
        svg.words(MARGIN, y, size, &line);
    }
    y + TEXT / 3
}
