//! One made-up trace, and the many ways in which it can be written.

/// Number of samples.
pub const N: usize = 40;

/// Times of the samples, exact in binary.
pub fn times_s() -> Vec<f64> {
    (0..N).map(|row| row as f64 * 0.5).collect()
}

/// Readings as they are written, in mbar: a fall and a slow rise, with one or
/// two decimals so that no reading could be a group of thousands.
pub fn readings() -> Vec<String> {
    (0..N)
        .map(|row| match row {
            0 => "1013.25".to_owned(),
            1..10 => format!("{}.5", 900 - 95 * row),
            _ => format!("{}.{:02}", 12 + row / 8, (row * 37) % 90 + 10),
        })
        .collect()
}

/// The pressures that a right reading gives.
pub fn pressures_pa() -> Vec<f64> {
    readings().iter().map(|text| text.parse::<f64>().expect("a number") * 100.0).collect()
}

/// A way of writing the trace.
#[derive(Clone)]
pub struct Dialect {
    pub name: &'static str,
    pub separator: &'static str,
    pub comma: bool,
    pub line_end: &'static str,
    pub header: &'static [&'static str],
    pub before: &'static str,
    pub after: &'static str,
    pub quoted: bool,
    pub open_end: bool,
    pub time: fn(usize) -> String,
    pub reading: fn(&str) -> String,
    pub encode: fn(&str) -> Vec<u8>,
}

fn elapsed(row: usize) -> String {
    format!("{}", row as f64 * 0.5)
}

fn plain(reading: &str) -> String {
    reading.to_owned()
}

fn utf_8(text: &str) -> Vec<u8> {
    text.as_bytes().to_vec()
}

fn utf_16(text: &str, big: bool, marked: bool) -> Vec<u8> {
    let mark = if marked { "\u{feff}" } else { "" };
    format!("{mark}{text}")
        .encode_utf16()
        .flat_map(|unit| if big { unit.to_be_bytes() } else { unit.to_le_bytes() })
        .collect()
}

fn windows_1252(text: &str) -> Vec<u8> {
    text.chars().map(|c| u8::try_from(u32::from(c)).expect("a Latin-1 character")).collect()
}

/// A clock time: half seconds from ten minutes before midnight on.
fn clock(row: usize) -> (u32, u32, f64) {
    (23, 50, row as f64 * 0.5)
}

pub const PLAIN: Dialect = Dialect {
    name: "plain",
    separator: ",",
    comma: false,
    line_end: "\n",
    header: &["time_s", "p [mbar]"],
    before: "",
    after: "",
    quoted: false,
    open_end: false,
    time: elapsed,
    reading: plain,
    encode: utf_8,
};

