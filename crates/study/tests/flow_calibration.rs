//! Flow challenges: what goes in must come out. The truth is that of the
//! simulator, which knows the flow, the volume and the background.
#![allow(clippy::unwrap_used)] // a test fails by panicking

use study::plan::PlanSettings;
use study::results::{FlowCalibration, Results};
use study::runs::{Run, RunClass};
use study::{CaseInput, Method};

struct Study {
    input: CaseInput,
    method: Method,
    runs: Vec<Run>,
}

/// A study of blanks, flows and negative controls alone.
fn study(seed: u64, flow_levels: u32) -> Study {
    let input = study::worked_cases::all().into_iter().find(|case| case.id == "lyo-2r").unwrap();
    let settings = study::forecast::ForecastSettings { n_draws: 32, ..Default::default() };
    let forecast = study::forecast(&input, &settings, &|_, _| {}).unwrap();
    let method = study::design_method(&input, &forecast);
    let plan = study::plan_runs(
        &input,
        &forecast,
        &PlanSettings {
            seed,
            sizes: 0,
            units_per_large_size: 0,
            flow_levels,
            ..Default::default()
        },
    );
    let runs = study::simulate_runs(&input, &method, &plan, seed, &|_, _| {}).unwrap();
    Study { input, method, runs }
}

impl Study {
    fn results(&self) -> Results {
        study::evaluate(&self.input, &self.method, &self.runs)
    }

    fn calibration(&self) -> FlowCalibration {
        self.results().flow_calibration.unwrap()
    }

    fn codes(&self) -> Vec<String> {
        self.results().notes.into_iter().map(|note| note.code).collect()
    }
}

/// 95 % intervals of the volume over 40 studies: fewer than 34 that hold the
/// truth would be met by chance once in 10 000 (binomial, hand calculation).
#[test]
fn the_volume_that_the_flows_see_is_that_of_the_chamber() {
    let held = (1..=40)
        .filter(|&seed| {
            let study = study(seed, 4);
            let truth = study.input.rig.free_volume.value.m3();
            let found = study.calibration().free_volume_m3.unwrap();
            assert!((found.value / truth - 1.0).abs() < 0.1, "{found:?} {truth}");
            found.lower < truth && truth < found.upper
        })
        .count();
    assert!(held >= 34, "{held} of 40");
}

#[test]
fn the_line_is_that_of_the_gas_law() {
    let study = study(3, 4);
    let found = study.calibration();
    // Rise per flow is the time between the two levels over the volume: less
    // than the measure stage, more than nine tenths of it less one level.
    let measure = study.method.cycle.deciding_tier().unwrap().tier.measure.s();
    let warmer = study.input.rig.wall_temperature.k() / 293.15;
    let per_second = warmer / study.input.rig.free_volume.value.m3();
    assert!(found.slope.value < 1.05 * measure * per_second, "{found:?}");
    assert!(found.slope.value > 0.8 * measure * per_second, "{found:?}");
    assert_eq!((found.levels.len(), found.n), (5, 15));
    assert!(found.levels[0].flow_pa_m3_per_s == 0.0);
    let limit = found.detection_limit.unwrap();
    assert!(found.critical_flow.unwrap() < limit);
    // The reject limit stands between its own ends, and the line gives it back.
    let at_limit = found.flow_at_limit.unwrap();
    let back = found.intercept_pa + found.slope.value * at_limit.value;
    let limit_pa = study.results().reject_limit.unwrap().limit_pa;
    assert!(at_limit.value == 0.0 || (back / limit_pa - 1.0).abs() < 1e-9);
    assert!(at_limit.lower <= at_limit.value && at_limit.value <= at_limit.upper);
}

#[test]
fn a_wrong_volume_is_seen() {
    let mut study = study(4, 4);
    assert!(!study.codes().iter().any(|code| code == "free-volume-differs"));
    // The rig as it is written down, not as it is.
    let stated = &mut study.input.rig.free_volume;
    stated.value = study::quantities::Volume::from_m3(1.5 * stated.value.m3());
    stated.standard_uncertainty_si = Some(0.02 * stated.value.m3());
    assert!(study.codes().iter().any(|code| code == "free-volume-differs"));
}

#[test]
fn a_line_that_bends_is_seen() {
    let mut study = study(5, 4);
    assert!(!study.codes().iter().any(|code| code == "flow-line-bent"));
    let highest =
        study.runs.iter().filter_map(|run| run.class.flow_pa_m3_per_s()).fold(0.0, f64::max);
    for run in &mut study.runs {
        // A gauge that gives up at half of its highest reading.
        if run.class.flow_pa_m3_per_s() == Some(highest)
            && let Some(features) = &mut run.features
        {
            features.rise_pa *= 0.5;
        }
    }
    assert!(study.codes().iter().any(|code| code == "flow-line-bent"));
}

#[test]
fn without_flows_nothing_is_said_and_too_few_are_refused() {
    let without = study(6, 0);
    assert!(without.results().flow_calibration.is_none());
    assert!(!without.codes().iter().any(|code| code == "no-flow-calibration"));
    let mut few = study(6, 4);
    few.runs.retain(|run| match run.class {
        RunClass::FlowChallenge { flow_pa_m3_per_s } => flow_pa_m3_per_s == 0.0,
        _ => true,
    });
    assert!(few.results().flow_calibration.is_none());
    assert!(few.codes().iter().any(|code| code == "no-flow-calibration"));
}

#[test]
fn flows_set_no_limit() {
    let with = study(7, 4);
    let mut without = study(7, 4);
    without.runs.retain(|run| run.class.flow_pa_m3_per_s().is_none());
    assert_eq!(with.results().reject_limit, without.results().reject_limit);
}
