//! From runs to grids.

use study::Run;
use study::runs::{Ended, RunClass, RunOrigin};
use study::trace_features::TraceFeatures;

use super::grid::{Grid, GridColumn};

/// Names of the three tables.
pub const RUNS: &str = "runs";
/// Samples, one row each.
pub const SAMPLES: &str = "samples";
/// Stages, one row each.
pub const STAGES: &str = "stages";

/// The three tables of some runs.
#[must_use]
pub fn grids_of_runs(runs: &[Run]) -> [Grid; 3] {
    [runs_grid(runs), samples_grid(runs), stages_grid(runs)]
}

fn runs_grid(runs: &[Run]) -> Grid {
    let words = |name: &str, of: &dyn Fn(&Run) -> String| {
        GridColumn::words(name, runs.iter().map(of).collect())
    };
    let numbers = |name: &str, unit: &'static str, of: &dyn Fn(&Run) -> Option<f64>| {
        GridColumn::numbers(name, unit, runs.iter().map(of).collect())
    };
    let feature = |name: &str, unit: &'static str, of: fn(&TraceFeatures) -> Option<f64>| {
        let values = runs.iter().map(|run| run.features.as_ref().and_then(of)).collect();
        GridColumn::numbers(name, unit, values)
    };
    let size = |run: &Run, verified: bool| match run.class {
        RunClass::PositiveControl { nominal_um, verified_um } => {
            if verified {
                verified_um
            } else {
                Some(nominal_um)
            }
        }
        RunClass::AgedControl { nominal_um, .. } if !verified => nominal_um,
        _ => None,
    };
    Grid {
        name: RUNS.to_owned(),
        columns: vec![
            numbers("run", "", &|run| Some(f64::from(run.number))),
            words("unit", &|run| run.unit.clone()),
            words("class", &|run| run.class.word().to_owned()),
            numbers("nominal_um", "µm", &|run| size(run, false)),
            numbers("verified_um", "µm", &|run| size(run, true)),
            numbers("flow_pa_m3_per_s", "Pa·m³/s", &|run| run.class.flow_pa_m3_per_s()),
            numbers("age_days", "", &|run| run.class.age_days().map(f64::from)),
            numbers("day", "", &|run| Some(f64::from(run.day))),
            words("operator", &|run| run.factors.operator.clone()),
            words("rig", &|run| run.factors.rig.clone()),
            words("lot", &|run| run.factors.lot.clone()),
            words("side", &|run| {
                run.factors.side.map_or_else(String::new, |side| side.word().to_owned())
            }),
            words("defect", &|run| run.factors.defect.clone()),
            words("standard", &|run| run.factors.standard.clone()),
            words("ended", &|run| match &run.ended {
                Ended::Completed => "completed".to_owned(),
                Ended::ReachLimit { .. } => "reach limit".to_owned(),
                Ended::RiseLimit { .. } => "rise limit".to_owned(),
                Ended::GaugeFull { .. } => "gauge full".to_owned(),
                Ended::Aborted { .. } => "aborted".to_owned(),
            }),
            numbers("ended_in_tier", "", &|run| match run.ended {
                Ended::ReachLimit { tier } | Ended::RiseLimit { tier } => Some(f64::from(tier)),
                _ => None,
            }),
            numbers("rise_at_least_pa", "Pa", &|run| match run.ended {
                Ended::GaugeFull { at_least_pa } => Some(at_least_pa),
                _ => None,
            }),
            words("abort_cause", &|run| match &run.ended {
                Ended::Aborted { cause } => cause.clone(),
                _ => String::new(),
            }),
            feature("tier", "", |f| Some(f64::from(f.tier))),
            feature("reach_pa", "Pa", |f| f.reach_pa),
            feature("level_start_pa", "Pa", |f| Some(f.level_start_pa)),
            feature("level_end_pa", "Pa", |f| Some(f.level_end_pa)),
            feature("rise_pa", "Pa", |f| Some(f.rise_pa)),
            feature("slope_pa_per_s", "Pa/s", |f| f.slope_pa_per_s),
            feature("slope_standard_error_pa_per_s", "Pa/s", |f| f.slope_standard_error),
            feature("noise_pa", "Pa", |f| f.noise_pa),
            feature("n_samples", "", |f| Some(f.n_samples as f64)),
            words("origin_file", &|run| match &run.origin {
                RunOrigin::Imported { file, .. } => file.clone(),
                RunOrigin::Simulated { .. } => String::new(),
            }),
            words("origin_sha256", &|run| match &run.origin {
                RunOrigin::Imported { sha256, .. } => sha256.clone(),
                RunOrigin::Simulated { .. } => String::new(),
            }),
            // As text: a seed may have more digits than a number keeps.
            words("origin_seed", &|run| match run.origin {
                RunOrigin::Simulated { seed } => format!("seed {seed}"),
                RunOrigin::Imported { .. } => String::new(),
            }),
        ],
    }
}

fn samples_grid(runs: &[Run]) -> Grid {
    let mut columns: [Vec<Option<f64>>; 4] = Default::default();
    for run in runs {
        let trace = &run.trace;
        for (row, time) in trace.times_s.iter().enumerate() {
            let values = [
                Some(f64::from(run.number)),
                Some(*time),
                trace.pressures_pa.get(row).copied(),
                trace.temperatures_k.get(row).copied(),
            ];
            for (column, value) in columns.iter_mut().zip(values) {
                column.push(value);
            }
        }
    }
    let [numbers, times, pressures, temperatures] = columns;
    Grid {
        name: SAMPLES.to_owned(),
        columns: vec![
            GridColumn::numbers("run", "", numbers),
            GridColumn::numbers("time_s", "s", times),
            GridColumn::numbers("pressure_pa", "Pa", pressures),
            GridColumn::numbers("temperature_k", "K", temperatures),
        ],
    }
}

fn stages_grid(runs: &[Run]) -> Grid {
    let mut numbers: [Vec<Option<f64>>; 4] = Default::default();
    let mut stages = Vec::new();
    for run in runs {
        for span in &run.trace.stages {
            stages.push(span.stage.word().to_owned());
            let values = [f64::from(run.number), f64::from(span.tier), span.start_s, span.end_s];
            for (column, value) in numbers.iter_mut().zip(values) {
                column.push(Some(value));
            }
        }
    }
    let [runs, tiers, starts, ends] = numbers;
    Grid {
        name: STAGES.to_owned(),
        columns: vec![
            GridColumn::numbers("run", "", runs),
            GridColumn::words("stage", stages),
            GridColumn::numbers("tier", "", tiers),
            GridColumn::numbers("start_s", "s", starts),
            GridColumn::numbers("end_s", "s", ends),
        ],
    }
}
