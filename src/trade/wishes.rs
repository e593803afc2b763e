//! What a shipment asks of its load beyond the limits.

use super::given::GivenBox;
use super::offer::AskedOffers;
use crate::fault::At;
use crate::quantity::Money;

/// How strongly bundles belong together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bond {
    /// In one container, whatever it costs.
    Rule,
    /// Each container beyond the first is worth this much.
    Wish(Money),
}

/// What a shipment asks of its load beyond the limits.
#[derive(Debug, Clone)]
pub struct LoadWishes {
    /// How strongly the bundles of one block belong together; as ties allow where not given.
    pub blocks: Option<At<Bond>>,
    /// Sets of bundles that belong together.
    pub together: Vec<(At<Vec<usize>>, Bond)>,
    /// Sets of bundles of which no two may share a container.
    pub apart: Vec<At<Vec<usize>>>,
    /// Containers that are begun: their bundles stay, and more may join them.
    pub fixed: Vec<GivenBox>,
    /// The most containers.
    pub most: Option<At<u32>>,
    /// How many containers of a type are to be had, where that is known.
    pub available: Vec<Available>,
    /// Which of those counts are of stocks that other shipments draw on, too.
    pub shared: Vec<SharedStock>,
    /// How far the centre of gravity may lie from mid-length.
    pub balance: Balance,
    /// The work that planning may take, in multiples of the usual.
    pub effort: u32,
}

/// How many containers of one kind are to be had.
#[derive(Debug, Clone)]
pub struct Available {
    /// Their type.
    pub kind: At<String>,
    /// Its name as the trade writes it, which pages show.
    pub name: String,
    /// Their road class; all classes together where not stated.
    pub class: Option<At<String>>,
    /// The offers they go by; all offers together where not stated.
    pub offers: AskedOffers,
    /// How many.
    pub count: u32,
}

impl Available {
    /// Whether it is of the same type, class and offers.
    pub fn is_same_kind(&self, other: &Self) -> bool {
        let class = |one: &Self| one.class.as_ref().map(|class| class.value.clone());
        let has = |one: &Self, of: &Self| {
            let offers = of.offers.iter();
            offers.clone().all(|(table, offer)| {
                one.offers.iter().any(|(own, name)| own == table && name.value == offer.value)
            })
        };
        self.kind.value == other.kind.value
            && class(self) == class(other)
            && has(self, other)
            && has(other, self)
    }

    /// The kind, as pages name it.
    pub fn label(&self) -> String {
        let class = self.class.iter().map(|class| class.value.as_str());
        let offers = self.offers.iter().map(|(_, offer)| offer.value.as_str());
        let all: Vec<&str> =
            std::iter::once(self.name.as_str()).chain(class).chain(offers).collect();
        all.join(" ")
    }
}

/// How far the centre of gravity of a load may lie from mid-length.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Balance {
    /// In thousandths of the length.
    pub permille: i64,
    /// Why it is more than the usual, which only then is needed.
    pub reason: Option<String>,
}

impl Balance {
    /// The normal case, 5 %: CTU Code (2014), annex 7, section 3.1.4.
    pub const USUAL: i64 = 50;
    /// What may be accepted in particular cases, 10 %: the same section.
    pub const MOST: i64 = 100;
}

impl Default for Balance {
    fn default() -> Self {
        Self { permille: Self::USUAL, reason: None }
    }
}

impl Default for LoadWishes {
    fn default() -> Self {
        Self {
            blocks: None,
            together: Vec::new(),
            apart: Vec::new(),
            fixed: Vec::new(),
            most: None,
            available: Vec::new(),
            shared: Vec::new(),
            balance: Balance::default(),
            effort: 1,
        }
    }
}

/// A stock of boxes that a shipment has in common with those that are loaded together with it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SharedStock {
    /// Its name, the same in every shipment that draws on it.
    pub name: At<String>,
    /// The row of [`LoadWishes::available`] that counts it; `None`: it is of containers of any type,
    /// counted by [`LoadWishes::most`].
    pub row: Option<usize>,
}
