//! The rows of a separated list: their cells, and where each row stands.

use std::ops::Range;

/// One row of a list.
pub(super) struct Row<'r> {
    cells: &'r [&'r str],
    /// The line it begins on, the first of the text being 1.
    pub(super) line: usize,
    /// Its first byte in the text.
    pub(super) start: usize,
    /// Whether a quoted cell runs over the end of its line.
    pub(super) runs_on: bool,
}

impl<'r> Row<'r> {
    /// A cell without the blanks around it; `None` where the row is too short.
    pub(super) fn get(&self, index: usize) -> Option<&'r str> {
        self.cells.get(index).map(|cell| cell.trim())
    }

    /// A cell as it stands, for a list that the program wrote itself.
    pub(super) fn exact(&self, index: usize) -> Option<&'r str> {
        self.cells.get(index).copied()
    }

    /// How many cells it has.
    pub(super) fn len(&self) -> usize {
        self.cells.len()
    }

    /// Whether there is nothing in any of its cells.
    pub(super) fn is_blank(&self) -> bool {
        self.cells.iter().all(|cell| cell.trim().is_empty())
    }
}

/// A list that cannot be read on: the line, and why.
pub(super) struct Unreadable {
    pub(super) line: usize,
    pub(super) why: String,
}

/// The first rows that are not empty, at most so many: the line of each, and its cells.
pub(super) fn opening(text: &str, delimiter: u8, most: usize) -> Vec<(usize, Vec<String>)> {
    let mut reader = reader(text, delimiter);
    let records = reader.records().map_while(Result::ok).take(most);
    records
        .map(|record| {
            let (line, _) = place_of(text, record.position());
            (line, record.iter().map(|cell| cell.trim().to_owned()).collect())
        })
        .collect()
}

/// The cells of the first row that is not empty.
///
/// # Errors
/// Why it cannot be read.
pub(super) fn header(text: &str, delimiter: u8) -> Result<Vec<String>, String> {
    let mut reader = reader(text, delimiter);
    let mut record = csv::StringRecord::new();
    reader.read_record(&mut record).map_err(|error| error.to_string())?;
    Ok(record.iter().map(str::to_owned).collect())
}

fn reader(text: &str, delimiter: u8) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .flexible(true)
        .has_headers(false)
        .from_reader(text.as_bytes())
}

/// Tells the rows of a text that are not empty.
///
/// # Errors
/// Where the text is no list from some line on.
pub(super) fn each_row(
    text: &str,
    delimiter: u8,
    mut tell: impl FnMut(&Row<'_>),
) -> Result<(), Unreadable> {
    if memchr::memchr2(b'"', b'\r', text.as_bytes()).is_none() {
        unquoted(text, delimiter, tell);
        return Ok(());
    }
    let mut reader = reader(text, delimiter);
    let mut record = csv::StringRecord::new();
    loop {
        match reader.read_record(&mut record) {
            Ok(true) => {
                let cells: Vec<&str> = record.iter().collect();
                let (line, start) = place_of(text, record.position());
                let runs_on = record.as_slice().contains('\n');
                tell(&Row { cells: &cells, line, start, runs_on });
            }
            Ok(false) => return Ok(()),
            Err(error) => {
                let (line, _) = place_of(text, error.position());
                return Err(Unreadable { line, why: error.to_string() });
            }
        }
    }
}

/// Tells the rows of a text that quotes nothing: each is a line. Cells are short: a byte after the other is quicker
/// than a search each.
fn unquoted(text: &str, delimiter: u8, mut tell: impl FnMut(&Row<'_>)) {
    let mut cells = Vec::new();
    let (mut line, mut start, mut from) = (1, 0, 0);
    let mut end = |at: usize, is_last: bool| {
        cells.extend(text.get(from..at));
        from = at + 1;
        if is_last {
            if at > start {
                tell(&Row { cells: &cells, line, start, runs_on: false });
            }
            cells.clear();
            line += 1;
            start = from;
        }
    };
    for (at, byte) in text.bytes().enumerate() {
        if byte == delimiter || byte == b'\n' {
            end(at, byte == b'\n');
        }
    }
    end(text.len(), true);
}

/// The line of a record, and its first byte. A reader's own position is that of the blank lines
/// above the record, where there are any.
fn place_of(text: &str, position: Option<&csv::Position>) -> (usize, usize) {
    let (line, start) =
        position.map_or((1, 0), |position| (whole(position.line()), whole(position.byte())));
    let rest = text.get(start..).unwrap_or("");
    let blank = rest.len() - rest.trim_start_matches(['\r', '\n']).len();
    let lines = rest.bytes().take(blank).filter(|byte| *byte == b'\n').count();
    (line + lines, start + blank)
}

fn whole(number: u64) -> usize {
    usize::try_from(number).unwrap_or(0)
}

/// The byte range of a cell in its line.
pub(super) fn cell_range(line: &str, delimiter: u8, index: usize) -> Option<Range<usize>> {
    let mark = char::from(delimiter);
    let mut quoted = false;
    let (mut column, mut start) = (0, 0);
    for (at, c) in line.char_indices() {
        quoted ^= c == '"';
        if c == mark && !quoted {
            if column == index {
                return Some(start..at);
            }
            column += 1;
            start = at + 1;
        }
    }
    (column == index).then_some(start..line.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    type Told = (Vec<String>, usize, usize);

    fn rows(text: &str) -> Vec<Told> {
        let mut told = Vec::new();
        let read = each_row(text, b',', |row| {
            let cells = (0..row.len()).map(|at| row.get(at).unwrap().to_owned()).collect();
            told.push((cells, row.line, row.start));
        });
        assert!(read.is_ok());
        told
    }

    #[test]
    fn rows_know_their_line_and_byte() {
        let cells = |cells: [&str; 2]| cells.map(str::to_owned).to_vec();
        let told = vec![(cells(["a", "b"]), 2, 2), (cells(["c", ""]), 4, 10)];
        assert_eq!(rows("\r\n a,b\r\n\r\nc,"), told);
    }

    #[test]
    fn a_quoted_cell_may_hold_the_separator() {
        assert_eq!(cell_range("a,\"b,c\",d", b',', 1), Some(2..7));
        assert_eq!(cell_range("a,\"b,c\",d", b',', 2), Some(8..9));
        assert_eq!(cell_range("a,b", b',', 2), None);
        assert_eq!(rows("\"a,b\",c"), [(vec!["a,b".to_owned(), "c".to_owned()], 1, 0)]);
    }
}
