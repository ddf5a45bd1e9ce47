//! Families 11 to 24: what stands in cells and rows.

use super::catalogue::{
    Catalogue, Expected, open_dialects, read, refused, refused_at, refused_in, text, truth,
};
use super::truth::{Dialect, N, PLAIN, dialects, readings};

pub fn cells(c: &mut Catalogue) {
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
    for token in [">1000", "0x1F4", "50%", "OVL", "12.5 mbar"] {
        c.cell(13, 0, 1, token, |line, column| refused_at("INT-013", line, column));
    }
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

pub fn shapes(c: &mut Catalogue) {
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
