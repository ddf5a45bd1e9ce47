//! Detection from readings against size: what was planted comes out. All runs
//! are invented; the truth is the law they were drawn from.
#![allow(clippy::unwrap_used)] // a test fails by panicking

use digits::RandomStream;
use digits::scalar::{exp, ln, pow};
use study::results::{NetRise, Results};
use study::runs::{Ended, Run, RunClass, RunOrigin};
use study::trace::PressureTrace;
use study::trace_features::TraceFeatures;
use study::{CaseInput, Method};

const BLANK_PA: f64 = 10.0;
const NOISE_PA: f64 = 0.5;
/// Net rise at 1 µm and its growth with size.
const RISE_PA: f64 = 0.6;
const POWER: f64 = 2.0;
/// Scatter of ln net rise between units.
const SCATTER: f64 = 0.2;

fn case() -> (CaseInput, Method) {
    let input = study::worked_cases::all().into_iter().find(|case| case.id == "lyo-2r").unwrap();
    let settings = study::forecast::ForecastSettings { n_draws: 32, ..Default::default() };
    let forecast = study::forecast(&input, &settings, &|_, _| {}).unwrap();
    let method = study::design_method(&input, &forecast);
    (input, method)
}

fn run(number: u32, unit: &str, class: RunClass, rise_pa: f64) -> Run {
    Run {
        number,
        unit: unit.to_owned(),
        class,
        day: 1 + number % 3,
        factors: Default::default(),
        ended: Ended::Completed,
        features: Some(TraceFeatures {
            tier: 1,
            reach_pa: None,
            level_start_pa: 100.0,
            level_end_pa: 100.0 + rise_pa,
            rise_pa,
            slope_pa_per_s: None,
            slope_standard_error: None,
            noise_pa: None,
            n_samples: 20,
        }),
        trace: PressureTrace::default(),
        origin: RunOrigin::Simulated { seed: 1 },
    }
}

/// 30 negative controls, and positive controls whose rise follows `law`.
fn study(seed: u64, sizes_um: &[f64], repeats: u32, law: impl Fn(f64) -> f64) -> Vec<Run> {
    let mut stream = RandomStream::new(seed, 0);
    let mut runs = Vec::new();
    for i in 0..30 {
        let rise = BLANK_PA + NOISE_PA * stream.normal();
        runs.push(run(i, &format!("N{i}"), RunClass::NegativeControl, rise));
    }
    for (i, um) in (100..).zip(sizes_um) {
        let own = law(*um) * exp(SCATTER * stream.normal());
        let class = RunClass::PositiveControl { nominal_um: *um, verified_um: Some(*um) };
        for repeat in 0..repeats {
            let rise = BLANK_PA + own * exp(0.03 * stream.normal());
            runs.push(run(10 * i + repeat, &format!("P{i}"), class, rise));
        }
    }
    runs
}

fn law(um: f64) -> f64 {
    RISE_PA * pow(um, POWER)
}

/// Twenty sizes from 1.5 to 6 µm.
fn sizes() -> Vec<f64> {
    (0..20).map(|i| 1.5 * exp(f64::from(i) / 19.0 * ln(4.0))).collect()
}

/// Size whose net rise exceeds a threshold in nine of ten units.
fn true_a90(threshold_pa: f64) -> f64 {
    // Normal quantile 0.9: Abramowitz and Stegun, table 26.1.
    exp((ln(threshold_pa / RISE_PA) + 1.281_551_6 * SCATTER) / POWER)
}

fn codes(results: &Results) -> Vec<&str> {
    results.notes.iter().map(|note| note.code.as_str()).collect()
}

#[test]
fn the_bound_holds_the_planted_size_nineteen_times_in_twenty() {
    let (input, method) = case();
    let held = (1..=60)
        .filter(|&seed| {
            let runs = study(seed, &sizes(), 1, law);
            let signal = study::evaluate(&input, &method, &runs).signal.unwrap();
            assert_eq!(signal.units, 20);
            assert!((signal.slope / POWER - 1.0).abs() < 0.4, "{signal:?}");
            signal.a90_95_um.unwrap() >= true_a90(signal.threshold_pa)
        })
        .count();
    // 57 expected; fewer than 50 would be met once in a thousand (binomial).
    assert!(held >= 50, "{held} of 60");
}