/// Every dialect; each gives the same trace to the last bit.
pub fn dialects() -> Vec<Dialect> {
    let semicolon =
        Dialect { name: "semicolon and decimal comma", separator: ";", comma: true, ..PLAIN };
    vec![
        PLAIN,
        Dialect {
            name: "CRLF",
            line_end: "\r\n",
            header: &["Time (s)", "Pressure (mbar)"],
            ..PLAIN
        },
        Dialect { name: "lone CR", line_end: "\r", ..PLAIN },
        semicolon.clone(),
        Dialect {
            name: "semicolon and point",
            separator: ";",
            header: &["t [s]", "p/mbar"],
            ..PLAIN
        },
        Dialect { name: "tab", separator: "\t", header: &["time_s", "pressure_mbar"], ..PLAIN },
        Dialect { name: "tab and decimal comma", separator: "\t", comma: true, ..PLAIN },
        Dialect { name: "bar", separator: "|", ..PLAIN },
        Dialect { name: "blanks", separator: "   ", header: &["time_s", "p_mbar"], ..PLAIN },
        Dialect {
            name: "separator declared",
            before: "sep=;\n",
            separator: ";",
            comma: true,
            ..PLAIN
        },
        Dialect { name: "quoted", quoted: true, ..PLAIN },
        Dialect { name: "quoted decimal comma between commas", quoted: true, comma: true, ..PLAIN },
        Dialect { name: "open line ends", open_end: true, ..PLAIN },
        Dialect {
            name: "framed",
            before: "# rig: invented\n# operator: A\n\n",
            after: "\nMax,1013.25\nResult,PASS\n",
            ..PLAIN
        },
        Dialect { name: "two header lines", header: &["time,p", "[s],[mbar]"], ..PLAIN },
        Dialect {
            name: "byte order mark",
            encode: |text| utf_8(&format!("\u{feff}{text}")),
            ..PLAIN
        },
        Dialect {
            name: "UTF-16 little",
            encode: |text| utf_16(text, false, true),
            ..semicolon.clone()
        },
        Dialect { name: "UTF-16 big", encode: |text| utf_16(text, true, true), ..PLAIN },
        Dialect { name: "UTF-16 without mark", encode: |text| utf_16(text, false, false), ..PLAIN },
        Dialect {
            name: "Windows-1252",
            before: "gauge in µbar, read at 20 °C\n",
            encode: windows_1252,
            ..PLAIN
        },
        Dialect {
            name: "ISO clock",
            header: &["when", "p [mbar]"],
            time: |row| {
                let (hour, minute, second) = clock(row);
                format!("2023-06-15T{hour}:{minute}:{second:04.1}")
            },
            ..PLAIN
        },
        Dialect {
            name: "clock with month name",
            header: &["Datetime", "p [mbar]"],
            time: |row| {
                let (hour, minute, second) = clock(row);
                format!("15-Jun-2023 {hour}:{minute}:{second:04.1}")
            },
            ..PLAIN
        },
        Dialect {
            name: "clock with zone",
            header: &["Datetime", "p [mbar]"],
            time: |row| {
                let (hour, minute, second) = clock(row);
                format!("2023-06-15 {hour}:{minute}:{second:04.1}+02:00")
            },
            ..PLAIN
        },
        Dialect {
            name: "day first",
            header: &["Datum", "p [mbar]"],
            separator: ";",
            time: |row| {
                let (hour, minute, second) = clock(row);
                format!("15.06.2023 {hour}:{minute}:{second:04.1}")
                    .replace('.', if row == usize::MAX { "" } else { "." })
            },
            ..PLAIN
        },
        Dialect {
            name: "exponents",
            reading: |reading| format!("{:e}", reading.parse::<f64>().expect("a number")),
            ..PLAIN
        },
        Dialect {
            name: "thousands marks",
            separator: ";",
            reading: |reading| reading.replace("1013", "1'013"),
            ..PLAIN
        },
        Dialect { name: "apostrophes", reading: |reading| format!("'{reading}"), ..PLAIN },
        Dialect { name: "no last line end", after: "\u{8}", ..PLAIN },
    ]
}

impl Dialect {
    /// The cells of each row.
    pub fn rows(&self) -> Vec<Vec<String>> {
        readings()
            .iter()
            .enumerate()
            .map(|(row, reading)| vec![(self.time)(row), (self.reading)(reading)])
            .collect()
    }

    /// The file with these rows.
    pub fn file(&self, rows: &[Vec<String>]) -> Vec<u8> {
        (self.encode)(&self.text(rows))
    }

    /// The text with these rows, before it is encoded.
    pub fn text(&self, rows: &[Vec<String>]) -> String {
        let mut lines: Vec<String> = Vec::new();
        if self.header.iter().all(|line| line.contains(',')) {
            lines.extend(self.header.iter().map(|line| (*line).to_owned()));
        } else {
            lines.push(
                self.joined(&self.header.iter().map(|cell| (*cell).to_owned()).collect::<Vec<_>>()),
            );
        }
        for row in rows {
            let cells: Vec<String> = row
                .iter()
                .map(|cell| {
                    let clock = cell.contains(':');
                    let cell =
                        if self.comma && !clock { cell.replace('.', ",") } else { cell.clone() };
                    if self.quoted { format!("\"{cell}\"") } else { cell }
                })
                .collect();
            lines.push(self.joined(&cells));
        }
        let mut text = self.before.replace('\n', self.line_end) + &lines.join(self.line_end);
        if self.after != "\u{8}" {
            text.push_str(self.line_end);
            text.push_str(&self.after.replace('\n', self.line_end));
        }
        text
    }

    fn joined(&self, cells: &[String]) -> String {
        let end = if self.open_end { self.separator } else { "" };
        cells.join(self.separator) + end
    }

    /// Lines before the first row of data.
    pub fn lines_before(&self) -> u64 {
        let header =
            if self.header.iter().all(|line| line.contains(',')) { self.header.len() } else { 1 };
        (self.before.matches('\n').count() + header) as u64
    }
}
