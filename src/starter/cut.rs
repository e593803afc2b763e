//! Rows cut out of a table's text, with their comments, and templates filled in.

use std::collections::BTreeSet;

use toml_edit::{ArrayOfTables, DocumentMut, InlineTable, Item, Table, Value, value};

use super::reference;

/// The kinds of rows that may stand under a `[[quote]]`.
const KINDS: [&str; 8] = ["charge", "duty", "exchange", "finish", "rig", "road", "stone", "yard"];

/// A table's text as it can be cut: what it opens with, and its rows.
pub(super) struct Cut {
    head: String,
    rows: DocumentMut,
}

impl Cut {
    /// Of a text that is one of ours: it opens with a comment on its keys, up to the first empty line.
    pub(super) fn of(text: &str) -> Self {
        let (head, rows) = text.split_once("\n\n").unwrap_or(("", text));
        let head = if head.starts_with('#') { head } else { "" };
        let rows = if head.is_empty() { text } else { rows };
        // A text of ours is TOML, which every test that reads it holds.
        let mut cut = Self { head: head.to_owned(), rows: rows.parse().unwrap_or_default() };
        cut.stand_alone();
        cut
    }

    /// Lets each row that stands under a `[[quote]]` stand alone, with the keys of its head: a new workspace
    /// shows every key of a row.
    fn stand_alone(&mut self) {
        let Some(Item::ArrayOfTables(quotes)) = self.rows.remove("quote") else { return };
        for head in &quotes {
            let mut comment = head.decor().prefix().and_then(|text| text.as_str()).unwrap_or("\n");
            let (kinds, shared): (Vec<_>, Vec<_>) =
                head.iter().partition(|(key, item)| KINDS.contains(key) && item.is_array());
            for (kind, rows) in kinds {
                let rows = rows.as_array().into_iter().flatten().filter_map(Value::as_inline_table);
                let rows = rows.map(|own| {
                    let mut row: Table = own.clone().into_table();
                    for (key, item) in &shared {
                        row.entry(key).or_insert_with(|| (*item).clone());
                    }
                    row.iter_mut()
                        .filter_map(|(_, item)| item.as_value_mut())
                        .for_each(|value| value.decor_mut().clear());
                    row.decor_mut().set_prefix(std::mem::replace(&mut comment, "\n"));
                    row.set_position(head.position());
                    row
                });
                let none = || Item::ArrayOfTables(ArrayOfTables::new());
                let all = self.rows.entry(kind).or_insert_with(none);
                if let Some(all) = all.as_array_of_tables_mut() {
                    all.extend(rows);
                }
            }
        }
    }

    /// Under another opening comment.
    pub(super) fn under(mut self, head: &str) -> Self {
        head.trim_end().clone_into(&mut self.head);
        self
    }

    /// The rows of a name.
    pub(super) fn rows(&self, name: &str) -> impl Iterator<Item = &Table> {
        self.rows.get(name).and_then(Item::as_array_of_tables).into_iter().flatten()
    }

    /// Keeps the rows of a name that `keep` says, as it leaves them.
    pub(super) fn keep(mut self, name: &str, keep: impl FnMut(&mut Table) -> bool) -> Self {
        if let Some(rows) = self.rows.get_mut(name).and_then(Item::as_array_of_tables_mut) {
            retain(rows, keep);
        }
        self
    }

    /// Adds a row.
    pub(super) fn add(&mut self, name: &str, row: Table) {
        if let Some(rows) = self.rows.get_mut(name).and_then(Item::as_array_of_tables_mut) {
            rows.push(row);
        }
    }

