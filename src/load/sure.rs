//! How sure it is that no load costs less: one answer, for every page and every script.

use super::limits::Unknown;
use super::plan::Proof;

/// How sure it is that no cheaper load exists.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Sure {
    /// It is proven.
    Proven,
    /// It is proven by the limits that are known; these are known for other types of container alone.
    Known(Vec<String>),
    /// It is not proven, for this reason.
    Open(String),
    /// The load was given; nothing cheaper was looked for.
    Given,
}

impl Sure {
    /// The answer for a proven load where some limits are not known.
    pub(super) fn of(proof: &Proof, unknown: &[Unknown]) -> Self {
        match proof {
            Proof::Proven if unknown.is_empty() => Self::Proven,
            Proof::Proven => {
                let name = |one: &Unknown| format!("{} for {}", one.what, one.of);
                Self::Known(unknown.iter().map(name).collect())
            }
            Proof::Gap(reason) => Self::Open(reason.clone()),
            Proof::Given => Self::Given,
        }
    }

    /// The answer in words, on pages and for scripts.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Proven => "proven",
            Self::Known(_) => "proven by the limits that are known",
            Self::Open(_) => "not proven",
            Self::Given => "given",
        }
    }

    /// Why the load is not proven outright: limits that are not known, or an open question.
    pub fn why(&self) -> Option<String> {
        match self {
            Self::Known(unknown) => Some(format!("not known: {}", unknown.join(", "))),
            Self::Open(reason) => Some(reason.clone()),
            Self::Proven | Self::Given => None,
        }
    }

    /// Whether it is proven, by all limits or by those that are known.
    pub fn is_proven(&self) -> bool {
        matches!(self, Self::Proven | Self::Known(_))
    }
}
