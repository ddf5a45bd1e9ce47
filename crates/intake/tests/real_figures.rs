//! What the real logs of the shared data folder say once they are imported:
//! how they outgas, how their gauges flicker, and what the blanks of the
//! printed vessels allow. Expected figures: reference/intake_real_figures.csv,
//! computed with numpy from the same files.

#![allow(clippy::print_stdout)] // A skipped check says so.

mod evidence;
mod real_data;

use intake::reading_plan::{PressurePlan, ReadingPlan};
use intake::result_table::read_table;
use intake::trace_file::read_traces;
use intake::written_quantity::unit_of;
use real_data::bytes_of;
use study::PressureTrace;

const FIGURES: &str = "intake_real_figures.csv";

fn channel(name: &str, column: &str, scale: f64, unit: &str) -> Option<PressureTrace> {
    let unit = unit_of(unit).expect("a unit of the table");
    let plan = ReadingPlan {
        pressures: vec![PressurePlan { scale, ..PressurePlan::absolute(column, unit) }],
        ..ReadingPlan::default()
    };
    let file =
        read_traces(&bytes_of(name)?, &plan).unwrap_or_else(|refusal| panic!("{name}: {refusal}"));
    Some(file.traces[0].without_vented_end())
}

/// Slope of ln p over ln t from half an hour to eighteen hours after the
/// lowest pressure before the valve was worked.
fn exponent(trace: &PressureTrace) -> f64 {
    let n = trace.times_s.partition_point(|&time| time <= 600.0);
    let start = (0..n)
        .min_by(|&a, &b| trace.pressures_pa[a].total_cmp(&trace.pressures_pa[b]))
        .map_or(0.0, |lowest| trace.times_s[lowest]);
    let (mut times, mut pressures) = (Vec::new(), Vec::new());
    for (time, pressure) in trace.times_s.iter().zip(&trace.pressures_pa) {
        let since = time - start;
        if (1800.0..=64_800.0).contains(&since) {
            times.push(digits::scalar::ln(since));
            pressures.push(digits::scalar::ln(*pressure));
        }
    }
    statistics::autocorrelation::slope_with_autocorrelation(&times, &pressures)
        .unwrap_or_else(|reason| panic!("{reason}"))
        .slope
}

#[test]
fn twin_chambers_outgas_about_as_one_over_t() {
    for row in evidence::rows(FIGURES).iter().filter(|row| row.quantity == "outgassing_exponent") {
        let (name, column) = (row.input("file"), row.input("channel"));
        let Some(trace) = channel(&name, &column, 1.0, "mbar") else { continue };
        let found = exponent(&trace);
        assert!(row.agrees(found), "{name} {column}: {found}");
        // Never the -0.5 of diffusion, nor a decay without end.
        assert!((-1.005..=-0.865).contains(&found), "{name} {column}: {found}");
    }
}

#[test]
fn resting_barometers_flicker_as_the_note_says() {
    for row in evidence::rows(FIGURES).iter().filter(|row| row.quantity == "allan_deviation") {
        let (name, span) = (row.input("file"), row.count("span"));
        let Some(trace) = channel(&name, "BMP180_Pressure", 0.1, "Pa") else { continue };
        // The note parts the record into blocks that do not overlap.
        let blocks: Vec<f64> = trace
            .pressures_pa
            .chunks_exact(span)
            .map(|block| digits::sums::mean(block).unwrap_or(f64::NAN))
            .collect();
        let deviation = |values: &[f64], span: usize| {
            statistics::autocorrelation::overlapping_allan_deviation(values, span)
                .unwrap_or_else(|reason| panic!("{reason}"))
        };
        let found = deviation(&blocks, 1);
        // Blocks that overlap give nearly the same, from more pairs.
        let overlapping = deviation(&trace.pressures_pa, span);
        assert!((overlapping / found - 1.0).abs() < 0.35, "{name} over {span}: {overlapping}");
        assert!(row.agrees(found), "{name} over {span}: {found}");
    }
}

#[test]
fn six_blanks_of_two_kinds_bound_the_rise_and_warn() {
    let Some(bytes) = bytes_of("derived_fff_leak_curve_summary.csv") else { return };
    let table = read_table(&bytes, &Default::default()).unwrap_or_else(|r| panic!("{r}"));
    let names = table.words("source_file").unwrap_or_else(|r| panic!("{r}"));
    // Rises that were cut short have no slope.
    let slopes =
        table.optional_numbers("ols_slope_60s_to_end_Pa_per_s").unwrap_or_else(|r| panic!("{r}"));
    let blanks: Vec<f64> = names
        .iter()
        .zip(&slopes)
        .filter(|(name, _)| name.starts_with("Calibration_Cap"))
        .filter_map(|(_, slope)| *slope)
        .collect();
    let rows = evidence::rows(FIGURES);
    let row = |quantity: &str| {
        rows.iter().find(|row| row.quantity == quantity).unwrap_or_else(|| panic!("{quantity}"))
    };
    assert_eq!(blanks.len(), row("blank_slope_mean").count("n"));
    let bound = row("blank_slope_bound");
    let limit = statistics::tolerance_limits::upper_limit_from_values(
        &blanks,
        bound.number("content"),
        bound.number("confidence"),
    )
    .unwrap_or_else(|reason| panic!("{reason}"));
    assert!(row("blank_slope_mean").agrees(limit.mean), "{}", limit.mean);
    assert!(row("blank_slope_sd").agrees(limit.standard_deviation));
    assert!(bound.agrees(limit.limit), "{}", limit.limit);
    assert!(limit.notes.iter().any(|note| note.code == "few-values"), "{:?}", limit.notes);
    // The groups are named: three up to 0.0671 Pa/s, three from 0.157 Pa/s.
    let groups = limit.notes.iter().find(|note| note.code == "two-groups");
    let text = groups.map_or_else(String::new, |note| note.text.clone());
    assert!(text.contains("3 up to 6.711e-2 and 3 from 1.571e-1"), "{text}: {:?}", limit.notes);
    // A positive control: six values of one group are not warned of.
    let one: Vec<f64> = [0.10, 0.13, 0.15, 0.16, 0.18, 0.21].to_vec();
    let one = statistics::tolerance_limits::upper_limit_from_values(&one, 0.95, 0.95)
        .unwrap_or_else(|reason| panic!("{reason}"));
    assert!(one.notes.iter().all(|note| note.code != "two-groups"), "{:?}", one.notes);
    // Two kinds: three below 0.07 Pa/s, three above 0.15, none between.
    let between = blanks.iter().filter(|slope| (0.07..0.15).contains(*slope)).count();
    assert_eq!((between, blanks.iter().filter(|slope| **slope < 0.07).count()), (0, 3));
    let saturated =
        table.optional_numbers("gauge_saturated_at_end").unwrap_or_else(|r| panic!("{r}"));
    let n_full = saturated.iter().flatten().filter(|flag| **flag == 1.0).count();
    assert!(row("full_scale_rises").agrees(n_full as f64), "{n_full}");
}
