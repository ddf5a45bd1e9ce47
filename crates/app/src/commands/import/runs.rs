//! From what was read to runs of a case.

use std::path::{Path, PathBuf};

use study::forensics::Circumstances;
use study::notes::Note;
use study::plan::{Plan, PlannedRun};
use study::run_factors::RunFactors;
use study::run_features::{RunFeatures, RunFlag};
use study::runs::{Ended, RunClass, RunOrigin};
use study::trace_features::TraceFeatures;
use study::{CaseInput, Run};

use super::read::{Content, ReadFile};
use crate::commands::examine::coded::{coded, unsure_stages};
use crate::commands::examine::examined::{Examined, Known, examine};
use crate::fault::Fault;

/// A run with what its file says beside the samples.
pub struct Candidate {
    /// The run; its number is given when it is stored.
    pub run: Run,
    /// Where the class came from; `None` where nothing tells it.
    pub class: Option<RunClass>,
    /// Serial number of the rig and its counter, where the file has both.
    pub stamp: Option<(String, u64)>,
    /// Verdict of the file, as text; never our result.
    pub verdict: String,
    /// Flags of the run.
    pub flags: Vec<RunFlag>,
    /// Slope, Pa/s.
    pub slope_pa_per_s: Option<f64>,
    /// File from which it came.
    pub file: PathBuf,
    /// Samples, whether or not the run still holds them.
    pub n_samples: usize,
    /// What was noticed while examining it.
    pub notes: Vec<Note>,
}

/// What is known of the rig: of the case where there is one.
pub fn known_of(input: Option<&CaseInput>) -> Known {
    input.map_or_else(Known::default, |input| Known {
        about: Circumstances::of(input),
        tiers: input.cycle.tiers.iter().map(|purposed| purposed.tier).collect(),
    })
}

/// The runs of a file.
pub fn candidates(
    path: &Path,
    file: &ReadFile,
    known: &Known,
    plan: Option<&Plan>,
    given: Option<RunClass>,
) -> Vec<Candidate> {
    let mut found = Vec::new();
    for part in &file.parts {
        let place = match part.sheet.as_str() {
            "" => path.display().to_string(),
            sheet => format!("{} [{sheet}]", path.display()),
        };
        let origin = RunOrigin::Imported { file: place, sha256: file.sha256.clone() };
        match &part.content {
            Content::Results(rows) => {
                for row in rows {
                    let said = row.factors.clone();
                    let factors = match planned_of(plan, &row.unit) {
                        Some(planned) => said.or(&planned.factors),
                        None => said,
                    };
                    found.push(Candidate {
                        run: Run {
                            number: 0,
                            unit: row.unit.clone(),
                            class: row.class,
                            day: row.day,
                            factors,
                            ended: row.ended.clone(),
                            // The reading of a full gauge is a bound and no rise.
                            features: row
                                .reading_pa
                                .filter(|_| !matches!(row.ended, Ended::GaugeFull { .. }))
                                .map(reading_only),
                            trace: Default::default(),
                            origin: origin.clone(),
                        },
                        class: Some(row.class),
                        stamp: row.counter.map(|counter| (row.factors.rig.clone(), counter)),
                        verdict: row.verdict.clone(),
                        flags: Vec::new(),
                        slope_pa_per_s: None,
                        file: path.to_path_buf(),
                        n_samples: 0,
                        notes: Vec::new(),
                    });
                }
            }
            Content::WithRuns => {}
            Content::Runs(runs) => {
                found.extend(runs.iter().map(|run| Candidate {
                    class: Some(run.class),
                    stamp: None,
                    verdict: String::new(),
                    flags: Vec::new(),
                    slope_pa_per_s: run.features.and_then(|features| features.slope_pa_per_s),
                    file: path.to_path_buf(),
                    n_samples: run.trace.n_samples(),
                    notes: Vec::new(),
                    run: run.clone(),
                }));
            }
            Content::Traces(traces) => {
                let several = traces.len() > 1;
                let n_tiers = known.tiers.len();
                let shared = OfPart { path, part, origin: &origin, n_tiers, plan, given };
                for trace in traces {
                    for examined in examine(trace, known) {
                        let unit = unit_of(path, part, trace, &examined, several);
                        let coded: Vec<_> = coded(trace, &examined, !known.tiers.is_empty())
                            .into_iter()
                            .map(|message| message.placed(|place| part.places.of(place)))
                            .collect();
                        found.push(shared.run(trace, unit, examined, &coded));
                    }
                }
            }
        }
    }
    found
}

