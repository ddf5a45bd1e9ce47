//! Families 1 to 11: how a file is written.

use super::catalogue::{
    Catalogue, open_dialects, read, refused, refused_at, refused_in, said_at, text, truth,
};
use super::truth::{Dialect, N, PLAIN, dialects, readings};

pub fn encodings(c: &mut Catalogue) {
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
    // The first high byte stands after `time_s,`.
    let japanese = encoding_rs::SHIFT_JIS.encode("time_s,圧力 [mbar]\n").0.into_owned();
    let shift_jis =
        [&japanese[..], text().split_once('\n').map_or("", |t| t.1).as_bytes()].concat();
    c.add(3, "Shift-JIS is asked about", shift_jis.clone(), refused_at("INT-003", 1, 8));
    c.add_with(3, "Shift-JIS as stated", shift_jis.clone(), "encoding = \"shift-jis\"", truth(""));
    c.add_with(
        3,
        "Shift-JIS stated and not so",
        [b"gauge \x81\xff\n", text().as_bytes()].concat(),
        "encoding = \"shift-jis\"",
        refused("INT-003"),
    );
    let twice = text().replacen("p [mbar]", "p [Âµbar]", 1);
    c.add(3, "a unit decoded twice", twice, refused_at("INT-301", 1, 2));
    c.add(
        3,
        "a note decoded twice",
        format!("room at 23 Â°C\n{}", text()),
        said_at("INT-003", 1, 12),
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

pub fn separators_and_marks(c: &mut Catalogue) {
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
        ("\u{2019}", "raised comma"),
        ("\u{2009}", "thin space"),
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
    // From row 20 on the decimal mark is another, before three decimals.
    for (first, second) in [('.', ','), (',', '.')] {
        let rows: String = (0..N)
            .map(|row| {
                let mark = if row < 20 { first } else { second };
                format!("{row};{}{mark}{:03}\n", 104 + row, (row * 37) % 900 + 100)
            })
            .collect();
        // Whole seconds: the column of readings alone has to tell.
        let rows = rows.replacen("104", "1040", 1);
        c.add(
            10,
            format!("three decimals, first {first} then {second}"),
            format!("time_s;p [mbar]\n{rows}"),
            refused("INT-010"),
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
