//! Real logs of the shared data folder: two rigs, eleven files, read without
//! editing them by hand. Expected figures: reference/intake_real_logs.csv,
//! computed with numpy from the same files.

#![allow(clippy::print_stdout)] // A skipped check says so.

mod evidence;
mod real_data;

use intake::column_header::TemperatureUnit;
use intake::reading_plan::{PressurePlan, ReadingPlan, TemperaturePlan, TimePlan};
use intake::trace_file::{TraceFile, read_traces};
use intake::written_quantity::unit_of;
use real_data::bytes_of;
use study::quantities::units::Unit;

fn unit(name: &str) -> &'static Unit {
    unit_of(name).expect("a unit of the table")
}

fn twin_chamber_plan() -> ReadingPlan {
    ReadingPlan {
        pressures: ["CH2", "CH3"].map(|column| PressurePlan::absolute(column, unit("mbar"))).into(),
        temperatures: vec![TemperaturePlan {
            column: "T1".to_owned(),
            unit: TemperatureUnit::Celsius,
        }],
        ..ReadingPlan::default()
    }
}

fn barometer_plan(columns: &[&str]) -> ReadingPlan {
    ReadingPlan {
        pressures: columns
            .iter()
            .map(|column| PressurePlan { scale: 0.1, ..PressurePlan::absolute(column, unit("Pa")) })
            .collect(),
        temperatures: vec![TemperaturePlan {
            column: "BMP180_Temperature".to_owned(),
            unit: TemperatureUnit::MilliCelsius,
        }],
        ..ReadingPlan::default()
    }
}

fn has(file: &TraceFile, code: &str) -> bool {
    let of_traces = file.traces.iter().flat_map(|trace| &trace.messages);
    file.messages.iter().chain(of_traces).any(|message| message.code == code)
}

/// Lowest pressure within a stretch of time, with its time.
fn lowest(file: &TraceFile, channel: usize, until_s: f64) -> (f64, f64) {
    let trace = &file.traces[channel].trace;
    let n = trace.times_s.partition_point(|&time| time <= until_s);
    (0..n)
        .map(|i| (trace.pressures_pa[i], trace.times_s[i]))
        .fold((f64::MAX, 0.0), |a, b| if b.0 < a.0 { b } else { a })
}

#[test]
fn twin_chamber_logs_need_their_unit_and_say_so() {
    let Some(bytes) = bytes_of("am4space_20230803_WAAM1_sample.csv") else { return };
    let refusal = read_traces(&bytes, &ReadingPlan::default()).unwrap_err();
    assert_eq!(refusal.code(), "INT-301");
    let next = &refusal.first().next_step;
    assert!(next.contains("--reading") && next.contains("column = \"CH2\", unit = "), "{next}");
}

#[test]
fn twin_chamber_logs_import_with_their_figures() {
    let rows = evidence::rows("intake_real_logs.csv");
    for row in rows.iter().filter(|row| row.quantity == "lowest_pressure") {
        let (name, n_rows, at_s) = (row.input("file"), row.count("rows"), row.number("at_s"));
        let Some(bytes) = bytes_of(&name) else { continue };
        let file = read_traces(&bytes, &twin_chamber_plan())
            .unwrap_or_else(|refusal| panic!("{name}: {refusal}"));
        assert_eq!(file.traces.len(), 2, "{name}");
        assert_eq!(file.traces[0].trace.n_samples(), n_rows, "{name}");
        assert_eq!(file.traces[0].trace.temperatures_k.len(), n_rows, "{name}");
        let (found_pa, found_s) = lowest(&file, 0, 600.0);
        assert!(row.agrees(found_pa), "{name}: {found_pa} Pa");
        assert!((found_s - at_s).abs() <= 1.0, "{name}: {found_s} s");
        assert!(has(&file, "INT-033"), "{name}: intervals alternate and that is said");
    }
}