/// The planned run of a unit.
fn planned_of<'a>(plan: Option<&'a Plan>, unit: &str) -> Option<&'a PlannedRun> {
    plan.and_then(|plan| plan.runs.iter().find(|planned| planned.unit == unit))
}

/// A reading without a trace: its rise, and nothing else.
fn reading_only(rise_pa: f64) -> TraceFeatures {
    TraceFeatures {
        tier: 1,
        reach_pa: None,
        level_start_pa: 0.0,
        level_end_pa: rise_pa,
        rise_pa,
        slope_pa_per_s: None,
        slope_standard_error: None,
        noise_pa: None,
        n_samples: 0,
    }
}

/// The mark of the unit: from the lines before the data, the name of the run,
/// the column in a file of several, or the name of the file.
pub fn unit_of(
    path: &Path,
    part: &super::read::Part,
    trace: &intake::trace_file::ImportedTrace,
    examined: &Examined,
    several: bool,
) -> String {
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    let mut unit = if !trace.run.is_empty() {
        trace.run.clone()
    } else if several {
        trace.name.clone()
    } else if let Some(unit) = &part.stamp.unit {
        unit.clone()
    } else if part.sheet.is_empty() {
        stem
    } else {
        part.sheet.clone()
    };
    if examined.cycle > 0 {
        unit.push_str(&format!(" cycle {}", examined.cycle));
    }
    unit
}

/// What the window read; a reading of an early tier stands for no other.
fn reading(features: Option<&RunFeatures>, n_tiers: usize) -> Option<TraceFeatures> {
    let features = features?;
    let decides = n_tiers == 0 || usize::from(features.window.tier) == n_tiers;
    // A saturated rise is no reading; the trace stays.
    let saturated = features.flags.contains(&RunFlag::Saturated);
    (decides && !saturated).then_some(features.window)
}

/// What the runs of one part of a file share.
pub struct OfPart<'a> {
    pub path: &'a Path,
    pub part: &'a super::read::Part,
    pub origin: &'a RunOrigin,
    /// Tiers of the method; zero where none is known.
    pub n_tiers: usize,
    pub plan: Option<&'a Plan>,
    /// Class that an option gives.
    pub given: Option<RunClass>,
}

impl OfPart<'_> {
    /// The run that a trace, or one cycle of it, is.
    pub fn run(
        &self,
        trace: &intake::trace_file::ImportedTrace,
        unit: String,
        examined: Examined,
        coded: &[intake::message::Message],
    ) -> Candidate {
        let planned = planned_of(self.plan, &unit);
        let stamped = RunFactors {
            rig: self.part.stamp.rig.clone().unwrap_or_default(),
            ..RunFactors::default()
        };
        let class = self.given.or_else(|| planned.map(|planned| planned.class));
        let features = examined.features.as_ref();
        let flags = features.map(|features| features.flags.clone()).unwrap_or_default();
        let ended = examined.ended.clone();
        let reading = reading(features, self.n_tiers);
        let mut notes = match &examined.findings {
            Some(Ok(findings)) => findings.notes.clone(),
            _ => Vec::new(),
        };
        notes
            .extend(coded.iter().map(|message| crate::commands::examine::note(self.path, message)));
        notes.extend(unsure_stages(self.path, &unit, &examined));
        Candidate {
            n_samples: examined.trace.n_samples(),
            slope_pa_per_s: features.and_then(|features| features.window.slope_pa_per_s),
            run: Run {
                number: 0,
                unit,
                class: class.unwrap_or(RunClass::NegativeControl),
                day: planned.map_or(1, |planned| planned.day),
                factors: match planned {
                    Some(planned) => stamped.or(&planned.factors),
                    None => stamped,
                },
                ended,
                features: reading,
                trace: examined.trace,
                origin: self.origin.clone(),
            },
            class,
            stamp: self.part.stamp.cycle(&trace.run),
            verdict: String::new(),
            flags,
            file: self.path.to_path_buf(),
            notes,
        }
    }
}

/// What an option says of the units beside their class.
#[derive(Clone, Copy, Default)]
pub struct Said<'a> {
    pub size: Option<&'a str>,
    pub flow: Option<&'a str>,
    pub age_days: Option<u32>,
}

