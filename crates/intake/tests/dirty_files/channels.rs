//! Families 36 to 54: units, sensors, ends, sizes, names.

use super::catalogue::{
    Catalogue, read, refused, refused_at, refused_in, said_at, text, truth, truth_moved,
    truth_without,
};
use super::truth::{N, readings};

pub fn units(c: &mut Catalogue) {
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

pub fn sensors(c: &mut Catalogue) {
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

/// Zeros for a moment, as a loose plug gives.
pub fn dropouts(c: &mut Catalogue) {
    for (name, from, n) in [("one zero", 20, 1), ("three zeros", 20, 3), ("five", 31, 5)] {
        c.readings(
            43,
            name,
            |row, _| {
                if (from..from + n).contains(&row) {
                    "0.0".to_owned()
                } else {
                    format!("{}.5{}", 12, row % 10)
                }
            },
            read("INT-043"),
        );
    }
}

pub fn ends_and_sizes(c: &mut Catalogue) {
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

pub fn names_and_formats(c: &mut Catalogue) {
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
        c.header(52, header, "", said_at("INT-052", 1, 2));
    }
    let more: [&'static [&'static str]; 5] = [
        &["time_s", "#import \"x.typ\" p [mbar]"],
        &["time_s", "#eval(1) p [mbar]"],
        &["time_s", "..\\..\\p [mbar]"],
        &["time_s", "+1+cmd p [mbar]"],
        &["time_s", "\u{200f}p [mbar]"],
    ];
    for header in more {
        c.header(52, header, "", said_at("INT-052", 1, 2));
    }
    // A name of ten thousand characters, and one with pictures in it.
    let long: &'static str = Box::leak(format!("{} [mbar]", "p".repeat(10_000)).into_boxed_str());
    let long: &'static [&'static str] = Box::leak(Box::new(["time_s", long]));
    c.header(52, long, "", said_at("INT-052", 1, 2));
    c.header(52, &["time_s", "p \u{1f9ea} [mbar]"], "", truth(""));
    // Names that look the same: a Cyrillic letter, and a letter in two parts.
    for (one, other) in [("p", "\u{440}"), ("Gr\u{f6}\u{df}e", "Gro\u{308}\u{df}e")] {
        let rows: String = readings()
            .iter()
            .enumerate()
            .map(|(row, reading)| format!("{},{reading},{row}\n", row as f64 * 0.5))
            .collect();
        let file = format!("time_s,{one} [mbar],{other} [mbar]\n{rows}");
        c.add(52, format!("{one} twice"), file, said_at("INT-052", 1, 3));
    }
}

/// Family 58: bytes in the other order.
pub fn swapped_bytes(c: &mut Catalogue) {
    let swapped: Vec<u8> = format!("\u{feff}{}", text())
        .encode_utf16()
        .enumerate()
        .flat_map(|(at, unit)| if at == 0 { unit.to_le_bytes() } else { unit.to_be_bytes() })
        .collect();
    c.add(58, "UTF-16 against its mark", swapped.clone(), refused_at("INT-058", 1, 1));
    c.add_with(
        58,
        "UTF-16 against its mark, stated",
        swapped,
        "encoding = \"utf-16be\"",
        truth(""),
    );
    let readings: Vec<f64> =
        readings().iter().map(|text| text.parse().expect("a number")).collect();
    for (name, bytes) in [
        (
            "eight bytes, low first",
            readings.iter().flat_map(|v| v.to_le_bytes()).collect::<Vec<u8>>(),
        ),
        ("eight bytes, high first", readings.iter().flat_map(|v| v.to_be_bytes()).collect()),
        (
            "four bytes, low first",
            readings.iter().flat_map(|v| (*v as f32).to_le_bytes()).collect(),
        ),
        (
            "four bytes, high first",
            readings.iter().flat_map(|v| (*v as f32).to_be_bytes()).collect(),
        ),
    ] {
        c.add(58, name, bytes, refused_at("INT-058", 1, 1));
    }
}
