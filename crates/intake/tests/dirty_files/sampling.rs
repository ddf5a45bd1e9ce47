//! Families 25 to 35 and 57: clocks and samples.

use super::catalogue::{
    Catalogue, read, refused, refused_at, said_at, said_at_with_other_times, truth, truth_without,
};
use super::truth::{PLAIN, readings};

pub fn clock_times(c: &mut Catalogue) {
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
    // A date alone stands still; the time of day beside it is the time.
    for (name, start_s) in [("date and time apart", 0.0), ("date and time past midnight", 50.0)] {
        let rows: String = readings()
            .iter()
            .enumerate()
            .map(|(row, reading)| {
                let second = start_s + row as f64 * 0.5;
                if second < 60.0 {
                    format!("2026-10-20,23:59:{second:04.1},{reading}\n")
                } else {
                    format!("2026-10-21,00:00:{:04.1},{reading}\n", second - 60.0)
                }
            })
            .collect();
        c.add(57, name, format!("date,time,p [mbar]\n{rows}"), truth("INT-057"));
    }
    let commas: String = readings()
        .iter()
        .enumerate()
        .map(|(row, reading)| {
            let when = format!("20.10.2026 10:00:{:02},{}", row / 2, row % 2 * 5);
            format!("{when};{}\n", reading.replace('.', ","))
        })
        .collect();
    c.add(27, "decimal comma of a second", format!("when;p [mbar]\n{commas}"), truth_without());
    // The clock runs three seconds behind from the eleventh row on.
    let apart: String = readings()
        .iter()
        .enumerate()
        .map(|(row, reading)| {
            let time = row as f64 * 0.5;
            let wall = if row < 10 { time } else { time + 3.0 };
            format!("2026-10-20 10:00:{wall:04.1},{time},{reading}\n")
        })
        .collect();
    let both_ways = [
        ("", "elapsed", 1),
        ("time = { column = \"time_s\", unit = \"s\" }", "elapsed as declared", 1),
    ];
    for (plan, name, column) in both_ways {
        c.add_with(
            57,
            format!("wall clock that parts, {name}"),
            format!("when,time_s,p [mbar]\n{apart}"),
            plan,
            said_at("INT-057", 12, column),
        );
    }
    c.add_with(
        57,
        "wall clock that parts, clock as declared",
        format!("when,time_s,p [mbar]\n{apart}"),
        "time = { column = \"when\" }",
        said_at_with_other_times("INT-057", 12, 2),
    );
}

pub fn sampling(c: &mut Catalogue) {
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
