//! Every command and form, in one list: what runs all of them takes them from here, the fuzzer too.

/// Every command on a shipment of its workspace, `{}`, and on another, `{other}`; but those that begin a
/// workspace, or take in what is no part of one: `init`, `offer`, `import`.
pub(crate) const COMMANDS: [&str; 31] = [
    "check",
    "check {} --units us",
    "load {}",
    "load {} {other}",
    "load {} --for haulier",
    "load {} --for supplier",
    "letter {}",
    "cost {}",
    "cost {} --by bundle",
    "cash {}",
    "explain {} A1",
    "explain {} A1 --full",
    "compare {} {other}",
    "counter {} --target 50USD/m2",
    "what-if {} {other} --set price+1%",
    "saw {}",
    "topup {} --boxes 1x20gp",
    "routes {} {other}",
    "rates",
    "price",
    "cover",
    "worksheet {}",
    "book {}",
    "explain {} A1 --booked",
    "arrive {}",
    "settle {}",
    "journal",
    "stock",
    "audit",
    "tags {}",
    "report {}",
];

/// Commands that read no workspace.
pub(crate) const ALONE: [&str; 3] = ["completions bash", "manual", "schema freight"];

/// Every form of a result.
pub(crate) const FORMS: [&str; 6] = ["text", "markdown", "html", "csv", "json", "xlsx"];

/// The words of a command on two shipments.
pub(crate) fn words(command: &str, shipment: &str, other: &str) -> Vec<String> {
    let words = command.split(' ');
    words.map(|word| word.replace("{}", shipment).replace("{other}", other)).collect()
}
