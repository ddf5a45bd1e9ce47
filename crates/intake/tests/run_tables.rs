//! Runs exported in every format come back as they were.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use intake::delimited::{Given, NumberStyle, Separator};
use intake::parquet_file::{read_parquet, write_parquet};
use intake::result_table::{Table, read_table};
use intake::run_table::{grids_of_runs, runs_from_tables};
use intake::workbook::{read_workbook, write_workbook};
use proptest::prelude::*;
use study::Run;
use study::run_factors::{LeakSide, RunFactors};
use study::runs::{Ended, RunClass, RunOrigin};
use study::trace::{PressureTrace, Stage, StageSpan};
use study::trace_features::TraceFeatures;

fn given(separator: Separator) -> Given {
    Given { separator: Some(separator), style: Some(NumberStyle::default()), ..Given::default() }
}

fn tabbed(text: &str) -> Table {
    read_table(text.as_bytes(), &given(Separator::Tab)).unwrap()
}

/// An invented run; hostile words stand where words may stand.
fn run(number: u32, words: &str, values: &[f64], kind: u8) -> Run {
    let trace = if values.is_empty() {
        PressureTrace::default()
    } else {
        PressureTrace {
            times_s: (0..values.len()).map(|i| i as f64 * 0.1).collect(),
            pressures_pa: values.to_vec(),
            temperatures_k: if kind.is_multiple_of(2) { values.to_vec() } else { Vec::new() },
            stages: vec![StageSpan {
                stage: Stage::Measure,
                tier: 1,
                start_s: 0.1,
                end_s: 0.1 + 0.2,
            }],
        }
    };
    Run {
        number,
        unit: words.to_owned(),
        class: match (kind / 4) % 5 {
            4 => RunClass::AgedControl {
                nominal_um: kind.is_multiple_of(2).then_some(5.0),
                age_days: 30,
            },
            3 => RunClass::FlowChallenge { flow_pa_m3_per_s: 1e-5 * (0.1 + 0.2) },
            0 => RunClass::Blank,
            1 => RunClass::NegativeControl,
            _ => RunClass::PositiveControl {
                nominal_um: 5.0,
                verified_um: kind.is_multiple_of(2).then_some(5.1),
            },
        },
        day: 3,
        factors: if kind.is_multiple_of(3) {
            RunFactors::default()
        } else {
            RunFactors {
                operator: words.to_owned(),
                rig: "R1".to_owned(),
                lot: format!("L{kind}"),
                side: kind.is_multiple_of(2).then_some(LeakSide::Liquid),
                defect: "laser hole".to_owned(),
                standard: words.to_owned(),
            }
        },
        trace,
        ended: match kind % 5 {
            0 => Ended::Completed,
            4 => Ended::GaugeFull { at_least_pa: 1.0 / 3.0 },
            1 => Ended::ReachLimit { tier: 2 },
            2 => Ended::RiseLimit { tier: 1 },
            _ => Ended::Aborted { cause: format!("lid {words}") },
        },
        features: (!kind.is_multiple_of(4)).then(|| TraceFeatures {
            tier: 1,
            reach_pa: None,
            level_start_pa: 0.1 + 0.2,
            level_end_pa: 1e-300,
            rise_pa: -5.5,
            slope_pa_per_s: Some(1.0 / 3.0),
            slope_standard_error: None,
            noise_pa: Some(f64::MIN_POSITIVE),
            n_samples: values.len(),
        }),
        origin: if kind.is_multiple_of(2) {
            RunOrigin::Simulated { seed: u64::MAX - u64::from(kind) }
        } else {
            RunOrigin::Imported { file: words.to_owned(), sha256: "00ff".to_owned() }
        },
    }
}

fn through_csv(runs: &[Run]) -> Vec<Run> {
    let [a, b, c] = grids_of_runs(runs);
    let read = |grid: &intake::run_table::Grid| {
        if grid.n_rows() == 0 {
            None
        } else {
            Some(read_table(grid.to_csv().as_bytes(), &given(Separator::Comma)).unwrap())
        }
    };
    runs_from_tables(&read(&a).unwrap(), read(&b).as_ref(), read(&c).as_ref()).unwrap()
}

