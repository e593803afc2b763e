//! Delivery terms: who bears which leg of the way from the quarry to the yard.

use std::fmt;

use super::calendar::word_of;
use super::code::{Lane, Port};
use crate::quantity::{Malformed, Written};

/// A leg of the way, in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Leg {
    /// The stone itself, at the supplier's price.
    Goods,
    /// Packing for export: timber, straps, film.
    ExportPacking,
    /// Loading at the supplier's works.
    OriginLoading,
    /// Carriage from the works to the port of loading.
    PreCarriage,
    /// Customs formalities for export.
    ExportClearance,
    /// Handling at the terminal of loading.
    OriginTerminal,
    /// Loading on board the vessel.
    LoadingOnBoard,
    /// Carriage by sea.
    MainCarriage,
    /// Insurance of the goods on the way.
    Insurance,
    /// Discharge and handling at the terminal of arrival.
    DestinationTerminal,
    /// Customs formalities for import.
    ImportClearance,
    /// Import duty, fees and taxes.
    DutyAndTax,
    /// Carriage from the port to the yard.
    OnCarriage,
    /// Unloading in the yard.
    Unloading,
}

impl Leg {
    /// Every leg in order, with its written form.
    pub const ALL: [(Self, &'static str); 14] = [
        (Self::Goods, "goods"),
        (Self::ExportPacking, "export packing"),
        (Self::OriginLoading, "origin loading"),
        (Self::PreCarriage, "pre-carriage"),
        (Self::ExportClearance, "export clearance"),
        (Self::OriginTerminal, "origin terminal"),
        (Self::LoadingOnBoard, "loading on board"),
        (Self::MainCarriage, "main carriage"),
        (Self::Insurance, "insurance"),
        (Self::DestinationTerminal, "destination terminal"),
        (Self::ImportClearance, "import clearance"),
        (Self::DutyAndTax, "duty and tax"),
        (Self::OnCarriage, "on-carriage"),
        (Self::Unloading, "unloading"),
    ];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }

    /// Whether the leg lies before the vessel: its port is the port of loading.
    pub fn is_at_origin(self) -> bool {
        self < Self::MainCarriage
    }
}

/// Who bears the cost of a leg.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bearer {
    /// Inside the supplier's price.
    Seller,
    /// The importer's own.
    Buyer,
    /// As the seller's contract of carriage has it: the importer's, unless the invoice says that
    /// the price includes it.
    Contract,
}

/// The eleven rules of Incoterms 2020.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[expect(missing_docs, reason = "the three letters are the names the standard gives them")]
pub enum Incoterm {
    Exw,
    Fca,
    Fas,
    Fob,
    Cfr,
    Cif,
    Cpt,
    Cip,
    Dap,
    Dpu,
    Ddp,
}

impl Incoterm {
    /// Every rule with its three letters.
    pub const ALL: [(Self, &'static str); 11] = [
        (Self::Exw, "EXW"),
        (Self::Fca, "FCA"),
        (Self::Fas, "FAS"),
        (Self::Fob, "FOB"),
        (Self::Cfr, "CFR"),
        (Self::Cif, "CIF"),
        (Self::Cpt, "CPT"),
        (Self::Cip, "CIP"),
        (Self::Dap, "DAP"),
        (Self::Dpu, "DPU"),
        (Self::Ddp, "DDP"),
    ];

    /// The three letters.
    pub fn letters(self) -> &'static str {
        word_of(&Self::ALL, self)
    }

    /// Letters of older terms, what is written now, and since when that is so.
    ///
    /// DAF, DES, DEQ and DDU ended with Incoterms 2010, DAT with Incoterms 2020 (from memory).
    const OLD: [(&str, &str, &str); 8] = [
        ("C&F", "CFR", ""),
        ("CNF", "CFR", ""),
        ("CANDF", "CFR", ""),
        ("DAT", "DPU", "2020"),
        ("DEQ", "DPU", "2010"),
        ("DAF", "DAP", "2010"),
        ("DES", "DAP", "2010"),
        ("DDU", "DAP", "2010"),
    ];

    /// Letters that are none of the rules as they are compared: in capitals, without points.
    fn folded(letters: &str) -> String {
        letters.to_uppercase().replace('.', "")
    }

