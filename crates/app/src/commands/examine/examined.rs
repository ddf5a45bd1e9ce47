//! One run examined: segments, stages, features and causes.

use intake::trace_file::ImportedTrace;
use study::cycle::Tier;
use study::forensics::{Circumstances, Findings, RiseSpan, explain};
use study::periodic_noise::{PeriodicNoise, periodic_noise};
use study::run_ending::ended_by_limits;
use study::run_features::{RunFeatures, RunFlag, read_run};
use study::runs::Ended;
use study::segments::{Segment, segments};
use study::stages::{FoundStages, NoStages, find_tiers, split_cycles};
use study::trace::PressureTrace;
use study::trace_features::rise_at_least_pa;

/// What is known of a run beside its samples.
#[derive(Default)]
pub struct Known {
    /// Rig and headspace.
    pub about: Circumstances,
    /// The tiers of the method whose times hold; none where no method is known.
    pub tiers: Vec<Tier>,
}

/// A run with everything that was found in it.
pub struct Examined {
    /// Number of the cycle in its trace, counted from 1; 0 where it is alone.
    pub cycle: usize,
    /// Its first sample within the trace.
    pub first_sample: usize,
    /// The samples with their stages.
    pub trace: PressureTrace,
    /// Stretches of one direction.
    pub segments: Vec<Segment>,
    /// The stages, or why there are none.
    pub stages: Result<FoundStages, NoStages>,
    /// What the window reads.
    pub features: Option<RunFeatures>,
    /// How the run ended, by its stages and the limits of the tiers of the method.
    pub ended: Ended,
    /// A tone within the measure stage, and the first sample of the stage.
    pub tone: Option<(PeriodicNoise, usize)>,
    /// Why the pressure rose, or why that cannot be said.
    pub findings: Option<Result<Findings, String>>,
}

/// Examines the cycles of a trace, one after the other.
pub fn examine(imported: &ImportedTrace, known: &Known) -> Vec<Examined> {
    cycles_of(imported, |trace, cycle| one(trace, cycle, known))
}

/// Stages and features of the cycles of a trace, without their causes: quick,
/// for files of very many runs.
pub fn measure(imported: &ImportedTrace, known: &Known) -> Vec<Examined> {
    cycles_of(imported, |trace, cycle| measured(trace, cycle, known))
}

fn cycles_of(
    imported: &ImportedTrace,
    examine_one: impl Fn(PressureTrace, usize) -> Examined,
) -> Vec<Examined> {
    let trace = imported.without_vented_end();
    let cycles = if trace.stages.is_empty() {
        split_cycles(&trace.pressures_pa)
    } else {
        core::iter::once(0..trace.n_samples()).collect()
    };
    let several = cycles.len() > 1;
    cycles
        .into_iter()
        .enumerate()
        .map(|(index, range)| {
            let first_sample = range.start;
            let part = if several { part_of(&trace, range) } else { trace.clone() };
            Examined { first_sample, ..examine_one(part, if several { index + 1 } else { 0 }) }
        })
        .collect()
}

fn part_of(trace: &PressureTrace, range: core::ops::Range<usize>) -> PressureTrace {
    let cut = |values: &[f64]| values.get(range.clone()).unwrap_or_default().to_vec();
    PressureTrace {
        times_s: cut(&trace.times_s),
        pressures_pa: cut(&trace.pressures_pa),
        temperatures_k: cut(&trace.temperatures_k),
        stages: Vec::new(),
    }
}

fn one(trace: PressureTrace, cycle: usize, known: &Known) -> Examined {
    let mut examined = measured(trace, cycle, known);
    examined.segments = segments(&examined.trace);
    if let Some(features) = &examined.features {
        let trace = &examined.trace;
        examined.findings = RiseSpan::of_tier(trace, features.window.tier)
            .map(|span| explain(trace, &span, &known.about).map_err(|reason| reason.to_string()));
    }
    examined
}

/// Stages and features of one cycle, without its segments and causes.
fn measured(mut trace: PressureTrace, cycle: usize, known: &Known) -> Examined {
    let stages = find_tiers(&trace, &known.tiers);
    let mut features = None;
    let mut tone = None;
    if let Ok(stages) = &stages {
        trace.stages.clone_from(&stages.spans);
        let tier = stages
            .spans
            .iter()
            .filter(|span| span.stage == study::trace::Stage::Measure)
            .map(|span| span.tier)
            .max()
            .unwrap_or(1);
        let timed = known.tiers.get(usize::from(tier).saturating_sub(1));
        let full_scale_pa = known.about.full_scale.map(study::quantities::AbsolutePressure::pa);
        features = read_run(&trace, tier, timed, full_scale_pa);
        if let Some(features) = &mut features {
            if !stages.pumping_begins {
                features.time_to_reach_s = None;
            }
            if !stages.doubts.is_empty() {
                features.flags.push(RunFlag::StagesUnsure);
            }
        }
        tone = trace.span(study::trace::Stage::Measure, tier).and_then(|span| {
            let range = trace.samples_between(span.start_s, span.end_s);
            periodic_noise(&trace, range.clone()).map(|tone| (tone, range.start))
        });
    }
    let ended = match &stages {
        Err(reason) => Ended::Aborted { cause: format!("no measure stage: {reason}") },
        Ok(_) => match (ended_by_limits(&trace, &known.tiers), &features) {
            // The gauge was full: at least this, and never tight.
            (Ended::Completed, Some(RunFeatures { full_from: Some(from), window, .. })) => {
                Ended::GaugeFull { at_least_pa: rise_at_least_pa(&trace, window, *from) }
            }
            (ended, _) => ended,
        },
    };
    Examined {
        cycle,
        first_sample: 0,
        trace,
        ended,
        segments: Vec::new(),
        stages,
        features,
        tone,
        findings: None,
    }
}