/// The class of an option: `blank`, `negative`, `positive` with a size, `flow`
/// with a flow, or `aged` with an age and, where it has a leak, a size.
pub fn class_of(word: &str, said: Said<'_>) -> Result<RunClass, Fault> {
    let Said { size, flow, age_days } = said;
    if flow.is_some() && word != "flow" {
        return Err(Fault::users(
            "only a flow challenge has a flow",
            "leave out --flow, or say --class flow",
        ));
    }
    if age_days.is_some() && word != "aged" {
        return Err(Fault::users(
            "only an aged control has an age",
            "leave out --age-days, or say --class aged",
        ));
    }
    if size.is_some() && !matches!(word, "positive" | "aged") {
        return Err(Fault::users(
            "only a positive or an aged control has a size",
            "leave out --size, or say --class positive or --class aged",
        ));
    }
    let size_um = size
        .map(|size| intake::written_quantity::read_length(size).map(|length| length.um()))
        .transpose()?;
    match word {
        "blank" => Ok(RunClass::Blank),
        "negative" => Ok(RunClass::NegativeControl),
        "positive" => size_um
            .map(|nominal_um| RunClass::PositiveControl { nominal_um, verified_um: None })
            .ok_or_else(|| {
                Fault::users(
                    "a positive control has a size",
                    "give it with --size, such as --size 5um",
                )
            }),
        "aged" => age_days
            .map(|age_days| RunClass::AgedControl { nominal_um: size_um, age_days })
            .ok_or_else(|| {
                Fault::users(
                    "an aged control has an age",
                    "give it with --age-days, such as --age-days 30, and its size with --size where \
                     it has a leak",
                )
            }),
        "flow" => {
            let flow = flow.ok_or_else(|| {
                Fault::users(
                    "a flow challenge has a flow",
                    "give it with --flow, such as --flow 2e-5Pa.m3/s; 0Pa.m3/s with the standard shut",
                )
            })?;
            let flow = intake::written_quantity::read_flow(flow)?.molar_flow(None)?;
            let at = study::quantities::Temperature::from_celsius(20.0);
            Ok(RunClass::FlowChallenge { flow_pa_m3_per_s: flow.throughput_at(at).pa_m3_per_s() })
        }
        _ => Err(Fault::users(
            format!("`{word}` is no class of unit"),
            "write blank, negative, positive, flow or aged",
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reading_of_an_early_tier_is_no_reading_of_the_run() {
        let of_tier = |tier, flags| RunFeatures {
            window: TraceFeatures { tier, ..reading_only(1200.0) },
            time_to_reach_s: None,
            slope_interval: None,
            curvature_pa_per_s2: None,
            curvature_standard_error: None,
            temperature_change_k: None,
            saturated_from_s: None,
            full_from: None,
            flags,
        };
        let (first, last) = (of_tier(1, Vec::new()), of_tier(2, Vec::new()));
        assert!(reading(Some(&first), 2).is_none());
        assert!(reading(Some(&last), 2).is_some() && reading(Some(&first), 0).is_some());
        assert!(reading(Some(&of_tier(2, vec![RunFlag::Saturated])), 2).is_none());
    }

    #[test]
    fn an_aged_control_needs_its_age_and_may_have_a_size() {
        let said = Said { age_days: Some(30), ..Said::default() };
        let aged = |nominal_um| RunClass::AgedControl { nominal_um, age_days: 30 };
        assert_eq!(class_of("aged", said).unwrap_or(RunClass::Blank), aged(None));
        let with_leak = Said { size: Some("10um"), ..said };
        assert_eq!(class_of("aged", with_leak).unwrap_or(RunClass::Blank), aged(Some(10.0)));
        for (word, said, wants) in [
            ("aged", Said::default(), "--age-days"),
            ("negative", said, "--class aged"),
            ("blank", Said { size: Some("5um"), ..Said::default() }, "--class positive"),
            ("positive", Said { flow: Some("1Pa.m3/s"), ..Said::default() }, "--class flow"),
            ("old", Said::default(), "aged"),
        ] {
            let fault = class_of(word, said).expect_err(word);
            assert!(fault.hint.contains(wants), "{word}: {}", fault.hint);
        }
    }
}