    /// The rule that letters most likely mean which are none of the rules.
    pub fn meant(letters: &str) -> Option<&'static str> {
        let upper = Self::folded(letters);
        if let Some((_, word, _)) = Self::OLD.iter().find(|(old, ..)| *old == upper) {
            return Some(word);
        }
        Self::ALL.iter().map(|(_, word)| *word).find(|word| {
            *word == upper || (upper.len() == 3 && strsim::damerau_levenshtein(word, &upper) == 1)
        })
    }

    /// What to write in place of letters that are none of the rules.
    fn expected(letters: &str) -> String {
        let upper = Self::folded(letters);
        if let Some((_, word, since)) = Self::OLD.iter().find(|(old, ..)| *old == upper) {
            return if since.is_empty() {
                format!("{word}: {letters} is written {word} here")
            } else {
                format!("{word}: since Incoterms {since} {letters} is called {word}")
            };
        }
        let all = Self::ALL.map(|(_, word)| word).join(", ");
        match Self::meant(letters) {
            Some(word) if word == upper => format!("{word} in capitals"),
            Some(word) => format!("an Incoterms 2020 term (is {word} meant?): {all}"),
            None => format!("an Incoterms 2020 term: {all}"),
        }
    }

    /// Whether the named place of a rule for sea carriage is the port of loading.
    pub fn names_loading(self) -> bool {
        matches!(self, Self::Fas | Self::Fob)
    }

    /// Whether the rule is for sea carriage only, so that its named place is a port.
    pub fn is_maritime(self) -> bool {
        matches!(self, Self::Fas | Self::Fob | Self::Cfr | Self::Cif)
    }
}

/// A delivery term: an Incoterms 2020 rule with its named place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeliveryTerm {
    /// The rule.
    pub rule: Incoterm,
    /// The named place as the supplier wrote it.
    pub named_place: String,
}

impl DeliveryTerm {
    /// The rule for sea carriage and its place of a text that names the port in words.
    pub fn in_words(text: &str) -> Option<(Incoterm, &str)> {
        let (letters, place) = text.trim().split_once(' ')?;
        let (rule, _) = Incoterm::ALL.iter().find(|(_, word)| *word == letters)?;
        let place = place.trim();
        let in_words = rule.is_maritime() && !place.is_empty() && !Port::is_code(place);
        in_words.then_some((*rule, place))
    }

    /// Whether the named place is a port by its UN/LOCODE; if not, it is a place inland: the
    /// supplier's works under EXW and FCA, the buyer's yard under the C and D rules.
    pub fn names_port(&self) -> bool {
        Port::is_code(&self.named_place)
    }

    /// A term that names a port names one of the lane's: of loading under the F rules, of destination under
    /// the C and D rules. Where it names another, the lane's and what that is the port of.
    pub fn off_lane<'l>(&self, lane: &'l Lane) -> Option<(&'l Port, &'static str)> {
        use Incoterm::{Cfr, Cif, Cip, Cpt, Dap, Ddp, Dpu, Exw, Fas, Fca, Fob};
        let (port, of) = match self.rule {
            Fca | Fas | Fob => (&lane.from, "loading"),
            Cfr | Cif | Cpt | Cip | Dap | Dpu | Ddp => (&lane.to, "destination"),
            Exw => return None,
        };
        (self.names_port() && self.named_place != port.to_string()).then_some((port, of))
    }

    /// Who bears a leg under this term, by the cost clauses (A9 and B9) of Incoterms 2020.
    ///
    /// Insurance is the buyer's risk and so the buyer's cost until a C or D rule puts it on the
    /// seller; under the D rules the goods travel at the seller's risk.
    pub fn bearer(&self, leg: Leg) -> Bearer {
        use Incoterm::{Cif, Cip, Cpt, Dap, Ddp, Dpu, Exw, Fas, Fca, Fob};
        let seller = |yes: bool| if yes { Bearer::Seller } else { Bearer::Buyer };
        let rule = self.rule;
        let inland = || !self.names_port();
        let delivers = matches!(rule, Dap | Dpu | Ddp);
        match leg {
            Leg::Goods | Leg::ExportPacking => Bearer::Seller,
            Leg::OriginLoading | Leg::ExportClearance => seller(rule != Exw),
            // FCA at the works: the seller loads and the buyer's carrier drives off.
            Leg::PreCarriage => seller(rule != Exw && !(rule == Fca && inland())),
            Leg::OriginTerminal if rule == Fas => Bearer::Contract,
            Leg::OriginTerminal => seller(!matches!(rule, Exw | Fca)),
            Leg::LoadingOnBoard => seller(!matches!(rule, Exw | Fca | Fas)),
            Leg::MainCarriage => seller(!matches!(rule, Exw | Fca | Fas | Fob)),
            Leg::Insurance => seller(matches!(rule, Cif | Cip) || delivers),
            Leg::DestinationTerminal => match rule {
                Dap | Dpu | Ddp => Bearer::Seller,
                // Carriage paid to a place beyond the port passes through the port.
                Cpt | Cip if inland() => Bearer::Seller,
                Cpt | Cip | Incoterm::Cfr | Cif => Bearer::Contract,
                Exw | Fca | Fas | Fob => Bearer::Buyer,
            },
            Leg::ImportClearance | Leg::DutyAndTax => seller(rule == Ddp),
            Leg::OnCarriage => seller((delivers || matches!(rule, Cpt | Cip)) && inland()),
            Leg::Unloading => seller(rule == Dpu),
        }
    }
}

