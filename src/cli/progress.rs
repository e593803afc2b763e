//! The line that tells how far long work is: on a terminal alone, after a second.

use std::io::{self, IsTerminal};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

use crate::fault::printable;
use crate::load::{SearchState, Watch};
use crate::quantity::{Decimal, Money, ratio};

static WATCH: Watch = Watch::new();

/// How long nothing is shown, and how often the line is written anew (choices of ours).
const QUIET: Duration = Duration::from_secs(1);
const EVERY: Duration = Duration::from_millis(200);

/// Where a search says how far it is; `None` where nobody would see it.
pub(super) fn watch() -> Option<&'static Watch> {
    io::stderr().is_terminal().then_some(&WATCH)
}

/// The line, for as long as this is held: nothing else may be written meanwhile.
pub(super) struct Progress(Option<(Sender<()>, JoinHandle<()>)>);

impl Progress {
    /// Shows the line after a second; never where stderr is no terminal.
    pub(super) fn show() -> Self {
        Self(watch().map(|watch| {
            let (end, ended) = channel::<()>();
            let shown = thread::spawn(move || {
                if ended.recv_timeout(QUIET) != Err(RecvTimeoutError::Timeout) {
                    return;
                }
                let line = ProgressBar::new_spinner().with_elapsed(QUIET);
                if let Ok(style) = ProgressStyle::with_template("{elapsed} {wide_msg}") {
                    line.set_style(style);
                }
                while ended.recv_timeout(EVERY) == Err(RecvTimeoutError::Timeout) {
                    line.set_message(printable(&words(&watch.seen())));
                    line.tick();
                }
                line.finish_and_clear();
            });
            (end, shown)
        }))
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some((end, shown)) = self.0.take() {
            drop(end);
            // A line that could not be shown is no loss.
            let _ = shown.join();
        }
    }
}

/// What is being tried, the best cost, its bound and gap, and the work spent.
fn words(seen: &SearchState) -> String {
    let Some((shipment, currency)) = &seen.shipment else { return "reading".to_owned() };
    let money = |minor| Money::from_minor(minor, *currency);
    if seen.draws.1 > 0 {
        return format!("draws {} of {}", seen.draws.0, seen.draws.1);
    }
    let mut parts = vec![format!("offers {} of {}", seen.tried.0, seen.tried.1)];
    if let Some(best) = seen.best {
        parts.push(format!("best load {}", money(best)));
        parts.push(format!("bound {}", money(seen.bound)));
        parts
            .extend(percent(best.saturating_sub(seen.bound), best).map(|gap| format!("gap {gap}")));
    }
    let (spent, most) = seen.spent;
    let [spent, most] = [spent, most].map(|units| i64::try_from(units).unwrap_or(i64::MAX));
    parts.extend(percent(spent, most).map(|spent| format!("work {spent}")));
    // The name comes last, as a narrow terminal cuts the end off.
    parts.push(shipment.clone());
    parts.join(", ")
}

fn percent(part: i64, whole: i64) -> Option<String> {
    let of = Decimal::from(part).checked_mul(Decimal::ONE_HUNDRED)?;
    Some(format!("{} %", ratio(of, Decimal::from(whole), 1)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Currency;

    #[test]
    fn the_line_says_how_far_a_search_is() {
        let usd = Currency::from_code("USD").unwrap();
        let mut seen =
            SearchState { shipment: Some(("spring".to_owned(), usd)), ..SearchState::default() };
        seen.tried = (2, 9);
        assert_eq!(words(&seen), "offers 2 of 9, spring");
        seen.best = Some(570_360);
        seen.bound = 542_000;
        seen.spent = (3_000, 12_000);
        let line = "offers 2 of 9, best load 5,703.60 USD, bound 5,420.00 USD, gap 5.0 %, work 25.0 %, \
                    spring";
        assert_eq!(words(&seen), line);
    }
}
