//! Where a value stands: file, line, column.

use std::fmt;
use std::ops::Range;
use std::sync::{Arc, OnceLock};

/// One text file as it was read.
#[derive(Debug)]
pub struct Source {
    /// The file as the user knows it: relative to the workspace where it lies inside it.
    pub name: Arc<str>,
    /// Its text.
    pub text: String,
    /// Byte offsets at which its lines start, found when a place is first asked for. In 32 bits: a text of four
    /// gigabytes has no places behind them.
    lines: OnceLock<Vec<u32>>,
}

impl Source {
    /// Takes a file's text.
    pub fn new(name: &str, text: String) -> Self {
        Self { name: name.into(), text, lines: OnceLock::new() }
    }

    fn starts(&self) -> &[u32] {
        self.lines.get_or_init(|| {
            let starts = self.text.match_indices('\n').map(|(at, _)| at + 1);
            let starts = starts.map_while(|start| u32::try_from(start).ok());
            std::iter::once(0).chain(starts).collect()
        })
    }

    /// Where a line starts, by its position.
    fn start(&self, at: usize) -> Option<usize> {
        self.starts().get(at).and_then(|start| usize::try_from(*start).ok())
    }

    /// The place of a byte range of the text.
    pub fn place(&self, span: Range<usize>) -> Place {
        // Of the first line, as a list's header is, nothing has to be counted.
        let is_first = |text: &str| text.find('\n').is_none_or(|end| span.start <= end);
        if self.lines.get().is_none() && is_first(&self.text) {
            let before = self.text.get(..span.start).unwrap_or("");
            let column = before.chars().count() + 1;
            return Place { file: self.name.clone(), line: 1, column, span };
        }
        let is_before =
            |start: &u32| usize::try_from(*start).is_ok_and(|start| start <= span.start);
        let line = self.starts().partition_point(is_before);
        let line_start = self.line_start(line);
        let before = self.text.get(line_start..span.start).unwrap_or("");
        Place { file: self.name.clone(), line, column: before.chars().count() + 1, span }
    }

    /// The place of a whole line, counted from one.
    pub fn line(&self, line: usize) -> Place {
        if line == 1 {
            return self.line_at(1, 0);
        }
        match line.checked_sub(1).and_then(|at| self.start(at)) {
            Some(start) => self.line_at(line, start),
            None => self.place(0..0),
        }
    }

    /// The place of a whole line whose number and first byte are known: nothing has to be counted.
    pub fn line_at(&self, line: usize, start: usize) -> Place {
        let rest = self.text.get(start..).unwrap_or("");
        let end = rest.find('\n').unwrap_or(rest.len());
        let length = rest.get(..end).unwrap_or("").trim_end_matches('\r').len();
        Place { file: self.name.clone(), line, column: 1, span: start..start + length }
    }

    /// The text of a line, counted from one, without its line end.
    pub fn line_text(&self, line: usize) -> &str {
        let end = self.start(line).unwrap_or(self.text.len());
        self.text.get(self.line_start(line)..end).unwrap_or("").trim_end_matches(['\n', '\r'])
    }

    /// Where a line starts, as a byte offset.
    pub(super) fn line_start(&self, line: usize) -> usize {
        self.start(line.saturating_sub(1)).unwrap_or(0)
    }
}

/// A place in a file of the user's.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Place {
    /// The file's name, as in [`Source::name`].
    pub file: Arc<str>,
    /// The line, from one.
    pub line: usize,
    /// The column in characters, from one.
    pub column: usize,
    /// The byte range in the file's text.
    pub span: Range<usize>,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.file, self.line)
    }
}

/// A value together with the place it was read from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct At<T> {
    /// The value.
    pub value: T,
    /// Where it stands.
    pub place: Place,
}

impl<T> At<T> {
    /// The value's place kept with another value made from it.
    pub fn map<U>(self, make: impl FnOnce(T) -> U) -> At<U> {
        At { value: make(self.value), place: self.place }
    }
}

impl<T> std::ops::Deref for At<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.value
    }
}
