//! Where a value stands: file, line, column.

use std::fmt;
use std::ops::Range;
use std::sync::Arc;

/// One text file as it was read.
#[derive(Debug)]
pub struct Source {
    /// The file as the user knows it: relative to the workspace where it lies inside it.
    pub name: Arc<str>,
    /// Its text.
    pub text: String,
    /// Byte offsets at which its lines start.
    lines: Vec<usize>,
}

impl Source {
    /// Takes a file's text and finds its lines.
    pub fn new(name: &str, text: String) -> Self {
        let starts = text.match_indices('\n').map(|(at, _)| at + 1);
        let lines = std::iter::once(0).chain(starts).collect();
        Self { name: name.into(), text, lines }
    }

    /// The place of a byte range of the text.
    pub fn place(&self, span: Range<usize>) -> Place {
        let line = self.lines.partition_point(|start| *start <= span.start);
        let line_start = self.lines.get(line.saturating_sub(1)).copied().unwrap_or(0);
        let before = self.text.get(line_start..span.start).unwrap_or("");
        Place { file: self.name.clone(), line, column: before.chars().count() + 1, span }
    }

    /// The place of a whole line, counted from one.
    pub fn line(&self, line: usize) -> Place {
        let start = self.lines.get(line.saturating_sub(1)).copied().unwrap_or(0);
        self.place(start..start + self.line_text(line).len())
    }

    /// The text of a line, counted from one, without its line end.
    pub fn line_text(&self, line: usize) -> &str {
        let start = self.lines.get(line.saturating_sub(1)).copied().unwrap_or(0);
        let end = self.lines.get(line).copied().unwrap_or(self.text.len());
        self.text.get(start..end).unwrap_or("").trim_end_matches(['\n', '\r'])
    }

    /// Where a line starts, as a byte offset.
    pub(super) fn line_start(&self, line: usize) -> usize {
        self.lines.get(line.saturating_sub(1)).copied().unwrap_or(0)
    }
}

/// A place in a file of the user's.
#[derive(Debug, Clone, PartialEq, Eq)]
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
