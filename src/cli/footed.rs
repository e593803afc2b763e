//! On which footing offers are compared, as the command line says it.

use clap::ValueEnum;

use super::job::Options;
use crate::decide::{Across, Allowances, Asked, Bid, Comparison, Footing, Group, Like, Refusal};
use crate::load::Known;
use crate::quantity::{Units, Written};
use crate::show;
use crate::trade::{Allowance, Shipment, Tariffs};

/// The options of every command that holds offers against each other.
#[derive(Debug, Default, clap::Args)]
pub(super) struct Footed {
    /// Compare although these differ
    #[arg(long, value_enum, value_delimiter = ',')]
    across: Vec<AcrossArg>,
    /// The area to compare on [default: usable where an allowance is stated for all, else gross]
    #[arg(long, value_enum)]
    footing: Option<FootingArg>,
    /// The part of a slab that cannot be used: off its length and height, then a share of the rest, such
    /// as "5 x 4 cm, 3 %" [default: rates/stones.toml]
    #[arg(long, value_name = "ALLOWANCE", value_parser = allowance)]
    allowance: Option<Allowance>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum AcrossArg {
    /// The goods are different stones
    Stones,
    /// They are of different thickness
    Thickness,
    /// They are finished differently
    Finish,
    /// They are of different quality
    Quality,
    /// The offers go to different yards
    Yards,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum FootingArg {
    /// As sawn
    Gross,
    /// The gross area less our allowance
    Usable,
}

fn allowance(text: &str) -> Result<Allowance, String> {
    Allowance::read(text).map_err(|malformed| malformed.to_string())
}

impl Footed {
    /// Where allowances come from.
    pub(super) fn allowances<'a>(&self, tariffs: &'a Tariffs) -> Allowances<'a> {
        self.allowance.map_or(Allowances::Table(tariffs), Allowances::Asked)
    }

    /// An offer to be costed again and again, on the footing of a comparison.
    pub(super) fn bid<'a>(
        &self,
        (shipment, tariffs): (&'a Shipment, &'a Tariffs),
        (comparison, known): (&Comparison, &'a Known),
        carry: bool,
        options: &Options,
    ) -> Bid<'a> {
        Bid {
            shipment,
            tariffs,
            carry,
            effort: options.effort(),
            known,
            units: options.units(),
            asked: self.asked(tariffs),
            footing: comparison.footing,
        }
    }

    /// How offers are to be compared.
    pub(super) fn asked<'a>(&self, tariffs: &'a Tariffs) -> Asked<'a> {
        let across = |one: AcrossArg| self.across.contains(&one);
        Asked {
            footing: self.footing.map(|footing| match footing {
                FootingArg::Gross => Footing::Gross,
                FootingArg::Usable => Footing::Usable,
            }),
            allowances: self.allowances(tariffs),
            across: Across {
                stones: across(AcrossArg::Stones),
                thickness: across(AcrossArg::Thickness),
                finish: across(AcrossArg::Finish),
                quality: across(AcrossArg::Quality),
                yards: across(AcrossArg::Yards),
            },
        }
    }
}

/// Why several sorts of goods have no one cost per area, and what takes them as one: an area is one thing of
/// like goods alone, or 20 mm would always beat 30 mm. `who` has them, as in "the list has".
pub(super) fn several_sorts(who: &str, groups: &[Group], units: Units) -> String {
    let goods = groups.iter().map(|group| show::goods_in_words(&group.goods, units));
    let goods: Vec<String> = goods.collect();
    let (goods, across) = (goods.join("; "), across(groups));
    format!("{who} several sorts of goods ({goods}): add {across} to cost them by area as one sort")
}

/// The words that let goods of a comparison stand together, by what differs: `--across thickness,finish`.
fn across(groups: &[Group]) -> String {
    let differs = |is_same: fn(&Like, &Like) -> bool| {
        groups.windows(2).any(|two| matches!(two, [one, next] if !is_same(&one.goods, &next.goods)))
    };
    let kinds = [
        ("stones", differs(|one, other| one.stone == other.stone)),
        ("thickness", differs(|one, other| one.thickness == other.thickness)),
        ("finish", differs(|one, other| one.finish == other.finish)),
        ("quality", differs(|one, other| one.quality == other.quality)),
    ];
    let words: Vec<&str> =
        kinds.into_iter().filter(|(_, differs)| *differs).map(|(word, _)| word).collect();
    format!("--across {}", words.join(","))
}

/// Why offers cannot be compared as asked, in a sentence.
pub(super) fn words(refusal: &Refusal) -> String {
    match refusal {
        Refusal::Stones(stones) => format!(
            "these offers are of different stones ({}); --across stones compares them",
            stones.join("; ")
        ),
        Refusal::Yards(yards) => format!(
            "these offers go to different yards ({}); --across yards compares them",
            yards.join("; ")
        ),
        Refusal::Currencies => "these yards keep their books in different currencies".to_owned(),
        Refusal::NoFigures => "a figure of these offers is too large to be held".to_owned(),
    }
}
