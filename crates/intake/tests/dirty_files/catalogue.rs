//! The families of dirty input, one function each, in the order of the
//! catalogue in shared/reference/reliability.md, section 5.

use super::truth::{Dialect, N, PLAIN, dialects, readings};

/// What must come of a file.
pub enum Expected {
    /// It is refused with this code, at this place where one is given.
    Refused { code: &'static str, line: Option<u64>, column: Option<u64> },
    /// It is read and this is said; the samples are the truth where so stated.
    Read { code: &'static str, is_truth: bool },
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
    (44, "study: only the method knows how long a cycle is"),
    (49, "benchbook: the hash of the bytes is kept there"),
    (53, "app: only the door knows what time it is"),
    (55, "study: a hint of the spectrum, not of the file"),
    (56, "app: one outcome for each file of a folder"),
    (58, "no binary format is read; such bytes fall under family 5 or 51"),
];

fn refused(code: &'static str) -> Expected {
    Expected::Refused { code, line: None, column: None }
}

fn refused_at(code: &'static str, line: u64, column: u64) -> Expected {
    Expected::Refused { code, line: Some(line), column: Some(column) }
}

fn refused_in(code: &'static str, line: u64) -> Expected {
    Expected::Refused { code, line: Some(line), column: None }
}

fn truth(code: &'static str) -> Expected {
    Expected::Read { code, is_truth: true }
}

fn read(code: &'static str) -> Expected {
    Expected::Read { code, is_truth: false }
}

struct Catalogue {
    cases: Vec<Case>,
}

/// Dialects in which a cell can be changed at will.
fn open_dialects() -> Vec<Dialect> {
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
    fn add(
        &mut self,
        family: u32,
        name: impl Into<String>,
        bytes: impl Into<Vec<u8>>,
        expected: Expected,
    ) {
        self.add_with(family, name, bytes, "", expected);
    }

    fn add_with(
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
    fn cell(
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
    fn readings(
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
    fn header(
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
    fn clocks(
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
fn text() -> String {
    PLAIN.text(&PLAIN.rows())
}

/// Every file of the catalogue.
pub fn catalogue() -> Vec<Case> {
    let mut catalogue = Catalogue { cases: Vec::new() };
    encodings(&mut catalogue);
    separators_and_marks(&mut catalogue);
    cells(&mut catalogue);
    shapes(&mut catalogue);
    clock_times(&mut catalogue);
    sampling(&mut catalogue);
    units(&mut catalogue);
    sensors(&mut catalogue);
    ends_and_sizes(&mut catalogue);
    names_and_formats(&mut catalogue);
    catalogue.cases
}

fn encodings(c: &mut Catalogue) {
    for dialect in dialects() {
        let name = format!("in {}", dialect.name);
        let bytes = dialect.file(&dialect.rows());
        match dialect.name {
            "byte order mark" => c.add(1, name, bytes, truth("INT-001")),
            "UTF-16 little" | "UTF-16 big" | "UTF-16 without mark" => {
                c.add(2, name, bytes, truth("INT-002"))
            }
            "Windows-1252" => c.add(3, name, bytes, truth("INT-003")),
            _ => {}
        }
    }
    let marked = |text: &str| [b"\xef\xbb\xbf", text.as_bytes()].concat();
    for dialect in
        open_dialects().into_iter().filter(|d| !d.name.contains("UTF") && !d.name.contains("mark"))
    {
        let bytes = marked(&dialect.text(&dialect.rows()));
        c.add(1, format!("marked, {}", dialect.name), bytes, truth("INT-001"));
    }
    let mut odd: Vec<u8> = "\u{feff}time_s,p\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
    odd.push(b'1');
    c.add(2, "UTF-16 cut in a character", odd, refused("INT-045"));
    c.add(3, "decoded twice", format!("T in Â°C\n{}", text()), truth("INT-003"));
    c.add(
        3,
        "bytes of no code page",
        [b"gauge \x81\x8d\n", text().as_bytes()].concat(),
        refused("INT-003"),
    );
    for at in [30, 60, 120] {
        let mut bytes = format!("µ\n{}", text()).into_bytes();
        bytes.insert(at, 0xff);
        let line = 1 + bytes[..at].iter().filter(|&&byte| byte == b'\n').count() as u64;
        c.add(4, format!("invalid byte at {at}"), bytes, refused_in("INT-004", line));
    }
    for n in [1, 512] {
        let mut bytes = text().into_bytes();
        bytes.extend(vec![0; n]);
        c.add(5, format!("{n} NUL at the end"), bytes, truth("INT-005"));
    }
    let mut bytes = text().into_bytes();
    bytes[40] = 0;
    c.add(5, "NUL within", bytes, refused("INT-005"));
    for (name, from, to) in [
        ("LF and CRLF", "\n1", "\r\n1"),
        ("LF and CR", "\n2", "\r2"),
        ("LF and U+2028", "\n3", "\u{2028}3"),
    ] {
        c.add(6, name, text().replacen(from, to, 1), truth("INT-006"));
    }
}

fn separators_and_marks(c: &mut Catalogue) {
    let tie: String = (0..N).map(|row| format!("{row}|{row}\t{row}|{row}\n")).collect();
    c.add(7, "bar or tab", tie, refused("INT-007"));
    let doubled: String = readings()
        .iter()
        .enumerate()
        .map(|(row, reading)| format!("{},5,{}\n", row, reading.replace('.', ",")))
        .collect();
    c.add(
        8,
        "decimal commas between commas",
        format!("time_s,p [mbar]\n{doubled}"),
        refused_in("INT-008", 2),
    );
    let dialect = dialects()
        .into_iter()
        .find(|dialect| dialect.name == "semicolon and decimal comma")
        .expect("is listed");
    c.add(8, "decimal commas between semicolons", dialect.file(&dialect.rows()), truth("INT-008"));
    for (mark, name) in [
        ("'", "apostrophe"),
        ("\u{a0}", "no-break space"),
        ("\u{202f}", "narrow space"),
        (",", "comma"),
    ] {
        let dialect = Dialect { separator: ";", ..PLAIN };
        let text = dialect.text(&dialect.rows()).replace("1013.25", &format!("1{mark}013.25"));
        c.add(9, format!("thousands by {name}"), text, truth("INT-009"));
    }
    for (mark, name) in [(",", "comma"), (".", "point")] {
        let rows: String = (0..N).map(|row| format!("{row};1{mark}{:03}\n", 200 + row)).collect();
        c.add(
            9,
            format!("three digits behind a {name}"),
            format!("time_s;p [mbar]\n{rows}"),
            refused_at("INT-009", 2, 2),
        );
        let plan =
            if mark == "," { "decimal_mark = \"comma\"" } else { "decimal_mark = \"point\"" };
        c.add_with(
            9,
            format!("three digits behind a {name}, agreed"),
            format!("time_s;p [mbar]\n{rows}"),
            plan,
            read(""),
        );
    }
    for row in [3, 20, 39] {
        for separator in [";", "\t", "|"] {
            let dialect = Dialect { separator, ..PLAIN };
            let mut rows = dialect.rows();
            rows[row][1] = rows[row][1].replace('.', ",");
            c.add(
                10,
                format!("comma in row {row} between {separator:?}"),
                dialect.file(&rows),
                refused_in("INT-010", row as u64 + 2),
            );
        }
    }
}

fn cells(c: &mut Catalogue) {
    let minus: String = (0..N)
        .map(|row| {
            format!(
                "{},{}\n",
                if row == 0 { "\u{2212}0.5".to_owned() } else { format!("{}", row as f64 * 0.5) },
                readings()[row]
            )
        })
        .collect();
    c.add(11, "typeset minus", format!("time_s,p [mbar]\n{minus}"), read("INT-011"));
    c.cell(11, 5, 1, "４２.5", |line, column| refused_at("INT-011", line, column));
    c.cell(11, 5, 1, "٤٢", |line, column| refused_at("INT-011", line, column));
    for cell in ["1e400", "1e-400", "0x1F"] {
        c.cell(12, 7, 1, cell, |line, column| refused_at("INT-012", line, column));
    }
    c.readings(12, "Fortran exponents", |_, reading| format!("{reading}D+00"), truth("INT-011"));
    for token in ["NaN", "inf", "-", "N/A", "#DIV/0!", "OL", "OVER", "----", "FAULT", "1.0E 03"] {
        c.cell(13, 9, 1, token, |line, column| refused_at("INT-013", line, column));
        let mut rows = PLAIN.rows();
        rows[9][1] = token.to_owned();
        let plan: &'static str = Box::leak(format!("missing = [\"{token}\"]").into_boxed_str());
        c.add_with(
            13,
            format!("{token} declared missing"),
            PLAIN.file(&rows),
            plan,
            read("INT-015"),
        );
    }
    let mut rows = PLAIN.rows();
    rows[9][1] = "OVER".to_owned();
    c.add_with(
        13,
        "OVER declared beyond range",
        PLAIN.file(&rows),
        "over_range = [\"OVER\"]",
        read("INT-041"),
    );
    for sentinel in ["-999", "-9999", "1e37", "9.9e37"] {
        c.cell(14, 12, 1, sentinel, |line, column| refused_at("INT-014", line, column));
    }
    let mut rows = PLAIN.rows();
    rows[12][1] = "-999".to_owned();
    c.add_with(
        14,
        "-999 declared missing",
        PLAIN.file(&rows),
        "missing = [\"-999\"]",
        read("INT-015"),
    );
    c.readings(
        14,
        "9999 again and again",
        |row, reading| if row % 10 == 5 { "9999".to_owned() } else { reading.to_owned() },
        read("INT-014"),
    );
    c.readings(
        14,
        "1000 at the end",
        |row, reading| if row > 30 { "1000".to_owned() } else { reading.to_owned() },
        read("INT-014"),
    );
    for row in [4, 22, 39] {
        let mut rows = PLAIN.rows();
        rows[row][1] = String::new();
        c.add(15, format!("empty cell in row {row}"), PLAIN.file(&rows), read("INT-015"));
        let mut rows = PLAIN.rows();
        rows[row][0] = String::new();
        c.add(
            15,
            format!("no time in row {row}"),
            PLAIN.file(&rows),
            refused_at("INT-015", row as u64 + 2, 1),
        );
    }
    c.add(15, "blank line within", text().replacen("\n7,", "\n\n7,", 1), truth("INT-015"));
}

fn shapes(c: &mut Catalogue) {
    for dialect in open_dialects() {
        for (row, extra) in [(5, true), (11, false)] {
            let mut rows = dialect.rows();
            if extra {
                rows[row].push("7.5".to_owned());
            } else {
                rows[row].pop();
            }
            let line = dialect.lines_before() + row as u64 + 1;
            c.add(
                16,
                format!(
                    "row {row} {} in {}",
                    if extra { "longer" } else { "shorter" },
                    dialect.name
                ),
                dialect.file(&rows),
                refused_in("INT-016", line),
            );
        }
    }
    c.add(
        17,
        "quote that never closes",
        text().replacen("\n7,", "\n\"7,", 1),
        refused_in("INT-017", 16),
    );
    let noted = Dialect { header: &["time_s", "p [mbar]", "note"], ..PLAIN };
    let rows: Vec<Vec<String>> = noted
        .rows()
        .into_iter()
        .enumerate()
        .map(|(row, mut cells)| {
            cells.push(if row == 4 { "\"a\nb, c\"".to_owned() } else { "1".to_owned() });
            cells
        })
        .collect();
    c.add(17, "line end and separator in quotes", noted.file(&rows), truth(""));
    c.add(
        18,
        "no header",
        text().split_once('\n').map(|(_, rows)| rows.to_owned()).unwrap_or_default(),
        refused("INT-302"),
    );
    c.add_with(
        18,
        "no header, agreed",
        text().split_once('\n').map(|(_, rows)| rows.to_owned()).unwrap_or_default(),
        "time = { column = \"column 1\", unit = \"s\" }\npressure = [{ column = \"column 2\", unit = \"mbar\" }]",
        truth("INT-018"),
    );
    let two = dialects()
        .into_iter()
        .find(|dialect| dialect.name == "two header lines")
        .expect("is listed");
    c.add(18, "two header lines", two.file(&two.rows()), truth("INT-018"));
    let three = |header| {
        let dialect = Dialect { header, ..PLAIN };
        let rows: Vec<Vec<String>> = dialect
            .rows()
            .into_iter()
            .map(|mut cells| {
                cells.push("3".to_owned());
                cells
            })
            .collect();
        dialect.file(&rows)
    };
    c.add(19, "name twice", three(&["time_s", "p [mbar]", "p [mbar]"]), read("INT-019"));
    c.add_with(
        19,
        "name twice, agreed",
        three(&["time_s", "p [mbar]", "p [mbar]"]),
        "pressure = [{ column = \"p [mbar]\", unit = \"mbar\" }]",
        truth("INT-019"),
    );
    for dialect in open_dialects() {
        let once = dialect.text(&dialect.rows());
        let from = once.find(dialect.header[0]).unwrap_or(0);
        let body = &once[from..once.find("Max").unwrap_or(once.len())];
        let twice =
            format!("{}{}{}", &once[..from], body.trim_end().to_owned() + dialect.line_end, body);
        let line = dialect.lines_before() + N as u64 + 1;
        c.add(
            20,
            format!("header again, {}", dialect.name),
            (dialect.encode)(&twice),
            refused_in("INT-020", line),
        );
        c.add_with(
            20,
            format!("header again, agreed, {}", dialect.name),
            (dialect.encode)(&twice),
            "split_at_restart = true",
            Expected::Runs { names: &["#1", "#2"] },
        );
    }
    for lines in [1, 7, 90] {
        let before: String = (0..lines).map(|line| format!("# note {line}: invented\n")).collect();
        c.add(21, format!("{lines} lines before"), before + &text(), truth("INT-021"));
    }
    for after in
        ["Max,1013.25\n", "\nResult,PASS\nMean,12.5\n", "-----\nend of file\n", "Rate,0.5,Pa/s\n"]
    {
        c.add(22, after.escape_debug().to_string(), text() + after, truth("INT-022"));
    }
    let side: String = readings()
        .iter()
        .enumerate()
        .map(|(row, reading)| format!("{},{reading},{reading}\n", row as f64 * 0.5))
        .collect();
    c.add(23, "side by side", format!("time_s,p1 [mbar],p2 [mbar]\n{side}"), truth("INT-023"));
    let rows = PLAIN.rows();
    let stacked = [rows.clone(), rows.clone(), rows].concat();
    c.add(23, "stacked", PLAIN.file(&stacked), refused_at("INT-032", N as u64 + 2, 1));
    c.add_with(
        23,
        "stacked, agreed",
        PLAIN.file(&stacked),
        "split_at_restart = true",
        Expected::Runs { names: &["#1", "#2", "#3"] },
    );
    let long: String = ["U1", "U2"]
        .iter()
        .flat_map(|run| {
            readings()
                .into_iter()
                .enumerate()
                .map(move |(row, reading)| format!("{run},{},{reading}\n", row as f64 * 0.5))
        })
        .collect();
    let long = format!("unit,time_s,p [mbar]\n{long}");
    c.add_with(23, "long", long.clone(), "run = \"unit\"", Expected::Runs { names: &["U1", "U2"] });
    c.add_with(
        23,
        "long, a run again",
        long + "U1,30,12\n",
        "run = \"unit\"",
        refused_in("INT-023", 2 * N as u64 + 2),
    );
    c.readings(24, "apostrophes", |_, reading| format!("'{reading}"), truth("INT-024"));
}

fn clock_times(c: &mut Catalogue) {
    let serial: String = readings()
        .iter()
        .enumerate()
        .map(|(row, reading)| format!("{},{reading}\n", 45_000.5 + row as f64 / 1024.0))
        .collect();
    c.add(25, "serial dates", format!("Date,p [mbar]\n{serial}"), refused_at("INT-025", 1, 1));
    c.add_with(
        25,
        "serial dates, agreed",
        format!("Date,p [mbar]\n{serial}"),
        "time = { column = \"Date\", unit = \"d\" }",
        read(""),
    );
    c.clocks(
        26,
        "day or month",
        "",
        |row| format!("03/04/2026 10:00:{:04.1}", row as f64 * 0.5),
        refused_at("INT-026", 2, 1),
    );
    c.clocks(
        26,
        "day or month with dashes",
        "",
        |row| format!("03-04-2026 10:00:{:04.1}", row as f64 * 0.5),
        refused_at("INT-026", 2, 1),
    );
    for order in ["day month year", "month day year"] {
        let plan: &'static str = Box::leak(format!("time = {{ column = \"when\", order = \"{order}\" }}\npressure = [{{ column = \"p [mbar]\", unit = \"mbar\", full_scale = \"1013.25 mbar\" }}]").into_boxed_str());
        c.clocks(
            26,
            order,
            plan,
            |row| format!("03/04/2026 10:00:{:04.1}", row as f64 * 0.5),
            truth_without(),
        );
    }
    c.clocks(
        27,
        "two-digit year",
        "",
        |row| format!("15-06-23 10:00:{:04.1}", row as f64 * 0.5),
        refused_at("INT-027", 2, 1),
    );
    c.clocks(
        27,
        "two-digit year, month name",
        "",
        |row| format!("15-Jun-23 10:00:{:04.1}", row as f64 * 0.5),
        refused_at("INT-027", 2, 1),
    );
    for month in ["Juni", "juin", "JUN", "June"] {
        let time: fn(usize) -> String = match month {
            "Juni" => |row| format!("15. Juni 2023 10:00:{:04.1}", row as f64 * 0.5),
            "juin" => |row| format!("15 juin 2023 10:00:{:04.1}", row as f64 * 0.5),
            "JUN" => |row| format!("15-JUN-2023 10:00:{:04.1}", row as f64 * 0.5),
            _ => |row| format!("15 June 2023 10:00:{:04.1} PM", row as f64 * 0.5),
        };
        c.clocks(27, month, "", time, truth_without());
    }
    c.clocks(
        27,
        "month that is none",
        "",
        |row| format!("15-Jux-2023 10:00:{:04.1}", row as f64 * 0.5),
        refused("INT-302"),
    );
    c.clocks(
        28,
        "clock put back",
        "",
        |row| {
            let second = 7170.0 + row as f64 * 0.5;
            if row < 20 {
                format!("2026-10-25 02:59:{:04.1}", second - 7140.0 + 20.0)
            } else {
                format!("2026-10-25 02:00:{:04.1}", (row - 20) as f64 * 0.5)
            }
        },
        truth("INT-028"),
    );
    c.clocks(
        28,
        "clock put forward",
        "",
        |row| {
            if row < 20 {
                format!("2026-03-29 01:59:{:04.1}", 50.0 + row as f64 * 0.5)
            } else {
                format!("2026-03-29 03:00:{:04.1}", (row - 20) as f64 * 0.5)
            }
        },
        read("INT-028"),
    );
    c.clocks(
        29,
        "zone in some rows",
        "",
        |row| {
            format!("2026-10-20 10:00:{:04.1}{}", row as f64 * 0.5, if row == 7 { "Z" } else { "" })
        },
        refused_at("INT-029", 9, 1),
    );
    c.header(30, &["time", "p [mbar]"], "", refused_at("INT-030", 1, 1));
    c.header(30, &["t", "p [mbar]"], "", refused_at("INT-030", 1, 1));
    c.header(
        30,
        &["elapsed", "p [mbar]"],
        "time = { column = \"elapsed\", unit = \"s\" }",
        truth_without(),
    );
    c.clocks(
        30,
        "hours and minutes, or minutes and seconds",
        "",
        |row| format!("10:{row:02}"),
        refused_at("INT-030", 2, 1),
    );
    c.clocks(
        30,
        "minutes and seconds",
        "",
        |row| format!("10:{:04.1}", row as f64 * 0.5),
        truth_without(),
    );
    c.clocks(
        30,
        "past midnight",
        "",
        |row| {
            if row < 20 {
                format!("23:59:{:04.1}", 50.0 + row as f64 * 0.5)
            } else {
                format!("00:00:{:04.1}", (row - 20) as f64 * 0.5)
            }
        },
        truth("INT-030"),
    );
    let both: String = readings()
        .iter()
        .enumerate()
        .map(|(row, reading)| {
            format!("2026-10-20 10:00:{:04.1},{},{reading}\n", row as f64 * 0.5, row as f64 * 0.5)
        })
        .collect();
    c.add(57, "wall clock and elapsed", format!("when,time_s,p [mbar]\n{both}"), truth("INT-057"));
}

/// Read as the truth, where nothing in particular has to be said.
fn truth_without() -> Expected {
    truth("")
}

fn sampling(c: &mut Catalogue) {
    c.clocks(
        31,
        "whole seconds",
        "",
        |row| format!("2026-10-20 10:00:{:02}", row / 2),
        read("INT-031"),
    );
    let mut rows = PLAIN.rows();
    rows.insert(9, rows[8].clone());
    c.add(31, "a row twice", PLAIN.file(&rows), read("INT-031"));
    for row in [2, 17, 39] {
        let mut rows = PLAIN.rows();
        rows[row][0] = "0.25".to_owned();
        c.add(
            32,
            format!("back in row {row}"),
            PLAIN.file(&rows),
            refused_at("INT-032", row as u64 + 2, 1),
        );
    }
    let mut rows = PLAIN.rows();
    rows.drain(15..20);
    c.add(33, "a gap", PLAIN.file(&rows), read("INT-033"));
    c.clocks(
        33,
        "jitter",
        "",
        |row| {
            format!(
                "2026-10-20 10:00:{:05.2}",
                row as f64 * 0.5 + if row % 2 == 1 { 0.07 } else { 0.0 }
            )
        },
        read("INT-033"),
    );
    let coarse: String = readings()
        .iter()
        .enumerate()
        .map(|(row, reading)| {
            format!("{},{reading}\n", 1_770_000_000_u64 / 128 * 128 + 128 * (row as u64 / 10))
        })
        .collect();
    c.add(
        34,
        "epoch in 24 bits",
        format!("time_s,p [mbar]\n{coarse}"),
        refused_at("INT-034", 2, 1),
    );
    c.readings(
        35,
        "pressures in 24 bits",
        |row, _| format!("{}", f64::from((1.0e5_f64 + row as f64 * 0.37) as f32) / 128.0),
        read("INT-035"),
    );
}

fn units(c: &mut Catalogue) {
    c.header(36, &["time_s", "pressure_mpa"], "", refused_at("INT-036", 1, 2));
    for header in [
        &["time_s", "p"] as &[&str],
        &["time_s", "CH1"],
        &["time_s", "p [MBAR]"],
        &["time_s", "p [parsec]"],
    ] {
        c.header(36, header, "", refused("INT-301"));
    }
    c.header(
        36,
        &["time_s", "p"],
        "pressure = [{ column = \"p\", unit = \"mbar\" }]",
        truth_without(),
    );
    c.header(37, &["time_s", "p [mbar(g)]"], "", refused("INT-037"));
    c.header(37, &["time_s", "p [psig]"], "", refused("INT-037"));
    c.header(37, &["time_s", "gauge pressure [kPa]"], "", refused("INT-037"));
    c.header(37, &["time_s", "vacuum [mbar]"], "", refused_at("INT-037", 1, 2));
    c.header(37, &["time_s", "p [mbar(g)]"], "barometer = \"1013 mbar\"", truth_moved());
    c.header(38, &["time_s", "Voltage (V)"], "", refused_at("INT-038", 1, 2));
    c.header(38, &["time_s", "p [counts]"], "", refused_at("INT-038", 1, 2));
    c.header(
        38,
        &["time_s", "Voltage (V)"],
        "pressure = [{ column = \"Voltage (V)\", unit = \"mbar\" }]",
        truth_without(),
    );
    let mixed: String = readings()
        .iter()
        .enumerate()
        .map(|(row, reading)| format!("{},{reading},{reading}\n", row as f64 * 0.5))
        .collect();
    c.add(39, "mbar and Torr", format!("time_s,p1 [mbar],p2 [Torr]\n{mixed}"), truth("INT-039"));
    c.add(
        40,
        "sccm without its temperature",
        format!("time_s,p [mbar],flow [sccm]\n{mixed}"),
        truth("INT-040"),
    );
    for low in ["-0.5", "-12.5", "-400"] {
        c.cell(54, 20, 1, low, |line, column| refused_at("INT-054", line, column));
    }
    c.add_with(54, "gauge, agreed", text().replace("1013.25", "-0.5"), "barometer = \"1013 mbar\"\npressure = [{ column = \"p [mbar]\", unit = \"mbar\", gauge = true }]", truth_moved());
}

/// Read, with other pressures than the truth and nothing in particular said.
fn truth_moved() -> Expected {
    read("")
}

fn sensors(c: &mut Catalogue) {
    c.readings(41, "flat top", |row, _| format!("{}.5", (10 + row).min(35)), read("INT-041"));
    let plan =
        "pressure = [{ column = \"p [mbar]\", unit = \"mbar\", full_scale = \"30.5 mbar\" }]";
    let short: String =
        (0..N).map(|row| format!("{row},{}.5\n", if row < 37 { row % 30 } else { 30 })).collect();
    let short = format!("time_s,p [mbar]\n{short}");
    c.add_with(41, "three samples at the stated full scale", short, plan, read("INT-041"));
    c.readings(
        42,
        "hangs",
        |row, reading| if row > 25 { "14.55".to_owned() } else { reading.to_owned() },
        read("INT-042"),
    );
    c.readings(42, "stuck", |_, _| "12.5".to_owned(), read("INT-042"));
    c.readings(42, "dead", |_, _| "0".to_owned(), refused("INT-042"));
    let steps: String = (0..400)
        .map(|row| format!("{},{}\n", row as f64 * 0.5, 100.5 + f64::from(row * 7 % 5)))
        .collect();
    c.add(42, "in steps", format!("time_s,p [mbar]\n{steps}"), read("INT-042"));
    c.readings(
        43,
        "a spike",
        |row, _| if row == 20 { "990.5".to_owned() } else { format!("{}.5{}", 12, row % 10) },
        read("INT-043"),
    );
}

fn ends_and_sizes(c: &mut Catalogue) {
    let whole = text();
    c.add(
        45,
        "cut in the last record",
        whole.trim_end().rsplit_once(',').map(|(start, _)| start.to_owned()).unwrap_or_default(),
        read("INT-045"),
    );
    c.add(45, "no last line end", whole.trim_end().to_owned(), truth("INT-045"));
    for (name, file) in [
        ("empty", ""),
        ("header", "time_s,p [mbar]\n"),
        ("one row", "time_s,p [mbar]\n0,1.5\n"),
        ("two rows", "time_s,p [mbar]\n0,1.5\n1,2.5\n"),
        ("blank lines", "\n\n\n"),
        ("words", "nothing to see here\nat all\n"),
    ] {
        c.add(46, name, file, refused("INT-046"));
    }
    c.add(
        47,
        "a first line of 2 MiB",
        format!("{}\n{}", "x".repeat(1 << 21), text()),
        refused_in("INT-047", 1),
    );
    let wide: String = (0..5)
        .map(|row| {
            (0..1200).map(|column| format!("{}", row + column)).collect::<Vec<_>>().join(",") + "\n"
        })
        .collect();
    c.add(48, "1200 columns", wide, refused("INT-048"));
    c.readings(
        50,
        "three digits and E+",
        |_, reading| {
            let value: f64 = reading.parse().expect("a number");
            format!("{value:.2E}").replace("E", "E+0")
        },
        read("INT-050"),
    );
}

fn names_and_formats(c: &mut Catalogue) {
    for (name, bytes) in [
        ("PDF", &b"%PDF-1.7\n"[..]),
        ("workbook", b"PK\x03\x04\x14\0"),
        ("old workbook", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1\0\0"),
        ("web page", b"<!DOCTYPE html><table>"),
        ("gzip", b"\x1f\x8b\x08\0"),
        ("picture", b"\x89PNG\r\n"),
        ("database", b"SQLite format 3\0"),
    ] {
        c.add(51, name, bytes, refused("INT-051"));
    }
    let hostile: [&'static [&'static str]; 6] = [
        &["time_s", "<script>p</script> [mbar]"],
        &["time_s", "=cmd p [mbar]"],
        &["time_s", "@SUM p [mbar]"],
        &["time_s", "\u{202e}p [mbar]"],
        &["time_s", "../../etc/p [mbar]"],
        &["time_s", "p\u{200b} [mbar]"],
    ];
    for header in hostile {
        c.header(52, header, "", truth("INT-052"));
    }
}
