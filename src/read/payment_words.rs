//! When and how much is paid, in the words that people write on invoices, and as it is written here.

/// Words for an event, and the event's word here. Goods on board, their bill of lading and their sailing are
/// taken for one day (common practice).
const EVENTS: [(&str, &str); 22] = [
    ("b/l", "sails"),
    ("bill of lading", "sails"),
    ("on board", "sails"),
    ("sail", "sails"),
    ("ship", "sails"),
    ("depart", "sails"),
    ("etd", "sails"),
    ("loading", "sails"),
    ("arriv", "arrives"),
    ("eta", "arrives"),
    ("deliver", "delivered"),
    ("receipt", "delivered"),
    ("customs", "entered"),
    ("entry", "entered"),
    ("entered", "entered"),
    ("pick-up", "collected"),
    ("pickup", "collected"),
    ("collect", "collected"),
    ("order", "quoted"),
    ("proforma", "quoted"),
    ("quot", "quoted"),
    ("return", "returned"),
];

/// Ways to pay, which say nothing of the day.
const WAYS: [&str; 13] = [
    "t/t",
    "tt",
    "wire",
    "transfer",
    "l/c",
    "lc",
    "sight",
    "cad",
    "d/p",
    "d/a",
    "documents",
    "cash",
    "against",
];

/// A due date such as `30 days after B/L`, as it is written here; `None` where no event is named in it.
pub(super) fn due(text: &str) -> Option<String> {
    let lower = text.to_lowercase();
    let (_, event) = EVENTS.iter().find(|(word, _)| lower.contains(word))?;
    let Some(days) = days(&lower) else {
        // "Against a copy of the B/L" is some days after it.
        let is_on_the_day =
            !WAYS.iter().any(|way| lower.contains(way)) && !lower.contains("before");
        return is_on_the_day.then(|| (*event).to_owned());
    };
    let is_before = lower.contains("before") || lower.contains("prior");
    let working = lower.contains("working") || lower.contains("business");
    let sign = if is_before { '-' } else { '+' };
    Some(format!("{event} {sign} {days} {}days", if working { "working " } else { "" }))
}

/// What to write for a due date that cannot be told from its text.
pub(super) fn no_event(text: &str) -> String {
    let lower = text.to_lowercase();
    match days(&lower) {
        Some(days) => format!(
            "write the event that the {days} days run from, such as \"sails + {days} days\" for the date of the bill of lading"
        ),
        None if names_a_way(&lower) => "that is how it is paid, not when: write the day, such as \"sails + 10 days\", or \"quoted\" with the order".to_owned(),
        None => "write an event, alone or with days: quoted, collected, sails, arrives, entered or delivered, such as \"sails + 30 days\"".to_owned(),
    }
}

/// Whether a text names a way to pay.
fn names_a_way(lower: &str) -> bool {
    let mut words = lower.split([' ', ',']);
    words.any(|word| WAYS.contains(&word)) || lower.contains("letter of credit")
}

/// The days of a text with a count in it, weeks and months among them.
fn days(lower: &str) -> Option<u32> {
    let count = lower.split(|c: char| !c.is_ascii_digit()).find(|digits| !digits.is_empty())?;
    let count: u32 = count.parse().ok().filter(|count| *count <= 1000)?;
    let each = if lower.contains("week") {
        7
    } else if lower.contains("month") {
        30
    } else {
        1
    };
    Some(count * each)
}

/// What to write for a share of an invoice that has words or several figures in it.
///
/// "50% deposit" is a percentage and its name, "30/70" are two payments.
pub(super) fn share(text: &str) -> Option<String> {
    let lower = text.trim().to_lowercase();
    if ["balance", "remainder", "remaining", "the rest"].contains(&lower.as_str()) {
        return Some("write \"rest\"".to_owned());
    }
    let (figure, behind) = lower.split_once('%').unwrap_or((&lower, ""));
    if figure.trim().parse::<u32>().is_ok() && !behind.trim().is_empty() && !behind.contains('%') {
        return Some(format!("write \"{} %\"", figure.trim()));
    }
    let parts: Vec<u32> = lower
        .split(['/', '-'])
        .map(|part| part.trim().trim_end_matches('%').trim_end().parse())
        .collect::<Result<_, _>>()
        .ok()?;
    let [first, .., _] = parts[..] else { return None };
    (parts.iter().sum::<u32>() == 100).then(|| {
        format!("each payment is a table of its own: [[invoice.payment]] with share = \"{first} %\", and the last with share = \"rest\"")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn due_dates_as_invoices_have_them() {
        let told = |text: &str| due(text).unwrap_or_else(|| no_event(text));
        assert_eq!(told("30 days after B/L"), "sails + 30 days");
        assert_eq!(told("B/L + 30 days"), "sails + 30 days");
        assert_eq!(told("sails + 1 month"), "sails + 30 days");
        assert_eq!(told("2 weeks before shipment"), "sails - 14 days");
        assert_eq!(told("on arrival"), "arrives");
        assert_eq!(told("10 business days after customs entry"), "entered + 10 working days");
        assert!(told("net 30").contains("\"sails + 30 days\""));
        assert!(told("L/C at sight").starts_with("that is how it is paid, not when"));
        assert!(told("against copy of B/L").starts_with("that is how it is paid, not when"));
        assert!(told("end of month").starts_with("write an event"));
    }

    #[test]
    fn shares_as_invoices_have_them() {
        assert_eq!(share("Balance").as_deref(), Some("write \"rest\""));
        assert!(share("30/70").unwrap().contains("share = \"30 %\""));
        assert!(share("30% / 70%").is_some() && share("20/30/50").is_some());
        assert_eq!((share("30 %"), share("30/80")), (None, None));
    }
}