fn through_workbook(runs: &[Run]) -> Vec<Run> {
    let bytes = write_workbook(&grids_of_runs(runs)).unwrap();
    let sheets = read_workbook(&bytes).unwrap();
    let table = |name: &str| {
        let sheet = sheets.iter().find(|sheet| sheet.name == name).unwrap();
        (sheet.text.lines().count() > 1).then(|| tabbed(&sheet.text))
    };
    runs_from_tables(&table("runs").unwrap(), table("samples").as_ref(), table("stages").as_ref())
        .unwrap()
}

fn through_parquet(runs: &[Run]) -> Vec<Run> {
    let tables = grids_of_runs(runs).map(|grid| {
        let table = read_parquet(&write_parquet(&grid).unwrap()).unwrap();
        (grid.n_rows() > 0).then(|| tabbed(&table.text))
    });
    let [a, b, c] = tables;
    runs_from_tables(&a.unwrap(), b.as_ref(), c.as_ref()).unwrap()
}

#[test]
fn a_formula_stays_text_in_every_format() {
    let runs = [run(1, "=1+1", &[100.0, 101.5], 2)];
    assert!(grids_of_runs(&runs)[0].to_csv().contains("'=1+1"));
    assert_eq!(through_csv(&runs), runs);
    assert_eq!(through_workbook(&runs), runs);
    assert_eq!(through_parquet(&runs), runs);
}

#[test]
fn units_stand_in_the_metadata() {
    let runs = [run(1, "A", &[100.0, 101.5], 1)];
    let table = read_parquet(&write_parquet(&grids_of_runs(&runs)[1]).unwrap()).unwrap();
    assert!(
        table.units.contains(&("pressure_pa".to_owned(), "Pa".to_owned())),
        "{:?}",
        table.units
    );
    assert!(table.text.starts_with("run\ttime_s\tpressure_pa\ttemperature_k\n"), "{}", table.text);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    #[test]
    fn a_round_trip_loses_nothing(
        units in prop::collection::vec("[a-z=+@;,'\"\t\n #0-9-]{0,8}", 1..4),
        values in prop::collection::vec(1.0e-9..2.0e5_f64, 0..6),
        kind in 0_u8..12,
    ) {
        let runs: Vec<Run> = units
            .iter()
            .zip(1_u32..)
            .map(|(unit, number)| run(number, unit, &values, kind + number as u8))
            .collect();
        prop_assert_eq!(&through_csv(&runs), &runs);
        prop_assert_eq!(&through_workbook(&runs), &runs);
        prop_assert_eq!(&through_parquet(&runs), &runs);
    }
}

/// Four invented samples, written by a general library for columnar data in
/// each of the usual codecs: what is not read here names codec, column and what
/// to do, and the others hold the same samples.
#[test]
fn a_codec_that_is_not_read_is_named() {
    let of = |name: &str| {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/parquet_codecs");
        read_parquet(&std::fs::read(format!("{folder}/{name}.parquet")).unwrap())
    };
    for codec in ["gzip", "zstd", "brotli", "lz4"] {
        let told = of(codec).unwrap_err().to_string();
        let wants = [format!("compressed with {codec}"), "\"time_s\"".to_owned()];
        for want in wants.iter().map(String::as_str).chain(["INT-051", "snappy", "CSV"]) {
            assert!(told.contains(want), "{codec}: {told}");
        }
    }
    let text = "time_s\tp [Pa]\n0\t100\n0.5\t101\n1\t102.5\n1.5\t104\n";
    assert_eq!(of("snappy").unwrap().text, text);
    assert_eq!(of("none").unwrap().text, text);
}

/// A table that somebody has edited: a hole among the samples would move what
/// follows to an earlier time.
#[test]
fn a_hole_among_the_samples_is_refused() {
    let run = run(2, "A", &[1.0, 2.0, 3.0], 1);
    let grids = grids_of_runs(&[run]);
    let csv = |grid: usize| grids[grid].to_csv();
    let comma = |text: &str| read_table(text.as_bytes(), &given(Separator::Comma)).unwrap();
    let whole = csv(1);
    let mut lines: Vec<String> = whole.lines().map(str::to_owned).collect();
    let mut cells: Vec<&str> = lines[2].split(',').collect();
    cells[2] = "";
    lines[2] = cells.join(",");
    let holed = format!("{}\n", lines.join("\n"));
    assert!(runs_from_tables(&comma(&csv(0)), Some(&comma(&whole)), None).is_ok());
    let told =
        runs_from_tables(&comma(&csv(0)), Some(&comma(&holed)), None).unwrap_err().to_string();
    assert!(told.contains("pressure_pa") && told.contains("line 3"), "{told}");
}