    /// The text, with a comment on each key that a row has.
    pub(super) fn text(&self) -> String {
        let rows = self.rows.to_string();
        let rows = rows.trim_start_matches('\n');
        let kinds =
            self.rows.iter().filter_map(|(kind, item)| Some((kind, item.as_array_of_tables()?)));
        let keys = kinds.flat_map(|(kind, rows)| {
            let own = reference::keys_of(kind, |key| rows.iter().any(|row| row.contains_key(key)));
            std::iter::once(own).chain(lists_in(kind, rows)).filter(|text| !text.is_empty())
        });
        let head = Some(format!("{}\n", self.head)).filter(|_| !self.head.is_empty());
        let head: Vec<String> = head.into_iter().chain(keys).collect();
        if head.is_empty() { rows.to_owned() } else { format!("{}\n{rows}", head.join("#\n")) }
    }

    /// The rows alone, to be put behind others.
    pub(super) fn bare(&self) -> String {
        self.rows.to_string()
    }
}

/// What the reference says of the lists inside of rows, such as a road's axles.
fn lists_in(kind: &str, rows: &ArrayOfTables) -> Vec<String> {
    let lists: BTreeSet<&str> =
        rows.iter().flat_map(|row| row.iter().map(|(key, _)| key)).collect();
    let of = |list: &str| {
        let parts = rows.iter().filter_map(|row| row.get(list)?.as_array()).flatten();
        let parts: Vec<&InlineTable> = parts.filter_map(Value::as_inline_table).collect();
        let has = |key: &str| parts.iter().any(|part| part.contains_key(key));
        reference::keys_of(&format!("{kind}.{list}"), has)
    };
    lists.into_iter().map(of).collect()
}

/// Keeps rows of a list, each as `keep` leaves it.
fn retain(rows: &mut ArrayOfTables, mut keep: impl FnMut(&mut Table) -> bool) {
    let kept: Vec<bool> = rows.iter_mut().map(&mut keep).collect();
    let mut kept = kept.into_iter();
    rows.retain(|_| kept.next().unwrap_or(false));
}

/// The text of a key; "" where it has none.
pub(super) fn text_of<'t>(row: &'t Table, key: &str) -> &'t str {
    row.get(key).and_then(Item::as_str).unwrap_or("")
}

/// Sets a key to a text, where it stands or behind the others.
pub(super) fn set(row: &mut Table, key: &str, text: &str) {
    row.insert(key, value(text));
}

/// A text as TOML writes it.
pub(super) fn quoted(text: &str) -> String {
    Value::from(text).to_string().trim().to_owned()
}

/// Fills a template in. A name in braces gives way to its value, as TOML writes it. A line that opens with `?`
/// and a name stays where nobody typed that figure, with `!` where somebody did, with `@` under that regime,
/// and with `+` where the value is there at all.
pub(super) fn filled(
    template: &str,
    value: impl Fn(&str) -> Option<String>,
    typed: impl Fn(&str) -> bool,
    regime: &str,
) -> String {
    let mut text = String::new();
    for line in template.lines() {
        let marked = line.strip_prefix(['?', '!', '@', '+']).and_then(|rest| rest.split_once(' '));
        let line = match (line.chars().next(), marked) {
            (Some('?'), Some((name, rest))) if !typed(name) => rest,
            (Some('!'), Some((name, rest))) if typed(name) => rest,
            (Some('@'), Some((name, rest))) if name == regime => rest,
            (Some('+'), Some((name, rest))) if value(name).is_some() => rest,
            (_, Some(_)) => continue,
            (_, None) => line,
        };
        let mut rest = line;
        while let Some((before, after)) = rest.split_once('{') {
            text.push_str(before);
            let named = after.split_once('}').filter(|(name, _)| is_name(name));
            rest = match named {
                Some((name, after)) => {
                    text.push_str(&value(name).unwrap_or_default());
                    after
                }
                None => {
                    text.push('{');
                    after
                }
            };
        }
        text.push_str(rest);
        text.push('\n');
    }
    text
}

fn is_name(text: &str) -> bool {
    !text.is_empty() && text.chars().all(|c| c.is_ascii_lowercase() || c == '-')
}