#[test]
fn it_stands_where_hits_and_misses_do_not_overlap() {
    let (input, method) = case();
    // No size near the limit: all small ones missed, all large ones found.
    let far: Vec<f64> = [1.4, 1.5, 1.6, 2.8, 3.2, 3.6].iter().flat_map(|um| [*um; 3]).collect();
    let results = study::evaluate(&input, &method, &study(5, &far, 1, law));
    let detection = results.detection.as_ref().unwrap();
    assert_eq!(detection.separation, "complete");
    assert_eq!(detection.a90_95_um, None);
    let signal = results.signal.as_ref().unwrap();
    let bound = signal.a90_95_um.unwrap();
    assert!(bound > 1.6 && bound < 3.2, "{signal:?}");
    assert!(signal.line_holds, "{:?}", results.notes);
}

#[test]
fn repeats_of_a_unit_are_no_units() {
    let (input, method) = case();
    let once = study::evaluate(&input, &method, &study(7, &sizes(), 1, law));
    let often = study::evaluate(&input, &method, &study(7, &sizes(), 4, law));
    assert!(codes(&often).contains(&"repeated-units") && !codes(&once).contains(&"repeated-units"));
    assert_eq!(often.detection.as_ref().unwrap().n_units, 20);
    let (once, often) = (once.signal.unwrap(), often.signal.unwrap());
    let (read, below, above) = often.read_below_above;
    assert_eq!((often.units, read + below + above), (20, 80));
    // Four readings of each unit hardly narrow what differs between units.
    let width = |s: &study::results::SignalDetection| ln(s.a90_95_um.unwrap() / s.a90_um.unwrap());
    assert!(width(&often) > 0.7 * width(&once), "{} {}", width(&often), width(&once));
}

/// An aged control is the same unit again and again: it enters no line, no
/// curve, and no mark of what was tested.
#[test]
fn aged_controls_stay_out_of_detection() {
    let (input, method) = case();
    let mut runs = study(11, &sizes(), 1, law);
    let before = study::evaluate(&input, &method, &runs);
    for (number, age_days) in [(900, 0), (901, 30), (902, 90)] {
        let class = RunClass::AgedControl { nominal_um: Some(3.0), age_days };
        runs.push(run(number, "A01", class, BLANK_PA + 40.0));
    }
    let after = study::evaluate(&input, &method, &runs);
    assert_eq!(after.signal, before.signal);
    assert_eq!(after.detection, before.detection);
    assert_eq!(after.ageing.len(), 3);
}

/// Large leaks that emptied their headspace before the measure stage read as
/// small: no line goes through them, and none is claimed.
#[test]
fn emptied_headspaces_bend_the_line_and_that_is_said() {
    let (input, method) = case();
    let emptied = |um: f64| law(um) * exp(-0.25 * um);
    let wide: Vec<f64> = (0..20).map(|i| 1.5 * exp(f64::from(i) / 19.0 * ln(16.0))).collect();
    let results = study::evaluate(&input, &method, &study(9, &wide, 1, emptied));
    if let Some(signal) = &results.signal {
        assert!(!signal.line_holds, "{signal:?}");
        assert!(codes(&results).contains(&"signal-line-doubtful"), "{:?}", codes(&results));
    } else {
        assert!(codes(&results).contains(&"no-signal-a90"), "{:?}", codes(&results));
    }
}

#[test]
fn rejected_and_saturated_runs_are_known_only_to_lie_above() {
    let (input, method) = case();
    let mut runs = study(3, &sizes(), 1, law);
    let results = study::evaluate(&input, &method, &runs);
    let signal = results.signal.unwrap();
    let range = input.rig.sensor.range.pa();
    // Far above the threshold a reading tells nothing of the line there.
    let far = runs.last().unwrap();
    assert_eq!(signal.net_rise(far, range), Some(NetRise::Above(5.0 * signal.threshold_pa)));
    // The ninth and tenth size lie near it.
    let last = 30 + 9;
    assert!(matches!(signal.net_rise(&runs[last], range), Some(NetRise::Read(_))));
    runs[last].ended = Ended::ReachLimit { tier: 1 };
    runs[last].features = None;
    let above = NetRise::Above(signal.threshold_pa);
    assert_eq!(signal.net_rise(&runs[last], range), Some(above));
    if let Some(features) = &mut runs[last - 1].features {
        features.level_end_pa = range;
    }
    assert!(matches!(signal.net_rise(&runs[last - 1], range), Some(NetRise::Above(_))));
    let again = study::evaluate(&input, &method, &runs).signal.unwrap();
    assert_eq!(again.read_below_above.2, signal.read_below_above.2 + 2);
}
