//! The kinds of fault, each with a name that stays the same from release to release.

/// What kind of problem a fault is. The name in brackets is printed with the fault, so that a
/// script or a colleague can refer to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Code {
    /// A file or folder is missing or cannot be read.
    UnreadableFile,
    /// A file is not UTF-8 text.
    NotUtf8,
    /// The text breaks the rules of its format.
    BadSyntax,
    /// A key that no table of this kind has.
    UnknownKey,
    /// A key or column that must be there is not.
    MissingKey,
    /// A value of the wrong kind: a number where text with a unit is needed, say.
    WrongType,
    /// A quantity that cannot be read: bare number, unknown unit, bad figure.
    BadQuantity,
    /// A word that is none of the words allowed.
    UnknownWord,
    /// A value outside the range that makes sense.
    OutOfRange,
    /// Two things that must be different are the same.
    Duplicate,
    /// A name that refers to nothing.
    UnknownReference,
    /// No row of a rate table fits.
    NoRate,
    /// Rows fit, but none is in force on the date.
    LapsedRate,
    /// Two rows fit one purpose equally.
    AmbiguousRate,
    /// Two statements of the user's files contradict each other.
    Contradiction,
    /// A charge that cannot be spread.
    NothingToSpread,
    /// A charge that depends on itself.
    Cycle,
    /// A figure too large or too fine to be held exactly.
    Overflow,
    /// Something this release does not do.
    NotSupported,
    /// A loading plan that breaks a limit.
    OverLimit,
    /// Worth knowing; nothing is wrong.
    Notice,
}

impl Code {
    /// Every code with its printed name.
    pub const ALL: [(Self, &'static str); 21] = [
        (Self::UnreadableFile, "unreadable-file"),
        (Self::NotUtf8, "not-utf8"),
        (Self::BadSyntax, "bad-syntax"),
        (Self::UnknownKey, "unknown-key"),
        (Self::MissingKey, "missing-key"),
        (Self::WrongType, "wrong-type"),
        (Self::BadQuantity, "bad-quantity"),
        (Self::UnknownWord, "unknown-word"),
        (Self::OutOfRange, "out-of-range"),
        (Self::Duplicate, "duplicate"),
        (Self::UnknownReference, "unknown-reference"),
        (Self::NoRate, "no-rate"),
        (Self::LapsedRate, "lapsed-rate"),
        (Self::AmbiguousRate, "ambiguous-rate"),
        (Self::Contradiction, "contradiction"),
        (Self::NothingToSpread, "nothing-to-spread"),
        (Self::Cycle, "cycle"),
        (Self::Overflow, "overflow"),
        (Self::NotSupported, "not-supported"),
        (Self::OverLimit, "over-limit"),
        (Self::Notice, "notice"),
    ];

    /// The printed name.
    pub fn name(self) -> &'static str {
        Self::ALL.iter().find(|(code, _)| *code == self).map_or("", |(_, name)| name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn names_are_unique_and_complete() {
        let names: BTreeSet<_> = Code::ALL.iter().map(|(_, name)| name).collect();
        let codes: BTreeSet<_> = Code::ALL.iter().map(|(code, _)| code).collect();
        assert_eq!((names.len(), codes.len()), (Code::ALL.len(), Code::ALL.len()));
    }
}