#[test]
fn the_vented_block_is_marked_and_kept() {
    let Some(bytes) = bytes_of("am4space_20230803_WAAM1_sample.csv") else { return };
    let file = read_traces(&bytes, &twin_chamber_plan()).unwrap();
    let rows = evidence::rows("intake_real_logs.csv");
    let evidence = rows.iter().find(|row| row.quantity == "vented_rows").unwrap();
    for trace in &file.traces {
        // The last rows read 1000 mbar in both channels.
        let n_block = trace.trace.n_samples() - trace.vented_from.unwrap_or(0);
        assert!(evidence.agrees(n_block as f64), "{n_block}");
        assert_eq!(trace.without_vented_end().n_samples(), 14_401 - n_block);
        assert!(
            trace.without_vented_end().pressures_pa.iter().all(|&pressure| pressure < 99_000.0)
        );
        let message = trace.messages.iter().find(|message| message.code == "INT-014").unwrap();
        // The first of them stands below the header and the rows before it.
        assert_eq!(message.place.line, Some((14_401 - n_block + 2) as u64));
    }
}

#[test]
fn a_log_that_is_not_vented_is_not_marked() {
    let Some(bytes) = bytes_of("am4space_20230804_ref_empty.csv") else { return };
    let file = read_traces(&bytes, &twin_chamber_plan()).unwrap();
    assert!(file.traces.iter().all(|trace| trace.vented_from.is_none()));
}

#[test]
fn barometer_logs_need_their_unit_and_say_so() {
    let Some(bytes) = bytes_of("bmp180_inplace_oss_0.log") else { return };
    let refusal = read_traces(&bytes, &ReadingPlan::default()).unwrap_err();
    assert_eq!(refusal.code(), "INT-301");
    assert!(refusal.first().what.contains("BMP180_Pressure"));
}

#[test]
fn barometer_logs_import_with_their_figures() {
    let rows = evidence::rows("intake_real_logs.csv");
    for row in rows.iter().filter(|row| row.quantity == "mean_pressure") {
        let (name, n, span_s) = (row.input("file"), row.count("rows"), row.number("span_s"));
        let spread = rows
            .iter()
            .find(|other| other.quantity == "sd_pressure" && other.input("file") == name);
        let Some(bytes) = bytes_of(&name) else { continue };
        let file = read_traces(&bytes, &barometer_plan(&["BMP180_Pressure"]))
            .unwrap_or_else(|refusal| panic!("{name}: {refusal}"));
        let trace = &file.traces[0].trace;
        assert_eq!(trace.n_samples(), n, "{name}");
        assert_eq!(file.plan.time, Some(TimePlan::FramingLines), "{name}");
        let step_s = span_s / n as f64;
        assert!((trace.times_s[n - 1] - span_s + step_s).abs() < 1e-9, "{name}");
        let mean = digits::sums::mean(&trace.pressures_pa).unwrap();
        let sd = digits::sums::standard_deviation(&trace.pressures_pa).unwrap();
        assert!(row.agrees(mean), "{name}: mean {mean}");
        assert!(spread.is_some_and(|spread| spread.agrees(sd)), "{name}: sd {sd}");
        assert!(has(&file, "INT-021") && has(&file, "INT-022") && has(&file, "INT-302"), "{name}");
        assert!((290.0..305.0).contains(&trace.temperatures_k[0]), "{name}");
    }
}

#[test]
fn a_dead_channel_gives_no_trace_and_a_warning() {
    let Some(bytes) = bytes_of("bmp180_inplace_oss_1.log") else { return };
    let file =
        read_traces(&bytes, &barometer_plan(&["MPL115A1_Pressure", "BMP180_Pressure"])).unwrap();
    assert_eq!(file.traces.len(), 1);
    assert_eq!(file.traces[0].name, "BMP180_Pressure");
    let message = &file.traces[0].messages[0];
    assert_eq!((message.code, message.place.column), ("INT-042", Some(1)));
}

#[test]
fn a_channel_that_moves_in_steps_is_said() {
    let Some(bytes) = bytes_of("bmp180_inplace_oss_0.log") else { return };
    let file = read_traces(&bytes, &barometer_plan(&["MPL115A1_Pressure"])).unwrap();
    // data.md 1.3: 13 distinct values, standard deviation 74.7 Pa.
    let message = file.traces[0].messages.iter().find(|message| message.code == "INT-042").unwrap();
    assert!(message.what.contains("13 different values"), "{message}");
    let sd = digits::sums::standard_deviation(&file.traces[0].trace.pressures_pa).unwrap();
    assert!((sd - 74.7).abs() < 0.06, "{sd}");
}
