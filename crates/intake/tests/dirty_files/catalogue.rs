//! The families of dirty input, one function each, in the order of the
//! catalogue in shared/reference/reliability.md, section 5.

use super::truth::{Dialect, PLAIN, dialects};
use super::{channels, content, sampling, writing};

/// What must come of a file.
pub enum Expected {
    /// It is refused with this code, at this place where one is given.
    Refused { code: &'static str, line: Option<u64>, column: Option<u64> },
    /// It is read and this is said; the samples are the truth where so stated.
    Read { code: &'static str, is_truth: bool },
    /// It is read and this is said of this place; the samples are the truth
    /// where so stated.
    Said { code: &'static str, line: u64, column: u64, is_truth: bool },
    /// It holds these runs, each of them the truth.
    Runs { names: &'static [&'static str] },
}

/// One file.
pub struct Case {
    pub family: u32,
    pub name: String,
    pub bytes: Vec<u8>,
    pub plan: &'static str,
    pub expected: Expected,
}

/// Families that another room answers, and which.
pub const NOT_HERE: &[(u32, &str)] = &[
    (44, "crates/app/tests/commands/dirty_families.rs: only the method knows how long a cycle is"),
    (49, "crates/app/tests/commands/dirty_families.rs: the hash of the bytes is kept in the book"),
    (53, "crates/app/tests/commands/dirty_families.rs: only the door knows what time it is"),
    (55, "crates/app/tests/commands/dirty_families.rs: a hint of the spectrum, not of the file"),
    (56, "crates/app/tests/commands/dirty_families.rs: one outcome for each file of a folder"),
];

pub fn refused(code: &'static str) -> Expected {
    Expected::Refused { code, line: None, column: None }
}

pub fn refused_at(code: &'static str, line: u64, column: u64) -> Expected {
    Expected::Refused { code, line: Some(line), column: Some(column) }
}

pub fn refused_in(code: &'static str, line: u64) -> Expected {
    Expected::Refused { code, line: Some(line), column: None }
}

pub fn truth(code: &'static str) -> Expected {
    Expected::Read { code, is_truth: true }
}

pub fn read(code: &'static str) -> Expected {
    Expected::Read { code, is_truth: false }
}

/// Read as the truth, with a word on a place.
pub fn said_at(code: &'static str, line: u64, column: u64) -> Expected {
    Expected::Said { code, line, column, is_truth: true }
}

/// Read, with a word on a place.
pub fn said_at_with_other_times(code: &'static str, line: u64, column: u64) -> Expected {
    Expected::Said { code, line, column, is_truth: false }
}

/// The list being written.
pub struct Catalogue {
    pub cases: Vec<Case>,
}

/// Dialects in which a cell can be changed at will.
pub fn open_dialects() -> Vec<Dialect> {
    let wanted = [
        "plain",
        "CRLF",
        "semicolon and decimal comma",
        "tab",
        "bar",
        "quoted",
        "framed",
        "byte order mark",
        "UTF-16 big",
    ];
    dialects().into_iter().filter(|dialect| wanted.contains(&dialect.name)).collect()
}

impl Catalogue {
    /// A file that is read without a plan.
    pub fn add(
        &mut self,
        family: u32,
        name: impl Into<String>,
        bytes: impl Into<Vec<u8>>,
        expected: Expected,
    ) {
        self.add_with(family, name, bytes, "", expected);
    }

    /// A file that is read with a plan.
    pub fn add_with(
        &mut self,
        family: u32,
        name: impl Into<String>,
        bytes: impl Into<Vec<u8>>,
        plan: &'static str,
        expected: Expected,
    ) {
        self.cases.push(Case { family, name: name.into(), bytes: bytes.into(), plan, expected });
    }

    /// The truth with one cell changed, in every open dialect.
    pub fn cell(
        &mut self,
        family: u32,
        row: usize,
        column: usize,
        cell: &str,
        expected: impl Fn(u64, u64) -> Expected,
    ) {
        for dialect in open_dialects() {
            let mut rows = dialect.rows();
            rows[row][column] = cell.to_owned();
            let line = dialect.lines_before() + row as u64 + 1;
            let shown = cell.escape_debug();
            self.add(
                family,
                format!("{shown} in {}", dialect.name),
                dialect.file(&rows),
                expected(line, column as u64 + 1),
            );
        }
    }

    /// The truth with its column of readings changed.
    pub fn readings(
        &mut self,
        family: u32,
        name: &str,
        change: impl Fn(usize, &str) -> String,
        expected: Expected,
    ) {
        let mut rows = PLAIN.rows();
        for (row, cells) in rows.iter_mut().enumerate() {
            cells[1] = change(row, &cells[1]);
        }
        self.add(family, name, PLAIN.file(&rows), expected);
    }

    /// The truth under another header.
    pub fn header(
        &mut self,
        family: u32,
        header: &'static [&'static str],
        plan: &'static str,
        expected: Expected,
    ) {
        let dialect = Dialect { header, ..PLAIN };
        self.add_with(family, header.join("|"), dialect.file(&dialect.rows()), plan, expected);
    }

    /// Clock times in the first column.
    pub fn clocks(
        &mut self,
        family: u32,
        name: &str,
        plan: &'static str,
        time: fn(usize) -> String,
        expected: Expected,
    ) {
        let dialect = Dialect { header: &["when", "p [mbar]"], time, ..PLAIN };
        self.add_with(family, name, dialect.file(&dialect.rows()), plan, expected);
    }
}

/// The truth as plain text.
pub fn text() -> String {
    PLAIN.text(&PLAIN.rows())
}

/// Every file of the catalogue.
pub fn catalogue() -> Vec<Case> {
    let mut catalogue = Catalogue { cases: Vec::new() };
    writing::encodings(&mut catalogue);
    writing::separators_and_marks(&mut catalogue);
    content::cells(&mut catalogue);
    content::shapes(&mut catalogue);
    sampling::clock_times(&mut catalogue);
    sampling::sampling(&mut catalogue);
    channels::units(&mut catalogue);
    channels::sensors(&mut catalogue);
    channels::dropouts(&mut catalogue);
    channels::ends_and_sizes(&mut catalogue);
    channels::names_and_formats(&mut catalogue);
    channels::swapped_bytes(&mut catalogue);
    catalogue.cases
}

/// Read as the truth, where nothing in particular has to be said.
pub fn truth_without() -> Expected {
    truth("")
}

/// Read, with other pressures than the truth and nothing in particular said.
pub fn truth_moved() -> Expected {
    read("")
}