impl fmt::Display for DeliveryTerm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.rule.letters(), self.named_place)
    }
}

impl Written for DeliveryTerm {
    const FORM: &'static str =
        "an Incoterms 2020 term and its named place, such as \"FOB TRIZM\" or \"EXW works\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let fault = |offset, expected: &str| Malformed::new(offset, expected);
        let (letters, place) = text.trim().split_once(' ').unwrap_or((text.trim(), ""));
        let rule = Incoterm::ALL
            .iter()
            .find(|(_, word)| *word == letters)
            .map(|(rule, _)| *rule)
            .ok_or_else(|| fault(0, &Incoterm::expected(letters)))?;
        let place = place.trim().to_owned();
        if place.is_empty() {
            return Err(fault(text.len(), "a named place after the term, such as \"FOB TRIZM\""));
        }
        if rule.is_maritime() && !Port::is_code(&place) {
            let expected = format!(
                "a port by its UN/LOCODE, such as \"{letters} TRIZM\": {letters} is for sea carriage only"
            );
            return Err(fault(4, &expected));
        }
        Ok(Self { rule, named_place: place })
    }

    fn pattern() -> Option<String> {
        let rules: Vec<&str> = Incoterm::ALL.iter().map(|(_, word)| *word).collect();
        Some(format!(r"^\s*({})\s+\S.*$", rules.join("|")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The cost matrix of Incoterms 2020, as an importer's handbook table has it (rows EXW, FCA,
    /// CPT, CIP, DAP, DPU seen in a secondary text of the rules, the others from memory).
    /// S seller, B buyer, C as the contract of carriage has it. FCA, CPT and CIP twice: named
    /// place a port, named place inland.
    const MATRIX: [(&str, &str); 17] = [
        ("EXW works", "S S B B B B B B B B B B B B"),
        ("FCA works", "S S S B S B B B B B B B B B"),
        ("FCA TRIZM", "S S S S S B B B B B B B B B"),
        ("FAS TRIZM", "S S S S S C B B B B B B B B"),
        ("FOB TRIZM", "S S S S S S S B B B B B B B"),
        ("CFR USSAV", "S S S S S S S S B C B B B B"),
        ("CIF USSAV", "S S S S S S S S S C B B B B"),
        ("CPT USSAV", "S S S S S S S S B C B B B B"),
        ("CPT yard", "S S S S S S S S B S B B S B"),
        ("CIP USSAV", "S S S S S S S S S C B B B B"),
        ("CIP yard", "S S S S S S S S S S B B S B"),
        ("DAP USSAV", "S S S S S S S S S S B B B B"),
        ("DAP yard", "S S S S S S S S S S B B S B"),
        ("DPU USSAV", "S S S S S S S S S S B B B S"),
        ("DPU yard", "S S S S S S S S S S B B S S"),
        ("DDP USSAV", "S S S S S S S S S S S S B B"),
        ("DDP yard", "S S S S S S S S S S S S S B"),
    ];

    #[test]
    fn the_matrix_of_terms_and_legs() {
        for (term, row) in MATRIX {
            let term = DeliveryTerm::read(term).unwrap();
            let letters: Vec<&str> = Leg::ALL
                .iter()
                .map(|(leg, _)| match term.bearer(*leg) {
                    Bearer::Seller => "S",
                    Bearer::Buyer => "B",
                    Bearer::Contract => "C",
                })
                .collect();
            assert_eq!(letters.join(" "), row, "{term}");
        }
    }

    #[test]
    fn a_term_needs_its_place() {
        assert_eq!(DeliveryTerm::read("FOB").unwrap_err().offset, 3);
        assert_eq!(DeliveryTerm::read("FOB Izmir").unwrap_err().offset, 4);
        assert_eq!(DeliveryTerm::read("FOR TRIZM").unwrap_err().offset, 0);
        assert_eq!(DeliveryTerm::read("DAT yard").unwrap_err().offset, 0, "not in the 2020 rules");
    }
}
