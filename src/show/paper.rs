//! The sheets that pages are printed on, and what drawings are made for.

/// A sheet of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// 210 x 297 mm.
    #[default]
    A4,
    /// 8.5 x 11 in.
    Letter,
}

/// The margin of a sheet in tenths of a millimetre: every printer reaches so far (common practice).
pub(super) const EDGE: i64 = 100;

impl Paper {
    /// Its name in a style sheet.
    pub(super) fn css(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::Letter => "letter",
        }
    }

    /// Width and height in tenths of a millimetre, down.
    pub(super) fn sides(self) -> [i64; 2] {
        match self {
            Self::A4 => [2_100, 2_970],
            Self::Letter => [2_159, 2_794],
        }
    }
}

/// What drawings are made for: lines of characters, or sheets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ground {
    /// The most columns of a line.
    pub columns: usize,
    /// The paper.
    pub paper: Paper,
}
