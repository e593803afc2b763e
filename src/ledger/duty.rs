//! Duty that customs change later on: more is asked for, or some is given back.
//!
//! It is cost at the rate of the day the duty was owed, and goes where the slabs are by now, as what a bill has
//! otherwise does. The interest is none of the goods': it is a cost of finance, or an income of it.

use super::bills::Rates;
use super::entry::Line;
use super::posting::Posting;
use super::state::Open;
use super::undo::Of;
use crate::fault::{At, Code, Fault, Place, Report, Reported};
use crate::quantity::Money;
use crate::trade::{Account, BillLine};

impl Posting<'_, '_> {
    /// Customs change the duty of an entry.
    pub(super) fn duty_changed(
        &mut self,
        (entry, lines): (&At<String>, &[BillLine]),
        is_refund: bool,
        (interest, rates): (Option<&At<Money>>, Rates<'_>),
        report: &mut Report,
    ) -> Result<(), Reported> {
        self.paper(report)?;
        let turned = |amount: Money| if is_refund { amount.negated() } else { amount };
        let mut sum: Option<Open> = None;
        for (of, amount, place) in self.lines_of(lines, report)? {
            self.is_of_entry(of, (entry, &place), report)?;
            if amount.is_negative() {
                let message = format!("{amount} is given back by its sign, and not under a rule");
                return Err(report.error(
                    Fault::error(Code::Contradiction, message)
                        .at(&place, "less than nothing here")
                        .also(&self.event.place, "`refund` of this event is where the rule stands")
                        .help("write the amount without its sign, and the rule: refund = \"19 CFR 158.12\""),
                ));
            }
            if is_refund {
                self.ask_credit(of, amount, &place, report)?;
            }
            let amount = turned(amount);
            let owed = report.found(self.charge_state(of), "a charge")?.owed.clone();
            let (book, rate) = match owed {
                Some(owed) => {
                    let (known, posted) = ((owed.currency, owed.rate), rates.posted);
                    self.bill_more(of, amount, known, posted.map(|at| at.value), rates, report)?
                }
                None => self.bill_line(of, amount, false, rates, report)?,
            };
            if !is_refund {
                self.note_bill(of, amount, false);
                self.ask_bill(of, false, &place, report);
            }
            let item = self.item(Account::Payables, (amount.negated(), -book), rate, Some(of.0));
            sum = Some(item.beside(sum));
        }
        let Some(mut sum) = sum else { return Ok(()) };
        if let Some(interest) = interest {
            if interest.currency() != sum.currency {
                return Err(report.error(
                    Fault::error(Code::Contradiction, "the interest is in another currency")
                        .at(&interest.place, format!("the duty is in {}", sum.currency)),
                ));
            }
            let amount = turned(interest.value);
            let book = self.convert(amount, sum.rate.as_ref(), "rate", report)?;
            let line = Line { party: self.own_party(), ..Line::on(Account::Finance, book) };
            self.plain(Line { shipment: sum.shipment, ..line }, report)?;
            sum.amount -= self.fits(amount.minor(), report)?;
            sum.book -= book;
        }
        let account = if is_refund { Account::Receivables } else { Account::Payables };
        self.new_open(Open { account, ..sum }, report).map(drop)
    }

    /// Holds a charge against the entry whose duty is changed.
    fn is_of_entry(
        &self,
        of: Of,
        (entry, place): (&At<String>, &Place),
        report: &mut Report,
    ) -> Result<(), Reported> {
        let state = report.found(self.charge_state(of), "a charge")?;
        let charge = self.ledger.freeze(of.0).and_then(|freeze| freeze.charges.get(of.1));
        // One that was never estimated is of the entry that the event names.
        let Some(charge) = charge else { return Ok(()) };
        let named = charge.on.strip_prefix("entry ").and_then(|on| on.split(',').next());
        if named != Some(&*entry.value) {
            let all = self.ledger.freeze(of.0).map_or(&[][..], |freeze| &freeze.charges);
            let known = all.iter().filter_map(|one| one.on.strip_prefix("entry "));
            let mut known: Vec<&str> = known.filter_map(|on| on.split(',').next()).collect();
            known.dedup();
            let message = format!("\"{}\" is none of entry {}", state.key, entry.value);
            return Err(report.error(
                Fault::error(Code::Contradiction, message)
                    .at(place, "changed here")
                    .also(&entry.place, "of this entry")
                    .help(format!("its entries: {}", known.join(", "))),
            ));
        }
        if state.owed.is_some() {
            return Ok(());
        }
        Err(report.error(
            Fault::error(
                Code::Contradiction,
                format!("\"{}\" is changed before it is owed", state.key),
            )
            .at(place, "changed here")
            .help("write first when it was owed, or its bill"),
        ))
    }
}
